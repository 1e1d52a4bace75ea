package sizing

import (
	"context"
	"math"
	"slices"
	"sort"
)

// Ranking says which inputs move the figures most, within their tolerances.
type Ranking struct {
	// Figure is that of lowest and highest bus voltage and hottest winding which is nearest to
	// its limit; the inputs that move it most come first.
	Figure string
	Room   float64 // part of the way from no load to its limit that it uses
	Inputs []Sensitivity
}

// rank finds the ranking where it is asked for: the highest voltage with the stations in the
// worst line-up found for the rise, all else in that for the sag.
func (a *Assessment) rank(ctx context.Context) error {
	m := a.Machine
	if !m.Rank {
		return nil
	}
	g := a.Bus.Guarantee
	low, err := m.Sensitivities(ctx, g.Sag.Offsets)
	if err != nil {
		return err
	}
	high, err := m.Sensitivities(ctx, g.Rise.Offsets)
	if err != nil {
		return err
	}
	r := &Ranking{Inputs: low}
	for i := range r.Inputs {
		r.Inputs[i].Highest = 0
	}
	for _, h := range high {
		i := slices.IndexFunc(r.Inputs, func(s Sensitivity) bool { return s.Input == h.Input })
		if i < 0 && h.Highest != 0 {
			i = len(r.Inputs)
			r.Inputs = append(r.Inputs, Sensitivity{Input: h.Input})
		}
		if i >= 0 {
			r.Inputs[i].Highest = h.Highest
		}
	}
	by := a.nearest(r)
	sort.SliceStable(r.Inputs, func(i, j int) bool { return math.Abs(by(r.Inputs[i])) > math.Abs(by(r.Inputs[j])) })
	a.Ranking = r
	return nil
}

// nearest names the figure that uses most of its room, and returns what of an input's
// sensitivity concerns it.
func (a *Assessment) nearest(r *Ranking) func(Sensitivity) float64 {
	m := a.Machine
	lowest, highest := a.Bus.Lowest, a.Bus.Highest
	for _, e := range a.Bus.AtDrives {
		lowest, highest = math.Min(lowest, e.Lowest), math.Max(highest, e.Highest)
	}
	noLoad := m.Supply.Source.NoLoadVoltage()
	// room returns the part of the way from one value to a limit above it (sign 1) or below it.
	room := func(sign, from, v, limit float64) float64 {
		used, all := sign*(v-from), sign*(limit-from)
		switch {
		case !(used > 0):
			return 0
		case !(all > 0):
			return math.Inf(1)
		}
		return used / all
	}
	hottest := 0.0
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			used := room(1, m.AmbientHigh, ax.Winding.Temperature, m.axis(ax.Name).Winding.Max)
			if ax.Runaway != nil {
				used = math.Inf(1)
			}
			hottest = math.Max(hottest, used)
		}
	}
	by := func(s Sensitivity) float64 { return s.Lowest }
	r.Figure, r.Room = "lowest bus voltage", room(-1, noLoad, lowest, m.UnderVoltage)
	if used := room(1, noLoad, highest, a.highestAllowed()); used > r.Room {
		by = func(s Sensitivity) float64 { return s.Highest }
		r.Figure, r.Room = "highest bus voltage", used
	}
	if hottest > r.Room {
		by = func(s Sensitivity) float64 { return s.Hottest }
		r.Figure, r.Room = "hottest winding", hottest
	}
	return by
}
