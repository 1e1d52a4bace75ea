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
	f.Add(uint8(1), 0.5, 1., 2., 0., -3., 0.1, 1., 1., 51., 0., 64., 1., 1., 0., 0., 0., 0., 8., 1., 1., 1e-9, 1e-13, 1./3, 31.)
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
		// A huge flywheel that hardly changes its speed leaves the rounding of its energy.
		start, end := m.Start(), m.End()
		r := ratio
		switch kind % 3 {
		case 0:
			r *= 2 * math.Pi / size
		case 1:
			r *= 2 / size
		}
		flywheel := (mass + (2*inertia+rotor)*math.Max(r*r, math.Max(1, r*r/ratio/ratio))) * (start.Speed*start.Speed + end.Speed*end.Speed)
		height := mass * energy.StandardGravity * (math.Abs(start.Position) + math.Abs(end.Position))
		if !(math.Abs(b.Residual) <= 1e-9*b.Throughput()+1e-14*(flywheel+height)) {
			t.Fatalf("residual %g of %g J: %+v", b.Residual, b.Throughput(), b)
		}
	})
}

// FuzzWinding: a winding is refused with input errors or has usable constants at any
// copper temperature it accepts.
func FuzzWinding(f *testing.F) {
	f.Add(uint8(0), uint8(0), 0.5, 1.2, 25., 120.)
	f.Add(uint8(2), uint8(2), 1e-15, 1e12, -100., 300.)
	f.Fuzz(func(t *testing.T, kind, copper uint8, kt, value, from, to float64) {
		c := [...]func(float64) energy.Copper{energy.LineToLine, energy.PerPhase, energy.MotorConstant}[copper%3](value)
		w, err := [...]func(float64, energy.Copper, float64) (energy.Winding, error){
			energy.SinusoidalRMS, energy.SinusoidalPeak, energy.DirectCurrent}[kind%3](kt, c, from)
		if err == nil {
			w, err = w.At(to)
		}
		if err != nil {
			if len(profile.InputErrors(err)) == 0 {
				t.Fatal(err)
			}
			return
		}
		for _, v := range []float64{w.Km(), w.Kt()} {
			if !(v > 0) || math.IsInf(v, 0) {
				t.Fatalf("%+v", w)
			}
		}
	})
}

// FuzzThread: a thread is refused with input errors or its efficiencies make a screw.
func FuzzThread(f *testing.F) {
	f.Add(0.008, 0.03, 0., 0.08, 0.04, 0.08)
	f.Add(0.004, 0.018, 0.26, 0.12, 0., 0.)
	f.Add(1e12, 1e-15, 1.57, 1e12, 1e12, 1e12)
	f.Fuzz(func(t *testing.T, lead, diameter, flank, friction, collar, collarFriction float64) {
		forward, back, err := energy.Thread{lead, diameter, flank, friction, collar, collarFriction}.Efficiency()
		if err != nil {
			if len(profile.InputErrors(err)) == 0 {
				t.Fatal(err)
			}
			return
		}
		if err := (energy.Screw{Lead: lead, Efficiency: forward, BackEfficiency: back}).Validate(); err != nil {
			t.Fatal(err)
		}
	})
}

// FuzzLog: a log is refused with input errors or has finite power.
func FuzzLog(f *testing.F) {
	f.Add(0., 1., 2., 1., -1., 3., 10., 0., -5., 2.)
	f.Add(0., 1e-300, 2., 1e300, -1e300, 3., 1e300, 0., -5., 1e12)
	f.Fuzz(func(t *testing.T, t0, t1, t2, m0, m1, m2, w0, w1, w2, ratio float64) {
		p, err := energy.Log{[]float64{t0, t1, t2}, []float64{m0, m1, m2}, []float64{w0, w1, w2}, ratio}.Power()
		if err != nil {
			if len(profile.InputErrors(err)) == 0 {
				t.Fatal(err)
			}
			return
		}
		for _, v := range []float64{p.Min().V, p.Max().V} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("power %g", v)
			}
		}
	})
}
