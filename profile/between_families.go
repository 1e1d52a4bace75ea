package profile

import "math"

// frame is a motion to plan as seen from one side: as it is, mirrored, backwards
// in time, or both. Distance and speeds are as in the frame.
type frame struct {
	climb
	v0, a0, v1, a1 float64
	s              float64 // distance [m]
	speed          float64 // limit [m/s]
	grain, slack   float64 // resolution of the positions [m]; way of slowing down from the speeds [m]

	mirrored, reversed bool
}

// near returns up to which gap [m] two motions of duration t count as going
// equally far: what roundings of the states that they join can make of it. The
// shortest time for a distance jumps where less is out of reach without turning
// back, so to tell finer would make a motion planned anew, from a state on its
// way, turn back by chance.
func (f *frame) near(t float64) float64 {
	way := math.Abs(f.s) + t*(math.Abs(f.v0)+math.Abs(f.v1))
	return f.grain + min(1e-13*(way+f.slack), 1e-10*way)
}

// fine returns the gap [m] that the search for a motion of duration t may leave.
func (f *frame) fine(t float64) float64 {
	return 0x1p-52 * (math.Abs(f.s) + t*(math.Abs(f.v0)+math.Abs(f.v1)))
}

// setGrain sets what the roundings of positions up to p, of speeds and of
// accelerations can make of the distance.
func (f *frame) setGrain(p float64) {
	v := math.Abs(f.v0) + math.Abs(f.v1)
	slowest := v/min(f.below.accel, f.above.accel) +
		max(math.Abs(f.a0), math.Abs(f.a1))/min(f.below.jerk, f.above.jerk)
	f.grain, f.slack = 4e-15*p, v*slowest
}

// mirror returns the frame with the sense of motion turned around.
func (f frame) mirror() frame {
	f.v0, f.a0, f.v1, f.a1, f.s = -f.v0, -f.a0, -f.v1, -f.a1, -f.s
	f.mirrored = !f.mirrored
	return f
}

// reverse returns the frame in which time runs backwards and the position with
// it, so that speeds keep their sign and accelerations change it.
func (f frame) reverse() frame {
	f.v0, f.a0, f.v1, f.a1 = f.v1, -f.a1, f.v0, -f.a0
	f.climb = f.backwards()
	f.reversed = !f.reversed
	return f
}

// choice is the best motion found so far: through a speed at which there is no
// acceleration, or past a least acceleration without a turn of the speed.
type choice struct {
	t float64 // duration [s], +Inf for none
	f frame

	top, low, e, cruise float64 // speed, e above low, the lowest possible one [m/s]; time at it [s]

	stops   bool
	through float64 // acceleration with which zero speed is reached, before a step to none [m/s²]

	dips bool
	dip  float64 // least acceleration on the way [m/s²]
}

// best returns the fastest motion of all families.
func best(f *frame) choice {
	c := choice{t: math.Inf(1)}
	m := f.mirror()
	c.over(f)
	c.over(&m)
	if f.a1 > 0 {
		c.dipping(f)
	} else if f.a1 < 0 {
		c.dipping(&m)
	}
	if f.a0 > 0 {
		r := m.reverse()
		c.dipping(&r)
	} else if f.a0 < 0 {
		r := f.reverse()
		c.dipping(&r)
	}
	return c
}

// excessOver returns how much low lies above w, 0 if only by rounding.
func (f *frame) excessOver(low, w float64) float64 {
	if e := low - w; e > 1e-13*(math.Abs(low)+math.Abs(f.v0)+math.Abs(f.v1)) {
		return e
	}
	return 0
}

// over offers the motion that climbs to a top and falls from there to the end,
// both as fast as can be. Time grows with the top, and so does the way where the
// top is positive. Below zero the way is convex, and where it shrinks with the
// top the motion is not optimal.
func (c *choice) over(f *frame) {
	a, b := newLeg(f.climb, f.v0, f.a0), newLeg(f.backwards(), f.v1, -f.a1)
	low := max(a.w, b.w)
	p := peaks{f: f, a: &a, b: &b, low: low, ea: f.excessOver(low, a.w), eb: f.excessOver(low, b.w)}
	offer := func(cruise float64) {
		if t := p.t + cruise; t < c.t {
			*c = choice{t: t, f: *f, top: low + p.u, low: low, e: p.u, cruise: cruise}
		}
	}

	lo, hi := 0.0, max(0, f.speed-low)
	if low <= 0 {
		if p.at(-low); p.miss > 0 {
			if p.falling(c.t) {
				offer(0)
			}
			return
		}
		if p.t >= c.t || c.stopping(f, a, b) {
			return
		}
		lo = -low
	} else if p.at(0); p.t >= c.t || p.miss > f.near(p.t) {
		return
	}
	if p.u == 0 && math.Abs(p.miss) <= f.near(p.t) {
		offer(0)
		return
	}
	if p.at(hi); p.miss <= 0 {
		offer(-p.miss / f.speed)
		return
	}
	p.solve(lo, hi)
	offer(0)
}

