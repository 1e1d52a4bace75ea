package profile_test

import (
	"testing"

	"example.com/headroom/profile"
)

var sinkMoves []profile.Move

// lawCalls are calls of which a search over times and shapes makes many.
var lawCalls = []struct {
	name   string
	allocs float64
	call   func(tb testing.TB) func()
}{
	{"SharesLaw", 12, func(tb testing.TB) func() {
		s := profile.Shares{Accel: 0.3, Decel: 0.4, AccelRounding: 0.5, DecelRounding: 0.2}
		return func() {
			l, _ := s.Law()
			sinkFloat = l.Factors().Speed
		}
	}},
	{"LawShortest", 0, func(tb testing.TB) func() {
		l := profile.Polynomial345()
		return func() { sinkFloat, _ = l.Shortest(1, hotLimits) }
	}},
	{"StretchMove", 0, func(tb testing.TB) func() {
		m := hotMove(tb)
		return func() { sinkMove, _ = m.Stretch(2) }
	}},
	{"Synchronise", 0, func(tb testing.TB) func() {
		moves := []profile.Move{hotMove(tb), must[profile.Move](tb)(hotMove(tb).Stretch(2)), hotMove(tb)}
		return func() { sinkMoves, _ = profile.Synchronise(sinkMoves, moves) }
	}},
	{"Line", 0, func(tb testing.TB) func() {
		from, to := []float64{0, 0, 0}, []float64{1, -0.5, 0.2}
		axes := []profile.Limits{hotLimits, hotLimits, hotLimits}
		return func() { sinkMoves, _ = profile.Line(sinkMoves, from, to, axes, profile.Limits{}) }
	}},
}

func TestLawCallsAllocateNoMore(t *testing.T) {
	for _, c := range lawCalls {
		if got := testing.AllocsPerRun(100, c.call(t)); got > c.allocs {
			t.Errorf("%s allocates %v times per call, want %v", c.name, got, c.allocs)
		}
	}
}

func BenchmarkLaws(b *testing.B) {
	for _, c := range lawCalls {
		b.Run(c.name, func(b *testing.B) {
			call := c.call(b)
			b.ReportAllocs()
			for b.Loop() {
				call()
			}
		})
	}
	for _, l := range []struct {
		name string
		law  profile.Law
	}{
		{"LeastLoss", profile.LeastLoss()}, {"Polynomial4567", profile.Polynomial4567()}, {"Cycloidal", profile.Cycloidal()},
		{"Shares", lawOf(b, profile.Shares{Accel: 0.3, Decel: 0.4, AccelRounding: 0.5, DecelRounding: 0.2})},
	} {
		b.Run("Motion"+l.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				sinkMotion, _ = l.law.Motion(0, 1, 2)
			}
		})
	}
	b.Run("StretchMotion", func(b *testing.B) {
		m := hotMove(b).Motion()
		b.ReportAllocs()
		for b.Loop() {
			sinkMotion, _ = m.Stretch(2)
		}
	})
}
