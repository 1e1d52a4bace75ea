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
func (b Bus) witness(ctx context.Context, stations []Cycle, es []*envelope, bound Bound, start float64, sign float64) (Bound, error) {
	longest, rate := 0.0, 0.0
	worst := make([]window, len(es))
	for i, e := range es {
		longest = math.Max(longest, e.period)
		rate += float64(stations[i].Power.Pieces()) / e.period
		_, worst[i] = e.worst(bound.Window)
	}
	most := witnessPieces / rate
	for _, lead := range []float64{0, 2 * longest} {
		meet := math.Min(lead+bound.Window, most)
		l := lineUp{offsets: make([]float64, len(stations)), stills: make([][]Standstill, len(stations)), duration: meet + math.Min(longest, most)}
		for i, s := range stations {
			l.offsets[i], l.stills[i] = s.meeting(worst[i], meet)
		}
		if err := b.try(ctx, stations, l, &bound, start, sign); err != nil {
			return Bound{}, err
		}
	}
	return bound, nil
}

// meeting returns offset and standstill with which the window ends at an instant.
func (c Cycle) meeting(w window, instant float64) (offset float64, stills []Standstill) {
	offset = instant - w.end
	if c.Repeats == Once {
		if w.pause == 2 { // it is over by then
			offset -= w.stand
		}
		return offset, nil
	}
	if w.pause > 0 && w.stand > 0 {
		begins := math.Max(0, instant-w.after-w.stand)
		if length := instant - w.after - begins; length > 0 {
			stills = []Standstill{{From: begins, Length: length, Power: c.pauses()[w.pause-1].Power}}
			offset -= length
		}
	}
	return positiveMod(offset, c.Power.Duration()), stills
}

// lineUp is how all stations run.
type lineUp struct {
	offsets  []float64
	stills   [][]Standstill
	duration float64
}

// try simulates a line-up and keeps it if it is worse than what the bound has.
func (b Bus) try(ctx context.Context, stations []Cycle, l lineUp, bound *Bound, start, sign float64) error {
	loads := make([]profile.Curve, len(stations))
	for i, s := range stations {
		var err error
		if loads[i], err = s.Course(l.offsets[i], l.stills[i], l.duration); err != nil {
			return err
		}
	}
	load, err := profile.Sum(loads...)
	if err != nil {
		return err
	}
	r, err := b.Simulate(ctx, load, State{Voltage: start})
	if err != nil {
		return err
	}
	v := r.Highest.V
	if sign < 0 {
		v = r.Lowest.V
	}
	if bound.Witness == nil || sign*(v-bound.WitnessVoltage) > 0 {
		bound.Offsets, bound.Standstills, bound.WitnessVoltage, bound.Witness = l.offsets, l.stills, v, r
	}
	return nil
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
