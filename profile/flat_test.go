package profile_test

import (
	"math"
	"testing"

	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

func TestFromFlat(t *testing.T) {
	breaks, coefs := []float64{1, 2, 4}, []float64{1, 2, 3, 4, 5, 6}
	c, err := profile.FromFlat(breaks, coefs, 3)
	require.NoError(t, err)
	want, err := profile.NewCurve(breaks, [][]float64{{1, 2, 3}, {4, 5, 6}})
	require.NoError(t, err)
	require.Equal(t, want, c)
	_, _, p := c.Piece(0)
	require.Same(t, &coefs[0], &p[0], "no copy")
	require.Equal(t, 1.0, testing.AllocsPerRun(10, func() { _ = mustFlat(t, breaks, coefs, 3).Scale(1) })-
		testing.AllocsPerRun(10, func() { _ = mustFlat(t, breaks, coefs, 3) }), "only Scale allocates")
}

func mustFlat(t *testing.T, breaks, coefs []float64, width int) profile.Curve {
	c, err := profile.FromFlat(breaks, coefs, width)
	require.NoError(t, err)
	return c
}

// TestFromFlatRefuses: what NewCurve refuses, and shapes that do not fit. Magnitudes whose
// quick bound overflows are still told from values that do.
func TestFromFlatRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for name, tc := range map[string]struct {
		breaks, coefs []float64
		width         int
		want          []string
	}{
		"no width":       {[]float64{0, 1}, []float64{1}, 0, []string{"width"}},
		"too wide":       {[]float64{0, 1}, make([]float64, 42), 42, []string{"width"}},
		"no pieces":      {[]float64{0}, nil, 1, []string{"breaks"}},
		"nothing":        {nil, nil, 1, []string{"breaks"}},
		"ragged":         {[]float64{0, 1, 2}, []float64{1, 2, 3}, 2, []string{"breaks"}},
		"one too many":   {[]float64{0, 1}, []float64{1, 2, 3, 4}, 2, []string{"breaks"}},
		"equal breaks":   {[]float64{0, 1, 1}, []float64{1, 2}, 1, []string{"breaks[2]"}},
		"NaN break":      {[]float64{0, nan, 1}, []float64{1, 2}, 1, []string{"breaks[1]"}},
		"infinite break": {[]float64{0, 1, inf}, []float64{1, 2}, 1, []string{"breaks[2]"}},
		"too long":       {[]float64{-1e308, 1e308}, []float64{1}, 1, []string{"breaks[1]"}},
		"NaN":            {[]float64{0, 1}, []float64{1, nan}, 2, []string{"coefs[1]"}},
		"infinite":       {[]float64{0, 1, 2}, []float64{1, 0, -inf, 0}, 2, []string{"coefs[2]"}},
		"overflow":       {[]float64{0, 1, 1e10}, []float64{1, 0, 0, 1e300}, 2, []string{"coefs[2]"}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := profile.FromFlat(tc.breaks, tc.coefs, tc.width)
			var got []string
			for _, e := range profile.InputErrors(err) {
				got = append(got, e.Path)
			}
			require.Equal(t, tc.want, got)
		})
	}
	c := mustFlat(t, []float64{0, 1, 1e10}, []float64{0, 1e300, 1, 1}, 2)
	require.Equal(t, 1+1e10-1, c.At(1e10))
}

// TestFromFlatSeesAll: one coefficient or breakpoint that is no number is found wherever it is.
func TestFromFlatSeesAll(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for i := range 11 {
			breaks, coefs := make([]float64, 12), make([]float64, 11)
			for k := range breaks {
				breaks[k] = float64(k)
			}
			coefs[i] = bad
			_, err := profile.FromFlat(breaks, coefs, 1)
			require.Error(t, err, "coefs[%d] = %g", i, bad)
			coefs[i], breaks[i] = 0, bad
			_, err = profile.FromFlat(breaks, coefs, 1)
			require.Error(t, err, "breaks[%d] = %g", i, bad)
		}
	}
}
