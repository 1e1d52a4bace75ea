package thermal

import "example.com/headroom/profile"

// SupplyHeat is the heat that a supply gives off where it stands:
//
//	P = Standby + Pout (1/η - 1)
//
// The zero value is invalid.
type SupplyHeat struct {
	Standby    float64 // without load, as far as Efficiency does not contain it [W], >= 0
	Efficiency float64 // output over input [1], > 0 to 1
}

// Mean returns the mean heat [W] over a cycle of output power [W]. A supply takes
// nothing back: power below zero counts as zero.
func (s SupplyHeat) Mean(output profile.Curve) (float64, error) {
	var f profile.Faults
	f.NonNegative("standby", s.Standby, "W")
	if !(s.Efficiency > 0 && s.Efficiency <= 1) {
		f.Add("efficiency", s.Efficiency, "> 0 and <= 1")
	}
	checkCurve(&f, "output", output)
	if err := f.Err(); err != nil {
		return 0, err
	}
	mean := output.Positive().Mean()
	p := s.Standby + mean*(1-s.Efficiency)/s.Efficiency
	needFinite(&f, "output", mean, p)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return p, nil
}
