package sizing

import (
	"fmt"
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/thermal"
)

func (a *Assessment) motionSection() Section {
	s := Section{Key: "motion", Question: "How does every axis move, and how long does a cycle take?"}
	for _, st := range a.Stations {
		s.figure(figure(st.Name, "cycle time", st.Duration, quantity.Time,
			"each step lasts as long as its slowest move, time-optimal within the axis limits, or its dwell"))
		s.figure(figure(st.Name, "cycles per hour", 3600/st.Duration, quantity.Ratio, "3600 s over the cycle time"))
	}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			u := unitsOf(a.rotary(ax.Name))
			lo, hi := ax.Motion.Position().Extrema()
			s.figure(figure(ax.Name, "travel", hi.V-lo.V, u.length, "highest less lowest position over the cycle"))
			s.figure(figure(ax.Name, "top speed", math.Abs(ax.Motion.Speed().AbsMax().V), u.speed, "largest magnitude over the cycle"))
			s.figure(figure(ax.Name, "top accel.", math.Abs(ax.Motion.Accel().AbsMax().V), u.accel, "largest magnitude over the cycle"))
		}
	}
	return s
}

func (a *Assessment) rotary(name string) bool {
	_, rotary := a.Machine.axis(name).Drive.Mechanism.(energy.Rotary)
	return rotary
}

func (a *Assessment) motorSection() Section {
	s := Section{Key: "motors", Question: "Has every motor the torque and the speed for its moves?"}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			axis := a.Machine.axis(ax.Name)
			motor := axis.Drive.Motor

			peak := math.Abs(ax.Hot.RatedTorque.AbsMax().V)
			s.check(atMost(figure(ax.Name, "peak torque", peak, quantity.Torque,
				"largest shaft torque: load, friction and every inertia through the stage efficiencies"),
				motor.PeakTorque, fmt.Sprintf("lower the acceleration, or choose a motor with a peak torque of %s or more", show(peak, quantity.Torque))))

			rms := ax.Hot.RatedTorque.RMS()
			limit, cure := continuousTorque(axis, a.Machine.AmbientHigh), "dwell longer, lower the acceleration, or choose a larger motor"
			s.check(atMost(figure(ax.Name, "RMS torque", rms, quantity.Torque,
				"root of the mean square of the shaft torque over the cycle; the limit is the continuous rating, lowered by the winding's heat balance where the ambient is above that of the rating"),
				limit, cure))

			top := math.Abs(ax.Hot.Speed.AbsMax().V)
			s.check(atMost(figure(ax.Name, "motor speed", top, quantity.AngularSpeed, "top speed of the load through all ratios"),
				motor.MaxSpeed, "lower the speed limit of the axis or the ratio"))

			if axis.HoldingBrake > 0 {
				s.check(atLeast(figure(ax.Name, "holding brake", axis.HoldingBrake, quantity.Torque,
					"the limit is the torque of weight and external force at the motor with no friction to help"),
					ax.Weight, "choose a stronger brake or balance the load"))
			} else if ax.Weight > 0 {
				c := atLeast(figure(ax.Name, "holding brake", 0, quantity.Torque,
					"the limit is the torque of weight and external force at the motor with no friction to help"),
					ax.Weight, "fit a brake, or make sure that nobody can be under the load and nothing is damaged when power is lost")
				c.Caution = true
				s.check(c)
			}
			s.figure(figure(ax.Name, "drawn per cycle", ax.Hot.Book.Drawn, quantity.Energy, "integral of the bus power while it is positive, hot copper"))
			s.figure(figure(ax.Name, "returned", ax.Cold.Book.Returned, quantity.Energy, "integral of the bus power while it is negative, cold copper"))
			s.figure(figure(ax.Name, "copper loss", ax.Hot.CopperLoss.Mean(), quantity.Power, "mean of (torque/Km)² over the cycle, hot copper"))
		}
	}
	return s
}

// continuousTorque returns the continuous shaft torque in the given ambient, but
// never more than the rating.
func continuousTorque(axis Axis, ambient float64) float64 {
	m := axis.Drive.Motor
	t, err := axis.Winding.ContinuousTorque(thermal.MotorConstant{Km: m.Winding.Km(), At: m.Winding.Temperature()}, ambient, 0)
	if err != nil {
		return 0 // an ambient above the winding's limit leaves no torque
	}
	return math.Max(0, math.Min(m.ContinuousTorque, t-m.DragTorque))
}

func (a *Assessment) heatSection() Section {
	s := Section{Key: "heat", Question: "How hot do the windings get?"}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			limit := a.Machine.axis(ax.Name).Winding.Max
			how := "settled mean of the winding in the highest ambient; thermal resistance from the continuous rating, copper loss growing with temperature"
			c := atMost(figure(ax.Name, "winding", ax.Winding.Temperature, quantity.Temperature, how), limit,
				"dwell longer, lower the acceleration, cool the motor, or choose a larger one")
			if ax.Runaway != nil {
				c.Value = math.Inf(1)
				c = verdict(c)
				c.Reason = ax.Runaway.Error()
			}
			s.check(c)
		}
	}
	s.note("Mean temperature of one node: peaks within a cycle that is long against the winding's time constant are higher.")
	return s
}
