package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// lift returns, for a cycle of power that counts as energy gained, the most that it and a
// constant power ν, added, gain in any window, however long, that ends at a time θ of the cycle:
//
//	B(θ) = max over L >= 0 of ∫_0^L (P(θ-s) + ν) ds = U(θ) - min over S <= θ of U(S)
//
// with an antiderivative U of P + ν repeated, or of what happens once. With the ν of [lifting] no
// cycle and no pause gains, so that B is finite and holds for all schedules. On each piece B
// is U less its running minimum: again polynomials, with cuts where U passes below that
// minimum, and 0 where it follows it.
func (c Cycle) lift(added float64) (profile.Curve, error) {
	c, err := c.raised(added)
	if err != nil {
		return profile.Curve{}, err
	}
	u := c.Power.Shift(-c.Power.Start()).Antiderivative(0)
	lowest := u.Min().V
	if c.Repeats == Once {
		lowest = 0
	} else if lowest -= u.At(u.End()); !(lowest <= math.MaxFloat64) { // of the cycle before
		return profile.Curve{}, fmt.Errorf("%w: energy of a cycle", ErrRange)
	}
	lowest = math.Min(lowest, 0)
	sliver := 1e-12 * u.End()
	breaks := []float64{0}
	var pieces [][]float64
	var turns, roots []float64
	for i := range u.Pieces() {
		t0, t1, p := u.Piece(i)
		add := func(to float64, q []float64) { // from the last break on
			at := t0 + to
			if t1-at <= sliver {
				at = t1
			}
			if last := breaks[len(breaks)-1]; at-last > sliver || at == t1 && at > last {
				breaks = append(breaks, at)
				pieces = append(pieces, poly.Shift(nil, q, last-t0))
			}
		}
		roots = poly.Roots(roots, poly.Derivative(nil, p), 0, t1-t0)
		turns = append(append(append(turns[:0], 0), roots...), t1-t0)
		for k := range len(turns) - 1 { // between turns U only rises or only falls
			from, to := turns[k], turns[k+1]
			above := poly.Add(nil, p, []float64{-lowest})
			end := poly.Eval(p, to)
			if end >= lowest {
				add(to, above)
				continue
			}
			passes := from
			if poly.Eval(above, from) > 0 {
				if x := poly.Roots(nil, above, from, to); len(x) > 0 {
					passes = x[0]
				}
			}
			add(passes, above)
			add(to, []float64{0})
			lowest = end
		}
	}
	return profile.NewCurve(breaks, pieces)
}

// lifting returns what is added to the returned power of each station, ν_k with Σ ν_k = 0, so
// that none returns more than it draws, nor anything in its pauses, and whether there is
// such a choice. What all of them return together over a time common to them is as it was.
func lifting(stations []Cycle) (added []float64, ok bool) {
	added = make([]float64, len(stations))
	room := make([]float64, len(stations))
	excess, all := 0.0, 0.0
	for i, s := range stations {
		drawn := math.Inf(1)
		if s.Repeats != Once {
			drawn = s.Power.Mean()
		}
		for _, w := range s.pauses() {
			drawn = math.Min(drawn, w.Power)
		}
		if drawn < 0 {
			added[i] = drawn
			excess -= drawn
		} else {
			room[i] = drawn
			all += drawn
		}
	}
	if excess == 0 {
		return added, true
	}
	if !(excess < 0.999*all) {
		return make([]float64, len(stations)), false
	}
	for i, r := range room {
		if r > 0 {
			added[i] = excess * r / all
		}
	}
	return added, true
}

// chain is what had to come before a window, with a weight: envelopes to which it is added,
// and what is taken from their sum for it.
type chain struct {
	es     []*envelope
	lifted float64 // κ (Won-W0) [J]
}

// multipliers are the weights κ tried.
var multipliers = []float64{0.1, 0.25, 0.5, 1}

// chained returns what had to come before windows of a line from where a brake resistor
// works: since the last time that the bank was at W0, from which on the source is blocked,
// the stations have returned the energy Won - W0 at least, by which it rose to the line's
// threshold Won. So for any multiplier λ >= 0, here κ e^(-bL) with the length L of the
// window above the threshold,
//
//	W-Won <= max over L of min over κ of
//	         Σ_k ∫_0^L e^(-b s) R_k ds - a σ(L) + κ e^(-b L) (Σ_k B_k - (Won-W0))
//
// with the returned powers R_k and the most B_k that each station can have returned in a
// window, of a length of its own, that ends where that one begins. κ = 0 is the line as it
// is; κ = 1 has energy returned just before the threshold count like that just after.
//
// Above W0 powers drawn are counted at least with the weight of that threshold's line;
// lower ones, like those of the line above, are on the safe side.
//
// es are the envelopes of the line and most the worst backlog without all this. Where the
// stations can have returned that much before this very window there is nothing to gain, and
// no chain.
func (b Bus) chained(ctx context.Context, stations []Cycle, lines []riseLine, l riseLine, es []*envelope, most backlog) ([]chain, error) {
	added, ok := lifting(stations)
	if !ok || !l.brake || !b.instant() || !(most.upper > 0) || math.IsInf(most.upper, 1) {
		return nil, nil
	}
	base := math.Inf(1)
	for _, k := range lines {
		if !k.brake && k.helpful >= l.helpful {
			base = math.Min(base, k.from)
		}
	}
	rise := b.Bank.Energy(l.from) - b.Bank.Energy(base)
	returned := 0.0
	for i, e := range es {
		c, err := stations[i].times(-l.helpful, -l.adverse)
		if err != nil {
			return nil, fmt.Errorf("%w: power of station %d", ErrRange, i)
		}
		lift, err := c.lift(added[i])
		if err != nil {
			return nil, err
		}
		returned += lift.At(e.startOf(most.length))
	}
	if !(returned < rise) {
		return nil, nil
	}
	var chains []chain
	for _, before := range multipliers {
		k := l.line
		k.before = before
		es, err := k.weighted(ctx, stations, -1)
		if err != nil {
			return nil, err
		}
		chains = append(chains, chain{es, before * rise})
	}
	return chains, nil
}
