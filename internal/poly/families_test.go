package poly

import (
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
)

// expectRoots fails unless roots are those of c in [a, b] that are listed in
// want, each within what the coefficients allow.
func expectRoots(t *testing.T, c []float64, a, b float64, want []float64) {
	t.Helper()
	got := Roots(nil, c, a, b)
	if err := checkRoots(c, a, b, got); err != nil {
		t.Errorf("degree %d on [%g, %g]: %v", len(c)-1, a, b, err)
	}
	if len(got) != len(want) {
		t.Errorf("degree %d on [%g, %g]: %d roots %v, want %d %v", len(c)-1, a, b, len(got), got, len(want), want)
		return
	}
	for i, r := range want {
		if tol := rootTolerance(c, r, 1); !(math.Abs(got[i]-r) <= tol) {
			t.Errorf("degree %d on [%g, %g]: root %v, want %v, off %.2g, tolerance %.2g", len(c)-1, a, b, got[i], r, got[i]-r, tol)
		}
	}
}

// The Chebyshev polynomials T[n] = 2x T[n-1] - T[n-2] have the roots
// cos((2k-1)π/2n), and ±1 at cos(kπ/n). Source: NIST Digital Library of
// Mathematical Functions, §18.5 and §18.9 (FROM MEMORY).
func chebyshev(n int) []float64 {
	t0, t1 := []float64{1}, []float64{0, 1}
	for range n {
		t0, t1 = t1, Add(nil, Mul(nil, []float64{0, 2}, t1), Scale(nil, t0, -1))
	}
	return t0 // exact: integers below 2⁵³
}

func chebyshevRoots(n int) []float64 {
	var r []float64
	for k := n; k >= 1; k-- {
		// sin keeps the zero in the middle exact.
		r = append(r, math.Sin(float64(n+1-2*k)*math.Pi/float64(2*n)))
	}
	return r
}

func TestRootsChebyshev(t *testing.T) {
	for n := 1; n <= 24; n++ {
		c, want := chebyshev(n), chebyshevRoots(n)
		expectRoots(t, c, -1, 1, want)
		expectRoots(t, c, 0, 1, want[n/2:])
		expectRoots(t, Scale(nil, c, -3e-7), -1, 0, want[:(n+1)/2])
		expectRoots(t, Scale(nil, c, 0x1p960), -1, 1, want)
		expectRoots(t, c, 0.3, 0.9, slices.DeleteFunc(slices.Clone(want), func(r float64) bool { return r < 0.3 || r > 0.9 }))

		// On [0, 1] as variable, and on a stretched interval. Moving the origin
		// blurs the coefficients by what TestArithmeticExact allows; above degree
		// 12 that is more than expectRoots grants.
		if n <= 12 {
			moved := Stretch(nil, Shift(nil, c, -1), 2)
			for i := range want {
				want[i] = (1 + want[i]) / 2
			}
			expectRoots(t, moved, 0, 1, want)
		}
	}
}

// The turning points of T[n] have the value ±1.
func TestExtremaChebyshev(t *testing.T) {
	for n := 1; n <= 24; n++ {
		c := chebyshev(n)
		lo, atLo, hi, atHi := Extrema(c, -1, 1)
		for _, p := range [][2]float64{{atLo, lo + 1}, {atHi, hi - 1}} {
			if !(math.Abs(p[1]) <= noise(n)*EvalAbs(c, p[0])) {
				t.Errorf("degree %d at %v: off by %g", n, p[0], p[1])
			}
			k := math.Acos(p[0]) * float64(n) / math.Pi
			if !(math.Abs(k-math.Round(k)) <= 1e-2) {
				t.Errorf("degree %d: extremum at %v, which is not one", n, p[0])
			}
		}
	}
}

// Legendre polynomials k P[k] = (2k-1) x P[k-1] - (k-1) P[k-2] (NIST Digital
// Library of Mathematical Functions §18.9, FROM MEMORY) against the nodes of
// gonum's Gauss-Legendre rules, which are computed by other means.
func TestRootsLegendre(t *testing.T) {
	p0, p1 := []*big.Rat{big.NewRat(1, 1)}, []*big.Rat{new(big.Rat), big.NewRat(1, 1)}
	for n := 1; n <= 24; n++ {
		x, w := make([]float64, n), make([]float64, n)
		quad.Legendre{}.FixedLocations(x, w, -1, 1)
		slices.Sort(x)
		expectRoots(t, floats(p1), -1, 1, x)

		k := int64(n + 1)
		next := ratMul([]*big.Rat{new(big.Rat), big.NewRat(2*k-1, k)}, p1)
		for i, v := range p0 {
			next[i].Sub(next[i], new(big.Rat).Mul(v, big.NewRat(k-1, k)))
		}
		p0, p1 = p1, next
	}
}

