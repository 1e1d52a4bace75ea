package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// witnessPieces bounds the pieces of load in the simulation of a witness. Where
// thousands of cycles add up to the bound it stays short of it.
const witnessPieces = 20_000

// witness lines up the worst windows of all stations so that they end at the
// same instant and simulates them, from the no-load voltage start: once with
// the windows beginning at once and once after two of the longest cycles. It
// keeps the simulation that comes closer to the bound. sign is +1 to seek the
// highest voltage, -1 the lowest.
func (b Bus) witness(ctx context.Context, stations []profile.Curve, es []*envelope, bound Bound, start float64, sign float64) (Bound, error) {
	longest, rate := 0.0, 0.0
	ends := make([]float64, len(es))
	for i, e := range es {
		longest = math.Max(longest, e.period)
		rate += float64(stations[i].Pieces()) / e.period
		_, ends[i] = e.worst(bound.Window)
	}
	most := witnessPieces / rate
	for _, lead := range []float64{0, 2 * longest} {
		meet := math.Min(lead+bound.Window, most)
		offsets := make([]float64, len(stations))
		loads := make([]profile.Curve, len(stations))
		for i, s := range stations {
			offsets[i] = positiveMod(meet-ends[i], es[i].period)
			var err error
			if loads[i], err = Periodic(s, offsets[i], meet+math.Min(longest, most)); err != nil {
				return Bound{}, err
			}
		}
		load, err := profile.Sum(loads...)
		if err != nil {
			return Bound{}, err
		}
		r, err := b.Simulate(ctx, load, State{Voltage: start})
		if err != nil {
			return Bound{}, err
		}
		v := r.Highest.V
		if sign < 0 {
			v = r.Lowest.V
		}
		if bound.Witness == nil || sign*(v-bound.WitnessVoltage) > 0 {
			bound.Offsets, bound.WitnessVoltage, bound.Witness = offsets, v, r
		}
	}
	return bound, nil
}

// Periodic returns the cycle repeated for ever, delayed by offset [s], over the
// time from 0 to duration [s].
func Periodic(cycle profile.Curve, offset, duration float64) (profile.Curve, error) {
	var f profile.Faults
	if cycle.Pieces() == 0 {
		f.Add("cycle", "an empty curve", "a curve over one cycle")
	}
	f.Finite("offset", offset, "s")
	f.Positive("duration", duration, "s")
	if err := f.Err(); err != nil {
		return profile.Curve{}, err
	}
	period := cycle.Duration()
	offset = positiveMod(offset, period)
	n := math.Ceil((duration+period-offset)/period) + 1
	if n > 1e6 {
		f.Add("duration", duration, fmt.Sprintf("at most a million cycles of %g s", period))
		return profile.Curve{}, f.Err()
	}
	all := cycle.Repeat(int(n))
	all = all.Shift(offset - period - all.Start())
	return all.Slice(0, duration)
}
