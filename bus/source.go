package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Source is a supply behind a diode: it feeds the bus and takes nothing back.
// The kinds are [Resistive] and [SwitchMode].
type Source interface {
	// Validate returns nil, or an error that joins the faults of the fields.
	Validate() error
	// Low returns the source at the lowest line or set-point voltage, the corner
	// for sag, with no tolerance left.
	Low() Source
	// High returns it at the highest, the corner for rise.
	High() Source
	// NoLoadVoltage returns the voltage [V] above which the source is blocked.
	NoLoadVoltage() float64
	// Current returns what the source delivers into a bus held at v [V], in A.
	// Where the current is undetermined (a regulated source at its set point)
	// it is the largest.
	Current(v float64) float64
	// strongest returns the most power the source can deliver [W].
	strongest() float64
	// sagLine bounds from below what the source does to the energy of the bank, by
	// one of a family of lines told apart by reach, from 0 to 1.
	sagLine(b Bus, d demand, low, bank, reach float64) sagLine
	// sagLines returns values of reach that are worth trying.
	sagLines() []float64
	// characteristic returns the pieces of the current over voltage, from high
	// voltage to low, without gaps, starting with the blocked one.
	characteristic() []segment
}

// segment is one piece of a source's current over voltage: i = i0 - g v for v
// in [lo, hi], or, when upright, any current from 0 to imax at the voltage lo =
// hi.
type segment struct {
	lo, hi  float64
	i0, g   float64
	upright bool
	imax    float64
}

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
	open := f.Positive("openCircuit", s.OpenCircuit, "V")
	if f.Positive("resistance", s.Resistance, "ohm") && open && !(s.OpenCircuit/s.Resistance <= mostShortCircuit) {
		f.Add("resistance", s.Resistance, fmt.Sprintf("at least %g ohm, for a short-circuit current of %g A", s.OpenCircuit/mostShortCircuit, mostShortCircuit))
	}
	checkTolerance(&f, "lineTolerance", s.LineTolerance)
	return f.Err()
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

// SwitchMode is a regulated source: it holds its set point up to a current
// limit, and at the limit delivers that current at whatever lower voltage
// results (a constant-current limit; one that folds back or latches is not
// this).
type SwitchMode struct {
	Voltage      float64 // set point [V], > 0
	Tolerance    float64 // fraction by which the set point may differ, 0 to below 1
	CurrentLimit float64 // [A], > 0
}

// Validate implements [Source].
func (s SwitchMode) Validate() error {
	var f profile.Faults
	f.Positive("voltage", s.Voltage, "V")
	f.Positive("currentLimit", s.CurrentLimit, "A")
	checkTolerance(&f, "tolerance", s.Tolerance)
	return f.Err()
}

// Low implements [Source].
func (s SwitchMode) Low() Source {
	return SwitchMode{s.Voltage * (1 - s.Tolerance), 0, s.CurrentLimit}
}

// High implements [Source].
func (s SwitchMode) High() Source {
	return SwitchMode{s.Voltage * (1 + s.Tolerance), 0, s.CurrentLimit}
}

// NoLoadVoltage implements [Source].
func (s SwitchMode) NoLoadVoltage() float64 { return s.Voltage }

// Current implements [Source].
func (s SwitchMode) Current(v float64) float64 {
	if v > s.Voltage {
		return 0
	}
	return s.CurrentLimit
}

func (s SwitchMode) strongest() float64 { return s.Voltage * s.CurrentLimit }

func (s SwitchMode) characteristic() []segment {
	return []segment{
		{lo: s.Voltage, hi: math.Inf(1)},
		{lo: s.Voltage, hi: s.Voltage, upright: true, imax: s.CurrentLimit},
		{lo: 0, hi: s.Voltage, i0: s.CurrentLimit},
	}
}

func checkTolerance(f *profile.Faults, path string, v float64) {
	if !(v >= 0 && v < 1) {
		f.Add(path, v, "from 0 to below 1")
	}
}
