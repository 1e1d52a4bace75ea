package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

var (
	nan = math.NaN()
	inf = math.Inf(1)
)

func TestCurveAt(t *testing.T) {
	// 1 + 2s on [1, 3), then 7 - s² on [3, 4]; it jumps from 5 to 7.
	c := curve(t, []float64{1, 3, 4}, []float64{1, 2}, []float64{7, 0, -1})
	for _, tc := range []struct{ t, want float64 }{
		{-inf, 1}, {0, 1}, {1, 1}, {2, 3}, {math.Nextafter(3, 0), 5}, {3, 7}, {3.5, 6.75}, {4, 6}, {9, 6}, {inf, 6}, {nan, 1},
	} {
		near(t, tc.want, c.At(tc.t), 1e-14, "At(%g)", tc.t)
	}
	require.Equal(t, 2, c.Pieces())
	require.Equal(t, []float64{1, 4, 3}, []float64{c.Start(), c.End(), c.Duration()})

	t0, t1, p := c.Piece(1)
	require.Equal(t, []float64{3, 4}, []float64{t0, t1})
	require.Equal(t, []float64{7, 0, -1}, p)
	for _, i := range []int{-1, 2, math.MaxInt, math.MinInt} {
		t0, t1, p = c.Piece(i)
		require.Zero(t, t0)
		require.Zero(t, t1)
		require.Nil(t, p)
	}
}

// Each piece is evaluated term by term, over curves on both sides of the number
// of pieces at which the search for a piece changes.
func TestCurveAtFindsThePiece(t *testing.T) {
	r := seeded(1)
	for n := 1; n <= 40; n++ {
		c := r.over(t, r.breaks(n), 5)
		for i := range n {
			t0, t1, p := c.Piece(i)
			for _, x := range []float64{t0, t0 + 0.3*(t1-t0), math.Nextafter(t1, t0)} {
				want, scale := 0.0, 0.0
				for k, a := range p {
					term := a * math.Pow(x-t0, float64(k))
					want += term
					scale += math.Abs(term)
				}
				near(t, want, c.At(x), 1e-14*scale, "piece %d of %d at %g", i, n, x)
			}
		}
	}
}

func TestSamplesPassThroughThePoints(t *testing.T) {
	x, y := []float64{0, 0.1, 0.4, 2}, []float64{3, -1, -1, 8}
	c := must[profile.Curve](t)(profile.Samples(x, y))
	for i := range x {
		near(t, y[i], c.At(x[i]), 1e-14, "point %d", i)
	}
	near(t, 1, c.At(0.05), 1e-14, "half-way")
	near(t, 3.5, c.At(1.2), 1e-14, "half-way")
}

func TestConstant(t *testing.T) {
	c := must[profile.Curve](t)(profile.Constant(-2.5, 1, 4))
	require.Equal(t, -2.5, c.At(2))
	require.Equal(t, 3.0, c.Duration())
}

func TestZeroCurve(t *testing.T) {
	var c profile.Curve
	for name, v := range map[string]float64{
		"At": c.At(1), "Start": c.Start(), "End": c.End(), "Duration": c.Duration(), "Integral": c.Integral(),
		"IntegralBetween": c.IntegralBetween(-1, 1), "Mean": c.Mean(), "RMS": c.RMS(), "Max": c.Max().V, "Min": c.Min().V, "AbsMax": c.AbsMax().V,
	} {
		require.Zero(t, v, name)
	}
	require.Zero(t, c.Pieces())
	for name, d := range map[string]profile.Curve{
		"Scale": c.Scale(2), "Shift": c.Shift(1), "Antiderivative": c.Antiderivative(3), "Derivative": c.Derivative(),
		"Positive": c.Positive(), "Negative": c.Negative(), "Concat": profile.Concat(c, c), "Repeat": c.Repeat(3), "Simplify": c.Simplify(),
		"Sum": must[profile.Curve](t)(profile.Sum(c, c)), "no Sum": must[profile.Curve](t)(profile.Sum()),
		"Product": must[profile.Curve](t)(profile.Product(c, c)), "no Concat": profile.Concat(),
	} {
		require.Zero(t, d.Pieces(), name)
		require.Zero(t, d.At(1), name)
	}
	require.Empty(t, c.Crossings(nil, 0))
	require.Equal(t, []float64{0, 0}, c.Sample(nil, []float64{1, 2}))
	_, err := c.Slice(0, 1)
	require.Equal(t, []string{"t0", "t1"}, paths(err))
	_, _, err = c.Split(0)
	require.Equal(t, []string{"at"}, paths(err))
}

