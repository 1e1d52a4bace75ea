package energy

import "example.com/headroom/profile"

// RackPinion is a pinion that rolls along a rack: either one travels with the load,
// and its mass is part of the load. Travel per radian is half the pitch diameter,
//
//	d = z m/cos β
//
// with z teeth of the module m (normal module and helix angle β where the teeth are
// helical; geometry of the involute gear, ISO 21771, FROM MEMORY). The efficiencies
// mean what they mean for a [Stage].
type RackPinion struct {
	PitchDiameter  float64 // pitch diameter of the pinion [m], > 0
	Efficiency     float64 // motor drives load, > 0, at most 1
	BackEfficiency float64 // load drives motor, at most 1; 0: not given, 2 - 1/Efficiency
	Inertia        float64 // moment of inertia of pinion and shaft [kg·m²], >= 0
	Drag           float64 // friction torque without load, from preload and bearings [N·m], >= 0
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (r RackPinion) Validate() error {
	var f profile.Faults
	checkPositive(&f, "pitchDiameter", r.PitchDiameter, "m")
	checkTransmission(&f, r.Efficiency, r.BackEfficiency, r.Inertia, r.Drag)
	return f.Err()
}

func (r RackPinion) link() Stage {
	return Stage{2 / r.PitchDiameter, r.Efficiency, r.BackEfficiency, r.Inertia, r.Drag}.link()
}

func (RackPinion) linear() bool { return true }
