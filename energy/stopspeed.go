package energy

import (
	"math"

	"example.com/headroom/profile"
)

// worstBySpeed returns the worst stop of an axis whose halts from lower speeds are the
// last parts of those from higher ones: for every step and either direction, the worst
// part of the halt from its highest speed. A part may begin at the speeds that the
// step has, which is all from its lowest to its highest, since speed does not jump.
func (s *station) worstBySpeed() (ControlledStop, error) {
	a := &s.axes[0]
	worst := make([]profile.Point, distanceFigure+1)
	steps := make([]int, len(worst))
	start := 0.0
	for i, st := range a.Cycle {
		speed := st.Motion.Speed()
		lowest, highest := speed.Extrema()
		for _, ends := range [2][2]profile.Point{{highest, lowest}, {lowest, highest}} {
			top := ends[0]
			dir := sign(top.V)
			if st.Motion.Duration() == 0 || top.V == 0 || dir*(top.V-ends[1].V) < 0 {
				continue
			}
			axis := a.Axis
			axis.Load = st.Load
			move, err := profile.Halt(profile.State{Position: st.Motion.Position().At(top.T), Speed: top.V}, a.Limits.limits())
			if err != nil {
				return ControlledStop{}, stopFault(0, a, start+top.T, err)
			}
			tr, err := axis.Trace(move.Motion())
			if err != nil {
				return ControlledStop{}, stopFault(0, a, start+top.T, err)
			}
			keep := func(figure int, t, v float64) {
				if v > worst[figure].V {
					worst[figure], steps[figure] = profile.Point{T: t, V: v}, i
				}
			}
			// at is an instant of the cycle at which the speed is that of the halt after some time
			at := func(after float64) float64 {
				if after > 0 {
					if c := speed.Crossings(nil, top.V-dir*a.Limits.Deceleration*after); len(c) > 0 {
						return start + c[0]
					}
				}
				return start + top.T
			}
			least := math.Max(0, dir*ends[1].V) // the lowest speed in that direction
			latest := (dir*top.V - least) / a.Limits.Deceleration
			w := swingFrom(tr.BusPower, latest)
			keep(returnedFigure, at(w.returned.T), w.returned.V)
			keep(drawnFigure, at(w.drawn.T), w.drawn.V)
			keep(returnedWithinFigure, start+top.T, w.returnedWithin.V)
			keep(drawnWithinFigure, start+top.T, w.drawnWithin.V)
			lo, hi := tr.BusPower.Extrema()
			keep(peakReturnedFigure, start+top.T, -lo.V)
			keep(peakDrawnFigure, start+top.T, hi.V)
			keep(durationFigure, start+top.T, move.Duration())
			keep(distanceFigure, start+top.T, math.Abs(move.At(move.Duration()).Position-move.At(0).Position))
		}
		start += a.Cycle[i].Motion.Duration()
	}
	var c ControlledStop
	c.set(worst)
	var err error
	if c.MostReturned, err = s.halt(s.span(steps[returnedFigure], c.Returned.T), c.Returned.T, true); err != nil {
		return ControlledStop{}, err
	}
	c.MostDrawn, err = s.halt(s.span(steps[drawnFigure], c.Drawn.T), c.Drawn.T, true)
	return c, err
}

// span returns the span of a step of a single axis in which an instant is, or which is
// next to it.
func (s *station) span(step int, t float64) int {
	best, least := 0, math.Inf(1)
	for k, p := range s.at[0] {
		if away := math.Max(s.cuts[k]-t, t-s.cuts[k+1]); p.step == step && away < least {
			best, least = k, away
		}
	}
	return best
}
