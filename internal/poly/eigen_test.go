package poly

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// companionRoots returns all roots of c as the eigenvalues of its companion
// matrix, by gonum's QR algorithm.
func companionRoots(c []float64) []complex128 {
	n := len(c) - 1
	m := mat.NewDense(n, n, nil)
	for i := range n {
		if i > 0 {
			m.Set(i, i-1, 1)
		}
		m.Set(i, n-1, -c[i]/c[n])
	}
	var e mat.Eigen
	if !e.Factorize(m, mat.EigenNone) {
		panic("no eigenvalues")
	}
	return e.Values(nil)
}

// Every reported root is near an eigenvalue, and every simple real eigenvalue
// inside the interval near a reported root. "Near" is 1e-9, far above what
// either method loses on these coefficients, unless the root is ill-conditioned.
func TestRootsCompanionMatrix(t *testing.T) {
	rng := seeded(20)
	compared := 0
	for range 1500 {
		c := random(rng, 2+rng.IntN(16), 0)
		c[len(c)-1] = math.Copysign(1+rng.Float64(), c[len(c)-1])
		const a, b = -1.5, 2
		got, want := Roots(nil, c, a, b), companionRoots(c)
		near := func(r float64) float64 {
			_, slope := EvalBoth(c, r)
			return 1e-9 + 1e-12*EvalAbs(c, r)/math.Abs(slope)
		}
		for _, r := range got {
			best := math.Inf(1)
			for _, z := range want {
				best = math.Min(best, cmplx.Abs(z-complex(r, 0)))
			}
			if !(best <= near(r)) {
				t.Errorf("%v: %v is %g from the next eigenvalue of %v", c, r, best, want)
			}
		}
		for _, z := range want {
			x := real(z)
			if imag(z) != 0 || x < a+1e-9 || x > b-1e-9 || near(x) > 1e-6 {
				continue
			}
			best := math.Inf(1)
			for _, r := range got {
				best = math.Min(best, math.Abs(r-x))
			}
			if !(best <= near(x)) {
				t.Errorf("%v: eigenvalue %v is %g from the next of %v", c, x, best, got)
			}
			compared++
		}
	}
	if compared < 1500 {
		t.Errorf("only %d roots compared", compared)
	}
}
