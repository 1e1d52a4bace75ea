package poly

import (
	"math"
	"math/big"
	"testing"
)

func TestExtremaByHand(t *testing.T) {
	for _, tc := range []struct {
		name                   string
		c                      []float64
		a, b                   float64
		min, atMin, max, atMax float64
	}{
		{"nothing", nil, 1, 2, 0, 1, 0, 1},
		{"constant, first place", []float64{3}, 1, 2, 3, 1, 3, 1},
		{"rising", []float64{1, 2}, 1, 3, 3, 1, 7, 3},
		{"falling", []float64{1, -2}, 1, 3, -5, 3, -1, 1},
		{"one point", []float64{1, -2, 5}, 2, 2, 17, 2, 17, 2},
		{"parabola", []float64{0, -2, 1}, 0, 4, -1, 1, 8, 4},
		{"parabola, apex outside", []float64{0, -2, 1}, 2, 4, 0, 2, 8, 4},
		{"parabola, equal ends", []float64{0, 1, -1}, 0, 1, 0, 0, 0.25, 0.5},
		{"parabola, apex at the end", []float64{0, -2, 1}, 0, 1, -1, 1, 0, 0},
		{"cubic", []float64{0, -3, 0, 1}, -3, 3, -18, -3, 18, 3},
		{"cubic, inner", []float64{0, -3, 0, 1}, -1.5, 1.5, -2, 1, 2, -1},
		{"saddle", []float64{0, 0, 0, 1}, -1, 1, -1, -1, 1, 1},
		{"quartic, first of two", []float64{0, 0, -2, 0, 1}, -1.25, 1.25, -1, -1, 0, 0},
		{"leading zeros", []float64{0, -2, 1, 0, 0}, 0, 4, -1, 1, 8, 4},
		{"tiny leading", []float64{0, -2, 1, 1e-18}, 0, 4, -1, 1, 8, 4},
		{"huge", []float64{0, -0x1p1023, 0x1p1023}, 0, 1, -0x1p1021, 0.5, 0, 0},
		{"huge quartic", []float64{0, 0, -0x1p1023, 0, 0x1p1022}, 0, 1, -0x1p1022, 1, 0, 0},
		{"huge, inside", []float64{0, 0x1p1023, -0x1p1022 * 1.5, 0, 0}, 0, 1, 0, 0, 0x1p1023 / 3, 2.0 / 3},
		{"tiny", []float64{0, -0x1p-1000, 0x1p-1000}, 0, 1, -0x1p-1002, 0.5, 0, 0},
		{"wide", []float64{0, 2, -0x1p-600}, 0, 0x1p602, -0x1p603, 0x1p602, 0x1p600, 0x1p600},
	} {
		t.Run(tc.name, func(t *testing.T) {
			min, atMin, max, atMax := Extrema(tc.c, tc.a, tc.b)
			for _, v := range [][2]float64{{min, tc.min}, {atMin, tc.atMin}, {max, tc.max}, {atMax, tc.atMax}} {
				if !(math.Abs(v[0]-v[1]) <= 2*epsilon*math.Abs(v[1])) {
					t.Fatalf("got %v at %v, %v at %v; want %v at %v, %v at %v", min, atMin, max, atMax, tc.min, tc.atMin, tc.max, tc.atMax)
				}
			}
		})
	}
}

// No sample is beyond the extrema by more than rounding, and the extrema are
// values of p.
func TestExtremaSampled(t *testing.T) {
	rng := seeded(30)
	inner := 0
	for i := range 3000 {
		c := random(rng, rng.IntN(26), []float64{0, 3, 15}[i%3])
		a := rng.NormFloat64()
		b := a + rng.ExpFloat64()
		switch rng.IntN(3) {
		case 0:
			a, b = 0, rng.ExpFloat64()
		case 1:
			a *= 1e3
			b = a + rng.Float64()
		}
		lo, atLo, hi, atHi := Extrema(c, a, b)
		if !(atLo >= a && atLo <= b && atHi >= a && atHi <= b) || Eval(c, atLo) != lo || Eval(c, atHi) != hi || lo > hi {
			t.Fatalf("%v on [%v, %v]: %v at %v, %v at %v", c, a, b, lo, atLo, hi, atHi)
		}
		if atLo > a && atLo < b {
			inner++
		}
		for _, x := range between(a, b, 300) {
			v, slack := Eval(c, x), noise(len(c))*EvalAbs(c, x)
			if !(v >= lo-slack && v <= hi+slack) {
				t.Errorf("%v on [%v, %v]: p(%v) = %v outside [%v, %v] by %.2g rounding", c, a, b, x, v, lo, hi, math.Max(lo-v, v-hi)/slack)
				break
			}
		}
	}
	if inner < 250 {
		t.Errorf("only %d minima inside", inner)
	}
}

// Range encloses the exact values.
func TestRangeExact(t *testing.T) {
	rng := seeded(31)
	for i := range 400 {
		c := random(rng, 1+rng.IntN(25), []float64{0, 3, 30}[i%3])
		h := rng.ExpFloat64()
		if i%4 == 0 {
			// Signs that add up to the bound itself.
			for k := range c {
				c[k] = math.Abs(c[k])
			}
		}
		lo, hi := Range(c, h)
		p := ratPoly(c)
		for _, x := range between(0, h, 9) {
			v := ratEval(p, rat(x))
			if v.Cmp(rat(lo)) < 0 || v.Cmp(rat(hi)) > 0 {
				t.Errorf("%v on [0, %v]: p(%v) = %v outside [%v, %v]", c, h, x, float(v), lo, hi)
			}
			if e := Eval(c, x); e < lo || e > hi {
				t.Errorf("%v on [0, %v]: Eval(%v) = %v outside [%v, %v]", c, h, x, e, lo, hi)
			}
		}
		// Not needlessly wide: c[0] ± Σ|c[i]| hⁱ.
		r := new(big.Rat).Sub(rat(hi), rat(lo))
		if want := 2 * (EvalAbs(c, h) - math.Abs(c[0])); !(float(r) <= want+4*noise(len(c))*EvalAbs(c, h)) {
			t.Errorf("%v on [0, %v]: width %v, want %v", c, h, float(r), want)
		}
	}
}

func TestRangeByHand(t *testing.T) {
	inf := math.Inf(1)
	for _, tc := range []struct {
		c      []float64
		h      float64
		lo, hi float64
	}{
		{nil, 2, 0, 0},
		{[]float64{5}, 2, 5, 5},
		{[]float64{5, -1}, 2, 3, 7},
		{[]float64{5, -1, 1}, 2, -1, 11},
		{[]float64{1, 0, 0, 0}, 1e200, 1, 1},                   // 0 · overflow
		{[]float64{1, 0, 1e-300}, 1e200, 1 - 1e100, 1 + 1e100}, // h² overflows, the term does not
		{[]float64{1, 0, 1e300}, 1e-200, 1, 1},
		{[]float64{1, 0, 1}, 1e200, -inf, inf},
	} {
		lo, hi := Range(tc.c, tc.h)
		for _, v := range [][2]float64{{lo, tc.lo}, {hi, tc.hi}} {
			if !(v[0] == v[1] || math.Abs(v[0]-v[1]) <= 1e-13*math.Abs(v[1])) {
				t.Errorf("Range(%v, %g) = %v, %v, want %v, %v", tc.c, tc.h, lo, hi, tc.lo, tc.hi)
			}
		}
	}
}
