package profile

import (
	"fmt"
	"math"
)

// FromFlat builds a curve on the caller's own storage: n+1 breakpoints [s] and, in
// coefs, width coefficients for each of the n pieces, ascending, one piece after
// another. It is [NewCurve] without the copy. The slices belong to the curve from then
// on and must not be changed. The same input is refused as there.
func FromFlat(breaks, coefs []float64, width int) (Curve, error) {
	c := Curve{b: breaks, c: coefs, w: width}
	if !clearlyValid(breaks, coefs, width) {
		if err := c.checkFlat(); err != nil {
			return Curve{}, err
		}
	}
	return c, nil
}

// clearlyValid reports whether all breaks and coefficients of a curve are in order, and small
// enough that no value can leave the range of float64: 41 terms below 2^300 (2^16)^40.
func clearlyValid(b, p []float64, w int) bool {
	n := len(b) - 1
	if n < 1 || w < 1 || w > maxDegree+1 || len(p) != n*w || !(b[n]-b[0] < 0x1p16) {
		return false
	}
	last := math.Inf(-1)
	for _, t := range b {
		if !(t > last) {
			return false
		}
		last = t
	}
	// Eight sums at a time do not wait for each other.
	var s0, s1, s2, s3, s4, s5, s6, s7 float64
	for ; len(p) >= 8; p = p[8:] {
		s0 += p[0] * p[0]
		s1 += p[1] * p[1]
		s2 += p[2] * p[2]
		s3 += p[3] * p[3]
		s4 += p[4] * p[4]
		s5 += p[5] * p[5]
		s6 += p[6] * p[6]
		s7 += p[7] * p[7]
	}
	for _, v := range p {
		s0 += v * v
	}
	return s0+s1+s2+s3+(s4+s5+s6+s7) < 0x1p600
}

// checkFlat returns nil, or what is wrong with a curve.
func (c Curve) checkFlat() error {
	var f Faults
	n := len(c.b) - 1
	switch {
	case c.w < 1 || c.w > maxDegree+1:
		f.Add("width", c.w, fmt.Sprintf("from 1 to %d", maxDegree+1))
	case n < 1 || len(c.c)%c.w != 0 || len(c.c)/c.w != n:
		f.Add("breaks", fmt.Sprintf("%d breakpoints for %d coefficients", len(c.b), len(c.c)),
			fmt.Sprintf("at least one piece of %d coefficients, and one more breakpoint than pieces", c.w))
	default:
		if checkTimes(&f, "breaks", c.b); f.Err() != nil {
			return f.Err()
		}
		for i, v := range c.c {
			if !isFinite(v) {
				f.Finite(fmt.Sprintf("coefs[%d]", i), v, "")
			}
		}
		if i := c.notFinite(); i >= 0 && f.Err() == nil {
			f.Add(fmt.Sprintf("coefs[%d]", i*c.w), c.coefs(i), fmt.Sprintf("finite values up to %g s", c.b[i+1]))
		}
	}
	return f.Err()
}
