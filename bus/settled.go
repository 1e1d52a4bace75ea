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
// has no settled state: a [*NoSettledStateError].
func (b Bus) SettledCycle(ctx context.Context, load profile.Curve) (*Settled, error) {
	start := State{Voltage: b.Bank.RatedVoltage}
	if b.Source != nil {
		start.Voltage = b.Source.NoLoadVoltage()
	}
	if err := b.check(load, start); err != nil {
		return nil, err
	}
	mean := load.Mean()
	scale := load.AbsMax().V
	if mean < -1e-12*math.Abs(scale) && b.Brake == nil && b.Bleeder == 0 {
		return nil, &NoSettledStateError{-mean, "nothing drains the bus: it needs a brake resistor"}
	}

	var history []State
	s := start
	for n := 1; n <= settleCycles; n++ {
		c, sol, err := b.run(ctx, load, s, true)
		if err != nil {
			return nil, err
		}
		history = append(history, s)
		if c.collapsed {
			r, err := b.Simulate(ctx, load, s)
			return &Settled{Result: r, Periods: 1, Cycles: n}, err
		}
		s = State{sol.X[0], c.brakeOn}
		for m := 1; m <= min(settlePeriods, len(history)); m++ {
			was := history[len(history)-m]
			if was.BrakeOn == s.BrakeOn && math.Abs(was.Voltage-s.Voltage) <= settleTolerance*s.Voltage {
				return b.over(ctx, load, s, m, n, true)
			}
		}
		s = extrapolate(history, s)
	}
	return b.over(ctx, load, s, settlePeriods, settleCycles, false)
}

// over simulates m cycles from s.
func (b Bus) over(ctx context.Context, load profile.Curve, s State, m, cycles int, repeats bool) (*Settled, error) {
	r, err := b.Simulate(ctx, load.Repeat(m), s)
	if err != nil {
		return nil, err
	}
	return &Settled{Result: r, Periods: m, Repeats: repeats, Cycles: cycles}, nil
}

// extrapolate applies Aitken's rule to the last three start voltages, every
// third cycle, when they converge geometrically with a ratio between 0 and 1.
func extrapolate(history []State, s State) State {
	n := len(history)
	if n < 2 || n%3 != 0 || history[n-2].BrakeOn != s.BrakeOn || history[n-1].BrakeOn != s.BrakeOn {
		return s
	}
	x0, x1, x2 := history[n-2].Voltage, history[n-1].Voltage, s.Voltage
	d1, d2 := x1-x0, x2-x1
	q := d2 / d1
	if !(q > 0.01 && q < 1) {
		return s
	}
	x := x2 + d2*q/(1-q)
	if !(x > 0.5*x2 && x < 2*x2) {
		return s
	}
	return State{x, s.BrakeOn}
}
