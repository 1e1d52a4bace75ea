package bus

import "slices"

// State is the bus at one instant. That at the end of a simulation carries on
// what else has memory: ends of feeders, timers, supplies that shut down.
type State struct {
	Voltage float64 // of the bank without its series resistance [V], > 0
	BrakeOn bool    // whether the brake resistor, of several the first, is switched on

	ends   []float64 // voltages of the ends of feeders [V]
	timers []float64 // [s]
	units  []unitState
	brakes []brakeState
	asleep bool
	turnOn float64
}

type unitState struct {
	spent, off bool
	pause      float64
}

type brakeState struct{ want, on bool }

// sameModes reports whether everything that switches stands alike.
func (s State) sameModes(o State) bool {
	return s.BrakeOn == o.BrakeOn && s.asleep == o.asleep &&
		slices.Equal(s.units, o.units) && slices.Equal(s.brakes, o.brakes)
}
