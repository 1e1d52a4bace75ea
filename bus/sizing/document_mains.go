package sizing

import (
	"context"
	"strings"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

// input reads what a supply says of its side to the mains.
func (r *reader) input(o *object, source bus.Source) Input {
	in := Input{
		PowerFactor: r.quantity(o, "powerFactor", quantity.Fraction, notZero),
		CrestFactor: r.quantity(o, "crestFactor", quantity.Ratio, notZero),
	}
	if _, plain := source.(bus.Resistive); plain {
		return in // its bank is that of the bus
	}
	in.Capacitance = r.quantity(o, "inputCapacitance", quantity.Capacitance, notZero)
	in.Limiter = r.quantity(o, "inrushLimiter", quantity.Resistance, notZero)
	return in
}

// rectified reads a rectifier with what is ahead of it and computes its average. The
// fields of the types behind it are checked here, where their names are known.
func (r *reader) rectified(o *object, s *Supply) {
	before := len(profile.InputErrors(r.faults.Err()))
	s.Rectified = &Rectified{Limiter: r.quantity(o, "limiter", quantity.Resistance, notZero)}
	s.RatedPower = r.quantity(o, "ratedPower", quantity.Power, required)
	kind := bus.Bridge
	if r.choice(o, "connection", required, bus.Bridge.String(), bus.ThreePhaseBridge.String()) == bus.ThreePhaseBridge.String() {
		kind = bus.ThreePhaseBridge
	}
	mo := r.object(o, "mains", required)
	s.Mains = &Mains{
		Voltage:   r.quantity(mo, "voltage", quantity.Voltage, required),
		Tolerance: r.quantity(mo, "tolerance", quantity.Fraction, required),
		Frequency: r.quantity(mo, "frequency", quantity.Frequency, required),
		Phases:    1,
	}
	mo.unread(&r.faults)
	if kind == bus.ThreePhaseBridge {
		s.Mains.Phases = 3
	}
	rect := bus.Rectifier{
		Kind: kind, Voltage: s.Mains.Voltage, Frequency: s.Mains.Frequency, LineTolerance: s.Mains.Tolerance,
		Resistance:      r.quantity(o, "lineResistance", quantity.Resistance, notZero),
		Inductance:      r.quantity(o, "lineInductance", quantity.Inductance, notZero),
		DiodeThreshold:  r.quantity(o, "diodeThreshold", quantity.Voltage, required),
		DiodeResistance: r.quantity(o, "diodeResistance", quantity.Resistance, optional),
	}
	to := r.object(o, "transformer", optional)
	if to != nil {
		s.Rectified.Transformer = &bus.Transformer{
			Mains:          s.Mains.bus(),
			Secondary:      r.quantity(to, "secondary", quantity.Voltage, required),
			Rating:         r.quantity(to, "rating", quantity.ApparentPower, required),
			ShortCircuit:   r.quantity(to, "shortCircuit", quantity.Fraction, notZero),
			CopperLoss:     r.quantity(to, "copperLoss", quantity.Power, notZero),
			NoLoadLoss:     r.quantity(to, "noLoadLoss", quantity.Power, optional),
			MagnetisingRMS: r.quantity(to, "magnetisingCurrent", quantity.Current, optional),
		}
		to.unread(&r.faults)
	}
	given := rect.Resistance != 0 || rect.Inductance != 0
	switch {
	case o == nil || len(profile.InputErrors(r.faults.Err())) > before:
		return
	case to == nil && !given:
		r.faults.Add(profile.JoinPath(o.path, "lineResistance"), nil, "this field, lineInductance or a transformer: what limits the current")
		return
	case to != nil && given:
		at := "lineResistance"
		if rect.Resistance == 0 {
			at = "lineInductance"
		}
		r.faults.Add(o.fields[at].path, o.fields[at].text(), "none with a transformer, whose impedance counts")
		return
	}
	if r.named(o, mo, nil, s.Mains.bus().Validate(), "mains."); to != nil && len(profile.InputErrors(r.faults.Err())) == before {
		t := s.Rectified.Transformer
		if r.named(o, mo, to, t.Validate(), "transformer."); len(profile.InputErrors(r.faults.Err())) > before {
			return
		}
		var err error
		rect, err = t.Rectifier(kind, rect.DiodeThreshold, rect.DiodeResistance)
		r.named(o, mo, to, err, "rectifier.")
	} else {
		r.named(o, mo, nil, rect.Validate(), "rectifier.")
	}
	if len(profile.InputErrors(r.faults.Err())) > before {
		return
	}
	average, err := rect.Averaged(context.Background())
	if err != nil {
		r.faults.Add(o.path, err.Error(), "a rectifier whose mean current can be computed")
		return
	}
	s.Source = average
}

// named records the faults of mains, transformer or rectifier at the fields of the
// document from which they come.
func (r *reader) named(o, mains, transformer *object, err error, of string) {
	impedance := func(first, second string) string {
		in := o
		if transformer != nil {
			first, second, in = "shortCircuit", "copperLoss", transformer
		}
		if in.fields[first] == nil {
			first = second
		}
		if transformer != nil {
			return "transformer." + first
		}
		return first
	}
	for _, e := range profile.InputErrors(err) {
		at := of + e.Path
		switch at {
		case "rectifier.voltage":
			if at = "mains.voltage"; transformer != nil {
				at = "transformer.secondary"
			}
		case "rectifier.frequency":
			at = "mains.frequency"
		case "rectifier.lineTolerance":
			at = "mains.tolerance"
		case "rectifier.resistance":
			at = impedance("lineResistance", "lineInductance")
		case "rectifier.inductance":
			at = impedance("lineInductance", "lineResistance")
		case "transformer.magnetisingRMS":
			at = "transformer.magnetisingCurrent"
		case "mains.phases":
			at = "connection"
		}
		at = strings.TrimPrefix(at, "rectifier.")
		value := e.Value
		name := at[strings.LastIndexByte(at, '.')+1:]
		for prefix, in := range map[string]*object{"mains.": mains, "transformer.": transformer} {
			if in != nil && strings.HasPrefix(at, prefix) && in.fields[name] == nil {
				value = nil
			}
		}
		if name == at && o.fields[name] == nil {
			value = nil
		}
		r.faults.Add(profile.JoinPath(o.path, at), value, e.Want)
	}
}