// peaks is the motions of over, by their top.
type peaks struct {
	f           *frame
	a, b        *leg
	low, ea, eb float64 // lowest top, and how much it lies above that of either leg

	u           float64 // how much the top lies above low
	t, miss     float64 // time, and way too far
	slope, bend float64 // first and, roughly, second derivative of the way by u
}

func (p *peaks) at(u float64) {
	x, y := p.a.to(p.low+u, p.ea+u), p.b.to(p.low+u, p.eb+u)
	p.u, p.t, p.miss = u, x.t+y.t, x.s+y.s-p.f.s
	p.slope, p.bend = x.ds+y.ds, x.k+y.k
}

// done reports whether what is left is due to rounding.
func (p *peaks) done(moved float64) bool {
	return math.Abs(p.miss) <= p.f.fine(p.t) || moved <= 0x1p-52*p.u
}

// solve finds the top from hi, where p is and the way is too far, down to lo,
// where it is too short.
func (p *peaks) solve(lo, hi float64) {
	for range 100 {
		step := p.miss / p.slope
		if q := p.slope*p.slope - 2*p.bend*p.miss; p.slope > 0 && q > 0 {
			step = 2 * p.miss / (p.slope + math.Sqrt(q))
		}
		next := p.u - step
		if !(next > lo && next < hi) {
			if next = lo + (hi-lo)/2; next <= lo || next >= hi {
				return
			}
		}
		moved := math.Abs(next - p.u)
		p.at(next)
		if p.done(moved) {
			return
		}
		if p.miss > 0 {
			hi = next
		} else {
			lo = next
		}
	}
}

// falling looks for a top below zero speed, where p is. The way is convex there,
// so that Newton's iteration comes down on the last root or finds that there is
// none. It reports whether there is one with a time below t.
func (p *peaks) falling(t float64) bool {
	u := p.u
	p.at(0)
	if p.t >= t {
		return false
	}
	if math.Abs(p.miss) <= p.f.near(p.t) {
		return true
	}
	if u == 0 {
		return false
	}
	p.at(u)
	for range 100 {
		if !(p.slope > 0) {
			return false
		}
		next := p.u - p.miss/p.slope
		if !(next > 0) {
			return false
		}
		moved := math.Abs(next - p.u)
		if p.at(next); p.done(moved) {
			return true
		}
		if p.miss < 0 {
			p.solve(next, u)
			return true
		}
		u = next
	}
	return false
}

// stepping returns the leg that can reach zero speed with an acceleration and
// step to none there, since only the jerk beyond is not limited; nil if none can.
func stepping(a, b *leg) *leg {
	for _, l := range [2]*leg{a, b} {
		if l.v < 0 && math.IsInf(l.above.jerk, 1) && !math.IsInf(l.below.jerk, 1) {
			return l
		}
	}
	return nil
}

// stopping offers the motion whose top is zero speed, reached by one leg with an
// acceleration that steps there: what lies between the tops just below zero and
// those just above. It reports whether there is one that goes far enough.
func (c *choice) stopping(f *frame, a, b leg) bool {
	g := stepping(&a, &b)
	if g == nil {
		return false
	}
	ea, eb := -a.w, -b.w
	lo := 0.0
	if sq := g.a*g.a + 2*g.below.jerk*g.v; sq > 0 {
		lo = math.Sqrt(sq)
	}
	hi := max(lo, g.passing(g.v, g.a, 0, 0))
	g.stop = true
	way := func(through float64) float64 {
		g.through = through
		x, y := a.to(0, ea), b.to(0, eb)
		return f.s - x.s - y.s
	}
	most, least := way(lo), way(hi)
	if !(most >= 0 && least <= 0) {
		return false
	}
	through := regula(way, lo, most, hi, least, f.fine(0))
	way(through)
	x, y := a.to(0, ea), b.to(0, eb)
	if t := x.t + y.t; t < c.t {
		low := max(a.w, b.w)
		*c = choice{t: t, f: *f, low: low, e: -low, stops: true, through: through}
	}
	return true
}

