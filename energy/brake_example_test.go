package energy_test

import (
	"fmt"
	"math"

	"example.com/headroom/energy"
)

// How far an invented lift of 8 kg on a screw sinks when its power goes at 0.4 m/s
// downwards, until the motor's brake has stopped it; and how long the brake lasts.
func ExampleAxis_PowerOff() {
	winding, err := energy.SinusoidalRMS(0.5, energy.LineToLine(1.2), 25)
	if err != nil {
		fmt.Println(err)
		return
	}
	a := energy.Axis{
		Load:      energy.Load{Mass: 8, Coulomb: 10, Incline: math.Pi / 2},
		Mechanism: energy.Screw{Lead: 0.02, Efficiency: 0.9, Inertia: 2e-5},
		Motor:     energy.Motor{RotorInertia: 6e-5, Winding: winding},
	}
	brake := energy.HoldingBrake{Torque: 1.8, Delay: 0.04, EnergyPerStop: 20, TotalEnergy: 20e3}
	c, err := a.PowerOff(0.5, -0.4, &brake)
	if err != nil {
		fmt.Println(err)
		return
	}
	life, err := brake.Life(c.Heat, 200)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("sinks %.1f mm in %.0f ms, %.1f mm of it before the brake closes\n", 1e3*c.Backward, 1e3*c.Duration, -1e3*c.Free)
	fmt.Printf("the brake takes %.2f J, %.0f stops long\n", c.Heat, math.Floor(life.Stops/10)*10)
	fmt.Println("A holding brake does not make it safe to be under the load.")
	// Output:
	// sinks 23.9 mm in 57 ms, 19.2 mm of it before the brake closes
	// the brake takes 2.66 J, 7520 stops long
	// A holding brake does not make it safe to be under the load.
}
