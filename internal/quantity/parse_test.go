package quantity_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/internal/quantity"
)

// ulps is the relative tolerance of a value that went through a few roundings.
const ulps = 1e-15

// The values follow by hand from the definitions of the units. tol 0 asks for the very
// float64 of the decimal number.
func TestParse(t *testing.T) {
	for _, tc := range []struct {
		text string
		kind quantity.Kind
		want float64
		tol  float64
	}{
		{"420 mm", quantity.Length, 0.42, 0},
		{"-3 N", quantity.Force, -3, 0},
		{"35 degC", quantity.Temperature, 35, 0},
		{"-40 °C", quantity.Temperature, -40, 0},
		{"90 %", quantity.Fraction, 0.9, 0},
		{"90%", quantity.Ratio, 0.9, 0},
		{"0.9", quantity.Fraction, 0.9, 0},
		{"5", quantity.Ratio, 5, 0},
		{"5 mm/m", quantity.Ratio, 0.005, 0},
		{"2.5 mm^2", quantity.Area, 2.5e-6, 0},
		{"0.9 kg cm^2", quantity.Inertia, 0.9e-4, 0},
		{"1.2e-3 kg m^2", quantity.Inertia, 1.2e-3, 0},
		{"7.85 g/cm^3", quantity.Density, 7850, ulps},
		{"0.5 N m/A", quantity.TorqueConstant, 0.5, 0},
		{"500 mN m/A", quantity.TorqueConstant, 0.5, 0},
		{"0.2 N m/sqrt(W)", quantity.MotorConstant, 0.2, 0},
		{"0.2 N m/√W", quantity.MotorConstant, 0.2, 0},
		{"50 N/mm", quantity.LinearStiffness, 50e3, 0},
		{"0.39 %/K", quantity.TemperatureCoefficient, 0.0039, 0},
		{"0.0039 1/K", quantity.TemperatureCoefficient, 0.0039, 0},
		{"0.0039 K^-1", quantity.TemperatureCoefficient, 0.0039, 0},
		{"5.5 W/(m^2 K)", quantity.HeatTransfer, 5.5, 0},
		{"206 GPa", quantity.Pressure, 206e9, 0},
		{"60 N/mm^2", quantity.Pressure, 60e6, ulps},
		{"400 VA", quantity.Power, 400, 0},
		{"1.2 t", quantity.Mass, 1200, 0},
		{"60 m/min", quantity.Speed, 1, ulps},
		{"1200 1/h", quantity.Frequency, 1. / 3, ulps},
		{"2 kWh", quantity.Energy, 7.2e6, 0},
		{"2.5 Ah", quantity.Charge, 9000, 0},
		{"3000 rpm", quantity.AngularSpeed, 100 * math.Pi, ulps},
		{"3 krpm", quantity.AngularSpeed, 100 * math.Pi, ulps},
		{"50 rev/s", quantity.AngularSpeed, 100 * math.Pi, ulps},
		{"3000 r/min", quantity.AngularSpeed, 100 * math.Pi, ulps},
		{"18 deg/s", quantity.AngularSpeed, math.Pi / 10, ulps},
		{"90°", quantity.Angle, math.Pi / 2, ulps},
		{"0.5 turn", quantity.Angle, math.Pi, ulps},
		{"5 mm/rev", quantity.Lead, 0.005 / (2 * math.Pi), ulps},
		{"12 V/krpm", quantity.VoltageConstant, 0.36 / math.Pi, ulps},
		{"2 lbf in", quantity.Torque, 2 * 4.4482216152605 * 0.0254, ulps},
		{"16 ozf in", quantity.Torque, 4.4482216152605 * 0.0254, ulps},

		// The same unit in several spellings.
		{"4700 uF", quantity.Capacitance, 0.0047, 0},
		{"4700 \u00b5F", quantity.Capacitance, 0.0047, 0},
		{"4700 \u03bcF", quantity.Capacitance, 0.0047, 0},
		{"47 \u03a9", quantity.Resistance, 47, 0},
		{"47 \u2126", quantity.Resistance, 47, 0},
		{"47 ohm", quantity.Resistance, 47, 0},
		{"3 N m", quantity.Torque, 3, 0},
		{"3 Nm", quantity.Torque, 3, 0},
		{"3 N*m", quantity.Torque, 3, 0},
		{"3 N * m", quantity.Torque, 3, 0},
		{"3 N·m", quantity.Torque, 3, 0},
		{"3 N⋅m", quantity.Torque, 3, 0},
		{"3 m N", quantity.Torque, 3, 0},
		{"3 mN m", quantity.Torque, 0.003, 0},
		{"3 mNm", quantity.Torque, 0.003, 0},
		{"3 mN", quantity.Force, 0.003, 0},
		{"3 m/s²", quantity.Accel, 3, 0},
		{"3 m s⁻²", quantity.Accel, 3, 0},
		{"3 m s^-2", quantity.Accel, 3, 0},
		{"3 m s^−2", quantity.Accel, 3, 0},
		{"3 m/(s s)", quantity.Accel, 3, 0},
		{"3 N m/(A)", quantity.TorqueConstant, 3, 0},
		{"3 N m / ( A )", quantity.TorqueConstant, 3, 0},
		{"3 1 / s", quantity.Frequency, 3, 0},

		// Forms of the number.
		{"  24V\t", quantity.Voltage, 24, 0},
		{"24\u00a0V", quantity.Voltage, 24, 0},
		{"24\u202fV", quantity.Voltage, 24, 0},
		{"−3 N", quantity.Force, -3, 0},
		{"+3 N", quantity.Force, 3, 0},
		{".5 N", quantity.Force, 0.5, 0},
		{"5. N", quantity.Force, 5, 0},
		{"5.E+1N", quantity.Force, 50, 0},
		{"5e−1 N", quantity.Force, 0.5, 0},
		{"0e99 N", quantity.Force, 0, 0},
		{"1e300 m", quantity.Length, 1e300, 0},
		{"1e310 um", quantity.Length, 1e304, 0},
		{"1e-310 km", quantity.Length, 1e-307, 0},
		{strings.Repeat("0", 100) + "7 N", quantity.Force, 7, 0},
	} {
		got, err := quantity.Parse(tc.text, tc.kind)
		if assert.NoError(t, err, tc.text) && !(math.Abs(got-tc.want) <= tc.tol*math.Abs(tc.want)) {
			t.Errorf("Parse(%q, %v) = %v, want %v ± %g", tc.text, tc.kind, got, tc.want, tc.tol)
		}
	}
}

