package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// FuzzPlanBetween asks for motions without sense: each gives input errors or a
// motion that holds, and one within everyday magnitudes is only refused for an
// end outside the limits.
func FuzzPlanBetween(f *testing.F) {
	f.Add(0.0, 0.4, 3.0, 1.0, 0.5, -2.0, 1.2, 6.0, 4.0, 80.0, 50.0)
	f.Add(0.0, 2.0, 9.0, 0.1, -1.0, 0.0, 1.2, 6.0, 4.0, 80.0, 50.0)
	f.Add(0.0, 0.5, -6.0, -0.1, 0.0, 0.0, 1.0, 1.0, 7.0, 5.0, 1.0)
	f.Add(1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0)
	f.Add(0.0, -1.0, 0.5, 0.01, 0.0, -0.2, 2.0, 1.0, 2.0, inf, 3.0)
	f.Add(0.0, -1.0, 0.5, 0.01, 0.0, 0.2, 2.0, 1.0, 2.0, 3.0, inf)
	f.Add(0.0, 1e300, -1e300, 1e-300, 0.0, 5e-324, 1e300, 1e300, 1e-300, 1e200, 1e-200)
	f.Add(nan, inf, -inf, nan, inf, 1.0, -1.0, 0.0, -1.0, nan, nan)
	f.Fuzz(func(t *testing.T, p0, v0, a0, p1, v1, a1, speed, accel, decel, jerk, decelJerk float64) {
		from, to := profile.State{Position: p0, Speed: v0, Accel: a0}, profile.State{Position: p1, Speed: v1, Accel: a1}
		lim := profile.Limits{Speed: speed, Accel: accel, Decel: decel, Jerk: jerk, DecelJerk: decelJerk}
		ordinary := ordinaryStates(from, to) && ordinaryLimits(filled(lim))

		m, err := profile.PlanBetween(from, to, lim)
		if err != nil {
			require.NotEmpty(t, profile.InputErrors(err))
			require.Zero(t, m)
			if ordinary {
				require.Contains(t, []string{"to.speed", "to.accel"}, profile.InputErrors(err)[0].Path, "%v", err)
			}
		} else {
			requireFinite(t, m)
			if ordinary {
				require.NoError(t, flaw(m, from, to, lim, 1e-8))
			}
		}

		h, err := profile.Halt(from, lim)
		if err != nil {
			require.NotEmpty(t, profile.InputErrors(err))
			require.Zero(t, h)
			require.False(t, ordinary, "refused: %v", err)
			return
		}
		requireFinite(t, h)
		require.Zero(t, h.At(h.Duration()).Speed)
	})
}

func requireFinite(t *testing.T, m profile.Move) {
	t.Helper()
	d := m.Duration()
	for _, x := range []float64{-1, 0, 0.1 * d, 0.3 * d, d / 2, 0.8 * d, d, inf, nan} {
		s := m.At(x)
		for _, v := range []float64{d, s.Position, s.Speed, s.Accel} {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "At(%g) = %+v, of %g s", x, s, d)
		}
	}
}

// ordinaryLimits reports whether all magnitudes lie within three decades of 1.
func ordinaryLimits(l profile.Limits) bool {
	ok := true
	for _, v := range []float64{l.Speed, l.Accel, l.Decel, l.Jerk, l.DecelJerk} {
		ok = ok && (v >= 1e-3 && v <= 1e3 || v == inf)
	}
	return ok && l.Speed < inf && l.Accel < inf && l.Decel < inf
}

func ordinaryStates(states ...profile.State) bool {
	ok := true
	for _, s := range states {
		for _, v := range []float64{s.Position, s.Speed, s.Accel} {
			ok = ok && (v == 0 || math.Abs(v) >= 1e-3 && math.Abs(v) <= 1e3)
		}
	}
	return ok
}
