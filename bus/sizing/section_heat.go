package sizing

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/headroom/internal/quantity"
	"example.com/headroom/thermal"
)

// timeName and lifeName are what is known of hot parts beside their temperature.
const (
	timeName = "time to get there"
	lifeName = "life"
)

// timeTo returns the time that a part takes to its temperature, or to its limit where that
// is passed.
func timeTo(of string, t float64, how string) Figure {
	return figure(of, timeName, t, quantity.Time, "from the ambient to the limit where that is passed, else to 95 % of the settled rise, ln 20 time constants; "+how)
}

func (a *Assessment) heatSection() Section {
	s := Section{Title: "temperatures", Key: "heat", Question: "How hot does everything get, and what is nearest to its limit?"}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			a.windingCheck(&s, ax)
		}
	}
	a.airChecks(&s)
	a.bankChecks(&s)
	a.resistorHeat(&s)
	a.cableHeat(&s)
	// The hottest part stands first: the one with the smallest margin.
	slices.SortStableFunc(s.Checks, func(x, y Check) int {
		switch {
		case x.Margin < y.Margin:
			return -1
		case x.Margin > y.Margin:
			return 1
		}
		return 0
	})
	if len(s.Checks) > 0 {
		c := s.Checks[0]
		if math.IsInf(c.Margin, 0) {
			s.note("Nearest to its limit: " + c.subject() + ", which has no settled temperature.")
		} else {
			lead := figure("", "smallest margin: "+c.subject(), c.Margin, quantity.TemperatureDifference, "limit less temperature, of the part that has least")
			s.Figures = append([]Figure{lead}, s.Figures...)
		}
	}
	a.deratedChecks(&s)
	a.heatFigures(&s)
	s.note("A calculated temperature does not replace a sensor in the winding, the overload protection of a drive or a thermal cut-out at a resistor.")
	return s
}

// windingCheck holds a winding against its limit: its peak within the cycle where the motor
// is given as two nodes, else the mean of one.
func (a *Assessment) windingCheck(s *Section, ax AxisResult) {
	const cure = "dwell longer, lower the acceleration, cool the motor, or choose a larger one"
	axis := a.Machine.axis(ax.Name)
	limit := axis.Winding.Max
	r := a.Heat.Windings[ax.Name]
	if r == nil || r.failed != nil {
		c := atMost(figure(ax.Name, "winding, mean", ax.Winding.Temperature, quantity.Temperature,
			"settled mean of the winding in the highest ambient, at the end of the load's spread that heats it most; thermal resistance from the continuous rating, copper loss growing with temperature; one node: a peak within a cycle that is long against the winding's time constant is higher"), limit, cure)
		if ax.Runaway != nil {
			c.Value = math.Inf(1)
			c = verdict(c)
			c.Reason = ax.Runaway.Error()
		}
		s.check(c)
		return
	}
	f := figure(ax.Name, "winding, peak", math.Inf(1), quantity.Temperature,
		"highest within the settled cycle in the highest ambient: heat balance of winding and housing, copper loss growing with (234.5 + T), magnets as hot as the housing, drag heating the housing")
	f.Corner = r.Corner
	if r.Runaway == nil {
		f.Value = r.Hottest.V
	}
	c := atMost(f, limit, cure)
	if r.Runaway != nil {
		c.Reason = r.Runaway.Error()
	}
	const how = "of a winding by its mean loss, copper loss growing with temperature; the longest time constant of winding and housing over 1 less the feedback of the copper"
	switch {
	case r.ToLimit > 0:
		c.More = append(c.More, timeTo(ax.Name, r.ToLimit, how))
	case r.Settling > 0:
		c.More = append(c.More, timeTo(ax.Name, r.Settling, how))
	}
	s.check(c)
}

