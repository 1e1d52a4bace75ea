package sizing

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// Input is what the data sheet of a supply says of its side to the mains; 0: not given.
type Input struct {
	PowerFactor float64 // real over apparent power at full load, > 0 to 1
	CrestFactor float64 // crest over RMS of the line current there, 1 to 100
	Capacitance float64 // behind its input rectifier [F]; given with Limiter
	Limiter     float64 // cold resistance of what limits the inrush into it [ohm]
}

// Rectified is what stands ahead of a rectifier that feeds the bus.
type Rectified struct {
	Transformer *bus.Transformer // nil: the rectifier is at the mains
	Limiter     float64          // resistance between rectifier and bank while the bank is charged [ohm]; 0: none
}

// bus returns the mains for the library.
func (m Mains) bus() bus.Mains {
	return bus.Mains{Phases: m.Phases, Voltage: m.Voltage, Frequency: m.Frequency, Tolerance: m.Tolerance}
}

// mostMains is the highest mains voltage that is followed [V].
const mostMains = 1e6

// mostYear is the longest that a year lasts [s].
const mostYear = 8784 * 3600

// validateMains checks what belongs to the mains side.
func (s Supply) validateMains(f *profile.Faults) {
	average, averaged := s.Source.(bus.AveragedRectifier)
	if averaged != (s.Rectified != nil) {
		f.Add("supply", fmt.Sprintf("%T", s.Source), "a bus.AveragedRectifier with Rectified, and only with it")
		return
	}
	if averaged {
		s.validateRectified(f, average.Rectifier)
		return
	}
	in := s.Input
	if in.PowerFactor != 0 {
		checkShare(f, "supply.powerFactor", in.PowerFactor)
	}
	if in.CrestFactor != 0 {
		f.Within("supply.crestFactor", in.CrestFactor, 1, 100, "")
	}
	if in.CrestFactor != 0 && in.PowerFactor == 0 {
		f.Add("supply.powerFactor", nil, "this field: crestFactor is given")
	}
	capacitor := f.NonNegative("supply.inputCapacitance", in.Capacitance, "F")
	limiter := f.NonNegative("supply.inrushLimiter", in.Limiter, "ohm")
	switch {
	case !capacitor || !limiter:
	case in.Capacitance > 0 && in.Limiter == 0:
		f.Add("supply.inrushLimiter", nil, "this field: inputCapacitance is given")
	case in.Limiter > 0 && in.Capacitance == 0:
		f.Add("supply.inputCapacitance", nil, "this field: inrushLimiter is given")
	}
	if m := s.Mains; m != nil && (m.Phases != 0 || m.Frequency != 0) {
		switch {
		case m.Phases == 0:
			f.Add("supply.mains.phases", nil, "this field: frequency is given")
		case m.Frequency == 0:
			f.Add("supply.mains.frequency", nil, "this field: phases is given")
		default:
			f.Under("supply.mains", m.bus().Validate())
			f.Within("supply.mains.voltage", m.Voltage, 0, mostMains, "V")
		}
	}
}

func (s Supply) validateRectified(f *profile.Faults, r bus.Rectifier) {
	f.NonNegative("supply.limiter", s.Rectified.Limiter, "ohm")
	if s.Mains == nil {
		return // said already
	}
	f.Under("supply.mains", s.Mains.bus().Validate())
	f.Within("supply.mains.voltage", s.Mains.Voltage, 0, mostMains, "V")
	if t := s.Rectified.Transformer; t != nil {
		f.Under("supply.transformer", t.Validate())
		if f.Err() == nil && (t.Secondary != r.Voltage || t.Mains != s.Mains.bus()) {
			f.Add("supply.transformer.secondary", t.Secondary, "the voltage of the rectifier, and the mains of the supply")
		}
	} else if r.Voltage != s.Mains.Voltage {
		f.Add("supply.mains.voltage", s.Mains.Voltage, fmt.Sprintf("that of the rectifier, %g V", r.Voltage))
	}
}

