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

// complete fills in apparent power and power factor from RMS and real power.
func (m Mains) complete(d MainsDraw) MainsDraw {
	d.Apparent = apparentPower(m.Phases, m.Voltage, d.RMS)
	if d.Apparent > 0 {
		d.PowerFactor = d.Real / d.Apparent
	}
	return d
}

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
	return Mains{Phases: r.Kind.phases(), Voltage: r.Voltage}.complete(d)
}

// InputStage is how a regulated supply or a drive with its own rectifier draws
// from the mains, by its data sheet at the load at hand.
type InputStage struct {
	Efficiency  float64 // output over input power, > 0 to 1
	PowerFactor float64 // real over apparent power, > 0 to 1
	CrestFactor float64 // crest over RMS of the line current, >= 1; √2 for a sine
}

// Validate returns nil, or an error that joins the faults of the fields.
func (s InputStage) Validate() error {
	var f profile.Faults
	share := func(path string, v float64) {
		if !(v > 0 && v <= 1) {
			f.Add(path, v, "> 0 and <= 1")
		}
	}
	share("efficiency", s.Efficiency)
	share("powerFactor", s.PowerFactor)
	if !(s.CrestFactor >= 1 && s.CrestFactor <= 100) {
		f.Add("crestFactor", s.CrestFactor, "from 1 to 100")
	}
	return f.Err()
}

// Draw returns what a supply draws from the mains while it delivers a power [W]
// over time, as from [Result.SourceCurrent] times the voltage. With the voltage V
//
//	real power   P/Efficiency
//	RMS          P/(Efficiency PowerFactor V), of three phases with √3 V
//
// over a period of the mains. RMS is that of the whole time, by the mean of the
// squares, Real the mean, Peak the highest crest; Apparent belongs to that RMS,
// and so PowerFactor is the lower the more the power varies. Times at which the
// output takes power back draw nothing. Take [Mains.Low] for the highest
// currents: the power stays.
//
// A sheet states efficiency and power factor at full load; both are lower at part
// load, where the currents are lower, too, but not as much.
func (m Mains) Draw(power profile.Curve, s InputStage) (MainsDraw, error) {
	var f profile.Faults
	f.Under("mains", m.Validate())
	f.Under("input", s.Validate())
	if power.Pieces() == 0 {
		f.Add("power", "an empty curve", "a curve of power over time")
	}
	if err := f.Err(); err != nil {
		return MainsDraw{}, err
	}
	p := power.Positive()
	perWatt := 1 / (s.Efficiency * s.PowerFactor * apparentPower(m.Phases, m.Voltage, 1))
	d := m.complete(MainsDraw{
		RMS:  p.RMS() * perWatt,
		Peak: p.Max().V * perWatt * s.CrestFactor,
		Real: p.Mean() / s.Efficiency,
	})
	if !(d.Apparent+d.Peak+d.Real <= math.MaxFloat64) {
		f.Add("power", p.Max().V, "currents within the range of float64")
	}
	return d, f.Err()
}
