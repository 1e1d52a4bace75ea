package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// By hand at jerk and acceleration 1: from 2 m/s 1 s, 1 s and 1 s, over 3 m.
func TestHaltByHand(t *testing.T) {
	l := profile.Limits{Speed: 1, Accel: 1, Jerk: 1}
	halt := func(from profile.State, l profile.Limits) (d, s float64) {
		m := must[profile.Move](t)(profile.Halt(from, l))
		require.Zero(t, m.At(m.Duration()).Speed)
		return m.Duration(), m.At(m.Duration()).Position - from.Position
	}
	for _, dir := range []float64{1, -1} {
		d, s := halt(moving(5, dir*2, 0), l)
		near(t, 3, d, 1e-15, "time from constant speed")
		near(t, dir*3, s, 1e-14, "way from constant speed")

		// The acceleration has to go first: 1 s, from 1.5 to 2 m/s, over 1.5 + 1/3 m.
		d, s = halt(moving(5, dir*1.5, dir*1), l)
		near(t, 4, d, 1e-15, "time while speeding up")
		near(t, dir*(3+1.5+1./3), s, 1e-14, "way while speeding up")

		// Midway through the last second of it.
		d, s = halt(moving(5, dir*0.125, dir*-0.5), l)
		near(t, 0.5, d, 1e-15, "time at the end")
		near(t, dir/48, s, 1e-14, "way at the end")

		// Without limit on the jerk: v/D, v²/(2D).
		d, s = halt(moving(5, dir*2, dir*9), profile.Limits{Speed: 1, Accel: 1, Decel: 4})
		near(t, 0.5, d, 1e-15, "time, jerk not limited")
		near(t, dir*0.5, s, 1e-15, "way, jerk not limited")

		// At rest with an acceleration: 1 s to take it off, at 0.5 m/s after 1/3 m, and
		// 2 √0.5 s to take that off again.
		d, s = halt(moving(5, 0, dir*1), l)
		near(t, 1+2*math.Sqrt(0.5), d, 1e-15, "time from zero speed")
		near(t, dir*(1./3+0.5*math.Sqrt(0.5)), s, 1e-14, "way from zero speed")
	}
	d, s := halt(moving(5, 0, 0), l)
	require.Zero(t, d)
	require.Zero(t, s)
}

// A halt holds; it is the fastest motion to its own end; and no end at rest can be
// reached sooner, unless it is one beyond standstill and Jerk is more than 2 + √3
// times DecelJerk, or not limited.
func TestHaltIsFastest(t *testing.T) {
	r := seeded(90)
	returned, sooner := 0, 0
	for i := range 20000 {
		c := r.betweenCase(i % kindCount)
		if r.IntN(5) == 0 {
			c.from.Speed *= 3
			c.from.Accel *= 2
		}
		m := must[profile.Move](t)(profile.Halt(c.from, c.lim))
		end := profile.State{Position: m.At(m.Duration()).Position}
		if end.Position*c.from.Speed < 0 || m.Motion().Speed().Min().V*m.Motion().Speed().Max().V < 0 {
			returned++
		}
		l := c.lim
		l.Speed = 100 + 10*math.Abs(c.from.Speed) // does not matter
		require.NoError(t, flaw(m, c.from, end, l, 1e-9), "%+v", c)

		other := end
		if r.IntN(2) == 0 {
			other.Position += r.NormFloat64() * r.spread(1e-4, 1)
		}
		o := must[profile.Move](t)(profile.PlanBetween(c.from, other, l))
		if i%kindCount != oneUnlimited && other == end {
			require.LessOrEqual(t, o.Duration(), m.Duration()*(1+1e-7), "%+v", c)
		}
		if o.Duration() < m.Duration()*(1-1e-7) {
			require.Greater(t, filled(c.lim).Jerk, (2+math.Sqrt(3))*filled(c.lim).DecelJerk, "%+v: %g s, but %g s to %g", c, m.Duration(), o.Duration(), other.Position)
			sooner++
		}
	}
	require.Greater(t, returned, 500)
	t.Logf("%d of 20000 halts pass standstill, %d could end sooner beyond it", returned, sooner)
}

func TestHaltRefuses(t *testing.T) {
	l := profile.Limits{Speed: 1, Accel: 2, Jerk: 4}
	m, err := profile.Halt(moving(nan, inf, nan), profile.Limits{Speed: 1, Jerk: -1})
	require.Equal(t, []string{"from.position", "from.speed", "from.accel", "lim.accel", "lim.jerk"}, paths(err))
	require.Zero(t, m)
	m, err = profile.Halt(moving(0, 1e300, 1e300), l)
	require.Equal(t, []string{"lim"}, paths(err))
	require.Zero(t, m)
}
