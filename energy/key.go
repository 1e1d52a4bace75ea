package energy

import (
	"math"

	"example.com/headroom/profile"
)

// KeySection is the cross-section of a parallel key and the depths of its keyways.
type KeySection struct {
	Width      float64 // b [m], > 0
	Height     float64 // h [m], > 0
	ShaftDepth float64 // depth of the keyway in the shaft t1 [m], > 0 and less than Height
	HubDepth   float64 // depth of the keyway in the hub t2 [m], >= 0; of no influence on the capacity
}

// standardKeys is DIN 6885-1, form A and B, for shaft diameters above one row's
// limit up to the next one's, all in mm. The rows from 17 to 58 mm are LOOKED UP-2,
// the others FROM MEMORY.
var standardKeys = [...]struct {
	upTo, b, h, t1, t2 float64
}{
	{8, 2, 2, 1.2, 1.0},
	{10, 3, 3, 1.8, 1.4},
	{12, 4, 4, 2.5, 1.8},
	{17, 5, 5, 3.0, 2.3},
	{22, 6, 6, 3.5, 2.8},
	{30, 8, 7, 4.0, 3.3},
	{38, 10, 8, 5.0, 3.3},
	{44, 12, 8, 5.0, 3.3},
	{50, 14, 9, 5.5, 3.8},
	{58, 16, 10, 6.0, 4.3},
	{65, 18, 11, 7.0, 4.4},
	{75, 20, 12, 7.5, 4.9},
}

const (
	smallestKeyed = 6 * millimetre // shaft diameter, not included
	largestKeyed  = 75 * millimetre
	millimetre    = 1e-3
	diameterSlack = 1e-9 // relative, for diameters that were converted from other units
)

// StandardKey returns the parallel key that DIN 6885-1 pairs with a shaft of the
// given diameter [m], above 6 mm up to 75 mm. Shafts above 12 mm up to 58 mm are
// LOOKED UP-2: read in two tables that agree, not in the standard itself. The
// smaller and larger ones are FROM MEMORY; check them in the standard. Motors of
// other frames may carry a smaller key than the standard's for their shaft.
func StandardKey(shaftDiameter float64) (KeySection, error) {
	if shaftDiameter > smallestKeyed*(1+diameterSlack) {
		for _, k := range standardKeys {
			if shaftDiameter <= k.upTo*millimetre*(1+diameterSlack) {
				return KeySection{k.b * millimetre, k.h * millimetre, k.t1 * millimetre, k.t2 * millimetre}, nil
			}
		}
	}
	var f profile.Faults
	f.Add("shaftDiameter", shaftDiameter, "above 0.006 and at most 0.075 m")
	return KeySection{}, f.Err()
}

// ParallelKey is one parallel key between shaft and hub.
type ParallelKey struct {
	ShaftDiameter   float64 // d [m], > 0
	Section         KeySection
	EffectiveLength float64 // length over which the flanks bear l [m], > 0: with round ends, the key's length less its width
	Pressure        float64 // permissible bearing pressure p of the weakest of key, shaft and hub [Pa], > 0
	Shear           float64 // permissible shear stress of the key τ [Pa], > 0
	SetScrew        bool    // the hub is kept on the shaft by a set screw, with a sliding fit
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (k ParallelKey) Validate() error {
	var f profile.Faults
	checkPositive(&f, "shaftDiameter", k.ShaftDiameter, "m")
	checkPositive(&f, "section.width", k.Section.Width, "m")
	checkPositive(&f, "section.height", k.Section.Height, "m")
	checkPositive(&f, "section.shaftDepth", k.Section.ShaftDepth, "m")
	checkNonNegative(&f, "section.hubDepth", k.Section.HubDepth, "m")
	checkPositive(&f, "effectiveLength", k.EffectiveLength, "m")
	checkPositive(&f, "pressure", k.Pressure, "Pa")
	checkPositive(&f, "shear", k.Shear, "Pa")
	if f.Err() == nil {
		if k.Section.Width >= k.ShaftDiameter {
			f.Add("section.width", k.Section.Width, "less than the shaft's diameter")
		}
		if k.Section.ShaftDepth >= k.Section.Height {
			f.Add("section.shaftDepth", k.Section.ShaftDepth, "less than the key's height")
		}
		if k.Section.ShaftDepth >= k.ShaftDiameter/2 {
			f.Add("section.shaftDepth", k.Section.ShaftDepth, "less than the shaft's radius")
		}
	}
	return f.Err()
}

// BearingCapacity returns the torque [N·m] at which the flanks bear the permissible
// pressure,
//
//	T = d/2 p l min(h - t1, t1)
//
// the key standing h - t1 out of the shaft, which in standard sections is less than
// the t1 in it. The pressure is taken as even, and the lever as the shaft's radius
// (any handbook of machine elements; method C of DIN 6892 is the like, FROM MEMORY).
// Chamfers shorten the flank and are left out.
func (k ParallelKey) BearingCapacity() (float64, error) {
	if err := k.Validate(); err != nil {
		return 0, err
	}
	flank := math.Min(k.Section.Height-k.Section.ShaftDepth, k.Section.ShaftDepth)
	return k.ShaftDiameter / 2 * k.Pressure * k.EffectiveLength * flank, nil
}

// ShearCapacity returns the torque [N·m] at which the key bears the permissible
// shear stress,
//
//	T = d/2 τ b l
func (k ParallelKey) ShearCapacity() (float64, error) {
	if err := k.Validate(); err != nil {
		return 0, err
	}
	return k.ShaftDiameter / 2 * k.Shear * k.Section.Width * k.EffectiveLength, nil
}

// Capacity returns the lesser of [ParallelKey.BearingCapacity] and
// [ParallelKey.ShearCapacity] [N·m].
func (k ParallelKey) Capacity() (float64, error) {
	bearing, err := k.BearingCapacity()
	if err != nil {
		return 0, err
	}
	shear, err := k.ShearCapacity()
	return math.Min(bearing, shear), err
}
