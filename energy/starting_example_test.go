package energy_test

import (
	"fmt"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// An invented slide with tight wipers: 40 N let it slip, 15 N rub while it moves. It goes out,
// waits, and comes back.
func ExampleAxis_Starts() {
	winding, err := energy.SinusoidalRMS(0.5, energy.LineToLine(1.2), 25)
	if err != nil {
		fmt.Println(err)
		return
	}
	a := energy.Axis{
		Load:      energy.Load{Mass: 8, Coulomb: 15, Breakaway: 40},
		Mechanism: energy.Screw{Lead: 0.01, Efficiency: 0.9, Inertia: 1e-5, Drag: 0.02},
		Motor:     energy.Motor{RotorInertia: 6e-5, DragTorque: 0.01, Winding: winding},
	}
	limits := profile.Limits{Speed: 0.4, Accel: 3, Jerk: 60}
	var motions []profile.Motion
	for _, to := range []float64{0.3, 0} {
		move, err := profile.Plan(0.3-to, to, limits)
		if err != nil {
			fmt.Println(err)
			return
		}
		wait, err := profile.Dwell(to, 0.5)
		if err != nil {
			fmt.Println(err)
			return
		}
		motions = append(motions, move.Motion(), wait)
	}
	cycle, err := profile.Sequence(motions...)
	if err != nil {
		fmt.Println(err)
		return
	}
	starts, err := a.Starts(cycle)
	if err != nil {
		fmt.Println(err)
		return
	}
	tr, err := a.Trace(cycle)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range starts {
		fmt.Printf("at %.2f s and %.1f m: %+.3f N·m, on the move %+.3f N·m\n", s.Time, s.Position, s.Torque, tr.Torque.At(s.Time+1e-6))
	}
	// Output:
	// at 0.00 s and 0.0 m: +0.101 N·m, on the move +0.057 N·m
	// at 1.43 s and 0.3 m: -0.101 N·m, on the move -0.057 N·m
}
