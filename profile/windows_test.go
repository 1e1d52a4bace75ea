package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// By hand. A ramp from 0 to 100 in 1 s and one back in 1 s: the best second is from 0.5 to
// 1.5 s and holds 75, the best half second 43.75 from 0.75 s on; a cycle holds 100. Across
// the seam of a cycle of 10 in the first and last 4 ms of 100 ms a window of 8 ms holds 0.08.
func TestWindows(t *testing.T) {
	w, err := profile.NewWindows(curve(t, []float64{5, 6, 7}, []float64{0, 100}, []float64{100, -100}))
	require.NoError(t, err)
	for _, x := range []struct{ length, sum, start float64 }{
		{1, 75, 0.5}, {0.5, 43.75, 0.75}, {2, 100, 0}, {3, 175, 0.5}, {6, 300, 0}, {4.5, 243.75, 0.75},
	} {
		sum, start, err := w.Most(x.length)
		require.NoError(t, err)
		require.InDelta(t, x.sum, sum, 1e-9)
		require.InDelta(t, x.start, start, 1e-6, "length %g", x.length)
	}
	seam, err := profile.NewWindows(curve(t, []float64{10, 10.004, 10.096, 10.1}, []float64{10}, []float64{0}, []float64{10}))
	require.NoError(t, err)
	sum, start, err := seam.Most(0.008)
	require.NoError(t, err)
	require.InDelta(t, 0.08, sum, 1e-12)
	require.InDelta(t, 0.096, start, 1e-9)
	for _, length := range []float64{math.NaN(), math.Inf(1), 0, -1, math.MaxFloat64} {
		sum, _, err := seam.Most(length)
		if length == math.MaxFloat64 {
			require.Condition(t, func() bool { return err != nil || sum <= math.MaxFloat64 })
			continue
		}
		require.Equal(t, "length", profile.InputErrors(err)[0].Path)
	}
	_, err = profile.NewWindows(profile.Curve{})
	require.Equal(t, "curve", profile.InputErrors(err)[0].Path)
}
