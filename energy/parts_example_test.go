package energy_test

import (
	"fmt"
	"log"
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// An invented swivel arm: a steel shaft, an aluminium arm that reaches to one side,
// and a gripper of known mass at its end.
func ExampleAssemble() {
	arm, err := energy.Assemble(
		energy.Part{Shape: energy.Cylinder{Diameter: 0.03, Length: 0.12, Density: energy.DensitySteel}},
		energy.Part{Shape: energy.Block{Width: 0.30, Depth: 0.05, Length: 0.01, Density: energy.DensityAluminium}, X: 0.12},
		energy.Part{Shape: energy.RigidBody{Mass: 0.4}, X: 0.25},
	)
	if err != nil {
		log.Fatal(err)
	}
	j, err := arm.InertiaAbout(0, 0)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.2f kg, %.4f kg·m² about the shaft, centre of mass %.0f mm off it\n", arm.Mass, j, arm.X*1e3)
	// Output: 1.47 kg, 0.0340 kg·m² about the shaft, centre of mass 101 mm off it
}

// An invented ball screw at 2500 rpm, 900 mm between its bearings and at most 850 mm
// from the nut to the bearing that takes the axial force.
func ExampleRod() {
	screw := energy.Rod{Diameter: 0.0138, Length: 0.9, Ends: energy.FixedPinned, Elasticity: 206e9}
	critical, err := screw.CriticalSpeed(energy.DensitySteel)
	if err != nil {
		log.Fatal(err)
	}
	speed, err := energy.NewLoading(2500*2*math.Pi/60, critical, 0.8)
	if err != nil {
		log.Fatal(err)
	}
	screw.Length = 0.85
	buckling, err := screw.BucklingLoad(500e6)
	if err != nil {
		log.Fatal(err)
	}
	force, err := energy.NewLoading(1800, buckling.Load, 0.25)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("speed at %.0f %% of its limit, force at %.0f %%\n", speed.Ratio*100, force.Ratio*100)
	// Output: speed at 97 % of its limit, force at 70 %
}

// An invented keyed pulley with a set screw, on an axis that shuttles.
func ExampleAssessJoint() {
	section, err := energy.StandardKey(0.014)
	if err != nil {
		log.Fatal(err)
	}
	key := energy.ParallelKey{
		ShaftDiameter:   0.014,
		Section:         section,
		EffectiveLength: 0.015,
		Pressure:        100e6,
		Shear:           60e6,
		SetScrew:        true,
	}
	torque, err := profile.NewCurve([]float64{0, 0.1, 0.4, 0.5}, [][]float64{{6}, {0.5}, {-5}})
	if err != nil {
		log.Fatal(err)
	}
	a, err := energy.AssessJoint(key, torque, 2)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.0f %% of the capacity\n%v\n", a.Loading.Ratio*100, a.Advice[0])
	// Output:
	// 57 % of the capacity
	// a key with a set screw is marginal where the torque reverses 4 times a second: it works loose; prefer a clamp hub or a bonded joint (common practice, no source)
}

// An invented turntable that shuttles by a quarter turn: which gear needs the least
// torque? The best one would turn the motor too fast, so it is the highest ratio
// that the motor's speed allows.
func ExampleAxis_BestRatio() {
	winding, err := energy.SinusoidalRMS(0.5, energy.LineToLine(1.2), 25)
	if err != nil {
		log.Fatal(err)
	}
	axis := energy.Axis{
		Load:      energy.Load{Inertia: 0.08, Coulomb: 0.4},
		Mechanism: energy.Rotary{Efficiency: 1},
		Stages:    []energy.Stage{{Ratio: 10, Efficiency: 0.94}},
		Motor:     energy.Motor{RotorInertia: 6e-5, Winding: winding, ContinuousTorque: 0.6, PeakTorque: 1.9, MaxSpeed: 3000 * 2 * math.Pi / 60},
	}
	there, err := profile.Plan(0, math.Pi/2, profile.Limits{Speed: 12, Accel: 90})
	if err != nil {
		log.Fatal(err)
	}
	wait, err := profile.Dwell(math.Pi/2, 0.2)
	if err != nil {
		log.Fatal(err)
	}
	cycle, err := profile.Sequence(there.Motion(), wait)
	if err != nil {
		log.Fatal(err)
	}
	best, err := axis.BestRatio(cycle, 0, 1, 100)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.1f:1, the motor allows %.1f:1; %.2f N·m RMS, peak %.2f N·m\n", best.Ratio, best.SpeedEnds, best.RMS, best.Peak)
	// Output: 26.4:1, the motor allows 26.4:1; 0.31 N·m RMS, peak 0.45 N·m
}
