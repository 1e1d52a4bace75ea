package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// Published values. "LOOKED UP" says that the number was read in the source,
// "LOOKED UP-2" that it was read in a second place only, "FROM MEMORY" that it was
// not read. [F] is the FOSSEE Python Textbook Companions, commit d34b2ae7: solved
// examples transcribed by students, with the book and page they name. Tolerances are
// those of the printed digits.

const (
	pound = 4.4482216152605 // [N], exact
	inch  = 0.0254          // [m], exact
	rpm   = 2 * math.Pi / 60

	// bookGravity is the rounded acceleration of free fall that the books use.
	bookGravity = 9.81
)

// lossless is a motor without inertia, drag or noticeable copper loss.
func lossless(t testing.TB) energy.Motor {
	t.Helper()
	w, err := energy.SinusoidalRMS(1, energy.MotorConstant(1e9), 20)
	require.NoError(t, err)
	return energy.Motor{Winding: w}
}

// hanging is a mass on a vertical axis with the weight that a book gives it.
func hanging(mass float64) energy.Load {
	return energy.Load{Mass: mass, Incline: math.Pi / 2, External: mass * (bookGravity - energy.StandardGravity)}
}

// trace is Axis.Trace that fails the test on error.
func trace(t testing.TB, a energy.Axis, m profile.Motion) energy.Trace {
	t.Helper()
	tr, err := a.Trace(m)
	require.NoError(t, err)
	return tr
}

// raiseAndLower returns the torques at constant speed on a vertical screw that
// carries a load of force [N].
func raiseAndLower(t testing.TB, force float64, th energy.Thread) (raise, lower float64) {
	t.Helper()
	forward, back, err := th.Efficiency()
	require.NoError(t, err)
	a := energy.Axis{
		Load:      energy.Load{Mass: force / energy.StandardGravity, Incline: math.Pi / 2},
		Mechanism: energy.Screw{Lead: th.Lead, Efficiency: forward, BackEfficiency: back},
		Motor:     lossless(t),
	}
	up := trace(t, a, steady(t, 0.01, 1)).Torque.At(0.5)
	down := trace(t, a, steady(t, -0.01, 1)).Torque.At(0.5)
	return up, -down // lowering turns the other way
}

func TestPublishedPowerScrews(t *testing.T) {
	t.Run("square thread with collar", func(t *testing.T) {
		// Shigley/Budynas/Nisbett, Mechanical Engineering Design, Example 8-1: 32 mm, pitch 4,
		// double start, F 6.4 kN, f = fc = 0.08, dc 40 mm. Raise 26.18 N·m, lower 9.77 N·m,
		// efficiency 0.311. Answers FROM MEMORY.
		th := energy.Thread{Lead: 0.008, MeanDiameter: 0.030, Friction: 0.08, CollarDiameter: 0.040, CollarFriction: 0.08}
		raise, lower := raiseAndLower(t, 6400, th)
		requireNear(t, 26.18, raise, 1e-3, "torque to raise")
		requireNear(t, 9.77, lower, 1e-3, "torque to lower")
		forward, back, err := th.Efficiency()
		require.NoError(t, err)
		requireNear(t, 0.311, forward, 2e-3, "efficiency") // three printed digits
		require.Negative(t, back, "it is self-locking")
	})
	t.Run("larger collar", func(t *testing.T) {
		// Jindal, Machine Design, exa 16-1 p. 450, [F] LOOKED UP-2: d 30, pitch 6, W 20 kN, µ 0.2,
		// collar µ 0.15 at mean radius 12 mm. 110.148 N·m. The mean diameter is 27 mm.
		raise, _ := raiseAndLower(t, 20e3, energy.Thread{
			Lead: 0.006, MeanDiameter: 0.027, Friction: 0.2, CollarDiameter: 0.024, CollarFriction: 0.15})
		requireNear(t, 110.148, raise, 5e-3, "torque to raise")
	})
	t.Run("29° thread", func(t *testing.T) {
		// Mott, Machine Elements in Mechanical Design, 4th ed., Example 17-1 p. 703: F 12500 lb,
		// Dp 1.3429 in, lead 0.25 in, f 0.15, half angle 14.5°. Raise 1809 lb·in (LOOKED UP),
		// lower 796 lb·in (FROM MEMORY).
		raise, lower := raiseAndLower(t, 12500*pound, energy.Thread{
			Lead: 0.25 * inch, MeanDiameter: 1.3429 * inch, FlankAngle: 14.5 * math.Pi / 180, Friction: 0.15})
		requireNear(t, 1809*pound*inch, raise, 5e-3, "torque to raise")
		requireNear(t, 796*pound*inch, lower, 5e-3, "torque to lower")
	})
}

