package sizing

import (
	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/thermal"
)

// brakes reads one brake resistor or several.
func (r *reader) brakes(o *object) []Brake {
	var all []Brake
	if one := r.object(o, "brakeResistor", optional); one != nil {
		all = append(all, r.brake(one))
	}
	for i, n := range r.list(o, "brakeResistors", optional) {
		if i == 0 && len(all) > 0 {
			r.faults.Add("brakeResistors", "given", "either brakeResistor, for one, or this, for several")
		}
		all = append(all, r.brake(r.objectOf(n)))
	}
	return all
}

func (r *reader) brake(o *object) Brake {
	b := Brake{
		BrakeResistor: bus.BrakeResistor{
			Resistance: r.quantity(o, "resistance", quantity.Resistance, required),
			OnVoltage:  r.quantity(o, "onVoltage", quantity.Voltage, required),
			OffVoltage: r.quantity(o, "offVoltage", quantity.Voltage, required),
			Delay:      r.quantity(o, "delay", quantity.Time, optional),
		},
		Tolerance:          r.quantity(o, "tolerance", quantity.Fraction, optional),
		ThresholdTolerance: r.quantity(o, "thresholdTolerance", quantity.Fraction, optional),
		SwitchCurrent:      r.quantity(o, "switchCurrent", quantity.Current, notZero),
	}
	b.Rating = r.burns(o)
	b.Heat = r.resistorRating(r.object(o, "thermal", optional))
	o.unread(&r.faults)
	return b
}

func (r *reader) clamp(o *object) *Clamp {
	if o == nil {
		return nil
	}
	c := &Clamp{Clamp: bus.Clamp{
		Voltage:      r.quantity(o, "voltage", quantity.Voltage, required),
		Resistance:   r.quantity(o, "resistance", quantity.Resistance, required),
		CurrentLimit: r.quantity(o, "currentLimit", quantity.Current, notZero),
	}}
	c.Rating = r.burns(o)
	o.unread(&r.faults)
	return c
}

// burns reads the thermal rating of what burns returned energy.
func (r *reader) burns(o *object) thermal.BrakeResistor {
	b := thermal.BrakeResistor{
		Continuous: r.quantity(o, "continuous", quantity.Power, required),
		Derating:   1,
		Pulse:      r.quantity(o, "pulse", quantity.Energy, required),
	}
	if v := r.quantity(o, "derating", quantity.Fraction, notZero); v != 0 {
		b.Derating = v
	}
	return b
}
