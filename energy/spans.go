package energy

import (
	"math"

	"example.com/headroom/internal/poly"
)

// span is an interval of the local time of a piece on which a polynomial keeps its
// sign: 1, -1, or 0 when it is zero all along.
type span struct{ lo, hi, sign float64 }

// spans appends to dst[:0] the spans of p on [0, h]. Values in
// [-noise, noise] count as zero, and an interval shorter than sliver, or one on
// which p is zero, takes the sign of its neighbour, so that neither rounding nor a
// root without change of sign cuts anything.
func spans(dst []span, p []float64, h, noise, sliver float64) []span {
	dst = dst[:0]
	if noise == 0 {
		switch r, s := onlyRoot(p, h); {
		case r == h && s != 0:
			return append(dst, span{0, h, s})
		case r > sliver && r < h-sliver:
			return append(dst, span{0, r, s}, span{r, h, -s})
		}
	}
	return spansByRoots(dst, p, h, noise, sliver)
}

// spansByRoots is spans for any polynomial.
func spansByRoots(dst []span, p []float64, h, noise, sliver float64) []span {
	var buf [maxRoots]float64
	var cur span
	from := 0.0
	roots := roots(buf[:0], p, 0, h)
	for i := 0; i <= len(roots); i++ {
		to := h
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
	cur.hi = h
	return append(dst, cur)
}

// onlyRoot returns the root of p between 0 and h, and the sign before it, if p has 5
// coefficients and is seen to have one root only. It returns h if p is seen to have no root, and
// 0 if nothing is seen.
func onlyRoot(p []float64, h float64) (root, before float64) {
	switch len(p) {
	case 5:
		q := quarticOn((*[5]float64)(p), h)
		switch first, changes := q.signs(); changes {
		case 0:
			return h, first
		case 1:
			return h * q.crossing(first), first
		}
	default:
		if s, ok := oneSign(p, h); ok {
			return h, s
		}
	}
	return 0, 0
}

// parabolaRoot returns the root of a + b t + c t² in (0, h) where there is one only; NaN
// where the formula leaves the range of numbers.
func parabolaRoot(a, b, c, h float64) float64 {
	half := b / 2
	square := half*half - c*a
	if !(square >= 1e-200 && square <= 1e200) {
		return math.NaN()
	}
	q := -(half + math.Copysign(math.Sqrt(square), half))
	if r := a / q; r > 0 && r < h {
		return r
	}
	return q / c
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

// oneSign is form.sign for any polynomial; it may see less.
func oneSign(p []float64, h float64) (sign float64, ok bool) {
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
		f *= h
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
