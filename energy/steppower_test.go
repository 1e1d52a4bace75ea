package energy_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// Losses and bus power are those of the whole trace, of the axis with its own winding and
// with others, one load after another.
func TestStepPower(t *testing.T) {
	eachRandom(t, 60, func(t *testing.T, seed uint64, a energy.Axis, m profile.Motion) {
		rest, err := profile.Dwell(m.End().Position, 0.2)
		require.NoError(t, err)
		steps := []energy.Step{{m, a.Load}, {profile.Motion{}, a.Load}}
		if m.End().Speed == 0 {
			steps = append(steps, energy.Step{Motion: rest, Load: a.Load})
		}
		tracer, err := energy.NewStepTracer(steps)
		require.NoError(t, err)
		for _, friction := range []float64{1, 1.4} {
			for i := range steps {
				steps[i].Load.Coulomb = a.Load.Coulomb * friction
			}
			want, _, err := a.TraceSteps(steps)
			if err != nil {
				continue
			}
			got, err := tracer.Trace(a, func(i int) energy.Load { return steps[i].Load })
			require.NoError(t, err)
			require.InDelta(t, want.CopperLoss.Mean(), got.CopperLoss, 1e-11*want.CopperLoss.Mean(), "seed %d", seed)
			require.InDelta(t, want.Book.MotorDrag/want.BusPower.Duration(), got.MotorDrag, 1e-12*(got.MotorDrag+1e-9))
			own := a.Motor.Winding
			windings := []energy.Winding{own}
			for _, kt := range []float64{1, 0.8} { // hot copper, then weak magnets besides
				w, err := energy.SinusoidalRMS(kt*own.Kt(), energy.MotorConstant(0.8*kt*own.Km()), 120)
				require.NoError(t, err)
				windings = append(windings, w)
			}
			for _, w := range windings {
				power, err := got.BusPower(w)
				require.NoError(t, err)
				other := a
				other.Motor.Winding = w
				want, _, err := other.TraceSteps(steps)
				require.NoError(t, err)
				require.Equal(t, want.BusPower.Pieces(), power.Pieces())
				difference, err := profile.Sum(want.BusPower, power.Scale(-1))
				require.NoError(t, err)
				require.LessOrEqual(t, math.Abs(difference.AbsMax().V), 1e-10*(math.Abs(want.BusPower.AbsMax().V)+want.CopperLoss.Max().V), "seed %d", seed)
			}
		}
	})
}

// Steps that do not join are refused at once, and a winding that nobody made.
func TestStepTracerRefuses(t *testing.T) {
	a := beltAxis(t)
	m := sCurve(t, 0.4, 0.02, 0.05, 0.1)
	_, err := energy.NewStepTracer([]energy.Step{{m, a.Load}, {m, a.Load}})
	require.NotEmpty(t, profile.InputErrors(err))
	tracer, err := energy.NewStepTracer([]energy.Step{{m, a.Load}})
	require.NoError(t, err)
	_, err = tracer.Trace(energy.Axis{}, func(int) energy.Load { return energy.Load{} })
	require.NotEmpty(t, profile.InputErrors(err))
	p, err := tracer.Trace(a, func(int) energy.Load { return a.Load })
	require.NoError(t, err)
	_, err = p.BusPower(energy.Winding{})
	require.NotEmpty(t, profile.InputErrors(err))
}
