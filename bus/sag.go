package bus

import (
	"context"
	"fmt"
	"math"
)

// demand is what the bounds know of the stations besides their envelopes.
type demand struct {
	drawn    float64 // sum of the highest powers [W], >= 0
	returned float64 // sum of the highest returned powers [W], >= 0
	clipped  bool    // powers returned are left out, see [Bus.charges]
	charging float64 // how much of its current the source is then taken to charge the bank with, 0 to 1
}

// or returns the greater of both, of stations at the corner at which they draw
// most and at that at which they return most: what they do is between.
func (d demand) or(e demand) demand {
	return demand{drawn: math.Max(d.drawn, e.drawn), returned: math.Max(d.returned, e.returned)}
}

// line is a bound on the course of the bank's energy W while the bank's voltage
// is below (sag) or above (rise) a threshold: dW/dt differs from
//
//	± (drain + leak |W - W(from)|) - Σ weighted powers,  leak may be negative,
//
// only to the safe side. Powers that make things worse are weighted with
// adverse, those that help with helpful.
type line struct {
	from             float64 // threshold of the bank [V]
	drain            float64 // [W]
	leak             float64 // [1/s]
	adverse, helpful float64
	before           float64 // weight of what is taken before the window, relative to its start
	floor            float64 // that all stations together are taken to draw at least [W], shared by their highest powers
}

// weighted returns the envelopes of sign·P with the weights of the line. Equal
// stations have one in common.
func (l line) weighted(ctx context.Context, stations []Cycle, sign float64) ([]*envelope, error) {
	es := make([]*envelope, len(stations))
	up, down := sign*l.adverse, sign*l.helpful
	if sign < 0 {
		up, down = down, up
	}
	added, _ := lifting(stations)
	share := 0.0
	if l.floor > 0 {
		if all := peaks(stations).drawn; all > 0 {
			share = l.floor / all
		}
	}
	first := firstOf(stations)
	errs := make([]error, len(stations))
	inChunks(len(stations), func(_, from, to int) {
		for i := from; i < to; i++ {
			if first[i] < i {
				continue
			}
			s, err := stations[i].times(up, down)
			if share > 0 && err == nil {
				_, highest := s.extremes()
				s, err = s.atLeast(share * math.Max(0, highest))
			}
			if err != nil {
				errs[i] = fmt.Errorf("%w: power of station %d", ErrRange, i)
			} else if es[i], err = newEnvelope(ctx, s, l.leak, l.before, added[i]); err != nil {
				errs[i] = fmt.Errorf("station %d: %w", i, err)
			}
		}
	})
	for i, k := range first {
		if errs[i] != nil {
			return nil, errs[i]
		}
		es[i] = es[k]
	}
	return es, nil
}

// sagLine is the line for a source, valid while the bus is at low or above and
// the bank at bank or above. lowest returns the bus voltage below which a bank at
// x <= from does not let it.
type sagLine struct {
	line
	lowest func(x float64) float64
	// That bus is the one at which all draw their highest powers at once. While the
	// stations' weighted powers add up to p it is not below aside + slope x - drop p
	// either, or, if they return more than they draw, not below aside + slope x.
	slope, aside, drop float64
}

// sagLine implements [Source]: with κ = R'/(R'+Rs) and a bleeder taken into V0'
// and R', by Thévenin,
//
//	dW/dt = Vc (V0'-Vc)/(R'+Rs) - κ (Vc/V) P + more once the source blocks
//
// of which the first term is concave in W and lies above its chord, from the
// bank's lowest voltage to the threshold. With V0' for a threshold short bursts
// are bounded best, with a lower one long loads.
func (s Resistive) sagLine(b Bus, d demand, low, bank, reach float64) sagLine {
	rs, bleed := b.Bank.SeriesResistance, b.bleederCurrent(1)
	g := 1/s.Resistance + bleed
	open, r := s.OpenCircuit/s.Resistance/g, 1/g
	from := open
	from = b.belowBrakes(d, from)
	from = bank + reach*(from-bank)
	power := func(v float64) float64 { return v * (open - v) / (r + rs) }
	k := r / (r + rs)
	l := sagLine{line: line{
		from:    from,
		drain:   power(from),
		leak:    2 * (bank + from - open) / ((r + rs) * b.Bank.Capacitance * (bank + from)),
		adverse: k * (1 + rs*(bleed+d.drawn/(low*low))),
		helpful: k * math.Max(0, 1-rs*(s.Current(low)/low+d.returned/(low*low))),
	}}
	if !(l.leak > 0) {
		l.leak, l.drain = 0, math.Min(power(bank), power(from))
	}
	l.lowest = func(x float64) float64 { return k*x + (1-k)*open - k*rs*d.drawn/low }
	l.slope, l.aside, l.drop = k, (1-k)*open, k*rs/(low*l.adverse)
	return l
}

