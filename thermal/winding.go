package thermal

import "example.com/headroom/profile"

// Winding is a motor winding with one temperature, cooled to the ambient
// through one thermal resistance. The zero value is invalid; [FromRating]
// derives one from a data sheet.
type Winding struct {
	ThermalResistance float64   // from winding to ambient, as mounted [K/W], > 0
	Max               float64   // highest permitted winding temperature [°C]
	Conductor         Conductor // metal of the winding; 0 = Copper
}

// Heat is the mean heat that a cycle puts into a winding.
type Heat struct {
	Copper float64 // mean copper loss [W] if the winding were at At, >= 0
	At     float64 // winding temperature [°C] that Copper holds for
	Other  float64 // mean heat that does not change with winding temperature, such as drag in bearings and iron [W], >= 0
}

// Settled is the state in which a winding gives off as much heat as it gets.
type Settled struct {
	Temperature float64 // mean winding temperature [°C]
	Rise        float64 // over the ambient [K], >= 0
	CopperLoss  float64 // mean copper loss at that temperature [W]
	Margin      float64 // Max - Temperature [K]; negative when too hot
	Gain        float64 // copper loss added by a kelvin of heating over heat carried away by it [1], 0 <= Gain < 1
}

// Settled returns the mean temperature at which the winding settles in the
// ambient [°C], when the cycle that made the heat repeats for ever. Torque, and
// so current, is given by the motion; copper loss then grows with resistance
// (see [Conductor]):
//
//	T = Ta + Rth ( P0 (k+T)/(k+T0) + Q )
//
// It is linear in T and closes:
//
//	T - Ta = ( g (k+Ta) + Rth Q ) / (1 - g)        g = Rth P0 / (k+T0)
//
// with P0 = heat.Copper at T0 = heat.At, Q = heat.Other, k of the conductor. g is
// the feedback gain: the copper loss that a kelvin of heating adds, over the heat
// that it carries away. For g >= 1 the balance has no solution above the
// ambient, the winding heats without end, and the error is a [*RunawayError].
// The equation is the heat balance of one node, with the resistance law as cited
// at [Conductor].
//
// All of Q is taken to enter at the winding, the unfavourable place. The loss of
// torque constant of hot magnets is not included. A settled state far above Max
// is a number, not a state that any insulation reaches: read Margin.
//
// The mean hides the peak within the cycle; see the package documentation.
func (w Winding) Settled(heat Heat, ambient float64) (Settled, error) {
	var f profile.Faults
	k := w.check(&f)
	f.NonNegative("heat.copper", heat.Copper, "W")
	k.temperature(&f, "heat.at", heat.At)
	f.NonNegative("heat.other", heat.Other, "W")
	k.temperature(&f, "ambient", ambient)
	if err := f.Err(); err != nil {
		return Settled{}, err
	}
	above0 := float64(k) + heat.At
	gain := heat.Copper / above0 * w.ThermalResistance
	if !(gain < 1) {
		return Settled{}, &RunawayError{
			Gain: gain, Copper: heat.Copper, At: heat.At, Limit: above0 / w.ThermalResistance,
			ThermalResistance: w.ThermalResistance,
		}
	}
	rise := (gain*(float64(k)+ambient) + w.ThermalResistance*heat.Other) / (1 - gain)
	t := ambient + rise
	s := Settled{
		Temperature: t,
		Rise:        rise,
		CopperLoss:  heat.Copper * k.ratio(t, heat.At),
		Margin:      w.Max - t,
		Gain:        gain,
	}
	needFinite(&f, "heat.copper", heat.Copper, s.Temperature, s.CopperLoss, s.Margin)
	if err := f.Err(); err != nil {
		return Settled{}, err
	}
	return s, nil
}

// Validate returns nil, or an error with every field outside its domain.
func (w Winding) Validate() error {
	var f profile.Faults
	w.check(&f)
	return f.Err()
}

func (w Winding) check(f *profile.Faults) Conductor {
	f.Positive("thermalResistance", w.ThermalResistance, "K/W")
	k := w.Conductor.checked(f)
	k.temperature(f, "max", w.Max)
	return k
}
