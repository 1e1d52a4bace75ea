package sizing

import (
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/thermal"
)

func (a *Assessment) cablesSection() Section {
	s := Section{Key: "cables", Question: "What do the cables to the drives drop, and does every drive have its voltage?"}
	m := a.Machine
	if !m.cabled() {
		s.note("No cables are given: every drive is taken to be at the bank.")
		return s
	}
	u := m.Supply.Source.NoLoadVoltage()
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			if axis := m.axis(ax.Name); axis.Cable != nil {
				a.cable(&s, ax, *axis.Cable, u)
			}
		}
	}
	s.note("A drive's voltage is bounded with the highest currents of all drives on the same cable at once, each at its lowest voltage. What conductors may carry for their temperature is under temperatures.")
	s.note("Fuses and breakers between bank and drives have to be rated for direct current at the highest bus voltage. Local codes decide.")
	return s
}

// cable holds one cable against what it may drop and its contacts may carry.
func (a *Assessment) cable(s *Section, ax AxisResult, c Cable, u float64) {
	m, e := a.Machine, a.Bus.AtDrives[ax.Name]
	r, err := c.resistance()
	if err != nil {
		return // validated
	}
	rms := a.cableRMS(ax.Name)
	s.figure(figure(ax.Name, "resistance", r, quantity.Resistance, "go and return at the conductors' temperature, with terminals and connector ("+c.Conductor+"; IEC 60228 highest resistance or ASTM B258; 234.5 line)"))
	s.figure(figure(ax.Name, "RMS current", rms, quantity.Current, "sum over all drives beyond of the RMS of their power over their lowest voltage"))
	s.figure(figure(ax.Name, "drop, RMS", rms*r, quantity.Voltage, "RMS current times resistance, this cable alone"))
	most := math.Max(e.Drawn, e.Back)
	drop := atMost(figure(ax.Name, "drop at peak", most*r, quantity.Voltage, "highest current that all drives beyond can draw or return together, times resistance, this cable alone; the limit is 5 % of the nominal voltage (IEC 60204-1, 12.5, from memory: guidance for normal running)"),
		bus.GuidanceDrop*u, a.dropCure(c, most, u))
	drop.Caution = true
	s.check(drop)
	if !math.IsInf(e.Lowest, 0) {
		s.check(atLeast(figure(ax.Name, "lowest voltage at the drive", e.Lowest, quantity.Voltage, a.basis()+", less what the cables drop"), m.UnderVoltage,
			"a thicker or shorter cable, or what holds the bus higher"))
	}
	if !math.IsInf(e.Highest, 0) {
		s.check(atMost(figure(ax.Name, "highest voltage at the drive", e.Highest, quantity.Voltage, a.basis()+", and what the cables drop while it returns"), m.OverVoltage,
			"a thicker or shorter cable, or what holds the bus lower"))
	}
	a.connector(s, ax.Name, c, rms, math.Max(rms, most))
	a.shortCircuit(s, ax, c, r, rms)
}

// cableRMS returns at most the RMS current of the cable of an axis, with that of all drives
// beyond [A].
func (a *Assessment) cableRMS(name string) float64 {
	rms := 0.0
	for _, st := range a.Stations {
		for _, other := range st.Axes {
			if a.Machine.feeds(name, other.Name) {
				v := a.lowestAt(other.Name)
				if !(v > 0) {
					v = a.Machine.Supply.Source.NoLoadVoltage()
				}
				rms += math.Max(other.hotPower.RMS(), other.coldPower.RMS()) / v
			}
		}
	}
	return rms
}

// connector holds the current of a cable against the contacts through which it is plugged.
func (a *Assessment) connector(s *Section, of string, c Cable, rms, peak float64) {
	k := c.Connector
	if k == nil {
		return
	}
	l, err := k.Loading(rms, peak)
	if err != nil {
		return // validated
	}
	more := func(x energy.Loading) string {
		return fmt.Sprintf("%.0f contacts or more in parallel on each pole, or stronger ones", math.Ceil(x.Value/x.Limit*float64(k.Contacts)))
	}
	s.check(atMost(figure(of, "RMS current of the connector", l.Continuous.Value, quantity.Current, "that of the cable; the limit is the rating of all contacts of a pole together, unevenly loaded"), l.Continuous.Limit, more(l.Continuous)))
	s.check(atMost(figure(of, "peak current of the connector", l.Peak.Value, quantity.Current, "highest current of the cable; the limit is the peak rating of all contacts of a pole together, the continuous one where none is given"), l.Peak.Limit, more(l.Peak)))
}

