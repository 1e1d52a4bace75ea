package sizing

import (
	"fmt"
	"math"

	"example.com/headroom/internal/quantity"
)

func (a *Assessment) resistorSection() Section {
	s := Section{Key: "resistor", Question: "Do brake resistor or clamp burn what the axes return?"}
	m, r := a.Machine, a.Bus
	s.figure(figure("", "returned, mean of all stations", r.Guarantee.MeanReturnedPower, quantity.Power, "sum of the means of the negative parts of the stations' powers, cold copper"))
	returned := 0.0
	for _, st := range a.Stations {
		returned += math.Max(0, -st.Cold.Min().V)
	}
	s.figure(figure("", "peak power returned", returned, quantity.Power, "sum of the stations' highest returned powers, cold copper"))
	if len(m.Brakes) == 0 && m.Clamp == nil {
		s.note("There is neither brake resistor nor clamp: the bank and the axes that are drawing take all that is returned.")
	}
	for i := range m.Brakes {
		a.brakeChecks(&s, i)
	}
	if m.Clamp != nil {
		a.clampChecks(&s)
	}
	return s
}

// brakeChecks holds one brake resistor against its limits. Of several each is taken
// to burn all that is returned: the one with the lowest threshold may.
func (a *Assessment) brakeChecks(s *Section, i int) {
	m, r, b := a.Machine, a.Bus, a.Machine.Brakes[i]
	of := ""
	if len(m.Brakes) > 1 {
		of = fmt.Sprintf("resistor %d", i+1)
	}
	noLoad, _ := m.bus(early).SourceHeatsResistor()
	on := b.at(late).OnVoltage
	off := atLeast(figure(of, "off threshold", b.at(early).OffVoltage, quantity.Voltage,
		"lowest within its tolerance; the limit is the source's highest no-load voltage: at or below it the source would heat the resistor without end"),
		noLoad, thresholdCure)
	off.OK = off.Margin > 0
	s.check(off)
	s.check(atMost(figure(of, "on threshold", on, quantity.Voltage, "highest within its tolerance; the limit is the over-voltage trip of the drives"),
		m.OverVoltage, "lower the on threshold below the trip"))
	least := figure(of, "power burned at the on threshold", on*on/b.at(late).Resistance, quantity.Power,
		"V²/R at the highest on threshold and the highest resistance; while more is returned the bus rises on")
	if b.Tolerance > 0 {
		least.Name += ", least"
		s.figure(figure(of, "power burned at the on threshold, most", on*on/b.at(early).Resistance, quantity.Power, "V²/R at the highest on threshold and the lowest resistance"))
	}
	s.figure(least)
	highest := on
	if !math.IsInf(r.Highest, 0) {
		highest = math.Max(on, r.Highest)
	}
	current := figure(of, "current of its switch", highest/b.at(early).Resistance, quantity.Current,
		"V/R at the highest bus voltage and the lowest resistance")
	if b.SwitchCurrent > 0 {
		s.check(atMost(current, b.SwitchCurrent, "a resistor of "+show(highest/b.SwitchCurrent/(1-b.Tolerance), quantity.Resistance)+" or more, or a stronger switch"))
	} else {
		s.figure(current)
	}
	mean := "settled cycle"
	if !a.exact() {
		mean = "all that the stations return, cold copper: not exceeded at any phasing"
	}
	power := atMost(figure(of, "mean power", r.ResistorMean, quantity.Power, mean),
		b.Rating.Continuous*b.Rating.Derating, "a resistor with a higher continuous rating, or gentler braking")
	s.check(power)
	s.figure(figure(of, "share of time it is on, at most", math.Min(1, r.ResistorMean/(b.at(early).OffVoltage*b.at(early).OffVoltage/b.at(late).Resistance)), quantity.Fraction,
		"mean power over V²/R at the lowest off threshold and the highest resistance"))
	pulse := atMost(figure(of, "energy of one burst", r.ResistorOnce, quantity.Energy,
		"most energy that the stations return net in any window, plus what the bank gives from the highest on to the lowest off threshold, most capacitance"),
		b.Rating.Pulse, "a resistor with a higher pulse rating")
	if math.IsInf(r.ResistorOnce, 1) {
		pulse.Reason = "a station returns more than it draws: braking has no end"
	}
	s.check(pulse)
}

func (a *Assessment) clampChecks(s *Section) {
	m, r := a.Machine, a.Bus
	c := m.Clamp
	low := atLeast(figure("clamp", "voltage", c.Voltage, quantity.Voltage, "from which it conducts; the limit is the source's highest no-load voltage: below it the source would heat the clamp without end"),
		m.Supply.Source.High().NoLoadVoltage(), "raise the clamp's voltage, or lower the supply's")
	low.OK = low.Margin > 0
	s.check(low)
	s.check(atMost(figure("clamp", "mean power", r.Guarantee.MeanReturnedPower, quantity.Power, "all that the stations return, cold copper: not exceeded at any phasing"),
		c.Rating.Continuous*c.Rating.Derating, "a clamp with a higher continuous rating, or gentler braking"))
	s.check(atMost(figure("clamp", "energy of one burst", r.Guarantee.ReturnedBurst, quantity.Energy, "most energy that the stations return net in any window"),
		c.Rating.Pulse, "a clamp with a higher pulse rating"))
}
