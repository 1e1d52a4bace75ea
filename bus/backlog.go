package bus

import (
	"container/heap"
	"context"
	"math"
)

// How closely the worst window is bracketed, relative to the swings of energy of
// the stations' cycles: for a figure that is printed, and on the way to it.
const (
	fine   = 1e-4
	coarse = 2e-2
)

// fineFor is fine for so many stations: coarser for many, whose common bound is
// further off anyway than what any of them does.
func fineFor(stations int) float64 {
	return fine * math.Min(10, math.Max(1, float64(stations)/50))
}

// backlog is the most by which the energy that stations take in a window can
// exceed what a steady drain carries away. lower is attained in windows of the
// length given, upper is a bound.
type backlog struct {
	lower, upper float64 // [J], >= 0
	length       float64 // [s]
	chain        int     // the one that bounds that window best, from 1; 0: none
}

// worstBacklog bounds the sum of envelopes, all of the same leak b, less a drain
// [W] that leaks away alike:
//
//	B = max over L >= 0 of  Σ D_k(L) - drain σ(L)
//
// Over σ the sum rises no faster than Σ up - drain and falls no faster than
// Σ down + drain, so values at two lengths bound it between them; intervals are
// halved where that bound is highest until it lies within tolerance, relative to
// the swings of energy of the cycles, of the largest value found.
//
// Without leak there is no bound when the mean power exceeds the drain, and with
// a negative leak perhaps none when it comes near: upper is then +Inf.
//
// Each chain gives another bound for every length, of which the least counts.
func worstBacklog(ctx context.Context, es []*envelope, drain, leak, tolerance float64, chains ...chain) (backlog, error) {
	return worstEnding(ctx, es, drain, leak, 0, tolerance, chains...)
}

// worstEnding does so where the power at the end of the window counts too: with the
// envelopes D_k(L; μ). At L = 0 they are μ times the highest powers. Slopes are as they
// are without, since a window that is longer at its start ends as before.
func worstEnding(ctx context.Context, es []*envelope, drain, leak, ending, tolerance float64, chains ...chain) (backlog, error) {
	var s search
	s.leak, s.ending = leak, ending
	s.sums = append(s.sums, sumOfEnvelopes(es, drain, 0))
	for _, c := range chains {
		// κ e^(-b L) (Won-W0) = lifted - b lifted σ
		s.sums = append(s.sums, sumOfEnvelopes(c.es, drain-leak*c.lifted, c.lifted))
	}
	s.up, s.down = -drain, drain
	longest, surplus, at0 := 0.0, 0.0, 0.0
	s.linear = drain
	for _, e := range es {
		s.linear -= e.rate
		s.burst += e.burst + ending*e.up
		s.up += e.up
		surplus += e.surplus
		s.down += e.down
		longest = math.Max(longest, e.period)
	}
	if ending > 0 {
		at0 = s.value(0)
	}
	if s.up <= 0 {
		s.best.upper = s.best.lower + ending*surplus
		return s.best, nil // never more than is drained
	}
	// Where σ > burst/linear the bound burst - linear σ is below 0, the value at 0.
	end := s.sigmaMax()
	if s.linear > 0 {
		end = math.Min(end, s.burst/s.linear)
	}
	beyond := 0.0
	if leak <= 0 {
		if s.linear < -1e-12*math.Max(drain, s.up) {
			return backlog{upper: math.Inf(1)}, nil
		}
		longest *= 64
		if leak < 0 { // σ grows like e^(|b| L)
			longest = math.Min(longest, -300/leak)
		}
		if far := s.sigma(longest); far < end {
			end, beyond = far, math.Min(s.burst, s.burst-s.linear*far)
		}
	}
	up, down := s.up, s.down
	for _, c := range chains { // the steepest of all sums
		steeper := -leak * c.lifted
		for i, e := range c.es {
			steeper += e.down - es[i].down
		}
		s.up, s.down = math.Max(s.up, up+leak*c.lifted), math.Max(s.down, down+steeper)
	}
	const rounding = 1e-12
	best, err := s.run(ctx, 0, at0, end, tolerance*s.burst+rounding*(s.up+s.down)*end)
	best.upper = math.Max(best.upper, beyond) + ending*surplus
	return best, err
}

// worstFrom bounds the same for windows of some length and longer, with a positive leak.
func worstFrom(ctx context.Context, es []*envelope, drain, leak, length float64) (backlog, error) {
	s := search{leak: leak, linear: drain, up: -drain, down: drain, sums: []envelopes{sumOfEnvelopes(es, drain, 0)}}
	for _, e := range es {
		s.linear -= e.rate
		s.burst += e.burst
		s.up += e.up
		s.down += e.down
	}
	begin, end := s.sigma(length), s.sigmaMax()
	if s.up <= 0 || !(begin < end) {
		return backlog{}, nil
	}
	return s.run(ctx, begin, s.value(begin), end, coarse*s.burst)
}

