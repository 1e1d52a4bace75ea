package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// Settled is the state into which a repeated cycle settles.
type Settled struct {
	*Result // over Periods cycles

	// Periods is after how many cycles the bus repeats: 1 unless what switches or
	// has memory needs several.
	Periods int
	// Repeats is false when no repetition was found within the cycles tried. The
	// result then covers the last Periods of them, and its extremes may be
	// exceeded in others. It is false too when the bus collapses or the drives trip
	// and are released: the result is then the cycle in which that happens.
	Repeats bool
	// Cycles is how many cycles were computed to get there.
	Cycles int
}

// NoSettledStateError says why a repeated cycle has no settled state.
type NoSettledStateError struct {
	Returned float64 // mean power that the load returns net [W]
	Reason   string
}

// Error implements error.
func (e *NoSettledStateError) Error() string {
	return fmt.Sprintf("the cycle has no settled state: it returns %.4g W more than it draws on average, and %s", e.Returned, e.Reason)
}

const (
	settleCycles    = 400   // cycles tried
	settlePeriods   = 8     // longest repetition looked for, in cycles
	settleTolerance = 1e-11 // of the voltage
)

// SettledCycle computes the state into which the bus settles when the load
// cycle is repeated for ever, starting from the source's no-load voltage (or
// from the rated voltage of the bank without a source).
//
// It is found by following the cycle, with the sequence of start voltages
// extrapolated by Aitken's rule once it converges geometrically. A cycle that
// returns more than it draws onto a bus where nothing drains it, neither brake
// resistor nor clamp, bleeder or a battery that is charged, has no settled state:
// a [*NoSettledStateError]. (With series resistance it may have one, if that burns
// the surplus while the source keeps the bus up.)
func (b Bus) SettledCycle(ctx context.Context, load profile.Curve) (*Settled, error) {
	if err := b.check(load, State{Voltage: 1}); err != nil {
		return nil, err
	}
	s, err := Network{Bus: b}.settle(ctx, []profile.Curve{load})
	if err != nil {
		return nil, err
	}
	return &Settled{Result: &s.Result, Periods: s.Periods, Repeats: s.Repeats, Cycles: s.Cycles}, nil
}

// SettledNetwork is the state into which a repeated cycle on a network settles;
// its fields are those of [Settled].
type SettledNetwork struct {
	*NetworkResult
	Periods int
	Repeats bool
	Cycles  int
}

// SettledCycle does the same for a network; see [Bus.SettledCycle].
func (n Network) SettledCycle(ctx context.Context, loads []profile.Curve) (*SettledNetwork, error) {
	if err := n.check(loads, State{Voltage: 1}); err != nil {
		return nil, err
	}
	return n.settle(ctx, loads)
}

// begin returns the state of a bus that was charged and left alone.
func (b Bus) begin() State {
	if b.Source != nil {
		return State{Voltage: b.Source.NoLoadVoltage()}
	}
	return State{Voltage: b.Bank.RatedVoltage}
}

// drained reports whether anything but loads and cables takes energy from a bus
// that is above the source's no-load voltage.
func (n Network) drained() bool {
	for _, s := range supplies(n.Source) {
		if b, ok := s.(Battery); ok && b.ChargeLimit > 0 {
			return true
		}
	}
	return len(n.Brakes) > 0 || n.Clamp != nil || n.Bleeder > 0 || len(n.Switched) > 0
}

func (n Network) settle(ctx context.Context, loads []profile.Curve) (*SettledNetwork, error) {
	start := n.begin()
	mean, most := 0.0, 0.0
	pieces := 0
	for _, l := range loads {
		if l.Pieces() > 0 {
			mean += l.Mean()
			most += math.Abs(l.AbsMax().V)
			pieces += l.Pieces()
		}
	}
	undrained := mean < -1e-12*most && !n.drained()
	if undrained && n.Bank.SeriesResistance == 0 && len(n.Feeders) == 0 {
		return nil, &NoSettledStateError{-mean, "nothing drains the bus: it needs a brake resistor"}
	}

	var chain []State         // start states of cycles that followed one another
	s, honest := start, start // honest: the last state reached without extrapolation
	leap, leapt := !undrained, false
	for k := 1; k <= settleCycles; k++ {
		c, x := newCircuit(n, loads, s)
		p := taylor.Problem{MaxSteps: budget(pieces)}
		if k == 1 { // which often ends as it began, and is then what is asked for
			p.Keep = c.out.kept
		}
		sol, err := c.solve(ctx, x, loads, p)
		if err != nil {
			return nil, err
		}
		chain = append(chain, s)
		over := c.collapsed || !s.asleep && !c.awake // it does not go on from here
		if over && leapt {
			// Perhaps only states beyond the leap end so. Follow every cycle.
			s, chain, leap, leapt = honest, chain[:0], false, false
			continue
		}
		if over {
			r, err := n.run(ctx, loads, s, budget(pieces))
			if err != nil {
				return nil, err
			}
			return &SettledNetwork{NetworkResult: r, Periods: 1, Cycles: k}, nil
		}
		s = c.state(sol.X)
		if !leapt {
			honest = s
		}
		if undrained && s.Voltage > chain[len(chain)-1].Voltage && c.alwaysBlocked() {
			return nil, &NoSettledStateError{-mean, "only the bank's series resistance and cables drain the bus, the less the higher it is charged: it needs a brake resistor"}
		}
		if m := repeats(chain, s); m == 1 && k == 1 {
			r, err := c.result(ctx, sol, loads, start)
			if err != nil {
				return nil, err
			}
			return settledNetwork(r, m, k, true), nil
		} else if m > 0 {
			return n.over(ctx, loads, s, m, k, true)
		}
		if leap && k <= settleCycles/2 { // the rest is left to cycles that repeat in several periods
			if x, ok := extrapolate(chain, s); ok {
				s, chain, leapt = x, chain[:0], true
			}
		}
	}
	return n.over(ctx, loads, s, settlePeriods, settleCycles, false)
}

