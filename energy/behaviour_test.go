package energy_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// TestHeavierLoadNeverLowersPeakTorque: horizontal or lifting, with no outside force
// that helps and equal acceleration and deceleration.
func TestHeavierLoadNeverLowersPeakTorque(t *testing.T) {
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 4))
		a := randomAxis(t, r)
		a.Load.External = math.Abs(a.Load.External)
		a.Load.Incline = math.Abs(a.Load.Incline)
		m := sCurve(t, 0.1+r.Float64(), 0.02+0.05*r.Float64(), 0.1*r.Float64()+0.01, 0.2*r.Float64()+0.01)
		last := 0.0
		for range 5 {
			peak := math.Abs(trace(t, a, m).Torque.AbsMax().V)
			require.GreaterOrEqual(t, peak, last*(1-1e-12), "seed %d", seed)
			last = peak
			a.Load.Mass *= 1.3
			a.Load.Inertia *= 1.3
		}
	}
}

// TestLoadInertiaPassesThroughEfficiency: inertia behind a lossy stage takes more
// torque, and more copper loss, than the same reflected inertia on the motor's shaft.
// With 5:1 between the two, and 80 %, leaving it outside the efficiency would
// understate the torque to accelerate by 17 % and the copper loss by 32 %.
func TestLoadInertiaPassesThroughEfficiency(t *testing.T) {
	const ratio, rotor = 4, 1e-4
	at := func(load, rotor float64) energy.Trace {
		a := energy.Axis{
			Load:      energy.Load{Inertia: load},
			Mechanism: energy.Rotary{Efficiency: 1},
			Stages:    []energy.Stage{{Ratio: ratio, Efficiency: 0.8}},
			Motor:     lossless(t),
		}
		a.Motor.RotorInertia = rotor
		return trace(t, a, accels(t, 0, 0, [2]float64{0.1, 50}))
	}
	// By hand: alpha at the motor 200 rad/s², (1e-4 + 5e-4/0.8) 200 = 0.145 N·m against
	// (1e-4 + 5e-4) 200 = 0.12 N·m.
	behind := at(5*rotor*ratio*ratio, rotor)
	beside := at(1e-12, 6*rotor)
	requireNear(t, 0.145, behind.Torque.At(0.05), 1e-12, "torque with the inertia behind the stage")
	requireNear(t, 0.12, beside.Torque.At(0.05), 1e-8, "torque with the inertia at the shaft")
	requireNear(t, 1-0.17, beside.Torque.At(0.05)/behind.Torque.At(0.05), 5e-3, "torque understated")
	requireNear(t, 1-0.32, beside.Book.Copper/behind.Book.Copper, 1e-2, "copper loss understated")
}

// TestFrictionCutsAtReversal: the torque steps where the speed changes sign and
// nowhere else.
func TestFrictionCutsAtReversal(t *testing.T) {
	a := energy.Axis{
		Load:      energy.Load{Mass: 3, Coulomb: 12},
		Mechanism: energy.Belt{PitchDiameter: 0.1, Efficiency: 1},
		Motor:     lossless(t),
	}
	// From 1 m/s at -4 m/s² for 0.5 s: at rest after 0.25 s.
	tr := trace(t, a, accels(t, 0, 1, [2]float64{0.5, -4}))
	require.Equal(t, 2, tr.Torque.Pieces())
	_, cut, _ := tr.Torque.Piece(0)
	requireNear(t, 0.25, cut, 1e-12, "instant of reversal")
	require.InDelta(t, 0, tr.Torque.At(0.2), 1e-12, "3·(-4) + 12 = 0 N before")
	requireNear(t, -24*0.05, tr.Torque.At(0.3), 1e-12, "3·(-4) - 12 = -24 N after")
}

// TestSliversLeaveNoGap: pieces far shorter than the motion, and a speed that only
// touches zero, neither break the curves nor cut them needlessly.
func TestSliversLeaveNoGap(t *testing.T) {
	a := beltAxis(t)
	a.Drive.LossPerAmp = 0
	a.Stages[0].Efficiency, a.Stages[0].BackEfficiency = 1, 1
	a.Mechanism = energy.Belt{PitchDiameter: 0.06, Efficiency: 1, BackEfficiency: 1}
	// v = (t - 1)² touches zero at 1 s.
	touch, err := profile.NewCurve([]float64{0, 2}, [][]float64{{0, 1, -1, 1. / 3}})
	require.NoError(t, err)
	m, err := profile.NewMotion(touch)
	require.NoError(t, err)
	require.Equal(t, 1, trace(t, a, m).Torque.Pieces())

	// v = ±((t - 1)² - 5e-13) is below 1e-12 of the highest speed where its sign turns.
	for _, sign := range []float64{1, -1} {
		below, err := profile.NewCurve([]float64{0, 2}, [][]float64{{0, sign * (1 - 5e-13), -sign, sign / 3}})
		require.NoError(t, err)
		m, err = profile.NewMotion(below)
		require.NoError(t, err)
		require.Equal(t, 1, trace(t, a, m).Torque.Pieces())
	}

	// A tiny overshoot at the end of a move, as rounding leaves it.
	m = accels(t, 0, 0, [2]float64{1, 1}, [2]float64{1 + 1e-14, -1})
	tr := trace(t, a, m)
	require.Equal(t, 2, tr.Torque.Pieces())
	require.Equal(t, m.Duration(), tr.Torque.End())
	require.Greater(t, m.Duration(), 2.0)

	// Pieces of 1e-13 s within 2 s.
	m = accels(t, 0, 0, [2]float64{1, 1}, [2]float64{1e-13, 0}, [2]float64{1, -1})
	tr = trace(t, a, m)
	require.Equal(t, 3, tr.Torque.Pieces())
	require.InDelta(t, 0, tr.Book.Residual, 1e-9*tr.Book.Throughput())
}

// TestRemnantOfSpeedIsStandstill: 1e-13 of the highest speed is what rounding leaves of
// a stop; 1e-9 of it is a slow motion, with its friction.
func TestRemnantOfSpeedIsStandstill(t *testing.T) {
	a := energy.Axis{
		Load:      energy.Load{Mass: 3, Coulomb: 12},
		Mechanism: energy.Belt{PitchDiameter: 0.1, Efficiency: 1},
		Motor:     lossless(t),
	}
	for _, tc := range []struct{ speed, want float64 }{{1e-13, 0}, {-1e-13, 0}, {1e-9, 12 * 0.05}, {-1e-9, -12 * 0.05}} {
		tr := trace(t, a, accels(t, 0, 1, [2]float64{1, 0}, [2]float64{1, -1 + tc.speed}, [2]float64{1, 0}))
		require.InDelta(t, tc.want, tr.Torque.At(2.5), 1e-12, "speed %g", tc.speed)
	}
}

// TestCutsKeepTheBreaksOfTheMotion: a piece of the motion ends in the curves just where
// it does in the motion.
func TestCutsKeepTheBreaksOfTheMotion(t *testing.T) {
	t0, t1 := 0.2, 0.9
	require.NotEqual(t, t1, t0+(t1-t0), "a pair at which adding the length rounds")
	c, err := profile.NewCurve([]float64{0, t0, t1}, [][]float64{{0, 1}, {t0, 1}})
	require.NoError(t, err)
	m, err := profile.NewMotion(c)
	require.NoError(t, err)
	require.Equal(t, t1, trace(t, beltAxis(t), m).Torque.End())
}