// airChecks holds the temperature around supply, drives and what else is in the cabinet
// against what they stand.
func (a *Assessment) airChecks(s *Section) {
	m, in := a.Machine, a.Machine.inside()
	c := a.Heat.Cabinet
	check := func(of, name string, inside bool, limit float64, cure string) {
		how := "the highest ambient"
		if inside {
			how = "heat balance of the cabinet, P = (k A + ρ cp V)(Tinside - Toutside), with the mean loss of all that is inside; a mean: under the top it is hotter"
		}
		x := atMost(figure(of, name, a.around(inside), quantity.Temperature, how), limit, cure)
		if inside && c.Runaway != nil {
			x.Value = math.Inf(1)
			x = verdict(x)
			x.Reason = c.Runaway.Error()
		}
		s.check(x)
	}
	const cure = "a larger cabinet, more air through it, or parts that stand outside"
	if x := m.Supply.Ambient; x != nil {
		check("supply", "air around it", in.Supply, x.Max, cure)
	}
	limit, of := math.Inf(1), ""
	for _, ax := range m.Axes {
		if x := ax.DriveAmbient; x != nil && x.Max < limit {
			limit, of = x.Max, ax.Name
		}
	}
	if of != "" {
		check("drives", "air around them", in.Drives, limit, cure)
	}
	if c != nil && m.Cabinet.Max != 0 {
		check("cabinet", "air inside", true, m.Cabinet.Max, cure)
	}
}

// bankChecks holds the core of the capacitors against the temperature of their rating.
func (a *Assessment) bankChecks(s *Section) {
	b, c := a.Heat.Bank, a.Machine.Capacitors
	if b == nil {
		return
	}
	x := atMost(figure("bank", "core of its capacitors", b.Core, quantity.Temperature,
		"T = Tambient + Rth I² R of one capacitor, with its share of the ripple current, series resistance at the end of life; the limit is the core temperature of the rated life"),
		c.RatedCore, "a bank of more capacitors in parallel, or a cooler place")
	x.More = append(x.More, figure("bank", lifeName, b.Life, quantity.Time,
		"by the "+b.Rule+", from the rated life; no longer than at a core of 40 °C (common practice, no source). An estimate that ranks choices, not a promise"))
	s.check(x)
}

// resistorHeat says how hot the brake resistors get.
func (a *Assessment) resistorHeat(s *Section) {
	for i, h := range a.Heat.Resistors {
		b := a.Machine.Brakes[i]
		if b.Heat.NoPowerAt == 0 {
			continue
		}
		x := atMost(figure(a.resistorName(i), "surface", h.Temperature, quantity.Temperature,
			"T = Tambient + (noPowerAt - ratedAmbient) P/Pcontinuous with the highest mean power: one body on the straight line of its derating (common practice, no source); bursts make it hotter for a while"),
			b.Heat.NoPowerAt, "a resistor with a higher continuous rating, gentler braking, or a cooler place")
		if t := b.Heat.TimeConstant; t > 0 {
			x.More = append(x.More, a.resistorTime(h, b))
		}
		s.check(x)
	}
}

// resistorTime returns how long a brake resistor takes to its temperature or to its limit.
func (a *Assessment) resistorTime(h ResistorHeat, b Brake) Figure {
	t := settledAfter * b.Heat.TimeConstant
	o := thermal.FirstOrder{TimeConstant: b.Heat.TimeConstant, Rise: h.Temperature - h.Ambient}
	if to, reached, err := o.TimeTo(0, b.Heat.NoPowerAt-h.Ambient); err == nil && reached {
		t = to
	}
	return timeTo("brake resistor", t, "of a resistor with its time constant: τ ln(θ∞/(θ∞ - θ))")
}

func (a *Assessment) resistorName(i int) string {
	if len(a.Machine.Brakes) > 1 {
		return fmt.Sprintf("brake resistor %d", i+1)
	}
	return "brake resistor"
}

