package thermal_test

import (
	"fmt"
	"log"
	"math"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// An invented motor, as its data sheet might rate it: 1.3 N·m continuously with
// the winding at 130 °C in 40 °C, motor constant .19 N·m/√W at 20 °C.
var lift = thermal.Rating{
	Torque:   1.3,
	Constant: thermal.MotorConstant{Km: .19, At: 20},
	Max:      130,
	Ambient:  40,
}

// The lift axis of an invented transplanter of seedlings stands in a greenhouse
// of 45 °C. Its torque comes in blocks: accelerate, carry, brake, rest.
func Example() {
	torque, err := profile.NewCurve(
		[]float64{0, .12, .6, .72, 1.4},
		[][]float64{{2.4}, {.9}, {-.6}, {.8}})
	if err != nil {
		log.Fatal(err)
	}
	winding, err := thermal.FromRating(lift)
	if err != nil {
		log.Fatal(err)
	}
	const ambient, drag = 45, 1.5 // °C, W
	rating, err := winding.ContinuousTorque(lift.Constant, ambient, drag)
	if err != nil {
		log.Fatal(err)
	}
	load, err := thermal.RMSLoading(torque, rating)
	if err != nil {
		log.Fatal(err)
	}
	copperLoss := math.Pow(load.Value/lift.Constant.Km, 2)
	s, err := winding.Settled(thermal.Heat{Copper: copperLoss, At: lift.Constant.At, Other: drag}, ambient)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("RMS torque %.2f N·m of %.2f N·m continuous (%.0f %%)\n", load.Value, load.Limit, 100*load.Ratio)
	fmt.Printf("copper loss %.1f W cold, %.1f W settled\n", copperLoss, s.CopperLoss)
	fmt.Printf("winding at %.0f °C, %.0f K below its limit\n", s.Temperature, s.Margin)
	// Output:
	// RMS torque 1.06 N·m of 1.25 N·m continuous (85 %)
	// copper loss 30.8 W cold, 40.7 W settled
	// winding at 102 °C, 28 K below its limit
}

// The invented motor held at 2.1 times its continuous torque.
func ExampleRunawayError() {
	winding, err := thermal.FromRating(lift)
	if err != nil {
		log.Fatal(err)
	}
	copperLoss := math.Pow(2.1*lift.Torque/lift.Constant.Km, 2)
	_, err = winding.Settled(thermal.Heat{Copper: copperLoss, At: 20}, 40)
	fmt.Println(err)
	// Output:
	// thermal runaway: a mean copper loss of 206.5 W at 20 °C with 1.342 K/W to ambient has feedback gain 1.089 and no settled temperature: want a gain < 1, a loss < 189.6 W
}

// G. K. Dubey, Fundamentals of Electrical Drives, Ex. 4.1 p. 47 (read in a
// companion to it): the book has a swing from 40 to 49.9 K.
func ExampleSettleCycle() {
	s, err := thermal.SettleCycle([]thermal.Phase{
		{Duration: 10, Response: thermal.FirstOrder{TimeConstant: 60, Rise: 104.4}},
		{Duration: 20, Response: thermal.FirstOrder{TimeConstant: 60, Rise: 15}},
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("from %.1f K to %.1f K over ambient\n", s.Lowest, s.Highest)
	// Output: from 40.0 K to 49.9 K over ambient
}
