package profile_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// By hand: a quarter up, half at 4/3 m/s, a quarter down, over 1 m in 1 s.
func TestSharesTrapezoid(t *testing.T) {
	m := must[profile.Motion](t)(lawOf(t, profile.Shares{Accel: 0.25, Decel: 0.25}).Motion(5, 4, 1))
	require.Equal(t, 3, m.Position().Pieces())
	for _, tc := range []struct{ t, position, speed, accel float64 }{
		{0, 5, 0, -16. / 3}, {0.125, 5 - 1./24, -2. / 3, -16. / 3}, {0.5, 4.5, -4. / 3, 0}, {0.875, 4 + 1./24, -2. / 3, 16. / 3},
	} {
		s := m.At(tc.t)
		near(t, tc.position, s.Position, 1e-15, "position at %g", tc.t)
		near(t, tc.speed, s.Speed, 1e-15, "speed at %g", tc.t)
		near(t, tc.accel, s.Accel, 1e-14, "acceleration at %g", tc.t)
	}
}

// By hand: the move of Plan that rises for 1 s, holds 1 s, falls 1 s, cruises
// 2 s and so on, over 10 m in 8 s with 2 m/s, 1 m/s² and 1 m/s³.
func TestSharesSevenParts(t *testing.T) {
	l := lawOf(t, profile.Shares{Accel: 3. / 8, Decel: 3. / 8, AccelRounding: 2. / 3, DecelRounding: 2. / 3})
	m := must[profile.Motion](t)(l.Motion(0, 10, 8))
	require.Equal(t, 7, m.Position().Pieces())
	nearLimits(t, profile.Limits{Speed: 2, Accel: 1, Decel: 1, Jerk: 1, DecelJerk: 1}, peaks(t, m), 1e-14, 1e-13, "seven parts")
	for _, tc := range []struct{ t, position, speed, accel float64 }{
		{0.5, 1. / 48, 0.125, 0.5}, {1.5, 1./6 + 0.375, 1, 1}, {2.5, 3 - 47./48, 1.875, 0.5}, {4, 5, 2, 0}, {6, 10 - 7./6, 1.5, -1}, {7.5, 10 - 1./48, 0.125, -0.5},
	} {
		s := m.At(tc.t)
		near(t, tc.position, s.Position, 1e-14, "position at %g", tc.t)
		near(t, tc.speed, s.Speed, 1e-14, "speed at %g", tc.t)
		near(t, tc.accel, s.Accel, 1e-13, "acceleration at %g", tc.t)
	}
}

// Shares whose parts are what the limits make optimal give the move that Plan
// gives within those limits: a plan reaches its factors, so it takes as long.
func TestSharesAreWhatPlanReturns(t *testing.T) {
	r := seeded(43)
	for range 2000 {
		s := r.shares()
		l := lawOf(t, s)
		f := l.Factors()
		plan := must[profile.Move](t)(profile.Plan(0, 1, f))
		near(t, 1, plan.Duration(), 1e-11, "%+v: duration", s)
		m := must[profile.Motion](t)(l.Motion(0, 1, 1))
		for k := range 30 {
			x := (float64(k) + 0.5) / 30
			near(t, plan.At(x).Position, m.At(x).Position, 1e-11, "%+v: position at %g", s, x)
			near(t, plan.At(x).Speed, m.At(x).Speed, 1e-10*f.Accel, "%+v: speed at %g", s, x)
		}
	}
}

// Shares that leave nothing for constant speed have no such part, whatever they
// add up to in float64.
func TestSharesWithoutConstantSpeed(t *testing.T) {
	for _, s := range []profile.Shares{{Accel: 0.5, Decel: 0.5}, {Accel: 1. / 3, Decel: 2. / 3}, {Accel: 0.1, Decel: 0.9}, {Accel: 0.7, Decel: 0.3 - 1e-14}, {Accel: 0.7, Decel: 0.3 + 1e-14}} {
		m := must[profile.Motion](t)(lawOf(t, s).Motion(0, 1, 1))
		require.Equal(t, 2, m.Position().Pieces(), "%+v", s)
	}
}

func TestSharesRefuse(t *testing.T) {
	for _, tc := range []struct {
		s    profile.Shares
		want []string
	}{
		{profile.Shares{}, []string{"accel", "decel"}},
		{profile.Shares{Accel: nan, Decel: nan, AccelRounding: nan, DecelRounding: nan}, []string{"accel", "decel", "accelRounding", "decelRounding"}},
		{profile.Shares{Accel: inf, Decel: -inf, AccelRounding: inf, DecelRounding: -1}, []string{"accel", "decel", "accelRounding", "decelRounding"}},
		{profile.Shares{Accel: 0.6, Decel: 0.5}, []string{"decel"}},
		{profile.Shares{Accel: 1, Decel: 1e-6}, []string{"decel"}},
		{profile.Shares{Accel: 9e-7, Decel: 0.5}, []string{"accel"}},
		{profile.Shares{Accel: 0.5, Decel: 0.5, AccelRounding: 1.1}, []string{"accelRounding"}},
		{profile.Shares{Accel: 0.5, Decel: 0.5, AccelRounding: 1e-6, DecelRounding: 1e-300}, []string{"accelRounding", "decelRounding"}},
	} {
		require.Equal(t, tc.want, paths(tc.s.Validate()), "%+v: %v", tc.s, tc.s.Validate())
		l, err := tc.s.Law()
		require.Equal(t, tc.want, paths(err))
		require.Zero(t, l)
	}
	require.NoError(t, profile.Shares{Accel: 0.5, Decel: 0.5, AccelRounding: 2e-6}.Validate())
}
