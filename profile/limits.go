package profile

import "math"

// Limits bounds a motion. Speeds and accelerations are magnitudes: they hold in
// both directions of travel, and Decel bounds slowing down in either.
//
// The zero value is invalid: Speed and Accel have no honest default.
type Limits struct {
	Speed     float64 // highest speed [m/s], finite and > 0
	Accel     float64 // highest acceleration along the travel, speeding up [m/s²], finite and > 0
	Decel     float64 // highest acceleration against the travel, slowing down [m/s²], finite; 0 means the same as Accel
	Jerk      float64 // highest rate of change of the acceleration while speeding up [m/s³]; 0 or +Inf means not limited
	DecelJerk float64 // the same while slowing down [m/s³]; 0 means the same as Jerk, +Inf not limited
}

// Validate returns nil, or an error that joins one [*InputError] for every
// field outside its domain.
func (l Limits) Validate() error {
	var f Faults
	f.Positive("speed", l.Speed, "m/s")
	f.Positive("accel", l.Accel, "m/s²")
	f.NonNegative("decel", l.Decel, "m/s²")
	checkJerk(&f, "jerk", l.Jerk)
	checkJerk(&f, "decelJerk", l.DecelJerk)
	return f.Err()
}

func checkJerk(f *Faults, path string, v float64) {
	if !(v >= 0) {
		f.Add(path, v, ">= 0 m/s³")
	}
}

// ramps returns what the limits mean for speeding up and for slowing down.
func (l Limits) ramps() (up, down ramp) {
	decel, decelJerk := l.Decel, l.DecelJerk
	if decel == 0 {
		decel = l.Accel
	}
	if decelJerk == 0 {
		decelJerk = l.Jerk
	}
	return newRamp(l.Accel, l.Jerk), newRamp(decel, decelJerk)
}

// ramp is a change between standstill and some speed, as fast as an
// acceleration A and a jerk J allow, with no acceleration at its two ends.
type ramp struct {
	accel, jerk float64
	rise        float64 // time to build up the full acceleration [s], A/J; 0 when jerk is not limited
	knee        float64 // speed from which the full acceleration is reached [m/s], A²/J
}

func newRamp(accel, jerk float64) ramp {
	if jerk == 0 {
		jerk = math.Inf(1)
	}
	rise := accel / jerk
	return ramp{accel: accel, jerk: jerk, rise: rise, knee: accel * rise}
}

// duration returns how long the ramp to speed v takes [s].
func (r ramp) duration(v float64) float64 {
	if v >= r.knee {
		return v/r.accel + r.rise
	}
	return 2 * math.Sqrt(v/r.jerk)
}

// timed is a ramp to one speed: acceleration built up at constant jerk over
// build [s], held over hold [s], and taken back as it was built up.
type timed struct {
	build, hold, accel, jerk float64 // jerk is 0 where acceleration steps
}

// to returns the ramp to speed v. Its times are rounded up to whole ticks, so
// that sums of them are exact; this takes a little off acceleration and jerk.
func (r ramp) to(v, tick float64) timed {
	var t timed
	if v >= r.knee {
		t.build, t.hold = r.rise, math.Max(0, v/r.accel-r.rise)
	} else {
		t.build = math.Sqrt(v / r.jerk)
	}
	full := math.Ceil((t.build+t.hold)/tick) * tick
	t.build = math.Ceil(t.build/tick) * tick
	if t.build == 0 && !math.IsInf(r.jerk, 1) {
		t.build = tick
	}
	t.hold = full - t.build
	t.accel = v / (t.build + t.hold)
	if t.build > 0 {
		t.jerk = t.accel / t.build
	}
	return t
}

// distance returns how far the ramp to speed v comes [m].
func (t timed) distance(v float64) float64 { return v / 2 * (2*t.build + t.hold) }

// built returns the speed and the distance once the acceleration is built up.
func (t timed) built() (speed, distance float64) {
	return t.accel * t.build / 2, t.accel * t.build * t.build / 6
}

// holds reports whether t reaches v within the limits of r: it does not once a
// factor has left the range of float64.
func (r ramp) holds(t timed, v float64) bool {
	accel := t.accel
	if t.build > 0 {
		accel = t.jerk * t.build
	}
	return agree(accel*(t.build+t.hold), v) && t.jerk <= r.jerk*(1+motionTolerance)
}

// agree reports whether got is want > 0 but for rounding.
func agree(got, want float64) bool { return math.Abs(got-want) <= motionTolerance*want }
