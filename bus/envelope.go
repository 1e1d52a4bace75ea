package bus

import (
	"container/heap"
	"math"
	"sort"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// envelope answers how much energy a repeated cycle of power takes at most in
// any window of time of given length:
//
//	D(L) = max over T of the integral of P from T-L to T
//
// with P continued periodically. Energy that the window returns is negative.
// In network calculus D is the smallest arrival curve of the cycle (Le Boudec
// and Thiran, Network Calculus, LNCS 2050, chapter 1; from memory).
type envelope struct {
	energy profile.Curve // integral of P from the start of the cycle [J]
	period float64
	total  float64 // energy of one cycle [J]
	up     float64 // highest power, at least 0: D grows no faster [W]
	down   float64 // highest returned power, at least 0: D falls no faster [W]
	burst  float64 // max over L of D(L) - mean L, at least 0 [J]

	ends []float64 // scratch
}

func newEnvelope(load profile.Curve) *envelope {
	load = load.Shift(-load.Start())
	e := &envelope{energy: load.Antiderivative(0), period: load.Duration()}
	e.total = e.energy.At(e.period)
	lo, hi := load.Extrema()
	e.up, e.down = math.Max(0, hi.V), math.Max(0, -lo.V)

	// The widest swing of energy less its mean course, over a window that may
	// cross the end of the cycle: all of it is periodic, so the swing is from
	// its lowest to its highest point.
	mean := e.mean()
	first := true
	var low, high float64
	var buf []float64
	for i := range e.energy.Pieces() {
		t0, t1, c := e.energy.Piece(i)
		buf = append(buf[:0], c...)
		if len(buf) > 1 {
			buf[1] -= mean
		}
		buf[0] -= mean * t0
		lo, _, hi, _ := poly.Extrema(buf, 0, t1-t0)
		if first || lo < low {
			low = lo
		}
		if first || hi > high {
			high = hi
		}
		first = false
	}
	e.burst = high - low
	return e
}

// mean returns the mean power [W].
func (e *envelope) mean() float64 { return e.total / e.period }

// worst returns D(length) [J] and the end of a window that takes it, in [0,
// period).
func (e *envelope) worst(length float64) (energy, end float64) {
	n := math.Floor(length / e.period)
	rest := length - n*e.period
	if rest < 0 {
		rest = 0
	}
	// The window's ends meet breakpoints of the cycle at these end times.
	e.ends = e.ends[:0]
	for i := range e.energy.Pieces() {
		t0, _, _ := e.energy.Piece(i)
		e.ends = append(e.ends, t0, math.Mod(t0+rest, e.period))
	}
	e.ends = append(e.ends, e.period)
	sort.Float64s(e.ends)

	energy = math.Inf(-1)
	var head, tail []float64
	for i := range len(e.ends) - 1 {
		t0, t1 := e.ends[i], e.ends[i+1]
		if !(t1 > t0) {
			continue
		}
		mid := t0 + (t1-t0)/2
		head = e.around(head, mid, t0)
		back := 0.0
		if mid < rest {
			back = e.period
		}
		tail = e.around(tail, mid-rest+back, t0-rest+back)
		head = poly.Add(head, head, poly.Scale(tail, tail, -1))
		if back > 0 {
			head[0] += e.total // the tail lies one cycle earlier
		}
		if _, _, hi, at := poly.Extrema(head, 0, t1-t0); hi > energy {
			energy, end = hi, t0+at
		}
	}
	return energy + n*e.total, end
}

// around returns the piece of the energy curve that holds at time mid, shifted
// to start at t.
func (e *envelope) around(dst []float64, mid, t float64) []float64 {
	i := sort.Search(e.energy.Pieces()-1, func(i int) bool {
		_, t1, _ := e.energy.Piece(i)
		return mid < t1
	})
	t0, _, c := e.energy.Piece(i)
	return poly.Shift(dst, c, t-t0)
}

// backlog bounds the sum of envelopes less a steady drain:
//
//	B = max over L >= 0 of  Σ D_k(L) - drain·L
//
// Between two lengths the sum rises no faster than Σ up - drain and falls no
// faster than Σ down + drain, so values at two lengths bound it between them;
// intervals are halved where that bound is highest until it lies within
// tolerance of the largest value found. upper is a true bound, lower is attained
// at length.
//
// When the mean power exceeds the drain there is no bound: upper is +Inf.
func backlog(es []*envelope, drain, tolerance float64) (lower, upper, length float64) {
	if len(es) == 0 {
		return 0, 0, 0
	}
	mean, burst, up, down, longest := 0.0, 0.0, -drain, drain, 0.0
	for _, e := range es {
		mean += e.mean()
		burst += e.burst
		up += e.up
		down += e.down
		longest = math.Max(longest, e.period)
	}
	if up <= 0 {
		return 0, 0, 0 // never more than is drained
	}
	slack := drain - mean
	if slack < -1e-12*math.Max(drain, up) {
		return math.Inf(1), math.Inf(1), 0
	}
	// Beyond burst/slack the bound burst - slack·L is below 0, the value at L = 0.
	end := longest * 64
	if slack > 0 {
		end = math.Min(end, burst/slack)
	}

	value := func(l float64) float64 {
		s := -drain * l
		for _, e := range es {
			d, _ := e.worst(l)
			s += d
		}
		return s
	}
	bound := func(c cell) cell {
		// Lines from both ends with slopes up and -down meet at the top.
		top := (c.v0*down + c.v1*up + (c.l1-c.l0)*up*down) / (up + down)
		// Nor can it pass the linear bound of the cycles.
		c.top = math.Max(math.Max(c.v0, c.v1), math.Min(top, burst-slack*c.l0))
		return c
	}
	var open cells
	const first = 32
	l, v := 0.0, 0.0
	for i := 1; i <= first; i++ {
		r := end * float64(i) / first
		w := value(r)
		if w > lower {
			lower, length = w, r
		}
		heap.Push(&open, bound(cell{l0: l, v0: v, l1: r, v1: w}))
		l, v = r, w
	}
	// Windows longer than end, where slack is too small to end the search.
	beyond := math.Max(0, burst-slack*end)
	for range 4000 {
		if open[0].top <= lower+tolerance {
			break
		}
		c := heap.Pop(&open).(cell)
		m := c.l0 + (c.l1-c.l0)/2
		w := value(m)
		if w > lower {
			lower, length = w, m
		}
		heap.Push(&open, bound(cell{l0: c.l0, v0: c.v0, l1: m, v1: w}))
		heap.Push(&open, bound(cell{l0: m, v0: w, l1: c.l1, v1: c.v1}))
	}
	upper = math.Max(lower, open[0].top)
	if beyond > upper {
		upper = math.Min(burst, beyond)
	}
	return lower, upper, length
}

// cell is a range of window lengths with the values at its ends and a bound on
// the values between.
type cell struct{ l0, v0, l1, v1, top float64 }

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
