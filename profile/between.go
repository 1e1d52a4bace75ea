package profile

import (
	"fmt"
	"math"
)

// PlanBetween returns the fastest motion from any state to any state within the
// limits. It ends exactly in the position and at the speed asked for, and with the
// acceleration asked for but for rounding.
//
// # What the limits mean
//
// While acceleration and speed have the same sign the axis speeds up: Accel and
// Jerk hold. While they have opposite signs it slows down: Decel and DecelJerk
// hold. In the plane of speed and acceleration that gives four quadrants. A
// motion passes from one to the next with no acceleration, or with no speed. In
// the second case it turns round, slowing down before and speeding up after, and
// its acceleration has to satisfy both: at most the lesser of Accel and Decel.
// Since acceleration cannot be taken off at once, it is also bounded ahead of
// those limits: from speed v with acceleration a > 0 the speed that is reached at
// least, v + a²/(2 Jerk) when speeding up, must not exceed Speed, and at zero
// speed no more than Accel may be left.
//
// A start outside the limits, or about to leave them, comes back inside first: an
// acceleration that is too high, or would lead to too high a speed, is taken off
// at its jerk; then a speed that is too high is brought down as fast as can be.
// The motion is the fastest from there on. (Since it comes back at the highest
// deceleration, the speed falls a little below the limit before it can be held.)
// An end that has its past or its future outside the limits is refused: a speed
// at its limit can be asked for without acceleration only. Up to 1e-10 over a
// limit counts as on it.
//
// Where jerk is not limited the acceleration steps, and the acceleration asked
// for there does not matter: that of a start that speeds up or stands still and
// of an end that speeds up with Jerk, that of a start that slows down and of an
// end that slows down or stands still with DecelJerk. With neither limited the
// motion is a trapezoid of speed.
//
// # Why it is the fastest
//
// Let b = a²/2 along a stretch on which the speed v rises. Jerk is its slope,
//
//	db/dv = j,  T = ∫ dv/√(2b),  s = ∫ v dv/√(2b)
//
// so a rise from (v0, a0) to (v1, a1) is a curve b(v) that is no steeper than the
// jerk limit of the side of zero on which it is, and no higher than the limit of
// the acceleration there. A motion that is fastest for its distance makes T - c s
// stationary for some c (seconds per metre): it wants b as high as possible where
// c v < 1 and as low as possible where c v > 1. As that changes once along a rise,
// j changes its sign at most twice. What remains is one parameter:
//
//   - up to a top speed and down from it, or the mirror image, each part with the
//     highest b there is, and constant speed at the top if that is the limit;
//   - without a turn of the speed, acceleration at its highest, then down to some
//     least value, then up again, or the other way round.
//
// In the first, time grows with the top, and dT/ds = c >= 0 leaves the top where
// the distance grows with it, of which there is at most one. In the second,
// likewise, the least value nearest to the highest curve counts. PlanBetween
// takes the fastest of these.
//
// An acceleration at the start that points away from the top is taken off first,
// at once, and one at the end built up last. Where Jerk = DecelJerk, limited or not
// and whatever Accel and Decel, nothing is faster: a(t), and with it v(t), is then
// the highest there is at every time.
//
// Where Jerk and DecelJerk differ, nothing that keeps its direction of travel is
// faster. But motions that pass standstill can be, by going there only to use the
// higher jerk beyond: a run-up before a start from rest, a return to rest from
// beyond the end, a passage with more acceleration than needed. A short run-up
// before a start from rest pays if DecelJerk is more than 2 + √3 times Jerk; at an
// end at rest the ratio is the reverse. PlanBetween, like [Plan], does not search
// for these: it takes the fastest of the motions above. A random search for a
// faster way through standstill found none where one jerk was up to 3 times the
// other; at 5 times it improved 2 % of the motions, by at most 0.5 %, and at 30
// times 14 %, by at most 12 %. If just one of the jerks is not limited such a
// passage takes no time, since the acceleration may step at zero speed, and the
// search nearly halved some times; a motion above with its top at zero speed does
// step there.
//
// The shortest time is not continuous in the states: a little less distance can
// mean that the axis has to turn back for it. Distances and speeds are told apart
// down to about 1e-13 of the motion (1e-10 where it is short for its speed), so that
// planning anew from a state on the way does not turn back for a rounding error. A
// gap of that size is left where the two ends of the motion meet.
//
// A motion of more than nine segments, which passes zero speed or comes back
// inside the limits, takes one allocation, others none. Times are float64: a
// segment that is shorter than the whole by a factor q holds its limits to 4e-16 q
// (or 1e-9, if that is more).
//
// The error joins one [*InputError] for every value out of its domain, with paths
// "from.position", "to.accel", "lim.speed" and so on, or "lim" when magnitudes are
// so far apart that float64 cannot hold the motion.
//
// Source: own derivation from the kinematics of constant jerk and the maximum
// principle.
func PlanBetween(from, to State, lim Limits) (Move, error) {
	travel := to.Position - from.Position
	if err := lim.Validate(); err != nil || !from.finite() || !to.finite() || !isFinite(travel) {
		return Move{}, betweenFaults(from, to, lim)
	}
	if from.Speed == 0 && from.Accel == 0 && to.Speed == 0 && to.Accel == 0 {
		return Plan(from.Position, to.Position, lim)
	}
	asked := from
	from, to = lim.start(from), lim.end(to)
	c, speed := lim.climb(), lim.Speed
	m := Move{to: to.Position, speed: to.Speed, accel: to.Accel}

	x := max(c.excess(speed, to.Speed, to.Accel), c.backwards().excess(speed, to.Speed, -to.Accel))
	y := c.excess(speed, from.Speed, from.Accel)
	if !isFinite(x + y) {
		return Move{}, tooWide(asked, to, lim)
	}
	if x > 1 {
		if x > 1+outside {
			return Move{}, endFaults(to, lim)
		}
		c, speed = c.widened(x), speed*x
	}
	k := cursor{&m, from.Position, from.Speed, from.Accel, 1}
	if y > 1+outside {
		k.inside(c, speed)
	} else if y > 1 {
		c, speed = c.widened(y), speed*y
	}

	f := frame{
		climb: c, speed: speed,
		v0: k.dir * k.v, a0: k.dir * k.a, v1: to.Speed, a1: to.Accel, s: to.Position - k.position,
	}
	f.setGrain(max(math.Abs(k.position), math.Abs(to.Position)))
	way := best(&f)
	if !m.follow(&way, k.position, to.Position) || !m.holds(from) {
		return Move{}, tooWide(asked, to, lim)
	}
	return m, nil
}