// search is one search for the worst window.
type search struct {
	sums         []envelopes
	leak, ending float64
	// The value is at most burst - linear σ, which is the slack but for a
	// negative leak, and its slope over σ between -down and up.
	burst, linear, up, down float64
	best                    backlog
	open                    cells
	parts                   []float64 // scratch
}

// envelopes is a sum of them, less a drain.
type envelopes struct {
	of    []several
	slack float64 // drain less the mean power [W]
	less  float64 // [J]
}

func sumOfEnvelopes(es []*envelope, drain, less float64) envelopes {
	s := envelopes{slack: drain, less: less}
	index := map[*envelope]int{}
	for _, e := range es {
		s.slack -= e.mean
		if k, known := index[e]; known {
			s.of[k].count++
			continue
		}
		index[e] = len(s.of)
		s.of = append(s.of, several{e, 1})
	}
	return s
}

// several is the envelope of a number of equal stations.
type several struct {
	*envelope
	count float64
}

// sigmaMax returns σ of the endless window.
func (s *search) sigmaMax() float64 {
	if s.leak <= 0 {
		return math.Inf(1)
	}
	return 1 / s.leak
}

func (s *search) sigma(length float64) float64 { return sigma(s.leak, length) }

// endless is the length, times the leak, from which on windows do not differ in
// floating point: e^-40 = 4e-18.
const endless = 40

func (s *search) length(sigma float64) float64 {
	if s.leak == 0 {
		return sigma
	}
	x := -math.Log1p(-math.Min(1, s.leak*sigma))
	if s.leak > 0 {
		x = math.Min(x, endless)
	}
	return x / s.leak
}

// value returns the least of the sums, or that of the first when it is no more than the
// best so far.
func (s *search) value(sigma float64) float64 {
	length := s.length(sigma)
	v, chain := s.sum(&s.sums[0], sigma, length), 0
	for k := 1; k < len(s.sums) && v > s.best.lower; k++ {
		if w := s.sum(&s.sums[k], sigma, length); w < v {
			v, chain = w, k
		}
	}
	if v > s.best.lower {
		s.best.lower, s.best.length, s.best.chain = v, length, chain
	}
	return v
}

func (s *search) sum(es *envelopes, sigma, length float64) float64 {
	v := -es.slack*sigma - es.less
	s.parts = append(s.parts[:0], make([]float64, (len(es.of)+chunk-1)/chunk)...)
	inChunks(len(es.of), func(k, from, to int) {
		for _, e := range es.of[from:to] {
			d, _ := e.worstEnding(length, s.ending)
			s.parts[k] += e.count * d
		}
	})
	for _, d := range s.parts {
		v += d
	}
	return v
}

func (s *search) push(c cell) {
	// Lines from both ends with slopes up and -down meet at the top.
	top := (c.v0*s.down + c.v1*s.up + (c.s1-c.s0)*s.up*s.down) / (s.up + s.down)
	// Nor can it pass the linear bound of the cycles.
	linear := s.burst - math.Min(s.linear*c.s0, s.linear*c.s1)
	c.top = math.Max(math.Max(c.v0, c.v1), math.Min(top, linear))
	heap.Push(&s.open, c)
}

func (s *search) run(ctx context.Context, begin, at0, end, tolerance float64) (backlog, error) {
	const first = 16
	c := cell{s0: begin, v0: at0}
	for i := 1; i <= first; i++ {
		if err := ctx.Err(); err != nil {
			return backlog{}, err
		}
		c.s1 = begin + (end-begin)*float64(i)/first
		c.v1 = s.value(c.s1)
		s.push(c)
		c.s0, c.v0 = c.s1, c.v1
	}
	for range 4000 {
		if s.open[0].top <= s.best.lower+tolerance {
			break
		}
		if err := ctx.Err(); err != nil {
			return backlog{}, err
		}
		c := heap.Pop(&s.open).(cell)
		m := c.s0 + (c.s1-c.s0)/2
		v := s.value(m)
		s.push(cell{s0: c.s0, v0: c.v0, s1: m, v1: v})
		s.push(cell{s0: m, v0: v, s1: c.s1, v1: c.v1})
	}
	s.best.upper = math.Max(s.best.lower, s.open[0].top)
	return s.best, nil
}

// cell is a range of σ with the values at its ends and a bound on the values
// between.
type cell struct{ s0, v0, s1, v1, top float64 }

// cells is a [heap.Interface] with the highest bound first.
type cells []cell

func (h cells) Len() int           { return len(h) }
func (h cells) Less(i, j int) bool { return h[i].top > h[j].top }
func (h cells) Swap(i, j int)      { h[i], h[j] = h[j], h[i] }
func (h *cells) Push(x any)        { *h = append(*h, x.(cell)) }
func (h *cells) Pop() any {
	old := *h
	c := old[len(old)-1]
	*h = old[:len(old)-1]
	return c
}
