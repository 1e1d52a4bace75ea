package poly

import (
	"math"
	"math/big"
	"slices"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
)

func TestEvalByHand(t *testing.T) {
	for _, tc := range []struct {
		c            []float64
		x            float64
		v, dv, total float64
	}{
		{nil, 3, 0, 0, 0},
		{[]float64{5}, 3, 5, 0, 5},
		{[]float64{5, -2}, 3, -1, -2, 11},
		{[]float64{1, 2, 3}, 2, 17, 14, 17},
		{[]float64{1, 2, 3}, -2, 9, -10, 17},
		{[]float64{0, 0, 0, -1}, -2, 8, -12, 8},
		{[]float64{7, -1, 1}, 0, 7, -1, 7},
	} {
		v, dv := EvalBoth(tc.c, tc.x)
		if got := Eval(tc.c, tc.x); got != tc.v || v != tc.v || dv != tc.dv {
			t.Errorf("%v at %g: Eval %g, EvalBoth %g %g, want %g %g", tc.c, tc.x, got, v, dv, tc.v, tc.dv)
		}
		if got := EvalAbs(tc.c, tc.x); got != tc.total {
			t.Errorf("EvalAbs(%v, %g) = %g, want %g", tc.c, tc.x, got, tc.total)
		}
	}
}

func TestArithmeticByHand(t *testing.T) {
	p, q := []float64{1, 2, 3}, []float64{-1, 4}
	for _, tc := range []struct {
		name      string
		got, want []float64
	}{
		{"Add", Add(nil, p, q), []float64{0, 6, 3}},
		{"Add, shorter first", Add(nil, q, p), []float64{0, 6, 3}},
		{"Add nothing", Add(nil, p, nil), p},
		{"Scale", Scale(nil, p, -2), []float64{-2, -4, -6}},
		{"Mul", Mul(nil, p, q), []float64{-1, 2, 5, 12}},
		{"Mul by nothing", Mul([]float64{1}, p, nil), []float64{}},
		{"Shift", Shift(nil, p, 2), []float64{17, 14, 3}},
		{"Shift by 0", Shift(nil, p, 0), p},
		{"Shift nothing", Shift(nil, nil, 2), []float64{}},
		{"Stretch", Stretch(nil, p, -2), []float64{1, -4, 12}},
		{"Stretch to nothing", Stretch(nil, p, 0), []float64{1, 0, 0}},
		{"Derivative", Derivative(nil, p), []float64{2, 6}},
		{"Derivative of a constant", Derivative([]float64{9}, []float64{5}), []float64{}},
		{"Derivative of nothing", Derivative(nil, nil), []float64{}},
		{"Antiderivative", Antiderivative(nil, p), []float64{0, 1, 1, 1}},
		{"Antiderivative of nothing", Antiderivative([]float64{9}, nil), []float64{}},
	} {
		if !slices.Equal(tc.got, tc.want) {
			t.Errorf("%s = %v, want %v", tc.name, tc.got, tc.want)
		}
	}
	// x + x² + x³ between the ends.
	for _, tc := range []struct{ a, b, want float64 }{{0, 2, 14}, {2, 0, -14}, {1, 2, 11}, {-1, 1, 4}, {2, 2, 0}} {
		if got := Integral(p, tc.a, tc.b); !(math.Abs(got-tc.want) <= 4*epsilon*14) {
			t.Errorf("Integral from %g to %g = %g, want %g", tc.a, tc.b, got, tc.want)
		}
	}
	if got := Integral(nil, 1, 2); got != 0 {
		t.Errorf("Integral of nothing = %g", got)
	}
}

