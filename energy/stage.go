package energy

import "example.com/headroom/profile"

// Stage is one gear stage: gears, a toothed belt between two shafts, a worm.
//
// Efficiency is the share of the power that arrives when the motor drives the
// load, BackEfficiency when the load drives the motor; at equal load torque the
// input torque is tL/(N Efficiency) or tL BackEfficiency/N.
//
// A BackEfficiency of 0 means that it is not given, and
//
//	BackEfficiency = 2 - 1/Efficiency
//
// is used: the friction torque is then the same in both directions for the same
// load torque, since 1/ef - 1 = 1 - eb. For screws and worms this is common
// practice (FROM MEMORY); it is kept for gears and belts (own choice, no source)
// because there too the force between the teeth follows from the load torque,
// whichever side drives. The other habit, equal efficiency both ways, differs by
// (1-ef)²/ef: 0.3 % at ef = 0.95, and it returns more energy. Enter it where the
// highest returned energy matters. A negative BackEfficiency is a self-locking
// stage: the motor has to drive the load even where the load pulls.
type Stage struct {
	Ratio          float64 // input speed over output speed, > 0; above 1 the motor turns faster
	Efficiency     float64 // motor drives load, > 0, at most 1
	BackEfficiency float64 // load drives motor, at most 1; 0: not given; negative: self-locking
	Inertia        float64 // moment of inertia of what turns with the input [kg·m²], >= 0
	Drag           float64 // load-independent friction torque at the input [N·m], >= 0, opposes motion
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (s Stage) Validate() error {
	var f profile.Faults
	checkPositive(&f, "ratio", s.Ratio, "")
	checkTransmission(&f, s.Efficiency, s.BackEfficiency, s.Inertia, s.Drag)
	return f.Err()
}

// link returns the stage with its back-driving efficiency made explicit.
func (s Stage) link() Stage {
	if s.BackEfficiency == 0 {
		s.BackEfficiency = 2 - 1/s.Efficiency
	}
	return s
}

// checkTransmission checks what stages and mechanisms have in common.
func checkTransmission(f *profile.Faults, efficiency, back, inertia, drag float64) {
	if !(efficiency >= smallest && efficiency <= 1) {
		f.Add("efficiency", efficiency, "> 0 and at most 1")
	}
	checkWithin(f, "backEfficiency", back, -largest, 1, "(0: not given)")
	checkNonNegative(f, "inertia", inertia, "kg·m²")
	checkNonNegative(f, "drag", drag, "N·m")
}
