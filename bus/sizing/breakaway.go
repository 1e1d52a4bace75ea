package sizing

import (
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
)

// breakAway finds the motion out of standstill that takes the largest torque, where the
// load has a static friction.
func (r *LoadResult) breakAway(axis energy.Axis, steps []energy.Step) error {
	for _, s := range steps {
		if s.Load.Breakaway == 0 || s.Motion.Duration() == 0 {
			continue
		}
		axis.Load = s.Load
		starts, err := axis.Starts(s.Motion)
		if err != nil {
			return err
		}
		for _, x := range starts {
			if math.Abs(x.RatedTorque) > math.Abs(r.Start.RatedTorque) {
				r.Start = x
			}
		}
	}
	return nil
}

// startChecks holds the torque and current with which an axis breaks away against what
// motor and drive give.
func (s *Section) startChecks(ax AxisResult, axis Axis) {
	at, torque := ax.worst(func(l LoadResult) float64 { return math.Abs(l.Start.RatedTorque) })
	if torque == 0 {
		return
	}
	word, amount, _ := axis.exerted()
	motor, drive := axis.Drive.Motor, axis.Drive.Drive
	s.check(atMost(figure(ax.Name, "starting motor "+word, torque, amount,
		"largest with which a motion breaks away from standstill: static friction in place of the dry one, weight, outside forces and the acceleration of that instant (Coulomb friction; static friction for no longer than an instant: common practice, no source)").at(at),
		motor.PeakTorque, "less static friction, or a motor that gives more at its peak"))
	if drive.PeakCurrent > 0 {
		f := figure(ax.Name, "starting current", math.Abs(at.Start.Torque)/motor.Winding.Kt(), quantity.Current, "electromagnetic "+word+" of that start over the "+word+" constant"+currentHow).at(at)
		if motor.Winding.Sinusoidal() {
			f.Basis = "RMS"
		}
		s.check(atMost(f, drive.PeakCurrent, "less static friction, or a larger drive"))
	}
}
