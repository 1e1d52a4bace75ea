package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// direct is a load on a lossless linear motor, whose torque is the force.
func direct(t testing.TB, l energy.Load) energy.Axis {
	t.Helper()
	return energy.Axis{Load: l, Mechanism: energy.Direct{}, Motor: lossless(t)}
}

// TestFrictionOfEachDirection: 10 N + 2 N·s/m in both directions, 5 N + 1 N·s/m more in the
// positive one, 20 N + 4 N·s/m more in the negative: 10 + 5 + 3·2 = 21 N and -(30 + 6·2) = -42 N at 2 m/s.
func TestFrictionOfEachDirection(t *testing.T) {
	a := direct(t, energy.Load{Mass: 1, Coulomb: 10, Viscous: 2,
		Plus: energy.Friction{Coulomb: 5, Viscous: 1}, Minus: energy.Friction{Coulomb: 20, Viscous: 4}})
	up, down := trace(t, a, steady(t, 2, 0.5)), trace(t, a, steady(t, -2, 0.5))
	require.InDelta(t, 21, up.Torque.At(0.2), 1e-12)
	require.InDelta(t, -42, down.Torque.At(0.2), 1e-12)
	require.InDelta(t, 21, up.Book.LoadFriction, 1e-12)
	require.InDelta(t, 42, down.Book.LoadFriction, 1e-12)
	h := holding(t, a, 0, 0)
	require.Equal(t, [3]float64{15, -30, 0}, [3]float64{h.BreakPlus, h.BreakMinus, h.Least})

	// Breakaway is of standstill alone.
	a.Load.Breakaway = 40
	require.Equal(t, up.Book, trace(t, a, steady(t, 2, 0.5)).Book)
	h = holding(t, a, 0, 0)
	require.Equal(t, [2]float64{40, -40}, [2]float64{h.BreakPlus, h.BreakMinus})
	a.Load.Breakaway = 29.9
	requirePaths(t, a.Load.Validate(), "breakaway")
	a.Load.Breakaway = -1
	requirePaths(t, a.Load.Validate(), "breakaway")
}

// TestForceTableByHand moves 1 kg at 0.5 m/s through
//
//	0 N up to 0.1 m, a step to 40 N, straight to 80 N at 0.3 m, 80 N from there
//
// and back. From 0 to 0.5 m the work is 60·0.2 + 80·0.2 = 28 J, and -28 J back.
func TestForceTableByHand(t *testing.T) {
	a := direct(t, energy.Load{Mass: 1, External: 5, ExternalByPosition: energy.ForceTable{
		Position: []float64{0, 0.1, 0.1, 0.3}, Force: []float64{0, 0, 40, 80}}})
	out := trace(t, a, steady(t, 0.5, 1))
	for _, tc := range []struct{ x, want float64 }{{0.05, 5}, {0.0999, 5}, {0.1001, 45.02}, {0.2, 65}, {0.3, 85}, {0.45, 85}} {
		require.InDelta(t, tc.want, out.Torque.At(tc.x/0.5), 1e-9, "at %g m", tc.x)
	}
	require.Equal(t, 3, out.Torque.Pieces())
	require.InDelta(t, 28+5*0.5, out.Book.LoadWork, 1e-12)
	require.InDelta(t, 30.5, out.Book.Drawn, 1e-9)
	back := trace(t, a, accels(t, 0.5, -0.5, [2]float64{1, 0}))
	require.InDelta(t, -30.5, back.Book.LoadWork, 1e-12)
	require.InDelta(t, 45.02, back.Torque.At((0.5-0.1001)/0.5), 1e-9)
	h := holding(t, a, 0.2, 0)
	require.InDelta(t, 65, h.Least, 1e-12)
	require.InDelta(t, 5, holding(t, a, -7, 0).Least, 1e-12)
	require.InDelta(t, 85, holding(t, a, 7, 0).Least, 1e-12)
}

