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

// Station is a set of axes locked to each other, with the cycle of each.
type Station []AxisCycle

// AxisCycle is the power of one axis over the cycle of its station.
type AxisCycle struct {
	Feeder    int           // where: 0 at the distribution point, k at the end of feeder k
	Power     profile.Curve // [W]
	Returning profile.Curve // the same at the corner where it returns most; empty: Power serves for both
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
// part of the bank, those that a simulation would not ([ShortestFeeder]) with the
// energy by which their voltages can differ from that of the distribution point as a
// margin, both when a window begins and when it ends.
func (n Network) AnyPhase(ctx context.Context, stations []Station) (*NetworkGuarantee, error) {
	if err := n.checkStations(stations); err != nil {
		return nil, err
	}
	d, err := n.settleEnds(ctx, stations)
	if err != nil {
		return nil, err
	}
	g, err := d.bus.AnyPhase(ctx, d.drawing, d.returning)
	if err != nil {
		return nil, err
	}
	if !d.confirmed && g.Sag.Exists {
		g.Sag = Bound{Reason: "no lowest voltage of the drives confirms itself: the feeders drop too much"}
	}
	return &NetworkGuarantee{Guarantee: g, Ends: d.ends(g)}, nil
}

// distribution is what the stations are to the distribution point.
type distribution struct {
	net       Network
	flow      *flow
	high      float64 // highest no-load voltage [V]
	bus       Bus
	drawing   []profile.Curve
	returning []profile.Curve
	sag       Bound // without a witness
	confirmed bool  // the ends are where sag assumes them
}

// settleEnds lowers the assumed voltages of the ends until they confirm themselves.
func (n Network) settleEnds(ctx context.Context, stations []Station) (distribution, error) {
	low := n.Low().Source.NoLoadVoltage()
	d := distribution{net: n, high: n.High().Source.NoLoadVoltage()}
	u := make([]float64, 1+len(n.Feeders))
	start := func() {
		for k := range u {
			u[k] = low
		}
	}
	start()
	for range 60 {
		if err := d.at(stations, u); err != nil {
			return d, err
		}
		var err error
		if d.sag, _, err = d.bus.Low().sagBound(ctx, d.drawing, peaks(d.drawing).or(peaks(d.returning))); err != nil {
			return d, err
		}
		if !d.sag.Exists {
			break
		}
		possible := true
		d.confirmed = true
		for k, e := range d.ends(&Guarantee{Sag: d.sag}) {
			if !(e.Lowest >= u[k+1]) {
				d.confirmed = false
				u[k+1] = e.Lowest - 1e-3*low
				possible = possible && u[k+1] > collapseFraction*low
			}
		}
		if d.confirmed || !possible {
			break
		}
	}
	if !d.confirmed {
		start() // whatever they are: nothing rests on them but the rise
		return d, d.at(stations, u)
	}
	return d, nil
}

func (n Network) checkStations(stations []Station) error {
	var f profile.Faults
	f.Under("network", n.Validate())
	if n.Source == nil {
		f.Add("network.source", nil, "a source; without one the bank only runs down")
	}
	if len(n.Switched) > 0 {
		f.Add("network.switched", len(n.Switched), "none: give a switched load as a station with the power that it takes at the highest voltage")
	}
	if len(stations) == 0 {
		f.Add("stations", "none", "at least one")
	}
	for i, s := range stations {
		path := fmt.Sprintf("stations[%d]", i)
		if len(s) == 0 {
			f.Add(path, "no axes", "at least one")
		}
		for j, a := range s {
			path := fmt.Sprintf("%s[%d]", path, j)
			if a.Feeder < 0 || a.Feeder > len(n.Feeders) {
				f.Add(path+".feeder", a.Feeder, fmt.Sprintf("0 for the distribution point, or the number of a feeder, up to %d", len(n.Feeders)))
			}
			if a.Power.Pieces() == 0 {
				f.Add(path+".power", "an empty curve", "a cycle of power over time")
				continue
			}
			sameLength := func(path string, c profile.Curve) {
				if d, first := c.Duration(), s[0].Power.Duration(); s[0].Power.Pieces() > 0 && math.Abs(d-first) > 1e-9*first {
					f.Add(path, fmt.Sprintf("%g s", d), fmt.Sprintf("of the length of the station's cycle, %g s", first))
				}
			}
			sameLength(path+".power", a.Power)
			if a.Returning.Pieces() > 0 {
				sameLength(path+".returning", a.Returning)
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

func (n Network) flows(stations []Station, u []float64) *flow {
	w := &flow{drawn: make([]float64, len(u)), back: make([]float64, len(u)), axes: make([]int, len(u))}
	for _, s := range stations {
		for _, a := range s {
			_, hi := a.Power.Extrema()
			lo, _ := a.returning().Extrema()
			drawn, back := math.Max(0, hi.V)/u[a.Feeder], math.Max(0, -lo.V)/u[a.Feeder]
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

func (a AxisCycle) returning() profile.Curve {
	if a.Returning.Pieces() == 0 {
		return a.Power
	}
	return a.Returning
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
		if !f.lumped() {
			lag[k+1] += f.Resistance*f.Capacitance*slew + n.Bank.SeriesResistance*most
		}
	}
	return lag
}

// at finds the bus at the distribution point and what the stations take from it, and
// return, while the ends are at u or above.
func (d *distribution) at(stations []Station, u []float64) error {
	n, w := d.net, d.net.flows(stations, u)
	b := n.Bus
	lag := n.lags(w, d.high)
	for k, f := range n.Feeders {
		b.Bank.Capacitance += f.Capacitance / (1 - n.Bank.ToleranceLow)
		drop := 0.0
		n.path(k+1, func(j int) { drop += n.Feeders[j-1].Resistance * (w.drawn[j] + w.back[j]) })
		if f.lumped() {
			continue
		}
		b.margin += f.Capacitance * 2 * d.high * (drop + 2*lag[k+1])
	}
	drawing, returning := make([]profile.Curve, len(stations)), make([]profile.Curve, len(stations))
	for i, s := range stations {
		takes, gives := make([]profile.Curve, len(s)), make([]profile.Curve, len(s))
		for j, a := range s {
			var err error
			if takes[j], err = n.atDistribution(a.Power, a.Feeder, u, w); err != nil {
				return fmt.Errorf("station %d, axis %d: %w", i, j, err)
			}
			gives[j] = a.returning()
		}
		var err error
		if drawing[i], err = profile.Sum(takes...); err != nil {
			return fmt.Errorf("station %d: %w: %v", i, ErrRange, err)
		}
		if returning[i], err = profile.Sum(gives...); err != nil {
			return fmt.Errorf("station %d: %w: %v", i, ErrRange, err)
		}
	}
	d.flow, d.bus, d.drawing, d.returning = w, b, drawing, returning
	return nil
}

// atDistribution returns the most that an axis of power p at node k takes from the
// distribution point.
func (n Network) atDistribution(p profile.Curve, k int, u []float64, w *flow) (profile.Curve, error) {
	linear, square := 0.0, 0.0
	n.path(k, func(j int) {
		r := n.Feeders[j-1].Resistance
		if w.axes[j] == 1 {
			square += r / (u[k] * u[k])
		} else {
			linear += r * math.Max(w.drawn[j], w.back[j]) / u[k]
		}
	})
	parts := []profile.Curve{p}
	if linear > 0 {
		parts = append(parts, p.Positive().Scale(linear), p.Negative().Scale(-linear))
	}
	if square > 0 {
		p2, err := profile.Product(p, p)
		if err != nil {
			return profile.Curve{}, fmt.Errorf("%w: %v", ErrRange, err)
		}
		parts = append(parts, p2.Scale(square))
	}
	if len(parts) == 1 {
		return p, nil
	}
	sum, err := profile.Sum(parts...)
	if err != nil {
		return profile.Curve{}, fmt.Errorf("%w: %v", ErrRange, err)
	}
	return sum, nil
}

// ends returns what bounds on the distribution point mean for the ends.
func (d *distribution) ends(g *Guarantee) []EndBound {
	n, w := d.net, d.flow
	lag := n.lags(w, d.high)
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
