package energy

import (
	"math"

	"example.com/headroom/profile"
)

// CubicMean returns the constant torque or force under which a bearing, a gear or a
// ball screw lives as long as under the given load at the given speed:
//
//	mean = ( ∫ |speed| |load|³ dt / ∫ |speed| dt )^⅓
//
// since its life in revolutions falls with the third power of the load (ISO 281 for
// ball bearings, exponent 10/3 for roller bearings; the mean is in any handbook of
// machine elements; both FROM MEMORY). It is in the unit of the load; the unit of
// the speed does not matter. Where nothing turns, nothing wears: without travel the
// mean is 0. Loads below 1e-15 count as none.
//
// The curves must cover the same time. load³ · speed must have a degree of at most
// 40 on each piece, which a motion of degree 7 keeps.
func CubicMean(load, speed profile.Curve) (float64, error) {
	var f profile.Faults
	peak, fastest := math.Abs(load.AbsMax().V), math.Abs(speed.AbsMax().V)
	checkMagnitude(&f, "load", peak)
	checkMagnitude(&f, "speed", fastest)
	if load.Pieces() == 0 {
		f.Add("load", nil, "a curve")
	}
	if speed.Pieces() == 0 {
		f.Add("speed", nil, "a curve")
	}
	if err := f.Err(); err != nil {
		return 0, err
	}
	if peak < smallest || fastest < smallest {
		return 0, nil
	}
	load, speed = load.Scale(1/peak), speed.Scale(1/fastest)
	square, err := profile.Product(load, load)
	if err != nil {
		return 0, err
	}
	power, err := profile.Product(load, speed)
	if err != nil {
		return 0, err
	}
	cube, err := profile.Product(square, power)
	if err != nil {
		return 0, err
	}
	travel := absIntegral(speed)
	if !(travel > 0) {
		return 0, nil
	}
	return peak * math.Cbrt(math.Min(1, absIntegral(cube)/travel)), nil
}

// absIntegral returns ∫ |c| dt.
func absIntegral(c profile.Curve) float64 {
	return c.Positive().Integral() - c.Negative().Integral()
}

func checkMagnitude(f *profile.Faults, path string, v float64) {
	if !(v <= largest) {
		f.Add(path, v, "a curve of magnitudes up to 1e+12")
	}
}
