package profile

import (
	"math"

	"example.com/headroom/internal/poly"
)

// Integral returns the integral over the whole curve, in units of the value
// times s: a power curve in W gives J.
func (c Curve) Integral() float64 {
	sum := 0.0
	for i := range c.Pieces() {
		sum += poly.Integral(c.coefs(i), 0, c.b[i+1]-c.b[i])
	}
	return sum
}

// IntegralBetween returns the integral from t0 to t1 [s], negative when t1 <
// t0. The curve counts as zero outside its domain.
func (c Curve) IntegralBetween(t0, t1 float64) float64 {
	if t1 < t0 {
		return -c.IntegralBetween(t1, t0)
	}
	sum := 0.0
	for i := range c.Pieces() {
		a, b := math.Max(t0, c.b[i]), math.Min(t1, c.b[i+1])
		if a < b {
			sum += poly.Integral(c.coefs(i), a-c.b[i], b-c.b[i])
		}
	}
	return sum
}

// Antiderivative returns the continuous curve whose derivative is c and whose
// value at the start is v0, which must be finite.
func (c Curve) Antiderivative(v0 float64) Curve {
	out := makeCurve(c.Pieces(), c.w+1)
	out.b = append(out.b, c.b...)
	for i := range c.Pieces() {
		k := len(out.c)
		out.c = append(out.c, make([]float64, out.w)...)
		p := poly.Antiderivative(out.c[k:k:len(out.c)], c.coefs(i))
		p[0] = v0
		v0 = poly.Eval(p, c.b[i+1]-c.b[i])
	}
	return out
}

// Derivative returns the derivative of each piece. Jumps between pieces are
// not represented.
func (c Curve) Derivative() Curve {
	w := max(1, c.w-1)
	out := makeCurve(c.Pieces(), w)
	out.b = append(out.b, c.b...)
	out.c = make([]float64, c.Pieces()*w)
	for i := range c.Pieces() {
		poly.Derivative(out.c[i*w:i*w:(i+1)*w], c.coefs(i))
	}
	return out
}

// Mean returns the time average, 0 for the empty curve.
func (c Curve) Mean() float64 {
	d := c.Duration()
	if !(d > 0) {
		return 0
	}
	return c.Integral() / d
}

// RMS returns the root of the time average of the square, 0 for the empty
// curve.
func (c Curve) RMS() float64 {
	d := c.Duration()
	if !(d > 0) {
		return 0
	}
	// Each piece is scaled to magnitudes up to 1, so that squares neither
	// overflow nor vanish.
	top := 0.0
	for i := range c.Pieces() {
		top = math.Max(top, poly.EvalAbs(c.coefs(i), c.b[i+1]-c.b[i]))
	}
	if top == 0 {
		return 0
	}
	sum := 0.0
	var p, sq []float64
	for i := range c.Pieces() {
		h := c.b[i+1] - c.b[i]
		p = poly.Stretch(p, c.coefs(i), h)
		for k := range p {
			p[k] /= top
		}
		sq = poly.Mul(sq, p, p)
		sum += math.Max(0, poly.Integral(sq, 0, 1)) * (h / d)
	}
	return top * math.Sqrt(sum)
}
