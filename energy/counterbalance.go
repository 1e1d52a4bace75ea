package energy

import "example.com/headroom/profile"

// Counterbalance carries part of a load's weight, so that the motor need not. Its
// parts may be combined; at the position x its force on the load, positive in the
// direction of positive motion, is
//
//	A = Mass g Ratio + Stiffness (Relaxed - x) + Force
//
// and the energy that it has stored
//
//	E = -Mass g Ratio x + Stiffness (x - Relaxed)²/2 - Force x + const
//
// so that A = -dE/dx. The counterweight hangs, so its weight acts whatever the incline
// of the axis, falls by Ratio x while the load moves by x, and adds Mass Ratio² to what
// the axis has to accelerate (kinetic energy of a mass moving at Ratio v). Its rope is
// taken to stay taut, which it does while Ratio times the acceleration of the load
// stays below g: beyond that a counterweight jumps, and a spring or a constant force
// is the usual cure (common practice, no source).
//
// A rope that parts or a spring that breaks lets the load fall: what hangs needs a
// brake or a lock of its own, by local codes and licensed practice.
type Counterbalance struct {
	Mass      float64 // counterweight [kg], >= 0
	Ratio     float64 // its travel over that of the load [m/m | m/rad], > 0 with a Mass; 1 for a rope straight over a sheave
	Stiffness float64 // of a spring along the axis [N/m | N·m/rad], >= 0
	Relaxed   float64 // position of the load at which the spring has no force [m | rad]
	Force     float64 // constant force [N | N·m], as of a gas spring, positive in the direction of positive motion
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (c Counterbalance) Validate() error {
	var f profile.Faults
	checkNonNegative(&f, "mass", c.Mass, "kg")
	if c.Mass != 0 {
		checkPositive(&f, "ratio", c.Ratio, "travel of the counterweight over that of the load")
	} else {
		checkNonNegative(&f, "ratio", c.Ratio, "")
	}
	checkNonNegative(&f, "stiffness", c.Stiffness, "N/m or N·m/rad")
	checkFinite(&f, "relaxed", c.Relaxed, "m or rad")
	checkFinite(&f, "force", c.Force, "N or N·m")
	return f.Err()
}

// inert returns what the counterweight adds to the load [kg | kg·m²].
func (c *Counterbalance) inert() float64 { return c.Mass * c.Ratio * c.Ratio }

// steady returns the part of the force that does not change with position [N | N·m].
func (c *Counterbalance) steady() float64 { return c.Mass*StandardGravity*c.Ratio + c.Force }

// stored returns the increase of the stored energy from one position to another [J].
func (c *Counterbalance) stored(from, to float64) float64 {
	return (c.Stiffness*((from+to)/2-c.Relaxed) - c.steady()) * (to - from)
}
