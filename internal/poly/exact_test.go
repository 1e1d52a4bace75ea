package poly

import (
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"
)

// The references of these tests: exact rational arithmetic (math/big) on the
// very float64 coefficients under test.

func rat(x float64) *big.Rat {
	r := new(big.Rat).SetFloat64(x)
	if r == nil {
		panic("not finite")
	}
	return r
}

func ratPoly(c []float64) []*big.Rat {
	out := make([]*big.Rat, len(c))
	for i, v := range c {
		out[i] = rat(v)
	}
	return out
}

func ratEval(c []*big.Rat, x *big.Rat) *big.Rat {
	v := new(big.Rat)
	for i := len(c) - 1; i >= 0; i-- {
		v.Mul(v, x)
		v.Add(v, c[i])
	}
	return v
}

func ratMul(a, b []*big.Rat) []*big.Rat {
	if len(a) == 0 || len(b) == 0 {
		return nil
	}
	out := make([]*big.Rat, len(a)+len(b)-1)
	for i := range out {
		out[i] = new(big.Rat)
	}
	t := new(big.Rat)
	for i, x := range a {
		for j, y := range b {
			out[i+j].Add(out[i+j], t.Mul(x, y))
		}
	}
	return out
}

func ratDerivative(c []*big.Rat) []*big.Rat {
	var out []*big.Rat
	for i := 1; i < len(c); i++ {
		out = append(out, new(big.Rat).Mul(c[i], big.NewRat(int64(i), 1)))
	}
	return out
}

// ratBinomial returns p(x0+x) by the binomial theorem.
func ratBinomial(c []*big.Rat, x0 *big.Rat) []*big.Rat {
	out := make([]*big.Rat, len(c))
	for i := range out {
		out[i] = new(big.Rat)
		pow := big.NewRat(1, 1)
		for j := i; j < len(c); j++ {
			t := new(big.Rat).SetInt(new(big.Int).Binomial(int64(j), int64(i)))
			t.Mul(t, pow)
			out[i].Add(out[i], t.Mul(t, c[j]))
			pow = new(big.Rat).Mul(pow, x0)
		}
	}
	return out
}

func float(r *big.Rat) float64 { v, _ := r.Float64(); return v }

func floats(c []*big.Rat) []float64 {
	out := make([]float64, len(c))
	for i, r := range c {
		out[i] = float(r)
	}
	return out
}

// off returns |got - want| with the difference taken exactly.
func off(got float64, want *big.Rat) float64 {
	return math.Abs(float(new(big.Rat).Sub(rat(got), want)))
}

// sturm counts the distinct roots in (a, b] exactly, by Sturm's theorem.
func sturm(c []*big.Rat, a, b float64) int {
	for len(c) > 0 && c[len(c)-1].Sign() == 0 {
		c = c[:len(c)-1]
	}
	if len(c) < 2 {
		return 0
	}
	chain := [][]*big.Rat{c, ratDerivative(c)}
	for {
		n := len(chain)
		_, r := divide(chain[n-2], chain[n-1])
		if len(r) == 0 {
			break
		}
		// The negative remainder, kept short by a positive factor.
		f := new(big.Rat).Abs(r[len(r)-1])
		f.Neg(f.Inv(f))
		for i := range r {
			r[i].Mul(r[i], f)
		}
		chain = append(chain, r)
	}
	// The last is the common divisor of p and p'. Without it the roots are simple
	// and a or b may be one of them.
	common := chain[len(chain)-1]
	for i := range chain {
		chain[i], _ = divide(chain[i], common)
	}
	changes := func(x float64) int {
		count, last := 0, 0
		for _, p := range chain {
			s := ratEval(p, rat(x)).Sign()
			if s != 0 && last != 0 && s != last {
				count++
			}
			if s != 0 {
				last = s
			}
		}
		return count
	}
	return changes(a) - changes(b)
}

// divide returns the quotient and the remainder of a by b.
func divide(a, b []*big.Rat) (q, r []*big.Rat) {
	for _, v := range a {
		r = append(r, new(big.Rat).Set(v))
	}
	t := new(big.Rat)
	for len(r) >= len(b) {
		f := new(big.Rat).Quo(r[len(r)-1], b[len(b)-1])
		at := len(r) - len(b)
		for i := range b {
			r[at+i].Sub(r[at+i], t.Mul(f, b[i]))
		}
		r = r[:len(r)-1]
		q = append(q, f)
	}
	for len(r) > 0 && r[len(r)-1].Sign() == 0 {
		r = r[:len(r)-1]
	}
	slices.Reverse(q)
	return q, r
}

// countExact counts the distinct roots in [a, b] exactly.
func countExact(c []float64, a, b float64) int {
	p := ratPoly(c)
	n := sturm(p, a, b)
	if ratEval(p, rat(a)).Sign() == 0 {
		n++
	}
	return n
}

func TestSturmReference(t *testing.T) {
	// By hand: x(x-1)²(x-2)(x²+1) = x⁶-4x⁵+6x⁴-6x³+5x²-2x.
	c := []float64{0, -2, 5, -6, 6, -4, 1}
	for _, tc := range []struct {
		a, b float64
		want int
	}{{-1, 3, 3}, {0, 3, 3}, {0.5, 1, 1}, {0.5, 1.5, 1}, {1.5, 3, 1}, {2, 3, 1}, {2.5, 3, 0}, {-3, -1, 0}} {
		if got := countExact(c, tc.a, tc.b); got != tc.want {
			t.Errorf("roots in [%g, %g]: %d, want %d", tc.a, tc.b, got, tc.want)
		}
	}
}

// random returns n coefficients of either sign, of sizes spread over about
// 2^±spread.
func random(rng *rand.Rand, n int, spread float64) []float64 {
	c := make([]float64, n)
	for i := range c {
		c[i] = rng.NormFloat64() * math.Exp2(spread*(2*rng.Float64()-1))
	}
	return c
}

func seeded(a uint64) *rand.Rand { return rand.New(rand.NewPCG(a, 2024)) }

func equal(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Float64bits(x) == math.Float64bits(y) })
}
