package energy

import (
	"math"

	"example.com/headroom/profile"
)

// StandardGravity is the standard acceleration of free fall [m/s²], exact by
// definition of the 3rd General Conference on Weights and Measures (1901).
const StandardGravity = 9.80665

// Load is what an axis moves, at the output of its mechanism. Exactly one of Mass
// and Inertia is given: Mass for a linear axis, Inertia for a rotary one. A load
// without either has no honest default and is refused.
type Load struct {
	Mass     float64 // moving mass of a linear axis [kg], > 0; it has weight
	Inertia  float64 // moment of inertia of a rotary axis [kg·m²], > 0; balanced, so without weight
	Coulomb  float64 // dry friction [N | N·m], >= 0, opposes motion
	Viscous  float64 // viscous friction [N·s/m | N·m·s/rad], >= 0, opposes motion
	Incline  float64 // direction of positive motion above the horizontal [rad], -π/2 to π/2; π/2 is straight up; linear only
	External float64 // constant force or torque from outside [N | N·m], positive opposes positive motion
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (l Load) Validate() error {
	var f profile.Faults
	switch {
	case l.Inertia == 0:
		checkPositive(&f, "mass", l.Mass, "kg (or an inertia, for a rotary axis)")
	case l.Mass == 0:
		checkPositive(&f, "inertia", l.Inertia, "kg·m²")
		checkWithin(&f, "incline", l.Incline, 0, 0, "rad with an inertia: a rotary load has no weight to lift")
	default:
		f.Add("inertia", l.Inertia, "0 with a mass: a load has a mass or an inertia")
		checkPositive(&f, "mass", l.Mass, "kg")
	}
	checkNonNegative(&f, "coulomb", l.Coulomb, "N or N·m")
	checkNonNegative(&f, "viscous", l.Viscous, "N·s/m or N·m·s/rad")
	checkWithin(&f, "incline", l.Incline, -math.Pi/2, math.Pi/2, "rad")
	checkFinite(&f, "external", l.External, "N or N·m")
	return f.Err()
}

func (l Load) linear() bool { return l.Mass != 0 }

// inert returns what resists acceleration [kg | kg·m²]; the other one is 0.
func (l Load) inert() float64 { return l.Mass + l.Inertia }

// weight returns the part of the weight that opposes positive motion [N].
func (l Load) weight() float64 { return l.Mass * StandardGravity * math.Sin(l.Incline) }
