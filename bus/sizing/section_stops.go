package sizing

import (
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
)

const (
	gentler    = "a gentler stop"
	stopsAtAll = "every axis at its own worst instant of the same step of its station, all stations at once, and at the worst ends of friction and payload: safe however they meet"
)

func (a *Assessment) stopsSection() Section {
	s := Section{Key: "stops", Question: "Does every stop end well, and what if power fails?"}
	m, r := a.Machine, a.Bus.Stops
	if r == nil {
		s.note("Not examined: no stops are given.")
		return s
	}
	if m.Stops.Category != energy.Category0 {
		a.controlledStops(&s)
	}
	a.holdUpCheck(&s)
	a.powerLoss(&s)
	a.stopNotes(&s)
	return s
}

// controlledStops holds the stops of categories 1 and 2 against the limits of the bus.
func (a *Assessment) controlledStops(s *Section) {
	m, r := a.Machine, a.Bus.Stops
	for _, x := range r.Axes {
		u := unitsOf(turns(m.axis(x.Name).Drive.Mechanism))
		s.figure(figure(x.Name, "deceleration", x.Limits.Deceleration, u.accel, "stopDecel, or the deceleration of the axis's limits where it is not given"))
		s.figure(figure(x.Name, "stop time", x.Duration, quantity.Time, "longest stop from anywhere in the cycle: v/a, and jerk/2 more where stopJerk limits the jerk"))
		s.figure(figure(x.Name, "stop distance", x.Distance, u.length, "longest way from where the stop begins: v²/(2 a) without a limit of jerk"))
		for _, e := range []struct {
			name, copper string
			at           At
		}{{"returned", "cold", x.Returned}, {"drawn", "hot", x.Drawn}} {
			f := figure(x.Name, e.name, e.at.Value, quantity.Energy, "most net energy since the stop began, from anywhere in the cycle: antiderivative of the bus power of the stop at its roots, "+e.copper+" copper")
			f.Corner = e.at.Corner
			s.figure(f)
		}
	}
	if m.Stops.Category == energy.Category2 {
		s.figure(figure("", "power at rest", r.Rest, quantity.Power, "standby, copper and drive losses of the torque that balances the load without friction, hot copper: power stays in a stop of category 2"))
	}
	returned, within, drawn, peak, duration := 0.0, 0.0, 0.0, 0.0, 0.0
	for _, st := range r.Stations {
		returned, within, peak = returned+st.Returned, within+st.ReturnedWithin, peak+st.PeakReturned
		drawn += st.Drawn
		duration = math.Max(duration, st.Duration)
	}
	s.figure(figure("", "returned by all", returned, quantity.Energy, stopsAtAll+"; cold copper"))
	s.figure(figure("", "peak power returned", peak, quantity.Power, stopsAtAll+"; cold copper"))

	limit := a.highestAllowed()
	for _, x := range []struct {
		name, how string
		rise      Rise
		energy    float64
	}{
		{"bus at a stop, no supply", "√(V0² + 2 E/C) from the highest voltage of normal running V0, E what all return, least capacitance; where the brake resistors together take the peak power returned, not above their highest on threshold; plus what bank and cables drop at that power", r.Off, returned},
		{"bus at a stop, supplied", "the same with the supply at high line, from the higher of V0 and its no-load voltage, E over any part of the stop: the supply may fill up what is drawn before", r.On, within},
	} {
		cure := gentler + ", or a brake resistor that takes " + show(peak, quantity.Power) + " at its on threshold"
		if v := a.Bus.Highest; v < limit && x.energy > 0 {
			c := m.whenNew(2 * x.energy / ((limit - v) * (limit + v)) / (1 - m.Bank.ToleranceLow))
			cure += ", or a bank of " + show(c, quantity.Capacitance) + " or more"
		}
		for _, l := range []struct {
			name string
			v    float64
		}{{"over-voltage trip", m.OverVoltage}, {"bank rating", m.Bank.RatedVoltage}} {
			c := atMost(figure("", x.name+" / "+l.name, x.rise.Voltage, quantity.Voltage, x.how), l.v, cure)
			c.Reason = x.rise.Reason
			s.check(c)
		}
	}
	for i, b := range m.Brakes {
		of := ""
		if len(m.Brakes) > 1 {
			of = fmt.Sprintf("resistor %d", i+1)
		}
		s.check(atMost(figure(of, "energy of one stop", r.ResistorIn, quantity.Energy,
			"what all return, and what the bank gives from the highest voltage of normal running down to the lowest off threshold, most capacitance; with the supply on, peak power over the longest stop in its place"),
			b.Rating.Pulse, "a resistor with a higher pulse rating, or "+gentler))
	}
	cure := gentler
	if v, u := a.Bus.Lowest, m.UnderVoltage+r.Sag.Drop; v > u {
		c := m.whenNew(2 * (drawn + duration*r.Rest) / ((v - u) * (v + u)) / (1 - m.Bank.ToleranceLow))
		cure += ", a bank of " + show(c, quantity.Capacitance) + " or somewhat more"
	}
	low := atLeast(figure("", "bus at a stop, mains gone", r.Sag.Voltage, quantity.Voltage,
		"√(V0² - 2 (E + T P)/C) from the lowest voltage of normal running V0: E what all draw with hot copper ("+stopsAtAll+"), T the longest stop, P what they take at rest, bleeder and losses of the bank, least capacitance; less what the cables drop at the highest powers"),
		m.UnderVoltage, cure+", or count on what an axis does without power: below the limit the drives let go")
	low.Reason = r.Sag.Reason
	s.check(low)
}