// sagLine implements [Source]: below its threshold the bank keeps the bus below
// the set point, so that the source is at its limit I and
//
//	dW/dt = Vc I - Vc V/Rbleed - (Vc/V) P
//
// of which the first term is concave in W and lies above its chord, and above
// flatter lines from the chord's lower end: reach times as steep. The leak is
// negative: the lower the bank, the less the source delivers. A line too steep
// may let the stations' energies grow without bound.
func (s SwitchMode) sagLine(b Bus, d demand, low, bank, reach float64) sagLine {
	if s.Overload == Foldback {
		return anySagLine(s, b, d, low, bank, reach)
	}
	rs, bleed, top := b.Bank.SeriesResistance, b.bleederCurrent(1), s.NoLoadVoltage()
	from := top - rs*(s.CurrentLimit+d.returned/top)
	if d.clipped {
		from = top - rs*s.CurrentLimit*d.charging
	}
	rate := reach * 2 * s.CurrentLimit / (b.Bank.Capacitance * (from + bank))
	l := sagLine{line: line{
		from:    from,
		drain:   s.CurrentLimit*bank + rate*b.Bank.Capacitance/2*math.Max(0, from*from-bank*bank) - bleed*from*top,
		leak:    -rate,
		adverse: math.Max(0, 1+rs*(d.drawn/(low*low)+bleed-s.CurrentLimit/top)),
		helpful: math.Max(0, 1-rs*(s.CurrentLimit/low+d.returned/(low*low))),
	}}
	if d.clipped {
		l.adverse = math.Max(l.adverse, 0.5)
		l.helpful, l.floor = 0, from*s.CurrentLimit*(1-d.charging)/l.adverse
	}
	l.lowest = func(x float64) float64 { return x + rs*(s.CurrentLimit-bleed*top-d.drawn/low) }
	l.slope, l.aside, l.drop = 1, rs*(s.CurrentLimit-bleed*top), rs/(low*l.adverse)
	return l
}

// anySagLine is the line for any source, from its characteristic i(v) alone. The
// bus is above the bank by no more than δ, which the greatest charging current drops
// in the bank's series resistance, and below by no more than δ', dropped by the
// greatest discharging current. So
//
//	dW/dt >= f(Vc) - Vc V/Rbleed - (Vc/V) P,   f(Vc) = Vc min i(v) over Vc-δ' <= v <= Vc+δ
//
// Of f the line takes the chord's slope, reach times, and the level at which it
// touches f from below: on a straight piece i0 - g v of i at an end of it or, where f
// is convex in W = ½ C Vc², as with i0 < 0, where its slope is that of the line.
func anySagLine(s Source, b Bus, d demand, low, bank, reach float64) sagLine {
	segs := s.characteristic()
	rs, bleed, top := b.Bank.SeriesResistance, b.bleederCurrent(1), s.NoLoadVoltage()
	least, most := currents(segs, low, top)
	takes := math.Max(0, -least) // a battery, from the bank
	delta := rs*(most+d.returned/low) + b.lag
	drop := rs*(d.drawn/low+bleed*top+takes) + b.lag
	from := b.belowBrakes(d, top-delta)
	from = bank + math.Max(reach, 0.05)*(from-bank)
	energy := func(v float64) float64 { return b.Bank.Capacitance / 2 * (from*from - v*v) } // W0 - W
	// At its no-load voltage the source gives as much as it can, or the bank would
	// not be below from.
	below := math.Nextafter(top, 0)
	f := func(v float64) float64 {
		i, _ := currents(segs, math.Min(v-drop, below), math.Min(v+delta, below))
		return v * i
	}
	rate := 0.0
	if e := energy(bank); e > 0 {
		rate = reach * (f(bank) - f(from)) / e
	}
	level := math.Inf(1)
	try := func(v float64) {
		if v >= bank && v <= from {
			level = math.Min(level, f(v)-rate*energy(v))
		}
	}
	try(bank)
	try(from)
	for _, sg := range segs {
		for _, shift := range []float64{delta, -drop} {
			try(sg.lo - shift)
			try(math.Nextafter(sg.lo-shift, 0))
			try(math.Nextafter(sg.lo-shift, math.Inf(1)))
			// v (i0 - g (v+shift)) + rate C/2 v² is stationary at
			if q := 2*sg.g - rate*b.Bank.Capacitance; q != 0 {
				try((sg.i0 - sg.g*shift) / q)
			}
		}
		if rate != 0 { // and v i(lo) + rate C/2 v² at
			try(-sg.at(sg.lo) / (rate * b.Bank.Capacitance))
		}
	}
	l := sagLine{line: line{
		from: from, drain: level - bleed*from*top, leak: rate,
		adverse: 1 + drop/low,
		helpful: math.Max(0, 1-delta/low),
	}}
	if d.clipped {
		l.helpful = 0
	}
	l.lowest = func(x float64) float64 { return x - drop }
	l.slope, l.aside, l.drop = 1, rs*d.drawn/low-drop, rs/(low*l.adverse)
	return l
}

