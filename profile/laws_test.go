package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// unit returns the motion of a law over 1 m in 1 s.
func unit(t testing.TB, l profile.Law) profile.Motion {
	t.Helper()
	return must[profile.Motion](t)(l.Motion(0, 1, 1))
}

// Source: table of peak velocity, acceleration and jerk of cam laws in R. L.
// Norton, Design of Machinery, chapter on cam design. FROM MEMORY. As remembered
// its accelerations are up to 2 in a thousand off the exact maxima (6 for the
// trapezoidal acceleration) and its jerks are rounded to whole numbers; hence the
// tolerances. The jerk of the trapezoidal acceleration is not compared: the 44
// that is remembered is 3 % above the 128/3 that follows from the shape.
func TestLawFactorsAgainstCamTable(t *testing.T) {
	constantAccel := lawOf(t, profile.Shares{Accel: 0.5, Decel: 0.5})
	trapezoidalAccel := lawOf(t, profile.Shares{Accel: 0.5, Decel: 0.5, AccelRounding: 0.5, DecelRounding: 0.5})
	for _, tc := range []struct {
		name               string
		l                  profile.Law
		speed, accel, jerk float64
		accelTol           float64
	}{
		{"constant acceleration", constantAccel, 2, 4, inf, 1e-12},
		{"simple harmonic", profile.SimpleHarmonic(), 1.571, 4.945, inf, 2.5e-3},
		{"trapezoidal acceleration", trapezoidalAccel, 2, 5.3, 0, 7e-3},
		{"3-4-5", profile.Polynomial345(), 1.875, 5.777, 60, 1e-3},
		{"cycloidal", profile.Cycloidal(), 2, 6.283, 40, 1e-3},
		{"4-5-6-7", profile.Polynomial4567(), 2.188, 7.526, 52, 2e-3},
	} {
		f := tc.l.Factors()
		near(t, tc.speed, f.Speed, 5.1e-4, "%s: speed", tc.name)
		near(t, tc.accel, f.Accel, tc.accelTol*tc.accel, "%s: acceleration", tc.name)
		if tc.jerk == inf {
			require.True(t, math.IsInf(f.Jerk, 1), tc.name)
		} else if tc.jerk > 0 {
			near(t, tc.jerk, f.Jerk, 0.6, "%s: jerk", tc.name)
		}
		require.Equal(t, f.Accel, f.Decel, tc.name)
		require.Equal(t, f.Jerk, f.DecelJerk, tc.name)
	}
}

// Source: classical result of the calculus of variations for the double
// integrator; any textbook on optimal control derives the 12. FROM MEMORY;
// recomputed exactly.
func TestLossFactors(t *testing.T) {
	for _, tc := range []struct {
		name string
		l    profile.Law
		want float64
	}{
		{"parabolic speed", profile.LeastLoss(), 12},
		{"trapezoid in thirds", lawOf(t, profile.Shares{Accel: 1. / 3, Decel: 1. / 3}), 13.5},
		{"triangle", lawOf(t, profile.Shares{Accel: 0.5, Decel: 0.5}), 16},
	} {
		near(t, tc.want, lossFactor(unit(t, tc.l)), 1e-12*tc.want, "%s", tc.name)
		m := must[profile.Motion](t)(tc.l.Motion(0.3, -1.7, 2.3))
		near(t, tc.want, lossFactor(m), 1e-12*tc.want, "%s, any size", tc.name)
	}
}

// Sources: the shapes are those of cam design, e.g. R. L. Norton, Design of
// Machinery. FROM MEMORY. The factors: own, by exact integration.
func TestMoreLossFactors(t *testing.T) {
	for _, tc := range []struct {
		name string
		l    profile.Law
		want float64
	}{
		{"cubic position", profile.LeastLoss(), 12},
		{"simple harmonic", profile.SimpleHarmonic(), math.Pow(math.Pi, 4) / 8},
		{"3-4-5", profile.Polynomial345(), 120. / 7},
		{"cycloidal", profile.Cycloidal(), 2 * math.Pi * math.Pi},
		{"pure S", lawOf(t, profile.Shares{Accel: 0.5, Decel: 0.5, AccelRounding: 1, DecelRounding: 1}), 64. / 3},
		// By hand: ∫ (420 τ² (1-τ)² (1-2τ))² dτ = 420² (B(5,5) - 4 B(6,6)).
		{"4-5-6-7", profile.Polynomial4567(), 280. / 11},
	} {
		near(t, tc.want, lossFactor(unit(t, tc.l)), 1e-9*tc.want, "%s", tc.name)
	}
	for _, p := range []float64{1e-4, 0.05, 0.2, 1. / 3, 0.45} {
		want := 2 / (p * (1 - p) * (1 - p))
		near(t, want, lossFactor(unit(t, lawOf(t, profile.Shares{Accel: p, Decel: p}))), 1e-9*want, "trapezoid with p = %g", p)
	}
}

