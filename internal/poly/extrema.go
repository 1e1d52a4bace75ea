package poly

import "math"

// Extrema returns the smallest and largest value of p on [a, b] and where they
// are taken (the first place, when there are several). It needs a <= b.
//
// The values are those of Eval at these places, and no other value is beyond them
// by more than rounding at the end of the interval that is farther from zero.
func Extrema(c []float64, a, b float64) (min, atMin, max, atMax float64) {
	min, atMin = Eval(c, a), a
	max, atMax = min, a
	visit := func(x float64) {
		v := Eval(c, x)
		if v < min {
			min, atMin = v, x
		}
		if v > max {
			max, atMax = v, x
		}
	}
	if len(c) > 2 {
		var dbuf, rbuf [maxInline]float64
		d := Derivative(dbuf[:0], c)
		if !finite(d) {
			d = Scale(dbuf[:0], c, 0x1p-64)
			d = Derivative(d, d)
		}
		for _, x := range Roots(rbuf[:0], d, a, b) {
			visit(x)
		}
	}
	visit(b)
	return min, atMin, max, atMax
}

// Range returns bounds on p over [0, h] that enclose its true range but need
// not be attained; it is much cheaper than Extrema.
func Range(c []float64, h float64) (lo, hi float64) {
	if len(c) == 0 {
		return 0, 0
	}
	r, f := 0.0, 1.0
	for _, v := range c[1:] {
		f *= h
		r += math.Abs(v * f)
	}
	if a := math.Abs(f); !(a >= 0x1p-1022 && a <= 0x1p1023) { // the last power is the farthest from 1
		r, f = 0, 1
		for i, v := range c[1:] {
			f *= h
			r += abs(timesPower(v, f, h, i+1))
		}
	}
	// Rounding outwards covers the sum above and that of p itself.
	r += noise(len(c)) * (abs(c[0]) + r)
	return c[0] - r, c[0] + r
}

func finite(c []float64) bool {
	for _, v := range c {
		if v-v != 0 {
			return false
		}
	}
	return true
}
