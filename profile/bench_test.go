package profile_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// Sinks keep the compiler from dropping the measured calls.
var (
	sinkMove   profile.Move
	sinkState  profile.State
	sinkMotion profile.Motion
	sinkFloat  float64
)

var (
	// hotLimits reach every limit over 1 m: seven segments.
	hotLimits = profile.Limits{Speed: 1.2, Accel: 6, Decel: 4, Jerk: 80, DecelJerk: 50}
	// mixedLimits reach one acceleration only over 1 m, the one case that iterates.
	mixedLimits = profile.Limits{Speed: 5, Accel: 2, Decel: 20, Jerk: 80, DecelJerk: 50}
)

func hotMove(tb testing.TB) profile.Move {
	m, err := profile.Plan(0, 1, hotLimits)
	require.NoError(tb, err)
	return m
}

// TestHotCallsDoNotAllocate is the twin of the benchmarks below.
func TestHotCallsDoNotAllocate(t *testing.T) {
	m := hotMove(t)
	c := m.Motion().Position()
	require.Equal(t, 7, c.Pieces())
	for _, h := range []struct {
		name string
		call func()
		want float64
	}{
		{"Plan", func() { sinkMove, _ = profile.Plan(0, 1, hotLimits) }, 0},
		{"Plan, mixed", func() { sinkMove, _ = profile.Plan(0, 1, mixedLimits) }, 0},
		{"Move.At", func() { sinkState = m.At(0.4) }, 0},
		{"Curve.At", func() { sinkFloat = c.At(0.4) }, 0},
		{"Motion", func() { sinkMotion = m.Motion() }, 1},
	} {
		if got := testing.AllocsPerRun(100, h.call); got != h.want {
			t.Errorf("%s allocates %v times per call, want %v", h.name, got, h.want)
		}
	}
}

func BenchmarkPlanSCurve(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		sinkMove, _ = profile.Plan(0, 1, hotLimits)
	}
}

func BenchmarkPlanMixed(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		sinkMove, _ = profile.Plan(0, 1, mixedLimits)
	}
}

func BenchmarkMotion(b *testing.B) {
	m := hotMove(b)
	b.ReportAllocs()
	for b.Loop() {
		sinkMotion = m.Motion()
	}
}

// instants returns uneven times over [0, end], a power of two of them.
func instants(end float64) []float64 {
	out, t := make([]float64, 256), 0.0
	for i := range out {
		if t += 0.0137; t > end {
			t -= end
		}
		out[i] = t
	}
	return out
}

func BenchmarkMoveAt(b *testing.B) {
	m := hotMove(b)
	at, i := instants(m.Duration()), 0
	b.ReportAllocs()
	for b.Loop() {
		sinkState = m.At(at[i&255])
		i++
	}
}

func BenchmarkCurveAt(b *testing.B) {
	c := hotMove(b).Motion().Position()
	at, i := instants(c.End()), 0
	b.ReportAllocs()
	for b.Loop() {
		sinkFloat = c.At(at[i&255])
		i++
	}
}

// A curve of 1400 pieces, evaluated 4 times in each: by search, and in passing.
func longCurve(b *testing.B) (c profile.Curve, at []float64) {
	c = hotMove(b).Motion().Position().Repeat(200)
	return c, dense(c, 4)
}

func BenchmarkLongCurveAt(b *testing.B) {
	c, at := longCurve(b)
	i := 0
	b.ReportAllocs()
	for b.Loop() {
		sinkFloat = c.At(at[i%len(at)])
		i++
	}
}

func BenchmarkLongCurveCursor(b *testing.B) {
	c, at := longCurve(b)
	k, i := c.Cursor(), 0
	b.ReportAllocs()
	for b.Loop() {
		sinkFloat = k.At(at[i%len(at)])
		i++
	}
}
