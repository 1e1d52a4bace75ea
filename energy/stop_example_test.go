package energy_test

import (
	"fmt"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// An invented belt axis is stopped somewhere in its cycle: where is it worst for the bus?
func ExampleWorstStop() {
	winding, err := energy.SinusoidalRMS(0.5, energy.LineToLine(1.2), 25)
	if err != nil {
		fmt.Println(err)
		return
	}
	load := energy.Load{Mass: 12, Coulomb: 18}
	a := energy.Axis{
		Load:      load,
		Mechanism: energy.Belt{PitchDiameter: 0.06, Efficiency: 0.96, BeltMass: 0.4},
		Stages:    []energy.Stage{{Ratio: 5, Efficiency: 0.95}},
		Motor:     energy.Motor{RotorInertia: 6e-5, Winding: winding},
	}
	move, err := profile.Plan(0, 0.8, profile.Limits{Speed: 1.5, Accel: 6, Jerk: 120})
	if err != nil {
		fmt.Println(err)
		return
	}
	stop, err := energy.WorstStop(energy.StoppingAxis{
		Axis: a, Cycle: []energy.Step{{Motion: move.Motion(), Load: load}}, Limits: energy.StopLimits{Deceleration: 8, Jerk: 200},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("returns up to %.1f J when stopped at %.2f s, up to %.0f W\n", stop.Returned.V, stop.Returned.T, stop.PeakReturned.V)
	fmt.Printf("takes up to %.2f s and %.0f mm\n", stop.Duration.V, 1e3*stop.Distance[0].V)
	// Output:
	// returns up to 11.5 J when stopped at 0.54 s, up to 115 W
	// takes up to 0.25 s and 201 mm
}
