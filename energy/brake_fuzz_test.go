package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
)

// FuzzPowerOff: no panic, and no figure that is not finite or negative without an error.
func FuzzPowerOff(f *testing.F) {
	f.Add(uint8(0), 10., 20., 5., 1.5, 0., 0., 1e-5, 5., 0, 0.05, 0., -0.5)
	f.Add(uint8(1), 10., 20., 5., 0.3, 50., 100., 1e-5, 5., 1, 0., 0.2, 1.)
	f.Add(uint8(2), 10., 0., 0., 0., 0., 0., 0., 50., 1, 0.1, 0., 3.)
	f.Add(uint8(3), 1e12, 1e12, 1e12, 1., -1e12, 1e12, 1e12, 1e12, 1, 1e12, 1e12, -1e12)
	f.Add(uint8(4), 1., 0., 1e12, 0., 0., 1e12, 1e-3, 1e-15, 0, 1e-15, 0.1, 1e-12)
	f.Fuzz(func(t *testing.T, kind uint8, mass, dry, viscous, incline, external, stiffness, rotor, torque float64, shaft int, delay, position, speed float64) {
		w, err := energy.SinusoidalRMS(0.5, energy.LineToLine(1), 25)
		if err != nil {
			t.Fatal(err)
		}
		a := energy.Axis{
			Load: energy.Load{Mass: mass, Coulomb: dry, Viscous: viscous, Incline: incline, External: external,
				Counterbalance: energy.Counterbalance{Stiffness: stiffness}},
			Motor: energy.Motor{RotorInertia: rotor, DragTorque: 0.01, DragPerSpeedSquared: 1e-7, Winding: w},
		}
		switch kind % 5 {
		case 0:
			a.Mechanism = energy.Screw{Lead: 0.01, Efficiency: 0.9}
		case 1:
			a.Mechanism = energy.RackPinion{PitchDiameter: 0.1, Efficiency: 0.9}
			a.Stages = []energy.Stage{{Ratio: 5, Efficiency: 0.4, Inertia: 1e-5}}
		case 2:
			a.Mechanism = energy.HoistDrum{Diameter: 0.2, Falls: 2, Efficiency: 0.9}
		case 3:
			a.Mechanism = energy.Direct{}
		case 4:
			a.Mechanism = energy.CrankSlider{Radius: 0.1, Rod: 0.3, Efficiency: 0.9}
		}
		c, err := a.PowerOff(position, speed, &energy.HoldingBrake{Torque: torque, Shaft: shaft, Delay: delay})
		if err != nil {
			return
		}
		for _, v := range []float64{c.Duration, c.Forward, c.Backward, c.PeakSpeed, c.Heat, c.PeakPower, c.Angle, c.Kinetic, c.Offered} {
			if !(v >= 0 && !math.IsInf(v, 0)) {
				t.Fatalf("%+v", c)
			}
		}
		if math.IsNaN(c.Travel + c.Free) {
			t.Fatalf("%+v", c)
		}
	})
}
