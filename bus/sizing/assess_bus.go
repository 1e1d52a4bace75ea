package sizing

import (
	"context"
	"errors"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

func (a *Assessment) assessBus(ctx context.Context) error {
	r := &a.Bus
	err := a.bounds(ctx)
	if err != nil {
		return err
	}
	if err = a.whenYoung(ctx); err != nil {
		return err
	}
	lowest, highest := r.Lowest, r.Highest
	for _, e := range r.AtDrives {
		lowest, highest = math.Min(lowest, e.Lowest), math.Max(highest, e.Highest)
	}
	if lowest < a.Machine.UnderVoltage {
		if r.BankForSag, err = a.bankForSag(ctx); err != nil {
			return err
		}
	}
	if limit := a.highestAllowed(); highest > limit {
		if r.BankForRise, err = a.bankForRise(ctx, limit); err != nil {
			return err
		}
	}
	return nil
}

// whenYoung finds how far the bus sags and rises with the bank when new, where it ages.
func (a *Assessment) whenYoung(ctx context.Context) error {
	if g := a.Machine.Ageing; (g.Capacitance == 0 || g.Capacitance == 1) && g.SeriesResistance <= 1 {
		return nil
	}
	m := *a.Machine
	m.Ageing.Capacitance, m.Ageing.SeriesResistance = 0, 0
	young := &Assessment{Machine: &m, Stations: a.Stations}
	if err := young.bounds(ctx); err != nil {
		return err
	}
	a.Bus.Young = &BusWhenYoung{Lowest: young.Bus.Lowest, Highest: young.Bus.Highest}
	return nil
}

// bounds finds how far the bus sags and rises, and what supply and brake resistor carry.
func (a *Assessment) bounds(ctx context.Context) error {
	return a.boundsOf(ctx, a.Machine.CourseOnly && a.exact())
}

func (a *Assessment) boundsOf(ctx context.Context, courseOnly bool) error {
	r := &a.Bus
	if courseOnly {
		r.Guarantee, r.AtDrives = a.sums(), map[string]bus.EndBound{}
	} else if err := a.guarantee(ctx); err != nil {
		return err
	}
	sag, rise := r.Guarantee.Sag, r.Guarantee.Rise
	r.Lowest, r.Highest = math.Inf(-1), math.Inf(1)
	if sag.Exists {
		r.Lowest = sag.Voltage
	}
	if rise.Exists {
		r.Highest = rise.Voltage
	}
	r.MeanPower = r.Guarantee.MeanSourcePower
	r.PeakDemand = r.Guarantee.PeakDemand
	for _, br := range a.Machine.Brakes {
		r.ResistorMean = r.Guarantee.MeanReturnedPower
		bank := a.Machine.allLinks().High()
		once := r.Guarantee.ReturnedBurst + bank.Energy(br.at(late).OnVoltage) - bank.Energy(br.at(early).OffVoltage)
		r.ResistorOnce = math.Max(r.ResistorOnce, once)
	}
	if a.exact() {
		if err := a.settle(ctx); err != nil {
			return err
		}
		if courseOnly && (math.IsInf(r.Lowest, 0) || math.IsInf(r.Highest, 0)) {
			return a.boundsOf(ctx, false)
		}
	}
	return a.settleRipple(ctx)
}

// sums returns what of the guarantee follows from the power of the only station without any
// bounds of the bus.
func (a *Assessment) sums() *bus.Guarantee {
	reason := "the settled cycle is asked for instead"
	st := &a.Stations[0]
	return &bus.Guarantee{
		Sag: bus.Bound{Reason: reason}, Rise: bus.Bound{Reason: reason},
		PeakDemand: math.Max(0, st.Hot.Max().V), MeanReturnedPower: -st.Cold.Negative().Mean(), ReturnedBurst: mostReturned(st.Cold),
	}
}

// mostReturned returns the most energy that a cycle of power gives back net in any window of
// its repetitions [J]; +Inf when it gives back more than it takes.
func mostReturned(c profile.Curve) float64 {
	if c.Mean() < 0 {
		return math.Inf(1)
	}
	var roots []float64
	net, least, most := 0.0, 0.0, 0.0 // given back since the start, the least of it so far
	for range 2 {
		for i := range c.Pieces() {
			t0, t1, p := c.Piece(i)
			from := 0.0
			roots = append(poly.Roots(roots[:0], p, 0, t1-t0), t1-t0)
			for _, to := range roots {
				net -= poly.Integral(p, from, to)
				from = to
				least, most = math.Min(least, net), math.Max(most, net-least)
			}
		}
	}
	return most
}

// guarantee bounds the bus for every phasing: sag and supply while bleeder and
// brake resistor drain most, rise while they drain least. A threshold that the supply
// may hold on at any corner leaves neither.
func (a *Assessment) guarantee(ctx context.Context) error {
	m := a.Machine
	g, ends, err := a.anyPhase(ctx, early)
	if err != nil {
		return err
	}
	a.Bus.Guarantee, a.Bus.AtDrives = g, ends
	if _, heats := m.bus(early).SourceHeatsResistor(); heats || m.drainsExactly() {
		return nil
	}
	n, number, err := m.network(late)
	if err != nil {
		return err
	}
	drawing, returning := a.onFeeders(number)
	rise, highest, err := n.RiseAnyPhase(ctx, drawing, returning)
	if err != nil {
		return err
	}
	g.Rise = rise
	for name, k := range number {
		if k > 0 {
			own := ends[name]
			own.Highest = highest[k-1].Highest
			ends[name] = own
		}
	}
	return nil
}

// anyPhase bounds the bus at one corner, and the ends of the cables if there are any.
func (a *Assessment) anyPhase(ctx context.Context, c corner) (*bus.Guarantee, map[string]bus.EndBound, error) {
	if !a.Machine.cabled() {
		drawing, returning := a.cycles()
		g, err := a.Machine.bus(c).AnyPhase(ctx, drawing, returning)
		return g, nil, err
	}
	n, number, err := a.Machine.network(c)
	if err != nil {
		return nil, nil, err
	}
	drawing, returning := a.onFeeders(number)
	g, err := n.AnyPhase(ctx, drawing, returning)
	if err != nil {
		return nil, nil, err
	}
	ends := map[string]bus.EndBound{}
	for name, k := range number {
		if k > 0 {
			ends[name] = g.Ends[k-1]
		}
	}
	return g.Guarantee, ends, nil
}

// bankForSag returns the bank, when new, that would keep the bus from falling too low, 0
// when none would [F].
func (a *Assessment) bankForSag(ctx context.Context) (float64, error) {
	m := a.Machine
	n, number, err := m.network(early)
	if err != nil {
		return 0, err
	}
	limit := m.UnderVoltage
	if r := a.Bus.Ripple; r != nil {
		limit += r.Dip // less with a larger bank
	}
	var c float64
	if m.cabled() {
		drawing, returning := a.onFeeders(number)
		c, _, err = n.BankForSag(ctx, drawing, returning, limit)
	} else {
		drawing, returning := a.cycles()
		c, _, err = n.Bus.BankForSag(ctx, drawing, returning, limit)
	}
	return m.whenNew(c), err
}

// bankForRise does the same for a bus that rises too high.
func (a *Assessment) bankForRise(ctx context.Context, limit float64) (float64, error) {
	m := a.Machine
	n, number, err := m.network(late)
	if err != nil {
		return 0, err
	}
	var c float64
	if m.cabled() {
		drawing, returning := a.onFeeders(number)
		c, _, err = n.BankForRise(ctx, drawing, returning, limit)
	} else {
		drawing, returning := a.cycles()
		c, _, err = n.Bus.BankForRise(ctx, drawing, returning, limit)
	}
	return m.whenNew(c), err
}

// whenNew returns the bank to buy for what is needed at the end of its life [F].
func (m Machine) whenNew(c float64) float64 {
	if k := m.Ageing.Capacitance; k > 0 {
		c /= k
	}
	return math.Max(0, c-(m.links().Capacitance-m.Bank.Capacitance))
}

// lowestAt returns the lowest bus voltage at the drive of an axis [V]; -Inf: no bound.
func (a *Assessment) lowestAt(name string) float64 {
	if e, ok := a.Bus.AtDrives[name]; ok {
		return e.Lowest
	}
	return a.Bus.Lowest
}

// courseAt returns the course of the bus voltage at the drive of an axis over one cycle
// of its station, where there is only one; false otherwise.
func (a *Assessment) courseAt(name string) (profile.Curve, bool) {
	c := a.Bus.SagCycle
	if c == nil || !c.Repeats || c.Collapsed || c.Periods != 1 {
		return profile.Curve{}, false
	}
	if a.Bus.Ripple != nil {
		return profile.Curve{}, false // without its ripple
	}
	if v, ok := a.Bus.sagAtDrives[name]; ok {
		return v, true
	}
	return c.Voltage, true
}

// settledCycle follows the settled cycle of a machine with one station at one corner of
// its supply.
func (a *Assessment) settledCycle(ctx context.Context, high, returning bool) (*bus.Settled, []bus.End, map[string]int, error) {
	m := a.Machine
	n, number, err := m.network(nominal)
	if err != nil {
		return nil, nil, nil, err
	}
	if high {
		n = n.High()
	} else {
		n = n.Low()
	}
	loads, err := a.loadsOfOnly(n, number, returning)
	if err != nil {
		return nil, nil, nil, err
	}
	if g := a.Stations[0].Switched; g.Pieces() > 0 {
		n.Switched = []bus.SwitchedLoad{{Conductance: g}}
	}
	s, err := n.SettledCycle(ctx, loads)
	if err != nil {
		return nil, nil, nil, err
	}
	return &bus.Settled{Result: &s.Result, Periods: s.Periods, Repeats: s.Repeats, Cycles: s.Cycles}, s.Ends, number, nil
}

// loadsOfOnly returns what the axes of the only station take at each place of the network.
func (a *Assessment) loadsOfOnly(n bus.Network, number map[string]int, returning bool) ([]profile.Curve, error) {
	st := &a.Stations[0]
	loads := make([]profile.Curve, 1+len(n.Feeders))
	if len(n.Feeders) == 0 && st.Switched.Pieces() == 0 { // all in one place, as they were added up
		if loads[0] = st.Hot; returning {
			loads[0] = st.Cold
		}
		return loads, nil
	}
	at := make([][]profile.Curve, len(loads))
	for _, ax := range st.Axes {
		k := number[ax.Name]
		power := ax.hotPower
		if returning {
			power = ax.coldPower
		}
		at[k] = append(at[k], power)
	}
	var err error
	for k, all := range at {
		if len(all) == 0 {
			continue
		}
		if loads[k], err = profile.Sum(all...); err != nil {
			return nil, err
		}
	}
	return loads, nil
}

// highestAllowed returns the voltage that neither drives nor bank stand more of.
func (a *Assessment) highestAllowed() float64 {
	return math.Min(a.Machine.OverVoltage, a.Machine.Bank.RatedVoltage)
}

// settle takes the figures of a bus that has only one course from its settled cycle,
// which is exact.
func (a *Assessment) settle(ctx context.Context) error {
	r := &a.Bus
	var none *bus.NoSettledStateError
	sag, low, number, err := a.settledCycle(ctx, false, false)
	if err != nil && !errors.As(err, &none) {
		return err
	}
	rise, top, _, err := a.settledCycle(ctx, true, true)
	if err != nil && !errors.As(err, &none) {
		return err
	}
	r.SagCycle, r.RiseCycle = sag, rise
	r.sagAtDrives = map[string]profile.Curve{}
	if sag != nil && sag.Repeats && !sag.Collapsed {
		r.Lowest = sag.Lowest.V
		r.MeanPower = sag.Energies.Source / sag.Load.Duration()
		for name, k := range number {
			if k > 0 {
				r.sagAtDrives[name] = low[k-1].Voltage
			}
		}
		r.bound(number, func(e *bus.EndBound, k int) { e.Lowest = low[k].Lowest.V })
	}
	// At high line the bleeder takes more, and the bank stores less of what comes back
	// before the resistor burns it.
	high, _, _, err := a.settledCycle(ctx, true, false)
	if err != nil && !errors.As(err, &none) {
		return err
	}
	if high != nil && high.Repeats && !high.Collapsed && sag != nil {
		r.MeanPower = math.Max(r.MeanPower, high.Energies.Source/high.Load.Duration())
	}
	if rise != nil && rise.Repeats && !rise.Collapsed {
		r.Highest = rise.Highest.V
		r.ResistorMean = rise.Energies.Resistor / rise.Load.Duration()
		r.bound(number, func(e *bus.EndBound, k int) { e.Highest = top[k].Highest.V })
	}
	return nil
}

// bound changes what holds at the end of every feeder, by its place in the network.
func (r *BusResult) bound(number map[string]int, change func(e *bus.EndBound, feeder int)) {
	for name, k := range number {
		if k > 0 {
			e := r.AtDrives[name]
			change(&e, k-1)
			r.AtDrives[name] = e
		}
	}
}
