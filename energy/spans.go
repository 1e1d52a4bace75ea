package energy

import "example.com/headroom/internal/poly"

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
	roots := poly.Roots(buf[:0], p, lo, hi)
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

// oneSign reports whether p is seen to keep one sign on (0, h] from its
// coefficients alone, and that sign.
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
