package profile

import "math"

// Halt returns the motion that stops as fast as the deceleration allows from any
// state: an acceleration that speeds up is taken off first, at lim.Jerk, then
// the speed is brought down within lim.Decel and lim.DecelJerk. How far that goes
// is m.At(m.Duration()).Position - from.Position [m] and how long it takes
// m.Duration() [s].
//
// A deceleration that cannot be taken off before standstill (the half square of
// it exceeds the jerk times the speed) carries past standstill: it is taken off
// there as fast as can be, at lim.Jerk, and the motion comes to rest from the
// other side.
//
// The speed may exceed lim.Speed, which is not used. An acceleration outside its
// limit is brought back inside it first. Where the jerk is not limited the
// acceleration steps, and that of from does not matter.
//
// No motion that does not pass standstill stops sooner, since the deceleration is
// at every speed the highest that the start, the limit and the end allow. A
// motion that does pass it of its own accord, to return, can stop sooner where
// lim.Jerk is more than 2 + √3 times lim.DecelJerk; Halt does not do so.
//
// The error joins one [*InputError] for every value out of its domain, with
// paths "from.position", "from.speed", "lim.accel" and so on.
//
// Halting distances and times are those of a drive that follows the motion. They
// say nothing of what happens without power, or of the safe distance to a
// machine: see the standards that apply, such as ISO 13855, and those who are
// licensed to apply them.
//
// Source: own derivation from the kinematics of constant jerk.
func Halt(from State, lim Limits) (Move, error) {
	if err := lim.Validate(); err != nil || !from.finite() {
		return Move{}, haltFaults(from, lim)
	}
	asked := from
	from = lim.start(from)
	c := lim.climb()
	m := Move{to: from.Position}
	k := cursor{&m, from.Position, from.Speed, from.Accel, 1}
	if x := c.excess(math.Inf(1), k.v, k.a); !isFinite(x) {
		return Move{}, tooWide(asked, State{}, lim)
	} else if x > 1+outside {
		k.inside(c, math.Inf(1))
	} else if x > 1 {
		c = c.widened(x)
	}
	if k.v > 0 || k.v == 0 && k.a > 0 {
		k.mirror()
	}
	l := newLeg(c, k.v, k.a)
	if l.w > 1e-14*math.Abs(k.v) || l.passes(0) || l.v > 0 {
		k.mirror()
		l = newLeg(c, k.v, k.a)
	}
	var t track
	t.v = k.v
	t.climb(&l, 0, max(0, -l.w))
	m.forward(&t, k.position, k.dir)
	m.to = k.position + k.dir*t.s
	if !m.holds(from) {
		return Move{}, tooWide(asked, State{}, lim)
	}
	return m, nil
}

func haltFaults(from State, lim Limits) error {
	var f Faults
	from.check(&f, "from")
	f.Under("lim", lim.Validate())
	return f.Err()
}

func (s State) check(f *Faults, path string) {
	f.Finite(path+".position", s.Position, "m")
	f.Finite(path+".speed", s.Speed, "m/s")
	f.Finite(path+".accel", s.Accel, "m/s²")
}
