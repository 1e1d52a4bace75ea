package sizing

import (
	"context"
	"math"
	"sort"
)

// Sensitivity is how far one input moves the figures when it goes from the lower to the
// upper end of its tolerance, all else in the middle.
type Sensitivity struct {
	Input   string
	Lowest  float64 // change of the lowest bus voltage [V]
	Highest float64 // of the highest [V]
	Peak    float64 // of the power that the axes draw together [W]
	Hottest float64 // of the temperature of the hottest winding [K]; ±Inf where it has none at one end

	// Bend is how far Lowest, the change over the whole range, differs from twice that over the half range around
	// the middle [V]: where it is not small against Lowest, the figure is no straight line.
	Bend float64
}

// Sensitivities returns how much every input moves the figures, the one that moves the
// lowest bus voltage most first. The stations start as the given delays say, as those of
// the worst windows lined up ([bus.Bound.Offsets]); nil: together.
func (m *Machine) Sensitivities(ctx context.Context, offsets []float64) ([]Sensitivity, error) {
	v, err := m.variations(ctx)
	if err != nil {
		return nil, err
	}
	delays := make([]float64, len(v.stations))
	copy(delays, offsets)
	var out []Sensitivity
	for i, in := range v.inputs {
		at := func(u float64) (Outcome, error) {
			draws := make([]float64, len(v.inputs))
			draws[i] = u
			return v.evaluate(ctx, draws, delays)
		}
		var o [4]Outcome
		for k, u := range []float64{-1, 1, -0.5, 0.5} {
			if o[k], err = at(u); err != nil {
				return nil, err
			}
		}
		s := Sensitivity{
			Input: in, Lowest: moved(o[0].Lowest, o[1].Lowest), Highest: moved(o[0].Highest, o[1].Highest),
			Peak: moved(o[0].Peak, o[1].Peak), Hottest: moved(o[0].Hottest, o[1].Hottest),
		}
		s.Bend = math.Abs(s.Lowest - 2*(o[3].Lowest-o[2].Lowest))
		if s.Lowest != 0 || s.Highest != 0 || s.Peak != 0 || s.Hottest != 0 {
			out = append(out, s)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return math.Abs(out[i].Lowest) > math.Abs(out[j].Lowest) })
	return out, nil
}

// moved returns the difference of two figures, 0 where it is no more than the error of a
// simulation or where both are infinite.
func moved(from, to float64) float64 {
	if from == to || math.Abs(to-from) <= 1e-9*math.Max(math.Abs(from), math.Abs(to)) && !math.IsInf(to-from, 0) {
		return 0
	}
	return to - from
}
