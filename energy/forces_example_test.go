package energy_test

import (
	"fmt"
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// An invented lift on a rack goes up with 4 kg and comes down with 12 kg; a spring carries
// a part of the weight.
func ExampleAxis_TraceSteps() {
	winding, err := energy.SinusoidalRMS(0.5, energy.LineToLine(1.2), 25)
	if err != nil {
		fmt.Println(err)
		return
	}
	full := energy.Load{Mass: 12, Coulomb: 10, Incline: math.Pi / 2,
		Counterbalance: energy.Counterbalance{Stiffness: 10, Relaxed: 3}}
	empty := full
	empty.Mass = 4
	a := energy.Axis{
		Load:      full,
		Mechanism: energy.RackPinion{PitchDiameter: 0.05, Efficiency: 0.94},
		Stages:    []energy.Stage{{Ratio: 5, Efficiency: 0.95}},
		Motor:     energy.Motor{RotorInertia: 6e-5, Winding: winding},
	}
	var steps []energy.Step
	limits := profile.Limits{Speed: 1, Accel: 4, Jerk: 80}
	for _, s := range []struct {
		from, to float64
		load     energy.Load
	}{{0, 0.8, empty}, {0.8, 0, full}} {
		move, err := profile.Plan(s.from, s.to, limits)
		if err != nil {
			fmt.Println(err)
			return
		}
		steps = append(steps, energy.Step{Motion: move.Motion(), Load: s.load})
	}
	whole, books, err := a.TraceSteps(steps)
	if err != nil {
		fmt.Println(err)
		return
	}
	for i, b := range books {
		fmt.Printf("step %d: drawn %.0f J, of %.0f J offered %.0f J come back\n", i, b.Drawn, b.Recovery.Offered, b.Returned)
	}
	fmt.Printf("highest torque %.2f N·m\n", whole.Torque.AbsMax().V)

	h, err := a.Holding(0, 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("at the bottom %.2f N·m hold, above %.2f N·m it rises\n", h.Least, h.BreakPlus)
	// Output:
	// step 0: drawn 21 J, of 1 J offered 0 J come back
	// step 1: drawn 0 J, of 73 J offered 57 J come back
	// highest torque 0.61 N·m
	// at the bottom 0.34 N·m hold, above 0.55 N·m it rises
}
