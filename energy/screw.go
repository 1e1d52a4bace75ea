package energy

import (
	"math"

	"example.com/headroom/profile"
)

// Screw is a ball screw, roller screw or sliding screw.
//
// Efficiency and BackEfficiency mean what they mean for a [Stage]: the screw torque
// that carries the load force F is F Lead/(2π Efficiency) when the motor drives, and
// F Lead BackEfficiency/(2π) when the load drives. [Thread.Efficiency] gives both for
// a sliding screw from its geometry and friction.
type Screw struct {
	Lead           float64 // travel per revolution [m/rev], > 0
	Efficiency     float64 // motor drives load, > 0, at most 1
	BackEfficiency float64 // load drives motor, at most 1; 0: not given, 2 - 1/Efficiency; negative: self-locking
	Inertia        float64 // moment of inertia of the screw or of the turning nut [kg·m²], >= 0
	Drag           float64 // friction torque without load, from preload and seals [N·m], >= 0
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (s Screw) Validate() error {
	var f profile.Faults
	checkPositive(&f, "lead", s.Lead, "m/rev")
	checkTransmission(&f, s.Efficiency, s.BackEfficiency, s.Inertia, s.Drag)
	return f.Err()
}

func (s Screw) link() Stage {
	return Stage{2 * math.Pi / s.Lead, s.Efficiency, s.BackEfficiency, s.Inertia, s.Drag}.link()
}

func (Screw) linear() bool { return true }
