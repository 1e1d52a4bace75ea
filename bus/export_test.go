package bus

import (
	"context"
	"math"

	"example.com/headroom/profile"
)

// Simulate with a budget of steps, for tests that must end soon.
func (b Bus) SimulateWithin(ctx context.Context, load profile.Curve, start State, steps int) (*Result, error) {
	return b.simulate(ctx, load, start, steps)
}

// WorstWindow returns what [envelope] knows of windows of one length.
func WorstWindow(load profile.Curve, leak, length float64) (energy, end float64, err error) {
	e, err := newEnvelope(context.Background(), Cycle{Power: load, Repeats: Strictly}, leak, 0, 0)
	if err != nil {
		return 0, 0, err
	}
	energy, at := e.worst(length)
	return energy + e.mean*sigma(leak, length), at.end, nil
}

// BacklogTolerance is the width of the bracket relative to the stations' swings.
const BacklogTolerance = fine

// WorstBacklog brackets the worst sum of envelopes less a drain.
func WorstBacklog(loads []profile.Curve, drain, leak float64) (lower, upper, length, swing float64, err error) {
	es := make([]*envelope, len(loads))
	for i, l := range loads {
		if es[i], err = newEnvelope(context.Background(), Cycle{Power: l, Repeats: Strictly}, leak, 0, 0); err != nil {
			return 0, 0, 0, 0, err
		}
		swing += es[i].burst
	}
	b, err := worstBacklog(context.Background(), es, drain, leak, fine)
	return b.lower, b.upper, b.length, swing, err
}

// Simulate with a budget of steps, for tests that must end soon.
func (n Network) SimulateWithin(ctx context.Context, loads []profile.Curve, start State, steps int) (*NetworkResult, error) {
	if err := n.check(loads, start); err != nil {
		return nil, err
	}
	return n.run(ctx, loads, start, steps)
}

// WorstOf returns the most that a station takes in windows of one length, and the
// course, from time 0, of which the time to length is such a window; rate and burst
// are those of its linear bound.
func WorstOf(c Cycle, leak, length float64) (energy, offset float64, stills []Standstill, rate, burst float64, err error) {
	e, err := newEnvelope(context.Background(), c, leak, 0, 0)
	if err != nil {
		return 0, 0, nil, 0, 0, err
	}
	energy, at := e.worst(length)
	offset, stills = c.meeting(at, length)
	return energy + e.mean*sigma(leak, length), offset, stills, e.rate, e.burst, nil
}

// WorstEnding is WorstOf where the power at the end of the window counts as energy of a
// time. surplus is what a wait in which the window ends may add to it.
func WorstEnding(c Cycle, leak, length, ending float64) (energy, offset float64, stills []Standstill, surplus, burst float64, err error) {
	e, err := newEnvelope(context.Background(), c, leak, 0, 0)
	if err != nil {
		return 0, 0, nil, 0, 0, err
	}
	e.worst(length) // as it was before must not matter
	energy, at := e.worstEnding(length, ending)
	offset, stills = c.meeting(at, length)
	return energy + e.mean*sigma(leak, length), offset, stills, ending * e.surplus, e.burst + ending*e.up, nil
}

// WorstWithin returns the extreme powers of a cycle within h of each instant.
func WorstWithin(c profile.Curve, h, sign float64) profile.Curve { return worstWithin(c, h, sign) }

// Line is a bound on the course of the bank's energy from a threshold on.
type Line struct{ From, Drain, Leak, Adverse, Helpful, Floor float64 }

// RiseLines returns the lines above the source's no-load voltage and, last, those above a
// resistor's threshold, with how many these are.
func RiseLines(b Bus, drawn, returned float64) (lines []Line, braking int) {
	blocked := 0
	for _, l := range b.riseLines(demand{drawn: drawn, returned: returned}) {
		lines = append(lines, Line{l.from, l.drain, l.leak, l.adverse, l.helpful, l.floor})
		if l.least == b.Source.NoLoadVoltage() {
			blocked++
		}
	}
	return lines, len(lines) - blocked
}

// SagLines returns the lines below the source's no-load voltage for a bus that stays at low or
// above and a bank at bank or above, and how many of them leave out returned powers.
func SagLines(b Bus, drawn, returned, low, bank float64) (lines []Line, clipped int) {
	demands := []demand{{drawn: drawn, returned: returned}}
	for _, part := range b.charges() {
		demands = append(demands, demand{drawn: drawn, clipped: true, charging: part})
	}
	for _, d := range demands {
		for _, reach := range b.Source.sagLines() {
			l := b.Source.sagLine(b, d, low, bank, reach)
			lines = append(lines, Line{l.from, l.drain, l.leak, l.adverse, l.helpful, l.floor})
		}
	}
	return lines, len(b.charges()) * len(b.Source.sagLines())
}

// WorstLifted is WorstOf where what was taken before the window, with a power added, counts
// too. The window is the last of the course from time 0 to instant.
func WorstLifted(c Cycle, leak, length, before, added, instant float64) (energy, offset float64, stills []Standstill, rate, burst float64, err error) {
	e, err := newEnvelope(context.Background(), c, leak, before, added)
	if err != nil {
		return 0, 0, nil, 0, 0, err
	}
	energy, at := e.worst(length)
	offset, stills = c.meeting(at, instant)
	return energy + e.mean*sigma(leak, length), offset, stills, e.rate, e.burst, nil
}

// ChainedBacklog bounds the worst backlog with chains, and returns the sums that it bounds
// and the width of the bracket.
func ChainedBacklog(cycles []Cycle, drain, leak, rise float64) (upper, width float64, of func(length float64) float64, err error) {
	ctx := context.Background()
	added, _ := lifting(cycles)
	weighted := func(before float64) ([]*envelope, error) {
		es := make([]*envelope, len(cycles))
		for i, c := range cycles {
			back, err := c.times(-1, -1)
			if err != nil {
				return nil, err
			}
			if es[i], err = newEnvelope(ctx, back, leak, before, added[i]); err != nil {
				return nil, err
			}
			width += fine * es[i].burst
		}
		return es, nil
	}
	es, err := weighted(0)
	if err != nil {
		return 0, 0, nil, err
	}
	var chains []chain
	for _, before := range multipliers {
		es, err := weighted(before)
		if err != nil {
			return 0, 0, nil, err
		}
		chains = append(chains, chain{es, before * rise})
	}
	b, err := worstBacklog(ctx, es, drain, leak, fine, chains...)
	of = func(length float64) float64 {
		sum := func(es []*envelope, lifted float64) float64 {
			v := -drain*sigma(leak, length) - lifted*math.Exp(-leak*length)
			for _, e := range es {
				d, _ := e.worst(length)
				v += d + e.mean*sigma(leak, length)
			}
			return v
		}
		least := sum(es, 0)
		for _, c := range chains {
			least = math.Min(least, sum(c.es, c.lifted))
		}
		return least
	}
	return b.upper, width, of, err
}

// Lifting returns what is added to the returned powers.
func Lifting(cycles []Cycle) (added []float64, ok bool) { return lifting(cycles) }
