package energy

import (
	"math"

	"example.com/headroom/internal/poly"
)

// span is an interval of the local time of a piece on which a polynomial keeps its
// sign: 1, -1, or 0 when it is zero all along.
type span struct{ lo, hi, sign float64 }

// spans appends to dst[:0] the spans of p on [lo, hi], 0 <= lo < hi. Values in
// [-noise, noise] count as zero, and an interval shorter than sliver, or one on
// which p is zero, takes the sign of its neighbour, so that neither rounding nor a
// root without change of sign cuts anything. Ask oneSign first: it is far cheaper.
func spans(dst []span, p []float64, lo, hi, noise, sliver float64) []span {
	dst = dst[:0]
	var buf [maxRoots]float64
	cur := span{lo: lo}
	from := lo
	roots := roots(buf[:0], p, lo, hi)
	for i := 0; i <= len(roots); i++ {
		to := hi
		if i < len(roots) {
			to = roots[i]
		}
		if to-from > sliver {
			v := poly.Eval(p, from+(to-from)/2)
			s := 0.0
			if v > noise {
				s = 1
			} else if v < -noise {
				s = -1
			}
			if s != 0 && cur.sign != 0 && s != cur.sign {
				cur.hi = from
				dst = append(dst, cur)
				cur = span{lo: from}
			}
			if s != 0 {
				cur.sign = s
			}
		}
		from = to
	}
	cur.hi = hi
	return append(dst, cur)
}

// maxRoots is the highest degree of a polynomial whose signs are asked for, that
// of the bus power.
const maxRoots = 2*maxTorque - 2

// roots is poly.Roots with the formulas for degrees 1 and 2, which most forces have,
// written out. A root outside [lo, hi] by rounding is of no use to spans.
func roots(dst, p []float64, lo, hi float64) []float64 {
	switch degree(p) {
	case 1:
		if r := -p[0] / p[1]; r > lo && r < hi {
			dst = append(dst, r)
		}
		return dst
	case 2:
		half := p[1] / 2
		square := half*half - p[2]*p[0]
		if !(math.Abs(square) >= 1e-200 && math.Abs(square) <= 1e200) {
			break // where it could have vanished or left the range
		}
		if square < 0 {
			return dst
		}
		q := -(half + math.Copysign(math.Sqrt(square), half))
		a, b := q/p[2], p[0]/q
		if a > b {
			a, b = b, a
		}
		for _, r := range [2]float64{a, b} {
			if r > lo && r < hi {
				dst = append(dst, r)
			}
		}
		return dst
	}
	return poly.Roots(dst, p, lo, hi)
}

// oneSign reports whether p is seen to keep one sign on [lo, hi], 0 <= lo, from its
// coefficients alone, and that sign, 0 if it is not. A zero at an end of the interval is
// no change of sign.
func oneSign(p []float64, lo, hi float64) (sign float64, ok bool) {
	if len(p) <= 3 {
		var c [3]float64
		copy(c[:], p)
		return parabolaSign(c[0], c[1], c[2], lo, hi)
	}
	pos, neg := false, false
	for _, c := range p {
		pos = pos || c > 0
		neg = neg || c < 0
	}
	switch {
	case !neg && !pos:
		return 0, true
	case !neg:
		return 1, true
	case !pos:
		return -1, true
	}
	rest, f := 0.0, 1.0
	for _, c := range p[1:] {
		f *= hi
		if c > 0 {
			rest += c * f
		} else {
			rest -= c * f
		}
	}
	// The margin covers the rounding of the sum.
	switch {
	case p[0] > rest*(1+1e-14):
		return 1, true
	case -p[0] > rest*(1+1e-14):
		return -1, true
	}
	return 0, false
}

// parabolaSign is oneSign for a + b t + c t².
func parabolaSign(a, b, c, lo, hi float64) (sign float64, ok bool) {
	first, last := a+lo*(b+lo*c), a+hi*(b+hi*c)
	switch {
	case first >= 0 && last >= 0 && (first > 0 || last > 0):
		sign = 1
	case first <= 0 && last <= 0 && (first < 0 || last < 0):
		sign = -1
	default:
		return 0, a == 0 && b == 0 && c == 0
	}
	// Between its ends a parabola that bends away from zero stays beyond them; one that
	// bends towards zero must not have its vertex there, or not reach zero with it.
	bend := sign * c
	if bend <= 0 || (b+2*c*lo)*(b+2*c*hi) >= 0 || 4*sign*a*bend > b*b*(1+1e-14) {
		return sign, true
	}
	return 0, false
}
