package energy

import "example.com/headroom/profile"

// Mechanism turns the rotation of a shaft into the motion of the load. It is one of
// [Screw], [Belt], [RackPinion], [RollerConveyor], [HoistDrum], [Direct] and
// [CrankSlider], which move a mass, and of [Rotary], which turns an inertia. All but
// the crank have a constant ratio.
type Mechanism interface {
	Validate() error

	// link returns the mechanism as a stage whose output speed is that of the
	// load [m/s | rad/s]: its ratio is 1/r, r being the travel per radian. Where r
	// varies it is the largest.
	link() Stage
	// linear reports whether the load moves in m.
	linear() bool
}

// checkMechanism names the mechanisms one by one, because a nil pointer to one of
// them would also satisfy the interface.
func checkMechanism(m Mechanism) error {
	switch m := m.(type) {
	case Screw:
		return m.Validate()
	case Belt:
		return m.Validate()
	case RackPinion:
		return m.Validate()
	case RollerConveyor:
		return m.Validate()
	case HoistDrum:
		return m.Validate()
	case Direct:
		return m.Validate()
	case CrankSlider:
		return m.Validate()
	case Rotary:
		return m.Validate()
	}
	var f profile.Faults
	f.Add("", nil, "a Screw, Belt, RackPinion, RollerConveyor, HoistDrum, Direct, CrankSlider or Rotary")
	return f.Err()
}
