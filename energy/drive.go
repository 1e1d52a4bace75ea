package energy

import "example.com/headroom/profile"

// Drive is the power stage between bus and motor. It loses
//
//	Standby + LossPerAmp |I| + LossPerAmpSquared I²
//
// with the current I = torque/Kt in the unit of [Winding.Kt]: ampere RMS, or ampere
// of direct current. The linear term stands for voltage drops of junctions and for
// switching, the quadratic one for resistances. That form is common practice (no
// source). The zero value is a drive without loss.
type Drive struct {
	Standby           float64 // power while it is on [W], >= 0, if taken from the bus
	LossPerAmp        float64 // [W/A], >= 0
	LossPerAmpSquared float64 // [W/A²], >= 0
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (d Drive) Validate() error {
	var f profile.Faults
	checkNonNegative(&f, "standby", d.Standby, "W")
	checkNonNegative(&f, "lossPerAmp", d.LossPerAmp, "W/A")
	checkNonNegative(&f, "lossPerAmpSquared", d.LossPerAmpSquared, "W/A²")
	return f.Err()
}
