package energy

import "example.com/headroom/profile"

// Rotary is a table or arm that turns with the output shaft of the last stage: a
// turntable, a roller, a swivel. Its efficiencies mean what they mean for a
// [Stage]; a table in plain bearings of negligible loss has Efficiency 1.
type Rotary struct {
	Efficiency     float64 // motor drives load, > 0, at most 1
	BackEfficiency float64 // load drives motor, at most 1; 0: not given, 2 - 1/Efficiency
	Inertia        float64 // moment of inertia of shaft and table [kg·m²], >= 0, besides that of the load
	Drag           float64 // friction torque of the table's bearing and seal [N·m], >= 0
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (r Rotary) Validate() error {
	var f profile.Faults
	checkTransmission(&f, r.Efficiency, r.BackEfficiency, r.Inertia, r.Drag)
	return f.Err()
}

func (r Rotary) link() Stage {
	return Stage{1, r.Efficiency, r.BackEfficiency, r.Inertia, r.Drag}.link()
}

func (Rotary) linear() bool { return false }
