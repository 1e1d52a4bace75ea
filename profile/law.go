package profile

import (
	"fmt"
	"math"
)

// Law is the shape of a move from rest to rest: position over time, both scaled
// to run from 0 to 1. It says how to move where distance and time are given; no
// limits are needed for that. Laws come from [Shares.Law], [LeastLoss],
// [Polynomial345], [Polynomial4567], [SimpleHarmonic] and [Cycloidal]; the zero
// value is invalid. A move over the distance s [m] in the time T [s] takes
//
//	peak speed          Cv s/T
//	peak acceleration   Ca s/T²
//	peak jerk           Cj s/T³
//
// with the factors that [Law.Factors] returns, and ∫a² dt is the loss factor times
// s²/T³: the copper loss of a motor that moves a pure inertia is proportional to
// it.
//
//	law                  Cv       Ca        Cj       loss factor
//	LeastLoss            3/2      6         +Inf     12
//	Shares, thirds       3/2      9/2       +Inf     27/2
//	SimpleHarmonic       π/2      π²/2      +Inf     π⁴/8 = 12.18
//	Shares, halves       2        4         +Inf     16
//	Polynomial345        15/8     10/√3     60       120/7 = 17.14
//	Cycloidal            2        2π        4π²      2π² = 19.74
//	Shares, halves, all  2        8         32       64/3 = 21.33
//	  of it rounded
//	Polynomial4567       35/16    84√5/25   52.5     280/11 = 25.45
//
// Speeding up and slowing down are alike in all of these. The shapes are those of
// cam design, e.g. R. L. Norton, Design of Machinery, where the factors are
// tabulated to a few digits (FROM MEMORY); here they are the maxima of the
// derivatives and the integral, worked out by hand.
//
// Axes that move by one law in one time stay on a straight line in space.
type Law struct {
	position Curve
	factors  Limits
}

// Factors returns the peak values of the law over distance 1 in time 1, as the
// tightest limits that it keeps: those of speeding up in Accel and Jerk, those
// of slowing down in Decel and DecelJerk. A jerk is +Inf where the acceleration
// steps.
func (l Law) Factors() Limits { return l.factors }

// Motion returns the move from rest at from [m] to rest at to [m] that takes
// duration [s] > 0 by this law. from == to waits for that long.
//
// The error joins one [*InputError] for every value out of its domain, or names
// the duration where float64 cannot hold the motion.
func (l Law) Motion(from, to, duration float64) (Motion, error) {
	if err := l.faults(from, to, duration); err != nil {
		return Motion{}, err
	}
	if from == to {
		return Dwell(from, duration)
	}
	if position, ok := l.position.Scale(to-from).slowed(duration, duration); ok {
		for i := range position.Pieces() {
			position.coefs(i)[0] += from
		}
		// The pieces of a law join, so that it only remains to see that no
		// value is out of range.
		speed := position.Derivative()
		m := Motion{position, speed, speed.Derivative()}
		if m.position.notFinite() < 0 && m.speed.notFinite() < 0 && m.accel.notFinite() < 0 {
			return m, nil
		}
	}
	var f Faults
	f.Add("duration", duration, fmt.Sprintf("a time for %g m in which float64 can hold positions, speeds and accelerations", to-from))
	return Motion{}, f.Err()
}

// MotionWithin returns the same as [Law.Motion], or an error when it would not
// keep the limits: that of the duration says the shortest possible one, which
// is what [Law.Shortest] returns.
func (l Law) MotionWithin(from, to, duration float64, lim Limits) (Motion, error) {
	var f Faults
	f.Under("", l.faults(from, to, duration))
	f.Under("lim", lim.Validate())
	if err := f.Err(); err != nil {
		return Motion{}, err
	}
	if from == to {
		return Dwell(from, duration)
	}
	shortest, err := l.Shortest(to-from, lim)
	if err != nil {
		return Motion{}, err
	}
	if !(duration >= shortest) {
		f.Add("duration", duration, fmt.Sprintf("at least %v s, the shortest by this law within the limits", shortest))
		return Motion{}, f.Err()
	}
	return l.Motion(from, to, duration)
}

// Shortest returns the shortest time [s] in which a move by this law over the
// distance [m], in either direction, keeps the limits. From the factors it is
// the largest of
//
//	Cv s/v, √(Ca s/a), ∛(Cj s/j)
//
// with acceleration and jerk taken for speeding up and for slowing down. It is
// 0 for no distance. A jerk limit on a law whose acceleration steps is an error:
// no time is long enough.
func (l Law) Shortest(distance float64, lim Limits) (float64, error) {
	var f Faults
	l.check(&f)
	f.Finite("distance", distance, "m")
	f.Under("lim", lim.Validate())
	if err := f.Err(); err != nil || distance == 0 {
		return 0, err
	}
	s, c := math.Abs(distance), l.factors
	up, down := lim.ramps()
	stepping := func(path string, jerk, factor float64) {
		if !math.IsInf(jerk, 1) && math.IsInf(factor, 1) {
			f.Add(path, jerk, "no limit on the jerk, as the acceleration of this law steps")
		}
	}
	stepping("lim.jerk", up.jerk, c.Jerk)
	stepping("lim.decelJerk", down.jerk, c.DecelJerk)
	if err := f.Err(); err != nil {
		return 0, err
	}
	// Roots are taken before products, which might leave the range of float64.
	root := func(r func(float64) float64, factor, limit float64) float64 {
		if math.IsInf(limit, 1) {
			return 0
		}
		return r(factor) * r(s) / r(limit)
	}
	t := math.Max(c.Speed*(s/lim.Speed), math.Max(
		math.Max(root(math.Sqrt, c.Accel, up.accel), root(math.Sqrt, c.Decel, down.accel)),
		math.Max(root(math.Cbrt, c.Jerk, up.jerk), root(math.Cbrt, c.DecelJerk, down.jerk))))
	if !isFinite(t) {
		f.Add("lim", fmt.Sprintf("%+v over %g m", lim, distance), "limits and a distance whose time float64 can hold")
		return 0, f.Err()
	}
	return t, nil
}

func (l Law) check(f *Faults) {
	if l.position.Pieces() == 0 {
		f.Add("law", nil, "a law from one of the functions that return one")
	}
}

func (l Law) faults(from, to, duration float64) error {
	var f Faults
	l.check(&f)
	start, end := f.Finite("from", from, "m"), f.Finite("to", to, "m")
	if start && end && !isFinite(to-from) {
		f.Add("to", to, fmt.Sprintf("a finite distance from %g m", from))
	}
	f.Positive("duration", duration, "s")
	return f.Err()
}
