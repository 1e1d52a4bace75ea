package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// BrakeResistor burns returned energy: it is switched on when the bus rises to
// OnVoltage and off when it has fallen to OffVoltage.
type BrakeResistor struct {
	Resistance float64 // [ohm], > 0
	OnVoltage  float64 // [V], > OffVoltage
	OffVoltage float64 // [V], > 0; above the source's no-load voltage at high line, see [Bus.SourceHeatsResistor]
}

// Validate returns nil, or an error that joins the faults of the fields.
func (r BrakeResistor) Validate() error {
	var f profile.Faults
	f.Positive("resistance", r.Resistance, "ohm")
	on := f.Positive("onVoltage", r.OnVoltage, "V")
	if f.Positive("offVoltage", r.OffVoltage, "V") && on && !(r.OffVoltage < r.OnVoltage) {
		f.Add("offVoltage", r.OffVoltage, fmt.Sprintf("below onVoltage, %g V", r.OnVoltage))
	}
	return f.Err()
}

// Bus is a bank, what feeds it and what drains it besides the loads.
type Bus struct {
	Bank    Bank
	Source  Source         // nil: nothing feeds the bus
	Brake   *BrakeResistor // nil: none
	Bleeder float64        // resistance across the bank for discharge [ohm], 0: none

	UnderVoltage float64 // drives trip below this [V], 0: no limit
	OverVoltage  float64 // drives trip above this [V], 0: no limit
}

// Validate returns nil, or an error that joins a [*profile.InputError] for every
// field outside its domain.
func (b Bus) Validate() error {
	var f profile.Faults
	f.Under("bank", b.Bank.Validate())
	if b.Source != nil {
		f.Under("source", b.Source.Validate())
	}
	if b.Brake != nil {
		f.Under("brake", b.Brake.Validate())
		// Switching on must not pull the bus below the off threshold at once,
		// or it would switch without end.
		if r := b.Brake; b.Bank.SeriesResistance > 0 && r.Resistance > 0 {
			if on := r.OnVoltage * r.Resistance / (r.Resistance + b.Bank.SeriesResistance); !(on > r.OffVoltage) {
				f.Add("brake.offVoltage", r.OffVoltage,
					fmt.Sprintf("below %g V, to which switching on pulls the bus through the bank's series resistance", on))
			}
		}
	}
	f.NonNegative("bleeder", b.Bleeder, "ohm")
	f.NonNegative("underVoltage", b.UnderVoltage, "V")
	f.NonNegative("overVoltage", b.OverVoltage, "V")
	if b.OverVoltage > 0 && b.UnderVoltage >= b.OverVoltage {
		f.Add("underVoltage", b.UnderVoltage, fmt.Sprintf("below overVoltage, %g V", b.OverVoltage))
	}
	return f.Err()
}

// Low returns the bus with its source at the lowest voltage and its bank at the
// lowest capacitance: the corner for sag.
func (b Bus) Low() Bus {
	b.Bank = b.Bank.Low()
	if b.Source != nil {
		b.Source = b.Source.Low()
	}
	return b
}

// High returns the bus with its source at the highest voltage and its bank at
// the lowest capacitance: the corner for rise.
func (b Bus) High() Bus {
	b.Bank = b.Bank.Low()
	if b.Source != nil {
		b.Source = b.Source.High()
	}
	return b
}

// SourceHeatsResistor reports whether the brake resistor, once on, would be kept
// on by the source: its off threshold is not above the source's no-load voltage
// at high line, given in V. It then burns supply power until something fails.
func (b Bus) SourceHeatsResistor() (noLoad float64, heats bool) {
	if b.Brake == nil || b.Source == nil {
		return 0, false
	}
	noLoad = b.Source.High().NoLoadVoltage()
	return noLoad, !(b.Brake.OffVoltage > noLoad)
}

// DischargeTime returns how long [s] the bleeder alone takes to bring the bank
// from v0 to v1 [V]:
//
//	t = R C ln(v0/v1)
//
// (discharge of a capacitor through a resistor, any circuit text). It is +Inf
// without a bleeder, and 0 when v0 <= v1. Use it on [Bank.High].
func (b Bus) DischargeTime(v0, v1 float64) float64 {
	switch {
	case !(v0 > v1):
		return 0
	case !(b.Bleeder > 0 && v1 > 0):
		return math.Inf(1)
	}
	return (b.Bleeder + b.Bank.SeriesResistance) * b.Bank.Capacitance * math.Log(v0/v1)
}
