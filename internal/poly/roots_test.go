package poly

import (
	"math"
	"slices"
	"testing"
)

// Roots known by hand. The tolerance is absolute.
func TestRootsByHand(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	third := 1.0 / 3
	for _, tc := range []struct {
		name string
		c    []float64
		a, b float64
		want []float64
		tol  float64
	}{
		{"nothing", nil, 0, 1, nil, 0},
		{"zero", []float64{0, 0, 0}, 0, 1, nil, 0},
		{"constant", []float64{3}, 0, 1, nil, 0},
		{"constant with leading zeros", []float64{-3, 0, 0}, -1, 1, nil, 0},
		{"empty interval", []float64{-1, 1}, 2, 0, nil, 0},
		{"NaN limit", []float64{-1, 1}, nan, 2, nil, 0},
		{"NaN limit 2", []float64{-1, 1}, 0, nan, nil, 0},
		{"infinite limit", []float64{-1, 1}, 0, inf, nil, 0},
		{"infinite limit 2", []float64{-1, 1}, -inf, 0, nil, 0},
		{"NaN coefficient", []float64{-1, nan, 1}, 0, 2, nil, 0},
		{"infinite coefficient", []float64{-1, inf, 1}, 0, 2, nil, 0},
		{"NaN leading", []float64{-1, 1, nan}, -2, 2, nil, 0},

		{"linear", []float64{-1, 4}, 0, 1, []float64{0.25}, 0},
		{"linear, falling", []float64{1, -4}, 0, 1, []float64{0.25}, 0},
		{"linear, at the start", []float64{-1, 4}, 0.25, 1, []float64{0.25}, 0},
		{"linear, at the end", []float64{-1, 4}, 0, 0.25, []float64{0.25}, 0},
		{"linear, just before", []float64{-1, 4}, 0.25 + 1e-12, 1, nil, 0},
		{"linear, just after", []float64{-1, 4}, 0, 0.25 - 1e-12, nil, 0},
		{"linear, single point", []float64{-1, 4}, 0.25, 0.25, []float64{0.25}, 0},
		{"linear, other single point", []float64{-1, 4}, 0.5, 0.5, nil, 0},
		{"linear, negative side", []float64{1, 4}, -1, 0, []float64{-0.25}, 0},
		{"linear, negative point", []float64{1, 4}, -0.25, -0.25, []float64{-0.25}, 0},
		{"x at zero", []float64{0, 1}, 0, 0, []float64{0}, 0},
		{"x from zero", []float64{0, 2}, 0, 1, []float64{0}, 0},
		{"x to zero", []float64{0, 2}, -1, 0, []float64{0}, 0},
		{"x about zero", []float64{0, 2}, -1, 1, []float64{0}, 0},
		{"x elsewhere", []float64{0, 2}, 1, 2, nil, 0},
		{"x elsewhere below", []float64{0, 2}, -2, -1, nil, 0},

		{"√2", []float64{-2, 0, 1}, 0, 2, []float64{math.Sqrt2}, epsilon},
		{"±√2", []float64{-2, 0, 1}, -2, 2, []float64{-math.Sqrt2, math.Sqrt2}, epsilon},
		{"±√2 turned over", []float64{2, 0, -1}, -2, 2, []float64{-math.Sqrt2, math.Sqrt2}, epsilon},
		{"none", []float64{1, 0, 1}, -9, 9, nil, 0},
		{"none, close", []float64{1.0001, -2, 1}, 0, 2, nil, 0},
		{"two in one half", []float64{3, -4, 1}, 0, 4, []float64{1, 3}, 4 * epsilon},
		{"two, one outside", []float64{3, -4, 1}, 0, 2, []float64{1}, 4 * epsilon},
		{"two, both ends", []float64{3, -4, 1}, 1, 3, []float64{1, 3}, 0},
		{"two, falling branch", []float64{-3, 4, -1}, 0, 4, []float64{1, 3}, 4 * epsilon},
		{"two negative", []float64{3, 4, 1}, -4, 0, []float64{-3, -1}, 4 * epsilon},
		// 1e-8 + 1e-24 + …, where the textbook formula keeps no digit.
		{"far apart", []float64{1, -1e8, 1}, 0, 2e8, []float64{1e-8, 1e8}, 1e-7},
		{"far apart, the small one", []float64{1, -1e8, 1}, 0, 1, []float64{1e-8}, 1e-23},
		{"far apart, negative", []float64{1, 1e8, 1}, -1, 0, []float64{-1e-8}, 1e-23},
		{"double", []float64{1, -2, 1}, 0, 3, []float64{1}, 0},
		{"double, at the start", []float64{1, -2, 1}, 1, 3, []float64{1}, 0},
		{"double, at the end", []float64{1, -2, 1}, 0, 1, []float64{1}, 0},
		{"double at zero", []float64{0, 0, 1}, 0, 1, []float64{0}, 0},
		{"double at zero, both sides", []float64{0, 0, 1}, -1, 1, []float64{0}, 0},
		{"double, not dyadic", fromRoots(0.3, 0.3), 0, 1, []float64{0.3}, 1e-8},
		{"close pair", fromRoots(0.5, 0.5+1e-5), 0, 1, []float64{0.5, 0.5 + 1e-5}, 1e-10},

		{"three and both ends", []float64{0, 0.5, -1.5, 1}, 0, 1, []float64{0, 0.5, 1}, epsilon},
		{"triple", []float64{-1, 3, -3, 1}, 0, 3, []float64{1}, 0},
		{"triple, not dyadic", fromRoots(0.3, 0.3, 0.3), 0, 1, []float64{0.3}, 3e-5},
		{"triple at the end", fromRoots(0.3, 0.3, 0.3), 0, 0.3, []float64{0.3}, 3e-5},
		{"triple at the start", fromRoots(0.3, 0.3, 0.3), 0.3, 1, []float64{0.3}, 3e-5},
		{"triple at zero", []float64{0, 0, 0, 1, 1}, -0.5, 1, []float64{0}, 0},
		{"quadruple", fromRoots(third, third, third, third), 0, 1, []float64{third}, 5e-4},
		{"twice double", fromRoots(0.2, 0.2, 0.7, 0.7), 0, 1, []float64{0.2, 0.7}, 1e-7},
		{"double and simple", fromRoots(0.2, 0.7, 0.7, -0.4), -1, 1, []float64{-0.4, 0.2, 0.7}, 1e-7},
		{"four", fromRoots(0.1, 0.2, 0.6, 0.9), 0, 1, []float64{0.1, 0.2, 0.6, 0.9}, 1e-14},
		{"four, asked for two", fromRoots(0.1, 0.2, 0.6, 0.9), 0.15, 0.7, []float64{0.2, 0.6}, 1e-14},
		{"no roots, degree 4", []float64{1, -1, 1, -1, 1}, -2, 2, nil, 0},
		{"fifth root", []float64{-2, 0, 0, 0, 0, 1}, 0, 2, []float64{1.148698354997035}, epsilon},
		// Newton steps here come close by luck before they converge.
		{"regular hexagon but one", []float64{48, 48, 48, 48, 48, 48}, -50, 2, []float64{-1}, 4 * epsilon},
		{"flat quartic", []float64{-1e-12, 0, 0, 0, 1}, -1, 1, []float64{-1e-3, 1e-3}, 1e-18},

		// Leading coefficients that are only rounding.
		{"tiny leading, linear", []float64{-0.5, 1, 1e-300}, 0, 1, []float64{0.5}, 0},
		{"tiny leading, linear, 4th", []float64{-0.5, 1, 0, 1e-18, -1e-300}, 0, 1, []float64{0.5}, 0},
		{"tiny leading, quadratic", []float64{0.25, -1.25, 1, 1e-19}, 0, 2, []float64{0.25, 1}, 4 * epsilon},
		{"tiny leading, double", []float64{1, -2, 1, 1e-18}, 0, 2, []float64{1}, 1e-7},
		{"tiny leading, constant", []float64{1, 1e-17, 1e-17, 1e-17}, 0, 1, nil, 0},
		{"tiny first", []float64{1e-300, -1, 1}, 0, 1, []float64{1e-300, 1}, 0},

		// Far from zero, on a short interval.
		{"far", fromRoots(1000001, 1000002), 1e6, 1000003, []float64{1000001, 1000002}, 1e-2},
		{"far below", fromRoots(-1000001, -1000002), -1000003, -1e6, []float64{-1000002, -1000001}, 1e-2},
		{"far, linear", []float64{-1e9, 1}, 1e9 - 1, 1e9 + 1, []float64{1e9}, 0},
		{"far end", []float64{-1e9, 1}, 1e9 - 1, 1e9, []float64{1e9}, 0},
		// A root near zero inside a large interval keeps its own digits.
		{"small in large", []float64{-1e-20, 1}, -1, 1, []float64{1e-20}, 0},
		{"small in large, cubic", []float64{-1e-20, 1, 0, 1}, -1e3, 1e3, []float64{1e-20}, 1e-35},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got := Roots(nil, tc.c, tc.a, tc.b)
			if len(got) != len(tc.want) {
				t.Fatalf("Roots(%v, %v, %v) = %v, want %v", tc.c, tc.a, tc.b, got, tc.want)
			}
			for i := range got {
				if !(math.Abs(got[i]-tc.want[i]) <= tc.tol) {
					t.Errorf("Roots(%v, %v, %v) = %v, want %v ± %g", tc.c, tc.a, tc.b, got, tc.want, tc.tol)
				}
				if got[i] == 0 && math.Signbit(got[i]) {
					t.Errorf("negative zero in %v", got)
				}
			}
			if !finite(tc.c) || !(tc.b-tc.a < inf) {
				return
			}
			if err := checkRoots(tc.c, tc.a, tc.b, got); err != nil && tc.a <= tc.b {
				t.Error(err)
			}
		})
	}
}

