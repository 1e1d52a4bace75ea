package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// FuzzLoads: whatever the numbers, a load with all its forces on any mechanism is refused with
// input errors or gives finite curves, a book that closes, and a recovery that only shrinks.
func FuzzLoads(f *testing.F) {
	f.Add(uint8(0), 10., 0.1, 0.5, 0.02, 4, 5., 1., 3., 2., 20., 0.5, 0.1, 50., 0.2, 100., 0.3, 30., 40., 100., 1., 0.1, 50., 0.1, -50., 0.2)
	f.Add(uint8(1), 10., 0.1, 0.5, 0.02, 4, 5., 1., 3., 2., 20., 0.5, 0.1, 50., 0.1, 100., 0.3, 30., 40., 100., 1., 0.1, 50., 0.1, -50., 0.2)
	f.Add(uint8(2), 10., 0.1, 0.5, 0.02, 4, 5., 1., 3., 2., 0., 0.5, 0.1, 50., 0.2, 100., 0., 0., 0., 0., 0., 0.1, -5., 0.1, 5., 0.)
	f.Add(uint8(3), 10., 0.1, 0.5, 0.02, 4, 5., 1., 3., 2., 20., 0.5, 0.1, 50., 0.2, 100., 0.3, 30., 40., 100., 1., 0.1, 50., 0.1, -50., 20.)
	f.Add(uint8(4), 10., 0.1, 0.5, 0.02, 4, 5., 1., 3., 2., 20., 0.5, 0.1, 50., 0.2, 100., 0.3, 30., 40., 100., 1., 0.1, 50., 0.1, -50., 0.2)
	f.Add(uint8(3), 1e12, 1e12, 1e12, 1e12, 64, 1e12, 1e12, 1e12, 1e12, 1e12, -1e12, 0., 1e12, 1e-9, -1e12, 1e12, 1e6, 1e12, 1e12, 1e12, 1., 1e3, 1., -1e3, 1.)
	f.Add(uint8(3), 1., 1e-15, 1., 0., 1, 0., 0., 0., 0., 0., 0., 0., 0., 1e-15, 1., 0., 0., 0., 0., 0., 1e-13, 1e9, 1e-13, -1e9, 1e3)
	f.Fuzz(func(t *testing.T, kind uint8, mass, size, rod, offset float64, count int, dryPlus, viscousPlus, dryMinus, viscousMinus, breakaway,
		x0, f0, f1, dx, f2, weight, stiffness, relaxed, constant, timed, d1, j1, d2, j2, v0 float64) {
		w, err := energy.SinusoidalRMS(0.5, energy.LineToLine(1), 25)
		if err != nil {
			t.Fatal(err)
		}
		a := energy.Axis{
			Load: energy.Load{Mass: mass, Plus: energy.Friction{Coulomb: dryPlus, Viscous: viscousPlus},
				Minus: energy.Friction{Coulomb: dryMinus, Viscous: viscousMinus}, Breakaway: breakaway,
				ExternalByPosition: energy.ForceTable{Position: []float64{x0, x0, x0 + dx}, Force: []float64{f0, f1, f2}},
				Counterbalance:     energy.Counterbalance{Mass: weight, Ratio: 0.5, Stiffness: stiffness, Relaxed: relaxed, Force: constant}},
			Motor: energy.Motor{DragTorque: 0.01, DragPerSpeedSquared: 1e-7, Winding: w},
			Drive: energy.Drive{Standby: 1, LossPerAmp: 1},
		}
		switch kind % 5 {
		case 0:
			a.Mechanism = energy.RackPinion{PitchDiameter: size, Efficiency: 0.9}
		case 1:
			a.Mechanism = energy.RollerConveyor{Diameter: size, Driven: count, Idle: 1, RollerInertia: 1e-5, RollerDrag: 0.01}
		case 2:
			a.Mechanism = energy.HoistDrum{Diameter: size, Falls: count, Efficiency: 0.9}
		case 3:
			a.Mechanism = energy.CrankSlider{Radius: size, Rod: rod, Offset: offset, Efficiency: 0.9, Drag: 0.1}
		case 4:
			a.Mechanism = energy.Direct{}
		}
		x1, v1, a1 := v0*d1+j1*d1*d1*d1/6, v0+j1*d1*d1/2, j1*d1
		curve, err := profile.NewCurve([]float64{0, d1, d1 + d2}, [][]float64{{0, v0, 0, j1 / 6}, {x1, v1, a1 / 2, j2 / 6}})
		if err != nil {
			return
		}
		m, err := profile.NewMotion(curve)
		if err != nil {
			return
		}
		if force, err := profile.NewCurve([]float64{d1 / 2, d1 + d2/2}, [][]float64{{timed, timed, -timed}}); err == nil {
			a.Load.ExternalByTime = force
		}
		h, err := a.Holding(x0, d1)
		if err != nil && len(profile.InputErrors(err)) == 0 {
			t.Fatal(err)
		}
		if err == nil && !(h.BreakMinus <= h.Least+1e-9*math.Abs(h.Least) && h.Least <= h.BreakPlus+1e-9*math.Abs(h.Least)) {
			t.Fatalf("%+v", h)
		}
		begun, err := a.Starts(m)
		if err != nil && len(profile.InputErrors(err)) == 0 {
			t.Fatal(err)
		}
		for _, s := range begun {
			if v := s.Torque + s.RatedTorque + s.Time + s.Position + s.Accel; math.IsNaN(v) || math.IsInf(v, 0) || math.Abs(s.Direction) != 1 {
				t.Fatalf("%+v", s)
			}
		}
		tr, err := a.Trace(m)
		if err != nil {
			if len(profile.InputErrors(err)) == 0 || tr.Speed.Pieces() != 0 {
				t.Fatalf("error %v with result %v", err, tr)
			}
			return
		}
		b := tr.Book
		for _, v := range []float64{b.Throughput(), b.Residual, b.Recovery.Offered, b.Recovery.Generated, b.Recovery.Burned,
			b.ReturnedShare(), b.BurnedShare(), tr.Torque.AbsMax().V, tr.BusPower.AbsMax().V, tr.CopperLoss.AbsMax().V} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("not finite: %+v", tr)
			}
		}
		if tr.BusPower.Start() != 0 || tr.BusPower.End() != m.Duration() {
			t.Fatalf("curve from %g s to %g s of a motion of %g s", tr.BusPower.Start(), tr.BusPower.End(), m.Duration())
		}
	})
}
