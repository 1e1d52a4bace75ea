package energy

import (
	"fmt"
	"math"
	"slices"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// cut sets the cuts of a cycle of the given duration: where a piece of a motion or of a
// force against time ends, where the speed changes its sign, and where halts change their
// kind.
func (s *station) cut(duration float64) {
	cuts := []float64{0, duration}
	for _, a := range s.axes {
		start := 0.0
		for _, st := range a.Cycle {
			add := func(t float64) {
				if t > 0 && t < st.Motion.Duration() {
					cuts = append(cuts, start+t)
				}
			}
			speed := st.Motion.Speed()
			for i := range speed.Pieces() {
				t0, _, _ := speed.Piece(i)
				add(t0)
			}
			for _, t := range speed.Crossings(nil, 0) {
				add(t)
			}
			for _, t := range a.Limits.turns(st.Motion) {
				add(t)
			}
			force := st.Load.ExternalByTime
			for i := range force.Pieces() {
				t0, t1, _ := force.Piece(i)
				add(t0)
				add(t1)
			}
			start += st.Motion.Duration()
			if start < duration {
				cuts = append(cuts, start)
			}
		}
	}
	slices.Sort(cuts)
	s.cuts = cuts[:1]
	for _, t := range cuts[1:] {
		if t > s.cuts[len(s.cuts)-1]+cycleTolerance*duration {
			s.cuts = append(s.cuts, t)
		}
	}
	s.cuts[len(s.cuts)-1] = duration
	s.at = make([][]place, len(s.axes))
	for i, a := range s.axes {
		for k := range len(s.cuts) - 1 {
			s.at[i] = append(s.at[i], a.place((s.cuts[k]+s.cuts[k+1])/2))
		}
	}
}

// turns returns the instants of a motion on whose two sides halts of limited jerk are of
// another kind: on one the acceleration a can be taken off before standstill and on the
// other not, v = ±a²/(2 jerk); on one the deceleration D is reached and on the other not,
// v = ±(D² - a²/2)/jerk; or a is beyond D.
func (l StopLimits) turns(m profile.Motion) []float64 {
	if l.Jerk == 0 {
		return nil
	}
	var all, roots []float64
	var square, p []float64
	for i := range m.Speed().Pieces() {
		t0, t1, v := m.Speed().Piece(i)
		_, _, a := m.Accel().Piece(i)
		square = poly.Mul(square, a, a)
		find := func(c []float64) {
			roots = poly.Roots(roots, c, 0, t1-t0)
			for _, r := range roots {
				all = append(all, t0+r)
			}
		}
		for _, side := range [2]float64{1, -1} {
			p = poly.Add(p[:0], square, poly.Scale(nil, v, 2*side*l.Jerk))
			find(p)
			p[0] -= 2 * l.Deceleration * l.Deceleration
			find(p)
			p = append(p[:0], a...)
			p[0] += side * l.Deceleration
			find(p)
		}
	}
	return all
}

// place returns where in its cycle the axis is at an instant.
func (a *StoppingAxis) place(t float64) place {
	p := place{force: -1}
	end := 0.0
	for i, st := range a.Cycle {
		if st.Motion.Duration() == 0 {
			continue
		}
		p.step, p.start = i, end
		end += st.Motion.Duration()
		if t < end {
			break
		}
	}
	st := &a.Cycle[p.step]
	p.piece = pieceAt(st.Motion.Speed(), t-p.start)
	if c := st.Load.ExternalByTime; c.Pieces() > 0 && t-p.start >= c.Start() && t-p.start <= c.End() {
		p.force = pieceAt(c, t-p.start)
	}
	return p
}

// pieceAt returns the piece of a curve that holds at t, the last one after its end.
func pieceAt(c profile.Curve, t float64) int {
	for i := range c.Pieces() - 1 {
		if _, t1, _ := c.Piece(i); t < t1 {
			return i
		}
	}
	return c.Pieces() - 1
}

// from returns the state and the load of an axis at an instant of a place, on its side
// of jumps.
func (a *StoppingAxis) from(p place, t float64) (profile.State, Load) {
	st := &a.Cycle[p.step]
	t -= p.start
	load := st.Load
	load.ExternalByTime = profile.Curve{}
	if p.force >= 0 {
		load.External += evalPiece(st.Load.ExternalByTime, p.force, t)
	}
	return profile.State{
		Position: evalPiece(st.Motion.Position(), p.piece, t),
		Speed:    evalPiece(st.Motion.Speed(), p.piece, t),
		Accel:    evalPiece(st.Motion.Accel(), p.piece, t),
	}, load
}

// evalPiece returns the value of a piece at t, or at its nearer end.
func evalPiece(c profile.Curve, piece int, t float64) float64 {
	t0, t1, p := c.Piece(piece)
	return poly.Eval(p, max(0, min(t, t1)-t0))
}

// halt returns the stop that begins at an instant t of a span between cuts, on its side
// of what jumps there; with the power at rest if it is asked for.
func (s *station) halt(span int, t float64, rest bool) (Halted, error) {
	h := Halted{Start: t, Distance: make([]float64, len(s.axes))}
	powers := make([]profile.Curve, len(s.axes))
	var rests []float64
	for i := range s.axes {
		a := &s.axes[i]
		from, load := a.from(s.at[i][span], t)
		move, err := profile.Halt(from, a.Limits.limits())
		if err != nil {
			return Halted{}, stopFault(i, a, t, err)
		}
		axis := a.Axis
		axis.Load = load
		m := move.Motion()
		tr, err := axis.Trace(m)
		if err != nil {
			return Halted{}, stopFault(i, a, t, err)
		}
		powers[i] = tr.BusPower
		end := move.At(move.Duration()).Position
		h.Distance[i] = math.Abs(end - from.Position)
		h.Duration = math.Max(h.Duration, move.Duration())
		if len(s.axes) > 1 || rest {
			p, err := axis.restPower(end)
			if err != nil {
				return Halted{}, stopFault(i, a, t, err)
			}
			rests = append(rests, p)
			h.Rest += p
		}
	}
	if h.Duration == 0 {
		return h, nil
	}
	h.Power = powers[0]
	if len(powers) > 1 {
		for i, p := range powers {
			if left := h.Duration - p.Duration(); left > 0 {
				c, err := profile.Constant(rests[i], 0, left)
				if err != nil {
					return Halted{}, stopFault(i, &s.axes[i], t, err)
				}
				powers[i] = profile.Concat(p, c)
			}
		}
		var err error
		if h.Power, err = profile.Sum(powers...); err != nil {
			return Halted{}, err
		}
	}
	h.measure()
	return h, nil
}

// restPower returns the power [W] that holds the axis at a position.
func (a Axis) restPower(position float64) (float64, error) {
	m, err := profile.Dwell(position, 1)
	if err != nil {
		return 0, err
	}
	tr, err := a.Trace(m)
	return tr.BusPower.At(0), err
}

// measure sets the figures of the power.
func (h *Halted) measure() {
	w := swingFrom(h.Power, 0)
	h.Returned, h.Drawn = w.returned.V, w.drawn.V
	h.ReturnedWithin, h.DrawnWithin = w.returnedWithin.V, w.drawnWithin.V
	lo, hi := h.Power.Extrema()
	h.PeakReturned, h.PeakDrawn = math.Max(0, -lo.V), math.Max(0, hi.V)
}

// swing holds the largest net energies [J] of a curve of power over parts of its time,
// each with the time after the start at which the part begins.
type swing struct {
	returned, drawn             profile.Point // over parts that begin up to a given time after the start
	returnedWithin, drawnWithin profile.Point // over any parts
}

// swingFrom measures a curve of power; parts may begin up to latest after its start. The
// energy of a part is most where it begins and ends at roots of the power or at the ends
// of its pieces, and what came before it cannot make it worse: so it is carried along
// from one root to the next and begins anew where it is below zero.
func swingFrom(p profile.Curve, latest float64) swing {
	var s, now swing
	var roots []float64
	for i := range p.Pieces() {
		t0, t1, c := p.Piece(i)
		roots = append(poly.Roots(roots[:0], c, 0, t1-t0), t1-t0)
		if in := latest - (t0 - p.Start()); in > 0 && in < t1-t0 {
			roots = append(roots, in)
			slices.Sort(roots)
		}
		from := 0.0
		for _, r := range roots {
			e, t := poly.Integral(c, from, r), t0-p.Start()+r
			free := t <= latest
			follow(&now.returned, &s.returned, t, -e, free)
			follow(&now.drawn, &s.drawn, t, e, free)
			follow(&now.returnedWithin, &s.returnedWithin, t, -e, true)
			follow(&now.drawnWithin, &s.drawnWithin, t, e, true)
			from = r
		}
	}
	return s
}

// follow adds an energy up to the time t to that of the part at hand, keeps the most, and
// lets a part that is free to begin at t begin there if that is better.
func follow(now, most *profile.Point, t, e float64, free bool) {
	now.V += e
	if now.V > most.V {
		*most = *now
	}
	if now.V < 0 && free {
		*now = profile.Point{T: t}
	}
}

// stopFault says that an axis cannot halt from an instant as its limits ask.
func stopFault(i int, a *StoppingAxis, t float64, err error) error {
	var f profile.Faults
	for _, e := range profile.InputErrors(err) {
		f.Add(fmt.Sprintf("axes[%d].limits.deceleration", i), a.Limits.Deceleration,
			fmt.Sprintf("a stop from %g s that the axis can follow (%s)", t, e))
	}
	if f.Err() == nil {
		return err
	}
	return f.Err()
}
