package sizing

import (
	"fmt"
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
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
			s.figure(figure(ax.Name, "acceleration", math.Abs(ax.Motion.Accel().AbsMax().V), u.accel, "largest magnitude over the cycle"))
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
	spread := false
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			axis := a.Machine.axis(ax.Name)
			motor := axis.Drive.Motor
			word, amount, speed := axis.exerted()
			spread = spread || len(ax.Ends) > 0

			at, peak := ax.worst(func(l LoadResult) float64 { return math.Abs(l.Hot.RatedTorque.AbsMax().V) })
			s.check(atMost(figure(ax.Name, "peak motor "+word, peak, amount,
				"largest "+word+" that the motor has to give: load, friction and every inertia, that of its own rotor included, through the stage efficiencies; its own drag is left out, as it is in its ratings").at(at),
				motor.PeakTorque, fmt.Sprintf("lower the acceleration, or choose a motor with a peak %s of %s or more", word, show(peak, amount))))

			s.startChecks(ax, axis)

			at, rms := ax.worst(func(l LoadResult) float64 { return l.Hot.RatedTorque.RMS() })
			limit, cure := continuousTorque(axis, a.Machine.AmbientHigh), "dwell longer, lower the acceleration, or choose a larger motor"
			s.check(atMost(figure(ax.Name, "RMS motor "+word, rms, amount,
				"root of the mean square of the motor "+word+" over the cycle; the limit is the continuous rating, lowered by the winding's heat balance where the ambient is above that of the rating").at(at),
				limit, cure))

			top := math.Abs(ax.Hot.Speed.AbsMax().V)
			s.check(atMost(figure(ax.Name, "motor speed", top, speed, "top speed of the load through all ratios"),
				motor.MaxSpeed, "lower the speed limit of the axis or the ratio"))

			if axis.StopDecel > 0 {
				at, stop := ax.worst(func(l LoadResult) float64 { return l.Stop })
				s.check(atMost(figure(ax.Name, "stop motor "+word, stop, amount, "largest motor "+word+" in an emergency stop that sets in anywhere in the cycle").at(at),
					motor.PeakTorque, "a gentler stop, or a motor that gives more at its peak"))
			}
			a.voltageChecks(&s, ax, axis)
			s.brakeCheck(ax, axis)
			at, copper := ax.worst(func(l LoadResult) float64 { return l.Hot.CopperLoss.Mean() })
			s.figure(figure(ax.Name, "copper loss", copper, quantity.Power, "mean of (torque/Km)² over the cycle, hot copper, at the end of the load's spread that makes most").at(at))
			if ratio, err := axis.Drive.InertiaRatio(); err == nil {
				s.figure(figure(ax.Name, "inertia ratio", ratio, quantity.Ratio, "inertia that the motor turns over that of its rotor"))
			}
		}
	}
	if spread {
		s.note(cornerKey)
	}
	return s
}

// currentHow says in which amperes currents are.
const currentHow = "; A RMS is the size of a sine, whose crest is √2 times as much, A alone is direct current, as the motor's torque constant has it"

// voltageChecks holds current and voltage of an axis against what drive and bus
// give.
func (a *Assessment) voltageChecks(s *Section, ax AxisResult, axis Axis) {
	basis := ""
	if axis.Drive.Motor.Winding.Sinusoidal() {
		basis = "RMS"
	}
	if limit := ax.Drive.Peak.Limit; limit > 0 {
		at, v := ax.worst(func(l LoadResult) float64 { return l.Drive.Peak.Value })
		f := figure(ax.Name, "peak current", v, quantity.Current, "highest electromagnetic torque, the motor's drag included, over the torque constant"+currentHow).at(at)
		f.Basis = basis
		s.check(atMost(f, limit, "lower the acceleration, or choose a larger drive"))
	}
	if limit := ax.Drive.Continuous.Limit; limit > 0 {
		at, v := ax.worst(func(l LoadResult) float64 { return l.Drive.Continuous.Value })
		f := figure(ax.Name, "RMS current", v, quantity.Current, "root of the mean square of the current over the cycle"+currentHow).at(at)
		f.Basis = basis
		s.check(atMost(f, limit, "dwell longer, lower the acceleration, or choose a larger drive"))
	}
	lowest := a.lowestAt(ax.Name)
	at, need, known := ax.need(axis)
	if !known || !(lowest > 0) {
		return
	}
	if v, ok := a.courseAt(ax.Name); ok && a.followCheck(s, ax, axis, v) {
		a.torqueCheck(s, ax, axis, lowest)
		return
	}
	_, _, speed := axis.exerted()
	s.check(atMost(figure(ax.Name, "bus voltage needed", need.V, quantity.Voltage,
		"highest of back-EMF, resistive and inductive drop over the cycle, over what the drive makes of the bus, hot copper, magnets as hot or as cold as is worse; the limit is the lowest bus voltage").at(at),
		lowest, fmt.Sprintf("lower the speed or the acceleration at %.3f s of the cycle (motor at %s), or hold the bus higher", need.T, show(math.Abs(at.Hot.Speed.At(need.T)), speed))))
	a.torqueCheck(s, ax, axis, lowest)
}

