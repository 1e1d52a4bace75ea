package thermal_test

import (
	"context"
	"fmt"
	"log"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// A brake resistor behind the cover of an invented transplanter: the wire, its
// case, and the cover, which stores no heat worth counting.
//
// By hand, the mean: 62.5 W over 2, 1.2 and 2.5 W/K, so 76.3, 128.3 and 153.3 °C.
func ExampleNetwork_Settled() {
	n := thermal.Network{
		Capacities: []float64{60, 700, 0},
		Links: []thermal.Link{
			{A: 0, B: 1, Conductance: 2.5},
			{A: 1, B: 2, Conductance: 1.2},
		},
		Boundaries: []thermal.Boundary{{Node: 2, Conductance: 2, Temperature: 45}},
	}
	stop, err := profile.NewCurve([]float64{0, .2, 2.4}, [][]float64{{1500, -7500}, {0}}) // 1.5 kW, falling to none
	if err != nil {
		log.Fatal(err)
	}
	c, err := n.Settled(context.Background(), []profile.Curve{stop, {}, {}})
	if err != nil {
		log.Fatal(err)
	}
	for i, name := range []string{"wire", "case", "cover"} {
		lowest, highest := c.Temperatures[i].Extrema()
		fmt.Printf("%-5s %.1f to %.1f °C\n", name, lowest.V, highest.V)
	}
	// Output:
	// wire  152.2 to 154.5 °C
	// case  128.3 to 128.3 °C
	// cover 76.2 to 76.3 °C
}

// The invented motor of the lift axis bolted to a plate, then to plastic.
func ExampleWindingNetwork() {
	motor := thermal.TwoNodeMotor{WindingCapacity: 95, FrameCapacity: 620, Inner: .9, Mounting: 1.4, Max: 130}
	km := thermal.MotorConstant{Km: .19, At: 20}
	ctx := context.Background()
	for _, mounting := range []float64{1.4, 2.6} {
		motor.Mounting = mounting
		w, err := motor.In(45)
		if err != nil {
			log.Fatal(err)
		}
		torque, err := w.ContinuousTorque(km, nil)
		if err != nil {
			log.Fatal(err)
		}
		t, _, err := w.OverloadTime(ctx, km, 3, nil, []float64{80, 70})
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("%.1f K/W: %.2f N·m continuously, 3 N·m for %.0f s\n", mounting, torque, t)
	}
	// Output:
	// 1.4 K/W: 0.97 N·m continuously, 3 N·m for 16 s
	// 2.6 K/W: 0.78 N·m continuously, 3 N·m for 16 s
}
