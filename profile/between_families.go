package profile

import "math"

// frame is a motion to plan as seen from one side: as it is, mirrored, backwards
// in time, or both. Distance and speeds are as in the frame.
type frame struct {
	climb
	v0, a0, v1, a1 float64
	s              float64 // distance [m]
	speed          float64 // limit [m/s]
	grain          float64 // distances are told apart down to this [m], see near

	mirrored, reversed bool
}

// near returns up to which gap [m] two motions of duration t count as going
// equally far.
func (f *frame) near(t float64) float64 {
	return f.grain + 1e-14*t*(math.Abs(f.v0)+math.Abs(f.v1))
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

// over offers the motion that climbs to a top and falls from there to the end,
// both as fast as can be. The way grows with the top where the top is positive;
// below zero it is convex, and where it shrinks the motion is not optimal.
func (c *choice) over(f *frame) {
	a, b := newLeg(f.climb, f.v0, f.a0), newLeg(f.backwards(), f.v1, -f.a1)
	low := math.Max(a.w, b.w)
	ea, eb := low-a.w, low-b.w
	offer := func(e, t, cruise float64) {
		if t < c.t {
			*c = choice{t: t, f: *f, top: low + e, low: low, e: e, cruise: cruise}
		}
	}

	lo, hi := 0.0, math.Max(0, f.speed-low)
	x, y := a.to(low+hi, ea+hi), b.to(low+hi, eb+hi)
	miss := x.s + y.s - f.s
	if miss <= 0 {
		t := -miss / f.speed
		offer(hi, x.t+y.t+t, t)
		return
	}
	u := hi
	fx, ds, k := miss, x.ds+y.ds, x.k+y.k

	// Nothing below zero speed is worth a look unless the root is there.
	if low < 0 {
		x, y := a.to(0, ea-low), b.to(0, eb-low)
		if miss := x.s + y.s - f.s; miss > 0 {
			hi, u = -low, -low
			fx, ds, k = miss, x.ds+y.ds, x.k+y.k
			if x.t == 0 && y.t == 0 {
				return
			}
		} else {
			lo = -low
			if x.t+y.t >= c.t {
				return
			}
		}
	}
	falls := false // whether the way is known to be too short at lo
	if lo == 0 {
		x, y := a.to(low, ea), b.to(low, eb)
		if x.t+y.t >= c.t {
			return
		}
		miss := x.s + y.s - f.s
		if math.Abs(miss) <= f.near(x.t+y.t) {
			offer(0, x.t+y.t, 0)
			return
		}
		falls = miss < 0
		if !falls && low >= 0 {
			return
		}
	}
	bracketed := falls || lo > 0

	for range 100 {
		step := fx / ds
		if bracketed {
			if q := ds*ds - 2*k*fx; ds > 0 && q > 0 {
				step = 2 * fx / (ds + math.Sqrt(q))
			}
		} else if !(ds > 0) {
			return // a convex function, all of it above the root sought
		}
		next := u - step
		if !(next > lo && next < hi) {
			if !bracketed {
				return
			}
			if next = lo + (hi-lo)/2; next <= lo || next >= hi {
				break
			}
		}
		moved := math.Abs(next - u)
		u = next
		x, y = a.to(low+u, ea+u), b.to(low+u, eb+u)
		fx, ds, k = x.s+y.s-f.s, x.ds+y.ds, x.k+y.k
		if fx > 0 {
			hi = u
		} else {
			lo, bracketed = u, true
		}
		if math.Abs(fx) <= 0x1p-5*f.near(x.t+y.t) || moved <= 2e-16*u {
			break
		}
	}
	offer(u, x.t+y.t, 0)
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
	if dv := math.Min(f.v1, 0) - a.v; dv > 0 {
		room += f.below.jerk * dv
	}
	if dv := f.v1 - math.Max(a.v, 0); dv > 0 {
		room += f.above.jerk * dv
	}
	b0, b1 := a.a*a.a/2, f.a1*f.a1/2
	slack := 1e-13 * (b0 + b1)
	if math.Abs(b1-b0) > room+slack {
		return
	}
	least := 0.0
	if b := (b0 + b1 - room) / 2; b > 0 {
		least = math.Min(f.a1, math.Sqrt(2*b))
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
	if _, flo = way(lo); flo < 0 {
		if a.v >= 0 {
			return
		}
		if lo, flo = longest(way, lo, hi); flo < 0 {
			return
		}
	}
	dip := regula(func(x float64) float64 { _, s := way(x); return s }, lo, flo, hi, fhi, 0x1p-5*f.near(t))
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
		t = (f.a1 - a) / j
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
	for range 60 {
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
