package sizing

import (
	"fmt"
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// mechanical holds the parts of the drive train against what they may carry.
func (r *LoadResult) mechanical(a Axis, motion profile.Motion, steps []energy.Step) error {
	stops, err := a.stops(steps)
	if err != nil {
		return err
	}
	if r.Stop, err = a.stopPeak(stops, func(axis energy.Axis, m profile.Motion) (profile.Curve, error) {
		t, err := axis.Trace(m)
		return t.RatedTorque, err
	}); err != nil {
		return err
	}
	for _, part := range a.rated() {
		var duty energy.TorqueDuty
		torque, speed, err := shaftTorque(a.Drive, steps, part.shaft)
		if err != nil {
			return err
		}
		if duty.Mean, err = energy.CubicMean(torque, speed); err != nil {
			return err
		}
		duty.Peak = math.Abs(torque.AbsMax().V)
		if duty.EmergencyStop, err = a.stopPeak(stops, func(axis energy.Axis, m profile.Motion) (profile.Curve, error) {
			torque, _, err := axis.ShaftTorque(m, part.shaft)
			return torque, err
		}); err != nil {
			return err
		}
		loading, err := part.rating.Loading(duty)
		if err != nil {
			return err
		}
		r.Parts = append(r.Parts, PartResult{part.name, loading})
	}
	if j := a.Joint; j != nil {
		torque, _, err := shaftTorque(a.Drive, steps, 0)
		if err != nil {
			return err
		}
		found, err := energy.AssessJoint(j.Joint, torque, j.ServiceFactor)
		if err != nil {
			return err
		}
		stop, err := a.stopPeak(stops, func(axis energy.Axis, m profile.Motion) (profile.Curve, error) {
			torque, _, err := axis.ShaftTorque(m, 0)
			return torque, err
		})
		if err != nil {
			return err
		}
		if stop *= j.ServiceFactor; stop > found.Loading.Value {
			if found.Loading, err = energy.NewLoading(stop, found.Loading.Limit, 1); err != nil {
				return err
			}
		}
		r.Joint = &found
	}
	if a.Rod != nil {
		return r.rod(a, motion, steps, stops)
	}
	return nil
}

// shaftTorque returns torque and speed of a shaft over all steps, each with its own
// load.
func shaftTorque(axis energy.Axis, steps []energy.Step, shaft int) (torque, speed profile.Curve, err error) {
	var torques, speeds []profile.Curve
	for _, s := range steps {
		if s.Motion.Duration() == 0 {
			continue
		}
		axis.Load = s.Load
		t, w, err := axis.ShaftTorque(s.Motion, shaft)
		if err != nil {
			return torque, speed, err
		}
		torques, speeds = append(torques, t), append(speeds, w)
	}
	return profile.Concat(torques...), profile.Concat(speeds...), nil
}

// stops returns the emergency stops to examine: for every step those that set in at
// its highest speed in either direction, and, where the torque depends on the place
// or on time, many others. A force against time stays as it is when the stop sets
// in.
func (a Axis) stops(steps []energy.Step) ([]energy.Step, error) {
	var stops []energy.Step
	if a.StopDecel == 0 {
		return nil, nil
	}
	for _, s := range steps {
		speed := s.Motion.Speed()
		lowest, highest := speed.Extrema()
		instants := []float64{lowest.T, highest.T}
		crank := turns(a.Drive.Mechanism) != turnsLoad(a.Drive.Mechanism)
		if crank || s.Load.ExternalByTime.Pieces() > 0 || len(s.Load.ExternalByPosition.Position) > 0 || s.Load.Counterbalance.Stiffness > 0 {
			instants = append(instants, spread(s.Motion.Duration())...)
		}
		for _, t := range instants {
			v := speed.At(t)
			if v == 0 {
				continue
			}
			from := profile.State{Position: s.Motion.Position().At(t), Speed: v}
			move, err := profile.Halt(from, profile.Limits{Speed: math.Abs(v), Accel: a.StopDecel})
			if err != nil {
				return nil, a.stopFault(err)
			}
			load := s.Load
			if c := load.ExternalByTime; c.Pieces() > 0 && t >= c.Start() && t <= c.End() {
				load.External += c.At(t)
			}
			load.ExternalByTime = profile.Curve{}
			stops = append(stops, energy.Step{Motion: move.Motion(), Load: load})
		}
	}
	return stops, nil
}

// stopPeak returns the largest magnitude of a torque or force over all stops.
func (a Axis) stopPeak(stops []energy.Step, of func(energy.Axis, profile.Motion) (profile.Curve, error)) (float64, error) {
	peak := 0.0
	for _, s := range stops {
		axis := a.Drive
		axis.Load = s.Load
		c, err := of(axis, s.Motion)
		if err != nil {
			return 0, a.stopFault(err)
		}
		peak = math.Max(peak, math.Abs(c.AbsMax().V))
	}
	return peak, nil
}

// stopFault says that the axis cannot stop with its deceleration.
func (a Axis) stopFault(err error) error {
	var f profile.Faults
	for _, e := range profile.InputErrors(err) {
		f.Add("stopDecel", a.StopDecel, fmt.Sprintf("a stop that the axis can follow (%s)", e))
	}
	if f.Err() == nil {
		return err
	}
	return f.Err()
}

// rod holds a screw against whirling and buckling. The axial force is what moves or
// holds the load, friction included, as a screw without loss or inertia of its own
// would need it: F = 2π T/lead. Which way it presses depends on the bearings, so that
// its magnitude counts.
func (r *LoadResult) rod(a Axis, motion profile.Motion, steps, stops []energy.Step) error {
	screw := a.Drive.Mechanism.(energy.Screw)
	critical, err := a.Rod.Whirling.CriticalSpeed(a.Rod.Density)
	if err != nil {
		return err
	}
	r.Rod = &RodResult{}
	speed := 2 * math.Pi / screw.Lead * math.Abs(motion.Speed().AbsMax().V)
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
	ideal := a
	ideal.Drive.Stages, ideal.Drive.Mechanism = nil, energy.Screw{Lead: screw.Lead, Efficiency: 1}
	torque, _, err := shaftTorque(ideal.Drive, steps, 0)
	if err != nil {
		return err
	}
	stop, err := ideal.stopPeak(stops, func(axis energy.Axis, m profile.Motion) (profile.Curve, error) {
		torque, _, err := axis.ShaftTorque(m, 0)
		return torque, err
	})
	if err != nil {
		return err
	}
	var held LoadResult // at rest friction may hold or not
	if err := held.hold(ideal, steps); err != nil {
		return err
	}
	force := 2 * math.Pi / screw.Lead * max(math.Abs(torque.AbsMax().V), stop, held.Weight)
	r.Rod.Force, err = energy.NewLoading(force, buckling.Load, a.Rod.BucklingFactor)
	return err
}
