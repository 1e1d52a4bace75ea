package poly

import (
	"math"
	"slices"
)

// maxInline is the number of coefficients up to which Roots works without
// allocating.
const maxInline = 34

// Roots appends to dst[:0] the distinct real roots of p in the closed interval
// [a, b], ascending. dst must not overlap c.
//
// A multiple root is listed once. The zero polynomial has no isolated roots:
// the result is empty. It is also empty when b < a or when a or b is not finite.
//
// A point where p is zero within rounding (see the package comment) counts as a
// root: that is how a double root, which need not cross zero in floating point,
// is found. Neighbouring roots are listed as one when p, all the way between
// them, stays below what rounding is at the one nearer to zero.
//
// Accuracy: p is zero within rounding at what is returned, denormal numbers
// apart. A simple root r is thus as good as the coefficients allow, rounding over
// |p'(r)|; a root of multiplicity m is good to about the m-th root of that.
func Roots(dst, c []float64, a, b float64) []float64 {
	dst = dst[:0]
	for len(c) > 0 && c[len(c)-1] == 0 {
		c = c[:len(c)-1]
	}
	if len(c) == 0 || !(a <= b) || a < -math.MaxFloat64 || b > math.MaxFloat64 {
		return dst
	}
	// A power of x leaves exactly.
	n := len(c)
	for c[0] == 0 {
		c = c[1:]
	}
	if a < 0 {
		dst = negative(dst, c, a, b)
	}
	if len(c) < n && a <= 0 && b >= 0 {
		dst = append(dst, 0)
	}
	if b > 0 {
		dst = positive(dst, c, max(a, 0), b)
	}
	return slices.Compact(dst) // underflow can make roots equal
}

// negative appends the roots in [a, min(b,0)], a < 0, found as those of p(-x).
func negative(dst, c []float64, a, b float64) []float64 {
	var buf [maxInline]float64
	mirrored := Stretch(buf[:0], c, -1)
	dst = positive(dst, mirrored, max(-b, 0), -a)
	slices.Reverse(dst)
	for i, x := range dst {
		dst[i] = 0 - x // never -0
	}
	return dst
}

// positive appends the roots in [lo, hi], 0 <= lo <= hi and 0 < hi. The first
// and last coefficients must not be zero.
func positive(dst, c []float64, lo, hi float64) []float64 {
	f, size, top := 1.0, 0.0, 0.0
	for _, v := range c {
		v = abs(v)
		size += v * f
		f *= hi
		if v > top {
			top = v
		}
	}
	// Safe from overflow in every derivative up to degree 300, and from underflow
	// that matters.
	if size >= 0x1p-300 && top <= 0x1p300 && f <= 0x1p300 {
		return isolate(dst, c, lo, hi, size)
	}
	return extreme(dst, c, lo, hi)
}

// extreme is positive for coefficients or intervals near the ends of the float64
// range. It cuts at 1: beyond, the powers of x that could overflow are divided
// out by looking for 1/x.
func extreme(dst, c []float64, lo, hi float64) []float64 {
	if !finite(c) {
		return dst
	}
	if hi <= 1 {
		return scaled(dst, c, lo, hi)
	}
	start := len(dst)
	if lo <= 1 {
		dst = scaled(dst, c, lo, 1)
	}
	cut := len(dst)
	var buf [maxInline]float64
	r := append(buf[:0], c...)
	slices.Reverse(r)
	dst = scaled(dst, r, 1/hi, 1/max(lo, 1))
	slices.Reverse(dst[cut:])
	for i, y := range dst[cut:] {
		dst[cut+i] = max(lo, min(hi, 1/y))
	}
	// A root at the cut was seen from both sides.
	if start < cut && cut < len(dst) && lo <= 1 {
		top := exponent(r, 0)
		for i, v := range r {
			r[i] = math.Ldexp(v, -top)
		}
		if v, size := evalSized(r, 1); abs(v) <= noise(len(r))*size {
			dst = slices.Delete(dst, cut, cut+1)
		}
	}
	return dst
}

// scaled appends the roots in [lo, hi] with hi <= 1, after powers of two have
// brought hi near 1 and the largest term there near the end of the range.
func scaled(dst, c []float64, lo, hi float64) []float64 {
	_, e := math.Frexp(hi)
	top := exponent(c, e) - (1010 - len(c))
	var buf [maxInline]float64
	q := resize(buf[:0], len(c))
	size := 0.0
	for i, v := range c {
		q[i] = math.Ldexp(v, i*e-top)
		size += abs(q[i])
	}
	start := len(dst)
	dst = isolate(dst, q, math.Ldexp(lo, -e), math.Ldexp(hi, -e), size)
	for i, x := range dst[start:] {
		dst[start+i] = math.Ldexp(x, e)
	}
	return dst
}

// exponent returns the binary exponent of the largest term of p at 2ᵉ.
func exponent(c []float64, e int) int {
	top := math.MinInt
	for i, v := range c {
		if v != 0 {
			_, k := math.Frexp(v)
			top = max(top, k+i*e)
		}
	}
	return top
}

// evalSized returns p(x) and Σ |c[i]| xⁱ for x >= 0.
func evalSized(c []float64, x float64) (v, size float64) {
	if x == 0 {
		return c[0], abs(c[0])
	}
	for i := len(c) - 1; i >= 0; i-- {
		v = v*x + c[i]
		size = size*x + abs(c[i])
	}
	return v, size
}

// noise is the relative rounding allowed for n coefficients.
func noise(n int) float64 { return 4 * float64(n+1) * epsilon }

const epsilon = 0x1p-52
