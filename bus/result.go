package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// Energies books the energy of a simulation [J]. Source + Returned + Released =
// Drawn + Resistor + Clamp + Bleeder + Series + Cables + Switched + Accepted,
// where Released is what bank and drives' capacitors gave.
type Energies struct {
	Source   float64 // delivered by the source
	Accepted float64 // taken back by a battery
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
	Highest float64 // energy burned in the longest-lasting or otherwise largest single operation [J]
	OnTime  float64 // [s]
	Times   int     // how often it was switched on
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
	pieces := max(0, len(sol.Breaks)-1)
	if pieces == 0 {
		return r, nil // collapsed at the start
	}
	curves := make([][][]float64, c.out.kept)
	for j := range curves {
		curves[j] = make([][]float64, pieces)
		for i := range pieces {
			curves[j][i] = sol.Piece(i, j)
		}
	}
	var err error
	curve := func(j int, what string) profile.Curve {
		out, e := profile.NewCurve(sol.Breaks, curves[j])
		if e != nil && err == nil {
			err = fmt.Errorf("bus simulation: %w: %s: %v", ErrRange, what, e)
		}
		return out
	}
	r.Voltage = curve(outVoltage, "voltage")
	r.SourceCurrent = curve(outSource, "source current")
	if err != nil {
		return nil, err
	}
	bank := outVoltage
	if c.out.kept > outBank {
		bank = outBank
	}
	into := make([][]float64, pieces)
	for i := range into {
		into[i] = derivative(curves[bank][i], c.c)
	}
	if r.BankCurrent, err = profile.NewCurve(sol.Breaks, into); err != nil {
		return nil, fmt.Errorf("bus simulation: %w: bank current: %v", ErrRange, err)
	}
	for k := 1; k < len(c.nodes); k++ {
		e := End{Voltage: curve(c.out.ends+k-1, "voltage of a feeder's end")}
		if err != nil {
			return nil, err
		}
		e.Lowest, e.Highest = e.Voltage.Extrema()
		r.Ends = append(r.Ends, e)
	}
	if err := c.book(ctx, sol, r, curves); err != nil {
		return nil, err
	}
	if err := c.loadsTaken(r, loads); err != nil {
		return nil, err
	}
	if err := c.supplied(sol, r, curves); err != nil {
		return nil, err
	}
	e := &r.Energies
	e.Residual = e.Source + e.Returned + e.Released - e.Drawn - e.Resistor - e.Clamp - e.Bleeder - e.Series - e.Cables - e.Switched - e.Accepted
	if !(math.Abs(e.Residual) <= math.MaxFloat64) { // it adds up all others
		return nil, fmt.Errorf("bus simulation: %w: energies", ErrRange)
	}
	r.Lowest, r.Highest = r.Voltage.Extrema()
	return r, nil
}

func derivative(coefs []float64, k float64) []float64 {
	d := make([]float64, len(coefs)-1)
	for i := range d {
		d[i] = k * float64(i+1) * coefs[i+1]
	}
	return d
}

