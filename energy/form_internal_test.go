package energy

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/internal/poly"
	"github.com/stretchr/testify/require"
)

// TestForms holds the arithmetic of forms of any length against that of plain polynomials.
func TestForms(t *testing.T) {
	var home tails
	for seed := range uint64(3000) {
		r := rand.New(rand.NewPCG(seed, 6))
		random := func(most int) []float64 {
			c := make([]float64, 1+r.IntN(most))
			for i := range c {
				c[i] = r.NormFloat64()
			}
			return c
		}
		a, b := random(maxTorque), random(maxSpeed)
		p, q := home.form(a), home.form(b)
		h, k, j := 1.5*r.Float64(), r.NormFloat64(), r.NormFloat64()
		same := func(want []float64, got form, what string) {
			t.Helper()
			var buf [maxTorque]float64
			c := got.coefs(&buf)
			require.GreaterOrEqual(t, len(c), len(want))
			for i, v := range c {
				w := 0.0
				if i < len(want) {
					w = want[i]
				}
				require.InDelta(t, w, v, 1e-10*(1+math.Abs(w)), "seed %d: %s, power %d", seed, what, i)
			}
		}
		scaled := func(c []float64, k float64) []float64 { return poly.Scale(nil, c, k) }
		same(a, p, "the same")
		same(scaled(a, k), p.scale(k), "scale")
		same(poly.Add(nil, a, scaled(b, k)), p.plus(k, q), "plus")
		same(poly.Add(nil, scaled(a, k), b), q.plus(k, p), "plus, the other way")
		same(poly.Add(nil, scaled(a, k), scaled(poly.Derivative(nil, b), j)), p.plusSlope(k, j, q), "plusSlope")
		same(poly.Add(nil, scaled(b, k), scaled(poly.Derivative(nil, a), j)), q.plusSlope(k, j, p), "plusSlope, the other way")
		moved := func(a, b []float64) []float64 {
			return poly.Add(nil, poly.Add(nil, a, scaled(b, k)), scaled(poly.Derivative(nil, b), j))
		}
		same(moved(a, b), p.plusMotion(k, j, q), "plusMotion")
		same(moved(b, a), q.plusMotion(k, j, p), "plusMotion, the other way")
		same(poly.Shift(nil, a, h), p.from(h), "from")
		near := func(want, got float64, what string) {
			t.Helper()
			require.InDelta(t, want, got, 1e-10*(1+math.Abs(want)), "seed %d: %s", seed, what)
		}
		near(poly.Eval(a, h), p.at(h), "at")
		near(poly.EvalAbs(a, h), p.bound(h), "bound")
		near(poly.Integral(a, 0, h), p.integral(h), "integral")
		near(poly.Integral(poly.Mul(nil, a, b), 0, h), p.work(q, h), "work")
		dst := make([]float64, maxTorque+maxSpeed+2)
		for i := range dst {
			dst[i] = math.NaN()
		}
		p.times(dst, q)
		product := poly.Mul(nil, a, b)
		for i, v := range dst {
			w := 0.0
			if i < len(product) {
				w = product[i]
			}
			near(w, v, "times")
		}
		for i := range dst {
			dst[i] = math.NaN()
		}
		p.put(dst)
		require.Zero(t, dst[maxTorque])
		same(a, p, "not changed")
		same(b, q, "not changed")
		if seed%100 == 0 {
			home.release(0)
		}
	}
	require.Less(t, len(home.stock), 10000)
}

// TestSpansByFormulas holds the spans of parabolas and quartics against those that the
// general search for roots makes.
func TestSpansByFormulas(t *testing.T) {
	var seen [2][6]int
	for seed := range uint64(20000) {
		r := rand.New(rand.NewPCG(seed, 4))
		p := make([]float64, 3+2*r.IntN(2))
		for i := range p[:1+r.IntN(len(p))] {
			p[i] = r.NormFloat64() * (1 + 2*float64(min(i, 1)))
		}
		h, sliver := 0.01+2*r.Float64(), 1e-3
		noise := 0.1 * float64(r.IntN(2))
		got := spans(nil, p, h, noise, sliver)
		want := spansByRoots(nil, p, h, noise, sliver)
		require.Len(t, got, len(want), "seed %d", seed)
		for i, w := range want {
			require.InDelta(t, w.lo, got[i].lo, 1e-9)
			require.InDelta(t, w.hi, got[i].hi, 1e-9)
			require.Equal(t, w.sign, got[i].sign, "seed %d", seed)
		}
		seen[(len(p)-3)/2][len(got)]++
	}
	require.Greater(t, min(seen[0][1], seen[0][2], seen[0][3], seen[1][1], seen[1][2], seen[1][3]), 50)
}