// What a caller does with the slices that went in or came out changes no curve.
func TestCurveOwnsItsNumbers(t *testing.T) {
	breaks, p, q := []float64{0, 1, 2}, []float64{1, 2}, []float64{3, 4}
	c := curve(t, breaks, p, q)
	breaks[1], p[0], q[1] = 99, 99, 99
	require.Equal(t, []float64{1, 2, 3, 5}, c.Sample(nil, []float64{0, 0.5, 1, 1.5}))

	x, y := []float64{0, 1}, []float64{5, 6}
	s := must[profile.Curve](t)(profile.Samples(x, y))
	x[0], y[0], y[1] = 99, 99, 99
	require.Equal(t, []float64{5, 5.5, 6}, s.Sample(nil, []float64{0, 0.5, 1}))

	_, _, got := c.Piece(0)
	_ = append(got, 99, 99, 99)
	require.Equal(t, 3.0, c.At(1))

	// Nothing that is derived from c writes to it.
	all := func() []float64 { return c.Sample(nil, []float64{0, 0.3, 0.999, 1, 1.7, 2}) }
	before := all()
	c.Scale(3)
	c.Shift(1)
	c.Positive()
	c.Negative()
	c.Antiderivative(1)
	c.Derivative()
	c.Simplify()
	c.Repeat(3)
	c.Crossings(nil, 2)
	profile.Concat(c, s)
	for _, f := range []func() (profile.Curve, error){
		func() (profile.Curve, error) { return c.Slice(0.5, 1.5) },
		func() (profile.Curve, error) { return profile.Sum(c, c) },
		func() (profile.Curve, error) { return profile.Product(c, c) },
	} {
		must[profile.Curve](t)(f())
	}
	require.Equal(t, before, all())
}

func TestCurveConstructorsRefuse(t *testing.T) {
	many := make([]float64, 42)
	for _, tc := range []struct {
		name string
		err  func() error
		want []string
	}{
		{"no pieces", newCurve(nil), []string{"breaks"}},
		{"a breakpoint too few", newCurve([]float64{0, 1}, []float64{1}, []float64{1}), []string{"breaks"}},
		{"NaN break", newCurve([]float64{0, nan}, []float64{1}), []string{"breaks[1]"}},
		{"infinite breaks", newCurve([]float64{-inf, 0, inf}, []float64{1}, []float64{1}), []string{"breaks[0]", "breaks[2]"}},
		{"equal breaks", newCurve([]float64{1, 1}, []float64{1}), []string{"breaks[1]"}},
		{"falling breaks", newCurve([]float64{1, 0, -1}, []float64{1}, []float64{1}), []string{"breaks[1]", "breaks[2]"}},
		{"endless span", newCurve([]float64{-1.5e308, 1.5e308}, []float64{1}), []string{"breaks[1]"}},
		{"NaN coefficient", newCurve([]float64{0, 1}, []float64{1, nan}), []string{"coefs[0][1]"}},
		{"infinite coefficient", newCurve([]float64{0, 1, 2}, []float64{1}, []float64{-inf}), []string{"coefs[1][0]"}},
		{"overflowing value", newCurve([]float64{0, 1, 20}, []float64{1}, []float64{0, 1e308}), []string{"coefs[1]"}},
		{"degree 41", newCurve([]float64{0, 1}, many), []string{"coefs[0]"}},

		{"one sample", samples([]float64{0}, []float64{1}), []string{"t"}},
		{"more times than values", samples([]float64{0, 1, 2}, []float64{1, 2}), []string{"t"}},
		{"bad samples", samples([]float64{0, nan, 2}, []float64{1, 2, inf}), []string{"t[1]", "y[2]"}},
		{"equal times", samples([]float64{0, 0}, []float64{1, 2}), []string{"t[1]"}},
		{"steep", samples([]float64{0, 1e-300}, []float64{0, 1e10}), []string{"y[1]"}},
		{"opposite", samples([]float64{0, 1}, []float64{-1.5e308, 1.5e308}), []string{"y[1]"}},

		{"NaN constant", constant(nan, 0, 1), []string{"v"}},
		{"infinite everything", constant(inf, -inf, inf), []string{"v", "t0", "t1"}},
		{"no duration", constant(1, 2, 2), []string{"t1"}},
		{"negative duration", constant(1, 2, 1), []string{"t1"}},
		{"endless constant", constant(1, -1.5e308, 1.5e308), []string{"t1"}},
	} {
		err := tc.err()
		require.Error(t, err, tc.name)
		require.Equal(t, tc.want, paths(err), "%s: %v", tc.name, err)
	}
}

