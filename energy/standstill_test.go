package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// TestStandstill: least torque that holds 1 kg, 9.80665 N, on a drum of radius 0.1 m:
// 0.980665 N·m without friction.
func TestStandstill(t *testing.T) {
	const weight, r = 9.80665, 0.1
	for _, tc := range []struct {
		name   string
		change func(a *energy.Axis)
		want   float64
		shaft  float64
	}{
		{"no friction", func(*energy.Axis) {}, weight * r, weight * r},
		{"some friction helps", func(a *energy.Axis) { a.Load.Coulomb = 4 }, (weight - 4) * r, (weight - 4) * r},
		{"enough friction holds", func(a *energy.Axis) { a.Load.Coulomb = 10 }, 0, 0},
		{"downwards", func(a *energy.Axis) { a.Load.Incline = -math.Pi / 2; a.Load.Coulomb = 4 }, -(weight - 4) * r, -(weight - 4) * r},
		{"outside force", func(a *energy.Axis) { a.Load.External = -20 }, (weight - 20) * r, (weight - 20) * r},
		{"viscous friction does not", func(a *energy.Axis) { a.Load.Viscous = 50; a.Motor.DragPerSpeed = 1 }, weight * r, weight * r},
		{"efficiency helps", func(a *energy.Axis) {
			a.Mechanism = energy.Belt{PitchDiameter: 2 * r, Efficiency: 0.8}
		}, weight * r * 0.75, weight * r * 0.75},
		{"self-locking", func(a *energy.Axis) {
			a.Stages = []energy.Stage{{Ratio: 1, Efficiency: 0.4}}
		}, 0, 0},
		{"drags help", func(a *energy.Axis) {
			a.Mechanism = energy.Belt{PitchDiameter: 2 * r, Efficiency: 1, Drag: 0.2}
			a.Stages = []energy.Stage{{Ratio: 2, Efficiency: 1, Drag: 0.1}}
		}, (weight*r-0.2)/2 - 0.1, (weight*r-0.2)/2 - 0.1},
		{"motor drag helps", func(a *energy.Axis) { a.Motor.DragTorque = 0.3 }, weight*r - 0.3, weight * r},
	} {
		t.Run(tc.name, func(t *testing.T) {
			a := energy.Axis{
				Load:      energy.Load{Mass: 1, Incline: math.Pi / 2},
				Mechanism: energy.Belt{PitchDiameter: 2 * r, Efficiency: 1},
				Motor:     lossless(t),
			}
			tc.change(&a)
			m, err := profile.Dwell(0.3, 2)
			require.NoError(t, err)
			tr := trace(t, a, m)
			require.InDelta(t, tc.want, tr.Torque.At(1), 1e-12)
			require.InDelta(t, tc.shaft, tr.RatedTorque.At(1), 1e-12)
			require.Zero(t, tr.Speed.AbsMax().V)
			require.Zero(t, tr.ShaftPower.AbsMax().V)
		})
	}
}

// TestStandstillStillCosts: a held weight heats the winding and the drive.
func TestStandstillStillCosts(t *testing.T) {
	winding, err := energy.SinusoidalRMS(0.5, energy.MotorConstant(0.2), 25)
	require.NoError(t, err)
	for _, incline := range []float64{math.Pi / 2, -math.Pi / 2} {
		a := energy.Axis{
			Load:      energy.Load{Mass: 10 / energy.StandardGravity, Incline: incline},
			Mechanism: energy.Belt{PitchDiameter: 0.2, Efficiency: 1},
			Motor:     energy.Motor{Winding: winding},
			Drive:     energy.Drive{Standby: 5, LossPerAmp: 2, LossPerAmpSquared: 0.5},
		}
		m, err := profile.Dwell(0, 2)
		require.NoError(t, err)
		// 1 N·m either way: 2 A, copper 25 W, drive 4 + 2 W, standby 5 W.
		tr := trace(t, a, m)
		require.InDelta(t, 36, tr.BusPower.At(1), 1e-12)
		require.InDelta(t, 50, tr.Book.Copper, 1e-12)
		require.InDelta(t, 12, tr.Book.Drive, 1e-12)
		require.InDelta(t, 72, tr.Book.Drawn, 1e-12)
		require.InDelta(t, 0, tr.Book.Residual, 1e-12)
	}
}

func TestSelfLockingScrewMustBeDrivenDown(t *testing.T) {
	// Back efficiency 2 - 1/0.4 = -0.5: 10 N on 1 mm/rad takes 0.005 N·m to lower.
	a := energy.Axis{
		Load:      energy.Load{Mass: 10 / energy.StandardGravity, Incline: math.Pi / 2},
		Mechanism: energy.Screw{Lead: 2 * math.Pi * 1e-3, Efficiency: 0.4},
		Motor:     lossless(t),
	}
	tr := trace(t, a, steady(t, -0.1, 1))
	require.InDelta(t, -0.005, tr.Torque.At(0.5), 1e-12)
	require.InDelta(t, 0.5, tr.ShaftPower.At(0.5), 1e-12)
	require.InDelta(t, 1.5, tr.Book.Transmission, 1e-12, "the weight's 1 W and the motor's 0.5 W")
}

func TestEmptyMotion(t *testing.T) {
	tr := trace(t, beltAxis(t), profile.Motion{})
	require.Equal(t, energy.Trace{}, tr)
}
