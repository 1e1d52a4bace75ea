package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Settled is the state into which a repeated cycle settles.
type Settled struct {
	*Result // over Periods cycles

	// Periods is after how many cycles the bus repeats: 1 unless the brake
	// resistor's switching needs several.
	Periods int
	// Repeats is false when no repetition was found within the cycles tried. The
	// result then covers the last Periods of them, and its extremes may be
	// exceeded in others.
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
// returns more than it draws onto a bus with neither brake resistor nor bleeder
// has no settled state: a [*NoSettledStateError]. (With series resistance it may
// have one, if that burns the surplus while the source keeps the bus up.)
func (b Bus) SettledCycle(ctx context.Context, load profile.Curve) (*Settled, error) {
	start := State{Voltage: b.Bank.RatedVoltage}
	if b.Source != nil {
		start.Voltage = b.Source.NoLoadVoltage()
	}
	if err := b.check(load, start); err != nil {
		return nil, err
	}
	mean := load.Mean()
	undrained := mean < -1e-12*math.Abs(load.AbsMax().V) && b.Brake == nil && b.Bleeder == 0
	if undrained && b.Bank.SeriesResistance == 0 {
		return nil, &NoSettledStateError{-mean, "nothing drains the bus: it needs a brake resistor"}
	}

	var chain []State         // start states of cycles that followed one another
	s, honest := start, start // honest: the last state reached without extrapolation
	leap, leapt := !undrained, false
	for n := 1; n <= settleCycles; n++ {
		c, sol, err := b.run(ctx, load, s, budget(load), false)
		if err != nil {
			return nil, err
		}
		chain = append(chain, s)
		if c.collapsed && leapt {
			// Perhaps only states beyond the leap collapse. Follow every cycle.
			s, chain, leap, leapt = honest, chain[:0], false, false
			continue
		}
		if c.collapsed {
			r, err := b.Simulate(ctx, load, s)
			if err != nil {
				return nil, err
			}
			return &Settled{Result: r, Periods: 1, Cycles: n}, nil
		}
		s = State{sol.X[0], c.brakeOn}
		if !leapt {
			honest = s
		}
		if undrained && s.Voltage > chain[len(chain)-1].Voltage && c.alwaysBlocked() {
			return nil, &NoSettledStateError{-mean, "only the bank's series resistance drains the bus, the less the higher it is charged: it needs a brake resistor"}
		}
		if m := repeats(chain, s); m > 0 {
			return b.over(ctx, load, s, m, n, true)
		}
		if leap && n <= settleCycles/2 { // the rest is left to cycles that repeat in several periods
			if x, ok := extrapolate(chain, s); ok {
				s, chain, leapt = x, chain[:0], true
			}
		}
	}
	return b.over(ctx, load, s, settlePeriods, settleCycles, false)
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

// repeats returns how many cycles before s, the end of the chain, the bus was in
// the same state, or 0.
func repeats(chain []State, s State) int {
	for m := 1; m <= min(settlePeriods, len(chain)); m++ {
		was := chain[len(chain)-m]
		change := math.Abs(was.Voltage - s.Voltage)
		if was.BrakeOn != s.BrakeOn || change > settleTolerance*s.Voltage {
			continue
		}
		if m > 1 || change <= 8*0x1p-52*s.Voltage {
			return m
		}
		// A slow approach: what is left of it is a geometric series.
		if len(chain) > 1 {
			before := math.Abs(was.Voltage - chain[len(chain)-2].Voltage)
			if change < before && change/(1-change/before) <= settleTolerance*s.Voltage {
				return m
			}
		}
	}
	return 0
}

// over simulates m cycles from s.
func (b Bus) over(ctx context.Context, load profile.Curve, s State, m, cycles int, repeats bool) (*Settled, error) {
	r, err := b.Simulate(ctx, load.Repeat(m), s)
	if err != nil {
		return nil, err
	}
	return &Settled{Result: r, Periods: m, Repeats: repeats, Cycles: cycles}, nil
}

// extrapolate applies Aitken's rule to the last voltages of a chain that ends in
// s, if their differences shrink by about the same ratio.
func extrapolate(chain []State, s State) (State, bool) {
	n := len(chain)
	if n < 3 {
		return s, false
	}
	for _, c := range chain[n-3:] {
		if c.BrakeOn != s.BrakeOn {
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
	x := s.Voltage + d3*q/(1-q)
	x = math.Max(s.Voltage/2, math.Min(2*s.Voltage, x)) // not farther at once
	return State{x, s.BrakeOn}, true
}
