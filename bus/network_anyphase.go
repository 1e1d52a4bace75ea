package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// EndBound is what holds at the end of a feeder, however the stations line up.
type EndBound struct {
	Lowest  float64 // voltage [V]; -Inf when no bound on the sag exists
	Highest float64 // [V]; +Inf when no bound on the rise exists
	Drawn   float64 // most current in the feeder towards its end [A]
	Back    float64 // most current back [A]
}

// NetworkGuarantee is a [Guarantee] for the distribution point, and what follows
// for the ends of the feeders.
type NetworkGuarantee struct {
	*Guarantee
	Ends []EndBound
}

// Station is a set of axes locked to each other: they repeat and pause together.
type Station struct {
	Axes    []AxisCycle
	Repeats Repeats
	Waits   []float64 // where it may wait within its cycle [s], if it is Pausing
}

// AxisCycle is the power of one axis over the cycle of its station.
type AxisCycle struct {
	Feeder int           // where: 0 at the distribution point, k at the end of feeder k
	Power  profile.Curve // [W]
	Idle   float64       // power while the station stands idle [W]
	Waits  []float64     // power at each of the waits of the station [W]
}

// cycle returns the axis as a station of its own.
func (a AxisCycle) cycle(s Station) Cycle {
	c := Cycle{Power: a.Power, Repeats: s.Repeats, Idle: a.Idle}
	for i, at := range s.Waits {
		c.Waits = append(c.Waits, Wait{at, a.Waits[i]})
	}
	return c
}

// AnyPhase does what [Bus.AnyPhase] does for a network.
//
// With I_j the sum of the highest currents of all axes beyond feeder j, each at the
// lowest voltage of its end, an axis of power P takes from the distribution point
// not more than
//
//	P + Σ R_j I_j |P|/u   over the feeders j that lead to it
//
// since the loss R i² of a feeder is at most R_j I_j i, and i a sum over axes; where
// it is alone on a feeder, R (P/u)² there. What it returns does not come back in
// full, which only helps. The lowest voltage u is assumed, and confirmed by
//
//	u >= V - Σ R_j (I_j + C_j dV/dt)
//
// with the lowest V of the distribution point, where the drive's own capacitor adds
// what its lag can amount to; else it is lowered. The capacitors are counted as
// part of the bank, with the energy by which their voltages can differ from that of
// the distribution point as a margin, both when a window begins and when it ends.
func (n Network) AnyPhase(ctx context.Context, stations, returning []Station) (*NetworkGuarantee, error) {
	if err := n.checkStations("stations", stations); err != nil {
		return nil, err
	}
	if returning == nil {
		returning = stations
	} else if err := n.checkReturning(stations, returning); err != nil {
		return nil, err
	}
	low, high := n.Low().Source.NoLoadVoltage(), n.High().Source.NoLoadVoltage()
	u := make([]float64, 1+len(n.Feeders))
	for k := range u {
		u[k] = low
	}
	confirmed := false
	for range 60 {
		w := n.flows(stations, returning, u)
		b, drawing, giving, err := n.atPoint(stations, returning, u, w, high)
		if err != nil {
			return nil, err
		}
		sag, _, err := b.Low().sagBound(ctx, drawing, peaks(drawing).or(peaks(giving)))
		if err != nil {
			return nil, err
		}
		if !sag.Exists {
			break
		}
		possible := true
		confirmed = true
		for k, e := range n.ends(&Guarantee{Sag: sag}, w, high) {
			if !(e.Lowest >= u[k+1]) {
				confirmed = false
				u[k+1] = e.Lowest - 1e-3*low
				possible = possible && u[k+1] > collapseFraction*low
			}
		}
		if confirmed || !possible {
			break
		}
	}
	if !confirmed {
		for k := range u {
			u[k] = low // whatever they are: nothing below rests on them but the rise
		}
	}
	w := n.flows(stations, returning, u)
	b, drawing, giving, err := n.atPoint(stations, returning, u, w, high)
	if err != nil {
		return nil, err
	}
	g, err := b.AnyPhase(ctx, drawing, giving)
	if err != nil {
		return nil, err
	}
	if !confirmed && g.Sag.Exists {
		g.Sag = Bound{Reason: "no lowest voltage of the drives confirms itself: the feeders drop too much"}
	}
	return &NetworkGuarantee{Guarantee: g, Ends: n.ends(g, w, high)}, nil
}