// Each function against exact rational arithmetic, up to degree 24. The
// tolerances are a priori rounding bounds, n·2⁻⁵² of the sum of the absolute
// values of what is added up: Horner's rule has 2n roundings of 2⁻⁵³.
func TestArithmeticExact(t *testing.T) {
	rng := seeded(1)
	for n := 0; n <= 25; n++ {
		for range 3 {
			c, d := random(rng, n, 10), random(rng, 1+rng.IntN(25), 10)
			x := rng.NormFloat64() * 2
			p, q, xr := ratPoly(c), ratPoly(d), rat(x)
			eps := float64(n+1) * epsilon
			within := func(name string, got float64, want *big.Rat, bound float64) {
				t.Helper()
				if !(off(got, want) <= bound) {
					t.Fatalf("n=%d %s = %v, want %v ± %.2g (off %.2g)\nc=%v x=%v", n, name, got, float(want), bound, off(got, want), c, x)
				}
			}

			within("Eval", Eval(c, x), ratEval(p, xr), eps*EvalAbs(c, x))
			v, dv := EvalBoth(c, x)
			within("EvalBoth", v, ratEval(p, xr), eps*EvalAbs(c, x))
			within("EvalBoth'", dv, ratEval(ratDerivative(p), xr), 2*eps*EvalAbs(Derivative(nil, c), x))
			absC := make([]float64, n)
			for i := range c {
				absC[i] = math.Abs(c[i])
			}
			total := ratEval(ratPoly(absC), new(big.Rat).Abs(xr))
			within("EvalAbs", EvalAbs(c, x), total, eps*float(total))

			for i, got := range Add(nil, c, d) {
				want := new(big.Rat)
				if i < len(p) {
					want.Add(want, p[i])
				}
				if i < len(q) {
					want.Add(want, q[i])
				}
				if got != float(want) {
					t.Fatalf("Add [%d] = %v, want %v", i, got, float(want))
				}
			}
			for i, got := range Scale(nil, c, x) {
				if want := new(big.Rat).Mul(p[i], xr); got != float(want) {
					t.Fatalf("Scale [%d] = %v, want %v", i, got, float(want))
				}
			}
			for i, got := range Mul(nil, c, d) {
				sum := 0.0
				for j := range c {
					if k := i - j; k >= 0 && k < len(d) {
						sum += math.Abs(c[j] * d[k])
					}
				}
				within("Mul", got, ratMul(p, q)[i], eps*sum)
			}
			shifted := ratBinomial(p, xr)
			bound := floats(ratBinomial(ratPoly(absC), new(big.Rat).Abs(xr)))
			for i, got := range Shift(nil, c, x) {
				within("Shift", got, shifted[i], 2*eps*bound[i])
			}
			pow := big.NewRat(1, 1)
			for i, got := range Stretch(nil, c, x) {
				want := new(big.Rat).Mul(p[i], pow)
				within("Stretch", got, want, eps*math.Abs(float(want)))
				pow = new(big.Rat).Mul(pow, xr)
			}
			for i, got := range Derivative(nil, c) {
				if want := ratDerivative(p)[i]; got != float(want) {
					t.Fatalf("Derivative [%d] = %v, want %v", i, got, float(want))
				}
			}
			anti := Antiderivative(nil, c)
			for i := range anti {
				want := new(big.Rat)
				if i > 0 {
					want.Quo(p[i-1], big.NewRat(int64(i), 1))
				}
				if anti[i] != float(want) {
					t.Fatalf("Antiderivative [%d] = %v, want %v", i, anti[i], float(want))
				}
			}
		}
	}
}

// The intervals: ordinary, reversed, about zero, and short and far from zero,
// where the difference of two antiderivatives would lose everything.
func TestIntegralExact(t *testing.T) {
	rng := seeded(2)
	for n := 1; n <= 25; n++ {
		for _, iv := range [][2]float64{{0, 1.7}, {1.7, 0}, {-1.3, 2.1}, {-2.1, -0.4}, {3, 3.001}, {1e6, 1e6 + 0x1p-10}, {-1e6, 1 - 1e6}, {1e-9, 2e-9}} {
			c := random(rng, n, 4)
			a, b := rat(iv[0]), rat(iv[1])
			anti := []*big.Rat{new(big.Rat)}
			for i, v := range ratPoly(c) {
				anti = append(anti, new(big.Rat).Quo(v, big.NewRat(int64(i+1), 1)))
			}
			want := new(big.Rat).Sub(ratEval(anti, b), ratEval(anti, a))
			// ∫ Σ|c||x|ⁱ is at most this.
			scale := math.Abs(iv[1]-iv[0]) * EvalAbs(c, math.Max(math.Abs(iv[0]), math.Abs(iv[1])))
			if got := Integral(c, iv[0], iv[1]); !(off(got, want) <= 2*float64(n+1)*epsilon*scale) {
				t.Errorf("n=%d %v: %v, want %v, off %.2g of %.2g", n, iv, got, float(want), off(got, want), scale)
			}
		}
	}
}

// Gauss-Legendre quadrature with 13 points is exact up to degree 25.
func TestIntegralQuadrature(t *testing.T) {
	rng := seeded(3)
	for n := 1; n <= 25; n++ {
		c := random(rng, n, 2)
		a, b := -rng.Float64(), rng.Float64()*1.5
		want := quad.Fixed(func(x float64) float64 { return Eval(c, x) }, a, b, 13, quad.Legendre{}, 0)
		if got := Integral(c, a, b); !(math.Abs(got-want) <= 1e-13*(b-a)*EvalAbs(c, 1.5)) {
			t.Errorf("n=%d: %v, by quadrature %v", n, got, want)
		}
		anti := Antiderivative(nil, c)
		if got := Eval(anti, b) - Eval(anti, a); !(math.Abs(got-want) <= 1e-13*(b-a+1)*EvalAbs(c, 1.5)) {
			t.Errorf("n=%d: antiderivative %v, by quadrature %v", n, got, want)
		}
	}
}

