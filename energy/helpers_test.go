package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// segment is a stretch of motion with constant jerk.
type segment struct{ duration, jerk float64 }

// jerks returns the motion through segments of constant jerk from a given state.
func jerks(t testing.TB, start profile.State, segments ...segment) profile.Motion {
	t.Helper()
	x, v, a := start.Position, start.Speed, start.Accel
	breaks := []float64{0}
	var coefs [][]float64
	now := 0.0
	for _, s := range segments {
		d, j := s.duration, s.jerk
		coefs = append(coefs, []float64{x, v, a / 2, j / 6})
		x += d * (v + d*(a/2+d*j/6))
		v += d * (a + d*j/2)
		a += d * j
		now += d
		breaks = append(breaks, now)
	}
	c, err := profile.NewCurve(breaks, coefs)
	require.NoError(t, err)
	m, err := profile.NewMotion(c)
	require.NoError(t, err)
	return m
}

// accels returns the motion through stretches of constant acceleration, each a
// duration [s] and an acceleration [m/s²], from a given position and speed.
func accels(t testing.TB, x, v float64, steps ...[2]float64) profile.Motion {
	t.Helper()
	breaks := []float64{0}
	var coefs [][]float64
	now := 0.0
	for _, s := range steps {
		d, a := s[0], s[1]
		coefs = append(coefs, []float64{x, v, a / 2})
		x, v = x+d*(v+d*a/2), v+d*a
		now += d
		breaks = append(breaks, now)
	}
	c, err := profile.NewCurve(breaks, coefs)
	require.NoError(t, err)
	m, err := profile.NewMotion(c)
	require.NoError(t, err)
	return m
}

// steady returns the motion at constant speed [m/s] for a duration [s].
func steady(t testing.TB, speed, duration float64) profile.Motion {
	t.Helper()
	return accels(t, 0, speed, [2]float64{duration, 0})
}

// sCurve returns a rest-to-rest move over distance [m] in seven pieces: jerk for
// tj, constant acceleration for ta, jerk for tj, cruise for tv, and the mirror image.
func sCurve(t testing.TB, distance, tj, ta, tv float64) profile.Motion {
	t.Helper()
	// Speed reached per jerk is tj (tj + ta); the ramps cover half of it for 2 tj + ta each.
	vmax := distance / (2*tj + ta + tv)
	j := vmax / (tj * (tj + ta))
	return jerks(t, profile.State{}, segment{tj, j}, segment{ta, 0}, segment{tj, -j},
		segment{tv, 0}, segment{tj, -j}, segment{ta, 0}, segment{tj, j})
}

// near reports whether got is within the relative tolerance of want.
func near(got, want, tolerance float64) bool {
	return math.Abs(got-want) <= tolerance*math.Abs(want)
}

func requireNear(t testing.TB, want, got, tolerance float64, what string) {
	t.Helper()
	if !near(got, want, tolerance) {
		t.Errorf("%s = %.10g, want %.10g within %g", what, got, want, tolerance)
	}
}
