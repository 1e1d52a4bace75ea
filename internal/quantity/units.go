package quantity

import (
	"math"
	"strings"

	"gonum.org/v1/gonum/unit"
)

// conversion gives the SI value of a unit as num/den·10^exp10. Decimal factors
// stay in exp10, where they cost no rounding.
type conversion struct {
	num, den float64
	exp10    int
	dims     unit.Dimensions // without zero powers
}

// mul multiplies c by f^power.
func (c *conversion) mul(f conversion, power int) {
	num, den := f.num, f.den
	if power < 0 {
		num, den = den, num
	}
	for range max(power, -power) {
		c.num *= num
		c.den *= den
	}
	c.exp10 += f.exp10 * power
	for d, p := range f.dims {
		if n := c.dims[d] + p*power; n != 0 {
			c.dims[d] = n
		} else {
			delete(c.dims, d)
		}
	}
}

// Two dimensions that gonum lacks. A motor constant is a torque per root of a
// power, and gonum's powers are whole numbers. A temperature in °C is not an
// amount of kelvins, because its zero is elsewhere.
var (
	rootWatt = newDimension("sqrt(W)")
	celsius  = newDimension("degC")
)

// newDimension returns a new dimension, under a longer symbol when the program
// has one of that symbol already, on which unit.NewDimension would panic.
func newDimension(symbol string) unit.Dimension {
	for unit.SymbolExists(symbol) {
		symbol += "'"
	}
	return unit.NewDimension(symbol)
}

var prefixes = map[string]int{"p": -12, "n": -9, "u": -6, "m": -3, "c": -2, "k": 3, "M": 6, "G": 9}

// definitions lists the units. The SI units and their prefixes, and min, h, t,
// °, ′ and ″ (tables 2 to 8), are those of the SI Brochure, 9th edition, from
// memory.
// The inch, foot and pound are those of the international yard and pound
// agreement of 1959, exactly 0.0254 m, 0.3048 m and 0.45359237 kg; an ounce is
// 1/16 lb. Pound-force and ounce-force are those masses times the standard
// acceleration of free fall, exactly 9.80665 m/s² (3rd CGPM, 1901). These, and
// the revolution of 2π rad, were compared with definitions.units of GNU Units 2.22.
// The symbol r for a revolution is that of ISO 80000-3, from memory.
var definitions = []struct {
	symbols  string // of one unit, separated by spaces
	prefixes string // that the symbols take, separated by spaces
	of       unit.Uniter
	num, den float64
	exp10    int
}{
	{"m", "n u m c k", unit.Metre, 1, 1, 0},
	{"in", "", unit.Metre, 254, 1, -4},
	{"ft", "", unit.Metre, 3048, 1, -4},
	{"g", "u m k", unit.Gram, 1, 1, -3},
	{"t", "", unit.Gram, 1, 1, 3},
	{"lb", "", unit.Gram, 45359237, 1, -8},
	{"oz", "", unit.Gram, 45359237, 16, -8},
	{"s", "n u m", unit.Second, 1, 1, 0},
	{"min", "", unit.Second, 60, 1, 0},
	{"h", "", unit.Second, 3600, 1, 0},
	{"Hz", "k M G", unit.Hertz, 1, 1, 0},

	{"rad", "u m", unit.Rad, 1, 1, 0},
	{"rev turn r", "", unit.Rad, 2 * math.Pi, 1, 0},
	{"deg °", "", unit.Rad, math.Pi, 180, 0},
	{"arcmin", "", unit.Rad, math.Pi, 180 * 60, 0},
	{"arcsec", "", unit.Rad, math.Pi, 180 * 3600, 0},
	{"rpm", "k", unit.New(1, unit.Dimensions{unit.AngleDim: 1, unit.TimeDim: -1}), math.Pi, 30, 0},

	{"N", "n u m k M", unit.Newton, 1, 1, 0},
	{"Pa", "k M G", unit.Pascal, 1, 1, 0},
	{"lbf", "", unit.Newton, 45359237 * 980665, 1, -13},
	{"ozf", "", unit.Newton, 45359237 * 980665, 16, -13},
	{"Nm", "u m c k", unit.Newtonmetre, 1, 1, 0},
	{"J", "u m k M", unit.Joule, 1, 1, 0},
	{"Ws", "k", unit.Joule, 1, 1, 0},
	{"Wh", "m k M", unit.Joule, 3600, 1, 0},
	{"W", "u m k M", unit.Watt, 1, 1, 0},
	{"VA", "k M", unit.Watt, 1, 1, 0},
	{"sqrt(W) √W", "", unit.New(1, unit.Dimensions{rootWatt: 1}), 1, 1, 0},

	{"V", "u m k", unit.Volt, 1, 1, 0},
	{"A", "n u m k", unit.Ampere, 1, 1, 0},
	{"Ah", "m", unit.Coulomb, 3600, 1, 0},
	{"ohm Ω \u2126", "u m k M G", unit.Ohm, 1, 1, 0},
	{"F", "p n u m", unit.Farad, 1, 1, 0},
	{"H", "n u m", unit.Henry, 1, 1, 0},

	{"K", "m", unit.Kelvin, 1, 1, 0},
	{"degC °C", "", unit.New(1, unit.Dimensions{celsius: 1}), 1, 1, 0},
	{"%", "", unit.Dimless(1), 1, 1, -2},
}

// symbols holds every symbol, with each of its prefixes too.
var symbols = func() map[string]conversion {
	m := make(map[string]conversion)
	for _, d := range definitions {
		c := conversion{d.num, d.den, d.exp10, d.of.Unit().Dimensions()}
		for _, s := range strings.Fields(d.symbols) {
			m[s] = c
			for _, p := range strings.Fields(d.prefixes) {
				scaled := c
				scaled.exp10 += prefixes[p]
				m[p+s] = scaled
				if p == "u" {
					m["\u00b5"+s] = scaled // micro sign
					m["\u03bc"+s] = scaled // Greek letter mu
				}
			}
		}
	}
	return m
}()
