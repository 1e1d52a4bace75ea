package thermal_test

import (
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// By hand: 2 kW for .1 s and a ramp from 1 kW to 0 in .2 s make 300 J in a cycle
// of 1.5 s, 200 W.
func TestBrakeResistor(t *testing.T) {
	r := thermal.BrakeResistor{Continuous: 300, Derating: .8, Pulse: 900}
	power := ok[profile.Curve](t)(profile.NewCurve([]float64{0, .1, .3, 1.5}, [][]float64{{2000}, {1000, -5000}, {0}}))
	l := ok[energy.Loading](t)(r.Average(power))
	near(t, "mean", l.Value, 200, 1e-12)
	near(t, "limit", l.Limit, 240, 1e-12)
	near(t, "margin", l.Margin, 40, 1e-12)
	near(t, "ratio", l.Ratio, 5./6, 1e-12)
	if !l.Within() {
		t.Error("200 W is within 240 W")
	}
	l = ok[energy.Loading](t)(r.SingleStop(1200))
	near(t, "energy", l.Value, 1200, 1e-15)
	near(t, "energy limit", l.Limit, 900, 1e-15)
	near(t, "energy margin", l.Margin, -300, 1e-15)
	if l.Within() {
		t.Error("1200 J is not within 900 J")
	}
	if l = ok[energy.Loading](t)(r.SingleStop(900)); !l.Within() || l.Ratio != 1 {
		t.Errorf("at the limit: %+v", l)
	}
}

// A pulse that is short against the time constant warms a cooled body by nearly
// the adiabatic rise, and never by more.
func TestAdiabaticRiseBounds(t *testing.T) {
	body := thermal.Body{Capacity: 400, ThermalResistance: .5}
	for _, length := range []float64{1e-3, 1, 100, 1000} {
		const energy = 6000.
		o := ok[thermal.FirstOrder](t)(body.Heated(energy / length))
		rise, most := ok[float64](t)(o.After(0, length)), ok[float64](t)(thermal.AdiabaticRise(energy, body.Capacity))
		near(t, "adiabatic", most, 15, 1e-15)
		if x := length / 200; !(rise < most && rise > most*(1-x/2)) { // (1-e^-x)/x > 1 - x/2
			t.Errorf("pulse of %g s: rise %g K, adiabatic %g K", length, rise, most)
		}
	}
}
