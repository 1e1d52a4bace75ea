package profile_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// near fails unless |got-want| <= tol, so that NaN fails.
func near(t testing.TB, want, got, tol float64, what string, args ...any) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.17g, want %.17g ± %.3g", fmt.Sprintf(what, args...), got, want, tol)
	}
}

func must[T any](t testing.TB) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		require.NoError(t, err)
		return v
	}
}

// curve builds a curve from alternating breakpoints and pieces.
func curve(t testing.TB, breaks []float64, coefs ...[]float64) profile.Curve {
	t.Helper()
	return must[profile.Curve](t)(profile.NewCurve(breaks, coefs))
}

// random draws curves and the pieces they were made of, from a fixed seed.
type random struct{ *rand.Rand }

func seeded(seed uint64) random { return random{rand.New(rand.NewPCG(seed, 0))} }

// between draws from [lo, hi).
func (r random) between(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// spread draws over orders of magnitude, with an even logarithm.
func (r random) spread(lo, hi float64) float64 {
	return math.Exp(r.between(math.Log(lo), math.Log(hi)))
}

// breaks draws n+1 increasing times.
func (r random) breaks(n int) []float64 {
	b := []float64{r.between(-3, 3)}
	for range n {
		b = append(b, b[len(b)-1]+r.between(0.01, 1.5))
	}
	return b
}

// over draws a curve with the given breakpoints, which jumps at them unless
// two pieces happen to meet.
func (r random) over(t testing.TB, breaks []float64, degree int) profile.Curve {
	coefs := make([][]float64, len(breaks)-1)
	for i := range coefs {
		for range r.IntN(degree + 1) {
			coefs[i] = append(coefs[i], r.NormFloat64())
		}
		coefs[i] = append(coefs[i], r.NormFloat64())
	}
	return curve(t, breaks, coefs...)
}

func (r random) curve(t testing.TB) profile.Curve {
	return r.over(t, r.breaks(1+r.IntN(20)), 5)
}

// dense returns times inside the pieces of c, n for each, away from their ends.
func dense(c profile.Curve, n int) []float64 {
	var out []float64
	for i := range c.Pieces() {
		t0, t1, _ := c.Piece(i)
		for k := range n {
			out = append(out, t0+(t1-t0)*(float64(k)+0.5)/float64(n))
		}
	}
	return out
}

// justBefore returns the value of the piece before break i at that break, from
// its coefficients.
func justBefore(c profile.Curve, i int) float64 {
	t0, t1, coefs := c.Piece(i - 1)
	sum, s := 0.0, t1-t0
	for k := range coefs {
		sum = sum*s + coefs[len(coefs)-1-k]
	}
	return sum
}

// paths returns the paths of the input errors in err.
func paths(err error) []string {
	var out []string
	for _, e := range profile.InputErrors(err) {
		out = append(out, e.Path)
	}
	return out
}
