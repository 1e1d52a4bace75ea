package bus

import (
	"math"

	"example.com/headroom/profile"
)

// Battery is a source that takes charge back, up to a limit:
//
//	i = (OpenCircuit - v)/Resistance   but not below -ChargeLimit
//
// Its open-circuit voltage is that of its present state of charge; what a cycle
// takes from it and gives back is in the energy book.
type Battery struct {
	OpenCircuit     float64 // [V], > 0
	Resistance      float64 // [ohm], > 0, with a short-circuit current up to 1e7 A
	ChargeLimit     float64 // most current that it, or its management, accepts [A], >= 0
	ChargeTolerance float64 // fraction by which OpenCircuit differs between empty and full, 0 to below 1
}

// Validate implements [Source].
func (s Battery) Validate() error {
	var f profile.Faults
	checkResistance(&f, s.OpenCircuit, s.Resistance)
	f.NonNegative("chargeLimit", s.ChargeLimit, "A")
	checkTolerance(&f, "chargeTolerance", s.ChargeTolerance)
	return f.Err()
}

// Low implements [Source]: empty.
func (s Battery) Low() Source { return s.at(1 - s.ChargeTolerance) }

// High implements [Source]: full, when it accepts nothing more.
func (s Battery) High() Source {
	s.ChargeLimit = 0
	return s.at(1 + s.ChargeTolerance)
}

func (s Battery) at(k float64) Battery {
	s.OpenCircuit *= k
	s.ChargeTolerance = 0
	return s
}

// NoLoadVoltage implements [Source].
func (s Battery) NoLoadVoltage() float64 { return s.OpenCircuit }

// Current implements [Source]: negative while it is charged.
func (s Battery) Current(v float64) float64 {
	return math.Max(-s.ChargeLimit, (s.OpenCircuit-v)/s.Resistance)
}

func (s Battery) strongest() float64 { return s.OpenCircuit * s.OpenCircuit / (4 * s.Resistance) }

func (s Battery) characteristic() []segment {
	full := s.OpenCircuit + s.ChargeLimit*s.Resistance
	line := segment{i0: s.OpenCircuit / s.Resistance, g: 1 / s.Resistance}
	segs := []segment{{lo: full, hi: math.Inf(1), i0: -s.ChargeLimit, limits: s.ChargeLimit > 0}}
	if s.ChargeLimit > 0 {
		charge := line
		charge.lo, charge.hi = s.OpenCircuit, full
		segs = append(segs, charge)
	}
	line.hi = s.OpenCircuit
	return append(segs, line)
}
