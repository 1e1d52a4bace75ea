package bus

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"example.com/headroom/profile"
)

// witnessPieces bounds the pieces of load in the simulation of a witness. Where
// thousands of cycles add up to the bound it stays short of it.
const witnessPieces = 20_000

// alignment is a way to line up stations: their worst windows of one length end
// at the same instant.
type alignment struct {
	es     []*envelope
	window float64 // [s]; +Inf for one as long as it takes to come to the bound
	ending float64 // as which time the power at the end counts [s]
}

// witness lines up the stations in the ways given and simulates them, from the
// no-load voltage start: with the windows beginning at once, after two of the
// longest cycles, and, if they return more than they draw, after as many as lift
// the bank to the bound. What comes closest to the bound is kept, after a search
// around it. sign is +1 to seek the highest voltage, -1 the lowest.
func (b Bus) witness(ctx context.Context, stations []Cycle, ways []alignment, bound Bound, start float64, sign float64) (Bound, error) {
	longest, rate, mean := 0.0, 0.0, 0.0
	for _, s := range stations {
		longest = math.Max(longest, s.Power.Duration())
		rate += float64(s.Power.Pieces()) / s.Power.Duration()
		mean -= sign * s.mean(-sign*s.Power.Mean(), func(p float64) float64 { return -sign * p })
	}
	most := witnessPieces / rate
	leads := []float64{0, 2 * longest}
	long := 3 * longest
	if mean < 0 && sign > 0 {
		lift := b.Bank.Energy(bound.Voltage) - b.Bank.Energy(start)
		long = math.Min(math.Max(long, 1.2*lift/-mean), most/10)
		leads = append(leads, long)
	}
	for k, lead := range leads {
		for _, w := range ways {
			if k > 0 && bound.reached(start) {
				break
			}
			if math.IsInf(w.window, 1) {
				w.window = long
			}
			meet := math.Min(lead+w.window, most)
			l := lineUp{offsets: make([]float64, len(stations)), stills: make([][]Standstill, len(stations)), duration: meet + math.Min(longest, most)}
			for i, s := range stations {
				_, at := w.es[i].worstEnding(w.window, w.ending)
				l.offsets[i], l.stills[i] = s.meeting(at, meet)
			}
			if _, err := b.try(ctx, stations, l, &bound, start, sign); err != nil {
				return Bound{}, err
			}
		}
	}
	err := b.search(ctx, stations, &bound, start, sign)
	return bound, err
}

// collapse seeks a line-up in which the bus collapses, for stations without a bound
// on the sag: their worst windows of several lengths, up to as many cycles as the
// bank lasts where they draw more on average than the source can deliver. Of what does not
// collapse nothing is kept.
func (b Bus) collapse(ctx context.Context, stations []Cycle, bound Bound) (Bound, error) {
	es, err := line{adverse: 1, helpful: 1}.weighted(ctx, stations, 1)
	if err != nil {
		return Bound{}, err
	}
	longest, rate := 0.0, 0.0
	for i, e := range es {
		longest = math.Max(longest, e.period)
		rate += float64(stations[i].Power.Pieces()) / e.period
	}
	start := b.Source.NoLoadVoltage()
	windows := []float64{longest / 16, longest / 4, longest}
	excess := meanOf(stations) - b.Source.strongest()
	if excess > 0 {
		windows = append(windows, 1.1*b.Bank.Energy(start)/excess+longest)
	}
	for _, window := range windows {
		meet := math.Min(longest+window, witnessPieces/rate)
		l := lineUp{offsets: make([]float64, len(stations)), stills: make([][]Standstill, len(stations)), duration: meet + math.Min(longest, meet)}
		for i, e := range es {
			_, at := e.worst(window)
			l.offsets[i], l.stills[i] = stations[i].meeting(at, meet)
		}
		if _, err := b.try(ctx, stations, l, &bound, start, -1); err != nil {
			return Bound{}, err
		}
		if bound.Witness.Collapsed {
			bound.WitnessVoltage = 0
			if excess > 0 {
				bound.Reason += ", less than that average"
			}
			bound.Reason += "; lined up as in the witness they make the bus collapse"
			return bound, nil
		}
	}
	return Bound{Reason: bound.Reason}, nil
}

