package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// TestStepsByHand lifts 10 kg by 0.4 m, waits, and comes back with 4 kg: 39.2266 J up,
// 15.69064 J down. All curves follow one another.
func TestStepsByHand(t *testing.T) {
	a := beltAxis(t)
	full := energy.Load{Mass: 10, Coulomb: 5, Incline: math.Pi / 2}
	empty := full
	empty.Mass = 4
	up := sCurve(t, 0.4, 0.02, 0.05, 0.1)
	wait, err := profile.Dwell(0.4, 0.3)
	require.NoError(t, err)
	lifted, err := profile.Constant(0.4, 0, up.Duration())
	require.NoError(t, err)
	position, err := profile.Sum(lifted, sCurve(t, -0.4, 0.02, 0.05, 0.1).Position())
	require.NoError(t, err)
	down, err := profile.NewMotion(position)
	require.NoError(t, err)
	steps := []energy.Step{{up, full}, {wait, full}, {profile.Motion{}, full}, {wait, empty}, {down, empty}}
	tr, books, err := a.TraceSteps(steps)
	require.NoError(t, err)
	require.Len(t, books, len(steps))
	require.InDelta(t, 39.2266, books[0].Potential, 1e-9)
	require.Zero(t, books[2])
	require.InDelta(t, -15.69064, books[4].Potential, 1e-9)
	require.InDelta(t, 39.2266-15.69064, tr.Book.Potential, 1e-9)
	require.InDelta(t, 0, tr.Book.Residual, 1e-9*tr.Book.Throughput())

	sum := energy.Book{}
	at := 0.0
	for i, s := range steps {
		sum = sum.Add(books[i])
		a.Load = s.Load
		alone := trace(t, a, s.Motion)
		require.Equal(t, alone.Book, books[i])
		for _, share := range []float64{0.1, 0.5, 0.9} {
			if s.Motion.Duration() > 0 {
				d := share * s.Motion.Duration()
				require.InDelta(t, alone.BusPower.At(d), tr.BusPower.At(at+d), 1e-9*tr.BusPower.AbsMax().V)
				require.InDelta(t, alone.Torque.At(d), tr.Torque.At(at+d), 1e-9)
				require.InDelta(t, alone.RatedTorque.At(d), tr.RatedTorque.At(at+d), 1e-9)
				require.InDelta(t, alone.ShaftPower.At(d), tr.ShaftPower.At(at+d), 1e-9*tr.BusPower.AbsMax().V)
				require.InDelta(t, alone.CopperLoss.At(d), tr.CopperLoss.At(at+d), 1e-9*tr.BusPower.AbsMax().V)
				require.InDelta(t, alone.Speed.At(d), tr.Speed.At(at+d), 1e-9*math.Abs(tr.Speed.AbsMax().V))
			}
		}
		at += s.Motion.Duration()
	}
	require.Equal(t, sum, tr.Book)
	requireNear(t, at, tr.BusPower.End(), 1e-12, "duration")
}

// TestStepsChangeMassAtRestOnly: a mass that comes along at speed is refused, a force or a
// friction that sets in at speed is not.
func TestStepsChangeMassAtRestOnly(t *testing.T) {
	a := beltAxis(t)
	first := accels(t, 0, 0, [2]float64{0.5, 2})
	second := accels(t, first.End().Position, first.End().Speed, [2]float64{0.5, -2})
	light, heavy, rough := a.Load, a.Load, a.Load
	heavy.Mass *= 2
	rough.Coulomb, rough.External, rough.Plus.Viscous = 100, 30, 5
	rough.Counterbalance.Force = 20
	_, _, err := a.TraceSteps([]energy.Step{{first, light}, {second, heavy}})
	requirePaths(t, err, "steps[1].load")
	_, _, err = a.TraceSteps([]energy.Step{{first, light}, {profile.Motion{}, heavy}, {second, heavy}})
	requirePaths(t, err, "steps[2].load")
	tr, _, err := a.TraceSteps([]energy.Step{{first, light}, {second, rough}})
	require.NoError(t, err)
	require.InDelta(t, 0, tr.Book.Residual, 1e-9*tr.Book.Throughput())
	require.InDelta(t, 0, tr.Book.Kinetic, 1e-9*tr.Book.Throughput())
	rough.Counterbalance.Mass, rough.Counterbalance.Ratio = 1, 1
	_, _, err = a.TraceSteps([]energy.Step{{first, light}, {second, rough}})
	requirePaths(t, err, "steps[1].load")
}

func TestStepsRefuse(t *testing.T) {
	a := beltAxis(t)
	m := sCurve(t, 0.1, 0.03, 0.07, 0.15)
	_, _, err := a.TraceSteps([]energy.Step{{m, a.Load}, {m, a.Load}})
	requirePaths(t, err, "steps[1].motion")
	broken := a.Load
	broken.Mass = -1
	_, _, err = a.TraceSteps([]energy.Step{{m, a.Load}, {profile.Motion{}, broken}})
	requirePaths(t, err, "steps[1].load.mass")
	tr, books, err := a.TraceSteps(nil)
	require.NoError(t, err)
	require.Equal(t, energy.Trace{}, tr)
	require.Empty(t, books)
}