// alwaysBlocked reports whether the source delivered nothing in all of the
// simulation.
func (c *circuit) alwaysBlocked() bool {
	for _, e := range c.events {
		if e.Kind == SourceConducts || e.Kind == SourceLimits || e.Kind == SourceBlocks {
			return false
		}
	}
	return c.segment == 0
}

// change returns by how much the voltages of two states differ at most.
func (s State) change(o State) float64 {
	d := math.Abs(s.Voltage - o.Voltage)
	for k := range s.ends {
		d = math.Max(d, math.Abs(s.ends[k]-o.end(k)))
	}
	return d
}

func (s State) end(k int) float64 {
	if k < len(s.ends) {
		return s.ends[k]
	}
	return s.Voltage
}

// sameTimers reports whether what counts time stands alike.
func (s State) sameTimers(o State) bool {
	for k, v := range s.timers {
		was := 0.0
		if k < len(o.timers) {
			was = o.timers[k]
		}
		if math.Abs(v-was) > 1e-9*math.Max(1, math.Abs(v)) {
			return false
		}
	}
	return true
}

// repeats returns how many cycles before s, the end of the chain, the bus was in
// the same state, or 0.
func repeats(chain []State, s State) int {
	for m := 1; m <= min(settlePeriods, len(chain)); m++ {
		was := chain[len(chain)-m]
		change := s.change(was)
		if !s.sameModes(was) || !s.sameTimers(was) || change > settleTolerance*s.Voltage {
			continue
		}
		if m > 1 || change <= 8*0x1p-52*s.Voltage {
			return m
		}
		// A slow approach: what is left of it is a geometric series.
		if len(chain) > 1 {
			before := was.change(chain[len(chain)-2])
			if change < before && change/(1-change/before) <= settleTolerance*s.Voltage {
				return m
			}
		}
	}
	return 0
}

// over simulates m cycles from s.
func (n Network) over(ctx context.Context, loads []profile.Curve, s State, m, cycles int, repeats bool) (*SettledNetwork, error) {
	repeated := make([]profile.Curve, len(loads))
	pieces := 0
	for i, l := range loads {
		if l.Pieces() > 0 {
			repeated[i] = l.Repeat(m)
			pieces += repeated[i].Pieces()
		}
	}
	n.Switched = append([]SwitchedLoad(nil), n.Switched...)
	for i := range n.Switched {
		t0, t1 := span(loads)
		c, err := n.Switched[i].Conductance.Slice(t0, t1)
		if err != nil {
			return nil, err
		}
		n.Switched[i].Conductance = c.Repeat(m)
	}
	r, err := n.run(ctx, repeated, s, budget(pieces))
	if err != nil {
		return nil, err
	}
	return settledNetwork(r, m, cycles, repeats), nil
}

// settledNetwork returns the settled state of which r is m cycles.
func settledNetwork(r *NetworkResult, m, cycles int, repeats bool) *SettledNetwork {
	for k := range r.Brakes {
		// An operation that goes on from the end of the cycle to its start.
		if u := &r.Brakes[k]; repeats && u.begun > 0 && u.operation > 0 {
			u.Highest = math.Max(u.Highest, u.begun+u.operation)
		}
	}
	return &SettledNetwork{NetworkResult: r, Periods: m, Repeats: repeats, Cycles: cycles}
}

// extrapolate applies Aitken's rule to the last voltages of a chain that ends in
// s, if their differences shrink by about the same ratio.
func extrapolate(chain []State, s State) (State, bool) {
	n := len(chain)
	if n < 3 {
		return s, false
	}
	for _, c := range chain[n-3:] {
		if !c.sameModes(s) {
			return s, false
		}
	}
	d1 := chain[n-2].Voltage - chain[n-3].Voltage
	d2 := chain[n-1].Voltage - chain[n-2].Voltage
	d3 := s.Voltage - chain[n-1].Voltage
	q, was := d3/d2, d2/d1
	if !(q > 0.01 && q < 1 && math.Abs(q-was) < 0.1*(1-q)+0.01) {
		return s, false
	}
	leap := d3 * q / (1 - q)
	x := s
	x.Voltage = math.Max(s.Voltage/2, math.Min(2*s.Voltage, s.Voltage+leap)) // not farther at once
	x.ends = make([]float64, len(s.ends))
	for k, v := range s.ends {
		x.ends[k] = math.Max(v/2, math.Min(2*v, v+leap))
	}
	return x, true
}
