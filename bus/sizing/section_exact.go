package sizing

import (
	"fmt"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
)

// exactFigures shows the extremes over all phases beside bounds and line-ups.
func (a *Assessment) exactFigures(s *Section) {
	r := a.Exact
	if r == nil {
		return
	}
	for _, x := range []struct {
		of, corner string
		e          *bus.Extreme
		why        string
	}{
		{"sag, exact", "the least capacitance, the lowest set point or line, hot copper and the lowest thresholds and resistances", r.Lowest, r.NoLowest},
		{"rise, exact", "the least capacitance, the highest set point or line, cold copper and the highest thresholds and resistances", r.Highest, r.NoHighest},
	} {
		if x.e == nil {
			s.note(fmt.Sprintf("%s: not found, because %s.", x.of, x.why))
			continue
		}
		how := fmt.Sprintf("branch and bound over the start delays of the stations, with %s, within %s of the no-load voltage: of two courses the one with more power at every instant is nowhere above the other (comparison of solutions of a differential equation of first order, any text on these)", x.corner, show(r.Horizon, quantity.Time))
		s.figure(figure(x.of, "not passed", x.e.Bound, quantity.Voltage, "in no phase of stations that never pause; "+how))
		s.figure(figure(x.of, "attained", x.e.Attained, quantity.Voltage, "simulation with the start delays found; "+how))
		s.figure(figure(x.of, "bracket, asked for", r.Tolerance, quantity.Voltage, "width to which the two were to be brought together"))
		if d := x.e.Bound - x.e.Attained; max(d, -d) > r.Tolerance*(1+1e-9) {
			s.note(fmt.Sprintf("%s: the bracket is wider than asked for, since the search came to its end of %s of phases.", x.of, count(x.e.Boxes, "box")))
		}
		for i, st := range a.Stations {
			s.figure(figure(st.Name, "start delay, "+x.of, x.e.Offsets[i], quantity.Time, "of its cycle where the extreme is attained, against the first station"))
		}
	}
}
