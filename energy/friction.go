package energy

import "example.com/headroom/profile"

// Friction is friction that acts in one direction of motion only, besides that which
// a [Load] has in both:
//
//	F = Coulomb + Viscous |v|, against the motion
//
// A wiper that drags more on the way back, or a guide that a lever arm tilts one
// way, has it.
type Friction struct {
	Coulomb float64 // dry friction [N | N·m], >= 0
	Viscous float64 // viscous friction [N·s/m | N·m·s/rad], >= 0
}

func (r Friction) check(f *profile.Faults, path string) {
	if r == (Friction{}) {
		return
	}
	var own profile.Faults
	checkNonNegative(&own, "coulomb", r.Coulomb, "N or N·m")
	checkNonNegative(&own, "viscous", r.Viscous, "N·s/m or N·m·s/rad")
	f.Under(path, own.Err())
}

// friction returns the dry [N | N·m] and the viscous friction [N·s/m | N·m·s/rad] of
// the load while it moves in a direction, 1 or -1.
func (l *Load) friction(direction float64) (dry, viscous float64) {
	r := &l.Plus
	if direction < 0 {
		r = &l.Minus
	}
	return l.Coulomb + r.Coulomb, l.Viscous + r.Viscous
}

// static returns the friction at standstill [N | N·m] against a start in a direction,
// 1 or -1.
func (l *Load) static(direction float64) float64 {
	if l.Breakaway != 0 {
		return l.Breakaway
	}
	dry, _ := l.friction(direction)
	return dry
}
