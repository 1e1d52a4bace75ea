package poly

import (
	"math"
	"math/big"
	"slices"
	"testing"
)

// b[j] = Σ C(j,i)/C(n,i) q[i], straight from the definition and exactly.
func TestBernsteinExact(t *testing.T) {
	rng := seeded(50)
	for n := 0; n <= 24; n++ {
		c := random(rng, n+1, 3)
		for _, iv := range [][2]float64{{0, 1}, {0, 2.5}, {0.75, 2}, {3, 3.5}} {
			b := bernstein(nil, c, iv[0], iv[1])
			q := ratBinomial(ratPoly(c), rat(iv[0]))
			h := new(big.Rat).Sub(rat(iv[1]), rat(iv[0]))
			for j, got := range b {
				want, pow := new(big.Rat), big.NewRat(1, 1)
				for i := 0; i <= j; i++ {
					w := new(big.Rat).SetFrac(new(big.Int).Binomial(int64(j), int64(i)), new(big.Int).Binomial(int64(n), int64(i)))
					want.Add(want, w.Mul(w, new(big.Rat).Mul(q[i], pow)))
					pow = new(big.Rat).Mul(pow, h)
				}
				if tol := 2 * noise(n+1) * EvalAbs(c, iv[1]); !(off(got, want) <= tol) {
					t.Errorf("degree %d on %v: b[%d] = %v, want %v, off %.2g of %.2g", n, iv, j, got, float(want), off(got, want), tol)
				}
			}
			// Ends are values; differences belong to the derivative, times its degree
			// and over the length.
			if n == 0 {
				continue
			}
			d := bernstein(nil, Derivative(nil, c), iv[0], iv[1])
			for j, got := range differences(b) {
				want := d[j] * (iv[1] - iv[0]) / float64(n)
				if tol := 4 * noise(n+1) * EvalAbs(c, iv[1]); !(math.Abs(got-want) <= tol) {
					t.Errorf("degree %d on %v: difference %d = %v, want %v", n, iv, j, got, want)
				}
			}
		}
	}
}

// Against every choice of signs for the entries that are not certain.
func TestMaxSignChanges(t *testing.T) {
	for n := 0; n <= 7; n++ {
		for code := range int(math.Pow(3, float64(n))) {
			b := make([]float64, n)
			for i, k := 0, code; i < n; i, k = i+1, k/3 {
				b[i] = []float64{-2, 0.5, 2}[k%3]
				if i%2 == 1 && k%3 == 1 {
					b[i] = -1 // of size tol: not certain
				}
			}
			want := 0
			for signs := range 1 << n {
				changes, last := 0, 0
				for i, v := range b {
					s := 1 - 2*(signs>>i&1)
					if v > 1 {
						s = 1
					} else if v < -1 {
						s = -1
					}
					if last != 0 && s != last {
						changes++
					}
					last = s
				}
				want = max(want, changes)
			}
			if got := maxSignChanges(b, 1); got != want && n > 0 {
				t.Errorf("maxSignChanges(%v) = %d, want %d", b, got, want)
			}
		}
	}
}

func TestNthDerivativeExact(t *testing.T) {
	rng := seeded(51)
	for n := 1; n <= 25; n++ {
		c := random(rng, n, 2)
		p := ratPoly(c)
		for k := range n {
			for i, got := range nthDerivative(nil, c, k) {
				if !(off(got, p[i]) <= epsilon*math.Abs(got)) {
					t.Errorf("n=%d k=%d: [%d] = %v, want %v", n, k, i, got, float(p[i]))
				}
			}
			p = ratDerivative(p)
			for i := range p {
				p[i].Quo(p[i], big.NewRat(int64(k+1), 1))
			}
		}
	}
}

func TestVertex(t *testing.T) {
	for _, tc := range []struct {
		c      []float64
		lo, hi float64
		k      int
	}{
		{[]float64{9, -2, 1}, 0, 2, 1},
		{[]float64{9, -2, 1}, 1, 2, 0},
		{[]float64{9, -2, 1}, 0, 1, 0},
		{[]float64{9, -2, 1}, 2, 3, 0},
		{[]float64{9, -2, 0}, 0, 1, 0},
		{[]float64{9, 2, 0}, 0, 1, 0},
		{[]float64{9, 0, 0}, 0, 1, 0},
	} {
		if x, k := vertex(tc.c, tc.lo, tc.hi); k != tc.k || k == 1 && x[0] != 1 {
			t.Errorf("vertex(%v, %g, %g) = %v, %d, want %d", tc.c, tc.lo, tc.hi, x, k, tc.k)
		}
	}
}

