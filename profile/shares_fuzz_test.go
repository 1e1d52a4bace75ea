package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// FuzzShares asks for moves of a fixed duration without sense: each gives input
// errors or a motion that arrives in time and within its limits, and everyday
// ones are never refused but for their limits.
func FuzzShares(f *testing.F) {
	f.Add(0.0, 1.0, 1.0, 0.3, 0.3, 0.5, 0.5, 2.0, 10.0, 100.0)
	f.Add(5.0, -5.0, 20.0, 0.5, 0.5, 1.0, 0.0, 1.0, 1.0, inf)
	f.Add(1e9, 1e9+1e-6, 1e-3, 1e-6, 0.999999, 1.0, 1e-6, 1e300, 1e300, 0.0)
	f.Add(0.0, 1e300, 1e-300, 0.1, 0.1, 1e-300, 1e-3, 1e300, 1e-300, 5e-324)
	f.Add(nan, inf, -1.0, 0.0, 2.0, -1.0, nan, -inf, 0.0, nan)
	f.Fuzz(func(t *testing.T, from, to, duration, accel, decel, accelRounding, decelRounding, speed, most, jerk float64) {
		s := profile.Shares{Accel: accel, Decel: decel, AccelRounding: accelRounding, DecelRounding: decelRounding}
		l, err := s.Law()
		if err != nil {
			require.NotEmpty(t, profile.InputErrors(err))
			require.EqualError(t, s.Validate(), err.Error())
			return
		}
		ordinary := math.Abs(from) <= 1e12 && math.Abs(to) <= 1e12 && (from == to || math.Abs(to-from) >= 1e-12) && duration >= 1e-12 && duration <= 1e12
		m, err := l.Motion(from, to, duration)
		if err != nil {
			require.NotEmpty(t, profile.InputErrors(err))
			require.Zero(t, m)
			require.False(t, ordinary, "refused: %v", err)
		} else {
			holds(t, m, from, to, duration)
		}

		lim := profile.Limits{Speed: speed, Accel: most, Jerk: jerk}
		shortest, err := l.Shortest(to-from, lim)
		if err != nil {
			require.NotEmpty(t, profile.InputErrors(err))
			return
		}
		require.False(t, math.IsNaN(shortest) || math.IsInf(shortest, 0))
		within, err := l.MotionWithin(from, to, duration, lim)
		if err != nil {
			require.NotEmpty(t, profile.InputErrors(err))
			require.True(t, duration < shortest || !ordinary, "refused: %v", err)
			return
		}
		require.Equal(t, m, within)
		require.LessOrEqual(t, math.Abs(within.Speed().AbsMax().V), speed*(1+1e-9))
		require.LessOrEqual(t, math.Abs(within.Accel().AbsMax().V), most*(1+1e-9))
	})
}

// holds checks that a motion is finite everywhere and arrives in time.
func holds(t testing.TB, m profile.Motion, from, to, duration float64) {
	t.Helper()
	require.Equal(t, duration, m.Duration())
	require.Equal(t, from, m.Start().Position)
	scale := math.Max(math.Abs(from), math.Abs(to))
	near(t, to, m.End().Position, 1e-9*math.Abs(to-from)+1e-14*scale, "end of the motion")
	near(t, 0, m.End().Speed, 1e-9*math.Abs(m.Speed().AbsMax().V), "speed at the end")
	for _, x := range []float64{-1, 0, 0.3 * duration, duration, inf, nan} {
		s := m.At(x)
		for _, v := range []float64{s.Position, s.Speed, s.Accel} {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "At(%g) = %+v", x, s)
		}
	}
}
