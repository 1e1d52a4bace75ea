package profile_test

import (
	"fmt"
	"math"
	"sort"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

func moving(position, speed, accel float64) profile.State {
	return profile.State{Position: position, Speed: speed, Accel: accel}
}

func nearState(t testing.TB, want, got profile.State, tol float64, what string, args ...any) {
	t.Helper()
	what = fmt.Sprintf(what, args...)
	near(t, want.Position, got.Position, tol, "%s: position", what)
	near(t, want.Speed, got.Speed, tol, "%s: speed", what)
	near(t, want.Accel, got.Accel, tol, "%s: acceleration", what)
}

// By hand, with acceleration and jerk 1.
func TestPlanBetweenByHand(t *testing.T) {
	l := profile.Limits{Speed: 2, Accel: 1, Jerk: 1}
	plan := func(from, to profile.State, l profile.Limits) profile.Move {
		return must[profile.Move](t)(profile.PlanBetween(from, to, l))
	}

	// One second of rising acceleration and one of falling, at 1 m/s.
	m := plan(moving(0, 0, 0), moving(1, 1, 0), l)
	near(t, 2, m.Duration(), 1e-15, "from rest to 1 m/s")
	nearState(t, moving(1./6, 0.5, 1), m.At(1), 1e-15, "midway")

	// The same cut in the middle: an acceleration at the end, and at the start.
	near(t, 1, plan(moving(0, 0, 0), moving(1./6, 0.5, 1), l).Duration(), 1e-15, "first half")
	near(t, 1, plan(moving(1./6, 0.5, 1), moving(1, 1, 0), l).Duration(), 1e-15, "second half")

	// From 1 m/s it cannot stop before 1 m. To stop at -1 m it turns: 1 s down to
	// full deceleration over 5/6 m, 1 s at it, from 0.5 to -0.5 m/s over none, 2 s of
	// rising acceleration over -5/3 m, 1 s of falling over -1/6 m.
	m = plan(moving(0, 1, 0), moving(-1, 0, 0), l)
	near(t, 5, m.Duration(), 1e-14, "overshoot and return")
	nearState(t, moving(5./6, 0.5, -1), m.At(1), 1e-14, "full deceleration")
	nearState(t, moving(5./6, -0.5, -1), m.At(2), 1e-14, "on the way back")
	nearState(t, moving(-5./6, -0.5, 1), m.At(4), 1e-14, "slowing down")

	// A trapezoid: from 1 to 2 m/s in 0.5 s over 0.75 m, 1.75 m at 2 m/s, back to 0
	// at 4 m/s² over 0.5 m.
	m = plan(moving(0, 1, 7), moving(3, 0, -7), profile.Limits{Speed: 2, Accel: 2, Decel: 4})
	near(t, 0.5+0.875+0.5, m.Duration(), 1e-15, "trapezoid")

	require.Zero(t, plan(moving(3, 1, 0.5), moving(3, 1, 0.5), l).Duration())
	require.Equal(t, moving(3, 1, 0.5), plan(moving(3, 1, 0.5), moving(3, 1, 0.5), l).At(0))
}

// Rest to rest it is Plan, and on the way of a planned move it plans the rest of it.
func TestPlanBetweenGoesOnLikePlan(t *testing.T) {
	r := seeded(80)
	for range 5000 {
		l := r.limits()
		travel := r.NormFloat64() * r.spread(1e-3, 1e3)
		to := moving(travel, 0, 0)
		m := must[profile.Move](t)(profile.Plan(0, travel, l))
		require.Equal(t, m, must[profile.Move](t)(profile.PlanBetween(moving(0, 0, 0), to, l)))
		d := m.Duration()
		x := d * r.Float64()
		rest := must[profile.Move](t)(profile.PlanBetween(m.At(x), to, l))
		// A rounding of speed can cost the square root of it.
		near(t, d-x, rest.Duration(), 1e-6*d, "%+v over %g from %g", l, travel, x)
		y := (d - x) * r.Float64()
		near(t, m.At(x+y).Position, rest.At(y).Position, 1e-6*math.Abs(travel), "%+v over %g at %g", l, travel, x+y)
	}
}

// Over magnitudes: what is planned holds, and only the end is ever refused.
func TestPlanBetweenHolds(t *testing.T) {
	r := seeded(81)
	refused, outside, resolved := 0, 0, 0
	for range 20000 {
		l := r.limits()
		draw := func() profile.State {
			return moving(r.NormFloat64()*r.spread(1e-3, 1e3), r.NormFloat64()*l.Speed*r.Float64(), r.NormFloat64()*l.Accel*r.Float64())
		}
		from, to := draw(), draw()
		if r.IntN(2) == 0 {
			to.Accel = 0
		}
		m, err := profile.PlanBetween(from, to, l)
		if err != nil {
			requireEndRefused(t, err)
			refused++
			continue
		}
		if !insideForGood(from.Speed, from.Accel, filled(l)) {
			outside++
		}
		require.NoError(t, flaw(m, from, to, l, 1e-9), "%+v to %+v, %+v", from, to, l)
		joined := true // unless a ramp is so short that its time is not resolved
		for i := range m.Motion().Position().Pieces() {
			t0, t1, _ := m.Motion().Position().Piece(i)
			joined = joined && (t1-t0 > 1e-6*m.Duration() || t1-t0 < 1e-15*m.Duration())
		}
		if joined && m.Duration() > 0 {
			_, err := profile.NewMotion(m.Motion().Position())
			require.NoError(t, err)
			resolved++
		}
	}
	require.Greater(t, outside, 2000)
	require.Greater(t, resolved, 2000)
	require.Less(t, refused, 12000)
}

// Backwards in time, mirrored and in other units a motion is the same.
func TestPlanBetweenSymmetries(t *testing.T) {
	r := seeded(82)
	reversed := 0
	for i := range 10000 {
		c := r.betweenCase(i % kindCount)
		m, err := profile.PlanBetween(c.from, c.to, c.lim)
		if err != nil {
			continue
		}
		d := m.Duration()
		x := d * r.Float64()

		mirror := func(s profile.State) profile.State { return moving(-s.Position, -s.Speed, -s.Accel) }
		other := must[profile.Move](t)(profile.PlanBetween(mirror(c.from), mirror(c.to), c.lim))
		near(t, d, other.Duration(), 1e-12*d, "%+v mirrored", c)
		near(t, m.At(x).Position, -other.At(x).Position, 1e-9, "%+v mirrored", c)

		const meter, second = 39.3700787, 1e3
		scale := func(s profile.State) profile.State {
			return moving(s.Position*meter, s.Speed*meter/second, s.Accel*meter/second/second)
		}
		l := c.lim
		l.Speed *= meter / second
		l.Accel *= meter / second / second
		l.Decel *= meter / second / second
		l.Jerk *= meter / second / second / second
		l.DecelJerk *= meter / second / second / second
		other = must[profile.Move](t)(profile.PlanBetween(scale(c.from), scale(c.to), l))
		near(t, d*second, other.Duration(), 1e-10*d*second, "%+v scaled", c)

		// Backwards the limits change their roles; a start outside them has no such
		// counterpart.
		back := func(s profile.State) profile.State { return moving(s.Position, -s.Speed, s.Accel) }
		l = profile.Limits{Speed: c.lim.Speed, Accel: c.lim.Decel, Decel: c.lim.Accel, Jerk: c.lim.DecelJerk, DecelJerk: c.lim.Jerk}
		other, err = profile.PlanBetween(back(c.to), back(c.from), l)
		if err == nil {
			reversed++
			near(t, d, other.Duration(), 1e-10*d, "%+v backwards", c)
			near(t, m.At(x).Position, other.At(d-x).Position, 1e-7, "%+v backwards", c)
		}
	}
	require.Greater(t, reversed, 5000)
}

// Bellman's principle of optimality: from any state on its way, a motion planned
// anew takes what is left of the time. Where the state that At returns is off by a
// rounding, time may be off by its square or cube root.
func TestPlanBetweenAnew(t *testing.T) {
	r := seeded(83)
	var off []float64
	for i := range 20000 {
		c := r.betweenCase(i % kindCount)
		if r.IntN(8) == 0 {
			c.from.Speed *= 2
			c.from.Accel *= 2
		}
		m, err := profile.PlanBetween(c.from, c.to, c.lim)
		if err != nil || i%kindCount >= unequalJerks && i%kindCount != unlimitedJerks && turns(speedsOf(c.from, c.to, m)) > 0 {
			continue // the fastest of the motions that it is chosen from, but not of all
		}
		x := m.Duration() * r.Float64()
		again := must[profile.Move](t)(profile.PlanBetween(m.At(x), c.to, c.lim))
		d := math.Abs(m.Duration()-x-again.Duration()) / m.Duration()
		require.Less(t, d, 1e-4, "%+v anew from %g of %g, %+v", c, x, m.Duration(), m.At(x))
		off = append(off, d)
	}
	sort.Float64s(off)
	require.Greater(t, len(off), 10000)
	require.Less(t, off[len(off)*99/100], 1e-12)
	require.Less(t, off[len(off)*999/1000], 1e-7)
}

// A start outside the limits comes back inside first, by hand at jerk and
// acceleration 1.
func TestPlanBetweenComesBack(t *testing.T) {
	l := profile.Limits{Speed: 1, Accel: 1, Jerk: 1}

	// Too fast: 1 s to full deceleration, at 2.5 m/s; 1.5 s at it; at 1 m/s again.
	m := must[profile.Move](t)(profile.PlanBetween(moving(0, 3, 0), moving(100, 0, 0), l))
	nearState(t, moving(3-1./6, 2.5, -1), m.At(1), 1e-14, "full deceleration")
	near(t, 1, m.At(2.5).Speed, 1e-14, "back at the limit")
	near(t, -1, m.At(2.5).Accel, 1e-14, "back at the limit")
	rest := must[profile.Move](t)(profile.PlanBetween(m.At(2.5), moving(100, 0, 0), l))
	near(t, m.Duration()-2.5, rest.Duration(), 1e-12, "optimal from there on")

	// Too much acceleration, slow: down to 1 m/s² at full jerk.
	l.Speed = 10
	m = must[profile.Move](t)(profile.PlanBetween(moving(0, 0, 3), moving(100, 0, 0), l))
	near(t, 1, m.At(2).Accel, 1e-14, "acceleration back at its limit")
	near(t, 4, m.At(2).Speed, 1e-14, "acceleration back at its limit")

	// About to be too fast: it passes the limit while the acceleration is taken off.
	m = must[profile.Move](t)(profile.PlanBetween(moving(0, 9.9, 1), moving(100, 0, 0), l))
	near(t, 10.4, m.At(1).Speed, 1e-14, "acceleration gone")
	near(t, 10.4, m.Motion().Speed().Max().V, 1e-14, "highest speed")

	// Within 1e-10 it counts as inside.
	m = must[profile.Move](t)(profile.PlanBetween(moving(0, 10+1e-12, 0), moving(100, 10, 0), l))
	near(t, 10, m.Duration(), 1e-11, "on the limit")
}

func TestPlanBetweenRefuses(t *testing.T) {
	l := profile.Limits{Speed: 1, Accel: 2, Decel: 3, Jerk: 4, DecelJerk: 5}
	for _, tc := range []struct {
		name     string
		from, to profile.State
		lim      profile.Limits
		want     []string
	}{
		{"no numbers", moving(nan, inf, -inf), moving(nan, nan, nan), l,
			[]string{"from.position", "from.speed", "from.accel", "to.position", "to.speed", "to.accel"}},
		{"no limits", moving(0, 0, 0), moving(1, inf, 0), profile.Limits{}, []string{"to.speed", "lim.speed", "lim.accel"}},
		{"too far", moving(-1.5e308, 0, 0), moving(1.5e308, 0, 0), l, []string{"to.position"}},
		{"too fast", moving(0, 0, 0), moving(1, 1.01, 0), l, []string{"to.speed"}},
		{"too fast backwards", moving(0, 0, 0), moving(1, -1.01, 0), l, []string{"to.speed"}},
		{"too much acceleration", moving(0, 0, 0), moving(1, 0.1, 2.1), l, []string{"to.accel"}},
		{"too much deceleration", moving(0, 0, 0), moving(1, 0.1, -3.1), l, []string{"to.accel"}},
		{"at zero speed both count", moving(0, 0, 0), moving(1, 0, -2.1), l, []string{"to.accel"}},
		{"outwards at full speed", moving(0, 0, 0), moving(1, 1, 0.1), l, []string{"to.accel"}},
		{"inwards at full speed, too fast just before", moving(0, 0, 0), moving(1, 1, -0.1), l, []string{"to.accel"}},
		{"too fast after", moving(0, 0, 0), moving(1, 0.9, 1), l, []string{"to.accel"}},
		{"too fast before", moving(0, 0, 0), moving(1, 0.9, -1.1), l, []string{"to.accel"}},
		{"too fast after zero speed", moving(0, 0, 0), moving(1, -0.1, 3), l, []string{"to.accel"}},
		{"not for float64", moving(0, 0, 0), moving(1e300, 0, 0), profile.Limits{Speed: 1e-300, Accel: 1}, []string{"lim"}},
	} {
		m, err := profile.PlanBetween(tc.from, tc.to, tc.lim)
		require.Equal(t, tc.want, paths(err), "%s: %v", tc.name, err)
		require.Zero(t, m, tc.name)
	}
	// On the limits it is not: 1 - 0.5²/(2·4) and 1 - 0.5²/(2·5).
	for _, to := range []profile.State{moving(1, 1, 0), moving(1, 1-0.25/8, 0.5), moving(1, 1-0.25/10, -0.5), moving(1, 0, 2), moving(1, -1, 0)} {
		m, err := profile.PlanBetween(moving(0, 0, 0), to, l)
		require.NoError(t, err)
		nearState(t, to, m.At(m.Duration()), 1e-12, "end on the limit")
	}
}

// States on the last stretch of planned motions as At returned them, off by
// roundings. Taken to the letter the end is out of reach without turning back,
// which takes seconds.
func TestPlanBetweenDoesNotTurnBackForARounding(t *testing.T) {
	for _, tc := range []struct {
		between
		left float64 // of the time [s]
	}{
		{between{moving(0.4805518469813205, 0.4165899696663578, -0.009217621302855444), moving(0.4847647214729646, 0.4165288355557389, -0.002871825790036641),
			profile.Limits{Speed: 1.1037862959466613, Accel: 0.42262816146509846, Jerk: 0.627449703102151}}, 1.1136289426347625 - 1.1035153104480793},
		{between{moving(0.01921396065971903, -1.4862620808889426, -0.014974506101294915), moving(-0.03186986132222729, -1.486519393086555, 0),
			profile.Limits{Speed: 1.6968442413879763, Accel: 1.8211203429276788, Jerk: 0.4357271731738588}}, 7.437029327190848 - 7.402662624760471},
		{between{moving(0.023132684180627458, -0.2601168552889707, -0.31230139315123173), moving(-0.01602255824109278, -0.28964469517792946, -0.3890005475026667),
			profile.Limits{Speed: 0.40514829698922333, Accel: 0.5384639465393093, Jerk: 4.104342302209718}}, 1.2173731683560722 - 1.0742179960703158},
		{between{moving(0.41251508816818505, 0.4243187305974929, -0.0001939882882553423), moving(0.41258030990608824, 0.4243187156885898, 0),
			profile.Limits{Speed: 0.6903559441459459, Accel: 1.6174842227057178, Jerk: 1.2620464425119227}}, 0.00015370931030744828},
	} {
		m := must[profile.Move](t)(profile.PlanBetween(tc.from, tc.to, tc.lim))
		near(t, tc.left, m.Duration(), 1e-9, "%+v", tc)
		require.NoError(t, flaw(m, tc.from, tc.to, tc.lim, 1e-9))
	}
}