// ∏(x-k), k = 1…n: Wilkinson's example, as far as its roots are apart by more
// than rounding.
func TestRootsWilkinson(t *testing.T) {
	for n := 1; n <= 13; n++ {
		c := []float64{1}
		var want []float64
		for k := 1; k <= n; k++ {
			c = Mul(nil, c, []float64{-float64(k), 1})
			want = append(want, float64(k))
		}
		expectRoots(t, c, 0, float64(n)+0.5, want)
		expectRoots(t, c, 1, float64(n), want)
		expectRoots(t, Stretch(nil, c, -1024), -1, 0, func() []float64 {
			r := Scale(nil, want, -1.0/1024)
			slices.Reverse(r)
			return r
		}())
	}
	// With rounding as large as the bumps, only what is returned can be checked.
	for n := 14; n <= 24; n++ {
		c := []float64{1}
		for k := 1; k <= n; k++ {
			c = Mul(nil, c, []float64{-float64(k), 1})
		}
		if err := checkRoots(c, 0, float64(n+1), Roots(nil, c, 0, float64(n+1))); err != nil {
			t.Errorf("degree %d: %v", n, err)
		}
	}
}

// known is a polynomial multiplied out in exact arithmetic from roots that were
// chosen beforehand, then rounded to float64.
type known struct {
	c     []float64
	roots []float64 // distinct, ascending
	mult  []int
}

// build puts count distinct roots into [-1, 1] at least 0.08 apart, with
// multiplicities up to maxMult, and fills up to the degree with complex pairs
// that stay away from the real axis.
func build(rng *rand.Rand, count, maxMult, degree int) known {
	var k known
	for len(k.roots) < count {
		r := 2*rng.Float64() - 1
		if slices.ContainsFunc(k.roots, func(q float64) bool { return math.Abs(q-r) < 0.08 }) {
			continue
		}
		k.roots = append(k.roots, r)
	}
	slices.Sort(k.roots)
	scale := rat(math.Ldexp(1+rng.Float64(), rng.IntN(40)-20))
	if rng.IntN(2) == 0 {
		scale.Neg(scale)
	}
	p := []*big.Rat{scale}
	for _, r := range k.roots {
		m := 1 + rng.IntN(maxMult)
		k.mult = append(k.mult, m)
		for range m {
			p = ratMul(p, []*big.Rat{rat(-r), big.NewRat(1, 1)})
		}
	}
	for len(p)-1 <= degree-2 {
		re, im := 2.4*rng.Float64()-1.2, 0.5+0.7*rng.Float64()
		p = ratMul(p, []*big.Rat{new(big.Rat).Add(ratMul([]*big.Rat{rat(re)}, []*big.Rat{rat(re)})[0], ratMul([]*big.Rat{rat(im)}, []*big.Rat{rat(im)})[0]), rat(-2 * re), big.NewRat(1, 1)})
	}
	k.c = floats(p)
	return k
}

func TestRootsBuilt(t *testing.T) {
	rng := seeded(10)
	blurred, total := 0, 0
	for _, tc := range []struct{ count, maxMult, degree int }{
		{1, 1, 0}, {2, 1, 0}, {3, 1, 0}, {4, 1, 0}, {6, 1, 0}, {8, 1, 0}, // simple
		{0, 1, 2}, {0, 1, 8}, {0, 1, 16}, {0, 1, 24}, // none
		{1, 1, 16}, {2, 1, 12}, {3, 1, 16}, {4, 1, 20}, {5, 1, 24}, // simple among complex pairs
		{1, 2, 0}, {2, 2, 0}, {3, 2, 0}, {2, 2, 12}, {2, 2, 24}, // double
		{1, 3, 0}, {2, 3, 0}, {3, 3, 0}, {2, 3, 12}, {1, 3, 24}, // triple
		{1, 4, 8}, {1, 5, 0},
	} {
		for range 40 {
			k := build(rng, tc.count, tc.maxMult, tc.degree)
			total++
			got := Roots(nil, k.c, -1, 1)
			if err := checkRoots(k.c, -1, 1, got); err != nil {
				t.Errorf("%+v: %v\nroots %v of multiplicity %v", tc, err, k.roots, k.mult)
			}
			tol, apart := make([]float64, len(k.roots)), true
			for i, r := range k.roots {
				tol[i] = 2 * rootTolerance(k.c, r, k.mult[i])
				apart = apart && tol[i] < 0.02
			}
			if !apart {
				blurred++
				continue
			}
			// A multiple root may fall apart into several, all within tolerance.
			seen := make([]int, len(k.roots))
			for _, g := range got {
				near := slices.IndexFunc(k.roots, func(r float64) bool { return math.Abs(g-r) < 0.04 })
				if near < 0 || !(math.Abs(g-k.roots[near]) <= tol[near]) {
					t.Errorf("%+v: %v is no root; roots %v of multiplicity %v, tolerances %.2g", tc, g, k.roots, k.mult, tol)
					continue
				}
				seen[near]++
			}
			for i, s := range seen {
				if s != 1 {
					t.Errorf("%+v: root %v of multiplicity %d seen %d times in %v", tc, k.roots[i], k.mult[i], s, got)
				}
			}
		}
	}
	t.Logf("%d of %d have roots blurred by rounding to more than 0.02", blurred, total)
	if blurred > total/10 {
		t.Errorf("too few decisive cases: %d of %d blurred", blurred, total)
	}
}

