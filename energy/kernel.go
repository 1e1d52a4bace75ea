package energy

import "example.com/headroom/internal/poly"

// reciprocal holds 1/i.
var reciprocal = func() (r [2*maxTorque + maxSpeed]float64) {
	for i := range r[1:] {
		r[i+1] = 1 / float64(i+1)
	}
	return r
}()

// integral returns the integral of c from 0 to h.
func integral(c []float64, h float64) float64 {
	if len(c) == 5 {
		return quarticIntegral(c[0], c[1], c[2], c[3], c[4], h)
	}
	v := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		v = v*h + c[i]*reciprocal[i+1]
	}
	return v * h
}

// integralOf returns the integral of c over a span.
func integralOf(c []float64, s span) float64 {
	if s.lo != 0 {
		return poly.Integral(c, s.lo, s.hi)
	}
	return integral(c, s.hi)
}

// quarticIntegral returns the integral of c0 + c1 t + … from 0 to h.
func quarticIntegral(c0, c1, c2, c3, c4, h float64) float64 {
	s := h * h
	return h * (c0 + s*(c2*(1./3)+s*(c4*(1./5))) + h*(c1*(1./2)+s*(c3*(1./4))))
}