// charges returns with which parts of the source's current I the bank may be taken to be charged
// at most, in lines that leave out what lifts the bus above it: returned powers, and with a
// part θ below 1 powers drawn that are too small. The threshold is then V0 - θ Rs I. For
// where the bus is at V0 or above, with resistors and clamps on or off, the bank takes
// i = (V-Vc)/Rs >= θ I, and dW/dt >= Vc θ I is more than the line says, a drain of Vc I at most, if
// all stations together are taken to draw
//
//	P >= V0 (1-θ) I/adverse
//
// at least: each its share of it by its highest power. Below V0 no resistor is on, but for
// one that is late, and the source is at its limit.
func (b Bus) charges() []float64 {
	for _, r := range b.Brakes {
		if r.Delay > 0 {
			return nil
		}
	}
	if _, resistive := b.Source.(Resistive); resistive || b.Bank.SeriesResistance == 0 || !b.instant() {
		return nil
	}
	if s, ok := b.Source.(SwitchMode); ok && s.Overload != Foldback {
		return []float64{1, 0.5, 0.2, 0}
	}
	return []float64{1}
}

// currents returns the least and the greatest current of a characteristic over the
// voltages from lo to hi.
func currents(segs []segment, lo, hi float64) (least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	for _, sg := range segs {
		if a, b := math.Max(lo, sg.lo), math.Min(hi, sg.hi); a <= b && !sg.upright {
			least = math.Min(least, math.Min(sg.at(a), sg.at(b)))
			most = math.Max(most, math.Max(sg.at(a), sg.at(b)))
		}
	}
	if math.IsInf(least, 1) { // below 0 V
		return 0, 0
	}
	return least, most
}

// belowBrakes lowers a threshold so far that from there no returned power lifts
// the bus to where a resistor is on.
func (b Bus) belowBrakes(d demand, from float64) float64 {
	rs := b.Bank.SeriesResistance
	for _, r := range b.Brakes {
		from = math.Min(from, r.OffVoltage-rs*d.returned/r.OffVoltage-b.lag)
	}
	return from
}

// late returns the most energy that a bus which has fallen below the off thresholds
// loses besides what the lines hold: to resistors that switch off late, and to
// capacitors behind cables [J].
func (b Bus) late() float64 {
	w := b.margin
	for _, r := range b.Brakes {
		w += r.OffVoltage * r.OffVoltage / r.Resistance * r.Delay
	}
	return w
}

func (s Resistive) sagLines() []float64 {
	return []float64{1, 0.95, 0.9, 0.85, 0.8, 0.7, 0.6, 0.5, 0.35, 0.2}
}
func (s SwitchMode) sagLines() []float64 { return []float64{1, 0.25, 0} }

