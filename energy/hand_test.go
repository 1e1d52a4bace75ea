package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// TestVerticalScrewByHand follows a lift, a wait and a descent with pencil and paper.
//
//	10 kg, weight 98.0665 N, 20 N friction; lead 2π mm, so r = 1 mm/rad; forward 0.8,
//	back 2 - 1/0.8 = 0.75; screw 1e-5 and rotor 2e-5 kg·m², screw drag 0.05 N·m; 0.1 N·m/√W
//
// 0.1 s at 2 m/s² (2000 rad/s², so 3e-5 · 2000 = 0.06 N·m of own inertia) to 0.2 m/s,
// 0.1 s steady, 0.1 s at -2 m/s²; 0.2 s wait; the same way down.
//
//	up     accel  F = 20 + 20 + 98.0665 = 138.0665 N   t = 0.1380665/0.8 + 0.06 + 0.05 = 0.282583125
//	       steady F = 118.0665 N                       t = 0.1180665/0.8        + 0.05 = 0.197583125
//	       decel  F = -20 + 118.0665 = 98.0665 N       t = 0.0980665/0.8 - 0.06 + 0.05 = 0.112583125
//	wait          F = 98.0665 - 20 = 78.0665 N         t = 0.0780665·0.75       - 0.05 = 0.008549875
//	down   accel  F = -20 - 20 + 98.0665 = 58.0665 N   t = 0.0580665·0.75 - 0.06 - 0.05 = -0.066450125
//	       steady F = 78.0665 N                        t = 0.0780665·0.75        - 0.05 = 0.008549875
//	       decel  F = 98.0665 N                        t = 0.0980665·0.75 + 0.06 - 0.05 = 0.083549875
func TestVerticalScrewByHand(t *testing.T) {
	winding, err := energy.SinusoidalRMS(0.5, energy.MotorConstant(0.1), 25)
	require.NoError(t, err)
	a := energy.Axis{
		Load:      energy.Load{Mass: 10, Coulomb: 20, Incline: math.Pi / 2},
		Mechanism: energy.Screw{Lead: 2 * math.Pi * 1e-3, Efficiency: 0.8, Inertia: 1e-5, Drag: 0.05},
		Motor:     energy.Motor{RotorInertia: 2e-5, Winding: winding},
	}
	up := accels(t, 0, 0, [2]float64{0.1, 2}, [2]float64{0.1, 0}, [2]float64{0.1, -2})
	wait, err := profile.Dwell(0.04, 0.2)
	require.NoError(t, err)
	down := accels(t, 0.04, 0, [2]float64{0.1, -2}, [2]float64{0.1, 0}, [2]float64{0.1, 2})
	m, err := profile.Sequence(up, wait, down)
	require.NoError(t, err)
	tr := trace(t, a, m)
	for _, tc := range []struct{ at, want float64 }{
		{0.05, 0.282583125}, {0.15, 0.197583125}, {0.25, 0.112583125}, {0.4, 0.008549875},
		{0.55, -0.066450125}, {0.65, 0.008549875}, {0.75, 0.083549875},
	} {
		require.InDelta(t, tc.want, tr.Torque.At(tc.at), 1e-12, "torque at %g s", tc.at)
	}

	// The lift alone: 10, 20 and 10 mm. Friction 20 N · 40 mm = 0.8 J, weight 98.0665 N · 40 mm = 3.92266 J.
	// Work of F: 138.0665·0.01 + 118.0665·0.02 + 98.0665·0.01 = 4.72266 J, of which 1/0.8 - 1 = a quarter
	// again is lost: 1.180665 J; screw drag over 40 rad 2 J. Copper: 0.1 s of (t/0.1)² each:
	// 10 (0.282583125² + 0.197583125² + 0.112583125²) = 1.31567273 J.
	b := trace(t, a, up).Book
	require.InDelta(t, 0.8, b.LoadFriction, 1e-12)
	require.InDelta(t, 3.92266, b.Potential, 1e-12)
	require.InDelta(t, 1.180665+2, b.Transmission, 1e-12)
	require.InDelta(t, 1.31567273, b.Copper, 1e-8)
	require.InDelta(t, 0, b.Kinetic, 1e-12)
	require.InDelta(t, 0.8+3.92266+3.180665+1.31567273, b.Drawn-b.Returned, 1e-8)
}

// TestBeltByHand brakes a belt axis with every loss at one instant.
//
//	4 kg and 1 kg of belt, pulley 0.1 m: r = 0.05 m; 10 N + 4 N·s/m friction; 90 % both ways;
//	pulleys 5e-4 kg·m², with the belt 5e-4 + 1·0.05² = 3e-3; drag 0.1 N·m
//	gear 5:1, 0.96 forward, 2 - 1/0.96 = 0.958333… back, 1e-5 kg·m² and 0.01 N·m at its input
//	rotor 4e-5 kg·m², drag 0.02 + 1e-4 w + 1e-7 w²; 0.4 N·m/A rms, 0.2 N·m/√W
//	drive 5 W + 2 W/A + 0.5 W/A²
//
// At 2 m/s and -10 m/s²: pulley 40 rad/s and -200 rad/s², motor 200 rad/s and -1000 rad/s².
//
//	F = -40 + 10 + 8 = -22 N at 2 m/s: the load drives
//	pulley  -22·0.05·0.9 - 3e-3·200 + 0.1 = -0.99 - 0.6 + 0.1 = -1.49 N·m
//	gear    -1.49·0.958333…/5 - 1e-5·1000 + 0.01 = -0.285583333…
//	shaft   -0.285583333… - 0.04 = -0.325583333…
//	drag    0.02 + 0.02 + 0.004 = 0.044
//	t = -0.281583333… N·m, I = 0.703958333… A
//	copper  (t/0.2)² = 1.98222934 W; drive 2·0.703958333 + 0.5·0.495557335 = 1.65569533 W
//	bus     -56.31666667 + 1.98222934 + 1.65569533 + 5 = -47.67874200 W
func TestBeltByHand(t *testing.T) {
	winding, err := energy.SinusoidalRMS(0.4, energy.MotorConstant(0.2), 25)
	require.NoError(t, err)
	a := energy.Axis{
		Load:      energy.Load{Mass: 4, Coulomb: 10, Viscous: 4},
		Mechanism: energy.Belt{PitchDiameter: 0.1, Efficiency: 0.9, BackEfficiency: 0.9, Inertia: 5e-4, BeltMass: 1, Drag: 0.1},
		Stages:    []energy.Stage{{Ratio: 5, Efficiency: 0.96, Inertia: 1e-5, Drag: 0.01}},
		Motor: energy.Motor{RotorInertia: 4e-5, DragTorque: 0.02, DragPerSpeed: 1e-4, DragPerSpeedSquared: 1e-7,
			Winding: winding},
		Drive: energy.Drive{Standby: 5, LossPerAmp: 2, LossPerAmpSquared: 0.5},
	}
	tr := trace(t, a, accels(t, 0, 2.5, [2]float64{0.1, -10})) // 2 m/s at 0.05 s
	require.InDelta(t, 200, tr.Speed.At(0.05), 1e-9)
	require.InDelta(t, -0.2815833333333, tr.Torque.At(0.05), 1e-12)
	require.InDelta(t, -0.3255833333333, tr.RatedTorque.At(0.05), 1e-12)
	require.InDelta(t, -65.1166666667, tr.ShaftPower.At(0.05), 1e-9)
	require.InDelta(t, 1.98222934, tr.CopperLoss.At(0.05), 1e-8)
	require.InDelta(t, -47.678742, tr.BusPower.At(0.05), 1e-7)
}
