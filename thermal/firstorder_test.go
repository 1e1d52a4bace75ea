package thermal_test

import (
	"math/rand/v2"
	"testing"

	"example.com/headroom/thermal"
)

// The rise after a time, and the time to a rise, against integration of
// τ dθ/dt = θ∞ - θ.
func TestFirstOrderAgainstIntegration(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 1))
	for range 100 {
		o := thermal.FirstOrder{TimeConstant: 1 + 1000*r.Float64(), Rise: 120 * r.Float64()}
		start, span := 150*r.Float64(), 3*o.TimeConstant*r.Float64()
		want := integrate(start, span, 2000, func(y float64) float64 { return (o.Rise - y) / o.TimeConstant })
		near(t, "rise", ok[float64](t)(o.After(start, span)), want, 1e-11)
		got, reached, err := o.TimeTo(start, want)
		if err != nil || !reached {
			t.Fatalf("%+v: TimeTo(%g, %g): reached %v, %v", o, start, want, reached, err)
		}
		near(t, "time", got, span, 1e-7) // a late rise is flat against time
	}
}

func TestFirstOrderSpecialCases(t *testing.T) {
	o := thermal.FirstOrder{TimeConstant: 60, Rise: 50}
	for _, tc := range []struct {
		name          string
		start, target float64
		reached       bool
		want          float64
	}{
		{"already there", 20, 20, true, 0},
		{"already there and settled", 50, 50, true, 0},
		{"the settled rise itself", 20, 50, false, 0},
		{"beyond the settled rise", 20, 60, false, 0},
		{"the other way", 20, 10, false, 0},
		{"cooling, beyond", 80, 40, false, 0},
		{"cooling, the other way", 80, 90, false, 0},
		{"half way up", 0, 25, true, 41.58883083359672}, // 60 ln 2
		{"half way down", 80, 65, true, 41.58883083359672},
	} {
		got, reached, err := o.TimeTo(tc.start, tc.target)
		if err != nil || reached != tc.reached {
			t.Errorf("%s: reached %v, %v", tc.name, reached, err)
		}
		near(t, tc.name, got, tc.want, 1e-14)
	}
	if got := ok[float64](t)(o.After(20, 0)); got != 20 {
		t.Errorf("after no time %g, want 20", got)
	}
	if got := ok[float64](t)(o.After(20, 1e9)); got != 50 {
		t.Errorf("after a long time %g, want 50", got)
	}
	// A short time is not lost in the digits of the settled rise: θ∞ t/τ.
	near(t, "rise in a nanosecond", ok[float64](t)(o.After(0, 1e-9)), 50e-9/60, 1e-10)
}

// Readings taken from an integrated response give the response back, whether it
// heats or cools, starts cold or not.
func TestFromReadings(t *testing.T) {
	r := rand.New(rand.NewPCG(12, 1))
	for range 100 {
		tau, settled, start := 10+1000*r.Float64(), 120*r.Float64(), 120*r.Float64()
		interval := tau * (.3 + r.Float64())
		slope := func(y float64) float64 { return (settled - y) / tau }
		second := integrate(start, interval, 2000, slope)
		third := integrate(second, interval, 2000, slope)
		o := ok[thermal.FirstOrder](t)(thermal.FromReadings(interval, start, second, third))
		near(t, "time constant", o.TimeConstant, tau, 1e-8)
		near(t, "settled rise", o.Rise, settled, 1e-8)
	}
}

// The stated sensitivity to errors in the readings, by finite differences.
func TestFromReadingsSensitivity(t *testing.T) {
	const d = 1e-5
	read := func(a, b, c float64) float64 {
		return ok[thermal.FirstOrder](t)(thermal.FromReadings(100, a, b, c)).Rise
	}
	q := (37. - 24) / (24 - 0)
	over := (1 - q) * (1 - q)
	near(t, "first", (read(d, 24, 37)-read(-d, 24, 37))/(2*d), q*q/over, 1e-6)
	near(t, "second", (read(0, 24+d, 37)-read(0, 24-d, 37))/(2*d), -2*q/over, 1e-6)
	near(t, "third", (read(0, 24, 37+d)-read(0, 24, 37-d))/(2*d), 1/over, 1e-6)
}
