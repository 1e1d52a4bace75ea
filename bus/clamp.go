package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Clamp is a linear shunt regulator: it takes from the bus
//
//	i = (v - Voltage)/Resistance   for v above Voltage, at most CurrentLimit
//
// without switching.
type Clamp struct {
	Voltage      float64 // from which it conducts [V], > 0
	Resistance   float64 // [ohm], > 0, at least Voltage over 1e7 A
	CurrentLimit float64 // [A], > 0; 0: none
}

// Validate returns nil, or an error that joins the faults of the fields.
func (c Clamp) Validate() error {
	var f profile.Faults
	ok := f.Positive("voltage", c.Voltage, "V")
	if f.Positive("resistance", c.Resistance, "ohm") && ok && !(c.Voltage/c.Resistance <= mostShortCircuit) {
		f.Add("resistance", c.Resistance, fmt.Sprintf("at least %g ohm, the voltage over %g A", c.Voltage/mostShortCircuit, mostShortCircuit))
	}
	f.NonNegative("currentLimit", c.CurrentLimit, "A")
	return f.Err()
}

// Current returns what the clamp takes from a bus at v [V], in A.
func (c Clamp) Current(v float64) float64 {
	i := math.Max(0, (v-c.Voltage)/c.Resistance)
	if c.CurrentLimit > 0 {
		i = math.Min(i, c.CurrentLimit)
	}
	return i
}

// characteristic returns the current into the bus, <= 0.
func (c Clamp) characteristic() []segment {
	var segs []segment
	full := math.Inf(1)
	if c.CurrentLimit > 0 {
		full = c.Voltage + c.CurrentLimit*c.Resistance
		segs = append(segs, segment{lo: full, hi: math.Inf(1), i0: -c.CurrentLimit, limits: true})
	}
	return append(segs,
		segment{lo: c.Voltage, hi: full, i0: c.Voltage / c.Resistance, g: 1 / c.Resistance},
		segment{lo: 0, hi: c.Voltage})
}
