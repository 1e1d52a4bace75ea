package thermal

import "example.com/headroom/profile"

// Ageing is what a capacitor may have become at the end of its rated life.
type Ageing struct {
	CapacitanceLoss float64 // part of the capacitance lost [1], 0 to < 1
	LossFactor      float64 // tan δ then over tan δ of a new one, at one frequency [1], >= 1
}

// Criteria of the endurance test of IEC 60384-4 for aluminium electrolytic
// capacitors, by the order of size: from memory, unconfirmed. The maker's sheet
// has the criteria of the part.
var (
	// AgedLongLife is the criterion of long-life grade parts.
	AgedLongLife = Ageing{CapacitanceLoss: .2, LossFactor: 1.3}
	// AgedGeneral is that of general-purpose parts.
	AgedGeneral = Ageing{CapacitanceLoss: .3, LossFactor: 3}
)

// Apply returns the capacitance [F] and the series resistance [Ω] of an aged bank
// from those of the new one. The series resistance follows from the loss factor
// tan δ = ω R C:
//
//	C' = C (1 - loss)      R' = R (tan δ ratio) / (1 - loss)
//
// Rise and sag of the bus are worst with C' (and sag with R'); inrush with C.
func (a Ageing) Apply(capacitance, seriesResistance float64) (agedCapacitance, agedResistance float64, err error) {
	var f profile.Faults
	a.check(&f)
	f.Positive("capacitance", capacitance, "F")
	f.NonNegative("seriesResistance", seriesResistance, "Ω")
	if err := f.Err(); err != nil {
		return 0, 0, err
	}
	left := 1 - a.CapacitanceLoss
	agedCapacitance, agedResistance = capacitance*left, seriesResistance*a.LossFactor/left
	needFinite(&f, "seriesResistance", seriesResistance, agedResistance)
	if err := f.Err(); err != nil {
		return 0, 0, err
	}
	return agedCapacitance, agedResistance, nil
}

// Validate returns nil, or an error with every field outside its domain.
func (a Ageing) Validate() error {
	var f profile.Faults
	a.check(&f)
	return f.Err()
}

func (a Ageing) check(f *profile.Faults) {
	if !(a.CapacitanceLoss >= 0 && a.CapacitanceLoss < 1) {
		f.Add("capacitanceLoss", a.CapacitanceLoss, ">= 0 and < 1")
	}
	if !(a.LossFactor >= 1 && a.LossFactor <= maxFinite) {
		f.Add("lossFactor", a.LossFactor, "finite and >= 1")
	}
}