// book integrates what the circuit burned, piece by piece, and fills in the
// currents of the feeders.
func (c *circuit) book(ctx context.Context, sol *taylor.Solution, r *NetworkResult, curves [][][]float64) error {
	e := &r.Energies
	on := make([]bool, len(c.brakes))
	burst := make([]float64, len(c.brakes))
	for i := range on {
		on[i] = c.brakes[i].first
	}
	feeders := make([][][]float64, len(c.nodes))
	for k := 1; k < len(c.nodes); k++ {
		feeders[k] = make([][]float64, len(sol.Breaks)-1)
	}
	bank := outVoltage
	if c.out.kept > outBank {
		bank = outBank
	}
	voltage := func(k, i int) *taylor.Series {
		if k == 0 {
			return (*taylor.Series)(curves[outVoltage][i])
		}
		return (*taylor.Series)(curves[c.out.ends+k-1][i])
	}
	ev := 0
	for i := range len(sol.Breaks) - 1 {
		if i&1023 == 1023 && ctx.Err() != nil {
			return fmt.Errorf("bus simulation: %w", ctx.Err())
		}
		t, h := sol.Breaks[i], sol.Breaks[i+1]-sol.Breaks[i]
		for ; ev < len(c.events) && c.events[ev].Time <= t; ev++ {
			switch k := c.events[ev].Index; c.events[ev].Kind {
			case BrakeOn:
				on[k] = true
				burst[k] = 0
				r.Brakes[k].Times++
			case BrakeOff:
				on[k] = false
			}
		}
		v, is := voltage(0, i), (*taylor.Series)(curves[outSource][i])
		square := productIntegral(v, v, h)
		if w := productIntegral(v, is, h); w >= 0 {
			e.Source += w
		} else {
			e.Accepted -= w
		}
		e.Bleeder += c.bleed * square
		for k := range on {
			if on[k] {
				w := square / c.brakes[k].Resistance
				e.Resistor += w
				burst[k] += w
				use := &r.Brakes[k]
				use.Energy += w
				use.OnTime += h
				use.Highest = math.Max(use.Highest, burst[k])
			}
		}
		if c.rs > 0 {
			x := (*taylor.Series)(curves[bank][i])
			var current taylor.Series // of the bank
			for k := range taylor.Order {
				current[k] = c.c * float64(k+1) * x[k+1]
			}
			e.Series += c.rs * productIntegral(&current, &current, h)
		}
		if c.out.clamp > 0 {
			e.Clamp += productIntegral(v, (*taylor.Series)(curves[c.out.clamp][i]), h)
		}
		for k := range c.nodes {
			n, u := &c.nodes[k], voltage(k, i)
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
			var current taylor.Series
			up := voltage(n.up, i)
			for m := range current {
				current[m] = n.feeder * (up[m] - u[m])
			}
			w := productIntegral(&current, &current, h) / n.feeder
			r.Ends[k-1].Energy += w
			e.Cables += w
			feeders[k][i] = append([]float64(nil), current[:]...)
		}
	}
	e.Released = c.stored(r.Start) - c.stored(r.End)
	for k := 1; k < len(c.nodes); k++ {
		var err error
		if r.Ends[k-1].Current, err = profile.NewCurve(sol.Breaks, feeders[k]); err != nil {
			return fmt.Errorf("bus simulation: %w: current of feeder %d: %v", ErrRange, k, err)
		}
	}
	return nil
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
	t0, t1 := r.Voltage.Start(), r.Voltage.End()
	var taken []profile.Curve
	for _, load := range loads {
		if load.Pieces() == 0 {
			continue
		}
		l, err := c.whileOn(load, t0, t1, !r.Start.asleep)
		if err != nil {
			return fmt.Errorf("bus simulation: %w", err)
		}
		r.Energies.Drawn += l.Positive().Integral()
		r.Energies.Returned += 0 - l.Negative().Integral() // not -0
		taken = append(taken, l)
	}
	if len(taken) == 1 {
		r.Load = taken[0]
		return nil
	}
	var err error
	if r.Load, err = profile.Sum(taken...); err != nil {
		return fmt.Errorf("bus simulation: %w: sum of the loads: %v", ErrRange, err)
	}
	return nil
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

// supplied fills in what every supply did.
func (c *circuit) supplied(sol *taylor.Solution, r *NetworkResult, curves [][][]float64) error {
	for k := range c.units {
		use := &r.Supplies[k]
		use.Current, use.Energy = r.SourceCurrent, r.Energies.Source
		if c.out.units > 0 {
			at := c.out.units + k
			var err error
			if use.Current, err = profile.NewCurve(sol.Breaks, curves[at]); err != nil {
				return fmt.Errorf("bus simulation: %w: current of supply %d: %v", ErrRange, k, err)
			}
			use.Energy = 0
			for i := range len(sol.Breaks) - 1 {
				w := productIntegral((*taylor.Series)(curves[outVoltage][i]), (*taylor.Series)(curves[at][i]), sol.Breaks[i+1]-sol.Breaks[i])
				use.Energy += math.Max(0, w)
			}
		}
		if d := c.units[k].regular.DiodeDrop; d > 0 {
			use.DiodeHeat = d * use.Current.Integral()
		}
	}
	return nil
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
