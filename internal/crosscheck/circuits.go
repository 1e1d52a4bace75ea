package crosscheck

import (
	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// Cycle is one second of a 72 V bus on which axes accelerate, run, brake and
// dwell, so that the brake resistor switches many times: the cycle on which speed
// is compared. All circuits here are invented.
func Cycle() Circuit {
	return Circuit{
		Name: "cycle",
		Network: bus.Network{Bus: bus.Bus{
			Bank:    bus.Bank{Capacitance: 0.02, RatedVoltage: 100},
			Source:  bus.SwitchMode{Voltage: 72, CurrentLimit: 20},
			Brakes:  []bus.BrakeResistor{{Resistance: 5, OnVoltage: 82, OffVoltage: 79}},
			Bleeder: 4700,
		}},
		Loads: []profile.Curve{axes()},
		Start: bus.State{Voltage: 72},
	}
}

// axes is the power of a few axes in step over one second [W].
func axes() profile.Curve {
	return must(profile.NewCurve([]float64{0, 0.05, 0.1, 0.3, 0.35, 0.4, 0.7, 0.75, 0.9, 1}, [][]float64{
		{5, 2e3, 1e5}, {355, 1.2e4, -9e4}, {420}, {-600, -4e3, 9e4}, {-575, 1.1e4}, {30}, {30, 1e4}, {-450, 1e3}, {10},
	}))
}

// Circuits returns the circuits that are compared, one for each thing that a bus
// does.
func Circuits() []Circuit {
	curve := func(breaks []float64, coefs ...[]float64) []profile.Curve {
		return []profile.Curve{must(profile.NewCurve(breaks, coefs))}
	}
	plain := func(name string, b bus.Bus, volts float64, loads []profile.Curve) Circuit {
		return Circuit{name, bus.Network{Bus: b}, loads, bus.State{Voltage: volts}}
	}
	bank := func(c, rs float64) bus.Bank {
		return bus.Bank{Capacitance: c, SeriesResistance: rs, RatedVoltage: 450}
	}

	cycle := Cycle()
	series := Cycle()
	series.Name = "brake-series-resistance"
	series.Network.Bank.SeriesResistance = 0.02

	limit := Cycle()
	limit.Name = "current-limit"
	limit.Network.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 4}
	limit.Network.Bank.Capacitance, limit.Network.Bank.SeriesResistance = 0.05, 0.03
	limit.Network.Brakes = nil

	two := Circuit{
		Name: "two-axes-behind-feeders",
		Network: bus.Network{
			Bus: bus.Bus{
				Bank:   bank(0.004, 0.03),
				Source: bus.Resistive{OpenCircuit: 320, Resistance: 1.6},
				Brakes: []bus.BrakeResistor{{Resistance: 40, OnVoltage: 380, OffVoltage: 365}},
			},
			Feeders: []bus.Feeder{
				{Name: "lift", Resistance: 0.4, Capacitance: 0.0006},
				{Name: "shuttle", Upstream: 1, Resistance: 0.7, Capacitance: 0.0009},
			},
		},
		Loads: []profile.Curve{
			must(profile.Constant(60, 0, 0.8)),
			must(profile.NewCurve([]float64{0, 0.1, 0.3, 0.45, 0.8}, [][]float64{{0, 3e4}, {1800, -2e3}, {-3200, 1.6e4}, {80}})),
			must(profile.NewCurve([]float64{0, 0.2, 0.35, 0.55, 0.8}, [][]float64{{40}, {100, 1.1e4, 2e4}, {-2600, 9e3, 5e3}, {300, 500, -4e3}})),
		},
		Start: bus.State{Voltage: 320},
	}

	steps := Circuit{
		Name: "resistive-steps",
		Network: bus.Network{
			Bus: bus.Bus{
				Bank: bank(0.01, 0.05), Bleeder: 220,
				Source: bus.Resistive{OpenCircuit: 48, Resistance: 0.8},
			},
			Switched: []bus.SwitchedLoad{
				{Name: "solenoid", Conductance: must(bus.Switched([]bus.Step{{Time: 0}, {Time: 0.05, Conductance: 0.25}, {Time: 0.16}, {Time: 0.3, Conductance: 0.25}, {Time: 0.33}}, 0.5))},
				{Name: "heater", Conductance: must(bus.Switched([]bus.Step{{Time: 0, Conductance: 0.1}, {Time: 0.2, Conductance: 0.4}}, 0.5))},
			},
		},
		Loads: []profile.Curve{must(profile.Constant(0, 0, 0.5))},
		Start: bus.State{Voltage: 55},
	}

	return []Circuit{
		plain("regeneration", bus.Bus{Bank: bank(0.0047, 0)}, 320,
			curve([]float64{0, 0.25, 0.4}, []float64{-2400, 7600, 4000}, []float64{35})),
		plain("sag", bus.Bus{Bank: bank(0.0022, 0.08), Source: bus.Resistive{OpenCircuit: 325, Resistance: 2.5}}, 325,
			curve([]float64{0, 0.05, 0.15, 0.3, 0.5}, []float64{20}, []float64{200, 2.2e4, 9e4}, []float64{3300, -1.2e4}, []float64{-150, 900})),
		cycle, series, limit, two, steps,
	}
}

// must is for what is fixed in this file.
func must(c profile.Curve, err error) profile.Curve {
	if err != nil {
		panic(err)
	}
	return c
}
