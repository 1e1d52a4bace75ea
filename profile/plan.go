package profile

import (
	"fmt"
	"math"
)

// Plan returns the fastest move from rest at from [m] to rest at to [m] within
// the limits: an S-curve, or a trapezoid of speed where the jerk is not
// limited. from == to gives a move of no duration.
//
// Accel and Jerk hold while the acceleration points along the travel, Decel and
// DecelJerk while it points against it. At rest means with no speed and, where
// the jerk is limited, no acceleration.
//
// A ramp from standstill to speed v within acceleration A and jerk J, without
// acceleration at its ends, is fastest with the jerk at its limit all along,
// or zero while the acceleration is at its limit. It takes
//
//	t(v) = v/A + A/J       if v >= A²/J, where A is reached
//	t(v) = 2 √(v/J)        below
//
// and covers v t(v)/2, since its speed is point-symmetric about v/2. With no
// limit on the jerk A/J is zero and t(v) = v/A. With one such ramp up (time t1)
// and one down (t2), at the peak speed v, a move over the distance s takes
//
//	T = s/v + (t1(v) + t2(v))/2,  possible if  v (t1(v) + t2(v))/2 <= s
//
// Plan takes the highest v that this and the speed limit allow. That v is the
// limit itself, with a stretch of constant speed, or the root of
//
//	v (t1(v) + t2(v))/2 = s
//
// whose left side grows with v: in closed form when neither ramp reaches its
// acceleration, a quadratic when both do, a quartic in √v when one does.
//
// No other motion that does not reverse on the way is faster. Let v be the highest speed that some motion within
// the limits takes. Up to there it cannot be faster than the ramp r to v that
// starts with it: while r builds up and holds its acceleration nothing is, and
// where r rounds off, a motion above r would have, at some earlier instant, the
// speed of r or more and a higher acceleration, which the jerk limit does not
// let it take back before it has passed v. The same holds backwards in time from
// the end. So in a given time no motion with peak speed v comes farther than
// ramp, constant speed, ramp. And a higher peak speed is faster: as
// v² t'(v) <= v t(v),
//
//	v² dT/dv = -s + v² (t1'(v) + t2'(v))/2 <= -s + v (t1(v) + t2(v))/2 <= 0
//
// The error joins one [*InputError] for every value out of its domain, with
// paths "from", "to", "lim.speed" and so on, or "lim" when magnitudes are so far
// apart that float64 cannot hold the move.
//
// Segments last for whole units in the last place of the duration. The ramps are
// rounded up to that, so the duration is the optimum to a few such units, the
// limits hold, and the move ends at rest even where its ramps are a
// billion times shorter than it.
//
// Source: own derivation from the kinematics of constant jerk.
func Plan(from, to float64, lim Limits) (Move, error) {
	travel := math.Abs(to - from)
	if err := lim.Validate(); err != nil || !isFinite(travel) {
		return Move{}, planFaults(from, to, lim)
	}
	m := Move{to: to}
	if travel == 0 {
		return m, nil
	}
	up, down := lim.ramps()
	v, cruise := peak(travel, lim.Speed, up, down)

	// All durations are multiples of a tick, two units in the last place of the
	// duration, and so exact.
	tick := powerOfTwo(up.duration(v)+cruise+down.duration(v)) * 0x1p-51
	rise, fall := up.to(v, tick), down.to(v, tick)
	s3, s4 := rise.distance(v), fall.distance(v)
	if cruise > 0 {
		cruise = math.Max(0, math.Round((travel-s3-s4)/v/tick)*tick)
	}

	// Forwards from the start.
	dir := math.Copysign(1, to-from)
	v1, s1 := rise.built()
	s2 := s1 + rise.hold*(v1+rise.accel*rise.hold/2)
	m.add(rise.build, from, 0, 0, dir*rise.jerk)
	m.add(rise.hold, from+dir*s1, dir*v1, dir*rise.accel, 0)
	m.add(rise.build, from+dir*s2, dir*(v-v1), dir*rise.accel, -dir*rise.jerk)
	m.add(cruise, from+dir*s3, dir*v, 0, 0)

	// Backwards from the end, so that no rounding gathers there.
	v6, s6 := fall.built()
	s5 := s6 + fall.hold*(v6+fall.accel*fall.hold/2)
	m.add(fall.build, to-dir*s4, dir*v, 0, -dir*fall.jerk)
	m.add(fall.hold, to-dir*s5, dir*(v-v6), -dir*fall.accel, 0)
	m.add(fall.build, to-dir*s6, dir*v6, -dir*fall.accel, dir*fall.jerk)

	if !(agree(s3+v*cruise+s4, travel) && up.holds(rise, v) && down.holds(fall, v)) {
		var f Faults
		f.Add("lim", fmt.Sprintf("%+v over %g m", lim, travel), "limits and a travel whose move float64 can hold")
		return Move{}, f.Err()
	}
	return m, nil
}

// powerOfTwo returns the highest power of two up to x, a normal number > 0.
func powerOfTwo(x float64) float64 {
	return math.Float64frombits(math.Float64bits(x) &^ (1<<52 - 1))
}

func planFaults(from, to float64, lim Limits) error {
	var f Faults
	start, end := f.Finite("from", from, "m"), f.Finite("to", to, "m")
	if start && end && !isFinite(to-from) {
		f.Add("to", to, fmt.Sprintf("a finite distance from %g m", from))
	}
	f.Under("lim", lim.Validate())
	return f.Err()
}

// peak returns the peak speed [m/s] of the fastest move over travel [m] and how
// long it is held [s].
func peak(travel, limit float64, up, down ramp) (v, cruise float64) {
	distance := func(v float64) float64 { return v / 2 * (up.duration(v) + down.duration(v)) }
	if s := distance(limit); s <= travel {
		return limit, (travel - s) / limit
	}
	// From its knee on a ramp reaches its acceleration.
	first, second := up, down
	if second.knee < first.knee {
		first, second = second, first
	}
	switch {
	case travel <= distance(first.knee):
		// v^(3/2) (1/√J1 + 1/√J2) = s
		c := math.Cbrt(travel / (1/math.Sqrt(up.jerk) + 1/math.Sqrt(down.jerk)))
		v = c * c
	case travel >= distance(second.knee):
		// v² (1/A1 + 1/A2)/2 + v (A1/J1 + A2/J2)/2 = s
		p, q := (1/up.accel+1/down.accel)/2, (up.rise+down.rise)/4
		v = travel / (q + math.Sqrt(q*q+p*travel))
	default:
		v = mixedPeak(travel, first, second)
	}
	return math.Min(v, limit), 0
}

// mixedPeak returns the peak speed when full reaches its acceleration A1 and
// part does not. With x = √v it is the root of
//
//	h(x) = x⁴/(2 A1) + x³/√J2 + x² (A1/J1)/2 - s
//
// h grows and is convex, so Newton's iteration falls towards the root from any
// point above it. The smallest x at which one term alone equals s is such a
// point, and h there is at most 2s.
func mixedPeak(travel float64, full, part ramp) float64 {
	c4, c3, c2 := 1/(2*full.accel), 1/math.Sqrt(part.jerk), full.rise/2
	x := math.Min(math.Sqrt(math.Sqrt(travel/c4)), math.Cbrt(travel/c3))
	if c2 > 0 {
		x = math.Min(x, math.Sqrt(travel/c2))
	}
	for range 50 {
		h := x*x*(c2+x*(c3+x*c4)) - travel
		next := x - h/(x*(2*c2+x*(3*c3+x*4*c4)))
		if !(next < x) {
			break
		}
		x = next
	}
	return x * x
}
