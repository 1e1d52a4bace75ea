package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Feeder is a cable that leads to one drive, or on from one drive to the next.
type Feeder struct {
	Name        string  // of the drive at its end
	Upstream    int     // 0: it begins at the distribution point; k: at the end of the feeder before it that is number k, counted from 1
	Resistance  float64 // go and return, with terminals and contacts [ohm], at least 1e-9
	Capacitance float64 // of the drive at its end [F], >= 0
}

// SwitchedLoad is a resistance that is switched onto the bus: a solenoid, a
// heater, a lamp.
type SwitchedLoad struct {
	Name        string
	Feeder      int           // where: 0 at the distribution point, k at the end of feeder k
	Conductance profile.Curve // over time, in steps [S], >= 0; see [Switched]
}

// Network is a bus that is distributed by cables: the bank, the source and the
// brake resistors are at the distribution point, the drives, each with a
// capacitor of its own, at the ends of feeders in star or in chain.
//
// The current in a feeder is I = (V - u)/R from V at its beginning to u at its
// end, where
//
//	C du/dt = I - P/u - G u - Σ I of the feeders that go on from there
//
// A capacitor that follows its cable within [ShortestFeeder] is counted as part
// of the bank, and the end of the feeder follows the balance of currents
// without delay: the drop is right, the transient of less than that time left
// out. So the steps of the integration do not become ever shorter with the
// cable. [NetworkResult] says for which feeders.
type Network struct {
	Bus
	Feeders  []Feeder
	Switched []SwitchedLoad
}

// ShortestFeeder is the time constant of a feeder, resistance times capacitance,
// below which its end follows without delay [s].
const ShortestFeeder = 50e-6

// leastFeeder is the least resistance of a feeder [ohm]: its current follows from
// the drop across it.
const leastFeeder = 1e-9

// lumped reports whether the capacitor at the end is counted as part of the
// bank.
func (f Feeder) lumped() bool { return f.Resistance*f.Capacitance < ShortestFeeder }

// Validate returns nil, or an error that joins a [*profile.InputError] for every
// field outside its domain.
func (n Network) Validate() error {
	var f profile.Faults
	if err := n.Bus.Validate(); err != nil {
		f.Under("", err)
	}
	for i, w := range n.Feeders {
		path := fmt.Sprintf("feeders[%d]", i)
		if f.Positive(path+".resistance", w.Resistance, "ohm") && !(w.Resistance >= leastFeeder) {
			f.Add(path+".resistance", w.Resistance, fmt.Sprintf("at least %g ohm", leastFeeder))
		}
		f.NonNegative(path+".capacitance", w.Capacitance, "F")
		if w.Upstream < 0 || w.Upstream > i {
			f.Add(path+".upstream", w.Upstream, fmt.Sprintf("0, or the number of a feeder before it, up to %d", i))
		}
	}
	for i, s := range n.Switched {
		path := fmt.Sprintf("switched[%d]", i)
		if s.Feeder < 0 || s.Feeder > len(n.Feeders) {
			f.Add(path+".feeder", s.Feeder, fmt.Sprintf("0 for the distribution point, or the number of a feeder, up to %d", len(n.Feeders)))
		}
		checkSteps(&f, path+".conductance", s.Conductance)
	}
	return f.Err()
}

func checkSteps(f *profile.Faults, path string, c profile.Curve) {
	if c.Pieces() == 0 {
		f.Add(path, "an empty curve", "a curve of conductance in steps over time")
	}
	for i := range c.Pieces() {
		t0, _, k := c.Piece(i)
		for j, v := range k {
			if j == 0 && v < 0 || j > 0 && v != 0 {
				f.Add(path, v, fmt.Sprintf("constant and >= 0 S on each piece, unlike that from %g s", t0))
				return
			}
		}
	}
}

// Low returns the network with source and bank at the corner for sag; see
// [Bus.Low].
func (n Network) Low() Network {
	n.Bus = n.Bus.Low()
	return n
}

// High returns the network with source and bank at the corner for rise; see
// [Bus.High].
func (n Network) High() Network {
	n.Bus = n.Bus.High()
	return n
}

// Step is one state of a switched load.
type Step struct {
	Time        float64 // when it begins [s]
	Conductance float64 // [S], >= 0
}

// Switched returns the conductance over time of a load that is in the state of
// steps[k] from its time on to that of the next, and in the last until end [s].
// A solenoid is given by the conductance of its winding, cold, as if its current
// rose at once; a lamp by that of its cold filament for as long as that lasts,
// then that of the hot one. P/V² is the conductance of a heater of P watts at
// V volts.
func Switched(steps []Step, end float64) (profile.Curve, error) {
	var f profile.Faults
	if len(steps) == 0 {
		f.Add("steps", "none", "at least one")
	}
	breaks, coefs := make([]float64, 0, len(steps)+1), make([][]float64, 0, len(steps))
	for i, s := range steps {
		path := fmt.Sprintf("steps[%d]", i)
		if f.Finite(path+".time", s.Time, "s") && i > 0 && !(s.Time > steps[i-1].Time) {
			f.Add(path+".time", s.Time, fmt.Sprintf("later than that before, %g s", steps[i-1].Time))
		}
		f.NonNegative(path+".conductance", s.Conductance, "S")
		breaks, coefs = append(breaks, s.Time), append(coefs, []float64{s.Conductance})
	}
	if n := len(steps); n > 0 && !(end > steps[n-1].Time && !math.IsInf(end, 1)) {
		f.Add("end", end, fmt.Sprintf("finite and later than the last step, %g s", steps[n-1].Time))
	}
	if err := f.Err(); err != nil {
		return profile.Curve{}, err
	}
	return profile.NewCurve(append(breaks, end), coefs)
}