func TestPublishedBallScrew(t *testing.T) {
	// Wentzell, Machine Design, Ex. 18.4 p. 405, [F] LOOKED UP-2: F 2900 lb, lead 0.5 in, 90 %.
	// T = 0.177 F L = 256.65 lb·in; the factor is 1/(2π 0.9) rounded.
	a := energy.Axis{
		Load:      energy.Load{Mass: 1, External: 2900 * pound},
		Mechanism: energy.Screw{Lead: 0.5 * inch, Efficiency: 0.9},
		Motor:     lossless(t),
	}
	requireNear(t, 256.65*pound*inch, trace(t, a, steady(t, 0.01, 1)).Torque.At(0.5), 1e-3, "torque")
}

func TestPublishedGearAndHoistOnOneMotor(t *testing.T) {
	// Dubey, Fundamentals of Electrical Drives, Ex. 2.1 p. 16, [F] LOOKED UP-2: rotor 0.2 kg·m²; a load
	// of 10 kg·m² and 10 N·m behind a gear of 0.1 and 90 %; a hoist of 1000 kg at 1.5 m/s and
	// 85 %; motor at 1420 rpm. J 0.4 kg·m² (0.40175), T 117.53 N·m. The two loads are two axes
	// whose torques add; the rotor is in the first.
	w := 1420 * rpm
	motor := lossless(t)
	geared := energy.Axis{
		Load:      energy.Load{Inertia: 10, External: 10},
		Mechanism: energy.Rotary{Efficiency: 1},
		Stages:    []energy.Stage{{Ratio: 10, Efficiency: 0.9}},
		Motor:     motor,
	}
	geared.Motor.RotorInertia = 0.2
	hoist := energy.Axis{
		Load:      hanging(1000),
		Mechanism: energy.Belt{PitchDiameter: 2 * 1.5 / w, Efficiency: 0.85},
		Motor:     motor,
	}
	a, b := trace(t, geared, steady(t, w/10, 1)), trace(t, hoist, steady(t, 1.5, 1))
	requireNear(t, w, a.Speed.At(0.5), 1e-12, "motor speed behind the gear")
	requireNear(t, w, b.Speed.At(0.5), 1e-12, "motor speed behind the hoist")
	requireNear(t, 117.53, a.Torque.At(0.5)+b.Torque.At(0.5), 1e-4, "torque")

	// The inertia from the kinetic energy of a start in 2 s.
	a = trace(t, geared, accels(t, 0, 0, [2]float64{2, w / 20}))
	b = trace(t, hoist, accels(t, 0, 0, [2]float64{2, 0.75}))
	inertia := 2 * (a.Book.Kinetic + b.Book.Kinetic) / (w * w)
	requireNear(t, 0.4, inertia, 1e-2, "inertia as printed")
	requireNear(t, 0.40175, inertia, 2e-5, "inertia, five digits")
}

