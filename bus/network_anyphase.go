package bus

import (
	"context"
	"fmt"
	"math"
	"slices"

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
// Behind cables the voltage u of a drive follows that of the distribution point V by
// kernels that are nowhere negative (its capacitors and the resistances form a tree),
// so that with I_j the sum of the highest currents of all axes beyond feeder j, each
// at the lowest voltage of its end,
//
//	u >= lowest V - Σ R_j I_j   over the feeders j that lead to it
//
// The lowest u is assumed, and lowered until this confirms it. With all capacitors
// counted as part of the bank, whose voltage is Vc, and D = Vc - u,
//
//	(Cbank + Σ C) Vc' = iSource(V) - V/Rbleed - Σ P/u + Σ C D'
//
// An axis of power P so takes from the distribution point what it would take at V,
// times V/u: not more than P + Σ R_j I_j |P|/u, or R (P/u)² where it is alone on a
// feeder whose end follows without delay, and what the lag of u adds. The lag is the
// sum of R_j times the capacitance beyond, times how fast V moves at most. Of Vc C D'
// the part (Vc C D)' is a margin of energy when a window begins and ends, and the
// rest, -C D Vc', counts as power drawn, or returned, all the time.
//
// Where axes draw most at one corner and return most at another, stations holds the
// former and returning the latter, as for [Bus.AnyPhase].
func (n Network) AnyPhase(ctx context.Context, stations, returning []Station) (*NetworkGuarantee, error) {
	returning, err := n.checkBoth(stations, returning)
	if err != nil {
		return nil, err
	}
	d, err := n.settleEnds(ctx, stations, returning)
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

// RiseAnyPhase bounds only the rise, which takes a fraction of the time, with the ends as
// they follow from it.
func (n Network) RiseAnyPhase(ctx context.Context, stations, returning []Station) (Bound, []EndBound, error) {
	returning, err := n.checkBoth(stations, returning)
	if err != nil {
		return Bound{}, nil, err
	}
	if noLoad, heats := n.SourceHeatsResistor(); heats {
		return Bound{Reason: n.heatsReason(noLoad)}, nil, nil
	}
	d, u := n.distribution()
	for range 60 {
		if err := d.at(stations, returning, u); err != nil {
			return Bound{}, nil, err
		}
		confirmed, err := d.confirmTop(ctx)
		if err != nil {
			return Bound{}, nil, err
		}
		if confirmed {
			break
		}
	}
	rise, err := d.bus.High().rise(ctx, d.returning, d.peaks())
	return rise, d.ends(&Guarantee{Rise: rise}), err
}

// distribution is what the stations are to the distribution point.
type distribution struct {
	net       Network
	flow      *flow
	top       float64 // highest bus voltage assumed [V]
	bus       Bus
	drawing   []Cycle
	returning []Cycle
	sag       Bound // without a witness
	confirmed bool  // the ends are where sag assumes them
}

func (d *distribution) peaks() demand { return peaks(d.drawing).or(peaks(d.returning)) }

// settleEnds lowers the assumed voltages of the ends until they confirm themselves.
func (n Network) settleEnds(ctx context.Context, stations, returning []Station) (distribution, error) {
	low := n.Low().Source.NoLoadVoltage()
	d, u := n.distribution()
	if len(n.Feeders) == 0 {
		d.confirmed = true
		return d, d.at(stations, returning, u)
	}
	for range 60 {
		if err := d.at(stations, returning, u); err != nil {
			return d, err
		}
		var err error
		if d.sag, _, err = d.bus.Low().sagBound(ctx, d.drawing, d.peaks()); err != nil {
			return d, err
		}
		if !d.sag.Exists {
			d.confirmed = false
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
		if d.confirmed {
			if d.confirmed, err = d.confirmTop(ctx); err != nil {
				return d, err
			}
		}
		if d.confirmed || !possible {
			break
		}
	}
	if !d.confirmed {
		_, u = n.distribution() // whatever they are: nothing rests on them but the rise
		return d, d.at(stations, returning, u)
	}
	return d, nil
}

// distribution returns what is assumed at first of the bus, and of its ends.
func (n Network) distribution() (d distribution, u []float64) {
	d = distribution{net: n, top: n.High().Source.NoLoadVoltage()}
	for _, r := range n.Brakes {
		d.top = math.Max(d.top, r.OnVoltage)
	}
	u = make([]float64, 1+len(n.Feeders))
	for k := range u {
		u[k] = n.Low().Source.NoLoadVoltage()
	}
	return d, u
}

// confirmTop reports whether the bus stays below the highest voltage assumed, and lifts
// that otherwise. Resistors draw the more the higher the bus is.
func (d *distribution) confirmTop(ctx context.Context) (bool, error) {
	if len(d.net.Brakes) == 0 || len(d.net.Feeders) == 0 {
		return true, nil
	}
	rise, _, err := d.bus.High().riseBound(ctx, d.returning, d.peaks())
	if err != nil || !(rise.Voltage > d.top) {
		return true, err
	}
	d.top = 1.001 * rise.Voltage
	return false, nil
}

// checkBoth checks the stations at both corners, and returns those that return most.
func (n Network) checkBoth(stations, returning []Station) ([]Station, error) {
	if err := n.checkStations("stations", stations); err != nil {
		return nil, err
	}
	if returning == nil {
		return stations, nil
	}
	return returning, n.checkReturning(stations, returning)
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

// motion is how fast the distribution point moves at most, and what follows from it.
type motion struct {
	up, down float64   // slopes of the bank [V/s], both positive
	slow     []float64 // by how much each node lags for that [V]
	jump     float64   // of the bus behind the bank's series resistance [V]
}

func (n Network) motion(w *flow, least, top float64) motion {
	in, out := w.back[0], w.drawn[0]
	beyond := make([]float64, 1+len(n.Feeders)) // capacitance
	for k := len(n.Feeders); k > 0; k-- {
		f := n.Feeders[k-1]
		if !f.lumped() {
			beyond[k] += f.Capacitance
		}
		beyond[f.Upstream] += beyond[k]
		if f.Upstream == 0 {
			in += w.back[k]
			out += w.drawn[k]
		}
	}
	for _, s := range supplies(n.Source) {
		segs := s.characteristic()
		if m, ok := s.(SwitchMode); ok && m.PeakCurrent > 0 {
			segs = m.output(true)
		}
		takes, gives := currents(segs, least, top)
		in += gives
		out += math.Max(0, -takes)
	}
	out += n.bleederCurrent(top)
	for _, r := range n.Brakes {
		out += top / r.Resistance
	}
	if n.Clamp != nil { // more than comes in would lower the bus to where it takes that
		out += math.Min(in, n.Clamp.Current(math.Inf(1)))
	}
	// When the current turns, capacitors that were charged at most give theirs back.
	c := n.Bank.Low().Capacitance
	back := beyond[0] / (c + beyond[0]) * math.Max(in, out)
	m := motion{up: (in + back) / c, down: (out + back) / c, slow: make([]float64, len(beyond)), jump: n.Bank.SeriesResistance * (in + out)}
	for k, f := range n.Feeders {
		m.slow[k+1] = m.slow[f.Upstream] + f.Resistance*beyond[k+1]*math.Max(m.up, m.down)
	}
	return m
}

// at finds the bus at the distribution point and what the stations take from it, and
// return, while the ends are at u or above and the bus at top or below.
func (d *distribution) at(stations, returning []Station, u []float64) error {
	n, top := d.net, d.top
	w := n.flows(stations, returning, u)
	b := n.Bus
	m := n.motion(w, slices.Min(u), top)
	always := 0.0
	for k, f := range n.Feeders {
		if f.Capacitance == 0 {
			continue
		}
		b.Bank.Capacitance += f.Capacitance / (1 - n.Bank.ToleranceLow)
		if f.lumped() {
			continue // part of the bank in a simulation, too
		}
		drop, lift := n.drops(w, k+1)
		differs := m.slow[k+1] + m.jump
		b.margin += f.Capacitance * 2 * top * (drop + lift + 2*differs)
		always += f.Capacitance * math.Max((drop+differs)*m.up, (lift+differs)*m.down)
		if n.Bank.SeriesResistance > 0 {
			b.lag = math.Max(b.lag, m.slow[k+1])
		}
	}
	drawing, giving := make([]Cycle, len(stations)), make([]Cycle, len(stations))
	for i, s := range stations {
		takes, gives := make([]Cycle, len(s.Axes)), make([]Cycle, len(s.Axes))
		for j, a := range s.Axes {
			var err error
			if takes[j], err = n.atDistribution(a.cycle(s), a.Feeder, u, w, m); err == nil {
				slow := m.slow[a.Feeder] / u[a.Feeder]
				gives[j], err = returning[i].Axes[j].cycle(returning[i]).with(-slow, 0)
			}
			if err != nil {
				return fmt.Errorf("station %d, axis %d: %w", i, j, err)
			}
		}
		var err error
		if drawing[i], err = together(takes); err == nil {
			giving[i], err = together(gives)
		}
		if err == nil && i == 0 && always > 0 {
			if drawing[i], err = drawing[i].raised(always); err == nil {
				giving[i], err = giving[i].raised(-always)
			}
		}
		if err != nil {
			return fmt.Errorf("station %d: %w", i, err)
		}
	}
	d.flow, d.bus, d.drawing, d.returning = w, b, drawing, giving
	return nil
}

// drops returns the most that the feeders to node k drop, and lift, its voltage [V].
func (n Network) drops(w *flow, k int) (drop, lift float64) {
	n.path(k, func(j int) {
		drop += n.Feeders[j-1].Resistance * w.drawn[j]
		lift += n.Feeders[j-1].Resistance * w.back[j]
	})
	return drop, lift
}

// atDistribution returns the most that an axis with cycle c at node k takes from the
// distribution point.
func (n Network) atDistribution(c Cycle, k int, u []float64, w *flow, m motion) (Cycle, error) {
	linear, square := m.slow[k]/u[k], 0.0
	n.path(k, func(j int) {
		f := n.Feeders[j-1]
		if w.axes[j] == 1 && f.lumped() {
			square += f.Resistance / (u[k] * u[k])
		} else {
			linear += f.Resistance * math.Max(w.drawn[j], w.back[j]) / u[k]
		}
	})
	return c.with(linear, square)
}

// ends returns what bounds on the distribution point mean for the ends.
func (d *distribution) ends(g *Guarantee) []EndBound {
	n, w := d.net, d.flow
	out := make([]EndBound, len(n.Feeders))
	for k := range out {
		e := EndBound{Lowest: math.Inf(-1), Highest: math.Inf(1), Drawn: w.drawn[k+1], Back: w.back[k+1]}
		drop, lift := n.drops(w, k+1)
		if g.Sag.Exists {
			e.Lowest = g.Sag.Voltage - drop
		}
		if g.Rise.Exists {
			e.Highest = g.Rise.Voltage + lift
		}
		out[k] = e
	}
	return out
}