// validateUse checks how much the machine is used.
func (m Machine) validateUse(f *profile.Faults) {
	if h := m.HoursPerYear; h != 0 && !(h > 0 && h <= mostYear) {
		f.Add("hoursPerYear", h, fmt.Sprintf("above 0 and at most %g s, 8784 h", float64(mostYear)))
	}
	for i, s := range m.Stations {
		if s.Parts != 0 && !(s.Parts > 0 && s.Parts <= math.MaxInt32) {
			f.Add(fmt.Sprintf("stations[%d].partsPerCycle", i), s.Parts, fmt.Sprintf("above 0 and at most %d", math.MaxInt32))
		}
	}
}

// MainsResult is what the machine draws from its mains.
type MainsResult struct {
	// Draw is at the lowest mains, at most; nil: not known. Its power factor is that of
	// these bounds.
	Draw *bus.MainsDraw
	// Secondary is the same at the secondary of a transformer, or at the rectifier; nil
	// without a rectifier.
	Secondary *bus.MainsDraw
	Size      *bus.TransformerSize // at Secondary; nil without a transformer

	Real      float64     // mean power taken for the bus, at most [W]
	Rail      float64     // mean power of the auxiliary rail, in Real where the bus feeds it [W]
	RailRMS   float64     // line current of the rail's supply [A]
	Inrush    *bus.Inrush // into the supply or the bank, behind the limiter if there is one; nil: not known
	Unlimited *bus.Inrush // without it; nil: not known, or there is no limiter
	Fuse      *bus.MainsFuse
}

// MemoryResult is a supply that returned energy can drive off.
type MemoryResult struct {
	Supply    int     // counted from 0
	Limit     float64 // voltage of its output that shuts it down [V]
	Pause     float64 // until it starts again [s]; 0: it stays off
	Bank      float64 // that would keep the bus below it, nominal [F]; 0: none would, or none is needed
	DiodeHeat float64 // in a blocking diode with assumedDrop, at most [W]
}

// assumedDrop is the forward drop of a blocking diode that is not there yet [V] (common
// practice, no source).
const assumedDrop = 0.7

// railPowerFactor is that of a small supply without correction (common practice, no
// source).
const railPowerFactor = 0.6

// mains finds out what the machine draws from its mains.
func (a *Assessment) mains(ctx context.Context) error {
	if err := a.memory(ctx); err != nil {
		return err
	}
	m := a.Machine
	if m.Supply.Mains == nil {
		return nil
	}
	r := &MainsResult{}
	a.Mains = r
	switch {
	case m.Supply.Rectified != nil:
		if err := a.rectifiedDraw(ctx, r); err != nil {
			return err
		}
	default:
		r.Real = a.Bus.MeanPower * m.Supply.throughDiode() / m.Supply.Efficiency
		if err := a.regulatedDraw(r); err != nil {
			return err
		}
	}
	if a.Rail != nil {
		r.Rail = a.Rail.Input
		if m.Rail.FromBus && r.Real > 0 && a.Bus.MeanPower > 0 {
			r.Rail *= r.Real / a.Bus.MeanPower
		}
	}
	if r.Draw == nil {
		return nil
	}
	if line := m.Supply.Mains.bus().Low(); r.Rail > 0 {
		v := line.Voltage
		if line.Phases == 3 { // between one line and neutral
			v /= math.Sqrt(3)
		}
		r.RailRMS = r.Rail / (railPowerFactor * v)
		if m.Rail.FromBus {
			r.RailRMS *= railPowerFactor / math.Max(railPowerFactor, m.Supply.Input.PowerFactor)
		}
	}
	whole := *r.Draw
	whole.RMS += r.RailRMS
	var in bus.Inrush
	if r.Inrush != nil {
		in = *r.Inrush
	}
	fuse, err := whole.Fuse(in)
	if err != nil {
		return fmt.Errorf("mains: %w: %v", bus.ErrRange, err)
	}
	r.Fuse = &fuse
	return nil
}

