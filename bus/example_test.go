package bus_test

import (
	"context"
	"fmt"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// An axis takes 900 W for 100 ms and gives 500 W back for 70 ms. All figures
// are invented.
func ExampleBus_Simulate() {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
		Brakes: []bus.BrakeResistor{{Resistance: 8, OnVoltage: 82, OffVoltage: 79}},
	}
	load, err := profile.NewCurve([]float64{0, 0.1, 0.3, 0.37, 0.6}, [][]float64{{900}, {0}, {-500}, {0}})
	check(err)
	r, err := b.Simulate(context.Background(), load, bus.State{Voltage: 72})
	check(err)
	fmt.Printf("lowest %.2f V, highest %.2f V\n", r.Lowest.V, r.Highest.V)
	fmt.Printf("the resistor burned %.1f J of %.1f J returned\n", r.Energies.Resistor, r.Energies.Returned)
	for _, e := range r.Events {
		fmt.Printf("%5.1f ms  %s at %.1f V\n", 1000*e.Time, e.Kind, e.Voltage)
	}
	// Output:
	// lowest 49.89 V, highest 82.00 V
	// the resistor burned 24.4 J of 35.0 J returned
	// 144.2 ms  source conducts at 72.0 V
	// 300.0 ms  source blocks at 72.0 V
	// 330.8 ms  brake resistor on at 82.0 V
	// 346.4 ms  brake resistor off at 79.0 V
	// 356.1 ms  brake resistor on at 82.0 V
	// 370.6 ms  brake resistor off at 79.0 V
}

// Three stations of different cycle times that nobody keeps in step. The bound
// holds however they line up; the witness shows how near it is to what happens
// when they line up worst.
func ExampleBus_AnyPhase() {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.06, ToleranceLow: 0.2, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 20},
		Brakes: []bus.BrakeResistor{{Resistance: 5, OnVoltage: 82, OffVoltage: 79}},
	}
	var stations []profile.Curve
	for _, period := range []float64{1, 0.83, 1.27} {
		c, err := profile.NewCurve([]float64{0, 0.15, 0.4, 0.55, period}, [][]float64{{500}, {100}, {-450}, {10}})
		check(err)
		stations = append(stations, c)
	}
	g, err := b.AnyPhase(context.Background(), bus.StrictlyPeriodic(stations), nil)
	check(err)
	fmt.Printf("never below %.1f V (worst found %.1f V)\n", g.Sag.Voltage, g.Sag.WitnessVoltage)
	fmt.Printf("never above %.1f V (worst found %.1f V)\n", g.Rise.Voltage, g.Rise.WitnessVoltage)
	// Output:
	// never below 67.7 V (worst found 67.7 V)
	// never above 82.1 V (worst found 82.1 V)
}