func (n Network) checkReturning(stations, returning []Station) error {
	if err := n.checkStations("returning", returning); err != nil {
		return err
	}
	var f profile.Faults
	if len(returning) != len(stations) {
		f.Add("returning", fmt.Sprintf("%d stations", len(returning)), fmt.Sprintf("%d, the same ones", len(stations)))
		return f.Err()
	}
	for i, s := range returning {
		path := fmt.Sprintf("returning[%d]", i)
		if of := stations[i]; s.Repeats != of.Repeats || len(s.Waits) != len(of.Waits) {
			f.Add(path+".waits", len(s.Waits), "pauses as those of the station")
		}
		if of := stations[i].Axes; len(s.Axes) != len(of) {
			f.Add(path+".axes", len(s.Axes), fmt.Sprintf("%d, the same ones", len(of)))
			continue
		}
		for j, a := range s.Axes {
			if of := stations[i].Axes[j]; a.Feeder != of.Feeder {
				f.Add(fmt.Sprintf("%s.axes[%d].feeder", path, j), a.Feeder, fmt.Sprintf("that of the station, %d", of.Feeder))
			}
		}
	}
	return f.Err()
}

func (n Network) checkStations(list string, stations []Station) error {
	var f profile.Faults
	f.Under("network", n.Validate())
	if n.Source == nil {
		f.Add("network.source", nil, "a source; without one the bank only runs down")
	}
	if len(n.Switched) > 0 {
		f.Add("network.switched", len(n.Switched), "none: give a switched load as a station with the power that it takes at the highest voltage")
	}
	if len(stations) == 0 {
		f.Add(list, "none", "at least one")
	}
	for i, s := range stations {
		path := fmt.Sprintf("%s[%d]", list, i)
		if len(s.Axes) == 0 {
			f.Add(path, "no axes", "at least one")
			continue
		}
		length := s.Axes[0].Power.Duration()
		for j, a := range s.Axes {
			path := fmt.Sprintf("%s.axes[%d]", path, j)
			if a.Feeder < 0 || a.Feeder > len(n.Feeders) {
				f.Add(path+".feeder", a.Feeder, fmt.Sprintf("0 for the distribution point, or the number of a feeder, up to %d", len(n.Feeders)))
			}
			if len(a.Waits) != len(s.Waits) {
				f.Add(path+".waits", len(a.Waits), fmt.Sprintf("%d, a power for each wait of the station", len(s.Waits)))
				continue
			}
			a.cycle(s).check(&f, path)
			if d := a.Power.Duration(); d > 0 && length > 0 && math.Abs(d-length) > 1e-9*length {
				f.Add(path+".power", fmt.Sprintf("%g s", d), fmt.Sprintf("of the length of the station's cycle, %g s", length))
			}
		}
	}
	return f.Err()
}

// flow is the most that can flow in each feeder, and where it leads.
type flow struct {
	drawn, back []float64 // [A], by node
	axes        []int     // how many axes are beyond
}

// path calls f for every feeder from the distribution point to node k.
func (n Network) path(k int, f func(j int)) {
	for ; k > 0; k = n.Feeders[k-1].Upstream {
		f(k)
	}
}

func (n Network) flows(stations, returning []Station, u []float64) *flow {
	w := &flow{drawn: make([]float64, len(u)), back: make([]float64, len(u)), axes: make([]int, len(u))}
	for i, s := range stations {
		for j, a := range s.Axes {
			lo, hi := a.cycle(s).extremes()
			low, high := returning[i].Axes[j].cycle(returning[i]).extremes()
			drawn := math.Max(0, math.Max(hi, high)) / u[a.Feeder]
			back := math.Max(0, -math.Min(lo, low)) / u[a.Feeder]
			add := func(j int) {
				w.drawn[j] += drawn
				w.back[j] += back
				w.axes[j]++
			}
			n.path(a.Feeder, add)
			if a.Feeder == 0 {
				add(0)
			}
		}
	}
	return w
}

// lags returns by how much each end can lag behind the distribution point because
// of its own capacitor [V]: by the time constant of its feeder, times how fast the
// distribution point can move, and by its jumps across the bank's series
// resistance.
func (n Network) lags(w *flow, high float64) []float64 {
	most := n.Source.Current(collapseFraction*high) + math.Max(w.drawn[0], w.back[0])
	for k, f := range n.Feeders {
		if f.Upstream == 0 {
			most += math.Max(w.drawn[k+1], w.back[k+1])
		}
	}
	for _, r := range n.Brakes {
		most += r.OnVoltage / r.Resistance
	}
	slew := most / n.Bank.Low().Capacitance
	lag := make([]float64, 1+len(n.Feeders))
	for k, f := range n.Feeders {
		lag[k+1] = lag[f.Upstream]
		if f.Capacitance > 0 {
			lag[k+1] += f.Resistance*f.Capacitance*slew + n.Bank.SeriesResistance*most
		}
	}
	return lag
}