// holdUpCheck says how long the bus stays up in a dip of the mains.
func (a *Assessment) holdUpCheck(s *Section) {
	m, r := a.Machine, a.Bus.Stops
	h := r.HoldUp
	if r.HoldUpReason != "" || h.Endless {
		why := r.HoldUpReason
		if h.Endless {
			why = "the axes return as much as they draw: the bank carries them without end"
		}
		s.note("Dip of the mains: " + why + ".")
		if h.Endless || m.Stops.MainsDip == 0 {
			return
		}
	}
	t := h.Time + m.Stops.SupplyHoldUp
	f := figure("", "hold-up without mains", t, quantity.Time,
		"supplyHoldUp, and the first window in which the most that the stations can draw takes what the bank holds between the lowest voltage of normal running and the under-voltage limit with the cables' drop on top: worst moment of every cycle, hot copper, least capacitance")
	if m.Stops.MainsDip == 0 {
		s.figure(f)
		return
	}
	c := atLeast(f, m.Stops.MainsDip, "a larger bank, a supply that holds up for longer, or a lower under-voltage limit")
	c.Reason = r.HoldUpReason
	s.check(c)
}

// powerLoss says what axes do without power, and holds brakes and bus against it.
func (a *Assessment) powerLoss(s *Section) {
	const how = "the equations of motion without motor torque, friction at its lower end, payload at the worse, the brake from its delay on (steps of Dormand and Prince, 1980, from memory); from the ends of speed of every step, and where forces depend on place from 65 instants of it"
	m, r := a.Machine, a.Bus.Stops
	for _, x := range r.Axes {
		u := unitsOf(turns(m.axis(x.Name).Drive.Mechanism))
		if c := x.Moving; c.known() {
			const lost = "power lost anywhere in the cycle: " + how
			s.figure(figure(x.Name, "coast time", c.Duration.Value, quantity.Time, lost))
			s.figure(figure(x.Name, "coast way", c.Way.Value, u.length, lost+"; farthest from where it was"))
			s.figure(figure(x.Name, "top speed", c.Speed.Value, u.speed, lost+"; of the load"))
			if c.Braked {
				s.figure(figure(x.Name, "brake work", c.Heat.Value, quantity.Energy, "torque of the brake times the angle through which it slips, from its delay on; "+lost))
			}
		}
		if c := x.Resting; c.known() {
			const lost = "power taken away at rest, as after a stop of category 1 with a brake that is cut off at the same time: " + how
			s.figure(figure(x.Name, "way from rest", c.Way.Value, u.length, lost))
		}
	}
	for _, x := range r.Axes {
		a.brakeLimits(s, x)
	}
	if r.BackEMF > 0 {
		a.backEMF(s)
	}
}

// known reports whether the figures of a coasting axis are there.
func (c *Coasting) known() bool { return c != nil && c.Stops }

