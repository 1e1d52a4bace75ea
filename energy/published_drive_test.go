package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// Published values; the words for their status are those of published_test.go.

func TestPublishedOptimumRatioAndAccelerations(t *testing.T) {
	// Khurmi and Gupta, Theory of Machines, Ex. 3.14 p. 51, [F] LOOKED UP-2: 100 N·m on 2 kg·m² that drive
	// 32 kg·m²: ratio 4, accelerations 25 and 6.25 rad/s².
	n, err := energy.OptimumRatio(2, 32)
	require.NoError(t, err)
	requireNear(t, 4, n, 1e-9, "ratio")
	j, err := energy.InertiaThroughRatio(32, n)
	require.NoError(t, err)
	requireNear(t, 25, 100/(2+j), 1e-9, "acceleration of the driving shaft")
	requireNear(t, 6.25, 100/(2+j)/n, 1e-9, "acceleration of the driven shaft")
}

func TestPublishedReflectedInertia(t *testing.T) {
	// Dubey, Fundamentals of Electrical Drives, Ex. 2.1 p. 16, [F] LOOKED UP-2: rotor 0.2 kg·m², 10 kg·m² behind a gear of
	// 0.1, 1000 kg at 1.5 m/s with the motor at 1420 rpm: 0.4 kg·m² as printed, 0.40175.
	geared := energy.Axis{
		Load:      energy.Load{Inertia: 10},
		Mechanism: energy.Rotary{Efficiency: 1},
		Stages:    []energy.Stage{{Ratio: 10, Efficiency: 0.9}},
		Motor:     lossless(t),
	}
	hoist := energy.Axis{
		Load:      energy.Load{Mass: 1000},
		Mechanism: energy.Belt{PitchDiameter: 2 * 1.5 / (1420 * rpm), Efficiency: 0.85},
		Motor:     lossless(t),
	}
	a, err := geared.ReflectedInertia()
	require.NoError(t, err)
	b, err := hoist.ReflectedInertia()
	require.NoError(t, err)
	requireNear(t, 0.40175, 0.2+a+b, 2e-5, "inertia")
}

func TestPublishedRMSWithReversals(t *testing.T) {
	// Dubey, Ex. 4.2 p. 52, [F] LOOKED UP-2: a mill with 10 000 kg·m²: 25 kN·m for 10 s, 1 s idle, 200 to -200 rpm in 5 s,
	// 1 s idle, 20 kN·m for 15 s, 1 s idle, back in 5 s, 1 s idle. 45 975 N·m, 962.9 kW at 200 rpm. The
	// transcription says that the printed answer is wrong, so this checks arithmetic only.
	w := 200 * rpm
	a := energy.Axis{
		Load:      energy.Load{Inertia: 10000},
		Mechanism: energy.Rotary{Efficiency: 1},
		Motor:     lossless(t),
	}
	tr := trace(t, a, accels(t, 0, w, [2]float64{11, 0}, [2]float64{5, -2 * w / 5}, [2]float64{17, 0}, [2]float64{5, 2 * w / 5}, [2]float64{1, 0}))
	mill := steps(t, []float64{0, 10, 17, 32, 39}, 25e3, 0, -20e3, 0)
	total, err := profile.Sum(tr.RatedTorque, mill)
	require.NoError(t, err)
	requireNear(t, 45975, total.RMS(), 1e-4, "RMS torque")
	requireNear(t, 962.9e3, total.RMS()*w, 1e-4, "power")
}

func TestPublishedInertia(t *testing.T) {
	// OpenStax, University Physics 1, section 10.5, a child of 25 kg at 1.0 m from the centre of a merry-go-round of
	// 500 kg and 2.0 m radius: 1025 kg·m². FROM MEMORY.
	b, err := energy.Assemble(
		energy.Part{Shape: energy.Cylinder{Diameter: 4, Mass: 500}},
		energy.Part{Shape: energy.RigidBody{Mass: 25}, X: 1})
	require.NoError(t, err)
	requireNear(t, 1025, inertiaAbout(t, b, 0, 0), 1e-12, "merry-go-round")
}