// dipping offers the motion that climbs all the way to an end with a positive
// acceleration: built up, taken back to a least one, and built up to the end.
// It goes farther than the fastest climb, since it is slow where the speed is
// high.
func (c *choice) dipping(f *frame) {
	a := newLeg(f.climb, f.v0, f.a0)
	if a.v > f.v1 || !(f.a1 > 0) {
		return
	}
	// How much half the square of the acceleration can change in between.
	room := 0.0
	if dv := min(f.v1, 0) - a.v; dv > 0 {
		room += f.below.jerk * dv
	}
	if dv := f.v1 - max(a.v, 0); dv > 0 {
		room += f.above.jerk * dv
	}
	b0, b1 := a.a*a.a/2, f.a1*f.a1/2
	slack := 1e-13 * (b0 + b1)
	if j := f.at(a.v, f.v1).jerk; !math.IsInf(j, 1) {
		slack += 1e-13 * j * (math.Abs(f.v0) + math.Abs(f.v1))
	}
	if math.Abs(b1-b0) > room+slack {
		return
	}
	least := 0.0
	if b := (b0 + b1 - room) / 2; b > 0 {
		least = min(f.a1, math.Sqrt(2*b))
	}

	way := func(dip float64) (t, s float64) {
		v, t, s := f.dipAt(dip)
		t0, s0 := f.rise(a.v, a.a, v, dip)
		return a.t + t0 + t, a.s + s0 + s - f.s
	}
	offer := func(dip, t float64) {
		if t < c.t {
			*c = choice{t: t, f: *f, dips: true, dip: dip}
		}
	}
	t, miss := way(f.a1)
	fast := t
	if t >= c.t {
		return
	}
	if math.Abs(miss) <= f.near(t) {
		offer(f.a1, t)
		return
	}
	if miss > 0 || least >= f.a1 {
		return
	}
	lo, hi := least, f.a1 // the way is longer at lo
	flo, fhi := 0.0, miss
	if t, flo = way(lo); flo < 0 && flo < -f.near(t) && a.v < 0 {
		// With the dip below zero speed a deeper one may lead less far again. What it
		// takes longer it goes at no more than the last speed.
		if miss+f.v1*(t-fast) < 0 {
			return
		}
		if _, higher := way(lo + 1e-3*(hi-lo)); higher <= flo {
			return
		}
		lo, flo = longest(way, lo, hi)
		t, _ = way(lo)
	}
	if math.Abs(flo) <= f.near(t) {
		offer(lo, t)
		return
	}
	if flo < 0 {
		return
	}
	dip := regula(func(x float64) float64 { _, s := way(x); return s }, lo, flo, hi, fhi, f.fine(t))
	t, _ = way(dip)
	offer(dip, t)
}

// dipAt returns the speed from which the acceleration is built up from dip to
// the a1 of the end, and the time and distance of that.
func (f *frame) dipAt(dip float64) (v, t, s float64) {
	if f.v1 > 0 {
		j := f.above.jerk
		through := f.a1*f.a1 - 2*j*f.v1
		if !(through > dip*dip) {
			t = (f.a1 - dip) / j
			return f.v1 - t*(f.a1+dip)/2, t, t * (f.v1 - t*(2*f.a1+dip)/6)
		}
		a := math.Sqrt(through)
		t = 2 * f.v1 / (f.a1 + a)
		s = t * (f.v1 - t*(2*f.a1+a)/6)
		t0 := (a - dip) / f.below.jerk
		return -t0 * (a + dip) / 2, t + t0, s - t0*t0*(2*a+dip)/6
	}
	t = (f.a1 - dip) / f.below.jerk
	return f.v1 - t*(f.a1+dip)/2, t, t * (f.v1 - t*(2*f.a1+dip)/6)
}

// longest searches the interval for a place where s is positive, or else for
// where it is largest, by golden sections.
func longest(way func(x float64) (t, s float64), lo, hi float64) (x, s float64) {
	const g = 0.6180339887498949
	x1, x2 := hi-g*(hi-lo), lo+g*(hi-lo)
	_, s1 := way(x1)
	_, s2 := way(x2)
	for range 40 {
		if s1 >= 0 {
			return x1, s1
		}
		if s2 >= 0 {
			return x2, s2
		}
		if s1 > s2 {
			hi, x2, s2 = x2, x1, s1
			x1 = hi - g*(hi-lo)
			_, s1 = way(x1)
		} else {
			lo, x1, s1 = x1, x2, s2
			x2 = lo + g*(hi-lo)
			_, s2 = way(x2)
		}
	}
	return x1, s1
}

// regula returns a root of f between lo, where f is flo >= 0, and hi, where it is
// fhi <= 0, by the Illinois variant of the regula falsi, with halvings where
// that is slow.
func regula(f func(x float64) float64, lo, flo, hi, fhi, tol float64) float64 {
	side := 0
	for i := range 200 {
		x := lo + (hi-lo)*flo/(flo-fhi)
		if i%4 == 3 || !(x > lo && x < hi) {
			x = lo + (hi-lo)/2
		}
		if x <= lo || x >= hi {
			break
		}
		fx := f(x)
		switch {
		case math.Abs(fx) <= tol:
			return x
		case fx > 0:
			lo, flo = x, fx
			if side > 0 {
				fhi /= 2
			}
			side = 1
		default:
			hi, fhi = x, fx
			if side < 0 {
				flo /= 2
			}
			side = -1
		}
	}
	return hi
}
