package thermal

import (
	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// BrakeResistor is the thermal rating of the resistor that burns the energy
// which braking axes return. The zero value is invalid.
type BrakeResistor struct {
	Continuous float64 // continuous power rating, in its rated ambient [W], > 0
	Derating   float64 // share of Continuous that holds in the ambient of the machine [1], > 0 to 1; 1 in the rated ambient
	Pulse      float64 // energy that a single pulse may bring, for its length and the rest after it [J], > 0
}

// resistorTolerance is the power below zero, relative to the largest, that is
// taken as rounding.
const resistorTolerance = 1e-9

// Average holds the mean of the power into the resistor over one cycle [W] against the
// continuous rating times the derating. The power must not be negative anywhere.
//
// The mean is a fair figure when the cycle is short against the time constant of
// the resistor; hold the energy of each stop against the pulse rating besides.
func (r BrakeResistor) Average(power profile.Curve) (energy.Loading, error) {
	var f profile.Faults
	r.check(&f)
	checkCurve(&f, "power", power)
	if err := f.Err(); err != nil {
		return energy.Loading{}, err
	}
	lowest, highest := power.Extrema()
	if !(lowest.V >= -resistorTolerance*highest.V) {
		f.Add("power", lowest.V, ">= 0 W all along: a resistor returns nothing")
		return energy.Loading{}, f.Err()
	}
	return newLoading("power", max(0, power.Mean()), r.Continuous*r.Derating)
}

// SingleStop holds the energy of one stop [J], >= 0, against the pulse rating. A
// pulse rating holds for a stated length of pulse and time to cool after it; a
// stop that is shorter, or follows sooner, needs the maker's curve.
func (r BrakeResistor) SingleStop(burned float64) (energy.Loading, error) {
	var f profile.Faults
	r.check(&f)
	f.NonNegative("energy", burned, "J")
	if err := f.Err(); err != nil {
		return energy.Loading{}, err
	}
	return newLoading("energy", burned, r.Pulse)
}

// Validate returns nil, or an error with every field outside its domain.
func (r BrakeResistor) Validate() error {
	var f profile.Faults
	r.check(&f)
	return f.Err()
}

func (r BrakeResistor) check(f *profile.Faults) {
	f.Positive("continuous", r.Continuous, "W")
	if !(r.Derating > 0 && r.Derating <= 1) {
		f.Add("derating", r.Derating, "> 0 and <= 1; 1 in the rated ambient")
	}
	f.Positive("pulse", r.Pulse, "J")
}