func TestPublishedCriticalSpeed(t *testing.T) {
	// Shigley/Budynas/Nisbett, Mechanical Engineering Design, Example 7-5: steel shaft of 1 in on 31 in between bearings that
	// pin it, E 30 Mpsi, 0.282 lbf/in³: first critical speed 520 rad/s. FROM MEMORY.
	const g = 386.1 * inch // as the book rounds it
	density := 0.282 * pound / energy.StandardGravity * (energy.StandardGravity / g) / (inch * inch * inch)
	shaft := energy.Rod{Diameter: inch, Length: 31 * inch, Ends: energy.PinnedPinned, Elasticity: 30e6 * pound / (inch * inch)}
	w, err := shaft.CriticalSpeed(density)
	require.NoError(t, err)
	requireNear(t, 520, w, 2e-3, "critical speed") // three digits

	// Tables of ball screws give speed [rpm] = f · 10⁷ · root diameter/length² [mm], at 0.8 of the critical speed of
	// steel, with f = 3.4, 9.7, 15.1, 21.9. Common practice, no source; FROM MEMORY.
	for ends, f := range map[energy.Ends]float64{energy.FixedFree: 3.4, energy.PinnedPinned: 9.7, energy.FixedPinned: 15.1, energy.FixedFixed: 21.9} {
		w, err := energy.Rod{Diameter: 0.0138, Length: 0.9, Ends: ends, Elasticity: 206e9}.CriticalSpeed(energy.DensitySteel)
		require.NoError(t, err)
		requireNear(t, f*1e7*13.8/(900*900), 0.8*w/rpm, 1.5e-2, ends.String()) // two digits
	}

	// Blevins, Formulas for Natural Frequency and Mode Shape, table 8-1. FROM MEMORY.
	for ends, lambda := range map[energy.Ends]float64{energy.FixedFree: 1.87510407, energy.PinnedPinned: math.Pi, energy.FixedPinned: 3.92660231, energy.FixedFixed: 4.73004074} {
		rod := unitRod(ends)
		w, err := rod.CriticalSpeed(1)
		require.NoError(t, err)
		requireNear(t, lambda, math.Sqrt(4*w/rod.Diameter), 2e-9, ends.String())
	}
}

func TestPublishedBuckling(t *testing.T) {
	// Shigley, columns with central loading: a round rod with pinned ends, 22 kN with a factor of safety of 4,
	// E 207 GPa, Sy 500 MPa. 1.5 m long it has to have 37.48 mm by Euler; 375 mm long, 19.0 mm by Johnson. The
	// slenderness at which the one gives way to the other is 90.4. FROM MEMORY.
	load := func(diameter, length float64) energy.Buckling {
		b, err := energy.Rod{Diameter: diameter, Length: length, Ends: energy.PinnedPinned, Elasticity: 207e9}.BucklingLoad(500e6)
		require.NoError(t, err)
		return b
	}
	long := load(37.48e-3, 1.5)
	require.True(t, long.Euler)
	requireNear(t, 88e3, long.Load, 1e-3, "load of the long rod") // d⁴ of four digits
	requireNear(t, 90.4, long.TransitionAt, 5e-4, "transition")
	short := load(19.0e-3, 0.375)
	require.False(t, short.Euler)
	requireNear(t, 88e3, short.Load, 5e-3, "load of the short rod") // d² of three digits and more

	// Effective length factors 1, 0.7, 0.5, 2; any text, FROM MEMORY.
	euler := func(ends energy.Ends) float64 {
		b, err := energy.Rod{Diameter: 0.01, Length: 3, Ends: ends, Elasticity: 207e9}.BucklingLoad(500e6)
		require.NoError(t, err)
		require.True(t, b.Euler)
		return b.Load
	}
	for ends, k := range map[energy.Ends]float64{energy.FixedPinned: 0.7, energy.FixedFixed: 0.5, energy.FixedFree: 2} {
		requireNear(t, k, math.Sqrt(euler(energy.PinnedPinned)/euler(ends)), 2e-3, ends.String())
	}
}