// Coefficients and intervals near the ends of the float64 range; roots by hand,
// tolerance relative.
func TestRootsNearTheEndsOfTheRange(t *testing.T) {
	sparse := func(n int, at map[int]float64) []float64 {
		c := make([]float64, n+1)
		for i, v := range at {
			c[i] = v
		}
		return c
	}
	const least = math.SmallestNonzeroFloat64
	for _, tc := range []struct {
		name string
		c    []float64
		a, b float64
		want []float64
		tol  float64
	}{
		{"wide interval", sparse(4, map[int]float64{0: -1, 4: 1}), -1e200, 1e200, []float64{-1, 1}, epsilon},
		{"wide interval, degree 24", sparse(24, map[int]float64{0: -1, 24: 1}), -1e300, 1e300, []float64{-1, 1}, epsilon},
		{"widest interval", []float64{-1, 1}, -math.MaxFloat64, math.MaxFloat64, []float64{1}, epsilon},
		{"widest interval, cubic", []float64{-8, 0, 0, 1}, -math.MaxFloat64, math.MaxFloat64, []float64{2}, epsilon},
		{"small root", []float64{-1e-300, 0, 1e300}, 0, 1, []float64{1e-300}, 2 * epsilon},
		{"small roots", []float64{-1e-300, 0, 0, 1}, -1, 1, []float64{1e-100}, 2 * epsilon},
		{"small roots, flat", []float64{-1e-300, 0, 0, 0, 1}, -1, 1, []float64{-1e-75, 1e-75}, 2 * epsilon},
		{"large root", []float64{1e200, -1}, 0, 1e300, []float64{1e200}, epsilon},
		{"far apart", []float64{1e200, -1e200, 1}, 0, 1e300, []float64{1, 1e200}, 2 * epsilon},
		{"far apart, cubic", Mul(nil, []float64{1e100, -1e100, 1}, []float64{1e-100, 1}), -1, 1e300, []float64{-1e-100, 1, 1e100}, 8 * epsilon},
		{"huge coefficients", []float64{0.75e308, -1e308, 0.25e308}, 0, 4, []float64{1, 3}, 4 * epsilon},
		{"huge coefficients, quartic", Scale(nil, fromRoots(0.25, 0.5, 0.75, 1), 1e307), 0, 1, []float64{0.25, 0.5, 0.75, 1}, 1e-13},
		{"tiny coefficients", []float64{3e-305, -4e-305, 1e-305}, 0, 4, []float64{1, 3}, 8 * epsilon},
		{"tiny quartic", Scale(nil, []float64{3, -16, 31, -26, 8}, 0x1p-1000), 0, 1, []float64{0.5, 0.75, 1}, 1e-7}, // 8(x-½)(x-¾)(x-1)²
		{"denormal, double", []float64{506 * least, -2024 * least, 2024 * least}, 0, 1, []float64{0.5}, 1e-7},
		{"denormal, linear", []float64{-least, least}, 0, 2, []float64{1}, 0},
		{"denormal, cubic", []float64{-7 * least, 14 * least, -7 * least, 14 * least}, 0, 2, []float64{0.5}, epsilon}, // 7(2x-1)(x²+1)
		{"denormal interval", []float64{-5 * least, 2}, 0, 8 * least, []float64{2 * least}, 0.5},
		{"denormal interval, quadratic", []float64{-1e-310, 1, 1}, 0, 1e-309, []float64{1e-310}, 1e-10},
		{"mixed", []float64{-1e-200, 1, 1e200}, 0, 1, []float64{1e-200 * (math.Sqrt(5) - 1) / 2}, 4 * epsilon},
		{"mixed, steep", sparse(8, map[int]float64{0: -1e-250, 1: 1e-50, 8: 1e250}), 0, 1e-150, []float64{1e-200}, 2 * epsilon},
		{"hidden by underflow of powers", sparse(3, map[int]float64{0: -1e-160, 2: 1e260}), 0, 1e-200, []float64{1e-210}, 2 * epsilon},
		{"middle of nowhere", sparse(12, map[int]float64{0: 1e-120, 12: -1}), 0, 1e12, []float64{1e-10}, 4 * epsilon},
		{"denormal leading at large x", sparse(24, map[int]float64{0: -0x1p-290, 24: least}), 0, 0x1p33, []float64{math.Exp2(784.0 / 24)}, 1e-14},
		{"end of a tiny quadratic", []float64{3e-305, -4e-305, 1e-305}, 0, 0.5, nil, 0},
		{"large at small x", Stretch(nil, Scale(nil, fromRoots(0.2, 0.5, 0.7, 0.8, 0.9), 1.7e8), 1e60), 0, 1e-60, []float64{0.2e-60, 0.5e-60, 0.7e-60, 0.8e-60, 0.9e-60}, 1e-12},
		{"double at the cut", []float64{1, -2, 1}, 0, 1e200, []float64{1}, 0},
		{"double near the cut", fromRoots(1-1e-9, 1-1e-9, 3), 0, 1e200, []float64{1, 3}, 1e-6},
		{"double near the cut, above", fromRoots(1+1e-9, 1+1e-9, 3), 0, 1e200, []float64{1, 3}, 1e-6},
		{"simple at the cut", fromRoots(0.5, 1, 3), -1e200, 1e200, []float64{0.5, 1, 3}, 1e-14},
		{"huge, both sides of the cut", Scale(nil, fromRoots(0.5, 3), 4e307), 0, 1e10, []float64{0.5, 3}, 4 * epsilon},
		{"huge double at the cut", Scale(nil, fromRoots(1, 1, 3), 1e307), 0, 1e10, []float64{1, 3}, 1e-6},
		{"start above the cut", fromRoots(0.5, 1, 3), 2, 1e200, []float64{3}, 1e-14},
		{"end at the largest number", []float64{-math.MaxFloat64, 1}, 1, math.MaxFloat64, []float64{math.MaxFloat64}, 0},
		{"quadratic whose discriminant underflows", []float64{-1e-300, 0, 1e-80}, 0, 1, []float64{1e-110}, 2 * epsilon},
		{"root below the range", []float64{1e-200, 1e200}, -1, 1, []float64{0}, 0},
		{"roots below the range", []float64{0, 1e-200, 1e200}, -1, 1, []float64{0}, 0},
		{"zero times something huge", sparse(6, map[int]float64{0: 0, 1: -1, 6: 1}), -1e250, 1e250, []float64{0, 1}, epsilon},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got := Roots(nil, tc.c, tc.a, tc.b)
			ok := len(got) == len(tc.want)
			for i := range min(len(got), len(tc.want)) {
				ok = ok && !(got[i] == 0 && math.Signbit(got[i])) && math.Abs(got[i]-tc.want[i]) <= tc.tol*math.Abs(tc.want[i]) && got[i] >= tc.a && got[i] <= tc.b
			}
			if !ok {
				t.Errorf("Roots(%v, %v, %v) = %v, want %v ± %g of it", tc.c, tc.a, tc.b, got, tc.want, tc.tol)
			}
		})
	}
}

