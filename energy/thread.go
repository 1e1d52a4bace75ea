package energy

import (
	"math"

	"example.com/headroom/profile"
)

// Thread is the geometry and the friction of a sliding screw with a thrust collar.
type Thread struct {
	Lead           float64 // travel per revolution: pitch times starts [m/rev], > 0
	MeanDiameter   float64 // diameter at mid-height of the thread [m], > 0
	FlankAngle     float64 // angle of the flank to a plane across the screw [rad], 0 (square thread) to below π/2; half the thread's angle
	Friction       float64 // coefficient of friction in the thread, >= 0
	CollarDiameter float64 // mean diameter of the collar's contact [m], >= 0; 0: rolling bearing
	CollarFriction float64 // coefficient of friction at the collar, >= 0
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range. A thread so rough that no torque can raise a load is refused.
func (t Thread) Validate() error {
	var f profile.Faults
	checkPositive(&f, "lead", t.Lead, "m/rev")
	checkPositive(&f, "meanDiameter", t.MeanDiameter, "m")
	if !(t.FlankAngle >= 0 && t.FlankAngle < math.Pi/2) {
		f.Add("flankAngle", t.FlankAngle, "from 0 to below π/2 rad")
	}
	checkNonNegative(&f, "friction", t.Friction, "")
	checkNonNegative(&f, "collarDiameter", t.CollarDiameter, "m")
	checkNonNegative(&f, "collarFriction", t.CollarFriction, "")
	if err := f.Err(); err != nil {
		return err
	}
	if limit := math.Cos(t.FlankAngle) / t.tanLead(); !(t.Friction < limit) {
		f.Add("friction", t.Friction, "less than cos(flank angle)/tan(lead angle), where the thread jams")
	}
	return f.Err()
}

func (t Thread) tanLead() float64 { return t.Lead / (math.Pi * t.MeanDiameter) }

// Efficiency returns the efficiency of the screw when it raises a load and when
// the load drives it back. With the lead angle λ, tan λ = lead/(π dm), the flank
// angle β and f' = f/cos β, the torques to raise and to lower a load F are
//
//	Traise = F dm/2 (tan λ + f')/(1 - f' tan λ) + F fc dc/2
//	Tlower = F dm/2 (f' - tan λ)/(1 + f' tan λ) + F fc dc/2
//
// and the efficiencies
//
//	forward = F lead/(2π Traise)
//	back    = -Tlower 2π/(F lead)
//
// back is negative when the screw is self-locking: lowering takes torque. The
// torques are eqs. 8-1 to 8-6 of Shigley, Mechanical Engineering Design (equation
// numbers FROM MEMORY).
func (t Thread) Efficiency() (forward, back float64, err error) {
	if err := t.Validate(); err != nil {
		return 0, 0, err
	}
	tan := t.tanLead()
	fr := t.Friction / math.Cos(t.FlankAngle)
	// All torques in units of F dm/2; F lead/2π is then tan λ.
	collar := t.CollarFriction * t.CollarDiameter / t.MeanDiameter
	raise := (tan+fr)/(1-fr*tan) + collar
	lower := (fr-tan)/(1+fr*tan) + collar
	forward, back = tan/raise, -lower/tan
	var f profile.Faults
	checkPositive(&f, "efficiency", forward, "")
	checkFinite(&f, "backEfficiency", back, "")
	return forward, back, f.Err()
}
