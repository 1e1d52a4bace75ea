package bus

import (
	"context"

	"example.com/headroom/profile"
)

// Simulate with a budget of steps, for tests that must end soon.
func (b Bus) SimulateWithin(ctx context.Context, load profile.Curve, start State, steps int) (*Result, error) {
	return b.simulate(ctx, load, start, steps)
}

// WorstWindow returns what [envelope] knows of windows of one length.
func WorstWindow(load profile.Curve, leak, length float64) (energy, end float64, err error) {
	e, err := newEnvelope(context.Background(), load, leak)
	if err != nil {
		return 0, 0, err
	}
	energy, end = e.worst(length)
	s := search{leak: leak}
	return energy + e.mean*s.sigma(length), end, nil
}

// BacklogTolerance is the width of the bracket relative to the stations' swings.
const BacklogTolerance = fine

// WorstBacklog brackets the worst sum of envelopes less a drain.
func WorstBacklog(loads []profile.Curve, drain, leak float64) (lower, upper, length, swing float64, err error) {
	es := make([]*envelope, len(loads))
	for i, l := range loads {
		if es[i], err = newEnvelope(context.Background(), l, leak); err != nil {
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
