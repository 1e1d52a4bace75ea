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
			u := unitsOf(turns(a.Machine.axis(ax.Name).Drive.Mechanism))
			lo, hi := ax.Motion.Position().Extrema()
			s.figure(figure(ax.Name, "travel", hi.V-lo.V, u.length, "highest less lowest position over the cycle"))
			s.figure(figure(ax.Name, "top speed", math.Abs(ax.Motion.Speed().AbsMax().V), u.speed, "largest magnitude over the cycle"))
			s.figure(figure(ax.Name, "top accel.", math.Abs(ax.Motion.Accel().AbsMax().V), u.accel, "largest magnitude over the cycle"))
		}
	}
	return s
}

// exerted returns in which kinds the motor of an axis is reported, and what it
// exerts.
func (axis Axis) exerted() (word string, amount, speed quantity.Kind) {
	if isDirect(axis.Drive.Mechanism) {
		return "force", quantity.Force, quantity.Speed
	}
	return "torque", quantity.Torque, quantity.AngularSpeed
}

func (a *Assessment) motorSection() Section {
	s := Section{Key: "motors", Question: "Has every motor the torque and the speed for its moves?"}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			axis := a.Machine.axis(ax.Name)
			motor := axis.Drive.Motor
			word, amount, speed := axis.exerted()

			peak := math.Abs(ax.Hot.RatedTorque.AbsMax().V)
			s.check(atMost(figure(ax.Name, "peak "+word, peak, amount,
				"largest shaft torque: load, friction and every inertia through the stage efficiencies"),
				motor.PeakTorque, fmt.Sprintf("lower the acceleration, or choose a motor with a peak %s of %s or more", word, show(peak, amount))))

			rms := ax.Hot.RatedTorque.RMS()
			limit, cure := continuousTorque(axis, a.Machine.AmbientHigh), "dwell longer, lower the acceleration, or choose a larger motor"
			s.check(atMost(figure(ax.Name, "RMS "+word, rms, amount,
				"root of the mean square of the shaft torque over the cycle; the limit is the continuous rating, lowered by the winding's heat balance where the ambient is above that of the rating"),
				limit, cure))

			top := math.Abs(ax.Hot.Speed.AbsMax().V)
			s.check(atMost(figure(ax.Name, "motor speed", top, speed, "top speed of the load through all ratios"),
				motor.MaxSpeed, "lower the speed limit of the axis or the ratio"))

			if axis.StopDecel > 0 {
				s.check(atMost(figure(ax.Name, "stop "+word, ax.Stop, amount, "largest at the motor's shaft in an emergency stop that sets in anywhere in the cycle"),
					motor.PeakTorque, "a gentler stop, or a motor that gives more at its peak"))
			}
			a.voltageChecks(&s, ax, axis)
			s.brakeCheck(ax, axis)
			s.figure(figure(ax.Name, "copper loss", ax.Hot.CopperLoss.Mean(), quantity.Power, "mean of (torque/Km)² over the cycle, hot copper"))
			if ratio, err := axis.Drive.InertiaRatio(); err == nil {
				s.figure(figure(ax.Name, "inertia ratio", ratio, quantity.Ratio, "inertia that the motor turns over that of its rotor"))
			}
		}
	}
	return s
}

