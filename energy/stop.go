package energy

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// StopLimits bounds a controlled stop, as the drive ramps down on a stop command.
type StopLimits struct {
	Deceleration float64 // [m/s² | rad/s²], > 0
	Jerk         float64 // [m/s³ | rad/s³], >= 0; 0: not limited
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (l StopLimits) Validate() error {
	var f profile.Faults
	checkPositive(&f, "deceleration", l.Deceleration, "m/s² or rad/s²")
	checkNonNegative(&f, "jerk", l.Jerk, "m/s³ or rad/s³")
	return f.Err()
}

// limits returns what [profile.Halt] takes. The highest speed is not used there.
func (l StopLimits) limits() profile.Limits {
	return profile.Limits{Speed: 1, Accel: l.Deceleration, Jerk: l.Jerk}
}

// StoppingAxis is an axis with its cycle and the way it is stopped.
type StoppingAxis struct {
	Axis   Axis   // its load is that of the step
	Cycle  []Step // one step after another, as [Axis.TraceSteps] takes them
	Limits StopLimits
}

// Halted is what one controlled stop of the axes of a station does to the bus, from
// the instant at which they begin to halt until the last one rests. An axis that rests
// before is held with the torque that [Axis.Trace] has at standstill.
//
// With A(t) the integral of Power up to t,
//
//	Returned       = max over t of -A(t)
//	Drawn          = max over t of A(t)
//	ReturnedWithin = max over t1 <= t2 of A(t1) - A(t2)
//	DrawnWithin    = max over t1 <= t2 of A(t2) - A(t1)
//
// all at least 0. On a bus that nothing feeds and nothing drains the first two decide,
// since its energy is that at the start less A; where a supply fills up what was drawn
// before, or a resistor burns what was returned before, the other two do. A is found from
// the antiderivative of the exact curve at the roots of the power, so that no maximum
// lies between samples.
type Halted struct {
	Start float64       // instant of the cycle at which the halt begins [s]
	Power profile.Curve // power at the bus [W] over the time since then [s]; empty when all stand already
	Rest  float64       // power at the bus once all stand and are held [W]

	Returned       float64 // most net energy returned since the halt began [J]
	Drawn          float64 // most net energy drawn since the halt began [J]
	ReturnedWithin float64 // most net energy returned over a part of the halt [J], >= Returned
	DrawnWithin    float64 // most net energy drawn over a part of the halt [J], >= Drawn
	PeakReturned   float64 // highest returned power [W], >= 0
	PeakDrawn      float64 // highest power drawn [W], >= 0

	Duration float64   // until the last axis rests [s]
	Distance []float64 // of each axis, from where it was to where it rests [m | rad], >= 0
}

// ControlledStop holds the worst of all stops that may begin anywhere in a cycle. Each
// figure has the instant of the cycle as its T [s] and its own meaning, see [Halted], as V.
type ControlledStop struct {
	Returned, Drawn             profile.Point // [J]
	ReturnedWithin, DrawnWithin profile.Point // [J]
	PeakReturned, PeakDrawn     profile.Point // [W]
	Duration                    profile.Point // [s]
	Distance                    []profile.Point

	MostReturned Halted // the stop that has Returned
	MostDrawn    Halted // the stop that has Drawn
}

// figures of a Halted as a list, the distances at its end.
const (
	returnedFigure = iota
	drawnFigure
	returnedWithinFigure
	drawnWithinFigure
	peakReturnedFigure
	peakDrawnFigure
	durationFigure
	distanceFigure // the first one
)

func (h *Halted) figures(dst []float64) []float64 {
	dst = append(dst[:0], h.Returned, h.Drawn, h.ReturnedWithin, h.DrawnWithin, h.PeakReturned, h.PeakDrawn, h.Duration)
	return append(dst, h.Distance...)
}

// set takes the worst of each figure.
func (c *ControlledStop) set(worst []profile.Point) {
	c.Returned, c.Drawn = worst[returnedFigure], worst[drawnFigure]
	c.ReturnedWithin, c.DrawnWithin = worst[returnedWithinFigure], worst[drawnWithinFigure]
	c.PeakReturned, c.PeakDrawn = worst[peakReturnedFigure], worst[peakDrawnFigure]
	c.Duration, c.Distance = worst[durationFigure], worst[distanceFigure:]
}

// WorstStop returns the worst controlled stop of the axes of one station. They run
// locked to each other, so that their cycles take the same time, and all begin to halt
// at the same instant, by [profile.Halt]. A force against time stays as it is when the
// halt begins. The axes are taken as they are: for the most returned energy give them
// low friction and cold copper, see [Axis.AtWinding]; for the most drawn, the opposite.
//
// Stations that are not locked to each other may each be at their worst instant when
// all are stopped: their Returned add up to a bound for the bus, and so do the others
// of the four energies.
//
// For a single axis whose forces depend on its speed alone, with the jerk not limited,
// a halt from a lower speed is the last part of the halt from a higher one, so that the
// maximum over all starts is that over all parts of the halts from the highest speed of
// each step in either direction, and is exact. That covers every load but those with a
// crank, a spring or a force against position or time.
//
// Otherwise the starts are searched: every piece of the cycle is sampled at its two
// ends, each with its own side of a jump, and at points between; each figure is then
// refined by golden sections around every sample from which it could still exceed the
// best. What remains is a maximum narrower than the samples are apart. Against scans a
// hundred times as dense over random axes of all mechanisms with limited jerk it was
// 1e-3 of the figure or less, and for Returned and Drawn 1e-2 of ReturnedWithin and
// DrawnWithin: the former may be above zero in a narrow range of low speeds only, and be
// missed there. The latter, never less, are the safe figures for both.
func WorstStop(axes ...StoppingAxis) (ControlledStop, error) {
	s, err := newStation(axes)
	if err != nil {
		return ControlledStop{}, err
	}
	if len(axes) == 1 && s.bySpeed() {
		return s.worstBySpeed()
	}
	var c ControlledStop
	var fs []float64
	var h Halted
	worst, err := worstStart(s.cuts, s.steps(), distanceFigure+len(axes), func(span int, t float64) ([]float64, error) {
		var err error
		if h, err = s.halt(span, t, false); err != nil {
			return nil, err
		}
		fs = h.figures(fs)
		return fs, nil
	})
	if err != nil {
		return ControlledStop{}, err
	}
	points := make([]profile.Point, len(worst))
	for i, w := range worst {
		points[i] = w.Point
	}
	c.set(points)
	if c.MostReturned, err = s.halt(worst[returnedFigure].span, c.Returned.T, true); err != nil {
		return ControlledStop{}, err
	}
	if c.MostDrawn, err = s.halt(worst[drawnFigure].span, c.Drawn.T, true); err != nil {
		return ControlledStop{}, err
	}
	return c, nil
}

// HaltFrom returns the controlled stop of the axes of one station that begins at an
// instant of their cycle [s], from 0 to its duration. Where a curve jumps, its later
// side holds.
func HaltFrom(at float64, axes ...StoppingAxis) (Halted, error) {
	s, err := newStation(axes)
	if err != nil {
		return Halted{}, err
	}
	end := s.cuts[len(s.cuts)-1]
	if !(at >= 0 && at <= end) {
		var f profile.Faults
		f.Within("at", at, 0, end, "s")
		return Halted{}, f.Err()
	}
	i := 0
	for i < len(s.cuts)-2 && at >= s.cuts[i+1] {
		i++
	}
	return s.halt(i, at, true)
}

// cycleTolerance is how far the cycles of a station may differ in their durations,
// relative to the longest.
const cycleTolerance = 1e-9

// station is the axes of a station and their cycles, cut at all instants at which
// anything may jump or bend.
type station struct {
	axes []StoppingAxis
	cuts []float64 // from 0 to the duration of the cycle [s]
	at   [][]place // of each axis on each span between cuts
}

// place is where in its cycle an axis is on a span.
type place struct {
	step, piece int
	start       float64 // of the step [s]
	force       int     // piece of the force against time, -1: none
}

func newStation(axes []StoppingAxis) (*station, error) {
	var f profile.Faults
	if len(axes) == 0 {
		f.Add("axes", nil, "at least one axis")
	}
	longest := 0.0
	durations := make([]float64, len(axes))
	for i, a := range axes {
		path := fmt.Sprintf("axes[%d]", i)
		f.Under(path+".limits", a.Limits.Validate())
		for j, s := range a.Cycle {
			durations[i] += s.Motion.Duration()
			a.Axis.Load = s.Load
			f.Under(fmt.Sprintf("%s.cycle[%d]", path, j), a.Axis.Validate())
		}
		if !(durations[i] > 0 && durations[i] <= largest) {
			f.Add(path+".cycle", fmt.Sprintf("%g s", durations[i]), "steps with motions that take time")
		}
		longest = math.Max(longest, durations[i])
	}
	for i, d := range durations {
		if !(longest-d <= cycleTolerance*longest) && d > 0 {
			f.Add(fmt.Sprintf("axes[%d].cycle", i), fmt.Sprintf("%g s", d), fmt.Sprintf("the same duration as the others of the station, %g s", longest))
		}
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	s := &station{axes: axes}
	s.cut(longest)
	return s, nil
}

// bySpeed reports whether each halt from a lower speed is part of one from a higher.
func (s *station) bySpeed() bool {
	a := &s.axes[0]
	if _, crank := a.Axis.Mechanism.(CrankSlider); crank || a.Limits.Jerk != 0 {
		return false
	}
	for _, st := range a.Cycle {
		l := &st.Load
		if len(l.ExternalByPosition.Position) > 0 || l.ExternalByTime.Pieces() > 0 || l.Counterbalance.Stiffness != 0 {
			return false
		}
	}
	return true
}
