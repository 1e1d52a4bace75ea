package quantity

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/unit"
)

// unitValues gives each unit in coherent SI units.
//
// SI: coherent by definition, SI Brochure, 9th edition, tables 2 and 4 (from memory).
// SI8: units for use with the SI, same, table 8 (from memory).
// GNU: the number that GNU Units 2.22 prints, run with its definitions.units.
// GNU/16: a 16th of that, as an ounce is a 16th of a pound there.
var unitValues = map[string]float64{
	"m": 1, "s": 1, "A": 1, "K": 1, "rad": 1, "Hz": 1, "N": 1, "Pa": 1, "J": 1, "W": 1, "V": 1, "F": 1, "H": 1, "ohm": 1, "Ω": 1, "\u2126": 1, // SI
	"g":    1e-3,       // SI: the kilogram is the base unit
	"degC": 1, "°C": 1, // one scale division, the zero is not moved
	"Nm": 1, "Ws": 1, "VA": 1, // products of SI
	"sqrt(W)": 1, "√W": 1,
	"%": 0.01, // SI Brochure, 9th edition, section 5.4.7 (from memory)

	"min": 60, "h": 3600, // SI8, GNU
	"t":   1000,                                            // SI8, GNU
	"deg": 0.017453292519943295, "°": 0.017453292519943295, // GNU; SI8: π/180
	"arcmin": 0.00029088820866572163,                                                  // GNU; SI8: π/10800
	"arcsec": 4.8481368110953598e-06,                                                  // GNU; SI8: π/648000
	"rev":    6.2831853071795862, "turn": 6.2831853071795862, "r": 6.2831853071795862, // GNU
	"rpm": 0.10471975511965977,     // GNU
	"Wh":  3600,                    // GNU
	"Ah":  3600,                    // GNU
	"in":  0.025400000000000002,    // GNU
	"ft":  0.30480000000000002,     // GNU
	"lb":  0.45359237000000002,     // GNU
	"oz":  0.028349523125000001,    // GNU
	"lbf": 4.4482216152604996,      // GNU
	"ozf": 4.4482216152604996 / 16, // GNU/16
}

// SI Brochure, 9th edition, table 7 (from memory).
var prefixValues = map[string]float64{
	"p": 1e-12, "n": 1e-9, "u": 1e-6, "\u00b5": 1e-6, "\u03bc": 1e-6, "m": 1e-3, "c": 1e-2, "k": 1e3, "M": 1e6, "G": 1e9,
}

func TestUnitValues(t *testing.T) {
	for symbol, c := range symbols {
		want, ok := unitValues[symbol]
		for p, scale := range prefixValues {
			if v, found := unitValues[strings.TrimPrefix(symbol, p)]; found && !ok && strings.HasPrefix(symbol, p) {
				want, ok = v*scale, true
				break
			}
		}
		require.True(t, ok, "no value to check %q against", symbol)
		got, err := value("1", c.exp10, c.num, c.den)
		require.Nil(t, err)
		if !(math.Abs(got-want) <= 1e-15*want) {
			t.Errorf("1 %s = %v, want %v", symbol, got, want)
		}
	}
	for symbol := range unitValues {
		assert.Contains(t, symbols, symbol)
	}
}

// No two definitions may claim one symbol: an "m" could be a prefix in one and
// part of the symbol in the other.
func TestSymbolsAreUnique(t *testing.T) {
	seen := map[string]bool{}
	for _, d := range definitions {
		for _, s := range strings.Fields(d.symbols) {
			for _, p := range append(strings.Fields(d.prefixes), "") {
				assert.False(t, seen[p+s], p+s)
				seen[p+s] = true
			}
		}
	}
}

// Compound units as GNU Units 2.22 converts them with its definitions.units.
func TestCompoundUnits(t *testing.T) {
	for _, tc := range []struct {
		text string
		kind Kind
		want float64
	}{
		{"1 mm/rev", Lead, 0.00015915494309189535},
		{"1 V/krpm", VoltageConstant, 0.0095492965855137214},
		{"1 Nm/krpm", ViscousRotary, 0.0095492965855137196},
		{"1 lbf in", Torque, 0.11298482902761672},
		{"1 lbf in s^2", Inertia, 0.11298482902761672},
		{"1 lbf ft", Torque, 1.3558179483314006},
		{"1 lb in^2", Inertia, 0.00029263965342920005},
		{"1 g cm²", Inertia, 1.0000000000000001e-07},
		{"1 in^2", Area, 0.00064516000000000009},
	} {
		got, err := Parse(tc.text, tc.kind)
		if assert.NoError(t, err) && !(math.Abs(got-tc.want) <= 1e-15*tc.want) {
			t.Errorf("Parse(%q) = %v, want %v", tc.text, got, tc.want)
		}
	}
}

// A worked example of a textbook: 18.75 kW at 3000 r/min are 59.7 N·m.
// Fitzgerald, Kingsley, Umans, Electric Machinery, 6th edition, example 7.1,
// read in a transcription; three printed digits.
func TestTextbookShaftTorque(t *testing.T) {
	power, err := Parse("18.75 kW", Power)
	require.NoError(t, err)
	speed, err := Parse("3000 r/min", AngularSpeed)
	require.NoError(t, err)
	assert.InDelta(t, 59.7, power/speed, 0.05)
	assert.Equal(t, "59.7 N m", Format(power/speed, Torque, 3))
}

// A program that embeds the library may have taken the symbol.
func TestNewDimensionOfTakenSymbol(t *testing.T) {
	for _, symbol := range []string{"sqrt(W)", "kg"} {
		d := newDimension(symbol)
		assert.Regexp(t, "^"+regexp.QuoteMeta(symbol)+"'+$", d.String())
		assert.NotContains(t, []unit.Dimension{rootWatt, unit.MassDim}, d)
	}
}
