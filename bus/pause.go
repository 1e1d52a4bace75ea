package bus

import (
	"context"
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// pause answers what a station that may stand still at one instant of its cycle,
// with the power w, takes at most in windows in which it does. The window of
// length L ends a time τ after the station has gone on, and begins y before it
// stood still, so that it stands still for L - τ - y >= 0. With the leak b >= 0
//
//	α(τ) = ∫_0^τ e^(-b s) (P(t_p+τ-s) - w) ds    what came after
//	β(y) = ∫_0^y e^(-b s) (P(t_p-s) - w) ds      what came before
//
// relative to standing still, the window takes
//
//	w σ(L) + α(τ) + e^(-b (L-y)) β(y)
//
// and where what was taken before it counts too, κ e^(-b L) B(t_p-y) more: β(y) + κ e^(-b y)
// B(t_p-y) in place of β(y).
//
// That τ and y are apart but for τ + y <= L makes the greatest value easy to
// find: unless the station does not stand still at all, which the windows of the
// strict cycle cover, τ is where α has a local maximum, or 0, and y where e^(b y)
// β(y) has one, or 0.
//
// # One pause is enough
//
// Let a window with given ends pass several instants at which the station may
// wait, a time s_i before its end without waits, and let the latest i of the waits
// last U_i in all. With z_i = e^(-b U_i) what is taken between waits counts in
// proportion to z_i, and what is taken during wait i is w_i e^(-b s_i) (z_(i-1) -
// z_i)/b. All this is linear in the z_i, which are bound by 1 >= z_1 >= ... >= z_n
// with the last one given by L. The maximum of a linear function over that simplex
// is at a corner, where all z_i are either 1 or z_n: one wait is as long as all
// together and the others have no length. Without leak the same follows with U_i in
// place of z_i. So the worst of all schedules has one wait, at one of the
// instants, and the worst over them is found exactly.
//
// # Whole cycles
//
// Let X be the energy of a whole cycle that ends at t_p, relative to standing
// still. As α(τ+T) = α(τ) + e^(-b τ) X and β(y+T) = X + e^(-b T) β(y), a whole cycle
// before the pause gives e^(-b (L-y)) X more than standing still as long, and e^(-b
// τ) X more if it is run after the pause instead. Hence if X <= 0 neither τ nor y
// exceed a cycle; if X > 0 only τ does, by as many cycles as there is time for. Of n
// of them
//
//	α(τ+nT) = α(τ) + e^(-b τ) K_n,   K_n = X (1 - e^(-n b T))/(1 - e^(-b T))
type pause struct {
	at     float64       // t_p, in the cycle [s]
	power  float64       // w [W]
	leak   float64       // b [1/s], >= 0
	weight float64       // κ, of what was taken before the window
	lift   profile.Curve // B(t_p-y) over y
	period float64       // [s]
	cycle  float64       // X [J]; 0 for what happens once
	after  track         // α, and e^(-b τ)
	prior  track         // β, and e^(-b y)
	marks  []mark        // local maxima of α, each higher than those before
	before []mark        // of e^(b y) β(y)

	// The time μ as which the power counts that the window ends with, or, run
	// backwards, seems to start with: μ P is μ (α' + w + b α) and μ (w + e^(b y) β').
	last, first float64

	cached   float64 // K_n of which more holds the marks
	more     []mark
	work     []float64
	critical []float64
}

// mark is a local maximum.
type mark struct{ at, value, decay float64 }

// track holds two functions as polynomial pieces.
type track struct {
	times        []float64
	value, decay [][]float64
}

// newPause looks at a cycle that begins at t_p, and likewise what it can have taken before
// each time of it, if that counts.
func newPause(ctx context.Context, from, lift profile.Curve, w Wait, leak, before float64, once bool) (*pause, error) {
	p := &pause{at: w.At, power: w.Power, leak: leak, weight: before, period: from.Duration()}
	p.marks, p.before = []mark{{decay: 1}}, []mark{{decay: 1}}
	if before > 0 {
		var err error
		if p.lift, err = reversed(lift); err != nil {
			return nil, err
		}
	}
	lo, hi := from.Extrema()
	scale := math.Max(math.Abs(hi.V-p.power), math.Abs(lo.V-p.power)) * p.period
	if leak*p.period > 1 {
		scale /= leak * p.period
	}
	if scale == 0 {
		return p, nil
	}
	solve := func(load profile.Curve, back bool) (track, error) {
		l := &departing{forcing: newForcing(load), still: p.power, leak: leak, back: back}
		sol, err := taylor.Solve(ctx, taylor.Problem{
			System: l, X0: []float64{0, 1}, Breaks: l.breaks(), Scale: []float64{scale, 1},
			Tol: Tolerance, MaxSteps: budget(load.Pieces()), Keep: 2,
		})
		if err != nil {
			return track{}, err
		}
		t := track{times: sol.Breaks}
		for i := range len(sol.Breaks) - 1 {
			t.value = append(t.value, trimmed(sol.Piece(i, 0)))
			t.decay = append(t.decay, trimmed(sol.Piece(i, 1)))
		}
		return t, nil
	}
	if !once || w.At == 0 {
		var err error
		if p.after, err = solve(from, false); err != nil {
			return nil, err
		}
		p.marks = p.peaks(p.marks, 0)
	}
	if !once {
		n := len(p.after.value) - 1
		p.cycle = poly.Eval(p.after.value[n], p.after.times[n+1]-p.after.times[n])
	}
	if !once || w.At > 0 {
		back, err := reversed(from)
		if err != nil {
			return nil, err
		}
		if p.prior, err = solve(back, true); err != nil {
			return nil, err
		}
		p.before = p.heights(p.before)
	}
	return p, nil
}

// weigh sets the time as which the power at the end of windows counts.
func (p *pause) weigh(ending float64, back bool) {
	p.cached = 0
	if back {
		p.first = ending
		p.before = p.heights(p.before)
		return
	}
	p.last = ending
	p.marks = p.peaks(p.marks, 0)
}

func trimmed(c []float64) []float64 {
	for len(c) > 1 && c[len(c)-1] == 0 {
		c = c[:len(c)-1]
	}
	return c
}

// departing is, for a curve P of power over time, either α' = P - w - b α or, back,
// β' = e^(-b y) (P - w), both with the decay e' = -b e, as a [taylor.System].
type departing struct {
	forcing
	still, leak float64
	back        bool
	p           taylor.Series
}

func (d *departing) Resume(float64, []taylor.Series) bool             { return true }
func (d *departing) Guards(dst []taylor.Guard) []taylor.Guard         { return dst }
func (d *departing) Fire(float64, taylor.Guard, []taylor.Series) bool { return true }
func (d *departing) Expand(t float64, x, y []taylor.Series) float64 {
	reach := d.expand(t, &d.p)
	d.p[0] -= d.still
	v, e := &x[0], &x[1]
	for k := range taylor.Order {
		e[k+1] = -d.leak * e[k] / float64(k+1)
		if d.back {
			v[k+1] = taylor.ProductCoef(e, &d.p, k) / float64(k+1)
		} else {
			v[k+1] = (d.p[k] - d.leak*v[k]) / float64(k+1)
		}
	}
	y[0], y[1] = *v, *e
	return reach
}

// peaks returns the local maxima of α(τ) + k e^(-b τ), and of what the power adds, in
// dst, that at 0 first.
func (p *pause) peaks(dst []mark, k float64) []mark {
	dst = append(dst[:0], mark{0, k + p.last*p.power, 1})
	t := p.after
	for i, v := range t.value {
		h := t.times[i+1] - t.times[i]
		p.work = append(p.work[:0], v...)
		if p.last != 0 {
			p.work = poly.Scale(p.work, p.work, 1+p.last*p.leak)
			p.work = poly.Add(p.work, p.work, poly.Scale(nil, poly.Derivative(nil, v), p.last))
			p.work[0] += p.last * p.power
		}
		if k != 0 {
			p.critical = poly.Scale(p.critical, t.decay[i], k)
			p.work = poly.Add(p.work, p.work, p.critical)
		}
		if _, hi := poly.Range(p.work, h); hi <= dst[len(dst)-1].value {
			continue
		}
		try := func(x float64) {
			if value := poly.Eval(p.work, x); value > dst[len(dst)-1].value {
				dst = append(dst, mark{t.times[i] + x, value, poly.Eval(t.decay[i], x)})
			}
		}
		if p.last != 0 {
			try(0) // the power may have jumped
		}
		if len(p.work) > 2 {
			p.critical = poly.Roots(p.critical[:0], poly.Derivative(nil, p.work), 0, h)
			for _, x := range p.critical {
				try(x)
			}
		}
		try(h)
	}
	return dst
}

// heights returns the local maxima of e^(b y) β(y), and of what the power adds, in dst.
func (p *pause) heights(dst []mark) []mark {
	dst = append(dst[:0], mark{0, p.first * p.power, 1})
	if p.weight > 0 {
		dst[0].value += p.weight * p.lift.At(0)
	}
	t := p.prior
	for i, v := range t.value {
		h := t.times[i+1] - t.times[i]
		if p.weight > 0 {
			b := on(p.lift, t.times[i], t.times[i+1])
			v = poly.Add(nil, v, poly.Scale(b, poly.Mul(nil, b, t.decay[i]), p.weight))
		}
		if p.first != 0 {
			still := poly.Scale(nil, t.decay[i], p.power)
			v = poly.Add(nil, v, poly.Scale(still, poly.Add(still, still, poly.Derivative(nil, v)), p.first))
		}
		try := func(x float64) {
			m := mark{t.times[i] + x, poly.Eval(v, x), poly.Eval(t.decay[i], x)}
			if last := dst[len(dst)-1]; m.value > last.value*math.Exp(-p.leak*(m.at-last.at)) {
				dst = append(dst, m)
			}
		}
		// (e^(b y) β)' = e^(b y) (β' + b β)
		slope := poly.Derivative(nil, v)
		if p.leak > 0 {
			slope = poly.Add(slope, slope, poly.Scale(nil, v, p.leak))
		}
		if p.first != 0 {
			try(0)
		}
		for _, x := range poly.Roots(nil, slope, 0, h) {
			try(x)
		}
		try(h)
	}
	return dst
}

// worst returns the most that windows of a length take beyond w σ(L), and the one
// that does: how long after the pause it ends and how long before it begins.
func (p *pause) worst(length float64) (energy, after, before float64) {
	energy = math.Inf(-1)
	if !(p.cycle > 0) {
		return p.fit(p.marks, length, 0, energy, 0, 0)
	}
	n := math.Floor(length / p.period)
	for k := n; k >= math.Max(0, n-2); k-- {
		marks := p.marks
		if kn := p.cycles(k); kn > 0 {
			if p.leak == 0 {
				energy -= kn
				energy, after, before = p.fit(marks, length, k, energy, after, before)
				energy += kn
				continue
			}
			if kn != p.cached {
				p.cached, p.more = kn, p.peaks(p.more, kn)
			}
			marks = p.more
		}
		energy, after, before = p.fit(marks, length, k, energy, after, before)
	}
	return energy, after, before
}

// cycles returns K_n.
func (p *pause) cycles(n float64) float64 {
	if p.leak == 0 {
		return n * p.cycle
	}
	return p.cycle * math.Expm1(-n*p.leak*p.period) / math.Expm1(-p.leak*p.period)
}

// fit seeks the best pair of marks for which there is time, after n cycles more.
func (p *pause) fit(marks []mark, length, n, energy, after, before float64) (float64, float64, float64) {
	spare := length - n*p.period
	j := len(p.before) - 1
	for _, m := range marks {
		for j >= 0 && m.at+p.before[j].at > spare {
			j--
		}
		if j < 0 {
			break
		}
		b := p.before[j]
		if v := m.value + math.Exp(-p.leak*(length-b.at))*b.value; v > energy {
			energy, after, before = v, m.at+n*p.period, b.at
		}
	}
	return energy, after, before
}
