package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// FuzzTrace: whatever the numbers, an axis is refused with input errors or gives
// finite curves and a book that closes.
func FuzzTrace(f *testing.F) {
	f.Add(uint8(0), 10., 20., 1., 1.5, 0., 0.01, 0.9, 0., 1e-5, 0.05, 5., 0.95, 0.5, 2e-5, 0.02, 1e-4, 1e-7, 2., 0.05, 0.1, 50., 0.1, -50., 0.)
	f.Add(uint8(1), 3., 0., 0., -0.5, 30., 0.05, 0.4, -0.5, 0., 0., 0.2, 0.3, 0., 0., 0., 0., 1e-3, 0., 0., 0.3, -9., 0.2, 80., 1.)
	f.Add(uint8(2), 0.5, 1., 2., 0., -3., 0.1, 1., 1., 0., 0., 1., 1., 1., 0., 0., 0., 0., 1., 1., 1., 1e-9, 1e-13, 3., -1.)
	f.Add(uint8(0), 1e12, 1e12, 1e12, 1.5, 1e12, 1e-15, 1e-15, -1e12, 1e12, 1e12, 1e12, 1e-15, -1e12, 1e12, 1e12, 1e12, 1e12, 1e12, 1e12, 1e3, 1e9, 1e3, -1e9, 1e9)
	f.Fuzz(func(t *testing.T, kind uint8, mass, coulomb, viscous, incline, external, size, ef, eb, inertia, drag,
		ratio, stageEf, stageEb, rotor, c0, c1, c2, perAmp, perAmp2, d1, j1, d2, j2, v0 float64) {
		w, err := energy.SinusoidalRMS(0.5, energy.LineToLine(1), 25)
		if err != nil {
			t.Fatal(err)
		}
		a := energy.Axis{
			Load:   energy.Load{Mass: mass, Coulomb: coulomb, Viscous: viscous, Incline: incline, External: external},
			Stages: []energy.Stage{{Ratio: ratio, Efficiency: stageEf, BackEfficiency: stageEb, Inertia: inertia, Drag: drag}},
			Motor:  energy.Motor{RotorInertia: rotor, DragTorque: c0, DragPerSpeed: c1, DragPerSpeedSquared: c2, Winding: w},
			Drive:  energy.Drive{Standby: 1, LossPerAmp: perAmp, LossPerAmpSquared: perAmp2},
		}
		switch kind % 3 {
		case 0:
			a.Mechanism = energy.Screw{Lead: size, Efficiency: ef, BackEfficiency: eb, Inertia: inertia, Drag: drag}
		case 1:
			a.Mechanism = energy.Belt{PitchDiameter: size, Efficiency: ef, BackEfficiency: eb, Inertia: inertia, Drag: drag}
		case 2:
			a.Load = energy.Load{Inertia: mass, Coulomb: coulomb, Viscous: viscous, External: external}
			a.Mechanism = energy.Rotary{Efficiency: ef, BackEfficiency: eb, Inertia: inertia, Drag: drag}
		}
		x1, v1, a1 := v0*d1+j1*d1*d1*d1/6, v0+j1*d1*d1/2, j1*d1
		curve, err := profile.NewCurve([]float64{0, d1, d1 + d2},
			[][]float64{{0, v0, 0, j1 / 6}, {x1, v1, a1 / 2, j2 / 6}})
		if err != nil {
			return
		}
		m, err := profile.NewMotion(curve)
		if err != nil {
			return
		}
		tr, err := a.Trace(m)
		if err != nil {
			if len(profile.InputErrors(err)) == 0 || tr.Speed.Pieces() != 0 {
				t.Fatalf("error %v with result %v", err, tr)
			}
			return
		}
		b := tr.Book
		for _, v := range []float64{b.Drawn, b.Returned, b.LoadWork, b.Kinetic, b.Potential, b.LoadFriction, b.Transmission,
			b.MotorDrag, b.Copper, b.Drive, b.Standby, b.Residual, b.Throughput(),
			tr.Speed.AbsMax().V, tr.Torque.AbsMax().V, tr.RatedTorque.AbsMax().V,
			tr.ShaftPower.AbsMax().V, tr.CopperLoss.AbsMax().V, tr.BusPower.AbsMax().V} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("not finite: %+v", tr)
			}
		}
		if tr.BusPower.Start() != 0 || tr.BusPower.End() != m.Duration() {
			t.Fatalf("curve from %g s to %g s of a motion of %g s", tr.BusPower.Start(), tr.BusPower.End(), m.Duration())
		}
		if !(math.Abs(b.Residual) <= 1e-9*b.Throughput()) {
			t.Fatalf("residual %g of %g J: %+v", b.Residual, b.Throughput(), b)
		}
	})
}
