package poly

import (
	"fmt"
	"math"
	"slices"
)

// checkRoots returns what is wrong with roots as the roots of c in [a, b], by
// what can be seen from outside: it knows nothing of how they were found. The
// sizes must be such that c can be evaluated in float64.
func checkRoots(c []float64, a, b float64, roots []float64) error {
	for len(c) > 0 && c[len(c)-1] == 0 {
		c = c[:len(c)-1]
	}
	if len(c) == 0 {
		if len(roots) > 0 {
			return fmt.Errorf("zero polynomial has roots %v", roots)
		}
		return nil
	}
	if len(roots) > len(c)-1 {
		return fmt.Errorf("%d roots of degree %d", len(roots), len(c)-1)
	}
	n := len(c)
	for i, r := range roots {
		if !(r >= a && r <= b) {
			return fmt.Errorf("root %v outside [%v, %v]", r, a, b)
		}
		if i > 0 && !(r > roots[i-1]) {
			return fmt.Errorf("roots not ascending: %v", roots)
		}
		if v, s := Eval(c, r), EvalAbs(c, r); !(math.Abs(v) <= noise(n)*s) {
			return fmt.Errorf("p(%v) = %g, %g times the rounding there", r, v, math.Abs(v)/(noise(n)*s))
		}
		// Distinct roots: p leaves rounding between them.
		if i > 0 {
			least := noise(n) / 2 * math.Min(EvalAbs(c, roots[i-1]), EvalAbs(c, r))
			if !slices.ContainsFunc(between(roots[i-1], r, 65), func(x float64) bool { return math.Abs(Eval(c, x)) > least }) {
				return fmt.Errorf("%v and %v are one root", roots[i-1], r)
			}
		}
	}
	return scanSigns(c, a, b, roots)
}

// scanSigns samples p densely: between two samples of certain and different sign
// there must be a reported root.
func scanSigns(c []float64, a, b float64, roots []float64) error {
	last, lastX := 0.0, a
	for _, x := range samples(a, b) {
		v := Eval(c, x)
		if !(math.Abs(v) > noise(len(c))*EvalAbs(c, x)) {
			continue
		}
		if last != 0 && math.Signbit(v) != math.Signbit(last) {
			i, _ := slices.BinarySearch(roots, lastX)
			if i == len(roots) || roots[i] > x {
				return fmt.Errorf("p(%v) = %g, p(%v) = %g and no root between in %v", lastX, last, x, v, roots)
			}
		}
		last, lastX = v, x
	}
	return nil
}

// samples returns points of [a, b], ascending: evenly spread, and crowding
// towards the ends and towards zero.
func samples(a, b float64) []float64 {
	x := between(a, b, 400)
	for _, end := range []float64{a, 0, b} {
		for k := 1; k < 60; k++ {
			d := (b - a) * math.Exp2(-float64(k))
			for _, y := range []float64{end - d, end, end + d} {
				if y >= a && y <= b {
					x = append(x, y)
				}
			}
		}
	}
	slices.Sort(x)
	return x
}

// between returns k points from a to b.
func between(a, b float64, k int) []float64 {
	x := make([]float64, k)
	for i := range x {
		u := float64(i) / float64(k-1)
		x[i] = clamp(a*(1-u)+b*u, a, b)
	}
	return x
}

// rootTolerance is how far a root of multiplicity m near r may be off when the
// coefficients and values of p are known within twice the documented rounding:
// p(r+e) ≈ p⁽ᵐ⁾(r) eᵐ/m!.
func rootTolerance(c []float64, r float64, m int) float64 {
	slope := math.Abs(Eval(nthDerivative(nil, c, m), r))
	return math.Pow(2*noise(len(c))*EvalAbs(c, r)/slope, 1/float64(m)) + 4*epsilon*math.Abs(r)
}

// fromRoots multiplies out ∏ (x - r) in float64.
func fromRoots(r ...float64) []float64 {
	c := []float64{1}
	for _, v := range r {
		c = Mul(nil, c, []float64{-v, 1})
	}
	return c
}
