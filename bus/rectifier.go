package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// RectifierKind is the connection of the diodes.
type RectifierKind int

// Connections.
const (
	HalfWave         RectifierKind = iota + 1 // one diode, one line
	Bridge                                    // four diodes, single phase
	ThreePhaseBridge                          // six diodes, three lines
)

var rectifierNames = [...]string{HalfWave: "half wave", Bridge: "single-phase bridge", ThreePhaseBridge: "three-phase bridge"}

// String returns the connection in words.
func (k RectifierKind) String() string {
	if k < HalfWave || k > ThreePhaseBridge {
		return "unknown connection"
	}
	return rectifierNames[k]
}

// phases returns the number of phases of the mains or the secondary.
func (k RectifierKind) phases() int {
	if k == ThreePhaseBridge {
		return 3
	}
	return 1
}

// inSeries returns how many diodes the current passes at a time.
func (k RectifierKind) inSeries() float64 {
	if k == HalfWave {
		return 1
	}
	return 2
}

// pulses returns how often in a period of the mains the rectified voltage
// repeats.
func (k RectifierKind) pulses() int {
	switch k {
	case HalfWave:
		return 1
	case Bridge:
		return 2
	}
	return 6
}

// Rectifier is a diode rectifier on sinusoidal mains, direct or behind a
// transformer (see [Transformer.Rectifier]), that charges the bank of the bus:
//
//	e = √2 Voltage sin(2π Frequency t)             EMF; three of them, 120° apart
//	e = L di/dt + R i + voltage of the diodes + v   along the loop that conducts
//
// A diode that conducts has the voltage DiodeThreshold + DiodeResistance i, one
// that blocks carries nothing. In the three-phase bridge two lines conduct, or
// three while the current commutates from one to the next. Recovery charge and
// leakage of diodes, saturation of the transformer, distortion and imbalance of
// the mains are not in the model.
//
// Two models of the same rectifier can be used on a bus. [Bus.SimulateRipple] and
// [Rectifier.Settle] follow the waveform; [Rectifier.Averaged] is the [Source]
// without ripple for cycles that last long against a period of the mains.
type Rectifier struct {
	Kind      RectifierKind
	Voltage   float64 // open-circuit RMS of the mains or the secondary, between lines where there are three [V], > 0
	Frequency float64 // [Hz], > 0

	// Source impedance as seen at the rectifier: of the whole loop where the mains
	// have one phase, of each line where they have three. One of them is needed.
	Resistance float64 // [ohm], >= 0
	Inductance float64 // [H], >= 0

	DiodeThreshold  float64 // [V], >= 0
	DiodeResistance float64 // [ohm], >= 0

	LineTolerance float64 // fraction by which the mains, and with it Voltage, may differ, 0 to below 1
}

// mostRectifierFrequency bounds the frequency [Hz].
const mostRectifierFrequency = 1e5

// Validate returns nil, or an error that joins the faults of the fields. Without
// inductance and without resistance of source and diodes there is a fault: the
// current would be without limit. With either, a short circuit must not carry
// more than 1e7 A.
func (r Rectifier) Validate() error {
	var f profile.Faults
	known := r.Kind >= HalfWave && r.Kind <= ThreePhaseBridge
	if !known {
		f.Add("kind", int(r.Kind), "HalfWave, Bridge or ThreePhaseBridge")
	}
	ok := f.Positive("voltage", r.Voltage, "V")
	if f.Positive("frequency", r.Frequency, "Hz") {
		ok = f.Within("frequency", r.Frequency, 1e-3, mostRectifierFrequency, "Hz") && ok
	} else {
		ok = false
	}
	before := f.Err()
	f.NonNegative("resistance", r.Resistance, "ohm")
	f.NonNegative("inductance", r.Inductance, "H")
	f.NonNegative("diodeThreshold", r.DiodeThreshold, "V")
	f.NonNegative("diodeResistance", r.DiodeResistance, "ohm")
	checkTolerance(&f, "lineTolerance", r.LineTolerance)
	if !ok || !known || before != nil || f.Err() != nil {
		return f.Err()
	}
	if low := r.Low(); !(low.NoLoadVoltage() > 0) {
		f.Add("diodeThreshold", r.DiodeThreshold, fmt.Sprintf("below %g V, the share of a diode in the crest of the lowest line", low.crest()/r.Kind.inSeries()))
	}
	switch z := r.impedance(); {
	case z == 0:
		f.Add("resistance", r.Resistance, "> 0 ohm, or an inductance, or a resistance of the diodes: without any of them the current has no limit")
	case !(r.crest()/z <= mostShortCircuit):
		f.Add("resistance", r.Resistance, fmt.Sprintf("with inductance and diodes at least %g ohm, for a short-circuit current of %g A", r.crest()/mostShortCircuit, mostShortCircuit))
	case !(z < math.MaxFloat64):
		f.Add("inductance", r.Inductance, "an impedance within the range of float64")
	}
	return f.Err()
}

// Low returns the rectifier at the lowest line, with no tolerance left.
func (r Rectifier) Low() Rectifier { return r.exactly(1 - r.LineTolerance) }

// High returns it at the highest.
func (r Rectifier) High() Rectifier { return r.exactly(1 + r.LineTolerance) }

func (r Rectifier) exactly(k float64) Rectifier {
	r.Voltage *= k
	r.LineTolerance = 0
	return r
}

// NoLoadVoltage returns to which voltage [V] the bank is charged without load: the
// crest of the voltage less the thresholds of the diodes.
func (r Rectifier) NoLoadVoltage() float64 { return r.crest() - r.Kind.inSeries()*r.DiodeThreshold }

// crest returns the crest of the EMF along the loop [V].
func (r Rectifier) crest() float64 { return math.Sqrt2 * r.Voltage }

func (r Rectifier) omega() float64 { return 2 * math.Pi * r.Frequency }

// loop returns resistance [ohm] and inductance [H] of the loop of two lines.
func (r Rectifier) loop() (resistance, inductance float64) {
	n := 1.0
	if r.Kind == ThreePhaseBridge {
		n = 2
	}
	return n*r.Resistance + r.Kind.inSeries()*r.DiodeResistance, n * r.Inductance
}

// impedance returns the magnitude of the impedance of the loop [ohm].
func (r Rectifier) impedance() float64 {
	res, ind := r.loop()
	return math.Hypot(res, r.omega()*ind)
}