// TestForceOverTimeByHand presses with a force that grows by 400 N/s from 0.25 s to 0.75 s and
// is nothing before and after: 100 N at 0.5 s. At 2 m/s the work is 2 · 400 · 0.5²/2 = 100 J.
func TestForceOverTimeByHand(t *testing.T) {
	press, err := profile.NewCurve([]float64{0.25, 0.75}, [][]float64{{0, 400}})
	require.NoError(t, err)
	a := direct(t, energy.Load{Mass: 1, ExternalByTime: press})
	tr := trace(t, a, steady(t, 2, 1))
	for _, tc := range []struct{ at, want float64 }{{0.1, 0}, {0.5, 100}, {0.7, 180}, {0.8, 0}} {
		require.InDelta(t, tc.want, tr.Torque.At(tc.at), 1e-9, "at %g s", tc.at)
	}
	require.InDelta(t, 100, tr.Book.LoadWork, 1e-9)
	require.Equal(t, 3, tr.Torque.Pieces())
	// A force that lasts from before the motion and beyond it.
	press, err = profile.Constant(30, -5, 5)
	require.NoError(t, err)
	a.Load.ExternalByTime = press
	tr = trace(t, a, steady(t, 2, 1))
	require.Equal(t, 1, tr.Torque.Pieces())
	require.InDelta(t, 60, tr.Book.LoadWork, 1e-9)
	require.InDelta(t, 30, holding(t, a, 0, 5).Least, 1e-12)
	require.Zero(t, holding(t, a, 0, 5.1).Least)
}

// TestCounterbalancesByHand lifts 10 kg, 98.0665 N, by 0.5 m at 1 m/s and 2 m/s².
//
//	counterweight 4 kg at twice the travel: force 78.4532 N, inertia 16 kg: (10+16)·2 + 98.0665 - 78.4532 = 71.6133 N
//	spring 200 N/m relaxed at 0.4 m, at 0.1 m 60 N: 20 + 98.0665 - 60 = 58.0665 N
//	constant force 90 N: 20 + 8.0665 = 28.0665 N
func TestCounterbalancesByHand(t *testing.T) {
	// Passes 0.1 m at 1 m/s after 0.1 s.
	m := accels(t, 0.1-0.09, 0.8, [2]float64{0.2, 2})
	require.InDelta(t, 0.1, m.At(0.1).Position, 1e-12)
	x0, x1 := m.Start().Position, m.End().Position
	v0, v1 := m.Start().Speed, m.End().Speed
	for _, tc := range []struct {
		name    string
		c       energy.Counterbalance
		force   float64
		stored  float64
		inertia float64
		free    float64
	}{
		{"weight", energy.Counterbalance{Mass: 4, Ratio: 2}, 71.6133, -78.4532 * (x1 - x0), 26, 98.0665 - 78.4532},
		{"spring", energy.Counterbalance{Stiffness: 200, Relaxed: 0.4}, 58.0665,
			100 * ((x1-0.4)*(x1-0.4) - (x0-0.4)*(x0-0.4)), 10, 98.0665 - 80},
		{"constant", energy.Counterbalance{Force: 90}, 28.0665, -90 * (x1 - x0), 10, 8.0665},
	} {
		t.Run(tc.name, func(t *testing.T) {
			a := direct(t, energy.Load{Mass: 10, Incline: math.Pi / 2, Counterbalance: tc.c})
			tr := trace(t, a, m)
			require.InDelta(t, tc.force, tr.Torque.At(0.1), 1e-9)
			require.InDelta(t, tc.stored, tr.Book.Counterbalance, 1e-12)
			require.InDelta(t, tc.inertia/2*(v1*v1-v0*v0), tr.Book.Kinetic, 1e-12)
			require.InDelta(t, 98.0665*(x1-x0), tr.Book.Potential, 1e-12)
			require.InDelta(t, 0, tr.Book.Residual, 1e-12)
			require.InDelta(t, tc.free, holding(t, a, 0, 0).Free, 1e-9)
		})
	}
}

// TestBalancedAxisNeedsLess: a counterbalance of the whole weight leaves an axis whose
// torque is that of a horizontal one with the counterweight's inertia.
func TestBalancedAxisNeedsLess(t *testing.T) {
	m := sCurve(t, 0.5, 0.03, 0.07, 0.15)
	a := beltAxis(t)
	a.Load.Incline = math.Pi / 2
	a.Load.Counterbalance = energy.Counterbalance{Mass: a.Load.Mass / 2, Ratio: 2}
	flat := beltAxis(t)
	flat.Load.Mass += a.Load.Mass / 2 * 4
	up, level := trace(t, a, m), trace(t, flat, m)
	for _, s := range []float64{0.01, 0.1, 0.2, 0.3, 0.4} {
		require.InDelta(t, level.Torque.At(s), up.Torque.At(s), 1e-9)
	}
	require.InDelta(t, 0, up.Book.Potential+up.Book.Counterbalance, 1e-9)
	require.InDelta(t, level.Book.Drawn, up.Book.Drawn, 1e-9)
	j, err := a.ReflectedInertia()
	require.NoError(t, err)
	level1, err := flat.ReflectedInertia()
	require.NoError(t, err)
	require.InDelta(t, level1, j, 1e-15)
}
