package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Resistive is an unregulated source: an open-circuit voltage behind a
// resistance, as of a transformer and rectifier taken by their averages.
//
//	i = (OpenCircuit - v)/Resistance   for v below OpenCircuit, else 0
//
// The ripple of the rectified mains is not in the model: the true voltage dips
// below the average between the crests.
type Resistive struct {
	OpenCircuit   float64 // no-load voltage at nominal line [V], > 0
	Resistance    float64 // [ohm], > 0, with a short-circuit current up to 1e7 A
	LineTolerance float64 // fraction by which the line, and with it OpenCircuit, may differ, 0 to below 1
}

// mostShortCircuit is the highest short-circuit current [A] of a source. Its
// current follows from the drop across its resistance: beyond, rounding in the
// voltage would be a microampere and more.
const mostShortCircuit = 1e7

// Validate implements [Source].
func (s Resistive) Validate() error {
	var f profile.Faults
	checkResistance(&f, s.OpenCircuit, s.Resistance)
	checkTolerance(&f, "lineTolerance", s.LineTolerance)
	return f.Err()
}

func checkResistance(f *profile.Faults, open, resistance float64) {
	ok := f.Positive("openCircuit", open, "V")
	if f.Positive("resistance", resistance, "ohm") && ok && !(open/resistance <= mostShortCircuit) {
		f.Add("resistance", resistance, fmt.Sprintf("at least %g ohm, for a short-circuit current of %g A", open/mostShortCircuit, mostShortCircuit))
	}
}

// Low implements [Source].
func (s Resistive) Low() Source {
	return Resistive{s.OpenCircuit * (1 - s.LineTolerance), s.Resistance, 0}
}

// High implements [Source].
func (s Resistive) High() Source {
	return Resistive{s.OpenCircuit * (1 + s.LineTolerance), s.Resistance, 0}
}

// NoLoadVoltage implements [Source].
func (s Resistive) NoLoadVoltage() float64 { return s.OpenCircuit }

// Current implements [Source].
func (s Resistive) Current(v float64) float64 {
	return math.Max(0, (s.OpenCircuit-v)/s.Resistance)
}

func (s Resistive) strongest() float64 {
	return s.OpenCircuit * s.OpenCircuit / (4 * s.Resistance) // at half the voltage
}

func (s Resistive) characteristic() []segment {
	return []segment{
		{lo: s.OpenCircuit, hi: math.Inf(1)},
		{lo: 0, hi: s.OpenCircuit, i0: s.OpenCircuit / s.Resistance, g: 1 / s.Resistance},
	}
}