func TestPublishedFallingLoadThroughGear(t *testing.T) {
	// Khurmi and Gupta, Theory of Machines, Ex. 3.13 p. 50, [F] LOOKED UP-2: 75 kg fall from a drum of
	// radius 0.3 m; drum shaft 100 kg·m², the shaft it drives 6 times as fast 5 kg·m². Acceleration
	// 0.231 m/s² without loss and 0.216 m/s² at 90 %. Nothing drives the fast shaft, so the
	// acceleration is the one at which the motor's torque is zero; torque is linear in it.
	// Leaving the load's inertia outside the efficiency would give 0.208 m/s² at 90 %.
	for _, tc := range []struct{ efficiency, want float64 }{{1, 0.231}, {0.9, 0.216}} {
		a := energy.Axis{
			Load:      hanging(75),
			Mechanism: energy.Belt{PitchDiameter: 0.6, Efficiency: 1, Inertia: 100},
			Stages:    []energy.Stage{{Ratio: 6, Efficiency: 0.9, BackEfficiency: tc.efficiency, Inertia: 5}},
			Motor:     lossless(t),
		}
		at := func(accel float64) float64 {
			return trace(t, a, accels(t, 0, 0, [2]float64{1, -accel})).Torque.At(0.5)
		}
		t1, t2 := at(0.1), at(0.3)
		free := 0.1 + 0.2*t1/(t1-t2)
		requireNear(t, tc.want, free, 1e-3, "acceleration")
		require.InDelta(t, 0, at(free), 1e-9, "torque at that acceleration")
	}
}

func TestPublishedOptimumRatio(t *testing.T) {
	// Khurmi and Gupta, Ex. 3.14 p. 51, [F] LOOKED UP-2: 100 N·m on a shaft of 2 kg·m² that drives one of 32:
	// the load accelerates most, with 6.25 rad/s², at a ratio of 4.
	torque := func(ratio float64) float64 {
		a := energy.Axis{
			Load:      energy.Load{Inertia: 32},
			Mechanism: energy.Rotary{Efficiency: 1},
			Stages:    []energy.Stage{{Ratio: ratio, Efficiency: 1}},
			Motor:     lossless(t),
		}
		a.Motor.RotorInertia = 2
		return trace(t, a, accels(t, 0, 0, [2]float64{1, 6.25})).Torque.At(0.5)
	}
	requireNear(t, 100, torque(4), 1e-9, "torque")
	require.Greater(t, torque(3.99), torque(4))
	require.Greater(t, torque(4.01), torque(4))
}

func TestPublishedRMS(t *testing.T) {
	// Dubey, Ex. 4.3 p. 53, [F] LOOKED UP-2: 0 to 400 kW in 5 min, 500 kW for 5, -400 kW for 4, 0 for 2. 367 kW.
	c, err := profile.NewCurve([]float64{0, 300, 600, 840, 960},
		[][]float64{{0, 400e3 / 300.}, {500e3}, {-400e3}, {0}})
	require.NoError(t, err)
	requireNear(t, 367e3, c.RMS(), 1e-3, "RMS power")
}

// train is an axis for the traction examples: a wheel of 1 m, whose axle carries the
// rotating parts, and a gear that returns 75 %.
func train(t testing.TB, mass, rotating, grade, resistance float64) energy.Axis {
	t.Helper()
	return energy.Axis{
		Load:      energy.Load{Mass: mass, Incline: -math.Asin(grade), Coulomb: resistance},
		Mechanism: energy.Belt{PitchDiameter: 1, Efficiency: 1, Inertia: rotating * 0.5 * 0.5},
		Stages:    []energy.Stage{{Ratio: 1, Efficiency: 0.75, BackEfficiency: 0.75}},
		Motor:     lossless(t),
	}
}

func TestPublishedTrainBraking(t *testing.T) {
	const kmh = 1 / 3.6
	// Theraja, A Textbook of Electrical Technology III, Ex. 44.4 p. 1780, [F] LOOKED UP-2: 500 t, rotating
	// parts 10 %, 100 to 60 km/h in 90 s down 1 in 80, 50 N/t, 75 % returned: 43.43 kWh.
	a := train(t, 500e3, 50e3, 1./80, 50*500)
	tr := trace(t, a, accels(t, 0, 100*kmh, [2]float64{90, -40 * kmh / 90}))
	require.Zero(t, tr.Book.Drawn)
	requireNear(t, 43.43*3.6e6, tr.Book.Returned, 5e-4, "energy returned")

	// The same, Ex. 44.6 p. 1780, [F] LOOKED UP-2: 350 t at a steady 60 km/h down 1.5 %: 424.4 kW. The book
	// takes g = 9.8 m/s².
	a = train(t, 350e3, 0, 0.015, 50*350)
	requireNear(t, -424.4e3, trace(t, a, steady(t, 60*kmh, 10)).BusPower.At(5), 2e-3, "power")
}

