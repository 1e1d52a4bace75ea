package energy

import (
	"fmt"

	"example.com/headroom/profile"
)

// StopCategory is a category of stop of IEC 60204-1, 9.2.2 (LOOKED UP-2; NFPA 79, 9.2.2
// has the same).
type StopCategory int

// Which category a stop function of a machine has to have follows from its risk
// assessment, under the local codes and by licensed practice.
const (
	Category0 StopCategory = iota // power is removed at once, an uncontrolled stop
	Category1                     // a controlled stop with power, which is then removed
	Category2                     // a controlled stop, and power stays
)

// String returns the name of the category.
func (c StopCategory) String() string {
	if c < Category0 || c > Category2 {
		return "unknown stop category"
	}
	return fmt.Sprintf("stop category %d", int(c))
}

// CategoryStop is the worst of the stops of one category that may begin anywhere in the
// cycle of an axis.
type CategoryStop struct {
	Category   StopCategory
	Controlled ControlledStop // of categories 1 and 2; zero in category 0
	Coast      WorstCoast     // category 0: from anywhere in the cycle; 1: once power goes, from rest anywhere on its way; zero in category 2
	Rest       float64        // power that the bus goes on to give [W], in category 2, after the stop that draws most; else 0
}

// WorstCoast is [Coast] for power that is removed anywhere in a cycle. Each figure has the
// instant of the cycle as its T [s].
type WorstCoast struct {
	Stops  bool    // whether the axis always comes to rest; if not, all figures are zero
	Fails  float64 // if not: an instant of the cycle from which it does not [s]
	Slack  bool    // whether a rope ever goes slack; the figures then do not hold
	Locked bool    // whether the axis stays at rest wherever power is removed

	Duration, Forward, Backward, PeakSpeed, Heat, PeakPower profile.Point

	MostKinetic Coast // the coast with the most energy, kinetic and offered; for [Axis.BackEMF]
}

// Stop returns the worst stop of a category, with a holding brake or, nil, without. In
// category 0 the drive returns nothing by intent; what the magnets drive into the bus
// on their own says [Axis.BackEMF].
//
// In category 1 power is taken to be removed once the axis rests, at the same time as
// that of the brake, so that a load may sink during the brake's delay; a drive that
// waits for its brake to close avoids that, and the way is then none.
func (a StoppingAxis) Stop(category StopCategory, brake *HoldingBrake) (CategoryStop, error) {
	s := CategoryStop{Category: category}
	var err error
	switch category {
	case Category0:
		s.Coast, err = a.WorstCoast(brake, false)
		return s, err
	case Category1:
		if s.Controlled, err = WorstStop(a); err == nil {
			s.Coast, err = a.WorstCoast(brake, true)
		}
		return s, err
	case Category2:
		if s.Controlled, err = WorstStop(a); err == nil {
			s.Rest = s.Controlled.MostDrawn.Rest
		}
		return s, err
	}
	var f profile.Faults
	f.Add("category", int(category), "0, 1 or 2")
	return CategoryStop{}, f.Err()
}

// WorstCoast returns the worst of what [Axis.PowerOff] finds over the cycle: with the speed
// that the axis has there, or, atRest, at rest at the positions that it has. A force
// against time stays as it is. The cycle is searched as [WorstStop] does, and with
// the same reserve. A brake or friction that does not stop the axis from one of the
// instants ends the search.
func (a StoppingAxis) WorstCoast(brake *HoldingBrake, atRest bool) (WorstCoast, error) {
	st, err := newStation([]StoppingAxis{a})
	if err != nil {
		return WorstCoast{}, err
	}
	w := WorstCoast{Stops: true}
	most := -1.0
	worst, err := worstStart(st.cuts, st.steps(), 7, func(span int, t float64) ([]float64, error) {
		axis := a.Axis
		var from profile.State
		if from, axis.Load = a.from(st.at[0][span], t); atRest {
			from.Speed = 0
		}
		c, err := axis.PowerOff(from.Position, from.Speed, brake)
		if err != nil {
			return nil, err
		}
		w.Slack = w.Slack || c.Slack
		if !c.Stops {
			w.Stops, w.Fails = false, t
			return nil, errDoesNotStop
		}
		if e := c.Kinetic + c.Offered; e > most {
			most, w.MostKinetic = e, c
		}
		return []float64{c.Duration, c.Forward, c.Backward, c.PeakSpeed, c.Heat, c.PeakPower, c.Kinetic + c.Offered}, nil
	})
	if !w.Stops {
		return WorstCoast{Fails: w.Fails, Slack: w.Slack}, nil
	}
	if err != nil {
		return WorstCoast{}, err
	}
	for i, p := range []*profile.Point{&w.Duration, &w.Forward, &w.Backward, &w.PeakSpeed, &w.Heat, &w.PeakPower} {
		*p = worst[i].Point
	}
	w.Locked = w.Duration.V == 0
	return w, nil
}

// errDoesNotStop ends a search.
var errDoesNotStop = fmt.Errorf("an axis that does not stop")
