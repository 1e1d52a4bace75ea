package profile_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

func TestSynchroniseMoves(t *testing.T) {
	r := seeded(47)
	for range 300 {
		n := 1 + r.IntN(6)
		lims, targets := make([]profile.Limits, n), make([]float64, n)
		moves := make([]profile.Move, n)
		longest := 0.0
		short := false
		for i := range moves {
			lims[i], targets[i] = r.limits(), r.between(-5, 5)
			moves[i] = must[profile.Move](t)(profile.Plan(1, targets[i], lims[i]))
			short = short || shortRamp(moves[i])
			longest = max(longest, moves[i].Duration())
		}
		if short {
			continue
		}
		got := must[[]profile.Move](t)(profile.Synchronise(nil, moves))
		require.Len(t, got, n)
		for i, m := range got {
			require.Equal(t, longest, m.Duration(), "all end together")
			checkMove(t, m, 1, targets[i], lims[i], 1e-9)
			if moves[i].Duration() == longest {
				require.Equal(t, moves[i], m, "the slowest is left alone")
			}
			near(t, moves[i].At(0.3*moves[i].Duration()).Position, m.At(0.3*longest).Position, 1e-12, "the shape stays")
		}
		// In place, into what is there.
		again := must[[]profile.Move](t)(profile.Synchronise(moves, moves))
		require.Equal(t, got, again)
		require.Same(t, &moves[0], &again[0])
	}
}

func TestSynchroniseRestAndMotions(t *testing.T) {
	lim := profile.Limits{Speed: 1, Accel: 2}
	moves := must[[]profile.Move](t)(profile.Synchronise(nil, []profile.Move{
		must[profile.Move](t)(profile.Plan(0, 1, lim)), must[profile.Move](t)(profile.Plan(7, 7, lim)),
	}))
	require.Equal(t, profile.State{Position: 7}, moves[1].At(0.5))
	require.Equal(t, moves[0].Duration(), moves[1].Duration())

	motions := must[[]profile.Motion](t)(profile.Synchronise(nil, []profile.Motion{
		must[profile.Motion](t)(profile.LeastLoss().Motion(0, 1, 0.5)),
		must[profile.Motion](t)(profile.Polynomial345().Motion(0, 1, 2)),
	}))
	require.Equal(t, 2.0, motions[0].Duration())
	require.Equal(t, 2.0, motions[1].Duration())
	near(t, 0.75, motions[0].Speed().Max().V, 1e-15, "peak speed of the stretched one")

	require.Empty(t, must[[]profile.Move](t)(profile.Synchronise[profile.Move](nil, nil)))
	require.Empty(t, must[[]profile.Motion](t)(profile.Synchronise(nil, []profile.Motion{{}, {}}))[0])
}

func TestSynchroniseRefuses(t *testing.T) {
	long := must[profile.Motion](t)(profile.Dwell(0, 1e170))
	short := must[profile.Motion](t)(profile.LeastLoss().Motion(0, 1, 1))
	got, err := profile.Synchronise(nil, []profile.Motion{{}, long, short})
	require.Equal(t, []string{"motions[0].duration", "motions[2].duration"}, paths(err))
	require.Nil(t, got)
}
