package bus

import (
	"context"
	"fmt"
	"math"
)

// riseLine is the line for a bus above a threshold; highest returns the bus
// voltage that a bank at x >= from cannot exceed.
type riseLine struct {
	line
	highest func(x float64) float64
	// That bus is the one to which all return their highest powers at once. While they
	// return p together, it is not above least or slope x + drop p either, whichever is
	// more, and if they draw more than they return not above least or slope x.
	least, slope, drop float64
	// variant: a line like another, from a lower threshold.
	variant bool
	brake   bool // from where a resistor works
}

// riseLines returns the bounds on the course of the bank's energy above the
// source's no-load voltage and, with a brake resistor, above its on threshold.
// With the bank's current i, V = Vc + Rs i and the conductance G across the bus
//
//	dW/dt = Vc i = -P - G V² - Rs i²  <=  -P - κ G Vc²,   κ = 1/(1 + Rs G)
//
// since (V - Rs i)² <= (G V² + Rs i²) (1/G + Rs), by Cauchy. Where capacitors behind
// cables add up to b.lag to V - Rs i, every term of it counts as much less or more.
func (b Bus) riseLines(d demand) []riseLine {
	rs, bleed := b.Bank.SeriesResistance, b.bleederCurrent(1)
	above := func(from, g float64) line {
		less := math.Max(0, 1-b.lag/b.Source.NoLoadVoltage())
		g *= less * less * less / (1 + rs*g)
		return line{from: from, drain: g * from * from, leak: 2 * g / b.Bank.Capacitance, adverse: 2 - less, helpful: less}
	}
	// Above from the bus is above v whatever is drawn, so that the source is
	// blocked. The resistor, if it is on, only helps.
	v := b.Source.NoLoadVoltage()
	lines := []riseLine{{
		line:    above(v+rs*(d.drawn/v+bleed*v)+b.lag, bleed),
		highest: func(x float64) float64 { return x + rs*d.returned/v + b.lag },
		least:   v, slope: 1, drop: rs / v,
	}}
	if rs > 0 && b.instant() {
		lines = append(lines, b.lowerBlockedLines(lines[0])...)
	}
	blocked := len(lines)
	for i := range b.Brakes {
		lines = append(lines, b.brakeLine(d, i, bleed, above))
	}
	if len(b.Brakes) == 1 && b.Brakes[0].Delay == 0 && b.Clamp == nil && b.instant() && rs > 0 {
		lines = append(lines, b.lowerBrakeLines(lines[blocked])...)
	}
	return lines
}

// lowerBlockedLines are lines from thresholds at which stations may draw so much that the
// source conducts: the bus is then at V <= V0, the bank gives i = (Vc-V)/Rs and the
// source j(V), so that what is drawn is at most V (i + j) <= V i/q, q = i/(i+j). dW/dt =
// -Vc i is at most -h P - κ G Vc² with h = q h' where, as for lowerBrakeLines,
//
//	(Vc - V0) (Vc - h' V0) >= ρ Vc²,   ρ = Rs κ G
//
// with the bleeder's G. q is R/(R+Rs) for a resistive source, since j R <= i Rs, and
// for one of a limited current at least that of the limit at V0.
func (b Bus) lowerBlockedLines(certain riseLine) []riseLine {
	rs, v := b.Bank.SeriesResistance, b.Source.NoLoadVoltage()
	g := certain.leak * b.Bank.Capacitance / 2 // κ G
	rho := rs * g
	share := func(from float64) float64 { return 0 }
	switch s := b.Source.(type) {
	case Resistive:
		share = func(from float64) float64 { return s.Resistance / (s.Resistance + rs) }
	case SwitchMode:
		if s.PeakCurrent == 0 {
			share = func(from float64) float64 { return (from - v) / (from - v + rs*s.CurrentLimit) }
		}
	default:
		return nil
	}
	var lines []riseLine
	lo, hi := v/(1-rho), certain.from
	for _, part := range []float64{0.03, 0.1, 0.3, 0.6} {
		l := certain
		l.variant, l.from = true, lo+part*(hi-lo)
		l.helpful = share(l.from) * math.Min(1, l.from*(1-rho*l.from/(l.from-v))/v)
		if !(l.from < hi && l.from > v && l.helpful >= 0) {
			continue
		}
		l.drain = g * l.from * l.from
		lines = append(lines, l)
	}
	return lines
}

// lowerBrakeLines are lines for a single resistor from thresholds below the one from
// which it is certainly on. While it is off the bus is at Von or below, so that the bank
// at Vc gives the current i >= (Vc-Von)/Rs and what is drawn from the bus is at most V i:
// dW/dt = -Vc i. With powers drawn counted only in part, h, that is at most -h P - κ G Vc²
// where
//
//	(Vc - Von) (Vc - h Von) >= ρ Vc²,   ρ = Rs κ G = 1 - κ
//
// and where it holds at a Vc > Von it holds above. The threshold is Von/(1-ρ) for h = 0
// and Von/(1-√ρ) for h = 1, whatever the stations draw at once.
func (b Bus) lowerBrakeLines(certain riseLine) []riseLine {
	on := b.Brakes[0].OnVoltage
	k := certain.slope
	rho := 1 - k
	lo, hi := on/k, on/(1-math.Sqrt(rho))
	g := certain.leak * b.Bank.Capacitance / 2 // κ G
	var lines []riseLine
	for _, part := range []float64{0.1, 0.3, 0.6, 1} {
		l := certain
		l.variant, l.from = true, lo+part*(hi-lo)
		l.helpful = math.Min(1, l.from*(1-rho*l.from/(l.from-on))/on)
		if !(l.from < certain.from && l.helpful >= 0) {
			continue
		}
		l.drain = g * l.from * l.from
		lines = append(lines, l)
	}
	return lines
}

