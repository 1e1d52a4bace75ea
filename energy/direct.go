package energy

// Direct is a linear motor that moves the load without any rotation in between. Motor
// and load then share one speed, and whatever the motor has per radian it has per
// metre, whatever it has as a torque it has as a force:
//
//	Winding.Kt      N/A           Winding.Km    N/√W
//	DragTorque      N             MaxSpeed      m/s
//	DragPerSpeed    N·s/m         DragPerSpeedSquared  N·s²/m²
//	peak and continuous torque    N
//
// and so in the result: [Trace.Speed] is in m/s, [Trace.Torque] and [Trace.RatedTorque]
// in N. In the equations of this package the travel per radian is 1. Powers and the
// book need no such care.
//
// The moving part of the motor is part of the load's Mass, because it has weight;
// RotorInertia must be 0. There are no stages. Magnetic attraction presses on the
// guides: its friction belongs to the load's Coulomb friction.
//
// A rotary motor on the axis of a table, without gears, is a [Rotary] without stages.
type Direct struct{}

// Validate returns nil: there is nothing that could be wrong.
func (Direct) Validate() error { return nil }

func (Direct) link() Stage { return Stage{Ratio: 1, Efficiency: 1, BackEfficiency: 1} }

func (Direct) linear() bool { return true }