func TestParseNegativeZero(t *testing.T) {
	got, err := quantity.Parse("-0.0 N", quantity.Force)
	require.NoError(t, err)
	assert.Equal(t, 0.0, got)
	assert.False(t, math.Signbit(got))
}

func TestParseErrors(t *testing.T) {
	for _, tc := range []struct {
		text string
		kind quantity.Kind
		want string
	}{
		// Dimensions.
		{"3 mm", quantity.AngularSpeed, `got a length ("3 mm"), want an angular speed such as "3000 rpm"`},
		{"3 N m", quantity.Length, `got a torque or an energy ("3 N m"), want a length such as "420 mm"`},
		{"3 mol", quantity.Length, `got an unknown unit "mol" ("3 mol"), want a length such as "420 mm"`},
		{"3 kg m", quantity.Length, `got a value in kg m ("3 kg m"), want a length such as "420 mm"`},
		{"50 Hz", quantity.AngularSpeed, `got a frequency ("50 Hz"; rad, deg or rev is missing or out of place), want an angular speed such as "3000 rpm"`},
		{"3000 min^-1", quantity.AngularSpeed, `got a frequency ("3000 min^-1"; rad, deg or rev is missing or out of place), want an angular speed such as "3000 rpm"`},
		{"3000 rpm", quantity.Frequency, `got an angular speed ("3000 rpm"; rad, deg or rev is missing or out of place), want a frequency such as "50 Hz"`},
		{"10 mm", quantity.Lead, `got a length ("10 mm"; rad, deg or rev is missing or out of place), want a lead such as "10 mm/rev"`},
		{"0.1 V s/rad", quantity.TorqueConstant, `got a voltage constant ("0.1 V s/rad"; rad, deg or rev is missing or out of place), want a torque constant such as "0.5 N m/A"`},
		{"12 lb ft", quantity.Torque, `got a value in kg m ("12 lb ft"; kg, lb and oz are masses, N, lbf and ozf are forces), want a torque such as "1.3 N m"`},
		{"3 N m/W", quantity.MotorConstant, `got a time ("3 N m/W"), want a motor constant such as "0.2 N m/sqrt(W)"`},
		{"5 mm", quantity.Ratio, `got a length ("5 mm"), want a ratio such as "5"`},
		{"90 %", quantity.Length, `got a ratio or a fraction ("90 %"), want a length such as "420 mm"`},

		// Temperatures.
		{"300 K", quantity.Temperature, `got a temperature difference ("300 K"), want a temperature such as "35 degC"`},
		{"20 degC", quantity.TemperatureDifference, `got a temperature ("20 degC"), want a temperature difference such as "20 K"`},
		{"1.2 °C/W", quantity.ThermalResistance, `got degC inside a compound unit ("1.2 °C/W"; a temperature difference is in K), want a thermal resistance such as "1.5 K/W"`},
		{"1 1/degC", quantity.TemperatureCoefficient, `got degC inside a compound unit ("1 1/degC"; a temperature difference is in K), want a temperature coefficient such as "0.39 %/K"`},
		{"3 mm degC/degC", quantity.Length, `got degC inside a compound unit ("3 mm degC/degC"; a temperature difference is in K), want a length such as "420 mm"`},

		// Numbers.
		{"", quantity.Length, `got no number (""), want a length such as "420 mm"`},
		{"mm", quantity.Length, `got no number ("mm"), want a length such as "420 mm"`},
		{"-", quantity.Length, `got no number ("-"), want a length such as "420 mm"`},
		{". mm", quantity.Length, `got no number (". mm"), want a length such as "420 mm"`},
		{"NaN mm", quantity.Length, `got no number ("NaN mm"), want a length such as "420 mm"`},
		{"-Inf mm", quantity.Length, `got no number ("-Inf mm"), want a length such as "420 mm"`},
		{"0x1p4 mm", quantity.Length, `got a number that is not a plain decimal ("0x1p4 mm"; write 1234.5 or 1.2345e3), want a length such as "420 mm"`},
		{"1_000 mm", quantity.Length, `got a number that is not a plain decimal ("1_000 mm"; write 1234.5 or 1.2345e3), want a length such as "420 mm"`},
		{"1,5 mm", quantity.Length, `got a number that is not a plain decimal ("1,5 mm"; write 1234.5 or 1.2345e3), want a length such as "420 mm"`},
		{"1.2.3 mm", quantity.Length, `got a number that is not a plain decimal ("1.2.3 mm"; write 1234.5 or 1.2345e3), want a length such as "420 mm"`},
		{"1 000 mm", quantity.Length, `got two numbers ("1 000 mm"; write 1234.5 without a gap), want a length such as "420 mm"`},
		{"1e400 m", quantity.Length, `got a number too large to compute with ("1e400 m"), want a length such as "420 mm"`},
		{"1e308 km", quantity.Length, `got a number too large to compute with ("1e308 km"), want a length such as "420 mm"`},
		{"1e308 rev", quantity.Angle, `got a number too large to compute with ("1e308 rev"), want an angle such as "90 deg"`},
		{"1e-400 m", quantity.Length, `got a number too close to zero to compute with ("1e-400 m"), want a length such as "420 mm"`},
		{"1e-320 m", quantity.Length, `got a number too close to zero to compute with ("1e-320 m"), want a length such as "420 mm"`},
		{"3e-308 deg", quantity.Angle, `got a number too close to zero to compute with ("3e-308 deg"), want an angle such as "90 deg"`},
		// The decimal factor of lbf is 1e-13, and 1e-313 no longer has all its digits.
		{"1e-300 lbf", quantity.Force, `got a number too close to zero to compute with ("1e-300 lbf"), want a force such as "35 N"`},
		{"1e12345 m", quantity.Length, `got a number with an exponent of more than 4 digits ("1e12345 m"), want a length such as "420 mm"`},
		{"3e m", quantity.Length, `got an unknown unit "e" ("3e m"), want a length such as "420 mm"`},

		// Units.
		{"420", quantity.Length, `got a number without a unit ("420"), want a length such as "420 mm"`},
		{"0", quantity.Length, `got a number without a unit ("0"), want a length such as "420 mm"`},
		{"3 foo", quantity.Length, `got an unknown unit "foo" ("3 foo"), want a length such as "420 mm"`},
		{"3 RPM", quantity.AngularSpeed, `got an unknown unit "RPM" ("3 RPM"; did you mean "rpm"?), want an angular speed such as "3000 rpm"`},
		{"3 MM", quantity.Length, `got an unknown unit "MM" ("3 MM"; did you mean "mm"?), want a length such as "420 mm"`},
		{"3 MOhm", quantity.Resistance, `got an unknown unit "MOhm" ("3 MOhm"; did you mean "Mohm" or "mohm"?), want a resistance such as "0.35 ohm"`},
		{"3 Vs/rad", quantity.VoltageConstant, `got an unknown unit "Vs" ("3 Vs/rad"; did you mean "V s"?), want a voltage constant such as "12 V/krpm"`},
		{"3 hp", quantity.Power, `got an unknown unit "hp" ("3 hp"; write W or kW, because there are several horsepowers), want a power such as "400 W"`},
		{"3 sqrt(kW)", quantity.MotorConstant, `got an unknown unit "sqrt" ("3 sqrt(kW)"; write sqrt(W), the only root that is read), want a motor constant such as "0.2 N m/sqrt(W)"`},
		{"3 N m/A s", quantity.Torque, `got a product after "/" ("3 N m/A s"; write what is below the slash in parentheses, as in "N m/(A s)"), want a torque such as "1.3 N m"`},
		{"3 N m/A*s", quantity.Torque, `got a product after "/" ("3 N m/A*s"; write what is below the slash in parentheses, as in "N m/(A s)"), want a torque such as "1.3 N m"`},
		{"3 m/s/s", quantity.Accel, `got more than one "/" ("3 m/s/s"; write what is below the slash in parentheses, as in "N m/(A s)"), want an acceleration such as "12 m/s^2"`},
		{"3 m/(s s", quantity.Accel, `got no ")" where one belongs ("3 m/(s s"; write what is below the slash in parentheses, as in "N m/(A s)"), want an acceleration such as "12 m/s^2"`},
		{"3 m/(s/s)", quantity.Accel, `got no ")" where one belongs ("3 m/(s/s)"; write what is below the slash in parentheses, as in "N m/(A s)"), want an acceleration such as "12 m/s^2"`},
		{"3 m/((s))", quantity.Speed, `got an unexpected "(" ("3 m/((s))"; parentheses belong after "/", as in "N m/(A s)"), want a speed such as "1.5 m/s"`},
		{"3 (m)/s", quantity.Speed, `got an unexpected "(" ("3 (m)/s"; parentheses belong after "/", as in "N m/(A s)"), want a speed such as "1.5 m/s"`},
		{"3 m/s)", quantity.Speed, `got an unexpected ")" in the unit ("3 m/s)"), want a speed such as "1.5 m/s"`},
		{"3 m)", quantity.Length, `got an unexpected ")" in the unit ("3 m)"), want a length such as "420 mm"`},
		{"12 V/1000 rpm", quantity.VoltageConstant, `got a number inside the unit ("12 V/1000 rpm"; a fraction is written 0.5, volts per 1000 rpm V/krpm), want a voltage constant such as "12 V/krpm"`},
		{"3 1/2 in", quantity.Length, `got a number inside the unit ("3 1/2 in"; a fraction is written 0.5, volts per 1000 rpm V/krpm), want a length such as "420 mm"`},
		{"3 /s", quantity.Frequency, `got nothing before "/" ("3 /s"; write "1/s" or "s^-1"), want a frequency such as "50 Hz"`},
		{"3 m/", quantity.Speed, `got a unit that breaks off ("3 m/"), want a speed such as "1.5 m/s"`},
		{"3 N*", quantity.Force, `got a unit that breaks off ("3 N*"), want a force such as "35 N"`},
		{"3 lbf-in", quantity.Torque, `got an unexpected "-" in the unit ("3 lbf-in"; write products as "N m", "N*m" or "N·m"), want a torque such as "1.3 N m"`},
		{"3 N.m", quantity.Torque, `got an unexpected "." in the unit ("3 N.m"; write products as "N m", "N*m" or "N·m"), want a torque such as "1.3 N m"`},
		{"3 m²K", quantity.Area, `got an unexpected "K" in the unit ("3 m²K"), want an area such as "2.5 mm^2"`},
		{"3 mm\n", quantity.Length, `got an unexpected "\n" in the unit ("3 mm\n"), want a length such as "420 mm"`},
		{"3 m2", quantity.Area, `got a power that is not a whole number from 1 to 9 ("3 m2"; write "m^2", "m²" or "s^-1"), want an area such as "2.5 mm^2"`},
		{"3 m^0", quantity.Area, `got a power that is not a whole number from 1 to 9 ("3 m^0"; write "m^2", "m²" or "s^-1"), want an area such as "2.5 mm^2"`},
		{"3 m^22", quantity.Area, `got a power that is not a whole number from 1 to 9 ("3 m^22"; write "m^2", "m²" or "s^-1"), want an area such as "2.5 mm^2"`},
		{"3 m^2.5", quantity.Area, `got a power that is not a whole number from 1 to 9 ("3 m^2.5"; write "m^2", "m²" or "s^-1"), want an area such as "2.5 mm^2"`},
		{"3 m²²", quantity.Area, `got a power that is not a whole number from 1 to 9 ("3 m²²"; write "m^2", "m²" or "s^-1"), want an area such as "2.5 mm^2"`},
		{"3 m⁻", quantity.Area, `got a power that is not a whole number from 1 to 9 ("3 m⁻"; write "m^2", "m²" or "s^-1"), want an area such as "2.5 mm^2"`},
		{"3 W^(1/2)", quantity.Power, `got a power that is not a whole number from 1 to 9 ("3 W^(1/2)"; write "m^2", "m²" or "s^-1"), want a power such as "400 W"`},

		{"3 mm", 0, `got Kind(0) ("3 mm"), want a kind that this package defines`},
		{"3 mm", 200, `got Kind(200) ("3 mm"), want a kind that this package defines`},
	} {
		got, err := quantity.Parse(tc.text, tc.kind)
		assert.EqualError(t, err, tc.want)
		assert.Zero(t, got, tc.text)
	}
}

