package energy_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// holding is Axis.Holding that fails the test on error.
func holding(t testing.TB, a energy.Axis, position, time float64) energy.Holding {
	t.Helper()
	h, err := a.Holding(position, time)
	require.NoError(t, err)
	return h
}

// TestHoldingByHand: 10 kg, 98.0665 N, on a rack with a pinion of radius 0.05 m, 80 %
// upwards and 2 - 1/0.8 = 75 % downwards, drag 0.1 N·m; dry friction 20 N upwards and
// 10 N downwards, 30 N static; motor 0.02 N·m.
//
//	upwards    128.0665 · 0.05/0.8 + 0.1 + 0.02 = 8.12415625 N·m
//	downwards   68.0665 · 0.05·0.75 - 0.1 - 0.02 = 2.43249375 N·m
//	without friction 98.0665 · 0.05 = 4.903325 N·m
//
// Without a static friction of its own the dry friction of each direction holds:
//
//	upwards    118.0665 · 0.0625 + 0.12 = 7.49915625;  downwards 88.0665 · 0.0375 - 0.12 = 3.18249375
func TestHoldingByHand(t *testing.T) {
	a := energy.Axis{
		Load:      energy.Load{Mass: 10, Incline: math.Pi / 2, Coulomb: 10, Plus: energy.Friction{Coulomb: 10}, Breakaway: 30},
		Mechanism: energy.RackPinion{PitchDiameter: 0.1, Efficiency: 0.8, Drag: 0.1},
		Motor:     lossless(t),
	}
	a.Motor.DragTorque = 0.02
	h := holding(t, a, 0, 0)
	require.InDelta(t, 8.12415625, h.BreakPlus, 1e-12)
	require.InDelta(t, 2.43249375, h.BreakMinus, 1e-12)
	require.InDelta(t, 2.43249375, h.Least, 1e-12)
	require.InDelta(t, 4.903325, h.Free, 1e-12)

	a.Load.Breakaway = 0
	h = holding(t, a, 0, 0)
	require.InDelta(t, 7.49915625, h.BreakPlus, 1e-12)
	require.InDelta(t, 3.18249375, h.BreakMinus, 1e-12)

	// A self-locking screw, 40 % and 2 - 1/0.4 = -50 %, 1 mm/rad: no torque is needed, and
	// lowering takes 98.0665e-3 · 0.5 = 0.04903325 N·m of its own.
	a = energy.Axis{
		Load:      energy.Load{Mass: 10, Incline: math.Pi / 2},
		Mechanism: energy.Screw{Lead: 2 * math.Pi * 1e-3, Efficiency: 0.4},
		Motor:     lossless(t),
	}
	h = holding(t, a, 0, 0)
	require.Zero(t, h.Least)
	require.InDelta(t, -0.04903325, h.BreakMinus, 1e-12)
	require.InDelta(t, 0.0980665/0.4, h.BreakPlus, 1e-12)
}

// TestHoldingAgainstTraces: the torque at standstill is Least, which is the torque
// nearest to zero between those at which the axis starts; and what starts it is what a creep in
// that direction takes, if static friction is no more than the dry one.
func TestHoldingAgainstTraces(t *testing.T) {
	for seed := range uint64(500) {
		r := rand.New(rand.NewPCG(seed, 11))
		a := anyAxis(t, r)
		// The crank not too near a dead centre, where the slider rubs both ways.
		x := 0.5 + r.Float64()
		h := holding(t, a, x, 0.1)
		scale := 1e-12 * (math.Abs(h.BreakPlus) + math.Abs(h.BreakMinus))
		require.LessOrEqual(t, h.BreakMinus, h.BreakPlus, "seed %d", seed)
		require.InDelta(t, math.Max(h.BreakMinus, math.Min(0, h.BreakPlus)), h.Least, scale, "seed %d", seed)

		rest, err := profile.Dwell(x, 0.2)
		require.NoError(t, err)
		tr := trace(t, a, rest)
		require.InDelta(t, h.Least, tr.Torque.At(0.1), scale+1e-9*math.Abs(h.Free), "seed %d", seed)

		a.Load.Breakaway, a.Load.Viscous, a.Load.Plus.Viscous, a.Load.Minus.Viscous = 0, 0, 0, 0
		a.Motor.DragPerSpeed, a.Motor.DragPerSpeedSquared = 0, 0
		h = holding(t, a, x, 0.1)
		for _, tc := range []struct{ direction, want float64 }{{1, h.BreakPlus}, {-1, h.BreakMinus}} {
			v := 1e-12 * tc.direction
			got := trace(t, a, accels(t, x, v, [2]float64{0.2, 0})).Torque.At(0.1)
			require.InDelta(t, tc.want, got, 1e-8*(math.Abs(h.BreakPlus)+math.Abs(h.BreakMinus)), "seed %d, direction %g", seed, tc.direction)
		}
	}
}

// TestHoldingOverTime: a force that swings while the axis rests is followed, with the dead
// band of friction: 30 N·sin as a straight line from -30 to 30 N in 6 s, 10 N of friction,
// radius 0.1 m: no torque from 2 s to 4 s.
func TestHoldingOverTime(t *testing.T) {
	force, err := profile.Samples([]float64{0, 6}, []float64{-30, 30})
	require.NoError(t, err)
	a := energy.Axis{
		Load:      energy.Load{Mass: 1, Coulomb: 10, ExternalByTime: force},
		Mechanism: energy.Belt{PitchDiameter: 0.2, Efficiency: 1},
		Motor:     lossless(t),
		Drive:     energy.Drive{LossPerAmp: 1},
	}
	m, err := profile.Dwell(0, 8)
	require.NoError(t, err)
	tr := trace(t, a, m)
	for _, tc := range []struct{ at, want float64 }{{0, -2}, {1, -1}, {2.5, 0}, {3.9, 0}, {5, 1}, {5.999999, 1.9999999}, {6.1, 0}, {8, 0}} {
		require.InDelta(t, tc.want, tr.Torque.At(tc.at), 1e-6, "at %g s", tc.at)
	}
	require.Equal(t, 4, tr.Torque.Pieces())
	require.Zero(t, tr.Book.LoadWork)
	require.InDelta(t, 4, tr.Book.Drive, 1e-9, "two triangles of 2 N·m · 2 s/2, 1 W/A and 1 N·m/A")
}

func TestHoldingRefuses(t *testing.T) {
	a := beltAxis(t)
	for _, v := range bad {
		_, err := a.Holding(v, 0)
		requirePaths(t, err, "position")
		_, err = a.Holding(0, v)
		requirePaths(t, err, "time")
	}
	a.Load.Mass = 0
	_, err := a.Holding(0, 0)
	requirePaths(t, err, "load.mass")
}