// Powers of two change nothing but exponents, so roots scale along, to and
// beyond the ends of the range that is handled without scaling.
func TestRootsScale(t *testing.T) {
	rng := seeded(11)
	for range 60 {
		k := build(rng, 1+rng.IntN(3), 1, 6)
		want := Roots(nil, k.c, -1, 1)
		for _, e := range []int{-900, -664, -300, -40, 40, 300, 664, 900} {
			got := Roots(nil, Scale(nil, k.c, math.Ldexp(1, e)), -1, 1)
			if !closeTo(got, want, 1e-12, 1) {
				t.Errorf("coefficients times 2^%d: %v, want %v", e, got, want)
			}
		}
		for _, e := range []int{-140, -110, -40, 40, 110, 140} {
			h := math.Ldexp(1, e)
			got := Roots(nil, Stretch(nil, k.c, 1/h), -h, h)
			if !closeTo(got, want, 1e-12, h) {
				t.Errorf("interval times 2^%d: %v, want %v", e, got, want)
			}
		}
	}
}

func closeTo(got, want []float64, tol, scale float64) bool {
	return slices.EqualFunc(got, want, func(x, y float64) bool { return math.Abs(x/scale-y) <= tol })
}

// The number of distinct roots, exactly (Sturm), of polynomials with small
// integer coefficients, which have roots on the interval's ends, at zero and of
// multiplicity two often enough.
func TestRootsCountExact(t *testing.T) {
	rng := seeded(12)
	multiple := 0
	for range 1500 {
		c := make([]float64, 1+rng.IntN(9))
		for i := range c {
			c[i] = float64(rng.IntN(7) - 3)
		}
		if rng.IntN(3) == 0 {
			square := Mul(nil, []float64{float64(rng.IntN(9) - 4), 4}, []float64{float64(rng.IntN(9) - 4), 4})
			c = Mul(nil, c, Mul(nil, square, square))
			multiple++
		}
		a := float64(rng.IntN(9)-6) / 2
		b := a + float64(1+rng.IntN(8))/2
		if EvalAbs(c, 1) == 0 {
			continue
		}
		got := Roots(nil, c, a, b)
		if want := countExact(c, a, b); len(got) != want {
			t.Errorf("%v on [%g, %g]: %v, exactly %d", c, a, b, got, want)
		}
		if err := checkRoots(c, a, b, got); err != nil {
			t.Errorf("%v on [%g, %g]: %v", c, a, b, err)
		}
	}
	if multiple < 300 {
		t.Errorf("only %d with a multiple root built in", multiple)
	}
}

// Coefficients at random: values alone can be checked, and the count wherever
// rounding leaves it no choice.
func TestRootsRandom(t *testing.T) {
	rng := seeded(13)
	found, counted := 0, 0
	for i := range 4000 {
		c := random(rng, 1+rng.IntN(25), []float64{0, 3, 15}[i%3])
		a := rng.NormFloat64()
		b := a + rng.ExpFloat64()
		switch rng.IntN(4) {
		case 0:
			a, b = 0, rng.ExpFloat64()
		case 1: // far from zero
			a = rng.NormFloat64() * 1e3
			b = a + rng.Float64()
		}
		got := Roots(nil, c, a, b)
		if err := checkRoots(c, a, b, got); err != nil {
			t.Errorf("%v on [%v, %v]: %v", c, a, b, err)
		}
		found += len(got)
		if i < 500 && len(c) <= 10 && decisive(c, a, b) {
			counted++
			if want := countExact(c, a, b); len(got) != want {
				t.Errorf("%v on [%v, %v]: %v, exactly %d", c, a, b, got, want)
			}
		}
	}
	if found < 1000 || counted < 100 {
		t.Errorf("only %d roots and %d exact counts were tested", found, counted)
	}
}

// decisive tells whether p is clear of zero at both ends and at the real turning
// points in between, found here by plain sampling.
func decisive(c []float64, a, b float64) bool {
	x := between(a, b, 2000)
	clear := func(x float64) bool { return math.Abs(Eval(c, x)) > 1e-6*EvalAbs(c, x) }
	ok := clear(a) && clear(b)
	for i := 1; i+1 < len(x); i++ {
		l, m, r := math.Abs(Eval(c, x[i-1])), math.Abs(Eval(c, x[i])), math.Abs(Eval(c, x[i+1]))
		if m <= l && m <= r && math.Signbit(Eval(c, x[i-1])) == math.Signbit(Eval(c, x[i+1])) {
			ok = ok && clear(x[i])
		}
	}
	return ok
}
