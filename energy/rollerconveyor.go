package energy

import "example.com/headroom/profile"

// RollerConveyor carries a load on driven rollers that all turn with it, and on idle
// rollers that the load turns. The load does not slip on them: the force at the
// circumference of the driven rollers, the load's M a, friction and weight along the
// track, has to stay below the friction on the weight that rests on them, which is
// not tested. All rollers are equal, and at the load's speed v
//
//	w = 2 v/Diameter    J = (Driven + Idle) RollerInertia    drag = (Driven + Idle) RollerDrag
//
// The rolling friction of the goods and what the bearings add under weight is the
// Coulomb friction of the load. The chain or belt that joins the rollers to one
// another, with its efficiency, is a [Stage]; it stands before all rollers, so the
// torque that turns the idle ones passes through it too.
type RollerConveyor struct {
	Diameter      float64 // of the rollers [m], > 0
	Driven        int     // number of driven rollers that turn together, 1 to 10000
	Idle          int     // number of idle rollers under the load, 0 to 10000
	RollerInertia float64 // moment of inertia of one roller [kg·m²], >= 0
	RollerDrag    float64 // friction torque of one roller without load [N·m], >= 0
}

// maxRollers bounds the rollers of a conveyor.
const maxRollers = 10000

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (c RollerConveyor) Validate() error {
	var f profile.Faults
	checkPositive(&f, "diameter", c.Diameter, "m")
	if c.Driven < 1 || c.Driven > maxRollers {
		f.Add("driven", c.Driven, "1 to 10000 rollers")
	}
	if c.Idle < 0 || c.Idle > maxRollers {
		f.Add("idle", c.Idle, "0 to 10000 rollers")
	}
	checkNonNegative(&f, "rollerInertia", c.RollerInertia, "kg·m²")
	checkNonNegative(&f, "rollerDrag", c.RollerDrag, "N·m")
	return f.Err()
}

func (c RollerConveyor) link() Stage {
	n := float64(c.Driven + c.Idle)
	return Stage{2 / c.Diameter, 1, 1, n * c.RollerInertia, n * c.RollerDrag}
}

func (RollerConveyor) linear() bool { return true }