// regulatedDraw finds what a supply draws by the figures of its data sheet.
func (a *Assessment) regulatedDraw(r *MainsResult) error {
	s := a.Machine.Supply
	if s.Mains.Phases == 0 {
		return nil
	}
	if s.Input.Capacitance > 0 {
		in, err := s.Mains.bus().Inrush(s.Input.Capacitance, s.Input.Limiter)
		if err != nil {
			return fmt.Errorf("mains: %w: %v", bus.ErrRange, err)
		}
		r.Inrush = &in
	}
	if s.Input.PowerFactor == 0 {
		return nil
	}
	stage := bus.InputStage{Efficiency: s.Efficiency, PowerFactor: s.Input.PowerFactor, CrestFactor: math.Max(1, s.Input.CrestFactor)}
	line := s.Mains.bus().Low()
	steady := func(power float64) (bus.MainsDraw, error) {
		c, err := profile.Constant(power, 0, 1)
		if err != nil {
			return bus.MainsDraw{}, err
		}
		return line.Draw(c, stage)
	}
	top := mostGiven(s.Source, a.Bus.Lowest)
	mean := math.Min(a.Bus.MeanPower*s.throughDiode(), top)
	var rms, peak, real bus.MainsDraw
	var err error
	if c := a.Bus.SagCycle; c != nil && c.Repeats && !c.Collapsed {
		rms, err = line.Draw(c.SourceCurrent.Scale(setPoint(s.Source)), stage)
		peak = rms
	} else if rms, err = steady(math.Sqrt(mean * top)); err == nil {
		peak, err = steady(top)
	}
	if err == nil {
		real, err = steady(mean)
	}
	if err != nil {
		return fmt.Errorf("mains: %w: %v", bus.ErrRange, err)
	}
	d := completed(line, bus.MainsDraw{RMS: rms.RMS, Peak: peak.Peak, Real: real.Real})
	r.Draw = &d
	return nil
}

// throughDiode returns what a supply gives over what arrives at the bus: the rest is
// burned in a blocking diode.
func (s Supply) throughDiode() float64 {
	most := 1.0
	for _, x := range supplies(s.Source) {
		if p, ok := x.(bus.SwitchMode); ok && p.DiodeDrop > 0 {
			low := p.Low()
			most = math.Max(most, 1+p.DiodeDrop/low.NoLoadVoltage())
		}
	}
	return most
}

// setPoint returns the highest voltage at which a source delivers [V]: behind it the
// supply takes at most its current times this.
func setPoint(s bus.Source) float64 {
	switch s := s.(type) {
	case bus.SwitchMode:
		return s.High().NoLoadVoltage()
	case bus.Parallel:
		v := 0.0
		for _, x := range s {
			v = math.Max(v, setPoint(x))
		}
		return v
	}
	return s.Low().NoLoadVoltage()
}

// mostGiven bounds what a source gives at any time while the bus does not fall below the
// lowest [W].
func mostGiven(s bus.Source, lowest float64) float64 {
	switch s := s.(type) {
	case bus.SwitchMode:
		return s.High().NoLoadVoltage() * math.Max(s.CurrentLimit, s.PeakCurrent)
	case bus.Resistive:
		open := s.Low().NoLoadVoltage()
		v := math.Max(lowest, open/2)
		return v * math.Max(0, open-v) / s.Resistance
	case bus.Parallel:
		sum := 0.0
		for _, x := range s {
			sum += mostGiven(x, lowest)
		}
		return sum
	}
	return 0 // a battery draws nothing from the mains meanwhile
}

// completed fills in apparent power and power factor.
func completed(line bus.Mains, d bus.MainsDraw) bus.MainsDraw {
	d.Apparent = line.Voltage * d.RMS
	if line.Phases == 3 {
		d.Apparent *= math.Sqrt(3)
	}
	d.PowerFactor = 0
	if d.Apparent > 0 {
		d.PowerFactor = d.Real / d.Apparent
	}
	return d
}

