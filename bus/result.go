package bus

import (
	"context"
	"fmt"
	"math"
	"slices"

	"example.com/headroom/internal/poly"
	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// Energies books the energy of a simulation [J]. Source + Returned + Released =
// Drawn + Resistor + Clamp + Bleeder + Series + Cables + Switched + Accepted,
// where Released is what bank and drives' capacitors gave.
type Energies struct {
	Source   float64 // delivered by the supplies, what a battery beside them takes included
	Accepted float64 // taken by batteries
	Drawn    float64 // taken by the loads while their power is positive
	Returned float64 // returned by the loads while their power is negative, as a positive figure
	Switched float64 // taken by switched loads
	Resistor float64 // burned in the brake resistors
	Clamp    float64 // in the clamp
	Bleeder  float64 // in the bleeder
	Series   float64 // in the bank's series resistance
	Cables   float64 // in the feeders
	Released float64 // energy of the capacitors at the start less that at the end
	Residual float64 // what is left when the book is closed: the error of the integration
}

// mostRise is by how much the bus may rise over its start or the source, as a factor.
const mostRise = 1e9

// Throughput returns the energy against which Residual is to be judged [J].
func (e Energies) Throughput() float64 { return e.Source + e.Returned + e.Drawn }

// Result is the bus over time.
type Result struct {
	Voltage       profile.Curve // of the bus [V]
	SourceCurrent profile.Curve // of all supplies together [A], negative while a battery is charged
	BankCurrent   profile.Curve // into the bank [A]
	Load          profile.Curve // power that all loads took, switched ones apart [W]
	Events        []Event
	Energies      Energies
	Brakes        []BrakeUse  // of the brake resistors, in their order
	Supplies      []SupplyUse // of the supplies, in their order

	Lowest    profile.Point // of Voltage
	Highest   profile.Point
	Start     State
	End       State
	Collapsed bool // the load could not be carried; the curves end there
	Steps     int  // integration steps
}

// BrakeUse is what one brake resistor did.
type BrakeUse struct {
	Energy  float64 // burned [J]
	Highest float64 // energy burned in the largest single operation, from on to off [J]
	OnTime  float64 // [s]
	Times   int     // how often it was switched on

	begun     float64 // burned by the operation that was on at the start [J]
	operation float64 // and by that at the end, or at hand
}

// SupplyUse is what one supply did.
type SupplyUse struct {
	Current   profile.Curve // [A]
	Energy    float64       // delivered to the bus [J], that taken back not deducted
	DiodeHeat float64       // burned in its blocking diode [J]
}

// NetworkResult is a network over time.
type NetworkResult struct {
	Result       // Voltage is that of the distribution point
	Ends   []End // of the feeders, in their order
	Lumped []int // numbers of the feeders, counted from 1, whose capacitor is counted as part of the bank
}

// End is what happens at the end of a feeder.
type End struct {
	Voltage profile.Curve // [V]
	Current profile.Curve // in the feeder [A]
	Lowest  profile.Point // of Voltage
	Highest profile.Point
	Energy  float64 // burned in the feeder [J]
}

// result turns the pieces of a solution into curves and books the energies.
func (c *circuit) result(ctx context.Context, sol *taylor.Solution, loads []profile.Curve, start State) (*NetworkResult, error) {
	r := &NetworkResult{Result: Result{
		Events: c.events, Collapsed: c.collapsed, Steps: sol.Steps, Start: start, End: c.state(sol.X),
		Brakes: make([]BrakeUse, len(c.brakes)), Supplies: make([]SupplyUse, len(c.units)),
	}}
	for k := 1; k < len(c.nodes); k++ {
		if c.nodes[k].state < 0 {
			r.Lumped = append(r.Lumped, k)
		}
	}
	if len(sol.Breaks) < 2 {
		return r, nil // collapsed at the start
	}
	r.Ends = make([]End, len(c.nodes)-1)
	if err := c.curves(sol, r); err != nil {
		return nil, err
	}
	if err := c.book(ctx, sol, r); err != nil {
		return nil, err
	}
	if err := c.loadsTaken(r, loads); err != nil {
		return nil, err
	}
	e := &r.Energies
	e.Residual = e.Source + e.Returned + e.Released - e.Drawn - e.Resistor - e.Clamp - e.Bleeder - e.Series - e.Cables - e.Switched - e.Accepted
	if !(math.Abs(e.Residual) <= math.MaxFloat64) { // it adds up all others
		return nil, fmt.Errorf("bus simulation: %w: energies", ErrRange)
	}
	r.Lowest, r.Highest = r.Voltage.Extrema()
	return r, c.checkRise(r.Highest.V)
}

// checkRise returns an error when the bus rose to where rounding is all that is left.
func (c *circuit) checkRise(highest float64) error {
	if highest <= mostRise*c.reference {
		return nil
	}
	return fmt.Errorf("bus simulation: %w: the bus rises from %g V to %g V", ErrRange, c.reference, highest)
}

const width = taylor.Order + 1 // coefficients of a piece

// bank returns the output that holds the bank's voltage.
func (c *circuit) bank() int {
	if c.out.kept > outBank {
		return outBank
	}
	return outVoltage // which is the same without series resistance
}

// curves fills in the curves over time.
func (c *circuit) curves(sol *taylor.Solution, r *NetworkResult) error {
	pieces := len(sol.Breaks) - 1
	var err error
	curve := func(what string, flat []float64) profile.Curve {
		out, e := profile.FromFlat(sol.Breaks, flat, len(flat)/pieces)
		if e != nil && err == nil {
			err = fmt.Errorf("bus simulation: %w: %s: %v", ErrRange, what, e)
		}
		return out
	}
	output := func(j int) []float64 {
		flat := make([]float64, 0, pieces*width)
		for i := range pieces {
			flat = append(flat, sol.Piece(i, j)...)
		}
		return flat
	}
	r.Voltage = curve("voltage", output(outVoltage))
	r.SourceCurrent = curve("source current", output(outSource))
	into := make([]float64, 0, pieces*taylor.Order)
	for i := range pieces {
		into = appendDerivative(into, sol.Piece(i, c.bank()), c.c)
	}
	r.BankCurrent = curve("bank current", into)
	for k := range r.Ends {
		e, n := &r.Ends[k], &c.nodes[k+1]
		e.Voltage = curve("voltage of a feeder's end", output(c.out.ends+k))
		current := make([]float64, 0, pieces*width)
		for i := range pieces {
			u, up := sol.Piece(i, c.out.ends+k), sol.Piece(i, c.output(n.up))
			for m := range u {
				current = append(current, n.feeder*(up[m]-u[m]))
			}
		}
		e.Current = curve("current of a feeder", current)
	}
	for k := range r.Supplies {
		u := &r.Supplies[k]
		if u.Current = r.SourceCurrent; c.out.units > 0 {
			u.Current = curve("current of a supply", output(c.out.units+k))
		}
	}
	if err != nil {
		return err
	}
	for k := range r.Ends {
		e := &r.Ends[k]
		e.Lowest, e.Highest = e.Voltage.Extrema()
	}
	return nil
}

// output returns the output that holds the voltage of node k.
func (c *circuit) output(k int) int {
	if k == 0 {
		return outVoltage
	}
	return c.out.ends + k - 1
}

func appendDerivative(dst, coefs []float64, k float64) []float64 {
	for i, v := range coefs[1:] {
		dst = append(dst, k*float64(i+1)*v)
	}
	return dst
}

// book integrates what was delivered and burned, piece by piece.
func (c *circuit) book(ctx context.Context, sol *taylor.Solution, r *NetworkResult) error {
	e := &r.Energies
	output := func(i, j int) *taylor.Series { return (*taylor.Series)(sol.Piece(i, j)) }
	ev := 0
	for i := range len(sol.Breaks) - 1 {
		if i&1023 == 1023 && ctx.Err() != nil {
			return fmt.Errorf("bus simulation: %w", ctx.Err())
		}
		t, h := sol.Breaks[i], sol.Breaks[i+1]-sol.Breaks[i]
		for ; ev < len(c.events) && c.events[ev].Time <= t; ev++ {
			c.switched(c.events[ev], r)
		}
		v := output(i, outVoltage)
		if c.bleed > 0 || len(c.brakes) > 0 {
			c.burn(r, v, h)
		}
		for k := range c.units {
			is := outSource
			if c.out.units > 0 {
				is = c.out.units + k
			}
			if w := productIntegral(v, output(i, is), h); w >= 0 {
				r.Supplies[k].Energy += w
			} else {
				e.Accepted -= w
			}
		}
		if c.rs > 0 {
			x := output(i, c.bank())
			var current taylor.Series // of the bank
			for k := range taylor.Order {
				current[k] = c.c * float64(k+1) * x[k+1]
			}
			e.Series += c.rs * productIntegral(&current, &current, h)
		}
		if c.out.clamp > 0 {
			e.Clamp += productIntegral(v, output(i, c.out.clamp), h)
		}
		for k := range c.nodes {
			n, u := &c.nodes[k], output(i, c.output(k))
			g := 0.0
			for s := range n.switched {
				g += n.switched[s].load.At(t)
			}
			if g > 0 {
				e.Switched += g * productIntegral(u, u, h)
			}
			if k == 0 {
				continue
			}
			var drop taylor.Series
			up := output(i, c.output(n.up))
			for m := range drop {
				drop[m] = up[m] - u[m]
			}
			w := n.feeder * productIntegral(&drop, &drop, h)
			r.Ends[k-1].Energy += w
			e.Cables += w
		}
	}
	for k := range r.Supplies {
		u := &r.Supplies[k]
		e.Source += u.Energy
		if d := c.units[k].regular.DiodeDrop; d > 0 {
			u.DiodeHeat = d * u.Current.Integral()
		}
	}
	for k := range r.Brakes {
		u := &r.Brakes[k]
		e.Resistor += u.Energy
		u.Highest = math.Max(u.Highest, u.operation)
	}
	e.Released = c.stored(r.Start) - c.stored(r.End)
	return nil
}

// switched takes note of a brake resistor that was switched.
func (c *circuit) switched(e Event, r *NetworkResult) {
	if e.Kind != BrakeOn && e.Kind != BrakeOff {
		return
	}
	b, use := &c.brakes[e.Index], &r.Brakes[e.Index]
	b.first = e.Kind == BrakeOn
	if b.first {
		use.Times++
		return
	}
	if use.Times == 0 {
		use.begun = use.operation
	}
	use.Highest = math.Max(use.Highest, use.operation)
	use.operation = 0
}

// burn books what bleeder and brake resistors take at v.
func (c *circuit) burn(r *NetworkResult, v *taylor.Series, h float64) {
	if c.bleed == 0 && !slices.ContainsFunc(c.brakes, func(b brake) bool { return b.first }) {
		return
	}
	square := productIntegral(v, v, h)
	r.Energies.Bleeder += c.bleed * square
	for k := range c.brakes {
		if !c.brakes[k].first {
			continue
		}
		w, use := square/c.brakes[k].Resistance, &r.Brakes[k]
		use.Energy += w
		use.OnTime += h
		use.operation += w
	}
}

// stored returns the energy of all capacitors in a state [J].
func (c *circuit) stored(s State) float64 {
	w := c.c * s.Voltage * s.Voltage / 2
	for k := 1; k < len(c.nodes); k++ {
		if n := &c.nodes[k]; n.state >= 0 {
			v := s.Voltage
			if k-1 < len(s.ends) {
				v = s.ends[k-1]
			}
			w += n.c * v * v / 2
		}
	}
	return w
}

// loadsTaken books what the loads drew and returned, as long as they were on.
func (c *circuit) loadsTaken(r *NetworkResult, loads []profile.Curve) error {
	taken, err := c.taking(loads, r.Voltage.Start(), r.Voltage.End(), !r.Start.asleep)
	if err != nil {
		return err
	}
	for _, l := range taken {
		drawn, returned := bySign(l)
		r.Energies.Drawn += drawn
		r.Energies.Returned += returned
	}
	r.Load, err = sumOf(taken)
	return err
}

// taking returns the loads from t0 to t1, as long as they were on.
func (c *circuit) taking(loads []profile.Curve, t0, t1 float64, on bool) ([]profile.Curve, error) {
	var taken []profile.Curve
	for _, load := range loads {
		if load.Pieces() == 0 {
			continue
		}
		l, err := c.whileOn(load, t0, t1, on)
		if err != nil {
			return nil, fmt.Errorf("bus simulation: %w", err)
		}
		taken = append(taken, l)
	}
	return taken, nil
}

// sumOf returns the sum of loads.
func sumOf(taken []profile.Curve) (profile.Curve, error) {
	if len(taken) == 1 {
		return taken[0], nil
	}
	sum, err := profile.Sum(taken...)
	if err != nil {
		return sum, fmt.Errorf("bus simulation: %w: sum of the loads: %v", ErrRange, err)
	}
	return sum, nil
}

// bySign returns the integral of a curve where it is positive and where it is
// negative, both as positive figures.
func bySign(c profile.Curve) (positive, negative float64) {
	var roots []float64
	for i := range c.Pieces() {
		t0, t1, p := c.Piece(i)
		from, h := 0.0, t1-t0
		roots = roots[:0]
		if lo, hi := poly.Range(p, h); lo < 0 && hi > 0 {
			roots = poly.Roots(roots, p, 0, h)
		}
		for k := 0; k <= len(roots); k++ {
			to := h
			if k < len(roots) {
				to = roots[k]
			}
			if w := poly.Integral(p, from, to); w >= 0 {
				positive += w
			} else {
				negative -= w
			}
			from = to
		}
	}
	return positive, negative
}

// whileOn returns a load from t0 to t1, with 0 W where the axes were off.
func (c *circuit) whileOn(load profile.Curve, t0, t1 float64, on bool) (profile.Curve, error) {
	switched := false
	for _, e := range c.events {
		switched = switched || e.Kind == LoadsOff || e.Kind == LoadsOn
	}
	if on && !switched {
		if t1 == load.End() {
			return load, nil
		}
		return load.Slice(t0, t1)
	}
	var parts []profile.Curve
	add := func(from, to float64, on bool) error {
		if !(to > from) {
			return nil
		}
		part, err := profile.Constant(0, from, to)
		if on {
			part, err = load.Slice(from, to)
		}
		parts = append(parts, part)
		return err
	}
	from := t0
	for _, e := range c.events {
		if e.Kind != LoadsOff && e.Kind != LoadsOn {
			continue
		}
		if err := add(from, e.Time, on); err != nil {
			return profile.Curve{}, err
		}
		from, on = e.Time, e.Kind == LoadsOn
	}
	if err := add(from, t1, on); err != nil {
		return profile.Curve{}, err
	}
	return profile.Concat(parts...), nil
}

// productIntegral returns the integral over [0, h] of the product of two
// series, as far as the product is known: to the order of the series.
func productIntegral(a, b *taylor.Series, h float64) float64 {
	degree := len(b) - 1
	for degree >= 0 && b[degree] == 0 {
		degree--
	}
	sum, f := 0.0, h
	for k := 0; k < len(a) && degree >= 0; k++ {
		c := 0.0
		for j := range min(k, degree) + 1 {
			c += b[j] * a[k-j]
		}
		sum += c * f / float64(k+1)
		f *= h
	}
	return sum
}
