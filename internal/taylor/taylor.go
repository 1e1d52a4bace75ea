// Package taylor integrates small systems of ordinary differential equations
// by Taylor-series steps, with events located as roots of the series.
//
// A [System] gives the Taylor coefficients of its states and of the outputs
// derived from them. A step is as long as the last coefficients allow at the
// given tolerance; within it every output IS the polynomial of its
// coefficients, so a threshold crossing is a root of that polynomial and none
// is missed for falling between two step ends. The steps are returned as
// polynomial pieces.
//
// The step rule h = min_k (tol·scale/|x_k|)^(1/k) over the last two orders is
// that of Jorba and Zou, "A software package for the numerical integration of
// ODEs by means of high-order Taylor methods", Experimental Mathematics 14
// (2005), section 3.2, with their safety factor (from memory).
package taylor

import (
	"context"
	"errors"
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
)

// Order is the degree of the Taylor polynomials.
const Order = 16

// Series holds Taylor coefficients at one instant, ascending.
type Series [Order + 1]float64

// trimmed returns the coefficients without zeros at their end.
func (s *Series) trimmed() []float64 {
	n := len(s)
	for n > 1 && s[n-1] == 0 {
		n--
	}
	return s[:n]
}

// Guard watches one output for crossing a level.
type Guard struct {
	Output int
	Level  float64
	Rising bool    // fires when the output rises above Level; otherwise when it falls below
	Noise  float64 // how far beyond Level rounding alone may put the output
	Tag    int     // the system's own name for it
}

// System is a set of differential equations with modes.
type System interface {
	// Resume is called at the start and at every break, where the forcing may
	// jump. It may change the mode, not the states, but for one that the system follows
	// itself: its series are left constant, and it is set when the system is called next.
	// It returns false to stop.
	Resume(t float64, x []Series) bool
	// Expand fills x[i][1:] from x[i][0], and every y[j], at time t. It returns
	// for how long the series hold apart from the order that they have: +Inf unless terms
	// of the forcing beyond Order, or such that count for less than the tolerance until
	// then, were left out.
	Expand(t float64, x, y []Series) (reach float64)
	// Guards appends the guards of the present mode to dst.
	Guards(dst []Guard) []Guard
	// Fire is called when a guard fires, with the states at that time. It may
	// change mode and states, and returns false to stop.
	Fire(t float64, g Guard, x []Series) bool
}

// Problem is one integration.
type Problem struct {
	System System
	X0     []float64 // states at Breaks[0]
	Breaks []float64 // start, the times at which the forcing may jump, end; increasing
	Scale  []float64 // magnitude of each output, the unit of Tol
	Tol    float64   // error of a step, relative to Scale

	MaxSteps int // steps and events allowed
	Keep     int // how many of the outputs, counted from the first, to keep

	// Watch, unless nil, is called with every piece as it comes: the outputs over the
	// time from one instant to another. It must not change them.
	Watch func(from, to float64, y []Series)
}

// Solution holds the outputs that were to be kept as polynomial pieces. Without
// any it holds only the end.
type Solution struct {
	Breaks  []float64 // one more than pieces
	Coefs   []float64 // for each piece the Order+1 coefficients of each output
	Outputs int       // that were kept
	X       []float64 // states at the end
	Steps   int       // expansions computed
	Stopped bool      // the system asked to stop before the end
}

// Piece returns the coefficients of output j on piece i.
func (s *Solution) Piece(i, j int) []float64 {
	k := (i*s.Outputs + j) * (Order + 1)
	return s.Coefs[k : k+Order+1 : k+Order+1]
}

// ErrBudget is returned when the budget of steps and events runs out, as with
// modes that switch without end.
var ErrBudget = errors.New("step budget used up")

// ErrRange is returned when a state leaves the range of float64.
var ErrRange = errors.New("values beyond the range of float64")