// cableHeat holds the conductors of cables against what their insulation permits.
func (a *Assessment) cableHeat(s *Section) {
	for _, ax := range a.Machine.Axes {
		h, ok := a.Heat.Cables[ax.Name]
		if !ok || h.Limit == 0 {
			continue
		}
		x := atMost(figure(ax.Name, "conductor of the cable", h.Temperature, quantity.Temperature,
			"T - Ta = (Tmax - Ta)(I/Imax)² (234.5 + T)/(234.5 + Tmax), I the RMS current of one conductor, Imax as permitted below"),
			h.Limit, "a thicker cable, fewer in a bunch, or a cooler place")
		if math.IsInf(h.Temperature, 0) {
			x.Reason = "its loss grows faster with temperature than the heat leaves"
		}
		if h.Settling > 0 {
			x.More = append(x.More, timeTo(ax.Name, h.Settling, "of a conductor with its time constant over 1 less the feedback of the copper"))
		}
		s.check(x)
	}
}

// deratedChecks holds loads against ratings that depend on temperature or time.
func (a *Assessment) deratedChecks(s *Section) {
	m, in := a.Machine, a.Machine.inside()
	if x := m.Supply.Ambient; x != nil {
		share := x.share(a.around(in.Supply))
		s.check(atMost(figure("supply", "mean power", a.Bus.MeanPower, quantity.Power, fmt.Sprintf("as under supply; the limit is the rated power, of which %.0f %% are left in the temperature around it", 100*share)),
			m.Supply.RatedPower*share, "a larger supply, or a cooler place"))
	}
	for _, w := range a.Heat.Overloads {
		if a.averaged(w.Time) {
			continue // held against the same rating under any phase
		}
		c := atMost(figure("supply", "mean over "+show(w.Time, quantity.Time), w.Mean, quantity.Power,
			"most that all stations take within any such time at any phasing, with what the bleeder takes and what recharges the bank from its lowest voltage, but no more than the current limit gives; the limit is the overload rating, derated as the rated power"),
			w.Limit, "a larger supply, or a larger bank with a supply of a lower limit")
		if math.IsInf(w.Mean, 0) {
			c.Reason = "the bus has no lowest voltage, and the supply no limit of its current"
		}
		s.check(c)
	}
	at := func(p WindowLoad) bool { return math.Abs(p.Time-a.Heat.Overload.Window) <= 1e-6*p.Time }
	if w := a.Heat.Overload; w != nil && !math.IsInf(w.Window, 0) && !slices.ContainsFunc(a.Heat.Overloads, at) {
		s.check(atMost(figure("supply", "worst mean, over "+show(w.Window, quantity.Time), w.Loading.Value, quantity.Power,
			"as the means above, of all times from that of the first point on the one nearest to its limit; the limit is a straight line between the points of the overload rating on logarithmic scales (common practice, no source), derated as the rated power"),
			w.Loading.Limit, "a larger supply, or a larger bank with a supply of a lower limit"))
	}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			axis := m.axis(ax.Name)
			share := axis.DriveAmbient.share(a.around(in.Drives))
			if share == 1 || axis.Drive.Drive.ContinuousCurrent == 0 {
				continue
			}
			at, v := ax.worst(func(l LoadResult) float64 { return l.Drive.Continuous.Value })
			f := figure(ax.Name, "RMS current, derated", v, quantity.Current, "root of the mean square over the cycle; the limit is the continuous current that is left in the temperature around the drive, which falls by lossPerKelvin above fullUpTo").at(at)
			if axis.Drive.Motor.Winding.Sinusoidal() {
				f.Basis = "RMS"
			}
			s.check(atMost(f, axis.Drive.Drive.ContinuousCurrent*share, "a cooler place, or a larger drive"))
		}
	}
	for i, h := range a.Heat.Resistors {
		a.resistorRatings(s, i, h)
	}
	for _, ax := range m.Axes {
		if h, ok := a.Heat.Cables[ax.Name]; ok {
			s.check(atMost(figure(ax.Name, "RMS current of a conductor", h.Current, quantity.Current,
				fmt.Sprintf("that of the cable over its conductors in parallel; the limit is %s (edition %s; %s), for the ambient by √((Tmax - T)/(Tmax - T0)) where the table names temperatures, times the factor for bunched circuits (IEC 60364-5-52, for gauges NEC 310.15; from memory). The local code in force decides", h.Table.Title, h.Table.Edition, h.Table.Status)),
				h.Permitted, "a thicker cable, or fewer in a bunch"))
		}
	}
	if b := a.Heat.Bank; b != nil && m.Capacitors.NeededLife > 0 {
		s.check(atLeast(figure("bank", "life of its capacitors", b.Life, quantity.Time, "by the "+b.Rule+", see life"), m.Capacitors.NeededLife,
			"a bank of more capacitors in parallel, of a longer rated life, or a cooler place"))
	}
}