func TestPublishedHoistStop(t *testing.T) {
	// Jindal, Machine Design, exa 23-1 p. 618, [F] LOOKED UP-2: 20 kN going down at 1 m/s stop within 2 m (4 s),
	// drum radius 0.5 m. 1.019 + 40 kJ, 10254.8 N·m, peak 20.51 kW.
	a := energy.Axis{
		Load:      hanging(20e3 / bookGravity),
		Mechanism: energy.Belt{PitchDiameter: 1, Efficiency: 1},
		Motor:     lossless(t),
	}
	tr := trace(t, a, accels(t, 2, -1, [2]float64{4, 0.25}))
	requireNear(t, -1.019e3, tr.Book.Kinetic, 5e-4, "kinetic energy")
	requireNear(t, -40e3, tr.Book.Potential+tr.Book.LoadWork, 1e-5, "potential energy")
	requireNear(t, 41.02e3, tr.Book.Returned, 1e-4, "energy returned")
	requireNear(t, 10254.8, tr.Torque.At(2), 1e-5, "torque")
	requireNear(t, -20.51e3, tr.BusPower.Min().V, 1e-4, "peak power")
}

func TestPublishedMachineBothWays(t *testing.T) {
	// Fitzgerald, Kingsley and Umans, Electric Machinery, 6th ed., Ex. 7.1 p. 371, [F] LOOKED UP-2: 125 V EMF at
	// 3000 rpm, armature 0.02 ohm. At 128 V it motors: 150 A, 18.75 kW, 59.7 N·m, 19.2 kW in. At
	// 124 V it generates: 50 A, 6.25 kW, 19.9 N·m, 6.2 kW out.
	w := 3000 * rpm
	winding, err := energy.DirectCurrent(125/w, energy.LineToLine(0.02), 20)
	require.NoError(t, err)
	at := func(torque float64) energy.Trace {
		return trace(t, energy.Axis{
			Load:      energy.Load{Inertia: 1, External: torque},
			Mechanism: energy.Rotary{Efficiency: 1},
			Motor:     energy.Motor{Winding: winding},
		}, steady(t, w, 1))
	}
	motor, generator := at(59.7), at(-19.9)
	requireNear(t, 150, motor.Torque.At(0.5)/winding.Kt(), 5e-4, "current, motor")
	requireNear(t, 18.75e3, motor.ShaftPower.At(0.5), 5e-4, "shaft power, motor")
	requireNear(t, 19.2e3, motor.BusPower.At(0.5), 5e-4, "power in, motor")
	requireNear(t, -50, generator.Torque.At(0.5)/winding.Kt(), 5e-4, "current, generator")
	requireNear(t, -6.25e3, generator.ShaftPower.At(0.5), 5e-4, "shaft power, generator")
	requireNear(t, -6.2e3, generator.BusPower.At(0.5), 5e-4, "power out, generator")
}

func TestPublishedCopperTemperature(t *testing.T) {
	loss := func(from, to float64) float64 { // copper loss at equal torque, relative to from
		w, err := energy.SinusoidalRMS(1, energy.LineToLine(1), from)
		require.NoError(t, err)
		hot, err := w.At(to)
		require.NoError(t, err)
		return math.Pow(w.Km()/hot.Km(), 2)
	}
	// Langsdorf, Theory of Alternating Current Machinery, Ex. 1.15 p. 33, [F] LOOKED UP-2: 504 W at 20 °C are 613 W at 75 °C.
	requireNear(t, 613, 504*loss(20, 75), 1e-3, "loss at 75 °C")
	// NBS Handbook 100, Copper Wire Tables: 0.00393 per K at 20 °C. FROM MEMORY.
	requireNear(t, 0.00393, loss(20, 21)-1, 3e-4, "coefficient at 20 °C")
	// Modelica Standard Library, commit b756f9de, Thermal/HeatTransfer/Examples/Motor.mo: 3.03e-3 per K at 95 °C,
	// LOOKED UP; it follows from the 235 of IEC 60034-1 (FROM MEMORY), of which 234.5 differs by 1.5e-3.
	requireNear(t, 3.03e-3, loss(95, 96)-1, 2e-3, "coefficient at 95 °C")
}
