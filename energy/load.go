package energy

import (
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// StandardGravity is the standard acceleration of free fall [m/s²], exact by
// definition of the 3rd General Conference on Weights and Measures (1901).
const StandardGravity = 9.80665

// Load is what an axis moves, at the output of its mechanism. Exactly one of Mass
// and Inertia is given: Mass for a linear axis, Inertia for a rotary one. A load
// without either has no honest default and is refused.
//
// The force from outside is the sum of its three parts, each positive where it
// opposes positive motion: External, what the table has at the position, and what
// the curve has at the time since the motion began.
//
// The slices of ExternalByPosition are the caller's and must not change while the
// load is in use.
type Load struct {
	Mass      float64  // moving mass of a linear axis [kg], > 0; it has weight
	Inertia   float64  // moment of inertia of a rotary axis [kg·m²], > 0; balanced, so without weight
	Coulomb   float64  // dry friction [N | N·m], >= 0, opposes motion
	Viscous   float64  // viscous friction [N·s/m | N·m·s/rad], >= 0, opposes motion
	Plus      Friction // friction besides, only while it moves in the positive direction
	Minus     Friction // friction besides, only while it moves in the negative direction
	Breakaway float64  // static friction at standstill [N | N·m], at least the dry friction of either direction; 0: equal to it; see [Axis.Holding] and [Axis.Starts]
	Incline   float64  // direction of positive motion above the horizontal [rad], -π/2 to π/2; π/2 is straight up; linear only
	External  float64  // constant force or torque from outside [N | N·m], positive opposes positive motion

	ExternalByPosition ForceTable     // further force from outside against position; empty: none
	ExternalByTime     profile.Curve  // further force from outside [N | N·m] against time [s] since the start of the motion; 0 outside the curve; degree 12 at most
	Counterbalance     Counterbalance // what carries the weight; zero: none
}

// validate records a fault for every field outside its range.
func (l *Load) validate(f *profile.Faults) {
	switch {
	case l.Inertia == 0:
		checkPositive(f, "mass", l.Mass, "kg (or an inertia, for a rotary axis)")
	case l.Mass == 0:
		checkPositive(f, "inertia", l.Inertia, "kg·m²")
		checkWithin(f, "incline", l.Incline, 0, 0, "rad with an inertia: a rotary load has no weight to lift")
	default:
		f.Add("inertia", l.Inertia, "0 with a mass: a load has a mass or an inertia")
		checkPositive(f, "mass", l.Mass, "kg")
	}
	checkNonNegative(f, "coulomb", l.Coulomb, "N or N·m")
	checkNonNegative(f, "viscous", l.Viscous, "N·s/m or N·m·s/rad")
	l.Plus.check(f, "plus")
	l.Minus.check(f, "minus")
	if l.Breakaway != 0 {
		checkNonNegative(f, "breakaway", l.Breakaway, "N or N·m")
		if most := l.Coulomb + max(l.Plus.Coulomb, l.Minus.Coulomb); l.Breakaway > 0 && l.Breakaway < most {
			f.Add("breakaway", l.Breakaway, fmt.Sprintf("at least the dry friction, %g, or 0", most))
		}
	}
	checkWithin(f, "incline", l.Incline, -math.Pi/2, math.Pi/2, "rad")
	checkFinite(f, "external", l.External, "N or N·m")
	if len(l.ExternalByPosition.Position)+len(l.ExternalByPosition.Force) > 0 {
		f.Under("externalByPosition", l.ExternalByPosition.Validate())
	}
	if l.ExternalByTime.Pieces() > 0 {
		checkForceCurve(f, l.ExternalByTime)
	}
	if l.Counterbalance != (Counterbalance{}) {
		f.Under("counterbalance", l.Counterbalance.Validate())
	}
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (l Load) Validate() error {
	var f profile.Faults
	l.validate(&f)
	return f.Err()
}

// checkForceCurve refuses a force over time whose pieces are too high in degree or
// whose values are beyond those that a force may have.
func checkForceCurve(f *profile.Faults, c profile.Curve) {
	for i := range c.Pieces() {
		t0, t1, p := c.Piece(i)
		if n := degree(p); n >= maxTorque {
			f.Add("externalByTime", fmt.Sprintf("a piece of degree %d at %g s", n, t0), fmt.Sprintf("degree %d at most", maxTorque-1))
			return
		}
		if v := poly.EvalAbs(p, t1-t0); !(v <= largest) {
			f.Add("externalByTime", v, fmt.Sprintf("forces whose terms stay within %g N or N·m", largest))
			return
		}
	}
}

func (l *Load) linear() bool { return l.Mass != 0 }

// inert returns what resists acceleration [kg | kg·m²]: the load, of which only one
// of the two is given, and the counterweight.
func (l *Load) inert() float64 {
	return l.Mass + l.Inertia + l.Counterbalance.inert()
}

// weight returns the part of the weight that opposes positive motion [N].
func (l *Load) weight() float64 {
	if l.Incline == 0 {
		return 0
	}
	return l.Mass * StandardGravity * math.Sin(l.Incline)
}
