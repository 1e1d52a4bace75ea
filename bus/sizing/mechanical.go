package sizing

import (
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// mechanical holds the parts of the drive train against what they may carry, with
// the heaviest payload of the cycle carried all the time.
func (r *AxisResult) mechanical(a Axis, steps []energy.Step) error {
	axis := a.Drive
	for _, s := range steps {
		if s.Load.Mass+s.Load.Inertia > axis.Load.Mass+axis.Load.Inertia {
			axis.Load = s.Load
		}
	}
	axis.Load.ExternalByTime = profile.Curve{}
	top := math.Abs(r.Motion.Speed().AbsMax().V)
	for _, part := range a.rated() {
		duty, err := axis.TorqueDuty(r.Motion, profile.Motion{}, part.shaft)
		if err != nil {
			return err
		}
		// A stop may set in at the highest speed in either direction.
		for _, speed := range []float64{top, -top} {
			if a.StopDecel == 0 || top == 0 {
				break
			}
			stop, err := halt(speed, a.StopDecel)
			if err != nil {
				return err
			}
			d, err := axis.TorqueDuty(r.Motion, stop, part.shaft)
			if err != nil {
				return err
			}
			duty.EmergencyStop = math.Max(duty.EmergencyStop, d.EmergencyStop)
		}
		loading, err := part.rating.Loading(duty)
		if err != nil {
			return err
		}
		r.Parts = append(r.Parts, PartResult{part.name, loading})
	}
	if j := a.Joint; j != nil {
		torque, _, err := axis.ShaftTorque(r.Motion, 0)
		if err != nil {
			return err
		}
		found, err := energy.AssessJoint(j.Joint, torque, j.ServiceFactor)
		if err != nil {
			return err
		}
		r.Joint = &found
	}
	if a.Rod != nil {
		return r.rod(a, axis)
	}
	return nil
}

func halt(speed, decel float64) (profile.Motion, error) {
	m, err := profile.Halt(profile.State{Speed: speed}, profile.Limits{Speed: math.Abs(speed), Accel: decel})
	if err != nil {
		return profile.Motion{}, err
	}
	return m.Motion(), nil
}

// rod holds a screw against whirling and buckling. The axial force is that which
// its torque stands for without loss, 2π T/lead, and so not less than it is while
// the motor drives.
func (r *AxisResult) rod(a Axis, axis energy.Axis) error {
	screw := a.Drive.Mechanism.(energy.Screw)
	critical, err := a.Rod.Whirling.CriticalSpeed(a.Rod.Density)
	if err != nil {
		return err
	}
	r.Rod = &RodResult{}
	speed := 2 * math.Pi / screw.Lead * math.Abs(r.Motion.Speed().AbsMax().V)
	if r.Rod.Speed, err = energy.NewLoading(speed, critical, a.Rod.SpeedFraction); err != nil {
		return err
	}
	if a.Rod.Buckling.Length == 0 {
		return nil
	}
	buckling, err := a.Rod.Buckling.BucklingLoad(a.Rod.Yield)
	if err != nil {
		return err
	}
	torque, _, err := axis.ShaftTorque(r.Motion, len(axis.Stages))
	if err != nil {
		return err
	}
	force := 2 * math.Pi / screw.Lead * math.Abs(torque.AbsMax().V)
	r.Rod.Force, err = energy.NewLoading(force, buckling.Load, a.Rod.BucklingFactor)
	return err
}