// voltageChecks holds current and voltage of an axis against what drive and bus
// give.
func (a *Assessment) voltageChecks(s *Section, ax AxisResult, axis Axis) {
	if l := ax.Drive.Peak; l.Limit > 0 {
		s.check(atMost(figure(ax.Name, "peak current", l.Value, quantity.Current, "electromagnetic torque over the torque constant, in the unit of that constant"),
			l.Limit, "lower the acceleration, or choose a larger drive"))
	}
	if l := ax.Drive.Continuous; l.Limit > 0 {
		s.check(atMost(figure(ax.Name, "RMS current", l.Value, quantity.Current, "root of the mean square of the current over the cycle"),
			l.Limit, "dwell longer, lower the acceleration, or choose a larger drive"))
	}
	if ax.Voltage == nil {
		return
	}
	word, amount, speed := axis.exerted()
	if math.IsInf(a.Bus.Lowest, 0) {
		s.note(ax.Name + ": the bus has no lowest voltage to hold the motor's voltage against.")
		return
	}
	need, err := ax.Voltage.LowestBus(axis.Drive.Drive)
	if err != nil {
		return // no modulation limit: not looked at
	}
	s.check(atMost(figure(ax.Name, "bus voltage needed", need.V, quantity.Voltage,
		"highest of back-EMF, resistive and inductive drop over the cycle, over what the drive makes of the bus, hot copper, magnets as hot or as cold as is worse; the limit is the lowest bus voltage"),
		a.Bus.Lowest, fmt.Sprintf("lower the speed or the acceleration at %.3f s of the cycle (motor at %s), or hold the bus higher", need.T, show(math.Abs(ax.Hot.Speed.At(need.T)), speed))))
	var m energy.TorqueMargin
	found := false
	for _, motor := range ax.motors {
		limit, err := energy.NewTorqueLimit(motor, axis.Drive.Drive, a.Bus.Lowest)
		if err != nil {
			continue
		}
		if at, err := limit.Margin(ax.Hot); err == nil && (!found || at.Margin < m.Margin) {
			m, found = at, true
		}
	}
	if found {
		f := figure(ax.Name, word+" at its speed", math.Abs(m.Torque), amount,
			"the point of the cycle that is nearest to what voltage, current and motor allow at its speed, on the lowest bus voltage, hot copper, magnets as hot or as cold as is worse")
		c := atMost(f, math.Abs(m.Torque)+m.Margin, fmt.Sprintf("at %.3f s (motor at %s) %s limits: lower speed or acceleration there", m.At, show(math.Abs(m.Speed), speed), m.Bound))
		if m.OutOfReach {
			c.Reason = "no torque at all is possible at that speed"
		}
		s.check(c)
	}
}

// brakeCheck holds the holding brake against the load's pull.
func (s *Section) brakeCheck(ax AxisResult, axis Axis) {
	const how = "the limit is the largest pull of weight, counterbalance and outside force at the motor anywhere in the cycle, with no friction to help"
	_, amount, _ := axis.exerted()
	f := figure(ax.Name, "holding brake", axis.HoldingBrake, amount, how)
	switch {
	case axis.HoldingBrake > 0:
		s.check(atLeast(f, ax.Weight, "choose a stronger brake or balance the load"))
	case ax.Weight > 0:
		c := atLeast(f, ax.Weight, "fit a brake, or make sure that nobody can be under the load and nothing is damaged when power is lost")
		c.Caution = true
		s.check(c)
	}
}

// mechanicsSection holds the parts of the drive trains against their ratings.
func (a *Assessment) mechanicsSection() Section {
	s := Section{Key: "mechanics", Question: "Do gears, couplings, screws and joints stand it?"}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			for _, p := range ax.Parts {
				for _, l := range []struct {
					name, how string
					energy.Loading
				}{
					{"mean torque", "cubic mean of the torque over the way turned, times the service factor", p.Loading.Mean},
					{"peak torque", "highest torque at that shaft over the cycle times the service factor", p.Loading.Peak},
					{"stop torque", "highest torque of an emergency stop that sets in anywhere in the cycle, times the service factor", p.Loading.EmergencyStop},
				} {
					if l.Limit > 0 {
						s.check(atMost(figure(ax.Name, p.Name+" "+l.name, l.Value, quantity.Torque, l.how), l.Limit,
							"choose a larger one, or lower acceleration and stop deceleration"))
					}
				}
			}
			if j := ax.Joint; j != nil {
				s.check(atMost(figure(ax.Name, "joint torque", j.Loading.Value, quantity.Torque, "peak torque of the motor's shaft times the service factor"),
					j.Loading.Limit, "a larger joint, or one without play"))
				if j.MarginalDesign {
					c := atMost(figure(ax.Name, "joint reversals per second", j.ReversalRate, quantity.Frequency,
						"a key with a set screw under a load that reverses fast is marginal whatever its capacity (common practice, no source)"), 0,
						"a clamp hub or a bonded joint")
					c.Caution = true
					s.check(c)
				}
				for _, text := range j.Advice {
					s.note(ax.Name + ": " + text)
				}
			}
			if r := ax.Rod; r != nil {
				s.check(atMost(figure(ax.Name, "screw speed", r.Speed.Value, quantity.AngularSpeed, "the limit is the usable part of the critical speed of whirling"),
					r.Speed.Limit, "a thicker or shorter screw, stiffer ends, or a longer lead"))
				if r.Force.Limit > 0 {
					s.check(atMost(figure(ax.Name, "screw force", r.Force.Value, quantity.Force, "largest axial force that moves, stops or holds the load, in either direction; the limit is the usable part of the buckling load"),
						r.Force.Limit, "a thicker or shorter screw, or a fixed bearing on the side that takes the force"))
				}
			}
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
