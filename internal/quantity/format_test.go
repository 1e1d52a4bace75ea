package quantity_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.com/headroom/internal/quantity"
)

func TestFormat(t *testing.T) {
	for _, tc := range []struct {
		v      float64
		kind   quantity.Kind
		digits int
		want   string
	}{
		{0.42, quantity.Length, 3, "420 mm"},
		{1.25, quantity.Length, 3, "1.25 m"},
		{12345, quantity.Length, 3, "12300 m"},
		{12e-6, quantity.Length, 2, "12 um"},
		{2.5e-6, quantity.Area, 2, "2.5 mm^2"},
		{0.5, quantity.Area, 2, "0.50 m^2"},
		{0.0047, quantity.Capacitance, 3, "4.70 mF"},
		{82, quantity.Voltage, 3, "82.0 V"},
		{-0.5, quantity.Voltage, 3, "-500 mV"},
		{1240, quantity.Power, 3, "1.24 kW"},
		{1.5e-5, quantity.Inertia, 2, "0.15 kg cm^2"},
		{3e-8, quantity.Inertia, 2, "0.00030 kg cm^2"},
		{0.099, quantity.Inertia, 3, "990 kg cm^2"},
		{0.1, quantity.Inertia, 3, "0.100 kg m^2"},
		{0.35, quantity.Torque, 3, "0.350 N m"},
		{0.035, quantity.Torque, 3, "35.0 mN m"},
		{100 * math.Pi, quantity.AngularSpeed, 4, "3000 rpm"},
		{0.36 / math.Pi, quantity.VoltageConstant, 3, "12.0 V/krpm"},
		{0.005 / (2 * math.Pi), quantity.Lead, 2, "5.0 mm/rev"},
		{math.Pi / 2, quantity.Angle, 3, "90.0 deg"},
		{0.0039, quantity.TemperatureCoefficient, 2, "0.39 %/K"},
		{0.925, quantity.Fraction, 3, "92.5 %"},
		{5, quantity.Ratio, 3, "5.00"},
		{-5.04, quantity.Temperature, 2, "-5.0 degC"},
		{9000, quantity.Charge, 2, "2.5 Ah"},
		{2, quantity.Time, 2, "2.0 s"},
		{9000, quantity.Time, 2, "2.5 h"},

		// Rounding up into the next unit.
		{0.9996, quantity.Length, 3, "1.00 m"},
		{0.9994, quantity.Length, 3, "999 mm"},
		{3599.9, quantity.Time, 3, "1.00 h"},
		{999.6e3, quantity.Power, 3, "1.00 MW"},

		// Where the exponent begins.
		{9.99e6, quantity.Length, 3, "9990000 m"},
		{1e7, quantity.Length, 3, "1.00e+07 m"},
		{1e-10, quantity.Length, 3, "0.000100 um"},
		{9.99e-11, quantity.Length, 3, "9.99e-05 um"},
		{1e300, quantity.Force, 3, "1.00e+297 kN"},
		{1.7e308, quantity.AngularSpeed, 3, "1.70e+308 rad/s"},

		// Digits out of range.
		{1. / 3, quantity.Ratio, 0, "0.3"},
		{1. / 3, quantity.Ratio, -4, "0.3"},
		{1. / 3, quantity.Ratio, 99, "0.33333333333333331"},

		// Special cases, in the order of the doc comment.
		{0, quantity.Length, 3, "0 m"},
		{math.Copysign(0, -1), quantity.Length, 3, "0 m"},
		{0, quantity.Ratio, 3, "0"},
		{0, quantity.Fraction, 3, "0"},
		{1.5, 0, 3, "1.50"},
		{1.5, 200, 3, "1.50"},
		{math.NaN(), quantity.Length, 3, "NaN m"},
		{math.Inf(1), quantity.Length, 3, "+Inf m"},
		{math.Inf(-1), quantity.Ratio, 3, "-Inf"},
	} {
		assert.Equal(t, tc.want, quantity.Format(tc.v, tc.kind, tc.digits))
	}
}

// checkRoundTrip checks that the text of v is read back as v, rounded to the digits shown.
func checkRoundTrip(t *testing.T, v float64, k quantity.Kind, digits int) {
	t.Helper()
	s := quantity.Format(v, k, digits)
	got, err := quantity.Parse(s, k)
	tol := (0.5*math.Pow10(1-digits) + ulps) * math.Abs(v)
	if err != nil || !(math.Abs(got-v) <= tol) {
		t.Fatalf("Format(%v, %v, %d) = %q, read back as %v, %v", v, k, digits, s, got, err)
	}
}

func TestFormatRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for k := quantity.Length; k <= quantity.Fraction; k++ {
		for range 2000 {
			v := math.Pow(10, -12+24*rng.Float64())
			if rng.IntN(20) == 0 {
				v = math.Pow(10, -290+580*rng.Float64())
			}
			if rng.IntN(2) == 0 {
				v = -v
			}
			checkRoundTrip(t, v, k, 1+rng.IntN(17))
		}
		checkRoundTrip(t, 0, k, 3)
	}
}

func BenchmarkFormat(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		quantity.Format(0.0047, quantity.Capacitance, 3)
	}
}
