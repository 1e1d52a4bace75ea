package profile_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
)

// quadrature integrates f over the pieces of c between from and to by
// Gauss-Legendre rules of 12 points, exact for degree 23.
func quadrature(c interface {
	Pieces() int
	Piece(int) (float64, float64, []float64)
}, f func(float64) float64, from, to float64) float64 {
	sum := 0.0
	for i := range c.Pieces() {
		t0, t1, _ := c.Piece(i)
		if a, b := math.Max(t0, from), math.Min(t1, to); a < b {
			sum += quad.Fixed(f, a, b, 12, quad.Legendre{}, 0)
		}
	}
	return sum
}

// Source: the Gauss-Legendre rules of gonum.org/v1/gonum/integrate/quad, on the
// values of the curves.
func TestIntegralsAgreeWithQuadrature(t *testing.T) {
	r := seeded(2)
	const tol = 1e-10 // relative to the integral of the absolute value
	for n := range 300 {
		c := r.curve(t)
		abs := func(x float64) float64 { return math.Abs(c.At(x)) }
		square := func(x float64) float64 { return c.At(x) * c.At(x) }
		scale := quadrature(c, abs, -inf, inf)

		near(t, quadrature(c, c.At, -inf, inf), c.Integral(), tol*scale, "Integral of curve %d", n)
		near(t, quadrature(c, c.At, -inf, inf)/c.Duration(), c.Mean(), tol*scale/c.Duration(), "Mean of curve %d", n)
		rms := math.Sqrt(quadrature(c, square, -inf, inf) / c.Duration())
		near(t, rms, c.RMS(), tol*rms, "RMS of curve %d", n)

		a, b := r.between(c.Start()-1, c.End()+1), r.between(c.Start()-1, c.End()+1)
		want := quadrature(c, c.At, math.Min(a, b), math.Max(a, b))
		if b < a {
			want = -want
		}
		near(t, want, c.IntegralBetween(a, b), tol*scale, "IntegralBetween(%g, %g) of curve %d", a, b, n)
		near(t, -want, c.IntegralBetween(b, a), tol*scale, "IntegralBetween(%g, %g) of curve %d", b, a, n)

		v0 := r.NormFloat64()
		p := c.Antiderivative(v0)
		x := r.between(c.Start(), c.End())
		near(t, v0+quadrature(c, c.At, c.Start(), x), p.At(x), tol*(scale+math.Abs(v0)), "Antiderivative of curve %d", n)
	}
}

func TestAntiderivativeAndDerivativeAreInverse(t *testing.T) {
	r := seeded(3)
	for n := range 200 {
		c := r.curve(t)
		p := c.Antiderivative(r.NormFloat64())
		back := p.Derivative()
		for _, x := range dense(c, 5) {
			near(t, c.At(x), back.At(x), 1e-13*(1+math.Abs(c.At(x))), "curve %d at %g", n, x)
		}
		for i := 1; i < p.Pieces(); i++ {
			t0, _, _ := p.Piece(i)
			near(t, justBefore(p, i), p.At(t0), 1e-12*(1+math.Abs(p.At(t0))), "curve %d: a jump at %g", n, t0)
		}
		// A difference quotient knows nothing of the coefficients.
		const h = 1e-5
		for i := range c.Pieces() {
			t0, t1, _ := c.Piece(i)
			if x := (t0 + t1) / 2; t1-t0 > 4*h {
				near(t, (p.At(x+h)-p.At(x-h))/(2*h), c.At(x), 1e-6, "curve %d at %g", n, x)
			}
		}
	}
}

func TestIntegralBetweenOutsideTheDomain(t *testing.T) {
	c := curve(t, []float64{1, 2}, []float64{3})
	for _, tc := range []struct{ from, to, want float64 }{
		{-inf, inf, 3}, {-5, 1, 0}, {2, 7, 0}, {1.5, 1.5, 0}, {inf, -inf, -3}, {0, 1.5, 1.5}, {nan, 2, 0}, {1, nan, 0},
	} {
		near(t, tc.want, c.IntegralBetween(tc.from, tc.to), 1e-15, "from %g to %g", tc.from, tc.to)
	}
}

func TestMeanAndRMSOfKnownShapes(t *testing.T) {
	// A ramp from 0 to 1: mean 1/2, RMS 1/√3.
	c := curve(t, []float64{5, 9}, []float64{0, 0.25})
	near(t, 0.5, c.Mean(), 1e-15, "mean")
	near(t, 1/math.Sqrt(3), c.RMS(), 1e-15, "RMS")
}
