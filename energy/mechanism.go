package energy

import "example.com/headroom/profile"

// Mechanism turns the rotation of a shaft into the motion of the load at a
// constant ratio. It is one of [Screw], [Belt] and [Rotary].
type Mechanism interface {
	Validate() error

	// link returns the mechanism as a stage whose output speed is that of the
	// load [m/s | rad/s]: its ratio is 1/r, r being the travel per radian.
	link() Stage
	// linear reports whether the load moves in m.
	linear() bool
}

// checkMechanism names the mechanisms one by one, because a nil pointer to one of
// them would also satisfy the interface.
func checkMechanism(m Mechanism) error {
	switch m.(type) {
	case Screw, Belt, Rotary:
		return m.Validate()
	}
	var f profile.Faults
	f.Add("", nil, "a Screw, Belt or Rotary")
	return f.Err()
}