// tooWide is the error for magnitudes so far apart that float64 cannot hold the
// motion.
func tooWide(from, to State, lim Limits) error {
	var f Faults
	f.Add("lim", fmt.Sprintf("%+v from %+v to %+v", lim, from, to), "limits and states whose motion float64 can hold")
	return f.Err()
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
	x = max(x, w/speed)
	if v >= 0 {
		return max(x, a/c.above.accel)
	}
	x = max(x, a/c.below.accel)
	if sq := a*a + 2*c.below.jerk*v; sq > 0 {
		x = max(x, math.Sqrt(sq)/c.above.accel)
	}
	return x
}

func betweenFaults(from, to State, lim Limits) error {
	var f Faults
	from.check(&f, "from")
	to.check(&f, "to")
	if isFinite(from.Position) && isFinite(to.Position) && !isFinite(to.Position-from.Position) {
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

// follow appends the chosen motion between two positions, if there is one.
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
	return true
}

// holds reports whether the segments are finite and join each other, the start and
// the end, as finely as the time is resolved.
func (m *Move) holds(from State) bool {
	way := max(math.Abs(from.Position), math.Abs(m.to))
	quick, most := max(math.Abs(from.Speed), math.Abs(m.speed)), 0.0
	for i := range m.n {
		s := m.segment(i)
		way, quick, most = max(way, math.Abs(s.position)), max(quick, math.Abs(s.speed)), max(most, math.Abs(s.accel))
	}
	tick := 0x1p-51 * m.duration
	way, quick = motionTolerance*way+tick*quick, motionTolerance*quick+tick*most
	joined := func(a, b State) bool {
		return math.Abs(a.Position-b.Position) <= way && math.Abs(a.Speed-b.Speed) <= quick && isFinite(a.Accel)
	}
	end, next := m.duration, State{Position: m.to, Speed: m.speed}
	for i := m.n - 1; i >= 0; i-- {
		s := m.segment(i)
		if !joined(s.state(end-s.t), next) {
			return false
		}
		end, next = s.t, State{Position: s.position, Speed: s.speed}
	}
	return joined(from, next) && isFinite(m.duration)
}

// state returns the state t [s] after the start of the segment.
func (s *segment) state(t float64) State {
	return State{
		Position: s.position + t*(s.speed+t*(s.accel/2+t*(s.jerk/6))),
		Speed:    s.speed + t*(s.accel+t*(s.jerk/2)),
		Accel:    s.accel + t*s.jerk,
	}
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
