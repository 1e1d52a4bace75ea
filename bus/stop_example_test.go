package bus_test

import (
	"context"
	"fmt"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// An invented machine is stopped when the mains has gone: its axis returns up to 60 J, its
// lift draws up to 12 J. How far do the bus rise and fall, and when is it safe?
func ExampleBus_StopRise() {
	ctx := context.Background()
	b := bus.Bus{
		Bank:         bus.Bank{Capacitance: 1e-3, RatedVoltage: 450, ToleranceLow: 0.2, ToleranceHigh: 0.2},
		Brakes:       []bus.BrakeResistor{{Resistance: 100, OnVoltage: 390, OffVoltage: 380}},
		Bleeder:      10e3,
		UnderVoltage: 200,
	}
	braking, err := profile.NewCurve([]float64{0, 0.2}, [][]float64{{-600, 3000}}) // 600 W falling to zero
	if err != nil {
		fmt.Println(err)
		return
	}
	lifting, err := profile.Constant(80, 0, 0.15)
	if err != nil {
		fmt.Println(err)
		return
	}
	stations := []bus.StationStop{
		{Returned: 60, ReturnedWithin: 60, PeakReturned: 600, Duration: 0.2, Rest: 4, MostReturned: braking, MostDrawn: braking},
		{Drawn: 12, DrawnWithin: 12, PeakDrawn: 80, Duration: 0.15, Rest: 4, MostReturned: lifting, MostDrawn: lifting},
	}
	rise, err := b.StopRise(ctx, stations, 358)
	if err != nil {
		fmt.Println(err)
		return
	}
	sag, err := b.StopSag(ctx, stations, 290)
	if err != nil {
		fmt.Println(err)
		return
	}
	after, err := b.Discharge(bus.MachineDischarge, bus.Standby{Power: 8}, 400, 358)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("at most %.0f V, and up to %.0f J for the resistor\n", rise.Voltage, rise.Resistor)
	fmt.Printf("at least %.0f V, enough to bring all to rest: %t\n", sag.Voltage, sag.Suffice)
	fmt.Printf("60 V after %.0f s, which is more than 5 s: %.0f ohm would do, at %.0f W\n",
		after.Time, after.MostBleeder, after.MostBleederPower)
	// Output:
	// at most 390 V, and up to 60 J for the resistor
	// at least 206 V, enough to bring all to rest: true
	// 60 V after 23 s, which is more than 5 s: 2196 ohm would do, at 58 W
}
