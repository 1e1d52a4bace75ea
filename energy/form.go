package energy

import (
	"math"

	"example.com/headroom/internal/poly"
)

// form is a polynomial of degree 12 at most, with the time since the start of the interval at
// hand as its variable:
//
//	a + b t + c t² + rest
//
// Nearly every speed, force and torque has no rest, and the few numbers that it then
// is stay in registers. The zero value is the polynomial 0.
type form struct {
	a, b, c float64
	rest    *tail // coefficients from the third power on; never written again
}

// tail holds the coefficients of a form from the third power on, n of them, n > 0.
type tail struct {
	n    int
	c    [maxTorque - 3]float64
	home *tails
}

// tails is a stock of tails, those from used on are free.
type tails struct {
	stock []tail
	used  int
}

// next returns a tail that is free.
func (t *tails) next() *tail {
	if t.used == len(t.stock) {
		t.stock = make([]tail, 2*len(t.stock)+32) // forms at hand keep the old ones
		t.used = 0
	}
	t.used++
	return &t.stock[t.used-1]
}

// mark returns what release takes to free all tails that are taken from now on.
func (t *tails) mark() int {
	if t == nil {
		return 0
	}
	return t.used
}

func (t *tails) release(mark int) {
	if t != nil {
		t.used = mark
	}
}

// form returns the polynomial with the given coefficients.
func (t *tails) form(c []float64) (p form) {
	switch n := len(c); {
	case n > 3:
		p.rest = t.next()
		p.rest.n, p.rest.home = copy(p.rest.c[:], c[3:]), t
		fallthrough
	case n == 3:
		p.a, p.b, p.c = c[0], c[1], c[2]
	case n == 2:
		p.a, p.b = c[0], c[1]
	case n == 1:
		p.a = c[0]
	}
	return p
}

// size returns the number of coefficients.
func (p form) size() int {
	if p.rest == nil {
		return 3
	}
	return 3 + p.rest.n
}

// put writes the coefficients of p to dst, which has room for them, and zeros after them.
func (p form) put(dst []float64) {
	dst[0], dst[1], dst[2] = p.a, p.b, p.c
	if len(dst) > 3 {
		n := 3
		if p.rest != nil {
			n += copy(dst[3:], p.rest.c[:p.rest.n])
		}
		clear(dst[n:])
	}
}

// coefs returns the coefficients of p in buf.
func (p form) coefs(buf *[maxTorque]float64) []float64 {
	c := buf[:p.size()]
	p.put(c)
	return c
}

// at returns the value at t.
func (p form) at(t float64) float64 {
	if p.rest != nil {
		var buf [maxTorque]float64
		return poly.Eval(p.coefs(&buf), t)
	}
	return p.a + t*(p.b+t*p.c)
}

// bound returns a bound of the magnitude on [0, h].
func (p form) bound(h float64) float64 {
	if p.rest != nil {
		var buf [maxTorque]float64
		return poly.EvalAbs(p.coefs(&buf), h)
	}
	return math.Abs(p.a) + h*(math.Abs(p.b)+h*math.Abs(p.c))
}

// sign reports whether p is seen to keep one sign on [0, h] from its coefficients alone, and
// that sign, 0 if it is not. A zero at an end of the interval is no change of sign.
func (p form) sign(h float64) (sign float64, ok bool) {
	if p.rest != nil {
		var buf [maxTorque]float64
		return oneSign(p.coefs(&buf), h)
	}
	a, b, c := p.a, p.b, p.c
	last := a + h*(b+h*c)
	switch {
	case a >= 0 && last >= 0 && (a > 0 || last > 0):
		sign = 1
	case a <= 0 && last <= 0 && (a < 0 || last < 0):
		sign = -1
	default:
		return 0, a == 0 && b == 0 && c == 0
	}
	// Between its ends a parabola that bends away from zero stays beyond them; one that
	// bends towards zero must not have its vertex there, or not reach zero with it.
	bend := sign * c
	if bend <= 0 || b*(b+2*c*h) >= 0 || 4*sign*a*bend > b*b*(1+1e-14) {
		return sign, true
	}
	return 0, false
}

// spans appends to dst[:0] the spans of p on [0, h], see [spans].
func (p form) spans(dst []span, h, noise, sliver float64) []span {
	if last := p.a + h*(p.b+h*p.c); p.rest == nil && noise == 0 && p.a*last < 0 {
		if r := parabolaRoot(p.a, p.b, p.c, h); r > sliver && r < h-sliver {
			s := sign(p.a)
			return append(dst[:0], span{0, r, s}, span{r, h, -s})
		}
	}
	var buf [maxTorque]float64
	return spans(dst, p.coefs(&buf), h, noise, sliver)
}

