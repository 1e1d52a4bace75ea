package sizing

import (
	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

func (r *reader) axis(o *object) (a Axis, motorName, driveName string) {
	a.Name = r.text(o, "name", required)
	motorName = r.text(o, "motor", required)
	driveName = r.text(o, "drive", required)
	mo := r.object(o, "mechanism", required)
	a.Drive.Mechanism = r.mechanism(mo)
	if !isDirect(a.Drive.Mechanism) {
		a.Ratings.Mechanism = r.rating(mo, "rating")
	}
	if a.screw() {
		a.Rod = r.rod(mo)
	}
	mo.unread(&r.faults)
	u := unitsOf(turns(a.Drive.Mechanism))

	load := r.object(o, "load", required)
	a.FrictionSpread = r.quantity(load, "frictionSpread", quantity.Fraction, optional)
	a.PayloadSpread = r.quantity(load, "payloadSpread", quantity.Fraction, optional)
	a.Drive.Load = r.load(load, a.Drive.Mechanism)
	for _, n := range r.list(o, "stages", optional) {
		so := r.objectOf(n)
		a.Drive.Stages = append(a.Drive.Stages, r.stage(so))
		a.Ratings.Stages = append(a.Ratings.Stages, r.rating(so, "rating"))
		so.unread(&r.faults)
	}
	a.Ratings.Coupling = r.rating(o, "coupling")
	a.Joint = r.joint(r.object(o, "joint", optional))
	limits := r.object(o, "limits", required)
	a.Limits = profile.Limits{
		Speed:     r.quantity(limits, "speed", u.speed, required),
		Accel:     r.quantity(limits, "accel", u.accel, required),
		Decel:     r.quantity(limits, "decel", u.accel, notZero),
		Jerk:      r.quantity(limits, "jerk", u.jerk, notZero),
		DecelJerk: r.quantity(limits, "decelJerk", u.jerk, notZero),
	}
	limits.unread(&r.faults)
	a.Law = r.law(r.object(o, "law", optional))
	a.Start = r.quantity(o, "start", u.length, optional)
	a.Endless = r.flag(o, "endless")
	a.Cable = r.cable(r.object(o, "cable", optional))
	r.field(o, "mounting", notZero, quantity.ThermalResistance.String()) // read with its motor
	a.HomingSpeed = r.quantity(o, "homingSpeed", u.speed, notZero)
	a.StopDecel = r.quantity(o, "stopDecel", u.accel, notZero)
	a.StopJerk = r.quantity(o, "stopJerk", u.jerk, notZero)
	a.HoldingBrake = r.holdingBrake(o, a)
	o.unread(&r.faults)
	return a, motorName, driveName
}

// load reads the load of a mechanism; that of a crank is its slider's.
func (r *reader) load(o *object, m energy.Mechanism) energy.Load {
	rotary := turnsLoad(m)
	u := unitsOf(rotary)
	l := energy.Load{
		Coulomb:        r.quantity(o, "coulomb", u.force, optional),
		Viscous:        r.quantity(o, "viscous", u.viscous, optional),
		Plus:           r.friction(r.object(o, "plus", optional), u),
		Minus:          r.friction(r.object(o, "minus", optional), u),
		Breakaway:      r.quantity(o, "breakaway", u.force, notZero),
		External:       r.quantity(o, "external", u.force, optional),
		Counterbalance: r.counterbalance(r.object(o, "counterbalance", optional), rotary),
	}
	if n := r.field(o, "externalByPosition", optional, "list"); n != nil {
		l.ExternalByPosition.Position, l.ExternalByPosition.Force = r.points(n, u.length, u.force)
	}
	if rotary {
		l.Inertia = r.inertia(o, "inertia", required)
		if o != nil && o.fields["inertia"] != nil && l.Inertia == 0 && r.faults.Err() == nil {
			r.faults.Add(o.fields["inertia"].path, o.fields["inertia"].text(), "a moment of inertia above zero")
		}
	} else {
		l.Mass = r.quantity(o, "mass", quantity.Mass, required)
		l.Incline = r.quantity(o, "incline", quantity.Angle, optional)
	}
	o.unread(&r.faults)
	return l
}

func (r *reader) friction(o *object, u units) energy.Friction {
	f := energy.Friction{
		Coulomb: r.quantity(o, "coulomb", u.force, optional),
		Viscous: r.quantity(o, "viscous", u.viscous, optional),
	}
	o.unread(&r.faults)
	return f
}

func (r *reader) counterbalance(o *object, rotary bool) energy.Counterbalance {
	if o == nil {
		return energy.Counterbalance{}
	}
	u := unitsOf(rotary)
	c := energy.Counterbalance{
		Mass:      r.quantity(o, "mass", quantity.Mass, optional),
		Stiffness: r.quantity(o, "stiffness", u.stiffness, optional),
		Relaxed:   r.quantity(o, "relaxed", u.length, optional),
		Force:     r.quantity(o, "force", u.force, optional),
	}
	if rotary {
		c.Ratio = r.quantity(o, "ratio", quantity.Lead, notZero)
	} else if c.Ratio = r.quantity(o, "ratio", quantity.Ratio, notZero); c.Ratio == 0 && c.Mass > 0 {
		c.Ratio = 1
	}
	o.unread(&r.faults)
	return c
}

// units are the kinds in which an axis is written.
type units struct {
	length, speed, accel, jerk, force, viscous, stiffness quantity.Kind
}

func unitsOf(rotary bool) units {
	if rotary {
		return units{quantity.Angle, quantity.AngularSpeed, quantity.AngularAccel, quantity.AngularJerk, quantity.Torque, quantity.ViscousRotary, quantity.TorsionalStiffness}
	}
	return units{quantity.Length, quantity.Speed, quantity.Accel, quantity.Jerk, quantity.Force, quantity.ViscousLinear, quantity.LinearStiffness}
}

// turns reports whether an axis is written in angles: the table of a rotary axis
// and the crank of a slider, whose load is written in lengths all the same.
func turns(m energy.Mechanism) bool {
	_, crank := m.(energy.CrankSlider)
	return crank || turnsLoad(m)
}

// turnsLoad reports whether the load itself turns.
func turnsLoad(m energy.Mechanism) bool {
	_, ok := m.(energy.Rotary)
	return ok
}

// isDirect reports whether a linear motor moves the load.
func isDirect(m energy.Mechanism) bool {
	_, ok := m.(energy.Direct)
	return ok
}
