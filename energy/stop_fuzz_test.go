package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// FuzzWorstStop: no panic, no figure that is not finite or below zero without an error, and
// none below that of a halt from anywhere in the cycle.
func FuzzWorstStop(f *testing.F) {
	f.Add(uint8(0), 10., 20., 5., 0.3, 0., 100., 5., 0., 1., 2., 0.4)
	f.Add(uint8(1), 10., 20., 5., 0.3, 50., 100., 5., 200., 1., 2., 0.4)
	f.Add(uint8(2), 10., 0., 0., 1.5, 0., 0., 3., 0., 1., 2., 0.9)
	f.Add(uint8(0), 0.46875, 0., 97., 1.5, 15.5, 153.3, 95., 46., 0.2, -4.2, 0.9) // passes standstill
	f.Add(uint8(3), 1e12, 1e12, 1e12, 1., -1e12, 1e12, 1e12, 1e12, 1., 1e6, 0.1)
	f.Add(uint8(0), 1e-12, 0., 0., 0., 0., 0., 1e-12, 0., 1e-6, 1e-9, 0.5)
	f.Fuzz(func(t *testing.T, kind uint8, mass, dry, viscous, incline, external, stiffness, deceleration, jerk, duration, accel, share float64) {
		w, err := energy.SinusoidalRMS(0.5, energy.LineToLine(1), 25)
		if err != nil {
			t.Fatal(err)
		}
		a := energy.Axis{
			Load:  energy.Load{Mass: mass, Coulomb: dry, Viscous: viscous, Incline: incline, External: external},
			Motor: energy.Motor{RotorInertia: 1e-5, DragTorque: 0.01, DragPerSpeedSquared: 1e-7, Winding: w},
			Drive: energy.Drive{Standby: 1, LossPerAmp: 1},
		}
		switch kind % 4 {
		case 0:
			a.Mechanism = energy.Screw{Lead: 0.01, Efficiency: 0.9}
		case 1:
			a.Mechanism = energy.RackPinion{PitchDiameter: 0.1, Efficiency: 0.9}
			a.Load.Counterbalance.Stiffness = stiffness
		case 2:
			a.Mechanism = energy.HoistDrum{Diameter: 0.2, Falls: 2, Efficiency: 0.9}
		case 3:
			a.Mechanism = energy.Direct{}
			a.Motor.RotorInertia = 0
		}
		c, err := profile.NewCurve([]float64{0, duration, 2 * duration}, [][]float64{{0, 0, accel / 2}, {accel / 2 * duration * duration, accel * duration, -accel / 2}})
		if err != nil {
			return
		}
		m, err := profile.NewMotion(c)
		if err != nil {
			return
		}
		s := stopping(a, m, deceleration)
		s.Limits.Jerk = jerk
		got, err := energy.WorstStop(s)
		if err != nil {
			return
		}
		scale := 0.0
		for _, p := range figuresOf(got) {
			if !(p.V >= 0 && !math.IsInf(p.V, 0)) || math.IsNaN(p.T) {
				t.Fatalf("%+v", got)
			}
			scale += p.V
		}
		h, err := energy.HaltFrom(share*m.Duration(), s)
		if err != nil {
			return
		}
		for k, v := range []float64{h.Returned, h.Drawn, h.ReturnedWithin, h.DrawnWithin, h.PeakReturned, h.PeakDrawn, h.Duration, h.Distance[0]} {
			if most := figuresOf(got)[k].V; !(v <= most*(1+1e-3)+1e-9*scale) {
				t.Errorf("figure %d: %g from %g s, but %g at most", k, v, h.Start, most)
			}
		}
	})
}