func TestParseLongText(t *testing.T) {
	_, err := quantity.Parse("3 "+strings.Repeat("·m", 1<<20), quantity.Length)
	var e *quantity.Error
	require.ErrorAs(t, err, &e)
	assert.Equal(t, "a text of 3145730 bytes", e.Got)
	assert.Less(t, len(err.Error()), 300)

	// As many factors as fit: 2π to the 31st power is finite, its dimensions are wrong.
	_, err = quantity.Parse("3 "+strings.Repeat("rev^9 ", 20), quantity.Length)
	require.ErrorAs(t, err, &e)
	assert.Equal(t, "a value in rad^180", e.Got)
	assert.Equal(t, `a length such as "420 mm"`, e.Want)
}

// A symbol that cancels must not leave the value infinite or NaN.
func TestParseOverflowOfFactors(t *testing.T) {
	s := "3 " + strings.Repeat("lbf^9 ", 9) + "m/(" + strings.Repeat("lbf^9 ", 9) + ")"
	require.LessOrEqual(t, len(s), 128)
	got, err := quantity.Parse(s, quantity.Length)
	assert.EqualError(t, err, `got a number too large to compute with ("`+s+`"), want a length such as "420 mm"`)
	assert.Zero(t, got)
}

func FuzzParse(f *testing.F) {
	for k := quantity.Length; k <= quantity.Fraction; k++ {
		f.Add(k.Example(), uint8(k))
	}
	for _, s := range []string{"3 N m/(A s)", "−1.5e−3 kg·m² s⁻²", "4700 µF", "1 °C", "1/s", "5 1/(K)", "1 √W", "9e999 m^-9", "NaN m", "0x1 m", "3 lbf in"} {
		f.Add(s, uint8(quantity.Torque))
	}
	f.Fuzz(func(t *testing.T, s string, kind uint8) {
		k := quantity.Kind(kind)
		v, err := quantity.Parse(s, k)
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("Parse(%q, %v) = %v", s, k, v)
		}
		if err != nil {
			var e *quantity.Error
			if !assert.ErrorAs(t, err, &e) || v != 0 || e.Got == "" || e.Want != k.Want() {
				t.Fatalf("Parse(%q, %v) = %v, %v", s, k, v, err)
			}
			return
		}
		if a := math.Abs(v); a != 0 && !(a >= 1e-290 && a <= 1e290) {
			return
		}
		for _, digits := range []int{3, 17} {
			checkRoundTrip(t, v, k, digits)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	for _, bc := range []struct {
		name, text string
		kind       quantity.Kind
	}{
		{"simple", "420 mm", quantity.Length},
		{"product", "0.9 kg cm^2", quantity.Inertia},
		{"quotient", "0.5 uN m s^2/rad^2", quantity.QuadraticDrag},
	} {
		b.Run(bc.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := quantity.Parse(bc.text, bc.kind); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
