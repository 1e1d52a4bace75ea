package profile_test

import (
	"testing"

	"example.com/headroom/profile"
)

// Sinks keep the compiler from dropping the measured calls.
var (
	sinkMove   profile.Move
	sinkState  profile.State
	sinkMotion profile.Motion
	sinkFloat  float64
)

// hotLimits reach every limit over 1 m: seven segments.
var hotLimits = profile.Limits{Speed: 1.2, Accel: 6, Decel: 4, Jerk: 80, DecelJerk: 50}

func hotMove(tb testing.TB) profile.Move {
	tb.Helper()
	m, err := profile.Plan(0, 1, hotLimits)
	if err != nil {
		tb.Fatal(err)
	}
	return m
}

// hotCalls are the calls of which a control loop or a search makes very many.
var hotCalls = []struct {
	name   string
	allocs float64
	call   func(tb testing.TB) func()
}{
	{"PlanSCurve", 0, func(testing.TB) func() {
		return func() { sinkMove, _ = profile.Plan(0, 1, hotLimits) }
	}},
	{"PlanMixed", 0, func(testing.TB) func() {
		lim := profile.Limits{Speed: 5, Accel: 2, Decel: 20, Jerk: 80, DecelJerk: 50}
		return func() { sinkMove, _ = profile.Plan(0, 1, lim) }
	}},
	{"MoveAt", 0, func(tb testing.TB) func() {
		m, t := hotMove(tb), 0.0
		return func() { t = next(t, m.Duration()); sinkState = m.At(t) }
	}},
	{"CurveAt", 0, func(tb testing.TB) func() {
		c, t := hotMove(tb).Motion().Position(), 0.0
		return func() { t = next(t, c.End()); sinkFloat = c.At(t) }
	}},
	{"Motion", 1, func(tb testing.TB) func() {
		m := hotMove(tb)
		return func() { sinkMotion = m.Motion() }
	}},
}

// next walks through [0, end] in uneven steps.
func next(t, end float64) float64 {
	t += 0.0137
	if t > end {
		t -= end
	}
	return t
}

func TestHotCallsAllocateNoMore(t *testing.T) {
	for _, h := range hotCalls {
		if got := testing.AllocsPerRun(100, h.call(t)); got != h.allocs {
			t.Errorf("%s allocates %v times per call, want %v", h.name, got, h.allocs)
		}
	}
}

func BenchmarkPlanSCurve(b *testing.B) { bench(b, "PlanSCurve") }
func BenchmarkPlanMixed(b *testing.B)  { bench(b, "PlanMixed") }
func BenchmarkMoveAt(b *testing.B)     { bench(b, "MoveAt") }
func BenchmarkCurveAt(b *testing.B)    { bench(b, "CurveAt") }
func BenchmarkMotion(b *testing.B)     { bench(b, "Motion") }

func bench(b *testing.B, name string) {
	for _, h := range hotCalls {
		if h.name == name {
			call := h.call(b)
			b.ReportAllocs()
			for b.Loop() {
				call()
			}
			return
		}
	}
	b.Fatalf("no hot call named %s", name)
}
