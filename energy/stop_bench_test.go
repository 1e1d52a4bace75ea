package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// liftCycle goes up and down again, rests in between, with limited jerk.
func liftCycle(tb testing.TB) profile.Motion {
	tb.Helper()
	limits := profile.Limits{Speed: 1, Accel: 5, Jerk: 100}
	var parts []profile.Motion
	for _, ends := range [][2]float64{{0, 0.6}, {0.6, 0}} {
		move, err := profile.Plan(ends[0], ends[1], limits)
		if err != nil {
			tb.Fatal(err)
		}
		wait, err := profile.Dwell(ends[1], 0.1)
		if err != nil {
			tb.Fatal(err)
		}
		parts = append(parts, move.Motion(), wait)
	}
	m, err := profile.Sequence(parts...)
	if err != nil {
		tb.Fatal(err)
	}
	return m
}

func benchmarkWorstStop(b *testing.B, axes ...energy.StoppingAxis) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := energy.WorstStop(axes...); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkWorstStop is exact, of forces that depend on speed alone.
func BenchmarkWorstStop(b *testing.B) {
	benchmarkWorstStop(b, stopping(beltAxis(b), liftCycle(b), 8))
}

// BenchmarkWorstStopJerk searches the cycle.
func BenchmarkWorstStopJerk(b *testing.B) {
	s := stopping(beltAxis(b), liftCycle(b), 8)
	s.Limits.Jerk = 400
	benchmarkWorstStop(b, s)
}

func BenchmarkWorstStopTwoAxes(b *testing.B) {
	s := stopping(beltAxis(b), liftCycle(b), 8)
	other := s
	other.Axis.Load.Incline = math.Pi / 2
	benchmarkWorstStop(b, s, other)
}

func BenchmarkWorstStopCrank(b *testing.B) {
	a := beltAxis(b)
	a.Mechanism = energy.CrankSlider{Radius: 0.08, Rod: 0.3, Efficiency: 0.96}
	benchmarkWorstStop(b, stopping(a, liftCycle(b), 20))
}