func (s Battery) sagLine(b Bus, d demand, low, bank, reach float64) sagLine {
	return anySagLine(s, b, d, low, bank, reach)
}
func (s Battery) sagLines() []float64 { return []float64{1, 0.8, 0.5} }

func (p Parallel) sagLine(b Bus, d demand, low, bank, reach float64) sagLine {
	return anySagLine(p, b, d, low, bank, reach)
}
func (p Parallel) sagLines() []float64 { return []float64{1, 0.8, 0.5, 0.25, 0} }

// sag bounds the lowest voltage and seeks a witness.
func (b Bus) sag(ctx context.Context, stations []Cycle, d demand) (Bound, error) {
	bound, worst, err := b.sagBound(ctx, stations, d)
	if err != nil {
		return bound, err
	}
	if !bound.Exists {
		return b.collapse(ctx, stations, bound)
	}
	return b.witness(ctx, stations, worst, bound, b.Source.NoLoadVoltage(), -1)
}

// sagBound bounds the lowest voltage by the best of several lines.
func (b Bus) sagBound(ctx context.Context, stations []Cycle, d demand) (Bound, []alignment, error) {
	best := Bound{Reason: fmt.Sprintf("no bound on the sag was found: the stations draw %.4g W on average and up to %.4g W together, the source delivers at most %.4g W",
		meanOf(stations), peaks(stations).drawn, b.Source.strongest())}
	var worst []*envelope
	best.Voltage = math.Inf(-1)
	var line sagLine
	low, bank := b.Source.NoLoadVoltage(), b.Source.NoLoadVoltage()
	with := func(d demand, reach float64) error {
		l, es, f, err := b.sagWith(ctx, stations, d, reach, low, bank, worst != nil, true)
		if err == nil && es == nil && worst == nil { // it may have gone on too far
			l, es, f, err = b.sagWith(ctx, stations, d, reach, low, bank, false, false)
		}
		if es != nil && f.bus > best.Voltage {
			best.Voltage, line, worst = f.bus, l, es
			low, bank = f.bus, f.bank
		}
		return err
	}
	for _, reach := range b.Source.sagLines() {
		if err := with(d, reach); err != nil {
			return Bound{}, nil, err
		}
	}
	for _, part := range b.charges() {
		for _, reach := range b.Source.sagLines() {
			if worst == nil {
				break // nothing to improve on
			}
			if err := with(demand{drawn: d.drawn, clipped: true, charging: part}, reach); err != nil {
				return Bound{}, nil, err
			}
		}
	}
	if worst == nil {
		best.Voltage = 0
		return best, nil, nil
	}
	f, err := b.sagDown(ctx, worst, line, fineFor(len(worst)))
	if err != nil {
		return Bound{}, nil, err
	}
	bound := Bound{Voltage: math.Max(f.bus, best.Voltage) * (1 - rounding), Exists: true, Energy: f.most.upper, Window: f.most.length, From: line.from}
	if s, ok := b.Source.(Resistive); ok && b.instant() && f.bank < 0.9*line.from {
		v, err := b.sagByWindows(ctx, s, stations, d, best.Voltage, f.bank, f.most.length)
		if err != nil {
			return Bound{}, nil, err
		}
		bound.Voltage = math.Max(bound.Voltage, v)
	}
	ways := []alignment{{worst, f.most.length, 0}}
	if f.ending > 0 {
		ways = append([]alignment{{worst, f.last.length, f.ending}}, ways...)
		bound.Window = f.last.length
	}
	return bound, ways, nil
}

