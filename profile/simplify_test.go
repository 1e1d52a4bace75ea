package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

func TestSimplifyUndoesCuts(t *testing.T) {
	r := seeded(12)
	for range 100 {
		c := r.curve(t)
		var parts []profile.Curve
		rest := c
		for range 5 {
			var part profile.Curve
			var err error
			part, rest, err = rest.Split(r.between(rest.Start(), rest.End()))
			require.NoError(t, err)
			parts = append(parts, part)
		}
		cut := profile.Concat(append(parts, rest)...)
		require.Equal(t, c.Pieces()+5, cut.Pieces())
		s := cut.Simplify()
		require.Equal(t, c.Pieces(), s.Pieces())
		require.Equal(t, []float64{cut.Start(), cut.End()}, []float64{s.Start(), s.End()})
		for _, x := range dense(c, 5) {
			near(t, c.At(x), s.At(x), 1e-11*(1+math.Abs(c.At(x))), "at %g", x)
		}
	}
}

func TestSimplifyMergesOnlyEqualPieces(t *testing.T) {
	c := curve(t, []float64{0, 1, 2, 3, 4, 5},
		[]float64{1}, []float64{1}, // the same constant
		[]float64{1, 1}, []float64{2, 1}, // one line
		[]float64{3, 1 + 1e-9}) // almost the same line, but not by rounding
	s := c.Simplify()
	require.Equal(t, 3, s.Pieces())
	require.Equal(t, []float64{1, 1, 1, 2, 3, 4 + 1e-9}, s.Sample(nil, []float64{0, 1.5, 2, 3, 4, 5}))
	require.Equal(t, s, s.Simplify())
	require.Equal(t, 5, c.Pieces(), "the curve itself is left alone")
}

// What counts is how far the values come apart within the piece.
func TestSimplifyWeighsByDuration(t *testing.T) {
	short := curve(t, []float64{0, 1, 1.001}, []float64{0, 1}, []float64{1, 1 + 1e-10})
	require.Equal(t, 1, short.Simplify().Pieces())
	long := curve(t, []float64{0, 1, 1001}, []float64{1}, []float64{1, 5e-13})
	require.Equal(t, 2, long.Simplify().Pieces())
}

// Differences too small to count one by one do not add up over many pieces.
func TestSimplifyDoesNotDrift(t *testing.T) {
	const n, step = 100000, 5e-13
	breaks, coefs := []float64{0}, [][]float64{}
	for i := range n {
		breaks = append(breaks, float64(i+1))
		coefs = append(coefs, []float64{1 + step*float64(i)})
	}
	c := curve(t, breaks, coefs...)
	s := c.Simplify()
	require.Less(t, s.Pieces(), n)
	for _, x := range []float64{0.5, n / 3, n - 0.5} {
		near(t, c.At(x), s.At(x), 1.1e-12, "at %g", x)
	}
}