// No other move has less loss: neither any shares nor the least-loss move with
// a bump on it that keeps its ends.
func TestLeastLossIsLeast(t *testing.T) {
	r := seeded(44)
	for range 500 {
		require.Greater(t, lossFactor(unit(t, lawOf(t, r.shares()))), 12.0)
		// τ²(1-τ)² (b + c τ) has no position and no speed at both ends.
		b, c := r.NormFloat64(), r.NormFloat64()
		bumped := moves(t, []float64{0, 1}, []float64{0, 0, 3 + b, -2 - 2*b + c, b - 2*c, c})
		require.Greater(t, lossFactor(bumped), 12.0)
	}
}

// Source: math.Sin, math.Cos.
func TestSineLaws(t *testing.T) {
	const w = 2 * math.Pi
	harmonic, cycloidal := unit(t, profile.SimpleHarmonic()), unit(t, profile.Cycloidal())
	jerk := cycloidal.Accel().Derivative()
	for k := range 4001 {
		x := float64(k) / 4000
		h, c := harmonic.At(x), cycloidal.At(x)
		near(t, (1-math.Cos(math.Pi*x))/2, h.Position, 1e-14, "harmonic position at %g", x)
		near(t, math.Pi/2*math.Sin(math.Pi*x), h.Speed, 1e-12, "harmonic speed at %g", x)
		near(t, math.Pi*math.Pi/2*math.Cos(math.Pi*x), h.Accel, 1e-10*5, "harmonic acceleration at %g", x)
		near(t, x-math.Sin(w*x)/w, c.Position, 1e-14, "cycloidal position at %g", x)
		near(t, 1-math.Cos(w*x), c.Speed, 1e-12*2, "cycloidal speed at %g", x)
		near(t, w*math.Sin(w*x), c.Accel, 1e-10*w, "cycloidal acceleration at %g", x)
		near(t, w*w*math.Cos(w*x), jerk.At(x), 1e-8*w*w, "cycloidal jerk at %g", x)
	}
}

// Speed, acceleration and jerk vanish at the ends where the law says so, and
// every law of fixed shape is point-symmetric about its middle.
func TestLawEndsAndSymmetry(t *testing.T) {
	for name, l := range map[string]profile.Law{"3-4-5": profile.Polynomial345(), "4-5-6-7": profile.Polynomial4567(), "cycloidal": profile.Cycloidal()} {
		m := unit(t, l)
		near(t, 0, m.Start().Accel, 1e-9, "%s: acceleration at the start", name)
		near(t, 0, m.End().Accel, 1e-9, "%s: acceleration at the end", name)
		if jerk := m.Accel().Derivative(); name == "4-5-6-7" {
			near(t, 0, jerk.At(0), 1e-11, "jerk at the start")
			near(t, 0, jerk.At(1), 1e-11, "jerk at the end")
		}
	}
	for name, l := range laws(t) {
		if l.Factors().Accel != l.Factors().Decel {
			continue
		}
		m := unit(t, l)
		for k := range 50 {
			x := (float64(k) + 0.3) / 100
			near(t, 1, m.At(x).Position+m.At(1-x).Position, 1e-14, "%s: position at %g", name, x)
			near(t, m.At(x).Speed, m.At(1-x).Speed, 1e-12, "%s: speed at %g", name, x)
			near(t, 0, m.At(x).Accel+m.At(1-x).Accel, 1e-9, "%s: acceleration at %g", name, x)
		}
	}
}
