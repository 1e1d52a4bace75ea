package profile

import "math"

// track is a chain of stretches of constant jerk as seen in a frame, from one end
// of the motion inwards.
type track struct {
	part    [maxParts]part
	n       int
	s, v, t float64 // where it ends
}

// maxParts is the most parts a track can have: coming back inside the limits,
// taking an acceleration off, and two climbs past zero speed.
const maxParts = 20

// part is one stretch: its length, jerk, and the state where it starts.
type part struct{ h, s, v, a, j float64 }

func (k *track) add(h, a, j float64) {
	if !(h > 0) {
		return
	}
	k.part[k.n] = part{h, k.s, k.v, a, j}
	k.n++
	k.s += h * (k.v + h*(a/2+h*j/6))
	k.v += h * (a + h*j/2)
	k.t += h
}

// pulse appends the pulse, which begins with acceleration a.
func (k *track) pulse(p pulse, b bound, a float64) {
	k.add(p.up, a, b.jerk)
	k.add(p.hold, p.peak, 0)
	k.add(p.down, p.peak, -b.jerk)
}

// rise appends the fastest rise of the speed, as climb.rise.
func (k *track) rise(c climb, v0, a0, v1, a1 float64) {
	if v0 < 0 && v1 > 0 {
		k.past(c, v0, a0, v1, a1, c.passing(v0, a0, v1, a1))
		return
	}
	b := c.at(v0, v1)
	k.pulse(b.pulse(v1-v0, a0, a1), b, a0)
}

// past is rise where it passes zero speed, with acceleration a.
func (k *track) past(c climb, v0, a0, v1, a1, a float64) {
	k.pulse(c.below.pulse(-v0, a0, a), c.below, a0)
	k.v = 0
	k.pulse(c.above.pulse(v1, a, a1), c.above, a)
}

// ease takes a negative acceleration a back to the negative or zero a1.
func (k *track) ease(c climb, a, a1 float64) {
	if k.v > 0 {
		j := c.below.jerk
		if sq := a*a - 2*j*k.v; sq > a1*a1 {
			rest := -math.Sqrt(sq)
			k.add(-2*k.v/(rest+a), a, j)
			k.v, a = 0, rest
		} else {
			k.add((a1-a)/j, a, j)
			return
		}
	}
	k.add((a1-a)/c.above.jerk, a, c.above.jerk)
}

// climb appends the leg up to its top.
func (k *track) climb(l *leg, top, e float64) {
	if l.a0 < 0 {
		k.ease(l.climb, l.a0, 0)
		k.v = l.v
	}
	if l.passes(top) {
		k.past(l.climb, l.v, l.a, top, 0, l.passingTo(top))
		return
	}
	b := l.at(l.v, top)
	k.pulse(l.last(b, e), b, l.a)
}

// tracks returns the motion of the choice as two tracks, one from the start and
// one from the end of its frame.
func (c *choice) tracks(a, b *track) {
	f := &c.f
	a.v, b.v = f.v0, f.v1
	l := newLeg(f.climb, f.v0, f.a0)
	if !c.dips {
		r := newLeg(f.backwards(), f.v1, -f.a1)
		if c.stops {
			g := stepping(&l, &r)
			g.stop, g.through = true, c.through
		}
		a.climb(&l, c.top, c.e+c.f.excessOver(c.low, l.w))
		a.add(c.cruise, 0, 0)
		b.climb(&r, c.top, c.e+c.f.excessOver(c.low, r.w))
		return
	}
	if l.a0 < 0 {
		a.ease(l.climb, l.a0, 0)
		a.v = l.v
	}
	v, _, _ := f.dipAt(c.dip)
	a.rise(l.climb, l.v, l.a, v, c.dip)
	b.ease(f.backwards(), -f.a1, -c.dip)
}
