package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// Extremes is how far a bus went in a simulation.
type Extremes struct {
	Lowest    float64 // voltage of the distribution point or of the end of any feeder [V]
	Highest   float64 // [V]
	Load      float64 // highest power of all loads together, switched ones apart [W]
	Collapsed bool    // the load could not be carried; what follows is not in the extremes
	Steps     int     // integration steps
}

// extremesTolerance is [Tolerance] where only extremes are asked for: the steps are longer, and
// their errors far below what any input is known to.
const extremesTolerance = 1e-10

// Extremes simulates the network as [Network.Simulate] does and returns the extremes of
// the curves that it would return, to about 1e-9 of them, without the time and the memory
// that these take.
func (n Network) Extremes(ctx context.Context, loads []profile.Curve, start State) (Extremes, error) {
	if err := n.check(loads, start); err != nil {
		return Extremes{}, err
	}
	pieces := 0
	for _, l := range loads {
		pieces += l.Pieces()
	}
	c, x := newCircuit(n, loads, start)
	c.extremes, c.tolerance = true, extremesTolerance
	var v, load extent
	sol, err := c.solve(ctx, x, loads, taylor.Problem{MaxSteps: budget(pieces), Watch: func(from, to float64, y []taylor.Series) {
		var sum taylor.Series
		degree := 0
		for k := range c.nodes {
			n := &c.nodes[k]
			v.add(trimmed(c.series(y, k)[:]), to-from)
			if !n.idle {
				degree = max(degree, n.degree)
				for m, p := range n.p[:min(n.degree, taylor.Order)+1] {
					sum[m] += p
				}
			}
		}
		load.add(sum[:min(degree, taylor.Order)+1], to-from)
	}})
	if err != nil {
		return Extremes{}, err
	}
	e := Extremes{Collapsed: c.collapsed, Steps: sol.Steps}
	if !v.any {
		return e, nil // collapsed at the start
	}
	if e.Lowest, e.Highest = v.lowest, v.highest; !(math.Abs(e.Lowest) <= math.MaxFloat64) {
		return e, fmt.Errorf("bus simulation: %w: voltage", ErrRange)
	}
	if err := c.checkRise(e.Highest); err != nil {
		return e, err
	}
	e.Load = load.highest
	return e, nil
}

// extent is the range of the values of polynomials.
type extent struct {
	lowest, highest float64
	any             bool
}

// add includes the values of p over [0, h]. Most polynomials lie within the range so far
// by an enclosure that costs much less than their own extremes.
func (e *extent) add(p []float64, h float64) {
	if e.any {
		if lo, hi := poly.Range(p, h); lo >= e.lowest && hi <= e.highest {
			return
		}
	}
	lo, _, hi, _ := poly.Extrema(p, 0, h)
	if !e.any {
		e.lowest, e.highest, e.any = lo, hi, true
		return
	}
	e.lowest, e.highest = min(e.lowest, lo), max(e.highest, hi)
}
