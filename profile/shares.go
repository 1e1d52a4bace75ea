package profile

import (
	"fmt"
	"math"
)

// Shares gives the shape of a move by how its time is spent: speeding up,
// at constant speed for what is left, slowing down. Equal thirds without
// rounding are the usual trapezoid of speed.
//
// The zero value is invalid: Accel and Decel have no honest default.
type Shares struct {
	Accel         float64 // share of the time spent speeding up, 1e-6 to 1
	Decel         float64 // share of the time spent slowing down, 1e-6 to 1; Accel + Decel <= 1
	AccelRounding float64 // share of the time speeding up in which the acceleration builds up and is taken back, 0 to 1
	DecelRounding float64 // the same for slowing down
}

// leastShare is the smallest share of the time that a part of a move may have,
// well above what the clock resolves.
const leastShare = 1e-6

// Validate returns nil, or an error that joins one [*InputError] for every
// field outside its domain. A rounding that is not 0 takes at least 1e-6 of the
// whole time.
func (s Shares) Validate() error {
	var f Faults
	up := f.Within("accel", s.Accel, leastShare, 1, "of the time")
	down := f.Within("decel", s.Decel, leastShare, 1, "of the time")
	if up && down && !(s.Accel+s.Decel <= 1+joinTolerance) {
		f.Add("decel", s.Decel, fmt.Sprintf("at most what accel = %g leaves of the time", s.Accel))
	}
	rounding := func(path string, r, share float64, valid bool) {
		if f.Within(path, r, 0, 1, "") && valid && r > 0 && !(r*share >= leastShare) {
			f.Add(path, r, fmt.Sprintf("0, or at least %g for such a short share of the time", leastShare/share))
		}
	}
	rounding("accelRounding", s.AccelRounding, s.Accel, up)
	rounding("decelRounding", s.DecelRounding, s.Decel, down)
	return f.Err()
}

// Law returns the law of moves with these shares. With the shares a and d of
// speeding up and slowing down and their roundings r and q, its factors are
//
//	speed         Cv = 2/(2 - a - d)
//	acceleration  Cv/(a (1 - r/2)) up,  Cv/(d (1 - q/2)) down
//	jerk          the acceleration over r a/2 and q d/2; +Inf without rounding
//
// since a ramp, rounded or not, covers half its time at the peak speed. With
// a = d = p and without rounding the loss factor ∫a² dt T³/s² is 2/(p (1-p)²),
// 13.5 for equal thirds. Source: own derivation from constant jerk.
func (s Shares) Law() (Law, error) {
	if err := s.Validate(); err != nil {
		return Law{}, err
	}
	a := s.Accel
	d := math.Min(s.Decel, 1-a)
	v := 2 / (2 - a - d)
	up, down := share(a, s.AccelRounding, v), share(d, s.DecelRounding, v)

	// Forwards from the start and backwards from the end.
	v1, s1 := up.built()
	s2 := s1 + up.hold*(v1+up.accel*up.hold/2)
	s3 := up.distance(v)
	v6, s6 := down.built()
	s5 := s6 + down.hold*(v6+down.accel*down.hold/2)
	s4 := down.distance(v)
	seg := [...]segment{
		{0, 0, 0, 0, up.jerk},
		{up.build, s1, v1, up.accel, 0},
		{up.build + up.hold, s2, v - v1, up.accel, -up.jerk},
		{a, s3, v, 0, 0},
		{1 - d, 1 - s4, v, 0, -down.jerk},
		{1 - d + down.build, 1 - s5, v - v6, -down.accel, 0},
		{1 - down.build, 1 - s6, v6, -down.accel, down.jerk},
	}
	p := makeCurve(len(seg), 4)
	p.b = append(p.b, 0)
	for i, q := range seg {
		next := 1.0
		if i+1 < len(seg) {
			next = seg[i+1].t
		}
		// What is shorter is rounding: a part that these shares do not have.
		if next-p.End() > joinTolerance {
			p.b = append(p.b, next)
			p.c = append(p.c, q.position, q.speed, q.accel/2, q.jerk/6)
		}
	}
	return Law{p, Limits{v, up.accel, down.accel, up.steepest(), down.steepest()}}, nil
}

// share returns the ramp to speed v in the time t of which the part rounding
// goes into building up the acceleration and taking it back.
func share(t, rounding, v float64) timed {
	r := timed{build: rounding * t / 2, hold: t * (1 - rounding), accel: v / (t * (1 - rounding/2))}
	if r.build > 0 {
		r.jerk = r.accel / r.build
	}
	return r
}

// steepest returns the peak jerk, +Inf where the acceleration steps.
func (t timed) steepest() float64 {
	if t.build == 0 {
		return math.Inf(1)
	}
	return t.jerk
}
