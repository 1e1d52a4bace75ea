package energy

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// HoistDrum lifts a load by a rope that winds onto a drum. With n falls of rope
// between the upper block and the load, the drum's circumference runs n times as fast
// as the load, and the torque to hold a weight W without friction is W D/(2 n).
//
// The load hangs: its weight acts whatever its Incline says, which must be 0 (not
// given) or π/2, and positive motion is up. A rope cannot push: a motion that would
// make it slack, downwards faster than the load falls by itself, is refused.
// [Reeving] gives the efficiencies of blocks from those of their sheaves.
//
// A hoist needs a brake, and a lifting appliance is subject to codes of its own (ropes,
// drum and sheave diameters, overload, slack rope): they and licensed practice decide,
// not these figures.
type HoistDrum struct {
	Diameter       float64 // of the drum to the centre of the rope [m], > 0; the mean one if there are layers
	Falls          int     // falls of rope that carry the load, 1 to 64
	Efficiency     float64 // of drum and blocks, motor lifts load, > 0, at most 1
	BackEfficiency float64 // load drives motor, at most 1; 0: not given, 2 - 1/Efficiency
	Inertia        float64 // moment of inertia of the drum, with sheaves and rope reduced to it [kg·m²], >= 0
	Drag           float64 // friction torque of the drum without load [N·m], >= 0
}

// maxFalls bounds the falls of a rope.
const maxFalls = 64

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (h HoistDrum) Validate() error {
	var f profile.Faults
	checkPositive(&f, "diameter", h.Diameter, "m")
	checkFalls(&f, h.Falls)
	checkTransmission(&f, h.Efficiency, h.BackEfficiency, h.Inertia, h.Drag)
	return f.Err()
}

func checkFalls(f *profile.Faults, n int) {
	if n < 1 || n > maxFalls {
		f.Add("falls", n, fmt.Sprintf("1 to %d", maxFalls))
	}
}

func (h HoistDrum) link() Stage {
	return Stage{2 * float64(h.Falls) / h.Diameter, h.Efficiency, h.BackEfficiency, h.Inertia, h.Drag}.link()
}

func (HoistDrum) linear() bool { return true }

// Reeving is the way of a hoist's rope over its sheaves.
type Reeving struct {
	Falls  int     // falls of rope that carry the load, 1 to 64
	Guide  int     // sheaves between the blocks and the drum that only turn the rope, 0 to 64
	Sheave float64 // efficiency of one sheave, above 0, at most 1; about 0.98 on rolling and 0.96 on plain bearings (common practice, no source)
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (r Reeving) Validate() error {
	var f profile.Faults
	checkFalls(&f, r.Falls)
	if r.Guide < 0 || r.Guide > maxFalls {
		f.Add("guide", r.Guide, fmt.Sprintf("0 to %d", maxFalls))
	}
	if !(r.Sheave >= 0.1 && r.Sheave <= 1) {
		f.Add("sheave", r.Sheave, "from 0.1 to 1")
	}
	return f.Err()
}

// Efficiency returns the efficiency of the rope drive when it lifts and when the
// load drives it. At each sheave of efficiency q the pull falls to q times what it was
// before, from the drum onwards when lifting and towards it when lowering; the
// falls carry the load together, so that with n falls and m guide sheaves
//
//	forward = q^m (1 + q + … + q^(n-1))/n = q^m (1-qⁿ)/(n (1-q))
//	back    = q^m n/(1 + 1/q + … + 1/q^(n-1)) = q^m n q^(n-1) (1-q)/(1-qⁿ)
//
// The forward one is the efficiency of a rope drive of DIN 15020 part 1 (FROM MEMORY),
// the back one the same sum the other way round (own derivation). The sheave from
// which the rope leaves the blocks for the drum is a guide sheave when it is not on
// the moving block.
func (r Reeving) Efficiency() (forward, back float64, err error) {
	if err := r.Validate(); err != nil {
		return 0, 0, err
	}
	up, down, q := 0.0, 0.0, 1.0
	for range r.Falls {
		up += q
		down += 1 / q
		q *= r.Sheave
	}
	n, guide := float64(r.Falls), math.Pow(r.Sheave, float64(r.Guide))
	forward, back = guide*up/n, guide*n/down
	var f profile.Faults
	checkPositive(&f, "efficiency", forward, "")
	checkPositive(&f, "backEfficiency", back, "")
	return forward, back, f.Err()
}