func TestBracketed(t *testing.T) {
	for _, tc := range []struct {
		name             string
		d                []float64
		lo, hi, vlo, vhi float64
		want             float64
	}{
		// Values at the ends that rounding has got wrong: the result stays inside.
		{"linear, below", []float64{-1, 4}, 0.3, 1, -1e-9, 3, 0.3},
		{"linear, above", []float64{-1, 4}, 0, 0.2, -1, 1e-9, 0.2},
		{"quadratic, below", []float64{-1, 0, 4}, 0.6, 1, -1e-9, 3, 0.6},
		{"quadratic, above", []float64{-1, 0, 4}, 0, 0.4, -1, 1e-9, 0.4},
		// 1/16 + t + 2t³ - t⁴ with t = x - 1/2. The first guess is 1/2, where the
		// second derivative vanishes and says nothing of what a step leaves.
		{"inflection", Shift(nil, []float64{1. / 16, 1, 0, 2, -1}, -0.5), 0, 1, -0.75, 0.75, 0.4379916331},
		{"far down", []float64{-0x1p-1000, 0, 0, 0, 1}, 0, 1, -0x1p-1000, 1, 0x1p-250},
		{"farther down", []float64{-0x1p-1000, 0x1p-40, 0, 0, 0, 0, 0, 0, 1}, 0, 1, -0x1p-1000, 1, 0x1p-960},
	} {
		got := bracketed(tc.d, tc.lo, tc.hi, tc.vlo, tc.vhi, epsilon/4)
		if !(math.Abs(got-tc.want) <= 1e-9*tc.want) {
			t.Errorf("%s: %v, want %v", tc.name, got, tc.want)
		}
	}
}

// Halving the count of numbers between two others meets any of them in 64 steps.
func TestMiddle(t *testing.T) {
	for _, target := range []float64{0, 5e-324, 1e-310, 1e-100, 0.3, 1, 1e300} {
		lo, hi, steps := 0.0, math.MaxFloat64, 0
		for ; math.Nextafter(lo, hi) < hi; steps++ {
			if m := middle(lo, hi, true); m <= target {
				lo = m
			} else {
				hi = m
			}
		}
		if steps > 64 || lo != target {
			t.Errorf("%g: met %g after %d steps", target, lo, steps)
		}
	}
	if got := middle(1, 4, false); got != 2.5 {
		t.Errorf("middle of 1 and 4 = %v", got)
	}
}

// A root at an end of the interval is that end, although p there is only
// rounding and may have either sign.
func TestRootsAtTheEnds(t *testing.T) {
	rng := seeded(52)
	for range 300 {
		k := build(rng, 2+rng.IntN(4), 1, []int{0, 8, 16}[rng.IntN(3)])
		// All roots on one side, so that no end is zero.
		c := floats(ratBinomial(ratPoly(k.c), rat(-1.5)))
		var want []float64
		for _, r := range k.roots {
			want = append(want, r+1.5)
		}
		got := Roots(nil, c, want[0], want[len(want)-1])
		if len(got) != len(want) || got[0] != want[0] || got[len(got)-1] != want[len(want)-1] {
			t.Errorf("%v: %v, want %v", c, got, want)
		}
	}
}

// Where rounding is as large as p, only what is returned can be checked; this is
// what the cuts, the merging and their order are for.
func TestRootsBlurred(t *testing.T) {
	rng := seeded(53)
	fewer := 0
	for range 1500 {
		n := 10 + rng.IntN(15)
		c, b := []float64{1}, 0.0
		var roots []float64
		for range n {
			b += 0.2 + rng.Float64()
			if rng.IntN(4) == 0 && len(roots) > 0 {
				b = roots[len(roots)-1]
			}
			roots = append(roots, b)
			c = Mul(nil, c, []float64{-b, 1})
		}
		got := Roots(nil, c, 0, b+1)
		if err := checkRoots(c, 0, b+1, got); err != nil {
			t.Errorf("roots %v: %v", roots, err)
		}
		slices.Sort(roots)
		if len(got) < len(slices.Compact(roots)) {
			fewer++
		}
	}
	if fewer < 300 {
		t.Errorf("only %d are blurred", fewer)
	}
}
