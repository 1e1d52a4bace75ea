package energy_test

import (
	"fmt"
	"log"
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// The lifting axis of an invented seedling transplanter: a gripper head of 6 kg on a
// ball screw lowers by 80 mm, waits and comes up again. All data are made up.
func ExampleAxis_Trace() {
	winding, err := energy.SinusoidalRMS(0.21, energy.LineToLine(1.1), 25)
	if err != nil {
		log.Fatal(err)
	}
	lift := energy.Axis{
		Load:      energy.Load{Mass: 6, Coulomb: 9, Incline: math.Pi / 2},
		Mechanism: energy.Screw{Lead: 0.016, Efficiency: 0.88, Inertia: 1.2e-5, Drag: 0.02},
		Motor:     energy.Motor{RotorInertia: 1.6e-5, DragTorque: 0.012, DragPerSpeed: 2e-5, Winding: winding},
		Drive:     energy.Drive{Standby: 4, LossPerAmp: 1.1, LossPerAmpSquared: 0.04},
	}
	hot, err := lift.AtWinding(90)
	if err != nil {
		log.Fatal(err)
	}

	limits := profile.Limits{Speed: 0.5, Accel: 5, Jerk: 200}
	down, err := profile.Plan(0, -0.08, limits)
	if err != nil {
		log.Fatal(err)
	}
	wait, err := profile.Dwell(-0.08, 0.25)
	if err != nil {
		log.Fatal(err)
	}
	up, err := profile.Plan(-0.08, 0, limits)
	if err != nil {
		log.Fatal(err)
	}
	cycle, err := profile.Sequence(down.Motion(), wait, up.Motion())
	if err != nil {
		log.Fatal(err)
	}

	t, err := hot.Trace(cycle)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("shaft torque: peak %.2f N·m, RMS %.2f N·m\n", t.RatedTorque.AbsMax().V, t.RatedTorque.RMS())
	fmt.Printf("bus power: %.0f W to %.0f W\n", t.BusPower.Min().V, t.BusPower.Max().V)
	fmt.Printf("drawn %.2f J, returned %.2f J\n", t.Book.Drawn, t.Book.Returned)
	fmt.Printf("copper %.2f J, load friction %.2f J\n", t.Book.Copper, t.Book.LoadFriction)
	// Output:
	// shaft torque: peak 0.36 N·m, RMS 0.17 N·m
	// bus power: -27 W to 77 W
	// drawn 11.80 J, returned 1.82 J
	// copper 1.15 J, load friction 1.44 J
}

// A sheet gives 0.30 N·m per ampere of the crest and 1.8 ohm line to line at 25 °C.
func ExampleSinusoidalPeak() {
	w, err := energy.SinusoidalPeak(0.30, energy.LineToLine(1.8), 25)
	if err != nil {
		log.Fatal(err)
	}
	hot, err := w.At(120)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.3f N·m/A rms\n", w.Kt())
	fmt.Printf("%.3f N·m/√W cold, %.3f N·m/√W hot\n", w.Km(), hot.Km())
	// Output:
	// 0.424 N·m/A rms
	// 0.258 N·m/√W cold, 0.221 N·m/√W hot
}

// Why the motor has to turn a trapezoidal screw down: its back efficiency is negative.
func ExampleThread_Efficiency() {
	forward, back, err := energy.Thread{
		Lead:         0.004,
		MeanDiameter: 0.018,
		FlankAngle:   15 * math.Pi / 180,
		Friction:     0.12,
	}.Efficiency()
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("forward %.2f, back %.2f\n", forward, back)
	// Output: forward 0.36, back -0.75
}
