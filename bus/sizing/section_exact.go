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
	if r.Lowest != nil || r.Highest != nil {
		s.note(fmt.Sprintf("The exact extremes are those of stations that never pause, within %s of an instant at which the bank is at the no-load voltage and the first station starts its cycle. The worst line-up found may begin anywhere in the cycles, and so go beyond them where the supply does not fill the bank up again; the bounds hold for that too.", show(r.Horizon, quantity.Time)))
	}
	for _, x := range []struct {
		of, corner string
		e          *bus.Extreme
		why        string
		any        bus.Bound
		sign       float64
	}{
		{"sag, exact", "the least capacitance, the lowest set point or line, hot copper and the lowest thresholds and resistances", r.Lowest, r.NoLowest, a.Bus.Guarantee.Sag, -1},
		{"rise, exact", "the least capacitance, the highest set point or line, cold copper and the highest thresholds and resistances", r.Highest, r.NoHighest, a.Bus.Guarantee.Rise, 1},
	} {
		if x.e == nil {
			s.note(fmt.Sprintf("%s: not found, because %s.", x.of, x.why))
			continue
		}
		how := fmt.Sprintf("branch and bound over the start delays of the stations, with %s, within %s of the no-load voltage and of a start of the first station: of two courses the one with more power at every instant is nowhere above the other (comparison of solutions of a differential equation of first order, any text on these)", x.corner, show(r.Horizon, quantity.Time))
		bound, by := x.e.Bound, ""
		if x.any.Exists && x.sign*x.any.Voltage < x.sign*bound {
			bound, by = x.any.Voltage, "; the bound for any phase, which is the nearer one here"
		}
		s.figure(figure(x.of, "not passed", bound, quantity.Voltage, "in no phase of stations that never pause; "+how+by))
		s.figure(figure(x.of, "attained", x.e.Attained, quantity.Voltage, "simulation with the start delays found; "+how))
		s.figure(figure(x.of, "bracket, asked for", r.Tolerance, quantity.Voltage, "width to which the two were to be brought together"))
		if x.sign*(bound-x.e.Attained) > r.Tolerance*(1+1e-9) {
			s.note(fmt.Sprintf("%s: the bracket is wider than asked for, since the search came to its end of %s of phases.", x.of, count(x.e.Boxes, "box")))
		}
		for i, st := range a.Stations {
			s.figure(figure(st.Name, "start delay, "+x.of, x.e.Offsets[i], quantity.Time, "of its cycle where the extreme is attained, against the first station"))
		}
	}
}
