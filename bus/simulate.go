package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// Tolerance is the error allowed in one step of the integration, relative to the
// voltage.
const Tolerance = 1e-13

// budget bounds the steps and events of one simulation.
func budget(pieces int) int { return 200_000 + 2_000*pieces }

// Errors of a simulation, to be tested for with [errors.Is].
var (
	// ErrBudget means that the integration would take too many steps: switching
	// does not end, or the bus settles a million times faster than the load lasts.
	ErrBudget = taylor.ErrBudget
	// ErrRange means that a result is too large for float64, or that the bus rose a
	// billionfold, where rounding is all that is left of its first voltage.
	ErrRange = taylor.ErrRange
)

// Simulate computes the bus under a load power [W] over the load's whole domain,
// from a start state. The simulation ends early, with Collapsed set, when the
// bank cannot deliver the load through its series resistance, or when the bus
// falls to a tenth of the source's no-load voltage (without a source, of the
// start voltage): far below what any drive runs on, whatever the load.
//
// It returns an error that joins the faults of the input, or one that wraps the
// context's error, [ErrBudget] or [ErrRange].
func (b Bus) Simulate(ctx context.Context, load profile.Curve, start State) (*Result, error) {
	return b.simulate(ctx, load, start, budget(load.Pieces()))
}

func (b Bus) simulate(ctx context.Context, load profile.Curve, start State, steps int) (*Result, error) {
	if err := b.check(load, start); err != nil {
		return nil, err
	}
	r, err := Network{Bus: b}.run(ctx, []profile.Curve{load}, start, steps)
	if err != nil {
		return nil, err
	}
	return &r.Result, nil
}

func (b Bus) check(load profile.Curve, start State) error {
	var f profile.Faults
	f.Under("bus", b.Validate())
	if load.Pieces() == 0 {
		f.Add("load", "an empty curve", "a curve of power over time")
	}
	f.Positive("start.voltage", start.Voltage, "V")
	return f.Err()
}

// Simulate computes the network under the loads' powers [W]: loads[0] at the
// distribution point, loads[k] at the end of feeder k; those left out or empty
// draw nothing. All loads cover the same time. See [Bus.Simulate] for the rest.
func (n Network) Simulate(ctx context.Context, loads []profile.Curve, start State) (*NetworkResult, error) {
	if err := n.check(loads, start); err != nil {
		return nil, err
	}
	pieces := 0
	for _, l := range loads {
		pieces += l.Pieces()
	}
	return n.run(ctx, loads, start, budget(pieces))
}

func (n Network) check(loads []profile.Curve, start State) error {
	var f profile.Faults
	f.Under("network", n.Validate())
	if len(loads) > 1+len(n.Feeders) {
		f.Add("loads", len(loads), fmt.Sprintf("at most %d: one for the distribution point and one for each feeder", 1+len(n.Feeders)))
	}
	first := -1
	for i, l := range loads {
		if l.Pieces() == 0 {
			continue
		}
		if first < 0 {
			first = i
		}
		if a, b := loads[first], l; a.Start() != b.Start() || a.End() != b.End() {
			f.Add(fmt.Sprintf("loads[%d]", i), fmt.Sprintf("from %g s to %g s", b.Start(), b.End()),
				fmt.Sprintf("over the time of loads[%d], from %g s to %g s", first, a.Start(), a.End()))
		}
	}
	if first < 0 {
		f.Add("loads", "none", "at least one curve of power over time, of 0 W if need be")
	} else {
		for i, s := range n.Switched {
			if c := s.Conductance; c.Pieces() > 0 && (c.Start() > loads[first].Start() || c.End() < loads[first].End()) {
				f.Add(fmt.Sprintf("switched[%d].conductance", i), fmt.Sprintf("from %g s to %g s", c.Start(), c.End()),
					fmt.Sprintf("over the time of the loads, from %g s to %g s", loads[first].Start(), loads[first].End()))
			}
		}
	}
	f.Positive("start.voltage", start.Voltage, "V")
	return f.Err()
}

// run simulates what was checked before.
func (n Network) run(ctx context.Context, loads []profile.Curve, start State, steps int) (*NetworkResult, error) {
	c, x := newCircuit(n, loads, start)
	sol, err := c.solve(ctx, x, loads, taylor.Problem{MaxSteps: steps, Keep: c.out.kept})
	if err != nil {
		return nil, err
	}
	return c.result(ctx, sol, loads, start)
}

// solve follows the circuit from states x over the time of the loads; p tells how many
// steps that may take and what comes of them.
func (c *circuit) solve(ctx context.Context, x []float64, loads []profile.Curve, p taylor.Problem) (*taylor.Solution, error) {
	t0, t1 := span(loads)
	p.System, p.X0, p.Breaks = c, x, c.breaks(t0, t1)
	p.Scale, p.Tol = c.scales(), c.tolerance
	c.current = p.Scale[outSource]
	sol, err := taylor.Solve(ctx, p)
	if err != nil {
		return nil, fmt.Errorf("bus simulation: %w", err)
	}
	return sol, nil
}

// span returns the time that the loads cover.
func span(loads []profile.Curve) (start, end float64) {
	for _, l := range loads {
		if l.Pieces() > 0 {
			return l.Start(), l.End()
		}
	}
	return math.NaN(), math.NaN()
}
