package sizing

import (
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
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
	s.note("A drive's voltage is bounded with the highest currents of all drives on the same cable at once, each at its lowest voltage. What conductors may carry for their temperature is not in this table.")
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
	// Of a chain the cable carries all drives beyond.
	rms := 0.0
	for _, st := range a.Stations {
		for _, other := range st.Axes {
			if m.feeds(ax.Name, other.Name) {
				v := a.lowestAt(other.Name)
				if !(v > 0) {
					v = u
				}
				rms += math.Max(other.hotPower.RMS(), other.coldPower.RMS()) / v
			}
		}
	}
	s.figure(figure(ax.Name, "resistance", r, quantity.Resistance, "go and return at the conductors' temperature, with terminals and contacts ("+c.Wire.Name+"; IEC 60228 highest resistance or ASTM B258; 234.5 line)"))
	s.figure(figure(ax.Name, "RMS current", rms, quantity.Current, "sum over all drives beyond of the RMS of their power over their lowest voltage"))
	s.figure(figure(ax.Name, "drop, RMS", rms*r, quantity.Voltage, "RMS current times resistance, this cable alone"))
	most := math.Max(e.Drawn, e.Back)
	drop := atMost(figure(ax.Name, "drop at peak", most*r, quantity.Voltage, "highest current that all drives beyond can draw or return together, times resistance, this cable alone; the limit is 5 % of the nominal voltage (IEC 60204-1, 12.5, from memory: guidance for normal running)"),
		bus.PermittedDrop*u, a.dropCure(c, most, u))
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
	if k := c.Contacts; k != nil {
		s.check(atMost(figure(ax.Name, "RMS current of the contacts", rms, quantity.Current, "of the cable; the limit is the rating of all contacts in parallel, unevenly loaded"), k.Permitted(),
			fmt.Sprintf("%.0f contacts or more in parallel, or stronger ones", math.Ceil(rms/k.Permitted()*math.Max(1, float64(k.Parallel))))))
		s.figure(figure(ax.Name, "peak over contact rating", most/k.Permitted(), quantity.Ratio, "highest current over what the contacts carry for long"))
	}
	a.shortCircuit(s, ax.Name, c, r)
}

// dropCure names the section that would do.
func (a *Assessment) dropCure(c Cable, current, u float64) string {
	if c.Contacts != nil {
		c.Ends += c.Contacts.Pair()
	}
	if w, ok, err := c.SmallestSection(current, bus.PermittedDrop*u, bus.Flexible); err == nil && ok {
		return "a cable of " + w.Name + " or more, or a shorter one"
	}
	return "a shorter cable, or less current"
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

// shortCircuit says what the bank delivers into a short at the end of a cable.
func (a *Assessment) shortCircuit(s *Section, name string, c Cable, r float64) {
	m := a.Machine
	path := r
	for from := c.From; from != ""; from = m.axis(from).Cable.From {
		if up, err := m.axis(from).Cable.resistance(); err == nil {
			path += up
		}
	}
	short, err := m.allLinks().High().Short(m.OverVoltage, path, 0)
	if err != nil {
		return
	}
	s.figure(figure(name, "short circuit, bank alone", short.Peak, quantity.Current, "highest bus voltage over the resistance of bank and cables, hot; cold ones let more through, inductance less"))
	withstand := bus.CopperWithstand * c.Wire.Section * math.Max(1, float64(c.Parallel))
	check := atMost(figure(name, "I²t of that short", short.I2t, quantity.SquareCurrentTime, "C V²/(2 R), all that the bank stores; the limit is what the conductors bear, k² S² with k = 115 A √s/mm² (PVC, IEC 60364-4-43, from memory): beyond, a fuse has to cut it short"),
		withstand*withstand, "a fuse for direct current at the bank, or a thicker cable")
	check.Caution = true
	s.check(check)
}
