package energy

import "math"

// quartic is a polynomial of degree 4 at most on an interval, as c[0] + c[1] u + … with
// u from 0 to 1, and by its Bernstein coefficients b there.
type quartic struct{ c, b [5]float64 }

// quarticOn returns p on [0, h].
func quarticOn(p *[5]float64, h float64) (q quartic) {
	s := h * h
	c0, c1, c2, c3, c4 := p[0], p[1]*h, p[2]*s, p[3]*(s*h), p[4]*(s*s)
	q.c[0], q.c[1], q.c[2], q.c[3], q.c[4] = c0, c1, c2, c3, c4
	q.b[0] = c0
	q.b[1] = c0 + c1*(1./4)
	q.b[2] = c0 + c1*(1./2) + c2*(1./6)
	q.b[3] = c0 + c1*(3./4) + c2*(1./2) + c3*(1./4)
	q.b[4] = c0 + c1 + c2 + c3 + c4
	return q
}

// signs returns the first sign among the Bernstein coefficients, 0 if all are zero, and
// how often the sign changes after it. By Descartes' rule of signs the polynomial has
// that many roots within the interval or an even number less: none without a change, and
// one with one change (Farouki, The Bernstein polynomial basis: A centennial
// retrospective, 2012; FROM MEMORY).
func (q *quartic) signs() (first float64, changes int) {
	switch b := &q.b; {
	case b[0] > 0 && b[1] > 0 && b[2] > 0 && b[3] > 0 && b[4] > 0:
		return 1, 0
	case b[0] < 0 && b[1] < 0 && b[2] < 0 && b[3] < 0 && b[4] < 0:
		return -1, 0
	}
	last := 0.0
	for _, b := range q.b {
		switch {
		case b == 0 || b*last > 0:
		case last == 0:
			first, last = sign(b), sign(b)
		default:
			changes++
			last = -last
		}
	}
	return first, changes
}

// crossing returns the root u of a polynomial whose sign changes once, from first on,
// by Newton's method from where the chord crosses, and by halving where that leaves
// the bracket, be it by a tiny step: it leads to another root.
func (q *quartic) crossing(first float64) float64 {
	lo, hi, u := 0.0, 1.0, 0.5
	if d := q.b[0] - q.b[4]; q.b[0]*d > 0 {
		u = q.b[0] / d
	}
	c0, c1, c2, c3, c4 := q.c[0], q.c[1], q.c[2], q.c[3], q.c[4]
	for range 100 {
		v := c0 + u*(c1+u*(c2+u*(c3+u*c4)))
		slope := c1 + u*(2*c2+u*(3*c3+u*(4*c4)))
		if v*first > 0 {
			lo = u
		} else {
			hi = u
		}
		next := u - v/slope
		inside := next >= lo && next <= hi
		if inside && math.Abs(next-u) <= 1e-7 { // the next step would be of the order of its square
			return next
		}
		if !inside {
			next = lo + (hi-lo)/2
		}
		u = next
	}
	return u
}
