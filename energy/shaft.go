package energy

import (
	"math"

	"example.com/headroom/profile"
)

// ShaftTorque returns the torque [N·m] that a shaft of the axis passes on towards
// the load during a motion, and its speed [rad/s]. Shaft 0 is that of the motor, so
// that its torque is what a coupling or joint on the motor carries: the shaft torque
// less what the rotor takes itself. Shaft k comes out of stage k-1; the last one,
// with k the number of stages, turns the mechanism, and the tension of its belt is
// this torque over the pulley's radius, own inertia, drag and loss included.
//
// The equations are those of [Axis.Trace], and so is the rule for standstill: while
// the axis holds, friction is taken to help, and a shaft may carry more.
func (a Axis) ShaftTorque(m profile.Motion, shaft int) (torque, speed profile.Curve, err error) {
	var f profile.Faults
	f.Under("", a.Validate())
	if shaft < 0 || shaft > len(a.Stages) {
		f.Add("shaft", shaft, "0 for the motor's shaft, up to the number of stages")
	}
	if err := f.Err(); err != nil {
		return torque, speed, err
	}
	// An axis that starts at this shaft, on a motor that takes nothing itself.
	winding, err := SinusoidalRMS(1, MotorConstant(1), 20)
	if err != nil {
		return torque, speed, err
	}
	tr, err := Axis{Load: a.Load, Mechanism: a.Mechanism, Stages: a.Stages[shaft:], Motor: Motor{Winding: winding}}.Trace(m)
	return tr.RatedTorque, tr.Speed, err
}

// TorqueDuty is what a gear stage, a belt or a coupling has to carry, all magnitudes.
type TorqueDuty struct {
	Mean          float64 // cubic mean over the cycle, see [CubicMean] [N·m], >= 0
	Peak          float64 // highest torque of the cycle [N·m], >= 0
	EmergencyStop float64 // highest torque of the emergency stop [N·m], >= 0
}

// TorqueDuty returns the duty of a shaft, numbered as in [Axis.ShaftTorque], over a
// cycle and over an emergency stop. The stop is the motion from the speed at which
// it sets in to rest; the empty motion stands for a stop that is not examined. A
// stop by a brake on the motor is a motion too, with the deceleration that the
// brake's torque gives; a collision is not.
func (a Axis) TorqueDuty(cycle, stop profile.Motion, shaft int) (TorqueDuty, error) {
	var d TorqueDuty
	torque, speed, err := a.ShaftTorque(cycle, shaft)
	if err != nil {
		return TorqueDuty{}, err
	}
	if torque.Pieces() == 0 {
		var f profile.Faults
		f.Add("cycle", nil, "a motion that takes time")
		return TorqueDuty{}, f.Err()
	}
	if d.Mean, err = CubicMean(torque, speed); err != nil {
		return TorqueDuty{}, err
	}
	d.Peak = math.Abs(torque.AbsMax().V)
	halt, _, err := a.ShaftTorque(stop, shaft)
	if err != nil {
		var f profile.Faults
		f.Under("stop", err)
		return TorqueDuty{}, f.Err()
	}
	d.EmergencyStop = math.Abs(halt.AbsMax().V)
	return d, nil
}

// TorqueRating is what a gear stage, a belt or a coupling may carry, as its maker
// rates it, at the shaft for which the maker does, mostly the output of a gear.
type TorqueRating struct {
	Mean          float64 // cubic mean of the torque, for its life [N·m]; 0: not given
	Peak          float64 // in every cycle [N·m]; 0: not given
	EmergencyStop float64 // a limited number of times in its life [N·m]; 0: not given

	// ServiceFactor multiplies the torques of the duty, > 0: 1 where the ratings hold
	// for the duty as it is. For couplings 1 to 1.5 is usual with smooth duty, 2 and
	// more with reversing duty or impacts (common practice, no source).
	ServiceFactor float64
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (r TorqueRating) Validate() error {
	var f profile.Faults
	checkNonNegative(&f, "mean", r.Mean, "N·m")
	checkNonNegative(&f, "peak", r.Peak, "N·m")
	checkNonNegative(&f, "emergencyStop", r.EmergencyStop, "N·m")
	checkPositive(&f, "serviceFactor", r.ServiceFactor, "")
	return f.Err()
}

// TorqueLoading holds a duty against a rating. A loading whose limit is not given is
// zero.
type TorqueLoading struct {
	Mean, Peak, EmergencyStop Loading
}

// Within reports whether all limits that are given are kept.
func (l TorqueLoading) Within() bool {
	return l.Mean.Within() && l.Peak.Within() && l.EmergencyStop.Within()
}

// Loading holds the duty, times the service factor, against the rating.
func (r TorqueRating) Loading(d TorqueDuty) (TorqueLoading, error) {
	var f profile.Faults
	f.Under("", r.Validate())
	checkNonNegative(&f, "duty.mean", d.Mean, "N·m")
	checkNonNegative(&f, "duty.peak", d.Peak, "N·m")
	checkNonNegative(&f, "duty.emergencyStop", d.EmergencyStop, "N·m")
	if err := f.Err(); err != nil {
		return TorqueLoading{}, err
	}
	k := r.ServiceFactor
	l := TorqueLoading{
		Mean:          against(&f, "duty.mean", k*d.Mean, r.Mean),
		Peak:          against(&f, "duty.peak", k*d.Peak, r.Peak),
		EmergencyStop: against(&f, "duty.emergencyStop", k*d.EmergencyStop, r.EmergencyStop),
	}
	if err := f.Err(); err != nil {
		return TorqueLoading{}, err
	}
	return l, nil
}