func newCurve(breaks []float64, coefs ...[]float64) func() error {
	return func() error { _, err := profile.NewCurve(breaks, coefs); return err }
}

func samples(t, y []float64) func() error {
	return func() error { _, err := profile.Samples(t, y); return err }
}

func constant(v, t0, t1 float64) func() error {
	return func() error { _, err := profile.Constant(v, t0, t1); return err }
}

// Scaling can make a curve that is not finite. Nothing panics or hangs on it,
// and what returns an error gives one.
func TestCurvesThatAreNotFinite(t *testing.T) {
	c := curve(t, []float64{0, 1, 2}, []float64{1, -3, 1}, []float64{-1, 2, 0, 5})
	for _, k := range []float64{nan, inf, -inf, math.MaxFloat64} {
		bad := c.Scale(k)
		for range 2 {
			bad.At(0.5)
			bad.Extrema()
			bad.Crossings(nil, 0)
			bad.Positive()
			bad.Simplify()
			bad.Integral()
			bad.RMS()
			bad.Repeat(2)
			bad.Shift(1)
			bad.Sample(nil, []float64{0, 1, 2})
			bad = bad.Antiderivative(0)
		}
		bad = c.Scale(k)
		_, err := profile.Sum(bad, c)
		require.Equal(t, []string{"curves[1]"}, paths(err), "Sum with %g", k)
		_, err = profile.Product(bad, c)
		require.Equal(t, []string{"b"}, paths(err), "Product with %g", k)
		_, err = profile.NewMotion(bad)
		require.Equal(t, []string{"position"}, paths(err), "NewMotion with %g", k)
	}
}

func TestHugeCurvesStayFinite(t *testing.T) {
	for name, c := range map[string]profile.Curve{
		"value":    must[profile.Curve](t)(profile.Constant(1e300, 0, 1)),
		"tiny":     must[profile.Curve](t)(profile.Constant(5e-324, 0, 1e-300)),
		"duration": must[profile.Curve](t)(profile.Constant(1, -8e307, 8e307)),
		"samples":  must[profile.Curve](t)(profile.Samples([]float64{0, 1}, []float64{-4e307, 4e307})),
	} {
		lo, hi := c.Extrema()
		for what, v := range map[string]float64{
			"At": c.At(0.5), "Mean": c.Mean(), "RMS": c.RMS(), "Min": lo.V, "Max": hi.V, "Integral": c.Integral(),
		} {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%s of %s = %g", what, name, v)
		}
	}
	near(t, 1e300, must[profile.Curve](t)(profile.Constant(1e300, 0, 1)).RMS(), 1e286, "RMS")
	near(t, 1e-300, must[profile.Curve](t)(profile.Constant(1e-300, 0, 1)).RMS(), 1e-314, "RMS")
}
