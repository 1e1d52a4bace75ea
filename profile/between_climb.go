package profile

import "math"

// bound is what limits an acceleration and its change on one side of standstill.
type bound struct{ accel, jerk float64 }

// climb holds the limits of a rising speed, below standstill and above: those
// for slowing down below and those for speeding up above. Read backwards in
// time it is the other way round.
type climb struct{ below, above bound }

// backwards returns the limits as they are for time that runs backwards.
func (c climb) backwards() climb { return climb{c.above, c.below} }

// through returns the most half square of acceleration [m²/s⁴] with which the
// speed may pass zero.
func (c climb) through() float64 {
	a := min(c.below.accel, c.above.accel)
	return a * a / 2
}

// pulse is an acceleration that is built up to a peak at constant jerk, held,
// and taken back at constant jerk.
type pulse struct{ peak, up, hold, down float64 }

// pulse returns the fastest pulse that raises the speed by dv [m/s] from
// acceleration a0 to a1 >= 0. It exists if |a1² - a0²| <= 2 jerk dv.
func (b bound) pulse(dv, a0, a1 float64) pulse {
	if math.IsInf(b.jerk, 1) {
		return pulse{peak: b.accel, hold: max(0, dv) / b.accel}
	}
	d, h := (a1-a0)*(a1+a0)/2, b.jerk*dv
	return b.raise(h+d, h-d, dv, a0, a1)
}

// raise returns the pulse whose peak, but for the limit, would have a square that
// is up more than that of a0 and down more than that of a1.
func (b bound) raise(up, down, dv, a0, a1 float64) pulse {
	if sq := a0*a0 + up; sq < b.accel*b.accel {
		up, down = max(up, 0), max(down, 0)
		p := pulse{peak: max(math.Sqrt(max(sq, 0)), a0, a1)}
		if p.peak > 0 {
			p.up, p.down = up/(b.jerk*(p.peak+a0)), down/(b.jerk*(p.peak+a1))
		}
		return p
	}
	p := pulse{peak: max(b.accel, a0, a1)}
	p.up, p.down = (p.peak-a0)/b.jerk, (p.peak-a1)/b.jerk
	p.hold = max(0, (dv-p.up*(p.peak+a0)/2-p.down*(p.peak+a1)/2)/p.peak)
	return p
}

func (p pulse) duration() float64 { return p.up + p.hold + p.down }

// distance returns how far the pulse comes [m] from speed v0 and acceleration a0
// to v1 and a1.
func (p pulse) distance(v0, a0, v1, a1 float64) float64 {
	return p.up*(v0+p.up*(2*a0+p.peak)/6) +
		p.hold*(v0+(a0+p.peak)/2*p.up+p.peak*p.hold/2) +
		p.down*(v1-p.down*(2*a1+p.peak)/6)
}

// passing returns the acceleration with which the fastest rise from speed
// v0 < 0 with acceleration a0 to v1 > 0 with a1 passes zero speed.
func (c climb) passing(v0, a0, v1, a1 float64) float64 {
	b := min(a0*a0/2-c.below.jerk*v0, c.through())
	if !math.IsInf(c.above.jerk, 1) {
		b = min(b, a1*a1/2+c.above.jerk*v1)
	}
	return math.Sqrt(2 * b)
}

// rise returns the time and the distance of the fastest rise of the speed from
// v0 with acceleration a0 >= 0 to v1 >= v0 with a1 >= 0.
func (c climb) rise(v0, a0, v1, a1 float64) (t, s float64) {
	if v0 < 0 && v1 > 0 {
		a := c.passing(v0, a0, v1, a1)
		p, q := c.below.pulse(-v0, a0, a), c.above.pulse(v1, a, a1)
		return p.duration() + q.duration(), p.distance(v0, a0, 0, a) + q.distance(0, a, v1, a1)
	}
	p := c.at(v0, v1).pulse(v1-v0, a0, a1)
	return p.duration(), p.distance(v0, a0, v1, a1)
}

// at returns the limits between two speeds with no change of sign between.
func (c climb) at(v0, v1 float64) bound {
	if v0 < 0 || v1 < 0 {
		return c.below
	}
	return c.above
}

