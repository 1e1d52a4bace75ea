package bus

import (
	"context"
	"fmt"
	"math"
	"sort"

	"example.com/headroom/internal/poly"
	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// envelope answers how much energy a repeated cycle of power takes at most in
// any window of time of given length L, when what was taken s before the end of
// the window counts e^(-b s) of itself, with the leak b:
//
//	D(L) = max over T of ∫_0^L e^(-b s) P(T-s) ds
//
// with P continued periodically. Energy that the window returns is negative.
// Without leak D is the smallest arrival curve of the cycle in network calculus
// (Le Boudec and Thiran, Network Calculus, LNCS 2050, chapter 1; from memory).
//
// With the mean power Pm, and u the periodic solution of u' = P - Pm - b u,
//
//	∫_0^L e^(-b s) P(T-s) ds = Pm σ(L) + u(T) - e^(-b L) u(T-L)
//	σ(L) = (1 - e^(-b L))/b, or L without leak
//
// so that one polynomial curve u gives all windows by differences. A negative
// leak is that of the opposite sign for the cycle run backwards, times e^(-b L):
// what weighs most is then at the start of the window.
//
// The power at the end of the window may count besides, as energy of a time μ,
//
//	D(L; μ) = max over T of ∫_0^L e^(-b s) P(T-s) ds + μ P(T)
//
// where P jumps with either of its values: P = u' + Pm + b u on each piece. (One wait is
// then enough but for another that lasts no time, with which the window ends. What
// that one takes more than the cycle does before and after it is left out here and
// added in full where windows are summed up.)
//
// So may, with a weight κ from 0 to 1 on top of that of the window's start, the most that
// the station can have taken before, B of [Cycle.lift]:
//
//	D(L) = max over T of ∫_0^L e^(-b s) P(T-s) ds + κ e^(-b L) B(T-L)
//
// A window that begins earlier by dL then takes at least -(down + κ b max B) dσ more. The
// proof that one wait is enough has both ends of the window given, and holds as it is.
type envelope struct {
	leak   float64     // b [1/s]
	once   bool        // the cycle is not repeated
	pauses []*pause    // where the station may stand still
	times  []float64   // at which pieces of u begin, from 0, and the last one ends [s]
	stored [][]float64 // the pieces of u [J]
	ranges []bounds    // and what lies between which values on each
	period float64     // [s]
	mean   float64     // Pm [W]
	high   float64     // max u [J]
	up     float64     // highest power, at least 0: D grows no faster over σ [W]
	down   float64     // highest returned power, at least 0: D falls no faster over σ [W]
	rate   float64     // D(L) <= rate σ + burst
	burst  float64     // [J]; without pauses max u - min u

	// u at the end and at the start of the window, with what the power at its end adds.
	ending      float64     // μ [s]
	surplus     float64     // by how much it takes more in a pause than just before and after [W]
	starts      [][]float64 // u less κ B
	startRanges []bounds
	heads       [][]float64
	tails       [][]float64
	headRanges  []bounds
	tailRanges  []bounds

	last       float64   // where the last window sought ended: the next one may be near
	head, tail []float64 // scratch
}

type bounds struct{ lo, hi float64 }

// newEnvelope returns that of a cycle. before is κ, more than 0 only without a negative leak,
// and added the power with which B is finite, see [lifting].
func newEnvelope(ctx context.Context, c Cycle, leak, before, added float64) (*envelope, error) {
	load := c.Power.Shift(-c.Power.Start())
	pauses := c.pauses()
	var lift profile.Curve
	if before > 0 {
		var err error
		if lift, err = c.lift(added); err == nil { // with the breaks of both
			load, err = profile.Sum(load, lift.Scale(0))
		}
		if err != nil {
			return nil, err
		}
	}
	if leak < 0 {
		var err error
		if load, err = reversed(load); err != nil {
			return nil, err
		}
		for i := range pauses {
			pauses[i].At = math.Max(0, load.End()-pauses[i].At)
		}
	}
	e := &envelope{leak: leak, once: c.Repeats == Once, period: load.Duration(), mean: load.Mean()}
	leak = math.Abs(leak)
	lo, hi := load.Extrema()
	lowest, highest := c.extremes()
	e.up, e.down = math.Max(0, highest), math.Max(0, -lowest)

	l := &leaky{forcing: newForcing(load), mean: e.mean, leak: leak}
	swing := math.Max(hi.V-e.mean, e.mean-lo.V)
	scale := swing * e.period
	if leak*e.period > 1 {
		scale = swing / leak
	}
	if !(scale <= math.MaxFloat64) {
		return nil, fmt.Errorf("%w: energy of a cycle", ErrRange)
	}
	solve := func(start float64, keep int) (*taylor.Solution, error) {
		l.forcing.piece = 0
		return taylor.Solve(ctx, taylor.Problem{
			System: l, X0: []float64{start}, Breaks: l.breaks(),
			Scale: []float64{scale}, Tol: Tolerance, MaxSteps: budget(load.Pieces()), Keep: keep,
		})
	}
	start := 0.0
	if leak > 0 {
		sol, err := solve(0, 0)
		if err != nil {
			return nil, err
		}
		start = sol.X[0] / -math.Expm1(-leak*e.period)
	}
	sol, err := solve(start, 1)
	if err != nil {
		return nil, err
	}
	e.times = sol.Breaks
	e.stored = make([][]float64, len(sol.Breaks)-1)
	low := math.Inf(1)
	e.high = math.Inf(-1)
	for i := range e.stored {
		c := sol.Piece(i, 0)
		e.stored[i] = c
		lo, _, hi, _ := poly.Extrema(c, 0, e.times[i+1]-e.times[i])
		low, e.high = math.Min(low, lo), math.Max(e.high, hi)
		e.ranges = append(e.ranges, bounds{lo, hi})
	}
	for i, c := range e.stored {
		e.stored[i] = without(c, e.times[i+1]-e.times[i], 1e-17*(e.high-low)/float64(len(c)))
	}
	e.starts, e.startRanges = e.stored, e.ranges
	e.surplus = c.surplus()
	e.limits(c, pauses, low)
	if before > 0 {
		most := before * lift.Max().V
		e.burst += most
		e.down += leak * most
		e.starts, e.startRanges = nil, nil
		for i, c := range e.stored {
			h := e.times[i+1] - e.times[i]
			c = poly.Add(nil, c, poly.Scale(nil, on(lift, e.times[i], e.times[i+1]), -before))
			lo, _, hi, _ := poly.Extrema(c, 0, h)
			e.starts, e.startRanges = append(e.starts, c), append(e.startRanges, bounds{lo, hi})
		}
	}
	e.heads, e.tails, e.headRanges, e.tailRanges = e.stored, e.starts, e.ranges, e.startRanges
	if !(e.burst <= math.MaxFloat64 && e.rate <= math.MaxFloat64) {
		return nil, fmt.Errorf("%w: energy of a cycle", ErrRange)
	}
	for _, w := range pauses {
		from, err := e.from(load, w.At)
		if err != nil {
			return nil, err
		}
		gained, err := e.from(lift, w.At)
		if err != nil {
			return nil, err
		}
		p, err := newPause(ctx, from, gained, w, leak, before, e.once)
		if err != nil {
			return nil, err
		}
		e.pauses = append(e.pauses, p)
	}
	return e, nil
}

// from returns a cycle from the time of a pause on; what happens once in one piece.
func (e *envelope) from(c profile.Curve, at float64) (profile.Curve, error) {
	if !(at > 0 && at < c.End()) {
		return c, nil
	}
	c, err := c.Repeat(2).Slice(at, at+e.period)
	return c.Shift(-at), err
}

// on returns the polynomial that a curve is between two of its times, from the first on.
func on(c profile.Curve, from, to float64) []float64 {
	mid := from + (to-from)/2
	i := sort.Search(c.Pieces()-1, func(i int) bool { _, t1, _ := c.Piece(i); return t1 > mid })
	t0, _, p := c.Piece(i)
	return poly.Shift(nil, p, from-t0)
}

// weigh sets the time as which the power at the end of windows counts.
func (e *envelope) weigh(ending float64) {
	if ending == e.ending {
		return
	}
	e.ending, e.last = ending, 0
	e.heads, e.tails, e.headRanges, e.tailRanges = e.stored, e.starts, e.ranges, e.startRanges
	for _, p := range e.pauses {
		p.weigh(ending, e.leak < 0)
	}
	if ending == 0 {
		return
	}
	sign, leak := 1.0, e.leak
	if e.leak < 0 { // run backwards, windows end where they seem to start
		sign, leak = -1, -e.leak
	}
	with := make([][]float64, len(e.stored))
	ranges := make([]bounds, len(e.stored))
	for i, u := range e.stored {
		c := poly.Scale(nil, u, 1+sign*ending*leak)
		c = poly.Add(c, c, poly.Scale(nil, poly.Derivative(nil, u), sign*ending))
		c[0] += sign * ending * e.mean
		lo, _, hi, _ := poly.Extrema(c, 0, e.times[i+1]-e.times[i])
		with[i], ranges[i] = c, bounds{lo, hi}
	}
	if e.leak < 0 {
		e.tails, e.tailRanges = with, ranges
	} else {
		e.heads, e.headRanges = with, ranges
	}
}

// without drops the highest powers of a polynomial on [0, h] that amount to no more
// than small each.
func without(c []float64, h, small float64) []float64 {
	for len(c) > 1 && math.Abs(c[len(c)-1])*math.Pow(h, float64(len(c)-1)) <= small {
		c = c[:len(c)-1]
	}
	return c
}

// limits sets rate and burst, which bound D(L) by rate σ + burst. With z = e^(-b L)
// the strict cycle takes Pm σ + u(T) - z u(T-L), and with a pause at t
//
//	w σ(L) + (Pm-w) (1-z1 + z2-z)/b + u(T) - z1 u(t) + z2 u(t) - z u(S)
//
// with 1 >= z1 >= z2 >= z, z1 and z2 counted at the ends of the pause. The first two
// are at most max(Pm, w) σ(L), and the others max u - min u: without leak they are
// u(T) - u(S), and with leak the mean of u is 0, so that max u >= 0 >= min u. What happens
// once adds nothing to w σ after its end.
//
// For a negative leak, β = |b|, the window weighs what comes s after its start with e^(-β s), all
// times e^(β L) = 1 + β σ(L). Then u(x) is what the cycle takes from x on for ever, less its mean,
// and a pause at t of length U takes
//
//	e^(-β s) (1 - e^(-β U)) ((w-Pm)/β - u(t))
//
// more than going on, s after the start. Where that is nowhere positive no pause takes more
// than the strict cycle; else all above counts with 1 + β σ, but -z u(S), or its like.
func (e *envelope) limits(c Cycle, pauses []Wait, low float64) {
	e.rate, e.burst = e.mean, e.high-low
	grown := math.Max(0, -e.leak)
	gains := grown == 0 || e.once
	for _, w := range pauses {
		gains = gains || w.Power-e.mean > grown*e.at(e.stored, w.At)
	}
	if len(pauses) == 0 || !gains {
		e.rate += grown * e.high
		return
	}
	e.burst = math.Max(e.high, 0) - math.Min(low, 0)
	for _, w := range pauses {
		e.rate = math.Max(e.rate, w.Power)
	}
	if e.once {
		all := e.burst + math.Max(0, e.mean-c.Idle)*sigma(math.Abs(e.leak), e.period)
		e.rate, e.burst = c.Idle+grown*all, all*math.Exp(grown*e.period)
		return
	}
	e.rate += grown * e.burst
}

// reversed returns the curve run backwards, over the same time.
func reversed(c profile.Curve) (profile.Curve, error) {
	n := c.Pieces()
	breaks, coefs := make([]float64, n+1), make([][]float64, n)
	sum := c.Start() + c.End()
	breaks[n] = c.End()
	for i := range n {
		t0, t1, p := c.Piece(n - 1 - i)
		breaks[i] = sum - t1
		coefs[i] = poly.Shift(nil, p, t1-t0)
		poly.Stretch(coefs[i], coefs[i], -1)
	}
	breaks[0] = c.Start()
	return profile.NewCurve(breaks, coefs)
}

// leaky is u' = P - mean - leak u as a [taylor.System].
type leaky struct {
	forcing
	mean, leak float64
	p          taylor.Series
}

func (l *leaky) Resume(float64, []taylor.Series) bool             { return true }
func (l *leaky) Guards(dst []taylor.Guard) []taylor.Guard         { return dst }
func (l *leaky) Fire(float64, taylor.Guard, []taylor.Series) bool { return true }
func (l *leaky) Expand(t float64, x, y []taylor.Series) float64 {
	reach := l.expand(t, &l.p)
	l.p[0] -= l.mean
	u := &x[0]
	for k := range taylor.Order {
		u[k+1] = (l.p[k] - l.leak*u[k]) / float64(k+1)
	}
	y[0] = *u
	return reach
}

// window is one that takes most.
type window struct {
	end float64 // in the cycle [s]
	// The number of the pause at which the station stands still in it, from 1, or 0 if
	// it does not, how long, and how long after that the window ends [s].
	pause        int
	stand, after float64
}

// worst returns by how much the energy D(L) exceeds Pm σ(L), and a window that
// takes it. Only what happens once may have none: energy is then -Inf.
func (e *envelope) worst(length float64) (energy float64, at window) {
	return e.worstEnding(length, 0)
}

// worstEnding does so for D(L; μ).
func (e *envelope) worstEnding(length, ending float64) (energy float64, at window) {
	e.weigh(ending)
	leak := math.Abs(e.leak)
	z := math.Exp(-leak * length)
	grown := 1.0
	if e.leak < 0 {
		grown = math.Exp(leak * length)
		energy, at.end = e.best(length, grown, 1)
		if at.end = e.period - at.end + length; !e.once {
			at.end = positiveMod(at.end, e.period)
		}
	} else {
		energy, at.end = e.best(length, 1, z)
	}
	still := sigma(leak, length)
	for k, p := range e.pauses {
		d, after, before := p.worst(length)
		d = grown * (d + (p.power-e.mean)*still)
		if !(d > energy) {
			continue
		}
		energy = d
		at = window{pause: k + 1, stand: math.Max(0, length-after-before), after: after, end: p.at + after}
		if e.leak < 0 {
			at.after, at.end = before, e.period-p.at+before
		}
	}
	return energy, at
}

// startOf returns the time of the cycle at which its worst window of a length begins [s].
func (e *envelope) startOf(length float64) float64 {
	_, at := e.worst(length)
	start := at.end - length
	if at.pause > 0 {
		start = e.pauses[at.pause-1].at - math.Max(0, length-at.stand-at.after)
	}
	if e.once {
		return math.Max(0, start)
	}
	return positiveMod(start, e.period)
}

// sigma returns (1 - e^(-b L))/b, L without leak.
func sigma(leak, length float64) float64 {
	if leak == 0 {
		return length
	}
	return math.Min(math.MaxFloat64, -math.Expm1(-leak*length)/leak)
}

// best returns max over T of now u(T) - before u(T-length).
func (e *envelope) best(length, now, before float64) (energy, end float64) {
	// The end of the window moves over one cycle, on piece i; its start lags and
	// is on piece j, at first of the cycle before.
	i, j, t, lag := 0, 0, 0.0, positiveMod(length, e.period)
	energy = math.Inf(-1)
	if e.once {
		if length > e.period {
			return energy, 0
		}
		t, lag = length, length
		i = sort.Search(len(e.stored)-1, func(i int) bool { return e.times[i+1] > t })
	} else if lag > 0 {
		lag -= e.period
		j = sort.Search(len(e.stored)-1, func(j int) bool { return e.times[j+1]+lag > 0 })
	}
	if from := t; e.last >= from {
		energy, end = now*e.at(e.heads, e.last)-before*e.at(e.tails, positiveMod(e.last-length, e.period)), e.last
	}
	defer func() { e.last = end }()
	for i < len(e.stored) {
		headEnd, tailEnd := e.times[i+1], e.times[j+1]+lag
		t1 := min(headEnd, tailEnd)
		if t1 > t && now*e.headRanges[i].hi-before*e.tailRanges[j].lo <= energy {
			t = t1 // nothing higher here
		} else if t1 > t {
			e.head = poly.Shift(e.head, e.heads[i], t-e.times[i])
			if now != 1 {
				e.head = poly.Scale(e.head, e.head, now)
			}
			if before > 0 {
				e.tail = poly.Shift(e.tail, e.tails[j], t-lag-e.times[j])
				e.head = poly.Add(e.head, e.head, poly.Scale(e.tail, e.tail, -before))
			}
			if _, hi := poly.Range(e.head, t1-t); hi > energy {
				if _, _, hi, at := poly.Extrema(e.head, 0, t1-t); hi > energy {
					energy, end = hi, t+at
				}
			}
			t = t1
		}
		if headEnd <= t1 {
			i++
		}
		if tailEnd <= t1 {
			if j++; j == len(e.stored) {
				j = 0
				lag += e.period
			}
		}
	}
	return energy, end
}

// at returns heads or tails at a time within the cycle.
func (e *envelope) at(of [][]float64, t float64) float64 {
	i, end := 0, len(of)-1
	for i < end { // a binary search
		if mid := (i + end) / 2; e.times[mid+1] > t {
			end = mid
		} else {
			i = mid + 1
		}
	}
	return poly.Eval(of[i], t-e.times[i])
}

func positiveMod(x, m float64) float64 {
	if x = math.Mod(x, m); x < 0 {
		x += m
	}
	return x
}
