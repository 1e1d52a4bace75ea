package sizing

import (
	"fmt"
	"math"
	"strings"

	"example.com/headroom/internal/quantity"
)

// rankSection shows which inputs move the figures most.
func (a *Assessment) rankSection(s *Section) {
	r := a.Ranking
	if r == nil {
		return
	}
	const (
		how   = "change when this input alone goes from the lower to the upper end of its tolerance, all else in the middle (one at a time, common practice, no source): difference of two simulations over twice the longest cycle from the no-load voltage, at any drive, the stations without pauses and with the start delays of the worst line-up found for the sag"
		peak  = "as the lowest voltage"
		rise  = "as the lowest voltage, with the start delays of the worst line-up found for the rise"
		alone = "change of the settled mean temperature when this input alone goes from the lower to the upper end of its tolerance, all else in the middle"
	)
	var weak, bent []string
	shown := r.strong()
	for _, x := range r.Inputs {
		if !shown(x) {
			weak = append(weak, x.Input)
			continue
		}
		s.figure(figure(x.Input, "lowest voltage", x.Lowest, quantity.Voltage, how))
		s.figure(figure(x.Input, "highest voltage", x.Highest, quantity.Voltage, rise))
		s.figure(figure(x.Input, "peak power", x.Peak, quantity.Power, peak))
		s.figure(figure(x.Input, "hottest winding", x.Hottest, quantity.TemperatureDifference, alone))
		if x.Bend > 0.1*math.Abs(x.Lowest) {
			bent = append(bent, x.Input)
		}
	}
	if len(r.Inputs) == 0 {
		s.note("No input has a tolerance that moves any of the figures.")
		return
	}
	room := "it has no bound"
	if !math.IsInf(r.Room, 0) {
		room = fmt.Sprintf("it uses %s of the way from no load to its limit", show(r.Room, quantity.Fraction))
	}
	s.note(fmt.Sprintf("What moves the %s most comes first, since that is the figure nearest to its limit: %s. The figures are changes from the lower to the upper end of the tolerance of an input.", r.Figure, room))
	if len(bent) > 0 {
		s.note("The lowest voltage is no straight line of these inputs, so that its change over a part of the tolerance may be anything up to that over all of it or beyond: " + strings.Join(bent, ", ") + ".")
	}
	if len(weak) > 0 {
		s.note("Not shown, since they move no figure by more than a hundredth of what the strongest input does: " + strings.Join(weak, ", ") + ".")
	}
}

// strong returns whether an input moves some figure by more than a hundredth of what the
// strongest does.
func (r *Ranking) strong() func(Sensitivity) bool {
	of := func(s Sensitivity) [4]float64 {
		return [4]float64{math.Abs(s.Lowest), math.Abs(s.Highest), math.Abs(s.Peak), math.Abs(s.Hottest)}
	}
	var most [4]float64
	for _, s := range r.Inputs {
		for k, v := range of(s) {
			most[k] = math.Max(most[k], v)
		}
	}
	return func(s Sensitivity) bool {
		for k, v := range of(s) {
			if v > most[k]/100 {
				return true
			}
		}
		return false
	}
}