// dropCure names the section that would do.
func (a *Assessment) dropCure(c Cable, current, u float64) string {
	run, err := c.plugged()
	if err == nil {
		run, err = run.WithSmallest(bus.Flexible, current, bus.GuidanceDrop*u)
	}
	if err != nil {
		return "a shorter cable, or less current"
	}
	return "a cable of " + show(run.Wire.Section, quantity.Area) + " or more, or a shorter one"
}

// feeds reports whether the cable of one axis carries the current of another.
func (m Machine) feeds(cable, axis string) bool {
	for range len(m.Axes) {
		if axis == cable {
			return true
		}
		c := m.axis(axis).Cable
		if c == nil || c.From == "" {
			return false
		}
		axis = c.From
	}
	return false
}

// pvc are the temperatures between which a short circuit may heat conductors with PVC
// insulation [°C] (IEC 60364-4-43, table 43A, from memory).
var pvc = [2]float64{70, 160}

// fuseWindow is the time within which a fuse lets no heat go [s] (common practice, no
// source).
const fuseWindow = 0.01

// shortCircuit says what the bank delivers into a short at the end of a cable, and holds
// the fuse of the cable against it.
func (a *Assessment) shortCircuit(s *Section, ax AxisResult, c Cable, r, rms float64) {
	m := a.Machine
	path := r
	for from := c.From; from != ""; from = m.axis(from).Cable.From {
		if up, err := m.axis(from).Cable.resistance(); err == nil {
			path += up
		}
	}
	short, err := m.allLinks().High().Short(m.OverVoltage, path, 0).Figures()
	if err != nil {
		return
	}
	s.figure(figure(ax.Name, "short circuit, bank alone", short.Peak, quantity.Current, "over-voltage trip over the resistance of bank and cables, hot; cold ones let more through, inductance less"))
	k, err := thermal.AdiabaticCopper.K(pvc[0], pvc[1])
	if err != nil {
		return
	}
	withstand, err := c.Withstand(k)
	if err != nil {
		return
	}
	bears := atMost(figure(ax.Name, "I²t of that short", short.I2t, quantity.SquareCurrentTime, "C V²/(2 R), all that the bank stores; the limit is what the conductors bear, k² S² from 70 °C to 160 °C (PVC; IEC 60364-5-54, annex A, from memory): beyond, a fuse has to cut it short"),
		withstand, "a fuse for direct current at the bank, or a thicker cable")
	bears.Caution = true
	s.check(bears)
	if c.Fuse != nil {
		a.fuse(s, ax, *c.Fuse, bus.FuseDemand{RMS: rms, Voltage: m.OverVoltage, Short: short.Peak, ShortI2t: short.I2t, Withstand: withstand})
	}
}

// fuse holds a fuse against normal running and the short.
func (a *Assessment) fuse(s *Section, ax AxisResult, u bus.Fuse, d bus.FuseDemand) {
	v := a.lowestAt(ax.Name)
	if !(v > 0) {
		v = a.Machine.UnderVoltage
	}
	pulse, err := bus.HighestI2t(ax.hotPower.Scale(1/v), fuseWindow)
	if err != nil {
		return
	}
	d.PulseI2t = pulse
	l, err := u.Loading(d)
	if err != nil {
		return
	}
	for _, x := range []struct {
		name, how, cure string
		kind            quantity.Kind
		of              energy.Loading
	}{
		{"fuse: RMS current", "of the cable; the limit is the derated current of the fuse", "a fuse of a higher rating", quantity.Current, l.Continuous},
		{"fuse: I²t of pulses", "highest within 10 ms of normal running, this axis alone; the limit is a share of the melting I²t, beyond which the fuse ages (common practice, no source)", "a slower fuse, or one of a higher rating", quantity.SquareCurrentTime, l.Pulse},
		{"fuse: voltage", "over-voltage trip; the limit is the rating for direct current", "a fuse rated for direct current at that voltage", quantity.Voltage, l.Voltage},
		{"fuse: prospective current", "peak of the short by the bank alone; the limit is the breaking capacity for direct current", "a fuse of a higher breaking capacity", quantity.Current, l.Breaking},
		{"fuse: let through", "clearing I²t, or all of the short; the limit is what the conductors bear", "a faster fuse, or a thicker cable", quantity.SquareCurrentTime, l.LetThrough},
	} {
		s.check(atMost(figure(ax.Name, x.name, x.of.Value, x.kind, x.how), x.of.Limit, x.cure))
	}
	melts := atMost(figure(ax.Name, "fuse: melting I²t", l.Melting.Value, quantity.SquareCurrentTime, "the limit is what the bank delivers into the short: beyond, it is empty before the fuse has melted"), l.Melting.Limit,
		"a smaller or faster fuse; else the supply's current has to open it")
	melts.Caution = true
	s.check(melts)
}
