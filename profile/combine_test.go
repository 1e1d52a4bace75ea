package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

func TestSumAndProductAgainstDenseEvaluation(t *testing.T) {
	r := seeded(4)
	for n := range 200 {
		a := r.curve(t)
		// b and c share the domain of a and some of its breakpoints.
		other := func() profile.Curve {
			b := []float64{a.Start()}
			for i := 1; i < a.Pieces(); i++ {
				t0, t1, _ := a.Piece(i)
				if r.IntN(2) == 0 {
					b = append(b, t0)
				}
				b = append(b, r.between(t0, t1))
			}
			if a.Pieces() == 1 {
				b = append(b, r.between(a.Start(), a.End()))
			}
			return r.over(t, append(b, a.End()), 4)
		}
		b, c := other(), other()
		sum := must[profile.Curve](t)(profile.Sum(a, b, c))
		product := must[profile.Curve](t)(profile.Product(a, b))
		require.Equal(t, []float64{a.Start(), a.End()}, []float64{sum.Start(), sum.End()})
		for _, x := range append(dense(sum, 4), a.Start(), a.End()) {
			va, vb, vc := a.At(x), b.At(x), c.At(x)
			near(t, va+vb+vc, sum.At(x), 1e-11*(1+math.Abs(va)+math.Abs(vb)+math.Abs(vc)), "sum %d at %g", n, x)
			near(t, va*vb, product.At(x), 1e-11*(1+math.Abs(va*vb)), "product %d at %g", n, x)
		}
		for i := range a.Pieces() {
			t0, _, _ := a.Piece(i)
			near(t, a.At(t0)+b.At(t0)+c.At(t0), sum.At(t0), 1e-11*(1+math.Abs(sum.At(t0))), "sum %d at break %g", n, t0)
		}
	}
}

// Breakpoints that differ by rounding alone make no sliver of a piece.
func TestSumTakesNearlyEqualTimesAsOne(t *testing.T) {
	third := 1.0 / 3
	a := curve(t, []float64{0, third, 1}, []float64{1}, []float64{2})
	b := curve(t, []float64{0, third * (1 + 4e-16), 1 + 2e-16}, []float64{10}, []float64{20})
	s := must[profile.Curve](t)(profile.Sum(a, b))
	require.Equal(t, 2, s.Pieces())
	require.Equal(t, []float64{11, 22}, s.Sample(nil, []float64{0.1, 0.9}))
	near(t, 11*third+22*(1-third), s.Integral(), 1e-14, "integral")

	sliver := curve(t, []float64{0, 1 - 3e-16, 1}, []float64{1}, []float64{5})
	s = must[profile.Curve](t)(profile.Sum(sliver, sliver))
	require.Equal(t, 1, s.Pieces())
	require.Equal(t, 1.0, s.End())
}

func TestSumAndProductRefuse(t *testing.T) {
	a := curve(t, []float64{0, 1}, []float64{1})
	longer := curve(t, []float64{0, 2}, []float64{1})
	later := curve(t, []float64{0.5, 1}, []float64{1})
	steep := curve(t, []float64{0, 1}, make([]float64, 30))
	huge := curve(t, []float64{0, 1}, []float64{1e308})

	_, err := profile.Sum(a, longer, a, later)
	require.Equal(t, []string{"curves[1]", "curves[3]"}, paths(err))
	_, err = profile.Sum(a, profile.Curve{})
	require.Equal(t, []string{"curves[1]"}, paths(err))
	_, err = profile.Sum(huge, huge)
	require.Equal(t, []string{"curves[1]"}, paths(err))
	_, err = profile.Product(a, longer)
	require.Equal(t, []string{"b"}, paths(err))
	require.ErrorContains(t, err, "domain of a")
	_, err = profile.Product(steep, steep)
	require.Equal(t, []string{"b"}, paths(err))
	_, err = profile.Product(huge, huge)
	require.Equal(t, []string{"b"}, paths(err))
}

func TestScaleAndShift(t *testing.T) {
	r := seeded(5)
	for range 100 {
		c := r.curve(t)
		k, dt := r.NormFloat64(), r.between(-5, 5)
		scaled, shifted := c.Scale(k), c.Shift(dt)
		for _, x := range dense(c, 3) {
			near(t, k*c.At(x), scaled.At(x), 1e-13*(1+math.Abs(c.At(x))), "scaled at %g", x)
			near(t, c.At(x), shifted.At(x+dt), 1e-12*(1+math.Abs(c.At(x))), "shifted at %g", x)
		}
		near(t, c.Duration(), shifted.Duration(), 1e-14, "duration")
	}
}

