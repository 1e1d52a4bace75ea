package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
)

// beltAxis is an invented horizontal belt axis with one gear stage.
func beltAxis(tb testing.TB) energy.Axis {
	tb.Helper()
	w, err := energy.SinusoidalRMS(0.5, energy.LineToLine(1.2), 25)
	if err != nil {
		tb.Fatal(err)
	}
	return energy.Axis{
		Load:      energy.Load{Mass: 12, Coulomb: 18, Viscous: 6},
		Mechanism: energy.Belt{PitchDiameter: 0.06, Efficiency: 0.96, Inertia: 2e-4, BeltMass: 0.4},
		Stages:    []energy.Stage{{Ratio: 5, Efficiency: 0.95, Inertia: 3e-5, Drag: 0.03}},
		Motor:     energy.Motor{RotorInertia: 6e-5, DragTorque: 0.02, DragPerSpeed: 5e-5, Winding: w},
		Drive:     energy.Drive{Standby: 6, LossPerAmp: 1.5, LossPerAmpSquared: 0.05},
	}
}

func BenchmarkTrace(b *testing.B) { benchmarkTrace(b, beltAxis(b)) }

// liftAxis is a gearless vertical screw, whose torque keeps its sign.
func liftAxis(tb testing.TB) energy.Axis {
	a := beltAxis(tb)
	a.Load.Incline = math.Pi / 2
	a.Mechanism = energy.Screw{Lead: 0.01, Efficiency: 0.9, Inertia: 1e-5, Drag: 0.05}
	a.Stages = nil
	return a
}

func directAxis(tb testing.TB) energy.Axis {
	a := beltAxis(tb)
	a.Mechanism, a.Stages, a.Motor.RotorInertia = energy.Direct{}, nil, 0
	return a
}

func BenchmarkTraceLift(b *testing.B) { benchmarkTrace(b, liftAxis(b)) }

func BenchmarkTraceDirect(b *testing.B) { benchmarkTrace(b, directAxis(b)) }

// BenchmarkTraceCrank turns a crank by half a turn.
func BenchmarkTraceCrank(b *testing.B) {
	a := beltAxis(b)
	a.Mechanism = energy.CrankSlider{Radius: 0.08, Rod: 0.3, Efficiency: 0.96}
	benchmarkTrace(b, a)
}

// BenchmarkTraceForces has a force against position and a spring.
func BenchmarkTraceForces(b *testing.B) {
	a := beltAxis(b)
	a.Load.ExternalByPosition = energy.ForceTable{Position: []float64{0.1, 0.2, 0.4}, Force: []float64{0, 50, 10}}
	a.Load.Counterbalance.Stiffness = 30
	benchmarkTrace(b, a)
}

func benchmarkTrace(b *testing.B, a energy.Axis) {
	b.Helper()
	m := sCurve(b, 0.5, 0.03, 0.07, 0.15)
	tr, err := a.Trace(m)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := a.Trace(m); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(tr.BusPower.Pieces()), "pieces")
}

// BenchmarkTracer is BenchmarkTrace, BenchmarkTraceLift and BenchmarkTraceDirect in memory that
// is there already.
func BenchmarkTracer(b *testing.B) {
	m := sCurve(b, 0.5, 0.03, 0.07, 0.15)
	for _, x := range []struct {
		name string
		axis energy.Axis
	}{{"belt", beltAxis(b)}, {"lift", liftAxis(b)}, {"direct", directAxis(b)}} {
		b.Run(x.name, func(b *testing.B) {
			var t energy.Tracer
			if _, err := t.Trace(x.axis, m); err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := t.Trace(x.axis, m); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
