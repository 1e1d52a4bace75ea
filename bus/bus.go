package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// BrakeResistor burns returned energy: it is switched on when the bus rises to
// OnVoltage and off when it has fallen to OffVoltage, each Delay later.
type BrakeResistor struct {
	Resistance float64 // [ohm], > 0
	OnVoltage  float64 // [V], > OffVoltage
	OffVoltage float64 // [V], > 0; above the source's no-load voltage at high line, see [Bus.SourceHeatsResistor]
	Delay      float64 // from passing a threshold to switching, if the other is not passed before [s], >= 0
}

// Validate returns nil, or an error that joins the faults of the fields.
func (r BrakeResistor) Validate() error {
	var f profile.Faults
	f.Positive("resistance", r.Resistance, "ohm")
	on := f.Positive("onVoltage", r.OnVoltage, "V")
	if f.Positive("offVoltage", r.OffVoltage, "V") && on && !(r.OffVoltage < r.OnVoltage) {
		f.Add("offVoltage", r.OffVoltage, fmt.Sprintf("below onVoltage, %g V", r.OnVoltage))
	}
	f.NonNegative("delay", r.Delay, "s")
	return f.Err()
}

// Bus is a bank, what feeds it and what drains it besides the loads.
type Bus struct {
	Bank    Bank
	Source  Source // nil: nothing feeds the bus
	Brakes  []BrakeResistor
	Clamp   *Clamp  // nil: none; its voltage above the source's highest no-load voltage
	Bleeder float64 // resistance across the bank for discharge [ohm], 0: none

	UnderVoltage float64 // drives trip below this [V], 0: no limit
	OverVoltage  float64 // drives trip above this [V], 0: no limit
	// TripsRelease says what follows when a drive trips: all axes are switched off
	// and neither take nor return anything more. Otherwise trips are recorded and
	// loads go on, so that the figures say by how much a limit is missed.
	TripsRelease bool

	// Capacitors behind cables that the bounds count as part of the bank:
	margin float64 // energy by which they may differ from it [J]
	lag    float64 // voltage by which they may lift or lower the bus behind its series resistance [V]
}

// Validate returns nil, or an error that joins a [*profile.InputError] for every
// field outside its domain.
func (b Bus) Validate() error {
	var f profile.Faults
	f.Under("bank", b.Bank.Validate())
	powered := false
	if b.Source != nil {
		var of profile.Faults
		checkSource(&of, "source", b.Source)
		f.Under("", of.Err())
		powered = of.Err() == nil
	}
	for i, r := range b.Brakes {
		path := fmt.Sprintf("brakes[%d]", i)
		f.Under(path, r.Validate())
		// Switching on must not pull the bus below the off threshold at once,
		// or it would switch without end.
		if b.Bank.SeriesResistance > 0 && r.Resistance > 0 {
			if on := r.OnVoltage * r.Resistance / (r.Resistance + b.Bank.SeriesResistance); !(on > r.OffVoltage) {
				f.Add(path+".offVoltage", r.OffVoltage,
					fmt.Sprintf("below %g V, to which switching on pulls the bus through the bank's series resistance", on))
			}
		}
	}
	if b.Clamp != nil {
		f.Under("clamp", b.Clamp.Validate())
		if powered && !(b.Clamp.Voltage > b.Source.High().NoLoadVoltage()) {
			f.Add("clamp.voltage", b.Clamp.Voltage, fmt.Sprintf("above the source's highest no-load voltage, %g V", b.Source.High().NoLoadVoltage()))
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

// SourceHeatsResistor reports whether a brake resistor, once on, would be kept
// on by the source: its off threshold is not above the source's no-load voltage
// at high line, given in V. It then burns supply power until something fails.
func (b Bus) SourceHeatsResistor() (noLoad float64, heats bool) {
	if len(b.Brakes) == 0 || b.Source == nil {
		return 0, false
	}
	noLoad = b.Source.High().NoLoadVoltage()
	for _, r := range b.Brakes {
		heats = heats || !(r.OffVoltage > noLoad)
	}
	return noLoad, heats
}

// lowestOff returns the lowest off threshold of the brake resistors [V].
func (b Bus) lowestOff() float64 {
	v := math.Inf(1)
	for _, r := range b.Brakes {
		v = math.Min(v, r.OffVoltage)
	}
	return v
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
