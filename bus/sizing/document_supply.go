package sizing

import (
	"fmt"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
)

func (r *reader) supply(o *object) Supply {
	s := Supply{Source: r.source(o)}
	fed := required
	switch s.Source.(type) {
	case bus.AveragedRectifier:
		r.supplyHeat(o, &s)
		r.rectified(o, &s)
		o.unread(&r.faults)
		return s
	case bus.Battery:
		fed = optional
	default:
		s.Input = r.input(o, s.Source)
	}
	r.supplyHeat(o, &s)
	s.RatedPower = r.quantity(o, "ratedPower", quantity.Power, required)
	s.Efficiency = r.quantity(o, "efficiency", quantity.Fraction, required)
	if mains := r.object(o, "mains", fed); mains != nil {
		s.Mains = &Mains{
			Voltage:   r.quantity(mains, "voltage", quantity.Voltage, required),
			Tolerance: r.quantity(mains, "tolerance", quantity.Fraction, required),
			InputLow:  r.quantity(mains, "inputLow", quantity.Voltage, required),
			InputHigh: r.quantity(mains, "inputHigh", quantity.Voltage, required),
			Phases:    r.count(mains, "phases", notZero),
			Frequency: r.quantity(mains, "frequency", quantity.Frequency, notZero),
		}
		mains.unread(&r.faults)
	}
	o.unread(&r.faults)
	return s
}

// source reads what feeds the bus; the caller reads the rest of the object.
func (r *reader) source(o *object) bus.Source {
	switch r.choice(o, "kind", required, "regulated", "unregulated", "rectified", "battery", "parallel") {
	case "regulated":
		return r.regulated(o)
	case "unregulated":
		return bus.Resistive{
			OpenCircuit:   r.quantity(o, "openCircuit", quantity.Voltage, required),
			Resistance:    r.quantity(o, "resistance", quantity.Resistance, required),
			LineTolerance: r.quantity(o, "lineTolerance", quantity.Fraction, required),
		}
	case "rectified":
		return bus.AveragedRectifier{} // computed when all of it is read
	case "battery":
		return bus.Battery{
			OpenCircuit:     r.quantity(o, "openCircuit", quantity.Voltage, required),
			Resistance:      r.quantity(o, "resistance", quantity.Resistance, required),
			ChargeLimit:     r.quantity(o, "chargeLimit", quantity.Current, optional),
			ChargeTolerance: r.quantity(o, "chargeTolerance", quantity.Fraction, required),
		}
	case "parallel":
		var all bus.Parallel
		for i, n := range r.list(o, "supplies", required) {
			so := r.objectOf(n)
			s := r.source(so)
			switch s.(type) {
			case bus.Parallel:
				r.faults.Add(fmt.Sprintf("supply.supplies[%d].kind", i), "parallel", "a single supply")
			case bus.AveragedRectifier:
				r.faults.Add(fmt.Sprintf("supply.supplies[%d].kind", i), "rectified", "a supply of another kind: a rectifier with its waveform stands alone")
				continue
			}
			so.unread(&r.faults)
			all = append(all, s)
		}
		return all
	}
	return nil
}

func (r *reader) regulated(o *object) bus.SwitchMode {
	s := bus.SwitchMode{
		Voltage:          r.quantity(o, "voltage", quantity.Voltage, required),
		Tolerance:        r.quantity(o, "tolerance", quantity.Fraction, required),
		CurrentLimit:     r.quantity(o, "currentLimit", quantity.Current, required),
		PeakCurrent:      r.quantity(o, "peakCurrent", quantity.Current, notZero),
		PeakTime:         r.quantity(o, "peakTime", quantity.Time, notZero),
		PeakRecovery:     r.quantity(o, "peakRecovery", quantity.Time, notZero),
		OverVoltage:      r.quantity(o, "overVoltage", quantity.Voltage, notZero),
		OverVoltagePause: r.quantity(o, "overVoltagePause", quantity.Time, notZero),
		DiodeDrop:        r.quantity(o, "diodeDrop", quantity.Voltage, notZero),
	}
	switch r.choice(o, "overload", optional, "constant current", "foldback", "hiccup", "latch") {
	case "foldback":
		s.Overload = bus.Foldback
		s.FoldbackCurrent = r.quantity(o, "foldbackCurrent", quantity.Current, required)
	case "hiccup":
		s.Overload = bus.Hiccup
		s.Endurance = r.quantity(o, "endurance", quantity.Time, required)
		s.Pause = r.quantity(o, "pause", quantity.Time, required)
	case "latch":
		s.Overload = bus.Latch
		s.Endurance = r.quantity(o, "endurance", quantity.Time, required)
	}
	return s
}
