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
// so that one polynomial curve u gives all windows by differences. The leak may
// be negative, if not below -maxGrowth over the period: u is integrated forward.
type envelope struct {
	leak   float64       // b [1/s]
	stored profile.Curve // u [J], from time 0
	period float64
	mean   float64 // Pm [W]
	lowest float64 // min u [J]
	up     float64 // highest power, at least 0: D grows no faster over σ [W]
	down   float64 // highest returned power, at least 0: D falls no faster over σ [W]
	burst  float64 // max u - min u [J]: D(L) <= Pm σ + burst, if the leak is not negative

	ends       []float64 // scratch
	head, tail []float64
}

const maxGrowth = 5

func newEnvelope(ctx context.Context, load profile.Curve, leak float64) (*envelope, error) {
	load = load.Shift(-load.Start())
	e := &envelope{leak: leak, period: load.Duration(), mean: load.Mean()}
	lo, hi := load.Extrema()
	e.up, e.down = math.Max(0, hi.V), math.Max(0, -lo.V)

	l := &leaky{forcing: newForcing(load), mean: e.mean, leak: leak}
	swing := math.Max(hi.V-e.mean, e.mean-lo.V)
	scale := swing * e.period
	if leak*e.period > 1 {
		scale = swing / leak
	}
	if !(scale <= math.MaxFloat64) {
		return nil, fmt.Errorf("%w: energy of a cycle", ErrRange)
	}
	solve := func(start float64, discard bool) (*taylor.Solution, error) {
		l.forcing.piece = 0
		return taylor.Solve(ctx, taylor.Problem{
			System: l, X0: []float64{start}, Breaks: l.breaks(),
			Scale: []float64{scale}, Tol: Tolerance, MaxSteps: budget(load), Discard: discard,
		})
	}
	start := 0.0
	if leak != 0 {
		sol, err := solve(0, true)
		if err != nil {
			return nil, err
		}
		start = sol.X[0] / -math.Expm1(-leak*e.period)
	}
	sol, err := solve(start, false)
	if err != nil {
		return nil, err
	}
	pieces := make([][]float64, len(sol.Breaks)-1)
	for i := range pieces {
		c := sol.Piece(i, 0)
		for len(c) > 1 && c[len(c)-1] == 0 {
			c = c[:len(c)-1]
		}
		pieces[i] = c
	}
	if e.stored, err = profile.NewCurve(sol.Breaks, pieces); err != nil {
		return nil, fmt.Errorf("%w: energy of a cycle: %v", ErrRange, err)
	}
	low, high := e.stored.Extrema()
	e.lowest, e.burst = low.V, high.V-low.V
	return e, nil
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

// worst returns max over T of u(T) - e^(-b L) u(T-L), to which the mean adds Pm
// σ(L), and the end of a window that takes it, in [0, period).
func (e *envelope) worst(length float64) (energy, end float64) {
	rest := positiveMod(length, e.period)
	kept := math.Exp(-e.leak * length)
	// The window's ends meet breakpoints of the cycle at these end times.
	e.ends = e.ends[:0]
	for i := range e.stored.Pieces() {
		t0, _, _ := e.stored.Piece(i)
		e.ends = append(e.ends, t0, math.Mod(t0+rest, e.period))
	}
	e.ends = append(e.ends, e.period)
	sort.Float64s(e.ends)

	energy = math.Inf(-1)
	for i := range len(e.ends) - 1 {
		t0, t1 := e.ends[i], e.ends[i+1]
		if !(t1 > t0) {
			continue
		}
		mid := t0 + (t1-t0)/2
		e.head = e.around(e.head, mid, t0)
		if kept > 0 {
			lag := rest
			if mid < rest {
				lag -= e.period
			}
			e.tail = e.around(e.tail, mid-lag, t0-lag)
			e.head = poly.Add(e.head, e.head, poly.Scale(e.tail, e.tail, -kept))
		}
		if _, hi := poly.Range(e.head, t1-t0); hi <= energy {
			continue
		}
		if _, _, hi, at := poly.Extrema(e.head, 0, t1-t0); hi > energy {
			energy, end = hi, t0+at
		}
	}
	return energy, end
}

// around returns the piece of the stored energy that holds at time mid, shifted
// to start at t.
func (e *envelope) around(dst []float64, mid, t float64) []float64 {
	i := sort.Search(e.stored.Pieces()-1, func(i int) bool {
		_, t1, _ := e.stored.Piece(i)
		return mid < t1
	})
	t0, _, c := e.stored.Piece(i)
	return poly.Shift(dst, c, t-t0)
}

func positiveMod(x, m float64) float64 {
	if x = math.Mod(x, m); x < 0 {
		x += m
	}
	return x
}
