package bus

import "example.com/headroom/profile"

// Bank is the capacitor bank of the bus: everything connected in parallel,
// drives included.
type Bank struct {
	Capacitance      float64 // nominal [F], > 0
	SeriesResistance float64 // [ohm], >= 0
	RatedVoltage     float64 // highest permitted voltage [V], > 0
	ToleranceLow     float64 // fraction by which the capacitance may be lower, 0 to below 1
	ToleranceHigh    float64 // fraction by which the capacitance may be higher, 0 to 9
}

// Validate returns nil, or an error that joins a [*profile.InputError] for every
// field outside its domain.
func (b Bank) Validate() error {
	var f profile.Faults
	f.Positive("capacitance", b.Capacitance, "F")
	f.NonNegative("seriesResistance", b.SeriesResistance, "ohm")
	f.Positive("ratedVoltage", b.RatedVoltage, "V")
	if !(b.ToleranceLow >= 0 && b.ToleranceLow < 1) {
		f.Add("toleranceLow", b.ToleranceLow, "from 0 to below 1")
	}
	f.Within("toleranceHigh", b.ToleranceHigh, 0, 9, "")
	return f.Err()
}

// Low returns the bank with its lowest capacitance, the corner for rise and
// sag, and no tolerance left.
func (b Bank) Low() Bank { return b.exactly(1 - b.ToleranceLow) }

// High returns the bank with its highest capacitance, the corner for stored
// energy and discharge, and no tolerance left.
func (b Bank) High() Bank { return b.exactly(1 + b.ToleranceHigh) }

func (b Bank) exactly(k float64) Bank {
	b.Capacitance *= k
	b.ToleranceLow, b.ToleranceHigh = 0, 0
	return b
}

// Energy returns the energy stored at voltage v [V]: ½ C v² [J].
func (b Bank) Energy(v float64) float64 { return b.Capacitance * v * v / 2 }
