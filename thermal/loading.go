package thermal

import (
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// RMSLoading holds the RMS value of a load over one cycle against its continuous
// rating: torque [N·m] against continuous torque, or current [A] against
// continuous current.
//
//	RMS = √( 1/T ∫ load² dt )
//
// Copper loss is proportional to the square, so the winding is heated as by a
// constant load of this size. A curve made of blocks and ramps
// ([profile.NewCurve]) is integrated exactly.
//
// Which torque: the heat comes from the electromagnetic torque; ratings usually
// quote torque at the shaft, which is smaller by the drag. Give both in the same
// sense. The rating is the one for the speed of the cycle, not only that at
// standstill, and for the ambient temperature of the machine.
//
// The RMS value says nothing about a peak inside a cycle that is long against
// the thermal time constant of the winding.
func RMSLoading(load profile.Curve, rating float64) (energy.Loading, error) {
	var f profile.Faults
	checkCurve(&f, "load", load)
	f.Positive("rating", rating, "")
	if err := f.Err(); err != nil {
		return energy.Loading{}, err
	}
	return newLoading("load", load.RMS(), rating)
}

// newLoading holds value against a limit > 0; path names the input that value
// comes from.
func newLoading(path string, value, limit float64) (energy.Loading, error) {
	l := energy.Loading{Value: value, Limit: limit, Margin: limit - value, Ratio: value / limit}
	var f profile.Faults
	if needFinite(&f, path, value, l.Value, l.Margin, l.Ratio); f.Err() != nil {
		return energy.Loading{}, f.Err()
	}
	return l, nil
}

func checkCurve(f *profile.Faults, path string, c profile.Curve) {
	if !(c.Duration() > 0) {
		f.Add(path, "no duration", "a curve of at least one piece")
	}
}

// needFinite records a fault at path, where input is the value given there,
// unless all results are finite.
func needFinite(f *profile.Faults, path string, input float64, results ...float64) {
	for _, r := range results {
		if math.IsNaN(r) || math.IsInf(r, 0) {
			f.Add(path, input, "a size that gives a finite result")
			return
		}
	}
}
