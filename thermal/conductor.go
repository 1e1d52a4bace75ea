package thermal

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Conductor describes how the resistance of a metal grows with temperature. It
// is the number k [K] in
//
//	R(T) / R(T0) = (k + T) / (k + T0)        T, T0 in °C
//
// so that a straight line through the resistance reaches zero at -k °C. The
// temperature coefficient at T is 1/(k+T). The law holds for the usual range of
// windings and cables; temperatures at or below -k °C are refused, and so is k
// outside 1 to 1e9 K.
type Conductor float64

// Conductors. In a struct field of type Conductor, 0 stands for Copper.
const (
	// Copper is annealed copper of 100 % conductivity: k = 234.5 K, the value
	// of the copper wire tables (NBS Handbook 100; from memory).
	Copper Conductor = 234.5

	// CopperIEC is copper as rounded by IEC 60034-1 clause 8.6.2 for the
	// resistance method (from memory): k = 235 K.
	CopperIEC Conductor = 235

	// AluminiumIEC is aluminium by the same clause (from memory): k = 225 K.
	AluminiumIEC Conductor = 225
)

// Ratio returns the resistance at temperature t [°C] over that at temperature
// from [°C]. Ohmic loss at a given current grows by this ratio; eddy loss at a
// given current falls by it.
func (c Conductor) Ratio(t, from float64) (float64, error) {
	var f profile.Faults
	c = c.checked(&f)
	c.temperature(&f, "t", t)
	c.temperature(&f, "from", from)
	if err := f.Err(); err != nil {
		return 0, err
	}
	r := c.ratio(t, from)
	if !(r > 0) || math.IsInf(r, 0) {
		f.Add("t", t, "a finite ratio to the resistance at from")
	}
	return r, f.Err()
}

func (c Conductor) ratio(t, from float64) float64 {
	return (float64(c) + t) / (float64(c) + from)
}

// checked returns the conductor, with Copper in place of 0 and of a bad one.
func (c Conductor) checked(f *profile.Faults) Conductor {
	if c >= 1 && c <= 1e9 {
		return c
	}
	if c != 0 {
		f.Add("conductor", float64(c), "0 for copper, or from 1 to 1e9 K")
	}
	return Copper
}

// temperature records a fault unless the resistance law holds at t.
func (c Conductor) temperature(f *profile.Faults, path string, t float64) bool {
	if t > -float64(c) && !math.IsInf(t, 1) {
		return true
	}
	f.Add(path, t, fmt.Sprintf("finite and > %g °C, where the resistance of the conductor would be zero", -float64(c)))
	return false
}