// brakeLimits holds the brake of an axis against what stops ask of it.
func (a *Assessment) brakeLimits(s *Section, x AxisStop) {
	m, c := a.Machine, x.Moving
	axis := m.axis(x.Name)
	b, u := axis.HoldingBrake, unitsOf(turns(axis.Drive.Mechanism))
	if c == nil {
		return
	}
	if c.Reason == "" && !c.Stops {
		why := "neither friction nor a brake stops it"
		if c.Braked {
			why = "its brake does not stop it"
		}
		f := atMost(figure(x.Name, "coast time", math.Inf(1), quantity.Time, "power lost anywhere in the cycle"), coastLimit,
			"a brake, or a stronger one; or make sure that nobody is in its way and nothing is damaged when power is lost")
		f.Reason, f.Caution = why, !c.Braked
		s.check(f)
	}
	if b == nil || !c.known() || !c.Braked {
		return
	}
	mark := func(f Figure, at At) Figure { f.Corner = at.Corner; return f }
	if b.Drop > 0 {
		s.check(atMost(mark(figure(x.Name, "way without power", c.Way.Value, u.length, "coast way; the limit is holdingBrake.drop"), c.Way), b.Drop,
			"a brake that closes sooner or is stronger, a lower speed, or a better balance of the load"))
	}
	if b.EnergyPerStop > 0 {
		s.check(atMost(mark(figure(x.Name, "brake work of one stop", c.Heat.Value, quantity.Energy, "brake work when power is lost anywhere in the cycle; the limit is what one stop may put into it"), c.Heat), b.EnergyPerStop,
			"a brake that bears more, a lower speed, or a lighter load"))
	}
	stop := c
	switch m.Stops.Category {
	case energy.Category1:
		stop = x.Resting
	case energy.Category2:
		stop = nil
	}
	if b.TotalEnergy == 0 || !stop.known() || m.Stops.PerYear == 0 {
		return
	}
	life, err := b.Life(stop.Heat.Value, float64(m.Stops.PerYear))
	if err != nil || life.Years == 0 {
		return // the stops take no work, or so little that it lasts longer than numbers do
	}
	f := mark(figure(x.Name, "brake years", life.Years, quantity.Ratio,
		"totalEnergy over the worst brake work of a stop of the category and stopsPerYear; in category 1 the axis rests when power goes. Wear in proportion to work is common practice, no source"), stop.Heat)
	if m.Stops.BrakeYears == 0 {
		s.figure(f)
		return
	}
	s.check(atLeast(f, m.Stops.BrakeYears, "a brake that bears more, fewer stops, or a stop that rests before power goes"))
}

// coastLimit is the time after which an axis that still moves is said not to stop [s].
const coastLimit = 600

// backEMF says from which speed on coasting motors drive current into the bus, and how far.
func (a *Assessment) backEMF(s *Section) {
	m, r := a.Machine, a.Bus.Stops
	const how = "of the axis whose motor is farthest above the bus, or nearest to it: √2 times the line-to-line back-EMF constant times the highest speed of the motor without power (without √2 for direct current), coldest magnets"
	worst := AxisStop{}
	for _, x := range r.Axes {
		if x.Moving.known() && (worst.Moving == nil || x.Moving.BackEMF.Excess > worst.Moving.BackEMF.Excess || x.Moving.BackEMF.Voltage == r.BackEMF && worst.Moving.BackEMF.Excess == 0) {
			worst = x
		}
	}
	e := worst.Moving.BackEMF
	s.note(fmt.Sprintf("The highest back-EMF is that of %s. Who works at a motor that can be turned treats it as live, with the mains off.", worst.Name))
	s.figure(figure("", "highest back-EMF", e.Voltage, quantity.Voltage, how))
	_, _, speed := m.axis(worst.Name).exerted()
	s.figure(figure("", "feeds the bus from", e.Threshold, speed, "lowest bus voltage of normal running over the crest of the back-EMF per speed"))
	s.figure(figure("", "back-EMF over the bus", e.Excess, quantity.Voltage, "highest crest less the lowest bus voltage of normal running; 0: nothing is returned"))
	high := a.Bus.Highest
	if r.BackEMFEnergy == 0 || math.IsInf(high, 0) {
		return
	}
	s.figure(figure("", "energy fed back", r.BackEMFEnergy, quantity.Energy, "kinetic energy and what drives the axis meanwhile, less the kinetic energy at that speed; sum of all axes that are examined; losses left out"))
	v := math.Max(high, math.Min(r.BackEMF, math.Sqrt(high*high+2*r.BackEMFEnergy/m.bus(late).Bank.Low().Capacitance)))
	s.check(atMost(figure("", "bus while axes coast", v, quantity.Voltage,
		"highest voltage of normal running, raised by the energy that coasting motors return, √(V0² + 2 E/C), but never above their highest back-EMF; least capacitance"),
		m.Bank.RatedVoltage, "a bank with a higher rating, a lower speed, or a brake resistor that works while the drives are off"))
}

