package profile

import (
	"fmt"
	"math"
)

// PlanBetween doc TODO
func PlanBetween(from, to State, lim Limits) (Move, error) {
	travel := to.Position - from.Position
	if err := lim.Validate(); err != nil || !from.finite() || !to.finite() || !isFinite(travel) {
		return Move{}, betweenFaults(from, to, lim)
	}
	from, to = lim.start(from), lim.end(to)
	c := lim.climb()
	speed := lim.Speed
	m := Move{to: to.Position, speed: to.Speed, accel: to.Accel}

	if x := math.Max(c.excess(speed, to.Speed, to.Accel), c.backwards().excess(speed, to.Speed, -to.Accel)); x > 1 {
		if x > 1+outside {
			return Move{}, endFaults(to, lim)
		}
		c, speed = c.widened(x), speed*x
	}
	k := cursor{&m, from.Position, from.Speed, from.Accel, 1}
	if x := c.excess(speed, from.Speed, from.Accel); x > 1+outside {
		k.inside(c, speed)
	} else if x > 1 {
		c, speed = c.widened(x), speed*x
	}

	f := frame{
		climb: c, speed: speed,
		v0: k.dir * k.v, a0: k.dir * k.a, v1: to.Speed, a1: to.Accel, s: to.Position - k.position,
	}
	f.grain = 1e-14*math.Abs(f.s) + 2e-15*math.Max(math.Abs(k.position), math.Abs(to.Position))
	way := best(&f)
	if !m.follow(&way, k.position, to.Position) {
		var f Faults
		f.Add("lim", fmt.Sprintf("%+v from %+v to %+v", lim, from, to), "limits and states whose move float64 can hold")
		return Move{}, f.Err()
	}
	return m, nil
}

// outside is how far, relatively, a state may lie outside the limits and still
// count as on them. The limits are widened by as much.
const outside = 1e-10

func (c climb) widened(x float64) climb {
	c.below.accel *= x
	c.above.accel *= x
	return c
}

// climb returns the limits by the side of standstill.
func (l Limits) climb() climb {
	up, down := l.ramps()
	return climb{below: bound{down.accel, down.jerk}, above: bound{up.accel, up.jerk}}
}

// start returns the state without the acceleration where that may step anyway.
func (l Limits) start(s State) State {
	c := l.climb()
	slowing := s.Speed*s.Accel < 0
	if slowing && math.IsInf(c.below.jerk, 1) || !slowing && math.IsInf(c.above.jerk, 1) {
		s.Accel = 0
	}
	return s
}

// end is start for the end of a motion.
func (l Limits) end(s State) State {
	c := l.climb()
	slowing := !(s.Speed*s.Accel > 0)
	if slowing && math.IsInf(c.below.jerk, 1) || !slowing && math.IsInf(c.above.jerk, 1) {
		s.Accel = 0
	}
	return s
}

func (s State) finite() bool {
	return isFinite(s.Position) && isFinite(s.Speed) && isFinite(s.Accel)
}

// excess returns the factor by which speed and accelerations will at least have
// to exceed their limits, now or later, in a motion that starts with speed v and
// acceleration a; up to 1 is inside.
func (c climb) excess(speed, v, a float64) float64 {
	if a < 0 {
		v, a = -v, -a
	}
	x := math.Abs(v) / speed
	if a == 0 {
		return x
	}
	w, _, _ := c.takeOff(v, a)
	x = math.Max(x, w/speed)
	if v >= 0 {
		return math.Max(x, a/c.above.accel)
	}
	x = math.Max(x, a/c.below.accel)
	if sq := a*a + 2*c.below.jerk*v; sq > 0 {
		x = math.Max(x, math.Sqrt(sq)/c.above.accel)
	}
	return x
}

func betweenFaults(from, to State, lim Limits) error {
	var f Faults
	ok := true
	for _, s := range []struct {
		path string
		State
	}{{"from", from}, {"to", to}} {
		ok = f.Finite(s.path+".position", s.Position, "m") && ok
		f.Finite(s.path+".speed", s.Speed, "m/s")
		f.Finite(s.path+".accel", s.Accel, "m/s²")
	}
	if ok && !isFinite(to.Position-from.Position) {
		f.Add("to.position", to.Position, fmt.Sprintf("a finite distance from %g m", from.Position))
	}
	f.Under("lim", lim.Validate())
	return f.Err()
}

// endFaults tells why the end is outside the limits.
func endFaults(to State, lim Limits) error {
	var f Faults
	c := lim.climb()
	most := 1 + outside
	if !(math.Abs(to.Speed) <= most*lim.Speed) {
		f.Add("to.speed", to.Speed, fmt.Sprintf("from %g to %g m/s, the speed limit", -lim.Speed, lim.Speed))
	} else if a := math.Abs(to.Accel); to.Speed*to.Accel >= 0 && !(a <= most*c.above.accel) {
		f.Add("to.accel", to.Accel, fmt.Sprintf("at most %g m/s² while speeding up", c.above.accel))
	} else if to.Speed*to.Accel <= 0 && !(a <= most*c.below.accel) {
		f.Add("to.accel", to.Accel, fmt.Sprintf("at most %g m/s² while slowing down", c.below.accel))
	} else if !(c.excess(lim.Speed, to.Speed, to.Accel) <= most) {
		f.Add("to.accel", to.Accel, fmt.Sprintf("an acceleration that can be taken off inside the limits from %g m/s on", to.Speed))
	} else {
		f.Add("to.accel", to.Accel, fmt.Sprintf("an acceleration that can be built up inside the limits until %g m/s", to.Speed))
	}
	return f.Err()
}

// follow appends the chosen motion between two positions, and reports whether
// it holds together.
func (m *Move) follow(c *choice, from, to float64) bool {
	if !isFinite(c.t) {
		return false
	}
	var a, b track
	c.tracks(&a, &b)
	if c.f.reversed {
		a, b = b, a
	}
	dir := 1.0
	if c.f.mirrored {
		dir = -1
	}
	m.forward(&a, from, dir)
	m.backward(&b, to, dir)

	way := math.Abs(from) + math.Abs(to) + math.Abs(a.s) + math.Abs(b.s)
	quick := math.Abs(c.f.v0) + math.Abs(c.f.v1) + math.Abs(a.v)
	gap := from + dir*a.s - (to - dir*b.s)
	return isFinite(m.duration) && math.Abs(gap) <= motionTolerance*way && math.Abs(a.v-b.v) <= motionTolerance*quick
}

// forward appends the track, which starts at the position.
func (m *Move) forward(k *track, position, dir float64) {
	for i := range k.n {
		p := &k.part[i]
		m.add(p.h, position+dir*p.s, dir*p.v, dir*p.a, dir*p.j)
	}
}

// backward appends the track, which runs backwards in time from the position.
func (m *Move) backward(k *track, position, dir float64) {
	s, v := k.s, k.v
	for i := k.n - 1; i >= 0; i-- {
		p := &k.part[i]
		m.add(p.h, position-dir*s, dir*v, -dir*(p.a+p.j*p.h), dir*p.j)
		s, v = p.s, p.v
	}
}
