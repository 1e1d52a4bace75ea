package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// TestMechanismsByHand: torque at 0.05 s of a motion at 2 m/s and 3 m/s², which the
// speed passes then, for a load of 10 kg with 20 N of dry friction.
//
//	rack      F = 30 + 20 = 50 N; r 0.04 m; 50·0.04/0.8 = 2.5; pinion 1e-3·75 = 0.075; drag 0.1: 2.675 N·m
//	rollers   r 0.025 m; 50·0.025 = 1.25; 12 rollers of 2e-4 at 120 rad/s²: 0.288; 12·0.01 = 0.12: 1.658 N·m
//	          and through a chain of 95 %, 1:1: 1.658/0.95 = 1.745263158 N·m
//	hoist     F = 98.0665 + 50 = 148.0665 N on 4 falls, D 0.3 m: 148.0665·0.0375 = 5.55249375; 0.9: 6.169437500;
//	          drum 0.02·80 = 1.6; drag 0.5: 8.2694375 N·m
//	direct    50 N
func TestMechanismsByHand(t *testing.T) {
	m := accels(t, 0, 2-0.15, [2]float64{0.1, 3})
	for _, tc := range []struct {
		name      string
		mechanism energy.Mechanism
		stages    []energy.Stage
		want      float64
		speed     float64
	}{
		{"rack", energy.RackPinion{PitchDiameter: 0.08, Efficiency: 0.8, Inertia: 1e-3, Drag: 0.1}, nil, 2.675, 50},
		{"rollers", energy.RollerConveyor{Diameter: 0.05, Driven: 8, Idle: 4, RollerInertia: 2e-4, RollerDrag: 0.01}, nil, 1.658, 80},
		{"rollers and chain", energy.RollerConveyor{Diameter: 0.05, Driven: 8, Idle: 4, RollerInertia: 2e-4, RollerDrag: 0.01},
			[]energy.Stage{{Ratio: 1, Efficiency: 0.95}}, 1.745263158, 80},
		{"hoist", energy.HoistDrum{Diameter: 0.3, Falls: 4, Efficiency: 0.9, Inertia: 0.02, Drag: 0.5}, nil, 8.2694375, 2 / 0.0375},
		{"direct", energy.Direct{}, nil, 50, 2},
	} {
		t.Run(tc.name, func(t *testing.T) {
			a := energy.Axis{Load: energy.Load{Mass: 10, Coulomb: 20}, Mechanism: tc.mechanism, Stages: tc.stages, Motor: lossless(t)}
			tr := trace(t, a, m)
			require.InDelta(t, tc.want, tr.Torque.At(0.05), 1e-9)
			require.InDelta(t, tc.speed, tr.Speed.At(0.05), 1e-9)
		})
	}
}

// TestLinearMotorByHand: 5 kg against 10 N at 4 m/s², 30 N with 60 N/A rms and 12 N/√W:
// 0.5 A, 6.25 W of copper; at 1 m/s 30 W, with a drive of 2 W/A 37.25 W.
func TestLinearMotorByHand(t *testing.T) {
	winding, err := energy.SinusoidalRMS(60, energy.MotorConstant(12), 25)
	require.NoError(t, err)
	a := energy.Axis{
		Load:      energy.Load{Mass: 5, Coulomb: 10},
		Mechanism: energy.Direct{},
		Motor:     energy.Motor{Winding: winding},
		Drive:     energy.Drive{LossPerAmp: 2},
	}
	tr := trace(t, a, accels(t, 0, 1-0.2, [2]float64{0.1, 4}))
	require.InDelta(t, 30, tr.Torque.At(0.05), 1e-12)
	require.InDelta(t, 6.25, tr.CopperLoss.At(0.05), 1e-12)
	require.InDelta(t, 37.25, tr.BusPower.At(0.05), 1e-12)
}

// TestHoistAlwaysCarriesWeight: whatever the incline says, and never pushes its rope.
func TestHoistAlwaysCarriesWeight(t *testing.T) {
	a := energy.Axis{
		Load:      energy.Load{Mass: 10},
		Mechanism: energy.HoistDrum{Diameter: 0.2, Falls: 2, Efficiency: 1},
		Motor:     lossless(t),
	}
	m := accels(t, 0, 0, [2]float64{0.5, -9.8}, [2]float64{0.5, 9.8})
	without := trace(t, a, m)
	require.InDelta(t, -10*9.80665*0.25*9.8, without.Book.Potential, 1e-9)
	a.Load.Incline = math.Pi / 2
	require.Equal(t, without, trace(t, a, m))
	require.InDelta(t, 98.0665*0.05, holding(t, a, 0, 0).Free, 1e-12)

	for _, incline := range []float64{0.1, -math.Pi / 2} {
		a.Load.Incline = incline
		requirePaths(t, a.Validate(), "load.incline")
	}
	a.Load.Incline = 0
	_, err := a.Trace(accels(t, 0, 0, [2]float64{0.5, -9.81}, [2]float64{0.5, 9.81}))
	requirePaths(t, err, "motion")
	require.ErrorContains(t, err, "slack at 0 s")
	a.Load.External = -99 // lifts the load off while it waits
	rest, err := profile.Dwell(0, 1)
	require.NoError(t, err)
	_, err = a.Trace(rest)
	requirePaths(t, err, "motion")
}

// TestDirectFit: neither gears nor a rotor go with a linear motor.
func TestDirectFit(t *testing.T) {
	a := energy.Axis{Load: energy.Load{Mass: 1}, Mechanism: energy.Direct{}, Stages: []energy.Stage{{Ratio: 2, Efficiency: 1}}, Motor: lossless(t)}
	a.Motor.RotorInertia = 1e-3
	requirePaths(t, a.Validate(), "stages", "motor.rotorInertia")
	a.Stages, a.Motor.RotorInertia = nil, 0
	require.NoError(t, a.Validate())
	a.Load = energy.Load{Inertia: 1}
	requirePaths(t, a.Validate(), "load.inertia")
}

// TestReeving: with sheaves without friction all falls carry alike; with one fall there is
// no sheave on the blocks; and lifting takes more than lowering gives back.
func TestReeving(t *testing.T) {
	for falls := 1; falls <= 12; falls++ {
		f, b, err := energy.Reeving{Falls: falls, Sheave: 1}.Efficiency()
		require.NoError(t, err)
		require.InDelta(t, 1, f, 1e-15)
		require.InDelta(t, 1, b, 1e-15)
		// The pulls of the falls, one after another, carry 1 N together.
		f, b, err = energy.Reeving{Falls: falls, Guide: 2, Sheave: 0.9}.Efficiency()
		require.NoError(t, err)
		up, down, sumUp, sumDown := 1.0, 1.0, 0.0, 0.0
		for range falls {
			sumUp, sumDown = sumUp+up, sumDown+down
			up, down = up*0.9, down/0.9
		}
		require.InDelta(t, sumUp/float64(falls)*0.81, f, 1e-12)
		require.InDelta(t, float64(falls)/sumDown*0.81, b, 1e-12)
		require.LessOrEqual(t, b, f+1e-12)
	}
}
