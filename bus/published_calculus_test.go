package bus_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// deviations returns how far an arrival curve lies above a service curve at most, the
// backlog, and before it, the delay: how long after α has come to a level β passes it.
func deviations(t *testing.T, alpha, beta profile.Curve) (backlog, delay float64) {
	t.Helper()
	over, err := profile.Sum(alpha, beta.Scale(-1))
	require.NoError(t, err)
	_, hi := over.Extrema()
	for k := range 2001 {
		at := alpha.End() / 2 * float64(k) / 2000
		level := alpha.At(at)
		passed := beta.Crossings(nil, level*(1+1e-9)+1e-12)
		require.NotEmpty(t, passed)
		delay = math.Max(delay, passed[0]-at)
	}
	return hi.V, delay
}

// Backlogs and delays of network calculus, for which curves of energy need nothing but
// their algebra. α = b + r t behind R (t-T)+ : b + r T and T + b/R (Le Boudec and Thiran,
// Network Calculus, LNCS 2050, theorems 1.4.1 and 1.4.2, FROM MEMORY); min(M + p t, b +
// r t), which changes rate after θ = (b-M)/(p-r) <= T: b + r T and (M + θ (p-R))/R + T
// (chapter 1 of the same on variable rates, FROM MEMORY). Numbers of the first and those of the service curve that is not convex, min(3 t, 3 (t-4)+ + 3): the
// test suite of a network calculus library of the University of Pisa, CurveDeviations
// (LOOKED UP).
func TestPublishedDeviations(t *testing.T) {
	const end = 40
	line := func(at0, slope float64) profile.Curve { return curve(t, []float64{0, end}, []float64{at0, slope}) }
	latency := func(rate, pause float64) profile.Curve {
		return curve(t, []float64{0, pause, end}, []float64{0}, []float64{0, rate})
	}
	shelf := curve(t, []float64{0, 1, 4, end}, []float64{0, 3}, []float64{3}, []float64{3, 3})
	for _, tc := range []struct {
		name           string
		alpha, beta    profile.Curve
		backlog, delay float64
	}{
		{"token bucket", line(4, 3), latency(4, 3), 13, 4},
		{"not convex, 1 + t", line(1, 1), shelf, 2, 2},
		{"not convex, 1 + 2t", line(1, 2), shelf, 6, 3},
		{"variable rate", curve(t, []float64{0, 2, end}, []float64{1, 4}, []float64{9, 1}), latency(2, 3), 10, 5.5},
	} {
		backlog, delay := deviations(t, tc.alpha, tc.beta)
		near(t, tc.backlog, backlog, 1e-12, tc.name+": backlog")
		near(t, tc.delay, delay, 1e-6, tc.name+": delay")
	}
}

// A supply is not a server that has given 3 t by t = 1 and 3 by t = 4, whatever was asked
// of it before: what it could have given to a full bank is lost. So the station that
// takes its 3 W for 3 s may do so when the others begin to draw, and the backlog behind
// it is 1 + r 3 J, 4 J and 7 J, where the service curve above leaves 2 J and 6 J.
func TestPauseOfASupplyIsAtItsWorst(t *testing.T) {
	const long = 1e4
	for _, rate := range []float64{1, 2} {
		loads := []profile.Curve{burst(t, 1, rate, long), steps(t, []float64{0, 3, long}, 3, 0)}
		lower, upper, length, swing, err := bus.WorstBacklog(loads, 3, 0)
		require.NoError(t, err)
		near(t, 1+3*rate, lower, bus.BacklogTolerance*swing, "backlog")
		near(t, 1+3*rate, upper, bus.BacklogTolerance*swing, "bound on it")
		near(t, 3, length, 1e-2, "window")
	}
}

// Own figures, no outside source: 300 J every second and 200 J every 0.7 s, drained at
// 600 W after a pause of 0.1 s. Windows of 0.1 s hold no more than one burst of each: the
// exact staircase leaves 500 J. The affine arrival curve b + r t, with b = 500 J and r =
// 585.7 W, would leave b + r T = 558.57 J. Without pause 3000 random pairs of phases
// come to 499.98 J and never pass 500 J.
func TestStaircaseAndAffine(t *testing.T) {
	const drain, pause = 600, 0.1
	loads := []profile.Curve{burst(t, 300, 0, 1), burst(t, 200, 0, 0.7), steps(t, []float64{0, pause, 1e4}, drain, 0)}
	lower, upper, _, swing, err := bus.WorstBacklog(loads, drain, 0)
	require.NoError(t, err)
	near(t, 500, lower, bus.BacklogTolerance*swing, "staircase")
	near(t, 500, upper, bus.BacklogTolerance*swing, "bound on it")
	affine := 0.0
	for _, l := range loads[:2] {
		_, _, _, rate, b, err := bus.WorstOf(bus.Cycle{Power: l, Repeats: bus.Strictly}, 0, pause)
		require.NoError(t, err)
		affine += b + rate*pause
	}
	near(t, 558.57, affine, 5e-3, "affine") // pulses of a microsecond hold 0.6 mJ less
	assert.Greater(t, affine, upper)

	r := rand.New(rand.NewPCG(51, 52))
	most := 0.0
	for range 3000 {
		next := [2]float64{r.Float64(), 0.7 * r.Float64()}
		full, last := 0.0, 0.0
		for range 40 {
			k := 0
			if next[1] < next[0] {
				k = 1
			}
			full = math.Max(0, full-drain*(next[k]-last)) + []float64{300, 200}[k]
			last = next[k]
			next[k] += []float64{1, 0.7}[k]
			most = math.Max(most, full)
		}
	}
	assert.LessOrEqual(t, most, 500.0)
	assert.Greater(t, most, 499.5)
}