// More coefficients than fit the fixed buffers.
func TestRootsHighDegree(t *testing.T) {
	for _, n := range []int{33, 34, 35, 60, 199, 299, 300} {
		c := make([]float64, n+1)
		c[0], c[n] = -0.5, 1
		want := []float64{math.Pow(0.5, 1/float64(n))}
		if n%2 == 0 {
			want = []float64{-want[0], want[0]}
		}
		for _, b := range []float64{1.5, 1e9} {
			got := Roots(nil, c, -b, b)
			if len(got) != len(want) {
				t.Fatalf("x^%d = 1/2 on ±%g: %v", n, b, got)
			}
			for i := range got {
				if !(math.Abs(got[i]-want[i]) <= 2*epsilon) {
					t.Errorf("x^%d = 1/2 on ±%g: %v, want %v", n, b, got, want)
				}
			}
		}
	}
	// Signs at random, where binomial coefficients are as large as they get.
	rng, found := seeded(60), 0
	for range 8 {
		c := make([]float64, 301)
		for i := range c {
			c[i] = math.Copysign(0x1p290, rng.Float64()-0.5)
		}
		got := Roots(nil, c, 0, 1)
		if err := checkRoots(c, 0, 1, got); err != nil {
			t.Errorf("degree 300: %v", err)
		}
		found += len(got)
	}
	if found < 5 {
		t.Errorf("degree 300: only %d roots", found)
	}
	// (1 + x + … + x^(n-1)) (x-1/4)(x-1/2)(x-3/4), which needs the cascade.
	for _, n := range []int{32, 40, 150} {
		c := Mul(nil, slices.Repeat([]float64{1}, n), fromRoots(0.25, 0.5, 0.75))
		got := Roots(nil, c, 0, 1)
		if len(got) != 3 {
			t.Fatalf("degree %d: %v", n+2, got)
		}
		for i, want := range []float64{0.25, 0.5, 0.75} {
			if !(math.Abs(got[i]-want) <= rootTolerance(c, want, 1)) {
				t.Errorf("degree %d: %v", n+2, got)
			}
		}
		if err := checkRoots(c, 0, 1, got); err != nil {
			t.Error(err)
		}
	}
}
