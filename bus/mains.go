package bus

import (
	"math"

	"example.com/headroom/profile"
)

// Mains is the AC supply at which a machine is connected.
type Mains struct {
	Phases    int     // 1 or 3
	Voltage   float64 // RMS [V], > 0: line to neutral for one phase, between lines for three
	Frequency float64 // [Hz], > 0
	Tolerance float64 // fraction by which the voltage may differ, 0 to below 1
}

// Validate returns nil, or an error that joins the faults of the fields.
func (m Mains) Validate() error {
	var f profile.Faults
	if m.Phases != 1 && m.Phases != 3 {
		f.Add("phases", m.Phases, "1 or 3")
	}
	f.Positive("voltage", m.Voltage, "V")
	if f.Positive("frequency", m.Frequency, "Hz") {
		f.Within("frequency", m.Frequency, 1e-3, mostRectifierFrequency, "Hz")
	}
	checkTolerance(&f, "tolerance", m.Tolerance)
	return f.Err()
}

// Low returns the mains at the lowest voltage, the corner for the current of a
// load of constant power, with no tolerance left.
func (m Mains) Low() Mains { return m.exactly(1 - m.Tolerance) }

// High returns them at the highest, the corner for inrush.
func (m Mains) High() Mains { return m.exactly(1 + m.Tolerance) }

func (m Mains) exactly(k float64) Mains {
	m.Voltage *= k
	m.Tolerance = 0
	return m
}

// apparent returns the apparent power [VA] of a line current [A].
func (m Mains) apparent(rms float64) float64 { return apparentPower(m.Phases, m.Voltage, rms) }

func apparentPower(phases int, voltage, rms float64) float64 {
	if phases == 3 {
		return math.Sqrt(3) * voltage * rms
	}
	return voltage * rms
}

// MainsDraw is what is drawn from the mains, or from the secondary of a
// transformer.
type MainsDraw struct {
	RMS         float64 // line current, of several lines the largest [A]
	Peak        float64 // crest of it [A]
	Real        float64 // power [W]
	Apparent    float64 // [VA]: V·RMS, of three phases √3·V·RMS
	PowerFactor float64 // Real/Apparent [1]
}

// drawOf returns what a rectifier draws at its EMF.
func drawOf(r Rectifier, lines []profile.Curve, real float64) MainsDraw {
	d := MainsDraw{Real: real}
	for _, l := range lines {
		d.RMS = math.Max(d.RMS, l.RMS())
		d.Peak = math.Max(d.Peak, math.Abs(l.AbsMax().V))
	}
	d.Apparent = apparentPower(r.Kind.phases(), r.Voltage, d.RMS)
	if d.Apparent > 0 {
		d.PowerFactor = d.Real / d.Apparent
	}
	return d
}
