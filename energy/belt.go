package energy

import "example.com/headroom/profile"

// Belt is a toothed belt that pulls a carriage. Its efficiencies mean what they
// mean for a [Stage].
type Belt struct {
	PitchDiameter  float64 // pitch diameter of the driven pulley [m], > 0
	Efficiency     float64 // motor drives load, > 0, at most 1
	BackEfficiency float64 // load drives motor, at most 1; 0: not given, 2 - 1/Efficiency
	Inertia        float64 // moment of inertia of all pulleys, reduced to the driven one [kg·m²], >= 0
	BeltMass       float64 // mass of the whole belt [kg], >= 0; it runs with the load but its weight is balanced
	Drag           float64 // friction torque without load, from tension and bearings [N·m], >= 0
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (b Belt) Validate() error {
	var f profile.Faults
	checkPositive(&f, "pitchDiameter", b.PitchDiameter, "m")
	checkTransmission(&f, b.Efficiency, b.BackEfficiency, b.Inertia, b.Drag)
	checkNonNegative(&f, "beltMass", b.BeltMass, "kg")
	return f.Err()
}

func (b Belt) link() Stage {
	r := b.PitchDiameter / 2
	return Stage{1 / r, b.Efficiency, b.BackEfficiency, b.Inertia + b.BeltMass*r*r, b.Drag}.link()
}

func (Belt) linear() bool { return true }
