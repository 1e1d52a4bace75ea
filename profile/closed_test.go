package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// Where a cycle does not close, the error says how far it is off and where.
func TestClosesSaysWhere(t *testing.T) {
	for name, tc := range map[string]struct {
		breaks []float64
		coefs  [][]float64
		want   []string
	}{
		// 1 m from rest to rest with peak speed 1.5 m/s.
		"position": {[]float64{0, 1}, [][]float64{{2, 0, 3, -2}}, []string{"position"}},
		// Out and back to where it was, 2 m/s faster.
		"speed": {[]float64{0, 2}, [][]float64{{5, -1, 0.5}}, []string{"speed"}},
		// Speeding up for 1 s.
		"both": {[]float64{0, 1}, [][]float64{{0, 1, 1}}, []string{"position", "speed"}},
		// Turning at a constant speed comes to another position each time.
		"constant speed": {[]float64{0, 3}, [][]float64{{0, 2}}, []string{"position"}},
		// In two pieces.
		"two pieces": {[]float64{0, 1, 2}, [][]float64{{0, 0, 1}, {1, 2, -1}}, []string{"position"}},
	} {
		m := must[profile.Motion](t)(profile.NewMotion(curve(t, tc.breaks, tc.coefs...)))
		err := m.Closes()
		require.Equal(t, tc.want, paths(err), "%s: %v", name, err)
		for i, in := range profile.InputErrors(err) {
			want := map[string]float64{"position": m.End().Position, "speed": m.End().Speed}[tc.want[i]]
			require.Equal(t, want, in.Value, name)
		}
	}
	m := must[profile.Motion](t)(profile.NewMotion(curve(t, []float64{0, 1}, []float64{2, 0, 3, -2})))
	require.ErrorContains(t, m.Closes(), "position = 3")
	require.ErrorContains(t, m.Closes(), "2 m")
}

// A cycle may start in full swing and may step in acceleration where it closes.
func TestClosesWhileMoving(t *testing.T) {
	// t³ - t over -1 to 1 starts and ends at 0 with speed 2.
	swing := must[profile.Motion](t)(profile.NewMotion(curve(t, []float64{-1, 1}, []float64{0, 2, -3, 1})))
	require.NoError(t, swing.Closes())
	require.Equal(t, 2.0, swing.Start().Speed)
	require.Equal(t, -6.0, swing.Start().Accel)
	near(t, 6, swing.End().Accel, 1e-15, "acceleration at the end")
	require.NoError(t, must[profile.Motion](t)(profile.Sequence(swing, swing, swing)).Closes())
}

// Every closed cycle of random moves closes, wherever it starts and whatever it
// is stretched to, and a gap a millionth of its way is told.
func TestClosesRandomCycles(t *testing.T) {
	r := seeded(52)
	for range 300 {
		start := r.between(-10, 10)
		at := start
		var parts []profile.Motion
		step := func(to float64) {
			if r.IntN(2) == 0 {
				parts = append(parts, must[profile.Motion](t)(lawOf(t, r.shares()).Motion(at, to, r.spread(0.01, 10))))
			} else {
				parts = append(parts, must[profile.Move](t)(profile.Plan(at, to, profile.Limits{Speed: r.spread(0.1, 10), Accel: r.spread(0.1, 10), Jerk: r.spread(0.1, 100)})).Motion())
			}
			parts = append(parts, must[profile.Motion](t)(profile.Dwell(to, r.between(0, 1))))
			at = to
		}
		for range 1 + r.IntN(5) {
			step(r.between(-10, 10))
		}
		last := len(parts)
		step(start)
		m := must[profile.Motion](t)(profile.Sequence(parts...))
		require.NoError(t, m.Closes())
		require.NoError(t, must[profile.Motion](t)(m.Stretch(3*m.Duration())).Closes())
		require.NoError(t, must[profile.Motion](t)(profile.Sequence(append(parts, parts...)...)).Closes())

		at = m.At(0).Position // where the last step would have to go
		parts, at = parts[:last], parts[last-1].End().Position
		off := start + math.Copysign(1e-6*m.Position().AbsMax().V, r.NormFloat64())
		step(off)
		err := must[profile.Motion](t)(profile.Sequence(parts...)).Closes()
		require.Equal(t, []string{"position"}, paths(err), "%v", err)
	}
}

// The gap that counts as closed is 1e-9 of the farthest position and of the
// highest speed.
func TestClosesTolerance(t *testing.T) {
	over := func(gap float64) error {
		return must[profile.Motion](t)(profile.NewMotion(curve(t, []float64{0, 1, 2}, []float64{0, 0, 12, -8}, []float64{4, 0, -12 + 3*gap, 8 - 2*gap}))).Closes()
	}
	require.NoError(t, over(0))
	require.NoError(t, over(3.9e-9))
	require.NoError(t, over(-3.9e-9))
	require.Equal(t, []string{"position"}, paths(over(4.1e-9)))
	require.Equal(t, []string{"position"}, paths(over(-4.1e-9)))

	// t² - t, from speed -1 to speed 1-gap... back at 0 with the speed off by gap.
	faster := func(gap float64) error {
		return must[profile.Motion](t)(profile.NewMotion(curve(t, []float64{0, 1}, []float64{0, 1, -3 - gap, 2 + gap}))).Closes()
	}
	require.NoError(t, faster(0))
	require.NoError(t, faster(0.9e-9))
	require.Equal(t, []string{"speed"}, paths(faster(1.1e-9)))
	require.Equal(t, []string{"speed"}, paths(faster(-1.1e-9)))
}
