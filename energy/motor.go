package energy

import "example.com/headroom/profile"

// Motor is a servo motor. Its drag opposes motion at any load:
//
//	drag(w) = sign(w) (DragTorque + DragPerSpeed |w| + DragPerSpeedSquared w²)
//
// bearings and seals, hysteresis and eddy currents of the iron, windage. Data
// sheets rate the shaft torque, which is the electromagnetic torque less this drag.
type Motor struct {
	RotorInertia        float64 // moment of inertia of rotor, brake and encoder [kg·m²], >= 0
	DragTorque          float64 // constant part of the drag [N·m], >= 0
	DragPerSpeed        float64 // part that grows with speed [N·m·s/rad], >= 0
	DragPerSpeedSquared float64 // part that grows with its square [N·m·s²/rad²], >= 0
	Winding             Winding // torque and copper loss

	ContinuousTorque float64 // shaft torque that may last [N·m], 0: not given
	PeakTorque       float64 // highest shaft torque [N·m], at least ContinuousTorque; 0: not given
	MaxSpeed         float64 // highest speed [rad/s], 0: not given
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (m Motor) Validate() error { return m.validate() }

func (m *Motor) validate() error {
	var f profile.Faults
	checkNonNegative(&f, "rotorInertia", m.RotorInertia, "kg·m²")
	checkNonNegative(&f, "dragTorque", m.DragTorque, "N·m")
	checkNonNegative(&f, "dragPerSpeed", m.DragPerSpeed, "N·m·s/rad")
	checkNonNegative(&f, "dragPerSpeedSquared", m.DragPerSpeedSquared, "N·m·s²/rad²")
	f.Under("winding", m.Winding.Validate())
	checkNonNegative(&f, "continuousTorque", m.ContinuousTorque, "N·m")
	checkNonNegative(&f, "peakTorque", m.PeakTorque, "N·m")
	checkNonNegative(&f, "maxSpeed", m.MaxSpeed, "rad/s")
	if m.PeakTorque > 0 && m.PeakTorque < m.ContinuousTorque {
		f.Add("peakTorque", m.PeakTorque, "at least the continuous torque")
	}
	return f.Err()
}