func TestShiftThere(t *testing.T) {
	// Values, not coefficients: q(x) = p(x0+x) at points of their own.
	rng := seeded(4)
	for n := 1; n <= 25; n++ {
		c := random(rng, n, 2)
		for _, x0 := range []float64{0.3, -1.1, 2} {
			q := Shift(nil, c, x0)
			s := Stretch(nil, q, 0.25)
			for _, x := range []float64{0, 0.5, 1} {
				bound := 1e-14 * float64(n) * EvalAbs(c, math.Abs(x0)+x)
				if got, want := Eval(q, x), Eval(c, x0+x); !(math.Abs(got-want) <= bound) {
					t.Errorf("n=%d x0=%g: q(%g) = %g, p = %g", n, x0, x, got, want)
				}
				if got, want := Eval(s, x), Eval(c, x0+x/4); !(math.Abs(got-want) <= bound) {
					t.Errorf("n=%d x0=%g: stretched q(%g) = %g, p = %g", n, x0, x, got, want)
				}
			}
		}
	}
}

func TestStretchNearTheEndsOfTheRange(t *testing.T) {
	for _, tc := range []struct {
		c    []float64
		h    float64
		want []float64
	}{
		{[]float64{1, 0, 0, 0}, 1e200, []float64{1, 0, 0, 0}},                        // 0 · overflow
		{[]float64{1, 1e-200, 1e-300}, 1e200, []float64{1, 1, 1e100}},                // h² overflows, the product does not
		{[]float64{1, 1e200, 1e300}, 1e-200, []float64{1, 1, 1e-100}},                // h² underflows
		{[]float64{0, 0, 1e308, 1e308}, 1e-105, []float64{0, 0, 1e98, 1e-7}},         // h³ is denormal
		{[]float64{0, 0, 0, -1}, -1e200, []float64{0, 0, 0, math.Inf(1)}},            // a true overflow
		{[]float64{0, 0, 0, 1e-300}, 1e-300, []float64{0, 0, 0, 0}},                  // a true underflow
		{[]float64{0, 0, 1, -5e-324}, -1e108, []float64{0, 0, 1e216, 4.94065645841}}, // the least number times 1e324
	} {
		got := Stretch(nil, tc.c, tc.h)
		for i := range got {
			if !(got[i] == tc.want[i] || math.Abs(got[i]-tc.want[i]) <= 1e-8*math.Abs(tc.want[i])) {
				t.Errorf("Stretch(%v, %g) = %v, want %v", tc.c, tc.h, got, tc.want)
				break
			}
		}
	}
}

// Whatever dst is, the result is the same and only dst is written.
func TestDst(t *testing.T) {
	c, d := []float64{1, -2, 3, -4, 5}, []float64{7, 11, 13}
	for _, f := range []struct {
		name  string
		call  func(dst, in []float64) []float64
		alias bool
	}{
		{"Add", func(dst, in []float64) []float64 { return Add(dst, in, d) }, true},
		{"Add to the shorter", func(dst, in []float64) []float64 { return Add(dst, in, []float64{1, 2, 3, 4, 5, 6, 7}) }, true},
		{"Add second", func(dst, in []float64) []float64 { return Add(dst, d, in) }, true},
		{"Scale", func(dst, in []float64) []float64 { return Scale(dst, in, 3) }, true},
		{"Mul", func(dst, in []float64) []float64 { return Mul(dst, in, d) }, false},
		{"Shift", func(dst, in []float64) []float64 { return Shift(dst, in, 0.5) }, true},
		{"Shift by 0", func(dst, in []float64) []float64 { return Shift(dst, in, 0) }, true},
		{"Stretch", func(dst, in []float64) []float64 { return Stretch(dst, in, 0.5) }, true},
		{"Derivative", func(dst, in []float64) []float64 { return Derivative(dst, in) }, true},
		{"Antiderivative", func(dst, in []float64) []float64 { return Antiderivative(dst, in) }, true},
		{"Roots", func(dst, in []float64) []float64 { return Roots(dst, in, -1, 1) }, false},
	} {
		want := f.call(nil, slices.Clone(c))
		room := slices.Repeat([]float64{math.NaN()}, 12)
		for _, dst := range [][]float64{room, room[:0], room[:1:1]} {
			in := slices.Clone(c)
			if got := f.call(dst, in); !equal(got, want) || !equal(in, c) {
				t.Errorf("%s into %d of %d: %v, want %v; input %v", f.name, len(dst), cap(dst), got, want, in)
			}
		}
		if !f.alias {
			continue
		}
		for _, extra := range []int{0, 12} {
			in := slices.Grow(slices.Clone(c), extra)
			if got := f.call(in, in); !equal(got, want) {
				t.Errorf("%s in place: %v, want %v", f.name, got, want)
			}
		}
	}
}
