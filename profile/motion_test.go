package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// thereAndBack goes 1 m out, waits, and comes back.
func thereAndBack(t testing.TB) profile.Motion {
	lim := profile.Limits{Speed: 2, Accel: 4, Jerk: 40}
	out := must[profile.Move](t)(profile.Plan(0, 1, lim))
	back := must[profile.Move](t)(profile.Plan(1, 0, lim))
	wait := must[profile.Motion](t)(profile.Dwell(1, 0.3))
	return must[profile.Motion](t)(profile.Sequence(out.Motion(), wait, back.Motion()))
}

func TestNewMotionStartsAtZero(t *testing.T) {
	// s³ for 2 s, and on with the speed 12 m/s that it has then.
	m := must[profile.Motion](t)(profile.NewMotion(curve(t, []float64{10, 12, 13}, []float64{0, 0, 0, 1}, []float64{8, 12})))
	require.Equal(t, 3.0, m.Duration())
	require.Equal(t, profile.State{Position: 1, Speed: 3, Accel: 6}, m.At(1))
	require.Equal(t, profile.State{Position: 14, Speed: 12}, m.At(2.5))
	require.Equal(t, profile.State{}, m.Start())
	require.Equal(t, profile.State{Position: 20, Speed: 12}, m.End())
	require.Equal(t, m.Start(), m.At(-1))
	require.Equal(t, m.End(), m.At(99))
	require.Equal(t, 8.0, m.Position().At(2))
	require.Equal(t, 12.0, m.Speed().At(2))
	require.Equal(t, 0.0, m.Accel().At(2))
}

func TestNewMotionRefuses(t *testing.T) {
	for name, tc := range map[string]struct {
		position profile.Curve
		want     []string
	}{
		"a jump":           {curve(t, []float64{0, 1, 2}, []float64{0, 1}, []float64{1.001, 1}), []string{"position"}},
		"a kink":           {curve(t, []float64{0, 1, 2}, []float64{0, 1}, []float64{1, 2}), []string{"speed"}},
		"both":             {curve(t, []float64{0, 1, 2}, []float64{0, 1}, []float64{2, 2}), []string{"position", "speed"}},
		"a boundless jerk": {curve(t, []float64{0, 1e-3}, []float64{0, 0, 0, 0, 1e308}), []string{"position"}},
	} {
		m, err := profile.NewMotion(tc.position)
		require.Equal(t, tc.want, paths(err), "%s: %v", name, err)
		require.Zero(t, m, name)
	}
	// Rounding is no gap.
	_, err := profile.NewMotion(curve(t, []float64{0, 1, 2}, []float64{0, 1}, []float64{1 + 1e-12, 1 - 1e-12}))
	require.NoError(t, err)
}

func TestDwell(t *testing.T) {
	m := must[profile.Motion](t)(profile.Dwell(-3, 2))
	require.Equal(t, 2.0, m.Duration())
	require.Equal(t, profile.State{Position: -3}, m.At(1))
	require.NoError(t, m.Closes())
	require.Zero(t, must[profile.Motion](t)(profile.Dwell(-3, 0)))

	for _, tc := range []struct {
		position, duration float64
		want               []string
	}{
		{nan, 1, []string{"position"}}, {inf, 1, []string{"position"}}, {0, nan, []string{"duration"}},
		{0, -1, []string{"duration"}}, {0, inf, []string{"duration"}}, {-inf, -inf, []string{"position", "duration"}},
	} {
		m, err := profile.Dwell(tc.position, tc.duration)
		require.Equal(t, tc.want, paths(err), "Dwell(%g, %g)", tc.position, tc.duration)
		require.Zero(t, m)
	}
	huge := must[profile.Motion](t)(profile.Dwell(1e300, 1e300))
	require.Equal(t, 1e300, huge.At(1e299).Position)
}

func TestSequence(t *testing.T) {
	m := thereAndBack(t)
	lim := profile.Limits{Speed: 2, Accel: 4, Jerk: 40}
	leg := must[profile.Move](t)(profile.Plan(0, 1, lim)).Duration()
	near(t, 2*leg+0.3, m.Duration(), 1e-14, "duration")
	near(t, 1, m.At(leg+0.1).Position, 1e-14, "waiting at")
	near(t, 0, m.At(leg+0.1).Speed, 1e-14, "waiting with speed")
	near(t, m.At(leg/3).Position, m.At(m.Duration()-leg/3).Position, 1e-12, "mirrored position")
	near(t, m.At(leg/3).Speed, -m.At(m.Duration()-leg/3).Speed, 1e-12, "mirrored speed")
	near(t, 0, m.Speed().Integral(), 1e-14, "way there and back")
	require.NoError(t, m.Closes())

	// The three curves belong together at every time.
	p, v, a := m.Position(), m.Speed(), m.Accel()
	for _, x := range dense(p, 7) {
		near(t, p.Derivative().At(x), v.At(x), 1e-12, "speed at %g", x)
		near(t, v.Derivative().At(x), a.At(x), 1e-11, "acceleration at %g", x)
	}

	require.Zero(t, must[profile.Motion](t)(profile.Sequence()))
	require.Zero(t, must[profile.Motion](t)(profile.Sequence(profile.Motion{}, profile.Motion{})))
	require.Equal(t, m, must[profile.Motion](t)(profile.Sequence(profile.Motion{}, m, profile.Motion{})))
}

func TestSequenceRefusesGaps(t *testing.T) {
	at := func(p float64) profile.Motion { return must[profile.Motion](t)(profile.Dwell(p, 1)) }
	moving := must[profile.Motion](t)(profile.NewMotion(curve(t, []float64{0, 1}, []float64{1, 0.5})))
	m, err := profile.Sequence(at(0), profile.Motion{}, at(1), at(1), moving, at(1.5))
	require.Equal(t, []string{"motions[2]", "motions[4]", "motions[5]"}, paths(err))
	require.ErrorContains(t, err, "where motions[0] ends")
	require.ErrorContains(t, err, "at 3 s")
	require.Zero(t, m)
}

func TestCloses(t *testing.T) {
	require.NoError(t, profile.Motion{}.Closes())
	away := must[profile.Move](t)(profile.Plan(1, 2, profile.Limits{Speed: 1, Accel: 1})).Motion()
	require.Equal(t, []string{"position"}, paths(away.Closes()))
	faster := must[profile.Motion](t)(profile.NewMotion(curve(t, []float64{0, 2}, []float64{0, -1, 0.5})))
	require.Equal(t, []string{"speed"}, paths(faster.Closes()))
}

func TestZeroMotion(t *testing.T) {
	var m profile.Motion
	require.Zero(t, m.Duration())
	require.Zero(t, m.At(3))
	require.Zero(t, m.Start())
	require.Zero(t, m.End())
	require.Zero(t, must[profile.Motion](t)(profile.NewMotion(profile.Curve{})).Duration())
}

// A day of cycles keeps its joints.
func TestLongSequenceStaysJoined(t *testing.T) {
	all := make([]profile.Motion, 20000)
	for i := range all {
		all[i] = thereAndBack(t)
	}
	m := must[profile.Motion](t)(profile.Sequence(all...))
	require.NoError(t, m.Closes())
	_, err := profile.NewMotion(m.Position())
	require.NoError(t, err)
	near(t, 20000*all[0].Duration(), m.Duration(), 1e-7, "duration")
	near(t, 2, math.Abs(m.Speed().AbsMax().V), 1, "speed")
}
