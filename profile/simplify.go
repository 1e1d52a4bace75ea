package profile

import (
	"math"

	"example.com/headroom/internal/poly"
)

// simplifyTolerance is how far a value may move when pieces are merged,
// relative to the sum of the magnitudes of the terms of its polynomial: some
// thousand roundings.
const simplifyTolerance = 1e-12

// Simplify returns the curve with neighbouring pieces merged where one
// polynomial continues over both within rounding (1e-12 of the magnitude of its
// terms).
func (c Curve) Simplify() Curve {
	if c.Pieces() == 0 {
		return c
	}
	out := makeCurve(c.Pieces(), c.w)
	out.b = append(out.b, c.b[0])
	out.c = append(out.c, c.coefs(0)...)
	var q []float64
	start := c.b[0]
	for i := 1; i < c.Pieces(); i++ {
		// Every piece is held against the first one of its group, so that
		// differences do not add up.
		q = poly.Shift(q, out.c[len(out.c)-c.w:], c.b[i]-start)
		if !sameWithin(q, c.coefs(i), c.b[i+1]-c.b[i]) {
			start = c.b[i]
			out.b = append(out.b, start)
			out.c = append(out.c, c.coefs(i)...)
		}
	}
	out.b = append(out.b, c.End())
	return out
}

// sameWithin reports whether p and q differ on [0, h] by no more than the
// tolerance.
func sameWithin(p, q []float64, h float64) bool {
	diff, f := 0.0, 1.0
	for k := range p {
		diff += math.Abs(p[k]-q[k]) * f
		f *= h
	}
	return diff <= simplifyTolerance*poly.EvalAbs(q, h)
}
