package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// State is the bus at one instant.
type State struct {
	Voltage float64 // of the bank without its series resistance [V], > 0
	BrakeOn bool    // whether the brake resistor is switched on
}

// Tolerance is the error allowed in one step of the integration, relative to the
// voltage.
const Tolerance = 1e-13

// budget bounds the steps and events of one simulation.
func budget(load profile.Curve) int { return 200_000 + 2_000*load.Pieces() }

// Errors of a simulation, to be tested for with [errors.Is].
var (
	// ErrBudget means that the integration would take too many steps: switching
	// does not end, or the bus settles a million times faster than the load lasts.
	ErrBudget = taylor.ErrBudget
	// ErrRange means that a result is too large for float64.
	ErrRange = taylor.ErrRange
)

// Energies books the energy of a simulation [J]. Source + Returned + Released =
// Drawn + Resistor + Bleeder + Series, where Released is what the bank gave.
type Energies struct {
	Source   float64 // delivered by the source
	Drawn    float64 // taken by the load while its power is positive
	Returned float64 // returned by the load while its power is negative, as a positive figure
	Resistor float64 // burned in the brake resistor
	Bleeder  float64 // in the bleeder
	Series   float64 // in the bank's series resistance
	Released float64 // energy of the bank at the start less that at the end
	Residual float64 // what is left when the book is closed: the error of the integration
}

// Throughput returns the energy against which Residual is to be judged [J].
func (e Energies) Throughput() float64 { return e.Source + e.Returned + e.Drawn }

// Result is the bus over time.
type Result struct {
	Voltage       profile.Curve // of the bus [V]
	SourceCurrent profile.Curve // [A]
	Load          profile.Curve // power of the loads, as given [W]
	Events        []Event
	Energies      Energies

	Lowest    profile.Point // of Voltage
	Highest   profile.Point
	Start     State
	End       State
	Collapsed bool // the load could not be carried; the curves end there
	Steps     int  // integration steps
}

// Simulate computes the bus under a load power [W] over the load's whole domain,
// from a start state. The simulation ends early, with Collapsed set, when the
// bank cannot deliver the load through its series resistance, or when the bus
// falls to a tenth of the source's no-load voltage (without a source, of the
// start voltage): far below what any drive runs on, whatever the load.
//
// It returns an error that joins the faults of the input, or one that wraps the
// context's error, [ErrBudget] or [ErrRange].
func (b Bus) Simulate(ctx context.Context, load profile.Curve, start State) (*Result, error) {
	return b.simulate(ctx, load, start, budget(load))
}

func (b Bus) simulate(ctx context.Context, load profile.Curve, start State, steps int) (*Result, error) {
	if err := b.check(load, start); err != nil {
		return nil, err
	}
	c, sol, err := b.run(ctx, load, start, steps, true)
	if err != nil {
		return nil, err
	}
	return c.result(ctx, sol, start)
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

func (b Bus) run(ctx context.Context, load profile.Curve, start State, steps int, keep bool) (*circuit, *taylor.Solution, error) {
	c := newCircuit(b, load, start)
	v := c.reference
	current := c.peak/v + c.drain()*v
	for _, sg := range c.segments {
		if sg.upright {
			current = math.Max(current, sg.imax)
		}
	}
	kept := 0
	if keep {
		kept = outBank // those before it; the bank has the voltage of the bus
		if c.rs > 0 {
			kept++
		}
	}
	sol, err := taylor.Solve(ctx, taylor.Problem{
		System: c, X0: []float64{start.Voltage}, Breaks: c.breaks(),
		Scale: []float64{v, current, v, 1}, Tol: Tolerance,
		MaxSteps: steps, Keep: kept,
	})
	if err != nil {
		return nil, nil, fmt.Errorf("bus simulation: %w", err)
	}
	return c, sol, nil
}

// result turns the pieces of a solution into curves and books the energies.
func (c *circuit) result(ctx context.Context, sol *taylor.Solution, start State) (*Result, error) {
	r := &Result{
		Load: c.load, Events: c.events, Collapsed: c.collapsed, Steps: sol.Steps,
		Start: start, End: State{sol.X[0], c.brakeOn},
	}
	pieces := max(0, len(sol.Breaks)-1)
	if pieces == 0 {
		return r, nil // collapsed at the start
	}
	volts, amps := make([][]float64, pieces), make([][]float64, pieces)
	e := &r.Energies
	on, ev := start.BrakeOn && c.bus.Brake != nil, 0
	for i := range pieces {
		if i&1023 == 1023 && ctx.Err() != nil {
			return nil, fmt.Errorf("bus simulation: %w", ctx.Err())
		}
		volts[i], amps[i] = sol.Piece(i, outVoltage), sol.Piece(i, outSource)
		v, is := (*taylor.Series)(volts[i]), (*taylor.Series)(amps[i])
		h := sol.Breaks[i+1] - sol.Breaks[i]
		for ev < len(c.events) && c.events[ev].Time <= sol.Breaks[i] {
			switch c.events[ev].Kind {
			case BrakeOn:
				on = true
			case BrakeOff:
				on = false
			}
			ev++
		}
		square := productIntegral(v, v, h)
		e.Source += productIntegral(v, is, h)
		e.Bleeder += c.bleed * square
		if on {
			e.Resistor += c.brake * square
		}
		if c.rs > 0 {
			x := sol.Piece(i, outBank)
			var current taylor.Series // of the bank
			for k := range taylor.Order {
				current[k] = c.c * float64(k+1) * x[k+1]
			}
			e.Series += c.rs * productIntegral(&current, &current, h)
		}
	}
	var err error
	if r.Voltage, err = profile.NewCurve(sol.Breaks, volts); err != nil {
		return nil, fmt.Errorf("bus simulation: %w: voltage: %v", ErrRange, err)
	}
	if r.SourceCurrent, err = profile.NewCurve(sol.Breaks, amps); err != nil {
		return nil, fmt.Errorf("bus simulation: %w: source current: %v", ErrRange, err)
	}
	load := c.load
	if end := r.Voltage.End(); end < load.End() {
		if load, err = load.Slice(load.Start(), end); err != nil {
			return nil, fmt.Errorf("bus simulation: %w", err)
		}
		r.Load = load
	}
	e.Drawn = load.Positive().Integral()
	e.Returned = 0 - load.Negative().Integral() // not -0
	e.Released = c.bus.Bank.Energy(start.Voltage) - c.bus.Bank.Energy(sol.X[0])
	e.Residual = e.Source + e.Returned + e.Released - e.Drawn - e.Resistor - e.Bleeder - e.Series
	if !(math.Abs(e.Residual) <= math.MaxFloat64) { // it adds up all others
		return nil, fmt.Errorf("bus simulation: %w: energies", ErrRange)
	}
	r.Lowest, r.Highest = r.Voltage.Extrema()
	return r, nil
}

// productIntegral returns the integral over [0, h] of the product of two
// series, as far as the product is known: to the order of the series.
func productIntegral(a, b *taylor.Series, h float64) float64 {
	sum, f := 0.0, h
	for k := range a {
		sum += taylor.ProductCoef(a, b, k) * f / float64(k+1)
		f *= h
	}
	return sum
}
