package profile_test

import (
	"math"

	"example.com/headroom/profile"
)

// between is a motion to plan.
type between struct {
	from, to profile.State
	lim      profile.Limits
}

// kinds of limits that the cases are drawn from.
const (
	symmetric      = iota // the same for speeding up and slowing down
	unequalAccels         // but for Accel and Decel
	unequalJerks          // and for Jerk and DecelJerk
	unlimitedJerks        // neither jerk limited
	oneUnlimited          // one of the jerks not limited
	kindCount
)

var kindNames = [kindCount]string{"symmetric", "unequal accelerations", "unequal jerks", "unlimited jerks", "one jerk unlimited"}

func (r random) betweenCase(kind int) between {
	l := profile.Limits{Speed: r.spread(0.3, 5), Accel: r.spread(0.3, 3), Jerk: r.spread(0.3, 10)}
	l.Decel, l.DecelJerk = l.Accel, l.Jerk
	if kind >= unequalAccels {
		l.Decel = r.spread(0.3, 3)
	}
	switch kind {
	case unequalJerks:
		l.DecelJerk = r.spread(0.3, 10)
	case unlimitedJerks:
		l.Jerk, l.DecelJerk = inf, inf
	case oneUnlimited:
		l.DecelJerk = inf
		if r.IntN(2) == 0 {
			l.Jerk, l.DecelJerk = inf, l.Jerk
		}
	}
	c := between{r.state(l), r.state(l), l}
	c.to.Position = r.NormFloat64() * r.spread(0.01, 10)
	return c
}

// state draws a state; some stand still, some lie outside the limits.
func (r random) state(l profile.Limits) profile.State {
	s := profile.State{Speed: r.between(-1, 1) * l.Speed, Accel: r.between(-1, 1) * math.Max(l.Accel, l.Decel)}
	switch r.IntN(12) {
	case 0, 1, 2:
		s.Accel = 0
	case 3, 4:
		s.Speed = 0
	case 5:
		s = profile.State{}
	}
	return s
}

// instant is the speed at some time, and a step of the acceleration there.
type instant struct{ v, step float64 }

// speedsOf samples the speed of motions that follow each other from start to end.
func speedsOf(start, end profile.State, moves ...profile.Move) []instant {
	var out []instant
	before := start.Accel
	for _, m := range moves {
		a := m.Motion().Accel()
		for i := range a.Pieces() {
			t0, t1, c := a.Piece(i)
			out = append(out, instant{m.At(t0).Speed, at(c, 0) - before})
			for k := range 40 {
				out = append(out, instant{m.At(t0 + (t1-t0)*(float64(k)+0.5)/40).Speed, 0})
			}
			before = at(c, 0) + at(c, 1)*(t1-t0)
		}
	}
	return append(out, instant{end.Speed, end.Accel - before})
}

// turns counts how often the speed changes its sign. A step of the acceleration at
// zero speed counts as two changes that take no time.
func turns(motion []instant) int {
	top, step := 0.0, 0.0
	for _, x := range motion {
		top, step = math.Max(top, math.Abs(x.v)), math.Max(step, math.Abs(x.step))
	}
	n, last := 0, 0.0
	for _, x := range motion {
		if math.Abs(x.v) <= 1e-9*top {
			if math.Abs(x.step) > 1e-6*step {
				n += 2
			}
			continue
		}
		if x.v*last < 0 {
			n++
		}
		last = x.v
	}
	return n
}