// scale returns k p.
func (p form) scale(k float64) form {
	if p.rest != nil {
		return p.scaleLong(k)
	}
	return form{a: k * p.a, b: k * p.b, c: k * p.c}
}

func (p form) scaleLong(k float64) form {
	return form{k * p.a, k * p.b, k * p.c, addTails(k, p.rest, 0, nil)}
}

// plus returns p + k q.
func (p form) plus(k float64, q form) form {
	if p.rest != nil || q.rest != nil {
		return p.plusLong(k, q)
	}
	return form{a: p.a + k*q.a, b: p.b + k*q.b, c: p.c + k*q.c}
}

func (p form) plusLong(k float64, q form) form {
	return form{p.a + k*q.a, p.b + k*q.b, p.c + k*q.c, addTails(1, p.rest, k, q.rest)}
}

// plusSlope returns k p + j q'.
func (p form) plusSlope(k, j float64, q form) form {
	if p.rest != nil || q.rest != nil {
		return p.plusSlopeLong(k, j, q)
	}
	return form{a: k*p.a + j*q.b, b: k*p.b + 2*j*q.c, c: k * p.c}
}

// plusMotion returns p + i q + j q', the force p with friction and inertia at speed q.
func (p form) plusMotion(i, j float64, q form) form {
	if p.rest != nil || q.rest != nil {
		return p.plusSlopeLong(1, j, q).plus(i, q)
	}
	return form{a: p.a + i*q.a + j*q.b, b: p.b + i*q.b + 2*j*q.c, c: p.c + i*q.c}
}

func (p form) plusSlopeLong(k, j float64, q form) form {
	s := form{a: k*p.a + j*q.b, b: k*p.b + 2*j*q.c, c: k * p.c}
	s.addSlopeTails(k, p.rest, j, q.rest)
	return s
}

// addTails returns k p + j q, of which one may be nil.
func addTails(k float64, p *tail, j float64, q *tail) *tail {
	if p == nil {
		k, p, j, q = j, q, 0, nil
	}
	s := p.home.next()
	s.n, s.home = p.n, p.home
	for i, v := range p.c[:p.n] {
		s.c[i] = k * v
	}
	if q != nil {
		for ; s.n < q.n; s.n++ {
			s.c[s.n] = 0
		}
		for i, v := range q.c[:q.n] {
			s.c[i] += j * v
		}
	}
	return s
}

// addSlopeTails adds to s what k times tail p and j times the derivative of tail q are.
func (s *form) addSlopeTails(k float64, p *tail, j float64, q *tail) {
	if q == nil {
		s.rest = addTails(k, p, 0, nil)
		return
	}
	s.c += 3 * j * q.c[0]
	slope := q.home.next()
	slope.n, slope.home = q.n, q.home
	for i, v := range q.c[1:q.n] {
		slope.c[i] = float64(i+4) * v
	}
	slope.c[q.n-1] = 0
	s.rest = addTails(k, p, j, slope)
}

// from returns p(t + lo).
func (p form) from(lo float64) form {
	if p.rest != nil {
		var buf [maxTorque]float64
		c := p.coefs(&buf)
		return p.rest.home.form(poly.Shift(c, c, lo))
	}
	return form{a: p.a + lo*(p.b+lo*p.c), b: p.b + 2*lo*p.c, c: p.c}
}

// integral returns the integral of p from 0 to h.
func (p form) integral(h float64) float64 {
	if p.rest != nil {
		var buf [maxTorque]float64
		return integral(p.coefs(&buf), h)
	}
	return h * (p.a + h*(p.b*(1./2)+h*(p.c*(1./3))))
}

// work returns the integral of p q from 0 to h.
func (p form) work(q form, h float64) float64 {
	if p.rest != nil || q.rest != nil {
		var buf [2*maxTorque - 1]float64
		return integral(p.times(buf[:p.size()+q.size()-1], q), h)
	}
	return quarticIntegral(p.a*q.a, p.a*q.b+p.b*q.a, p.a*q.c+p.b*q.b+p.c*q.a, p.b*q.c+p.c*q.b, p.c*q.c, h)
}

// times writes to dst, which has room for them, the coefficients of p q and zeros after
// them, and returns it.
func (p form) times(dst []float64, q form) []float64 {
	if p.rest != nil || q.rest != nil {
		var pb, qb [maxTorque]float64
		n := len(poly.Mul(dst, p.coefs(&pb), q.coefs(&qb)))
		clear(dst[n:])
		return dst
	}
	d := (*[5]float64)(dst)
	d[0] = p.a * q.a
	d[1] = p.a*q.b + p.b*q.a
	d[2] = p.a*q.c + p.b*q.b + p.c*q.a
	d[3] = p.b*q.c + p.c*q.b
	d[4] = p.c * q.c
	if len(dst) > 5 {
		clear(dst[5:])
	}
	return dst
}
