package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestExtremaAgainstDenseEvaluation(t *testing.T) {
	r := seeded(8)
	for n := range 300 {
		c := r.curve(t)
		lo, hi := c.Extrema()
		tol := 1e-12 * (1 + math.Max(math.Abs(lo.V), math.Abs(hi.V)))
		denseLo, denseHi := inf, -inf
		for _, x := range append(dense(c, 500), c.Start(), c.End()) {
			denseLo, denseHi = math.Min(denseLo, c.At(x)), math.Max(denseHi, c.At(x))
		}
		for i := 1; i <= c.Pieces(); i++ {
			t0, _, _ := c.Piece(i - 1)
			denseLo = min(denseLo, c.At(t0), justBefore(c, i))
			denseHi = max(denseHi, c.At(t0), justBefore(c, i))
		}
		require.True(t, lo.V <= denseLo+tol && hi.V >= denseHi-tol, "curve %d: dense values beyond the extrema", n)
		// A grid of 500 misses a smooth extremum by (h/1000)²/2 times the curvature.
		near(t, denseLo, lo.V, 1e-4, "curve %d: lowest", n)
		near(t, denseHi, hi.V, 1e-4, "curve %d: highest", n)
		for _, p := range []struct{ T, V float64 }{lo, hi} {
			taken := math.Abs(c.At(p.T)-p.V) <= tol
			for i := 1; i <= c.Pieces(); i++ {
				_, t1, _ := c.Piece(i - 1)
				taken = taken || t1 == p.T && math.Abs(justBefore(c, i)-p.V) <= tol
			}
			require.True(t, taken, "curve %d does not take %g at %g", n, p.V, p.T)
			require.True(t, p.T >= c.Start() && p.T <= c.End())
		}
		require.Equal(t, lo, c.Min())
		require.Equal(t, hi, c.Max())
		require.Equal(t, math.Max(-lo.V, hi.V), math.Abs(c.AbsMax().V))
	}
}

// Both sides of a jump count, and the first time at which a value is taken.
func TestExtremaAtJumps(t *testing.T) {
	c := curve(t, []float64{0, 1, 2, 3}, []float64{0, 4}, []float64{-3, 5}, []float64{1, 3})
	lo, hi := c.Extrema()
	require.Equal(t, []float64{1, -3, 1, 4}, []float64{lo.T, lo.V, hi.T, hi.V})
	require.Equal(t, 4.0, c.AbsMax().V)

	lo, hi = curve(t, []float64{0, 1, 2}, []float64{5}, []float64{5}).Extrema()
	require.Equal(t, []float64{0, 5, 0, 5}, []float64{lo.T, lo.V, hi.T, hi.V})
	require.Equal(t, -4.0, c.Scale(-1).AbsMax().V)
}

// Where the end of a piece does not follow from its start and its length by
// addition, it is the end all the same.
func TestTimesAtRoundedEnds(t *testing.T) {
	r := seeded(13)
	found := 0
	for found < 20 {
		a, b := r.between(-1, 0), r.between(1, 2)
		if !(a+(b-a) < b) {
			continue
		}
		found++
		c := curve(t, []float64{a, b}, []float64{-1, 1})
		require.Equal(t, b, c.Max().T)
		require.Equal(t, b, c.Positive().End())
		require.Equal(t, b, c.Negative().End())
	}
}

func TestCrossingsAgainstDenseEvaluation(t *testing.T) {
	r := seeded(9)
	for n := range 300 {
		c := r.curve(t)
		level := 0.5 * r.NormFloat64()
		got := c.Crossings(nil, level)
		for i, x := range got {
			require.True(t, x >= c.Start() && x <= c.End() && (i == 0 || x > got[i-1]), "curve %d: %v", n, got)
			on := math.Abs(c.At(x)-level) <= 1e-9
			for i := 1; i <= c.Pieces(); i++ {
				if _, t1, _ := c.Piece(i - 1); t1 == x {
					before := justBefore(c, i) - level
					on = on || math.Abs(before) <= 1e-9 || before*(c.At(x)-level) <= 0
				}
			}
			require.True(t, on, "curve %d is not at %g at %g", n, level, x)
		}
		// Between neighbours on a dense grid an odd number of crossings changes
		// the side, an even number does not.
		grid := dense(c, 200)
		k := 0
		for i := 1; i < len(grid); i++ {
			count := 0
			for k < len(got) && got[k] <= grid[i] {
				if got[k] > grid[i-1] {
					count++
				}
				k++
			}
			flips := (c.At(grid[i-1]) < level) != (c.At(grid[i]) < level)
			require.Equal(t, flips, count%2 == 1, "curve %d between %g and %g: %v", n, grid[i-1], grid[i], got)
		}
	}
}

func TestCrossingsAtBreaks(t *testing.T) {
	// Through 0 at the break 0, where a relative tolerance on time is worth nothing.
	through := curve(t, []float64{-1, 0, 1}, []float64{-1, 1}, []float64{0, 3})
	require.Equal(t, []float64{0}, through.Crossings(nil, 0))
	jump := curve(t, []float64{0, 1, 2}, []float64{-1}, []float64{1})
	require.Equal(t, []float64{1}, jump.Crossings(nil, 0))
	require.Empty(t, jump.Crossings(nil, 2))
	require.Empty(t, jump.Crossings(nil, nan))
	require.Empty(t, jump.Crossings(nil, inf))
	require.Empty(t, jump.Crossings(nil, 1), "a piece that rests on the level")
	touch := curve(t, []float64{0, 2}, []float64{1, -2, 1})
	require.Equal(t, []float64{1}, touch.Crossings(nil, 0))

	dst := make([]float64, 0, 8)
	require.Same(t, &dst[:1][0], &jump.Crossings(dst, 0)[0], "dst has the room")
}

func TestPositiveAndNegativeAgainstDenseEvaluation(t *testing.T) {
	r := seeded(10)
	for n := range 300 {
		c := r.curve(t)
		up, down := c.Positive(), c.Negative()
		for _, x := range append(dense(c, 50), c.Start()) {
			near(t, math.Max(0, c.At(x)), up.At(x), 1e-12*(1+math.Abs(c.At(x))), "curve %d: positive at %g", n, x)
			near(t, math.Min(0, c.At(x)), down.At(x), 1e-12*(1+math.Abs(c.At(x))), "curve %d: negative at %g", n, x)
		}
		require.Equal(t, []float64{c.Start(), c.End(), c.Start(), c.End()}, []float64{up.Start(), up.End(), down.Start(), down.End()})
		near(t, c.Integral(), up.Integral()+down.Integral(), 1e-12*(1+c.RMS()*c.Duration()), "curve %d: parts", n)
		for i := range c.Pieces() {
			t0, _, _ := c.Piece(i)
			near(t, math.Max(0, c.At(t0)), up.At(t0), 1e-12, "curve %d: positive at break %g", n, t0)
		}
	}
}
