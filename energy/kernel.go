package energy

import "example.com/headroom/internal/poly"

// The functions here are those of poly with the short cases written out: most pieces of
// a motion have a quadratic speed, so quadratic torques and quartic powers.

// multiply sets dst, which has one coefficient less than a and b together and overlaps
// neither, to their product.
func multiply(dst, a, b []float64) []float64 {
	if len(a) != 3 || len(b) != 3 || len(dst) != 5 {
		return poly.Mul(dst, a, b)
	}
	a0, a1, a2, b0, b1, b2 := a[0], a[1], a[2], b[0], b[1], b[2]
	dst[0] = a0 * b0
	dst[1] = a0*b1 + a1*b0
	dst[2] = a0*b2 + a1*b1 + a2*b0
	dst[3] = a1*b2 + a2*b1
	dst[4] = a2 * b2
	return dst
}

// shift sets c to c(x + lo).
func shift(c []float64, lo float64) {
	if len(c) != 3 {
		poly.Shift(c, c, lo)
		return
	}
	c[0] += lo * (c[1] + lo*c[2])
	c[1] += 2 * lo * c[2]
}

// reciprocal holds 1/i.
var reciprocal = func() (r [2*maxTorque + maxSpeed]float64) {
	for i := range r[1:] {
		r[i+1] = 1 / float64(i+1)
	}
	return r
}()

// integral returns the integral of c from lo to hi.
func integral(c []float64, lo, hi float64) float64 {
	if lo != 0 {
		return poly.Integral(c, lo, hi)
	}
	switch len(c) {
	case 3:
		return hi * (c[0] + hi*(c[1]*(1./2)+hi*(c[2]*(1./3))))
	case 5:
		square := hi * hi
		return hi * (c[0] + square*(c[2]*(1./3)+square*(c[4]*(1./5))) + hi*(c[1]*(1./2)+square*(c[3]*(1./4))))
	}
	v := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		v = v*hi + c[i]*reciprocal[i+1]
	}
	return v * hi
}