// takeOff takes an acceleration a >= 0 off at the highest jerk, from speed v. It
// returns the speed where it is gone, and the time and distance until then.
func (c climb) takeOff(v, a float64) (w, t, s float64) {
	if a == 0 {
		return v, 0, 0
	}
	if v < 0 {
		j := c.below.jerk
		if sq := a*a + 2*j*v; sq > 0 {
			rest := math.Sqrt(sq)
			t0 := -2 * v / (a + rest)
			w, t, s = c.takeOff(0, rest)
			return w, t0 + t, t0*(v+t0*(2*a+rest)/6) + s
		}
		t = a / j
	} else {
		t = a / c.above.jerk
	}
	return v + a*t/2, t, t * (v + a*t/3)
}

// leg is the fastest way from a state to some speed above, with no acceleration
// there.
type leg struct {
	climb
	v0, a0 float64 // the state
	v, a   float64 // where the climb begins, a >= 0: once a negative a0 is taken off
	w      float64 // lowest speed that the climb can lead to
	t, s   float64 // time and distance until the climb begins

	stop    bool    // ends at zero speed, from where the acceleration steps
	through float64 // the acceleration from which it does
}

func newLeg(c climb, v, a float64) leg {
	l := leg{climb: c, v0: v, a0: a}
	switch {
	case a < 0:
		w, t, s := c.takeOff(-v, -a)
		l.v, l.w, l.t, l.s = -w, -w, t, -s
	case a == 0:
		l.v, l.w = v, v
	default:
		l.v, l.a = v, a
		l.w, _, _ = c.takeOff(v, a)
	}
	return l
}

// passes reports whether the climb passes zero speed. It may do so and end there
// when the acceleration cannot be taken off before, and steps once past zero.
func (l *leg) passes(top float64) bool {
	return l.v < 0 && (top > 0 || l.stop || l.a > 0 && l.w >= 0 && math.IsInf(l.above.jerk, 1))
}

// climbed is a leg as far as its top.
type climbed struct {
	t, s  float64 // time [s] and distance [m]
	ds, k float64 // first and, roughly, second derivative of s by the speed at the top
}

// to returns the leg up to speed top, which is e above the lowest one; e is
// given apart because it may be lost in top.
//
// With the peak acceleration a, raising the top by dv takes dv/a longer and goes
// (top/a + a/(2J)) dv farther: the stretch from the end of the build-up on is
// the same, one dv faster, for a/J longer than that.
func (l *leg) to(top, e float64) climbed {
	if l.passes(top) {
		return l.past(top)
	}
	b := &l.above
	if l.v < 0 {
		b = &l.below
	}
	if math.IsInf(b.jerk, 1) {
		t := e / b.accel
		return climbed{l.t + t, l.s + t*(l.v+e/2), top / b.accel, 1 / b.accel}
	}
	p := l.last(*b, e)
	c := climbed{t: l.t + p.duration(), s: l.s + p.distance(l.v, l.a, top, 0)}
	c.ds = top/p.peak + p.peak/(2*b.jerk)
	c.k = 1 / p.peak
	if p.hold == 0 {
		c.k = (1.25 - top*b.jerk/(2*p.peak*p.peak)) / p.peak
	}
	return c
}

// last returns the pulse that leads up to the top, e above the lowest, where zero
// speed is not passed.
func (l *leg) last(b bound, e float64) pulse {
	if math.IsInf(b.jerk, 1) {
		return pulse{peak: b.accel, hold: e / b.accel}
	}
	return b.raise(b.jerk*e, l.a*l.a+b.jerk*e, l.a*l.a/(2*b.jerk)+e, l.a, 0)
}

// passingTo returns the acceleration with which the leg passes zero speed.
func (l *leg) passingTo(top float64) float64 {
	if l.stop {
		return l.through
	}
	if !(top > 0) {
		return math.Sqrt(max(0, l.a*l.a+2*l.below.jerk*l.v))
	}
	return l.passing(l.v, l.a, top, 0)
}

// past is to for a climb that passes zero speed.
func (l *leg) past(top float64) climbed {
	a := l.passingTo(top)
	p, q := l.below.pulse(-l.v, l.a, a), l.above.pulse(top, a, 0)
	c := climbed{
		t: l.t + p.duration() + q.duration(),
		s: l.s + p.distance(l.v, l.a, 0, a) + q.distance(0, a, top, 0),
	}
	if j := l.above.jerk; !math.IsInf(j, 1) && 2*j*top <= a*a {
		// The acceleration falls from below zero speed on.
		fall := p.down * (p.peak + a) / 2
		c.ds = q.down + j/l.below.jerk*(p.down-fall/p.peak)
		return c
	}
	c.ds, c.k = top/q.peak+q.peak/(2*l.above.jerk), 1/q.peak
	return c
}