// resistorRatings holds a brake resistor against its ratings in the temperature around it.
func (a *Assessment) resistorRatings(s *Section, i int, h ResistorHeat) {
	b, of := a.Machine.Brakes[i], a.resistorName(i)
	if b.Heat.NoPowerAt != 0 && h.Share < 1 {
		s.check(atMost(figure(of, "mean power, derated", a.Bus.ResistorMean, quantity.Power, "as under resistor; the limit falls on the straight line from ratedAmbient to noPowerAt"),
			b.Rating.Continuous*h.Share, "a resistor with a higher continuous rating, or a cooler place"))
	}
	if len(b.Heat.Pulses) == 0 {
		return
	}
	first := b.Heat.Pulses[0]
	if h.Burst > 0 && h.Burst < first.Duration {
		s.note(fmt.Sprintf("A burst in the %s may last as little as %s, and the first point of its pulse rating is at %s: shorter times are not held against it.", of, show(h.Burst, quantity.Time), show(first.Duration, quantity.Time)))
	}
	t := h.Train
	if t == nil {
		return
	}
	how := "most that the resistor burns within any such time, of all times from that of the first point on the one nearest to its limit: all that the stations return in any phase, and what the bank gives from its highest voltage to the off threshold, at no more than the highest power"
	if a.exact() {
		how = "most that the resistor burns within any such time of the settled cycle, of all times from that of the first point on the one nearest to its limit"
	}
	how += "; the limit is a straight line between the points of its pulse rating on logarithmic scales, derated"
	if w := t.Window; math.IsInf(w, 0) {
		s.check(atMost(figure(of, "pulses, mean", t.Loading.Value, quantity.Power, how+"; of long times"), t.Loading.Limit, "a resistor with a higher continuous rating"))
	} else {
		s.check(atMost(figure(of, "pulses, within "+show(w, quantity.Time), t.Loading.Value*w, quantity.Energy, how), t.Loading.Limit*w, "a resistor with a higher pulse rating"))
	}
	c := atMost(figure(of, "mean and pulses together", t.Combined, quantity.Fraction,
		"mean power over the continuous rating plus what any time brings above that mean over the energy of the first point of the pulse rating, both derated: up to 100 % one body that its mean power keeps warm has enough left; above it may, if pulses are long"),
		1, "a resistor with a higher rating, or its maker's word for the two together")
	c.Caution = true
	s.check(c)
}