// brakeLine is the line above the on threshold of resistor i, with all resistors
// whose threshold is not higher. Above from the bus is above the on threshold of one
// that is off and above the off threshold of one that is on, even with the greatest
// power drawn and all the others on, so that none goes off; those that are off come
// on at once, or before the bank can be at late. While any is off the bus is below
// its on threshold, or for its delay not farther above the bank than what is returned
// lifts it.
func (b Bus) brakeLine(d demand, i int, bleed float64, above func(from, g float64) line) riseLine {
	rs, on := b.Bank.SeriesResistance, b.Brakes[i].OnVoltage
	all := bleed
	for _, r := range b.Brakes {
		all += 1 / r.Resistance
	}
	lifts := func(v, g float64) float64 { // the bank that keeps the bus at v
		i := g*v + d.drawn/v
		if b.Clamp != nil {
			i += b.Clamp.Current(v)
		}
		return v + rs*i + b.lag
	}
	g, from, delay := bleed, 0.0, 0.0
	for _, r := range b.Brakes {
		if r.OnVoltage <= on {
			g += 1 / r.Resistance
			from = math.Max(from, math.Max(lifts(r.OnVoltage, all-1/r.Resistance), lifts(r.OffVoltage, all)))
			delay = math.Max(delay, r.Delay)
		}
	}
	k := 1 / (1 + rs*g)
	late, before := from, on
	if delay > 0 {
		late = math.Sqrt(from*from + 2*d.returned*delay/b.Bank.Capacitance)
		before = late + rs*d.returned/on + b.lag
	}
	return riseLine{
		brake:   true,
		line:    above(late, g),
		highest: func(x float64) float64 { return math.Max(before, k*(x+rs*d.returned/on+b.lag)) },
		least:   before, slope: k, drop: k * rs / on,
	}
}

// rise bounds the highest voltage and seeks a witness.
func (b Bus) rise(ctx context.Context, stations []Cycle, d demand) (Bound, error) {
	bound, ways, err := b.riseBound(ctx, stations, d)
	if err != nil || !bound.Exists {
		return bound, err
	}
	return b.witness(ctx, stations, ways, bound, b.Source.NoLoadVoltage(), 1)
}

// riseBound bounds the highest voltage by the best of the lines, each of which
// has its way to line up the stations.
func (b Bus) riseBound(ctx context.Context, stations []Cycle, d demand) (Bound, []alignment, error) {
	best := Bound{Reason: fmt.Sprintf("the stations return up to %.4g W more than they draw on average, and nothing drains as much", -meanOf(stations))}
	var ways []alignment
	lines := b.riseLines(d)
	for _, l := range lines {
		es, err := l.weighted(ctx, stations, -1)
		if err != nil {
			return Bound{}, nil, err
		}
		most, err := worstBacklog(ctx, es, l.drain, l.leak, fineFor(len(es)))
		if err != nil {
			return Bound{}, nil, err
		}
		before, err := b.chained(ctx, stations, lines, l, es, most)
		if err != nil {
			return Bound{}, nil, err
		}
		if before != nil {
			if most, err = worstBacklog(ctx, es, l.drain, l.leak, fineFor(len(es)), before...); err != nil {
				return Bound{}, nil, err
			}
		}
		x := math.Sqrt(l.from*l.from + 2*(most.upper+b.margin)/b.Bank.Capacitance)
		x = math.Max(x, l.from) // squares of next to nothing are 0
		v := l.highest(x)
		of := func(m backlog) []*envelope {
			if m.chain > 0 {
				return before[m.chain-1].es
			}
			return es
		}
		way := alignment{of(most), most.length, 0}
		if l.drop > 0 && b.instant() && v <= math.MaxFloat64 {
			u, last, ending, err := b.riseEnding(ctx, es, l, x, before)
			if err != nil {
				return Bound{}, nil, err
			}
			if u < v {
				v = u
				way = alignment{of(last), last.length, ending}
			}
		}
		if v <= math.MaxFloat64 && (!best.Exists || v < best.Voltage) {
			best = Bound{Voltage: v, Exists: true, Energy: most.upper, Window: way.window, From: l.from}
			ways = append([]alignment{way}, ways...) // the best first
			continue
		}
		if l.variant {
			continue
		}
		if math.IsInf(most.upper, 1) {
			way.window = math.Inf(1)
		}
		ways = append(ways, way)
	}
	return best, ways, nil
}

// riseEnding bounds the bus by what its bank takes and what drops in the bank's series
// resistance together, for a bank that is never above x. As a function of the backlog
// B, Vc = √(V0² + 2B/C) lies below its tangents, (V0² + t²)/2t + B/(C t), so that
//
//	slope Vc + drop p <= slope ((V0² + t²)/2t + (B + μ p)/(C t)),  μ = C t drop/slope
//
// with the powers p that are returned in the end of the window: a sum of maxima of the
// stations. Tangents at x and half way to it are tried.
func (b Bus) riseEnding(ctx context.Context, es []*envelope, l riseLine, x float64, before []chain) (v float64, last backlog, ending float64, err error) {
	v = math.Inf(1)
	for _, t := range []float64{x, (x + l.from) / 2} {
		ct := b.Bank.Capacitance * t
		mu := ct * l.drop / l.slope
		most, err := worstEnding(ctx, es, l.drain, l.leak, mu, fineFor(len(es)), before...)
		if err != nil {
			return 0, last, 0, err
		}
		u := math.Max(l.slope*x, l.slope*((l.from*l.from/t+t)/2+most.upper/ct))
		if u = math.Max(u, l.least); u < v {
			v, last, ending = u, most, mu
		}
	}
	return v, last, ending, nil
}