// rectifiedDraw finds what a rectifier draws by its waveform. Between nothing and the
// most that it gives, the square of the RMS current and the real power are convex in the
// power delivered: over any course their means lie below the chord.
func (a *Assessment) rectifiedDraw(ctx context.Context, r *MainsResult) error {
	m, w := a.Machine, a.Bus.Ripple
	s := m.Supply
	rect := s.Source.(bus.AveragedRectifier).Rectifier
	line := s.Mains.bus()
	if w != nil && w.Top != nil {
		top := w.Top.Secondary
		most := top.Real - w.Top.DiodeHeat - w.Top.SourceHeat
		d := bus.MainsDraw{Peak: top.Peak}
		share := 1.0
		if most > a.Bus.MeanPower {
			share = a.Bus.MeanPower / most
		}
		d.RMS, d.Real = top.RMS*math.Sqrt(share), top.Real*share
		if w.Mean != nil {
			d.RMS = math.Max(d.RMS, w.Mean.Secondary.RMS)
			d.Real = math.Max(d.Real, w.Mean.Secondary.Real)
			d.Peak = math.Max(d.Peak, w.Mean.Secondary.Peak)
		}
		second := completed(bus.Mains{Phases: line.Phases, Voltage: rect.Low().Voltage}, d)
		r.Secondary = &second
		primary := second
		if t := s.Rectified.Transformer; t != nil {
			size := t.Size(second)
			r.Size = &size
			low := *t
			low.Mains, low.Secondary = line.Low(), rect.Low().Voltage
			primary = low.Primary(second)
		}
		r.Draw, r.Real = &primary, primary.Real
	}
	cold := rect
	if s.Rectified.Transformer != nil {
		cold.Resistance *= coldCopper
		if cold.Validate() != nil {
			cold = rect
		}
	}
	bank := m.allLinks()
	for _, x := range []struct {
		limiter float64
		to      **bus.Inrush
	}{{s.Rectified.Limiter, &r.Inrush}, {0, &r.Unlimited}} {
		if x.to == &r.Unlimited && s.Rectified.Limiter == 0 {
			continue
		}
		in, err := cold.Inrush(ctx, bank, x.limiter)
		if err != nil {
			return err
		}
		if t := s.Rectified.Transformer; t != nil {
			in = t.PrimaryInrush(in)
		}
		*x.to = &in
	}
	return nil
}

// coldCopper is the resistance of a cold winding over that of a warm one (about a fifth
// lower; common practice, no source).
const coldCopper = 0.8

// memory looks for supplies that returned energy can drive to their over-voltage
// shutdown.
func (a *Assessment) memory(ctx context.Context) error {
	m := a.Machine
	for i, s := range supplies(m.Supply.Source) {
		p, ok := s.(bus.SwitchMode)
		if !ok || p.OverVoltage == 0 || p.DiodeDrop > 0 {
			continue
		}
		x := MemoryResult{Supply: i, Limit: p.OverVoltage, Pause: p.OverVoltagePause, DiodeHeat: assumedDrop * a.meanCurrent(p)}
		if !(a.Bus.Highest < p.OverVoltage) {
			var err error
			if x.Bank, err = a.bankForRise(ctx, p.OverVoltage*(1-justBelow)); err != nil {
				return err
			}
		}
		a.Bus.Memory = append(a.Bus.Memory, x)
	}
	return nil
}

// justBelow is how far below a shutdown the bus is to stay, relative.
const justBelow = 1e-3

// meanCurrent bounds the mean current of one supply, as if it carried all [A].
func (a *Assessment) meanCurrent(p bus.SwitchMode) float64 {
	v := a.Bus.Lowest
	if !(v > 0) {
		v = math.Min(a.Machine.UnderVoltage, p.Low().NoLoadVoltage())
	}
	return math.Min(a.Bus.MeanPower/v, math.Max(p.CurrentLimit, p.PeakCurrent))
}

// supplies returns the single supplies of a source.
func supplies(s bus.Source) []bus.Source {
	if all, ok := s.(bus.Parallel); ok {
		return all
	}
	return []bus.Source{s}
}
