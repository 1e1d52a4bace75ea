package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// FuzzPlan asks for moves without sense: each gives input errors or a move that
// holds, and what is within everyday magnitudes is never refused.
func FuzzPlan(f *testing.F) {
	f.Add(0.0, 1.0, 1.2, 6.0, 4.0, 80.0, 50.0)
	f.Add(-3.0, -3.0, 1.0, 1.0, 0.0, 0.0, 0.0)
	f.Add(1e9, 1e9+1e-6, 1e-3, 1e3, 1e-3, inf, 1.0)
	f.Add(0.0, -1e300, 1e300, 1e-300, 5e-324, 1e200, 1e-200)
	f.Add(nan, inf, -1.0, 0.0, -inf, nan, 1.0)
	f.Fuzz(func(t *testing.T, from, to, speed, accel, decel, jerk, decelJerk float64) {
		lim := profile.Limits{Speed: speed, Accel: accel, Decel: decel, Jerk: jerk, DecelJerk: decelJerk}
		m, err := profile.Plan(from, to, lim)
		if err != nil {
			require.NotEmpty(t, profile.InputErrors(err))
			require.Zero(t, m)
			require.False(t, everyday(from, to, filled(lim)), "refused: %v", err)
			return
		}
		for _, x := range []float64{-1, 0, 0.3 * m.Duration(), m.Duration() / 2, m.Duration(), inf, nan} {
			s := m.At(x)
			for _, v := range []float64{s.Position, s.Speed, s.Accel} {
				require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "At(%g) = %+v", x, s)
			}
		}
		checkMove(t, m, from, to, lim, 1e-9)
		if m.Duration() > 0 {
			_, err = profile.NewMotion(m.Motion().Position())
			require.NoError(t, err)
		}
	})
}

// everyday reports whether all magnitudes lie within twelve decades of 1.
func everyday(from, to float64, l profile.Limits) bool {
	ok := math.Abs(from) <= 1e12 && math.Abs(to) <= 1e12 && (from == to || math.Abs(to-from) >= 1e-12)
	for _, v := range []float64{l.Speed, l.Accel, l.Decel, l.Jerk, l.DecelJerk} {
		ok = ok && (v >= 1e-12 && v <= 1e12 || v == inf)
	}
	return ok && l.Speed < inf && l.Accel < inf && l.Decel < inf
}