// heatFigures lists what has no limit.
func (a *Assessment) heatFigures(s *Section) {
	m := a.Machine
	if f := thinAir(m.Altitude); f < 1 {
		s.figure(figure("", "permitted rise of windings at the altitude", f, quantity.Fraction, "1 % less for every 100 m above 1000 m (IEC 60034-1, 8.10, from memory, unconfirmed); the thermal resistances are taken higher by as much, so that temperatures and continuous torques contain it"))
	}
	if c := a.Heat.Cabinet; c != nil && c.Runaway == nil {
		s.figure(figure("", "temperature in the cabinet", c.Inside, quantity.Temperature, "heat balance P = (k A + ρ cp V)(Tinside - Toutside) with the loads below; k is 5.5 W/(m²K) where none is given (painted steel; common practice, no source)"))
		for i, name := range c.Names {
			s.figure(figure("", "heat in the cabinet: "+name, c.Loads[i], quantity.Power, c.how[i]))
		}
	}
	if b := a.Heat.Bank; b != nil && m.HoursPerYear > 0 {
		s.figure(figure("", "life of the bank in years", b.Life/m.HoursPerYear, quantity.Ratio, "life over hoursPerYear"))
	}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			if r := a.Heat.Windings[ax.Name]; r != nil && r.WindingCourse != nil && r.Runaway == nil {
				s.figure(figure(ax.Name, "winding, mean", r.Temperatures[thermal.WindingNode].Mean(), quantity.Temperature, "mean over the settled cycle of the two nodes"))
				s.figure(figure(ax.Name, "housing, peak", r.Housing, quantity.Temperature, "highest within the settled cycle; the mean over the housing: spots may be hotter"))
				if r.AtPeak >= 0 {
					s.figure(figure(ax.Name, "overload time", r.AtPeak, quantity.Time, "at peak torque, from the hottest instant of the cycle until the winding is at its limit; drive and magnets may set a shorter time"))
				}
			}
			if d, ok := a.Heat.Duties[ax.Name]; ok {
				s.figure(figure(ax.Name, "equivalent torque", d.EquivalentTorque, quantity.Torque, "constant torque of the motor with the same mean copper loss, its own drag included, load as entered: RMS over the cycle; the worst end of the load is held against the continuous torque under motors"))
				s.figure(figure(ax.Name, "cyclic duration factor", d.CyclicDurationFactor, quantity.Fraction, "all but the rests over the time of the cycle (IEC 60034-1, 4.2, from memory)"))
			}
		}
	}
	if text := a.duties(); text != "" {
		s.note(text)
	}
}

// duties names the duty types of the cycles.
func (a *Assessment) duties() string {
	var types []thermal.DutyType
	of, why := map[thermal.DutyType][]string{}, map[thermal.DutyType]string{}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			if d, ok := a.Heat.Duties[ax.Name]; ok {
				if of[d.Type] == nil {
					types = append(types, d.Type)
				}
				of[d.Type] = append(of[d.Type], ax.Name)
				why[d.Type] = d.Reason // of several alike the last
			}
		}
	}
	if len(types) == 0 {
		return ""
	}
	slices.Sort(types)
	var parts []string
	for _, t := range types {
		parts = append(parts, t.String()+": "+strings.Join(of[t], ", ")+" ("+why[t]+")")
	}
	return "Duty of the cycles (types of IEC 60034-1, 4.2, definitions from memory): " + strings.Join(parts, "; ") + "."
}

