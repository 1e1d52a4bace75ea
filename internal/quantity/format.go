package quantity

import (
	"math"
	"strconv"
	"strings"
)

// scaled is a unit of a report with its conversion.
type scaled struct {
	shown
	conversion
}

// reportUnits holds for each kind the units of its specs entry.
var reportUnits = func() (units [len(specs)][]scaled) {
	for k := 1; k < len(specs); k++ {
		for i, s := range specs[k].report {
			if i == 0 {
				s.from = 0
			} else if s.from == 0 {
				s.from = 1
			}
			units[k] = append(units[k], scaled{s, mustUnit(s.unit)})
		}
	}
	return units
}()

// Format returns v, in the coherent SI unit of k, with the given number of
// significant digits (1 to 17; others are brought into that range) and a unit that keeps the
// number short, e.g. "4.70 mF" or "3000 rpm". Numbers in the chosen unit from
// 1e-4 to 1e7 have no exponent.
//
// [Parse] reads the result back to the digits shown if |v| is 0 or from 1e-290
// to 1e290.
//
// Special cases are:
//
//	Format(±0, k, digits) = "0" and the coherent SI unit
//	Format(v, k, digits) = the number alone if k is invalid
//	Format(NaN or ±Inf, k, digits) = "NaN", "+Inf" or "-Inf" and the unit, which Parse refuses
func Format(v float64, k Kind, digits int) string {
	digits = min(max(digits, 1), 17)
	var number, name string
	switch {
	case v == 0:
		number, name = "0", k.Unit()
	case !k.valid() || math.IsNaN(v) || math.IsInf(v, 0):
		number, name = decimal(v, digits), k.Unit()
	default:
		number, name = inReportUnit(v, k, digits)
	}
	if name == "" {
		return number
	}
	return number + " " + name
}

// inReportUnit returns v in the largest unit in which it is not too small.
func inReportUnit(v float64, k Kind, digits int) (number, name string) {
	units := reportUnits[k]
	for i := len(units) - 1; i >= 0; i-- {
		x := inUnit(v, units[i].conversion)
		if math.IsInf(x, 0) {
			break
		}
		number = decimal(x, digits)
		// The number as rounded decides: 0.9996 m is "1.00 m" and not "1000 mm".
		if rounded, _ := strconv.ParseFloat(number, 64); math.Abs(rounded) >= units[i].from {
			return number, units[i].unit
		}
	}
	return decimal(v, digits), k.Unit() // so large that only the SI unit can hold it
}

// inUnit returns how many of the unit c the SI value v is.
func inUnit(v float64, c conversion) float64 {
	v = v * c.den / c.num
	if c.exp10 > 0 {
		return v / math.Pow10(c.exp10)
	}
	return v * math.Pow10(-c.exp10)
}

// decimal writes x with the given number of significant digits.
func decimal(x float64, digits int) string {
	s := strconv.FormatFloat(x, 'e', digits-1, 64)
	_, exponent, ok := strings.Cut(s, "e")
	if !ok {
		return s // NaN, Inf
	}
	e, _ := strconv.Atoi(exponent)
	if e < -4 || e >= 7 {
		return s
	}
	rounded, _ := strconv.ParseFloat(s, 64)
	return strconv.FormatFloat(rounded, 'f', max(digits-1-e, 0), 64)
}