const (
	closeEnough = 0.002   // gap to the bound, relative to how far it is off the start, that is left alone
	searchRuns  = 40      // simulations that the search around a witness may take
	searchSteps = 100_000 // steps of integration that they may take together
	searchFirst = 0.1     // first step of the search, relative to a station's cycle
	searchLast  = searchFirst / 30
)

// reached tells whether the witness is close to the bound.
func (b Bound) reached(start float64) bool {
	return math.Abs(b.Voltage-b.WitnessVoltage) <= closeEnough*math.Max(math.Abs(b.Voltage-start), 1e-3*start)
}

// search moves one station after another to and fro, and the beginning of its
// standstill, in steps that grow smaller, and keeps what comes closer to the bound.
func (b Bus) search(ctx context.Context, stations []Cycle, bound *Bound, start, sign float64) error {
	if len(stations) > searchRuns/4 {
		return nil // not once to and fro for each
	}
	steps, runs := 0, 0
	for step := searchFirst; step > searchLast; step /= 3 {
		for better := true; better; {
			better = false
			for i, s := range stations {
				for _, move := range []float64{step, -step} {
					move *= s.Power.Duration()
					for _, before := range []bool{false, true} {
						if before && len(bound.Standstills[i]) == 0 {
							continue
						}
						if runs++; runs > searchRuns || steps > searchSteps || bound.reached(start) {
							return nil
						}
						l := lineUp{slices.Clone(bound.Offsets), slices.Clone(bound.Standstills), bound.Witness.Load.End()}
						l.move(i, move, before)
						if s.Repeats != Once {
							l.offsets[i] = positiveMod(l.offsets[i], s.Power.Duration())
						}
						last := bound.Witness
						n, err := b.try(ctx, stations, l, bound, start, sign)
						if err != nil {
							return err
						}
						steps += n
						better = better || bound.Witness != last
					}
				}
			}
		}
	}
	return nil
}

// move delays station i by a time, or only what it does before it stands still.
func (l lineUp) move(i int, by float64, before bool) {
	stills := slices.Clone(l.stills[i])
	if before {
		by = math.Min(by, stills[0].Length)
		stills[0].Length -= by
	}
	for k := range stills {
		stills[k].From += by
		if before {
			break
		}
	}
	l.offsets[i] += by
	l.stills[i] = stills
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
func (b Bus) try(ctx context.Context, stations []Cycle, l lineUp, bound *Bound, start, sign float64) (steps int, err error) {
	loads := make([]profile.Curve, len(stations))
	for i, s := range stations {
		var err error
		if loads[i], err = s.Course(l.offsets[i], l.stills[i], l.duration); err != nil {
			return 0, err
		}
	}
	load, err := sum(loads)
	if err != nil {
		return 0, err
	}
	most := budget(load.Pieces())
	if bound.Witness != nil {
		most = min(most, searchSteps)
	}
	r, err := b.simulate(ctx, load, State{Voltage: start}, most)
	if errors.Is(err, ErrBudget) && bound.Witness != nil {
		return most, nil
	} else if err != nil {
		return 0, err
	}
	v := r.Highest.V
	if sign < 0 {
		v = r.Lowest.V
	}
	if bound.Witness == nil || sign*(v-bound.WitnessVoltage) > 0 {
		bound.Offsets, bound.Standstills, bound.WitnessVoltage, bound.Witness = l.offsets, l.stills, v, r
	}
	return r.Steps, nil
}

// sum adds curves two by two, so that many take hardly longer for each piece than
// few.
func sum(curves []profile.Curve) (profile.Curve, error) {
	if n := len(curves); n > 3 {
		a, err := sum(curves[:n/2])
		if err != nil {
			return profile.Curve{}, err
		}
		b, err := sum(curves[n/2:])
		if err != nil {
			return profile.Curve{}, err
		}
		curves = []profile.Curve{a, b}
	}
	return profile.Sum(curves...)
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
