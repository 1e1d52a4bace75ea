// Package quantity converts between the strings with units of a machine
// document, such as "420 mm" or "0.9 kg cm^2", and float64 values in coherent
// SI units.
//
// [Parse] takes the [Kind] of the field, and refuses text whose dimensions
// differ from it. [Format] writes a value for a report in a unit that engineers
// use for that kind.
//
// # Grammar
//
//	quantity = number [ unit ]
//	number   = [ "+" | "-" ] digits [ "." digits ] [ ( "e" | "E" ) [ "+" | "-" ] digits ]
//	unit     = ( product | "1" ) [ "/" ( factor | "(" product ")" ) ]
//	product  = factor { ( space | "*" | "·" ) factor }
//	factor   = symbol [ power ]
//	power    = "^" [ "-" ] digit | superscript digit, with "⁻" before it or not
//
// One side of the decimal point may be empty. Only a dimensionless kind may go
// without a unit. There is at most one slash, and it divides by the one factor
// that follows it or by a product in parentheses: "N m/(A s)" is read and "N m/A s" and
// "m/s/s" are refused, because readers differ on what they mean. The SI Brochure
// has the same rule: a solidus is not used more than once in an expression
// without brackets (9th edition, section 5.2, from memory).
//
// # Symbols
//
// A prefix and its unit are one word: "mN" is a millinewton, "m N" a metre
// newton. Of run-together products only those are read that are written that
// way in practice and can mean one thing: Nm, Wh, Ws, Ah and VA. Angle is a
// dimension of its own (see [gonum.org/v1/gonum/unit.AngleDim]): rpm and rad/s
// are not Hz or 1/s, and a lead is a length per angle. Torque carries no angle,
// so that N m and J have the same dimensions. kg, lb and oz are masses; the
// forces are N, lbf and ozf. degC is a temperature and stands alone; a
// temperature difference, also below a slash, is in K.
//
// # Accuracy
//
// Decimal prefixes act on the text of the number: "4700 uF" yields the float64
// nearest to 0.0047. Any other unit adds at most one rounding for each
// multiplication and division by its definition.
package quantity