// uncheckedHeat lists what no temperature or thermal rating was held against.
func (a *Assessment) uncheckedHeat() []gap {
	m := a.Machine
	add := func(missing bool, what string) {
		if missing {
			a.Unchecked = append(a.Unchecked, what)
		}
	}
	add(m.Cabinet == nil, "temperature inside the cabinet (cabinet not given): supply, drives and bank are taken to stand in the highest ambient")
	add(m.Supply.Ambient == nil, "supply in the temperature around it (supply.thermal not given)")
	add(m.Supply.Ambient != nil && len(m.Supply.Overload) == 0, "overload of the supply over time (supply.thermal.overload not given)")
	add(m.Capacitors == nil, "heating and life of the bank (bank.thermal not given)")
	add(m.Capacitors != nil && a.Heat.Bank == nil, "heating and life of the bank (its ripple current or its seriesResistance is not known)")
	for i, b := range m.Brakes {
		name := a.resistorName(i)
		add(b.Heat.NoPowerAt == 0, "temperature of the "+name+" (thermal.noPowerAt not given)")
		add(len(b.Heat.Pulses) == 0, "pulses in the "+name+" against their duration (thermal.pulses not given)")
		if i < len(a.Heat.Resistors) {
			h := a.Heat.Resistors[i]
			add(len(b.Heat.Pulses) > 0 && h.Burst > 0 && h.Burst < b.Heat.Pulses[0].Duration, "short bursts in the "+name+" against their duration (its pulse rating has no point as short)")
			add(len(b.Heat.Pulses) > 0 && h.Train == nil, "pulses in the "+name+" against their duration (out of reach of the calculation)")
		}
	}
	return []gap{
		{"peak winding temperature within the cycle (the motor's thermal not given): the mean is held instead", func(x Axis, r AxisResult) bool { return x.Nodes == nil }},
		{"peak winding temperature within the cycle (out of reach of the calculation): the mean is held instead", func(x Axis, r AxisResult) bool {
			w := a.Heat.Windings[r.Name]
			return w != nil && w.failed != nil
		}},
		{"drive in the temperature around it (the drive's thermal not given)", func(x Axis, r AxisResult) bool { return x.DriveAmbient == nil }},
		{"current that the cable may carry for its temperature (cable.ampacity not given)", func(x Axis, r AxisResult) bool { return x.Cable != nil && x.Cable.Ampacity == nil }},
		{"temperature of the cable's conductor (the table for its gauge names none)", func(x Axis, r AxisResult) bool {
			h, ok := a.Heat.Cables[x.Name]
			return ok && h.Limit == 0
		}},
	}
}

// heatAssumptions says what the temperatures rest on.
func (a *Assessment) heatAssumptions() {
	m := a.Machine
	text := "Temperatures are settled ones, with the highest ambient all the time and the cycles repeated for ever."
	if len(a.Heat.Windings) > 0 {
		text += " A motor is a winding in its housing, its magnets as hot as the housing; the electrical figures take the winding's mean, of one body, with all heat in the winding and the magnets as hot as it: hotter."
	}
	if m.Cabinet != nil {
		text += " The cabinet has one temperature, a mean."
		if w := a.Bus.Ripple; m.Supply.Rectified != nil && m.Cabinet.Inside.Supply && (w == nil || w.Top == nil) {
			text += " The loss of the rectifier under load is not in its heat, as it cannot carry the load."
		}
	}
	if a.Heat.Bank != nil {
		text += " The capacitors of the bank share the ripple evenly, and bear the series resistance of their end of life all the time."
	}
	a.Assumptions = append(a.Assumptions, text)
}

// hot is the temperature from which on the report warns of a housing [°C]; what may be
// touched is a matter of local codes.
const hot = 50

// heatCautions warns of hot surfaces.
func (a *Assessment) heatCautions() {
	var names []string
	top := math.Inf(-1)
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			t := ax.Winding.Temperature // no housing is hotter
			if r := a.Heat.Windings[ax.Name]; r != nil && r.WindingCourse != nil {
				t = r.Housing
			}
			if t >= hot {
				names, top = append(names, ax.Name), math.Max(top, t)
			}
		}
	}
	if len(names) > 0 {
		a.Cautions = append(a.Cautions, fmt.Sprintf("Hot surfaces: motor housings can reach up to %s (%s), and other parts their figures under temperatures. From which temperature on a surface has to be guarded or marked is a matter of local codes.",
			show(top, quantity.Temperature), strings.Join(names, ", ")))
	}
	for i, h := range a.Heat.Resistors {
		if h.Temperature > 0 {
			a.Cautions = append(a.Cautions, fmt.Sprintf("Hot resistor: the surface of the %s can be at %s for as long as the machine runs, and hotter after a burst; keep cables and what can burn away from it.", a.resistorName(i), show(h.Temperature, quantity.Temperature)))
		}
	}
}