// sagWith bounds the lowest voltage roughly by lines of one reach. They assume that
// bus and bank stay above a voltage; the bound holds if it confirms that, and the
// assumption is lowered until it does: to where it would confirm itself if the bound
// went on to follow the assumption as it did last, when boldly. Only a bound that is better than
// low and bank is sought if they are known to hold. Without any the envelopes are nil.
func (b Bus) sagWith(ctx context.Context, stations []Cycle, d demand, reach, low, bank float64, known, boldly bool) (line sagLine, found []*envelope, f fall, err error) {
	noLoad := b.Source.NoLoadVoltage()
	step := 1e-4 * noLoad
	type assumed struct{ is, gives float64 }
	var lastBus, lastBank assumed
	lower := func(now, last assumed) float64 {
		next := math.Min(now.is, now.gives-step)
		if q := (last.gives - now.gives) / (last.is - now.is); boldly && q > 0 && q < 0.8 {
			next = math.Min(next, (now.gives-q*now.is)/(1-q)-step)
		}
		return next
	}
	for range 200 {
		if !(low > collapseFraction*noLoad && bank > collapseFraction*noLoad) {
			break
		}
		l := b.Source.sagLine(b, d, low, bank, reach)
		if b.lag > 0 {
			l = anySagLine(b.Source, b, d, low, bank, reach)
		}
		if !(l.drain >= 0 && l.from > 0) {
			break
		}
		es, err := l.weighted(ctx, stations, 1)
		if err != nil {
			return line, nil, f, err
		}
		// Any tolerance gives a bound, and what the assumption is lowered to need not
		// be exact.
		now, err := b.sagDown(ctx, es, l, coarse)
		if err != nil {
			return line, nil, f, err
		}
		confirmed := now.bank > 0 && now.bus >= low && now.bank >= bank
		if confirmed {
			line, found, f = l, es, now
			if !known || now.bus-low < step {
				break
			}
			low, bank = now.bus-step/2, now.bank-step/2 // nearer to it
			continue
		}
		if known || !(now.bank > 0) {
			break
		}
		nowBus, nowBank := assumed{low, now.bus}, assumed{bank, now.bank}
		low, bank = lower(nowBus, lastBus), lower(nowBank, lastBank)
		lastBus, lastBank = nowBus, nowBank
	}
	return line, found, f, nil
}

// fall is to which voltages of bank and bus the stations lead from a threshold.
type fall struct {
	bank, bus float64 // 0 when the bank is emptied
	most      backlog // of energy
	// And the worst window when the power at its end counts as energy of a time, if it
	// does.
	last   backlog
	ending float64
}

// sagDown returns to which voltage of bank and bus the worst backlog leads from
// the line's threshold.
//
// The backlog B leaves the bank at Vc² = V0² - 2B/C or above. The voltage that drops in
// its series resistance follows from the powers at the end of the window, and the
// greatest backlog hardly ends with all peaks at once. As a function of B, Vc lies
// above its chord, V0 - B/(C m) with m halfway between V0 and the bank's lowest. So
// where the stations draw in the end, the bus is not below
//
//	aside + slope (V0 - (B + μ p)/(C m)),  μ = C m drop/slope
//
// of which the maximum over all windows is again a sum of each station's own.
func (b Bus) sagDown(ctx context.Context, es []*envelope, l sagLine, tolerance float64) (f fall, err error) {
	if f.most, err = worstBacklog(ctx, es, l.drain, l.leak, tolerance); err != nil {
		return f, err
	}
	w := l.from*l.from - 2*(f.most.upper+b.late())/b.Bank.Capacitance
	if !(w > 0) {
		return f, nil
	}
	f.bank = math.Sqrt(w)
	top := b.Source.NoLoadVoltage() // at or above which the bus is where the source is not at its limit
	f.bus = math.Min(top, l.lowest(f.bank))
	if !(b.Bank.SeriesResistance > 0 && b.instant() && l.adverse >= l.helpful && l.adverse > 0) {
		return f, nil
	}
	cm := b.Bank.Capacitance * (l.from + f.bank) / 2
	ending := cm * l.drop / l.slope
	if f.last, err = worstEnding(ctx, es, l.drain, l.leak, ending, tolerance); err != nil {
		return f, err
	}
	v := math.Min(l.aside+l.slope*f.bank, l.aside+l.slope*(l.from-(f.last.upper+b.late())/cm))
	if v = math.Min(top, v); v > f.bus {
		f.bus, f.ending = v, ending
	}
	return f, nil
}

// instant tells whether what the stations take is at once taken from the bank,
// without capacitors between them.
func (b Bus) instant() bool { return b.lag == 0 && b.margin == 0 }

func (b Bus) bleederCurrent(v float64) float64 {
	if b.Bleeder == 0 {
		return 0
	}
	return v / b.Bleeder
}