// atPoint returns the bus at the distribution point and what the stations take from
// it, and return, while the ends are at u or above.
func (n Network) atPoint(stations, returning []Station, u []float64, w *flow, high float64) (b Bus, drawing, giving []Cycle, err error) {
	b = n.Bus
	lag := n.lags(w, high)
	for k, f := range n.Feeders {
		b.Bank.Capacitance += f.Capacitance / (1 - n.Bank.ToleranceLow)
		drop := 0.0
		n.path(k+1, func(j int) { drop += n.Feeders[j-1].Resistance * (w.drawn[j] + w.back[j]) })
		b.margin += f.Capacitance * 2 * high * (drop + 2*lag[k+1])
	}
	drawing, giving = make([]Cycle, len(stations)), make([]Cycle, len(stations))
	for i, s := range stations {
		takes := make([]Cycle, len(s.Axes))
		gives := make([]Cycle, len(s.Axes))
		for j, a := range s.Axes {
			if takes[j], err = n.atDistribution(a.cycle(s), a.Feeder, u, w); err != nil {
				return b, nil, nil, fmt.Errorf("station %d, axis %d: %w", i, j, err)
			}
			gives[j] = returning[i].Axes[j].cycle(returning[i])
		}
		if drawing[i], err = together(takes); err != nil {
			return b, nil, nil, fmt.Errorf("station %d: %w: %v", i, ErrRange, err)
		}
		if giving[i], err = together(gives); err != nil {
			return b, nil, nil, fmt.Errorf("station %d: %w: %v", i, ErrRange, err)
		}
	}
	return b, drawing, giving, nil
}

// together returns the sum of cycles that repeat and pause alike.
func together(cycles []Cycle) (Cycle, error) {
	sum := Cycle{Repeats: cycles[0].Repeats, Waits: make([]Wait, len(cycles[0].Waits))}
	powers := make([]profile.Curve, len(cycles))
	for i, c := range cycles {
		powers[i] = c.Power
		sum.Idle += c.Idle
		for k, w := range c.Waits {
			sum.Waits[k].At = w.At
			sum.Waits[k].Power += w.Power
		}
	}
	var err error
	sum.Power, err = profile.Sum(powers...)
	return sum, err
}

// atDistribution returns the most that an axis with cycle c at node k takes from the
// distribution point.
func (n Network) atDistribution(c Cycle, k int, u []float64, w *flow) (Cycle, error) {
	linear, square := 0.0, 0.0
	n.path(k, func(j int) {
		r := n.Feeders[j-1].Resistance
		if w.axes[j] == 1 {
			square += r / (u[k] * u[k])
		} else {
			linear += r * math.Max(w.drawn[j], w.back[j]) / u[k]
		}
	})
	with := func(p float64) float64 { return p + linear*math.Abs(p) + square*p*p }
	p := c.Power
	c.Idle = with(c.Idle)
	for i, w := range c.Waits {
		c.Waits[i].Power = with(w.Power)
	}
	parts := []profile.Curve{p}
	if linear > 0 {
		parts = append(parts, p.Positive().Scale(linear), p.Negative().Scale(-linear))
	}
	if square > 0 {
		p2, err := profile.Product(p, p)
		if err != nil {
			return Cycle{}, fmt.Errorf("%w: %v", ErrRange, err)
		}
		parts = append(parts, p2.Scale(square))
	}
	if len(parts) == 1 {
		return c, nil
	}
	var err error
	if c.Power, err = profile.Sum(parts...); err != nil {
		return Cycle{}, fmt.Errorf("%w: %v", ErrRange, err)
	}
	return c, nil
}

func (n Network) ends(g *Guarantee, w *flow, high float64) []EndBound {
	lag := n.lags(w, high)
	out := make([]EndBound, len(n.Feeders))
	for k := range out {
		e := EndBound{Lowest: math.Inf(-1), Highest: math.Inf(1), Drawn: w.drawn[k+1], Back: w.back[k+1]}
		drop, lift := 0.0, 0.0
		n.path(k+1, func(j int) {
			drop += n.Feeders[j-1].Resistance * w.drawn[j]
			lift += n.Feeders[j-1].Resistance * w.back[j]
		})
		if g.Sag.Exists {
			e.Lowest = g.Sag.Voltage - drop - lag[k+1]
		}
		if g.Rise.Exists {
			e.Highest = g.Rise.Voltage + lift + lag[k+1]
		}
		out[k] = e
	}
	return out
}