// Solve integrates p from its first break to its last.
func Solve(ctx context.Context, p Problem) (*Solution, error) {
	n, m := len(p.X0), len(p.Scale)
	buf := make([]Series, n+m)
	x, y := buf[:n], buf[n:]
	for i, v := range p.X0 {
		x[i][0] = v
	}
	s := &Solution{Outputs: p.Keep}
	t := p.Breaks[0]
	if p.Keep > 0 {
		s.Breaks = append(make([]float64, 0, 2*len(p.Breaks)), t)
		s.Coefs = make([]float64, 0, 2*len(p.Breaks)*p.Keep*(Order+1))
	}
	var guards []Guard
	root := rootFinder{ranges: make([]span, m), known: make([]bool, m)}
	used := 0
	for _, end := range p.Breaks[1:] {
		if !p.System.Resume(t, x) {
			s.Stopped = true
		}
		for t < end && !s.Stopped {
			if used++; used > p.MaxSteps {
				return nil, fmt.Errorf("%w: %d at %g s", ErrBudget, p.MaxSteps, t)
			}
			if used&63 == 1 && ctx.Err() != nil {
				return nil, ctx.Err()
			}
			reach := p.System.Expand(t, x, y)
			s.Steps++
			h := end - t
			last := true
			if k := math.Min(reach, stepLength(y, p.Scale, p.Tol)); k < h {
				h, last = k, false
			}
			if !(t+h > t) {
				return nil, fmt.Errorf("%w: steps vanish at %g s", ErrBudget, t)
			}

			guards = p.System.Guards(guards[:0])
			root.step(y, h)
			fired := -1
			for i, g := range guards {
				if r, ok := root.first(&y[g.Output], h, g); ok && (fired < 0 || r < h) {
					h, fired, last = r, i, false
				}
			}

			for i := range x {
				x[i][0] = poly.Eval(x[i].trimmed(), h)
				if math.IsNaN(x[i][0]) || math.IsInf(x[i][0], 0) {
					return nil, fmt.Errorf("%w: state %d at %g s", ErrRange, i, t)
				}
			}
			next := math.Min(t+h, end)
			if last {
				next = end
			}
			if next > t && p.Keep > 0 {
				s.Breaks = append(s.Breaks, next)
				for j := range p.Keep {
					s.Coefs = append(s.Coefs, y[j][:]...)
				}
			}
			if next > t && p.Watch != nil {
				p.Watch(t, next, y)
			}
			t = next
			if fired >= 0 && !p.System.Fire(t, guards[fired], x) {
				s.Stopped = true
			}
		}
		if s.Stopped {
			break
		}
	}
	s.X = make([]float64, n)
	for i := range x {
		s.X[i] = x[i][0]
	}
	return s, nil
}

// stepLength returns the longest step at which the last two terms of every
// output stay below tol·scale, shortened by a safety factor: the terms beyond
// the last, a geometric tail, are covered by staying well inside the radius of
// convergence that the two suggest.
func stepLength(y []Series, scale []float64, tol float64) float64 {
	var a, b float64 // largest of the last two coefficients, relative to their scale
	for j := range y {
		if scale[j] != 0 && (y[j][Order-1] != 0 || y[j][Order] != 0) {
			a = max(a, math.Abs(y[j][Order-1])/scale[j])
			b = max(b, math.Abs(y[j][Order])/scale[j])
		}
	}
	h := math.Inf(1)
	if a > 0 {
		h = math.Exp(math.Log(tol/a) / (Order - 1))
	}
	if b > 0 {
		h = math.Min(h, math.Exp(math.Log(tol/b)/Order))
	}
	return h * safety
}

var safety = math.Exp(-0.7 / (Order - 1))

type span struct{ lo, hi float64 }

type rootFinder struct {
	y      []Series
	h      float64
	ranges []span // of the outputs over the step, where known
	known  []bool
	d      Series
	roots  []float64
}

// step begins a step of length h. An output is bounded over it when a guard asks.
func (f *rootFinder) step(y []Series, h float64) {
	f.y, f.h = y, h
	clear(f.known)
}

func (f *rootFinder) enclosed(j int) span {
	if !f.known[j] {
		f.ranges[j].lo, f.ranges[j].hi = poly.Range(f.y[j].trimmed(), f.h)
		f.known[j] = true
	}
	return f.ranges[j]
}

// first returns the first s in [0, h] at which the output passes the guard's
// level in its direction and goes beyond it by more than its noise. h may be
// shorter than the step.
func (f *rootFinder) first(y *Series, h float64, g Guard) (float64, bool) {
	r := f.enclosed(g.Output)
	if g.Rising && r.hi <= g.Level || !g.Rising && r.lo >= g.Level {
		return 0, false
	}
	f.d = *y
	f.d[0] -= g.Level
	d := f.d.trimmed()
	if !g.Rising {
		for i := range d {
			d[i] = -d[i]
		}
	}
	f.roots = poly.Roots(f.roots, d, 0, h)
	from := 0.0
	for k := 0; k <= len(f.roots); k++ {
		to := h
		if k < len(f.roots) {
			to = f.roots[k]
		}
		if to > from {
			if _, _, top, _ := poly.Extrema(d, from, to); top > g.Noise && poly.Eval(d, from+(to-from)/2) > 0 {
				return from, true
			}
		}
		from = to
	}
	return 0, false
}
