package profile

import (
	"math"

	"example.com/headroom/internal/poly"
)

// Point is one point of a curve.
type Point struct {
	T float64 // time [s]
	V float64 // value
}

// Extrema returns the smallest and the largest value with the first time at
// which each is taken. Where the curve jumps, the values on both sides count.
// Both are zero for the empty curve.
func (c Curve) Extrema() (lowest, highest Point) {
	for i := range c.Pieces() {
		lo, atLo, hi, atHi := poly.Extrema(c.coefs(i), 0, c.b[i+1]-c.b[i])
		if i == 0 || lo < lowest.V {
			lowest = Point{c.time(i, atLo), lo}
		}
		if i == 0 || hi > highest.V {
			highest = Point{c.time(i, atHi), hi}
		}
	}
	return lowest, highest
}

// time returns the time at s seconds into piece i. It is the very start of the
// next piece when s is all of piece i, and never beyond.
func (c Curve) time(i int, s float64) float64 {
	if s >= c.b[i+1]-c.b[i] {
		return c.b[i+1]
	}
	return math.Min(c.b[i]+s, c.b[i+1])
}

// Max returns the highest point.
func (c Curve) Max() Point { _, p := c.Extrema(); return p }

// Min returns the lowest point.
func (c Curve) Min() Point { p, _ := c.Extrema(); return p }

// AbsMax returns the point farthest from zero, with its signed value.
func (c Curve) AbsMax() Point {
	lo, hi := c.Extrema()
	if math.Abs(lo.V) > math.Abs(hi.V) {
		return lo
	}
	return hi
}

// Crossings appends to dst[:0] the times [s] at which the curve takes the value
// level or jumps across it, ascending. A piece that is equal to level all along
// contributes none of its points.
func (c Curve) Crossings(dst []float64, level float64) []float64 {
	dst = dst[:0]
	var p, r []float64
	for i := range c.Pieces() {
		p = append(p[:0], c.coefs(i)...)
		p[0] -= level
		if i > 0 {
			before, after := c.endOf(i-1)-level, p[0]
			if before < 0 && after > 0 || before > 0 && after < 0 {
				dst = appendDistinct(dst, c.b[i])
			}
		}
		r = poly.Roots(r, p, 0, c.b[i+1]-c.b[i])
		for _, s := range r {
			dst = appendDistinct(dst, c.time(i, s))
		}
	}
	return dst
}

func appendDistinct(dst []float64, t float64) []float64 {
	if n := len(dst); n > 0 && t <= dst[n-1] {
		return dst
	}
	return append(dst, t)
}

// Positive returns the curve max(c, 0), cut exactly where c changes sign.
func (c Curve) Positive() Curve { return c.clip(1) }

// Negative returns the curve min(c, 0), cut exactly where c changes sign.
func (c Curve) Negative() Curve { return c.clip(-1) }

func (c Curve) clip(sign float64) Curve {
	out := makeCurve(c.Pieces(), c.w)
	if c.Pieces() == 0 {
		return out
	}
	out.b = append(out.b, c.b[0])
	var r, q []float64
	for i := range c.Pieces() {
		p, h := c.coefs(i), c.b[i+1]-c.b[i]
		r = append(poly.Roots(r, p, 0, h), h)
		for _, s := range r {
			from, to := out.b[len(out.b)-1], c.time(i, s)
			if !(to > from) {
				continue
			}
			out.b = append(out.b, to)
			if sign*poly.Eval(p, (from+to)/2-c.b[i]) > 0 {
				q = poly.Shift(q, p, from-c.b[i])
				out.c = append(out.c, q...)
			} else {
				out.c = append(out.c, make([]float64, c.w)...)
			}
		}
	}
	return out
}
