package bus

import (
	"context"
	"math"
)

// How finely the envelopes of windows are followed where a sag is bounded with them.
const (
	arrivalWindows = 300
	arrivalSteps   = 4000 // of integration, at most
)

// sagByWindows bounds how far a bank behind a resistive source falls with the source
// as it is and no line in its place. low and bank are voltages of bus and bank that a
// bound has confirmed. It returns 0 where it has nothing to say.
//
// Let D(s) be the most energy that the stations together take in any window of length
// s, so that the energy E(s) that they take in the last s before the lowest point is
// at most D(s) for every s. The bank, which was at its threshold W0 for the last time
// a time L before, follows
//
//	dW/dt >= g(W) - P,   g(W) = Vc (V0'-Vc)/(R'+Rs)
//
// with the adverse powers P of the line. Where g does not grow with W, no P ends lower
// than the one of which E(s) = D(s) for all s, which takes all energy as late as it
// can: on the way from one to the other, P + θ (P*-P), the end W(T) changes by
//
//	dW(T)/dθ = -∫ w(s) (P*-P) ds = -w(L) (D-E)(L) + ∫ (D-E) dw <= 0
//
// since w(s) = e^(∫ g'(W)), over the last s, is positive and does not grow with s, and
// D-E is 0 at s = 0. Below V0'/2, where g grows with W, it is replaced by the least
// value that it takes from the confirmed bank on. A course that starts at W0, and is
// held there as long as it would pass it, ends lowest over all L up to the longest
// window looked at; for those beyond the line is asked.
//
// The line bounds best what has a long history, this what falls far at once.
func (b Bus) sagByWindows(ctx context.Context, s Resistive, stations []Cycle, d demand, low, bank, window float64) (float64, error) {
	l := s.sagLine(b, d, low, bank, 1)
	rs, g := b.Bank.SeriesResistance, 1/s.Resistance+b.bleederCurrent(1)
	open, r := s.OpenCircuit/s.Resistance/g, 1/g+rs
	c := b.Bank.Capacitance
	if !(window > 0 && l.from > bank && l.leak > 0) {
		return 0, nil
	}
	far := 1.5*window + 3*r*c
	leaky, err := l.weighted(ctx, stations, 1)
	if err != nil {
		return 0, err
	}
	beyond, err := worstFrom(ctx, leaky, l.drain, l.leak, far)
	if err != nil {
		return 0, err
	}
	least := l.from*l.from - 2*(beyond.upper+b.late())/c
	if !(least > bank*bank) {
		return 0, nil
	}
	plain := l.line
	plain.leak = 0
	es, err := plain.weighted(ctx, stations, 1)
	if err != nil {
		return 0, err
	}
	n := arrivalWindows
	up, down := 0.0, 0.0
	for _, e := range es {
		up += e.up
		down += e.down
	}
	total := func(length float64) float64 { return inWindow(es, length) }
	if !(up > 0) {
		return 0, nil
	}
	steps := 0
	h := 0.1 * r * c // longest step: a tenth of the time constant
	floor := power(bank, open, r)
	w0 := c / 2 * l.from * l.from
	w := w0 - b.late()
	flow := func(w float64) float64 { return math.Min(floor, power(math.Sqrt(2*math.Max(w, 0)/c), open, r)) }
	run := func(p, duration float64) {
		k := math.Ceil(math.Max(1, duration/h))
		steps += int(math.Min(k, 2*arrivalSteps))
		if steps > arrivalSteps {
			return
		}
		dt := duration / k
		for range int(k) {
			k1 := flow(w) - p
			k2 := flow(w+dt/2*k1) - p
			k3 := flow(w+dt/2*k2) - p
			k4 := flow(w+dt*k3) - p
			w = math.Min(w0-b.late(), w+dt/6*(k1+2*k2+2*k3+k4))
		}
	}
	at := total(far)
	for i := n - 1; i >= 0; i-- {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		// Windows between two lengths take no more than up and down allow from either.
		long, short := far*float64(i+1)/float64(n), far*float64(i)/float64(n)
		next := 0.0
		if i > 0 {
			next = total(short)
		}
		top := math.Max(0, math.Min(long-short, (next+up*(long-short)-at)/(up+down))) // from long down
		run(-down, top)
		run((at+down*top-next)/math.Max(long-short-top, 1e-300), long-short-top)
		at = next
	}
	if steps > arrivalSteps || !(w > 0) {
		return 0, nil
	}
	const truncation = 1e-7
	x := math.Sqrt(math.Min(2*w/c, least)) * (1 - truncation)
	return l.lowest(x), nil
}

// power is what a source of an open-circuit voltage and a resistance gives at v [W].
func power(v, open, resistance float64) float64 { return v * (open - v) / resistance }