func (a *Assessment) stopNotes(s *Section) {
	m, r := a.Machine, a.Bus.Stops
	s.note(fmt.Sprintf("Stops are of category %d (IEC 60204-1, 9.2.2, read in a secondary source; NFPA 79 has the same categories). The risk assessment says which one a stop function has to have: see CAUTIONS.", int(m.Stops.Category)))
	if m.Stops.Category == energy.Category0 {
		s.note("In category 0 the drives let go at once: nothing is returned by intent, and axes coast until friction or a brake stops them. The ways know no ends of travel: an axis may run into its stops, or into another axis.")
	}
	own := ""
	for _, x := range r.Axes {
		axis := m.axis(x.Name)
		if m.Stops.Category != energy.Category0 && axis.StopDecel == 0 {
			if own != "" {
				own += ", "
			}
			own += x.Name
		}
		switch c := x.Moving; {
		case c == nil:
		case c.Reason != "":
			s.note(x.Name + " without power is not examined: " + c.Reason + ".")
		case c.Slack:
			s.note(x.Name + " without power: its rope may go slack; load and drum then part, and its figures do not hold.")
		}
	}
	if own != "" {
		s.note("Without a stopDecel of their own, with the deceleration of their limits: " + own + ".")
	}
	if len(r.Axes) > 0 && m.Stops.Category == energy.Category1 {
		s.note("A drive that waits for its brake to close before it lets go holds its load meanwhile: what moves from rest then does not move.")
	}
	if m.Bleeder > 0 && m.OverVoltage > touchVoltage {
		a.bleederPrice(s)
	}
}

// bleederPrice says what the time of discharge costs.
func (a *Assessment) bleederPrice(s *Section) {
	m := a.Machine
	high := a.Bus.Highest
	if math.IsInf(high, 0) {
		high = m.OverVoltage
	}
	b := m.bus(early)
	b.Bank = m.allLinks()
	d, err := b.Discharge(bus.MachineDischarge, bus.Standby{}, m.OverVoltage, high)
	if err != nil || d.MostBleeder == 0 {
		return
	}
	s.note(fmt.Sprintf("The bleeder that discharges the bank takes up to %s in normal running; the weakest one that brings it to 60 V within 5 s takes %s there.",
		show(d.BleederPower, quantity.Power), show(d.MostBleederPower, quantity.Power)))
}

// brakeCheck holds the holding brake against the load's pull.
func (s *Section) brakeCheck(ax AxisResult, axis Axis) {
	const how = "the limit is the largest pull of weight, counterbalance and outside force at the motor anywhere in the cycle, payload included, with no friction to help; of a brake on another shaft at that shaft, through the ratio"
	_, amount, _ := axis.exerted()
	at, pull := ax.worst(func(l LoadResult) float64 { return l.Weight })
	b := axis.HoldingBrake
	switch {
	case b != nil:
		if b.Shaft > len(axis.Drive.Stages) {
			amount = unitsOf(turns(axis.Drive.Mechanism)).force
		}
		ratio, err := axis.brakeRatio()
		if err != nil {
			s.note(ax.Name + ": the holding brake is not checked: " + err.Error() + ".")
			return
		}
		s.check(atLeast(figure(ax.Name, "holding brake", b.Torque, amount, how).at(at), pull*ratio, "choose a stronger brake or balance the load"))
	case pull > 0:
		c := atLeast(figure(ax.Name, "holding brake", 0, amount, how).at(at), pull, "fit a brake, or make sure that nobody can be under the load and nothing is damaged when power is lost")
		c.Caution = true
		s.check(c)
	}
}

// stopGaps lists what the section on stops leaves out.
func (a *Assessment) stopGaps() []gap {
	if a.Machine.Stops == nil {
		return nil
	}
	braked := func(x Axis) bool { return x.HoldingBrake != nil && !x.HoldingBrake.Untimed }
	return []gap{
		{"fall without power (delay of the holding brake not given)", func(x Axis, r AxisResult) bool {
			return r.weight() > 0 && x.HoldingBrake != nil && x.HoldingBrake.Untimed
		}},
		{"fall without power (holdingBrake.drop not given)", func(x Axis, r AxisResult) bool { return braked(x) && r.weight() > 0 && x.HoldingBrake.Drop == 0 }},
		{"work of the holding brake in one stop (energyPerStop not given)", func(x Axis, r AxisResult) bool { return braked(x) && x.HoldingBrake.EnergyPerStop == 0 }},
		{"wear of the holding brake (totalEnergy, stopsPerYear or brakeYears not given)", func(x Axis, r AxisResult) bool {
			return braked(x) && (x.HoldingBrake.TotalEnergy == 0 || a.Machine.Stops.PerYear == 0 || a.Machine.Stops.BrakeYears == 0)
		}},
	}
}

// stopAssumptions says what the figures of stops rest on.
func (a *Assessment) stopAssumptions() {
	if a.Machine.Stops != nil {
		a.Assumptions = append(a.Assumptions, "Stops: all axes are stopped at once, anywhere in their cycles; a force against time stays as it is when the stop begins; drives keep to their ramps at any bus voltage. Without power an axis has neither end stops nor currents that the magnets drive, which would brake it.")
	}
}