// followCheck holds the voltage that the motor needs against that of the bus at the same
// instant of the settled cycle. It reports whether it could.
func (a *Assessment) followCheck(s *Section, ax AxisResult, axis Axis, v profile.Curve) bool {
	m, err := ax.Voltage.Margin(v, axis.Drive.Drive)
	if err != nil {
		return false
	}
	_, _, speed := axis.exerted()
	missing := ""
	for i, x := range m.Shortfalls {
		if i == 3 {
			missing += fmt.Sprintf(", and %d times more", len(m.Shortfalls)-i)
			break
		}
		missing += fmt.Sprintf("; from %.3f s to %.3f s, most at %.3f s: %s missing, motor at %s", x.From, x.To, x.At, show(x.Missing, quantity.Voltage), show(math.Abs(x.Speed), speed))
	}
	s.check(atMost(figure(ax.Name, "bus voltage needed", m.Needed, quantity.Voltage,
		"back-EMF, resistive and inductive drop over what the drive makes of the bus, hot copper, magnets as hot or as cold as is worse, at the instant of the settled cycle that has the least margin; the limit is the bus voltage at the drive at that instant"),
		m.Bus, "lower the speed or the acceleration there, or hold the bus higher"+missing))
	return true
}

// torqueCheck holds the torque of an axis against what voltage, current and motor allow
// at its speed.
func (a *Assessment) torqueCheck(s *Section, ax AxisResult, axis Axis, lowest float64) {
	word, amount, speed := axis.exerted()
	tightest := func(l LoadResult) (m energy.TorqueMargin, found bool) {
		for _, motor := range l.motors {
			limit, err := energy.NewTorqueLimit(motor, axis.Drive.Drive, lowest)
			if err != nil {
				continue
			}
			if at, err := limit.Margin(l.Hot); err == nil && (!found || at.Margin < m.Margin) {
				m, found = at, true
			}
		}
		return m, found
	}
	at, _ := ax.worst(func(l LoadResult) float64 {
		if m, found := tightest(l); found {
			return -m.Margin
		}
		return math.Inf(-1)
	})
	if m, found := tightest(at); found {
		f := figure(ax.Name, "tightest "+word, math.Abs(m.Torque), amount,
			"motor "+word+" at the point of the cycle that is nearest to what voltage, current and motor allow at its speed, on the lowest bus voltage, hot copper, magnets as hot or as cold as is worse").at(at)
		c := atMost(f, math.Abs(m.Torque)+m.Margin, fmt.Sprintf("at %.3f s (motor at %s) %s limits: lower speed or acceleration there", m.At, show(math.Abs(m.Speed), speed), m.Bound))
		if m.OutOfReach {
			c.Reason = "no " + word + " at all is possible at that speed"
		}
		s.check(c)
	}
}

// mechanicsSection holds the parts of the drive trains against their ratings.
func (a *Assessment) mechanicsSection() Section {
	s := Section{Key: "mechanics", Question: "Do gears, couplings, screws and joints stand it?"}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			for i, p := range ax.Parts {
				for _, x := range []struct {
					name, how string
					of        func(energy.TorqueLoading) energy.Loading
				}{
					{"mean torque", "cubic mean of the torque that the shaft passes on, over the way turned, times the service factor", func(l energy.TorqueLoading) energy.Loading { return l.Mean }},
					{"peak torque", "highest torque that the shaft passes on over the cycle times the service factor", func(l energy.TorqueLoading) energy.Loading { return l.Peak }},
					{"stop torque", "highest torque that the shaft passes on in an emergency stop that sets in anywhere in the cycle, times the service factor", func(l energy.TorqueLoading) energy.Loading { return l.EmergencyStop }},
				} {
					at, v := ax.worst(func(l LoadResult) float64 { return x.of(l.Parts[i].Loading).Value })
					if limit := x.of(p.Loading).Limit; limit > 0 {
						s.check(atMost(figure(ax.Name, p.Name+" "+x.name, v, quantity.Torque, x.how).at(at), limit,
							"choose a larger one, or lower acceleration and stop deceleration"))
					}
				}
			}
			s.jointChecks(ax, a.Machine.axis(ax.Name))
			if r := ax.Rod; r != nil {
				s.check(atMost(figure(ax.Name, "screw speed", r.Speed.Value, quantity.AngularSpeed, "the limit is the usable part of the critical speed of whirling"),
					r.Speed.Limit, "a thicker or shorter screw, stiffer ends, or a longer lead"))
				if r.Force.Limit > 0 {
					at, force := ax.worst(func(l LoadResult) float64 { return l.Rod.Force.Value })
					s.check(atMost(figure(ax.Name, "screw force", force, quantity.Force, "largest axial force that moves, stops or holds the load, in either direction; the limit is the usable part of the buckling load").at(at),
						r.Force.Limit, "a thicker or shorter screw, or a fixed bearing on the side that takes the force"))
				}
			}
		}
	}
	if len(s.Checks) > 0 {
		s.note("Torque here is what a shaft passes on towards the load. The motor torque above includes, besides, what the motor's own rotor takes.")
	}
	return s
}

// jointChecks holds the first hub's joint against its torque.
func (s *Section) jointChecks(ax AxisResult, axis Axis) {
	if ax.Joint == nil {
		return
	}
	at, _ := ax.worst(func(l LoadResult) float64 { return l.Joint.Loading.Value })
	j := at.Joint
	how := "highest torque that the motor's shaft passes on through the joint, over the cycle"
	if axis.StopDecel > 0 {
		how += " and in an emergency stop that sets in anywhere in it"
	}
	s.check(atMost(figure(ax.Name, "joint torque", j.Loading.Value, quantity.Torque, how+", times the service factor").at(at),
		j.Loading.Limit, "a larger joint, or one without play, or lower acceleration and stop deceleration"))
	if j.MarginalDesign {
		c := atMost(figure(ax.Name, "joint reversals per second", j.ReversalRate, quantity.Frequency,
			"a key with a set screw under a load that reverses fast is marginal whatever its capacity (common practice, no source)").at(at), 0,
			"a clamp hub or a bonded joint")
		c.Caution = true
		s.check(c)
	}
	for _, text := range j.Advice {
		s.note(ax.Name + ": " + text)
	}
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