// A late clock drops what it cannot tell, rather than keep pieces of no length.
func TestShiftFarAway(t *testing.T) {
	c := curve(t, []float64{0, 1e-3, 1}, []float64{7}, []float64{8})
	late := c.Shift(1e14)
	require.Equal(t, 1, late.Pieces())
	require.Equal(t, 1.0, late.Duration())
	require.Equal(t, 8.0, late.At(1e14))
	for _, dt := range []float64{1e20, inf, -inf, nan, math.MaxFloat64} {
		require.Zero(t, c.Shift(dt).Pieces(), "Shift(%g)", dt)
	}
}

func TestSliceAndSplitAgainstDenseEvaluation(t *testing.T) {
	r := seeded(6)
	for range 200 {
		c := r.curve(t)
		t0 := r.between(c.Start(), c.End())
		t1 := r.between(t0, c.End())
		if !(t1 > t0) {
			continue
		}
		part := must[profile.Curve](t)(c.Slice(t0, t1))
		require.Equal(t, []float64{t0, t1}, []float64{part.Start(), part.End()})
		for _, x := range append(dense(part, 4), t0) {
			near(t, c.At(x), part.At(x), 1e-12*(1+math.Abs(c.At(x))), "slice at %g", x)
		}
		before, after, err := c.Split(t0)
		require.NoError(t, err)
		require.Equal(t, []float64{c.Start(), t0, t0, c.End()}, []float64{before.Start(), before.End(), after.Start(), after.End()})
		joined := profile.Concat(before, after)
		for _, x := range dense(c, 4) {
			near(t, c.At(x), joined.At(x), 1e-12*(1+math.Abs(c.At(x))), "joined at %g", x)
		}
		near(t, c.Integral(), before.Integral()+after.Integral(), 1e-12*(1+c.RMS()*c.Duration()), "integral")
	}
}

// At a breakpoint a slice begins with the later piece and ends with the earlier.
func TestSliceAtBreaks(t *testing.T) {
	c := curve(t, []float64{0, 1, 2, 3}, []float64{1}, []float64{2}, []float64{3})
	whole := must[profile.Curve](t)(c.Slice(0, 3))
	require.Equal(t, 3, whole.Pieces())
	middle := must[profile.Curve](t)(c.Slice(1, 2))
	require.Equal(t, 1, middle.Pieces())
	require.Equal(t, 2.0, middle.At(2))

	for _, tc := range []struct {
		t0, t1 float64
		want   []string
	}{
		{-1, 1, []string{"t0"}}, {3, 4, []string{"t0", "t1"}}, {1, 1, []string{"t1"}}, {2, 1, []string{"t1"}},
		{0, 3.1, []string{"t1"}}, {nan, 1, []string{"t0", "t1"}}, {0, nan, []string{"t1"}}, {-inf, inf, []string{"t0", "t1"}},
	} {
		_, err := c.Slice(tc.t0, tc.t1)
		require.Equal(t, tc.want, paths(err), "Slice(%g, %g)", tc.t0, tc.t1)
	}
	for _, at := range []float64{0, 3, -1, 4, nan, inf} {
		_, _, err := c.Split(at)
		require.Equal(t, []string{"at"}, paths(err), "Split(%g)", at)
	}
}

func TestConcatAndRepeat(t *testing.T) {
	r := seeded(7)
	for range 100 {
		a, b := r.curve(t), r.curve(t)
		ab := profile.Concat(profile.Curve{}, a, profile.Curve{}, b)
		require.Equal(t, a.Pieces()+b.Pieces(), ab.Pieces())
		near(t, a.Duration()+b.Duration(), ab.Duration(), 1e-13*ab.Duration(), "duration")
		for _, x := range dense(a, 3) {
			near(t, a.At(x), ab.At(x), 1e-13*(1+math.Abs(a.At(x))), "first at %g", x)
		}
		for _, x := range dense(b, 3) {
			near(t, b.At(x), ab.At(a.End()+x-b.Start()), 1e-11*(1+math.Abs(b.At(x))), "second at %g", x)
		}
		near(t, 5*a.Integral(), a.Repeat(5).Integral(), 1e-12*a.RMS()*a.Repeat(5).Duration(), "repeated")
		require.Equal(t, 5*a.Pieces(), a.Repeat(5).Pieces())
	}
	c := curve(t, []float64{0, 1}, []float64{1})
	require.Zero(t, c.Repeat(0).Pieces())
	require.Zero(t, c.Repeat(-3).Pieces())
	require.Equal(t, c, c.Repeat(1))

	// Durations that float64 cannot add up are left out, not made infinite.
	long := curve(t, []float64{0, 1.5e308}, []float64{1})
	require.Equal(t, 1.5e308, profile.Concat(long, long).End())
}
