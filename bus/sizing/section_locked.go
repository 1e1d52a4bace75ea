package sizing

import (
	"fmt"
	"slices"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
)

// lockedSection shows the start delays chosen for stations that are locked to each other,
// and what they bring.
func (a *Assessment) lockedSection(s *Section) {
	r := a.Locked
	if r == nil {
		return
	}
	if r.Phasing == nil {
		s.note("No start delays were found: " + r.None + ".")
		return
	}
	aim := a.Machine.Lock.Aim
	search := fmt.Sprintf("best of %s tried for the %s: every range in turn in steps of a 24th and narrowed in, with several ranges from four places and then all at once around the best (own search: good delays, not provably the best)", count(r.Evaluated, "line-up"), aim)
	for i, st := range a.Stations {
		var d StartDelay // a station without one is fixed at 0
		if given := a.Machine.Stations[i].StartDelay; given != nil {
			d = *given
		}
		s.figure(figure(st.Name, "start delay", r.Offsets[i], quantity.Time, search))
		s.figure(figure(st.Name, "earliest", d.Earliest, quantity.Time, "as given; 0 where no range is given"))
		s.figure(figure(st.Name, "latest", d.Latest, quantity.Time, "as given; 0 where no range is given"))
	}
	const settled = "settled course over a common cycle, stations without other pauses than to the next start, at the distribution point; "
	type row struct {
		aim              bus.Aim
		name, corner     string
		kind             quantity.Kind
		chosen, earliest float64
	}
	rows := []row{
		{bus.LeastSag, "lowest bus voltage", settled + "lowest set point or line, least capacitance, hot copper", quantity.Voltage, r.Chosen.Lowest, r.Earliest.Lowest},
		{bus.LeastRise, "highest bus voltage", settled + "highest set point or line, least capacitance, latest thresholds, cold copper", quantity.Voltage, r.Chosen.Highest, r.Earliest.Highest},
		{bus.LeastPeak, "peak power of the axes", "highest sum of the stations' powers over a common cycle, hot copper", quantity.Power, r.Chosen.Peak, r.Earliest.Peak},
		{bus.LeastResistor, "burned in brake resistors", settled + "energy in one common cycle, highest set point or line, least capacitance, earliest thresholds, cold copper", quantity.Energy, r.Chosen.Resistor, r.Earliest.Resistor},
	}
	rows = slices.Insert(slices.Delete(slices.Clone(rows), int(aim), int(aim)+1), 0, rows[aim]) // what was aimed at comes first
	for _, x := range rows {
		x.corner = x.name + " with the start delays: " + x.corner
		if x.aim == bus.LeastResistor && len(a.Machine.Brakes) == 0 {
			continue
		}
		s.figure(figure(x.name, "chosen", x.chosen, x.kind, x.corner))
		s.figure(figure(x.name, "all at earliest", x.earliest, x.kind, "as chosen, with every station at its earliest"))
		if x.aim == aim {
			gain := func(from float64) float64 {
				if aim == bus.LeastSag {
					return r.Value - from
				}
				return from - r.Value
			}
			s.figure(figure(x.name, "worst found", r.Worst, x.kind, "worst within the ranges that the same search found, computed as chosen"))
			s.figure(figure(x.name, "gain on earliest", gain(r.Together), x.kind, "by how much the delays chosen are better than all stations at their earliest"))
			s.figure(figure(x.name, "gain on worst", gain(r.Worst), x.kind, "by how much the delays chosen are better than the worst found within the ranges"))
		}
	}
	s.note(fmt.Sprintf("The delays are chosen for the %s; the course repeats after %s. They help only as long as the controller keeps them: no limit is held against these figures. The bounds for any phase, which hold without the lock too, as after a stop, are those that the machine is held against.", aim, show(r.Common, quantity.Time)))
	if !r.Chosen.Repeats {
		s.note("The bus did not come to repeat within the cycles that were followed: it may go farther than these figures say.")
	}
}
