package bus

import (
	"container/heap"
	"context"
	"fmt"
	"math"
	"sort"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// Extreme is a bracket around the extreme voltage over all phases.
type Extreme struct {
	Bound    float64   // not passed at any phases [V]
	Attained float64   // at these offsets [V]
	Offsets  []float64 // of the stations; the first is 0 [s]
	Result   *Result   // the simulation at these offsets
	Boxes    int       // boxes of phases that were looked at
}

// maxBoxes bounds the work on one extreme.
const maxBoxes = 20_000

// LowestOverPhases returns the lowest voltage that strictly periodic stations, at
// most four, reach within a time horizon [s] from the no-load voltage, over all
// phases of the others against the first: bracketed to tolerance [V], or as far as
// a budget goes. Over some common multiples of the periods that is what happens at
// worst. Where [Bus.AnyPhase] adds up worst windows on a line, this simulates the bus.
//
// # How
//
// Branch and bound on the offsets. Let those of a box be o_k ± h_k. At every instant
// station k draws at most the highest power that it has within h_k of it, and the
// bus under the sum of these powers is a bound for the box:
//
//	P̄_k(t) = max over |d| <= h_k of P_k(t - o_k - d)
//
// For the voltage of the bank follows one differential equation of the first order
// whose right side falls with P, and the bus voltage at a given bank voltage
// falls with P too, so that of two courses that start alike the one with more power
// at every instant is nowhere above the other (comparison of solutions, any text on
// ordinary differential equations). The box whose bound is lowest is halved until
// bound and what a simulation at the middle of a box attains are close.
//
// That needs a bus without memory: it is refused where a brake resistor could come
// on, and for supplies that shut down, fold back, or have a peak rating or an
// inductance. The bus is [Bus.Low].
func (b Bus) LowestOverPhases(ctx context.Context, powers []profile.Curve, horizon, tolerance float64) (*Extreme, error) {
	return b.Low().extremeOverPhases(ctx, powers, horizon, tolerance, -1)
}

// HighestOverPhases does the same for the highest voltage, on [Bus.High].
func (b Bus) HighestOverPhases(ctx context.Context, powers []profile.Curve, horizon, tolerance float64) (*Extreme, error) {
	return b.High().extremeOverPhases(ctx, powers, horizon, tolerance, 1)
}

// box is a range of offsets, with a bound on the voltage times the sign.
type box struct {
	middle, half []float64
	bound        float64
}

// boxes is a [heap.Interface] with the highest bound first.
type boxes []box

func (h boxes) Len() int           { return len(h) }
func (h boxes) Less(i, j int) bool { return h[i].bound > h[j].bound }
func (h boxes) Swap(i, j int)      { h[i], h[j] = h[j], h[i] }
func (h *boxes) Push(x any)        { *h = append(*h, x.(box)) }
func (h *boxes) Pop() any {
	old := *h
	x := old[len(old)-1]
	*h = old[:len(old)-1]
	return x
}

func (b Bus) extremeOverPhases(ctx context.Context, powers []profile.Curve, horizon, tolerance, sign float64) (*Extreme, error) {
	if err := b.checkExact(powers, horizon, tolerance); err != nil {
		return nil, err
	}
	e := &Extreme{Attained: math.Inf(int(-sign))}
	first := box{make([]float64, len(powers)), make([]float64, len(powers)), 0}
	for i, p := range powers[1:] {
		first.middle[i+1], first.half[i+1] = p.Duration()/2, p.Duration()/2
	}
	var open boxes
	look := func(x box) error {
		e.Boxes++
		// What the middle attains, and no phases of the box pass.
		r, v, err := b.atPhases(ctx, powers, x.middle, nil, horizon, sign)
		if err != nil {
			return err
		}
		if e.Result == nil || sign*v > sign*e.Attained {
			e.Attained, e.Offsets, e.Result = v, x.middle, r
		}
		if _, v, err = b.atPhases(ctx, powers, x.middle, x.half, horizon, sign); err != nil {
			return err
		}
		x.bound = sign * v
		heap.Push(&open, x)
		return nil
	}
	if err := look(first); err != nil {
		return nil, err
	}
	for e.Boxes < maxBoxes && len(powers) > 1 && open[0].bound > sign*e.Attained+tolerance {
		x := heap.Pop(&open).(box)
		// Across the side along which the power of its station changes most.
		side, most := 1, -1.0
		for k := 1; k < len(powers); k++ {
			lo, hi := powers[k].Extrema()
			if w := x.half[k] / powers[k].Duration() * (hi.V - lo.V); w > most {
				side, most = k, w
			}
		}
		for _, to := range []float64{-1, 1} {
			part := box{append([]float64(nil), x.middle...), append([]float64(nil), x.half...), 0}
			part.half[side] /= 2
			part.middle[side] += to * part.half[side]
			if err := look(part); err != nil {
				return nil, err
			}
		}
	}
	e.Bound = sign * math.Max(open[0].bound, sign*e.Attained)
	return e, nil
}

func (b Bus) checkExact(powers []profile.Curve, horizon, tolerance float64) error {
	var f profile.Faults
	f.Under("bus", b.Validate())
	if b.Source == nil {
		f.Add("bus.source", nil, "a source; without one the bank only runs down")
	}
	if n := len(powers); n < 1 || n > 4 {
		f.Add("stations", n, "1 to 4 of them")
	}
	most := 0.0
	for i, p := range powers {
		if p.Pieces() == 0 {
			f.Add(fmt.Sprintf("stations[%d]", i), "an empty curve", "a cycle of power over time")
			continue
		}
		most += float64(p.Pieces()) * horizon / p.Duration()
	}
	if f.Positive("horizon", horizon, "s") && !(most <= witnessPieces) {
		f.Add("horizon", horizon, fmt.Sprintf("at most %d pieces of power in all", witnessPieces))
	}
	f.Positive("tolerance", tolerance, "V")
	for i, s := range supplies(b.Source) {
		plain := true
		switch s := s.(type) {
		case SwitchMode:
			plain = s.Overload == 0 && s.PeakCurrent == 0 && s.OverVoltage == 0
		case Resistive, Battery:
		default:
			plain = false
		}
		if !plain {
			f.Add("bus.source", fmt.Sprintf("%T, supply %d", s, i+1), "supplies without memory: what they give follows from the voltage alone")
		}
	}
	if b.TripsRelease {
		f.Add("bus.tripsRelease", true, "false")
	}
	return f.Err()
}

// atPhases simulates the stations at offsets and returns the extreme voltage; with
// half it is that of the worst powers of the box.
func (b Bus) atPhases(ctx context.Context, powers []profile.Curve, offsets, half []float64, horizon, sign float64) (*Result, float64, error) {
	loads := make([]profile.Curve, len(powers))
	for i, p := range powers {
		if half != nil && half[i] > 0 {
			p = worstWithin(p, half[i], -sign)
		}
		var err error
		if loads[i], err = Periodic(p, offsets[i], horizon); err != nil {
			return nil, 0, err
		}
	}
	load, err := profile.Sum(loads...)
	if err != nil {
		return nil, 0, err
	}
	r, err := b.Simulate(ctx, load, State{Voltage: b.Source.NoLoadVoltage()})
	if err != nil {
		return nil, 0, err
	}
	if r.Collapsed {
		return r, 0, nil
	}
	for _, br := range b.Brakes {
		if half != nil && r.Highest.V >= br.OnVoltage {
			var f profile.Faults
			f.Add("bus.brakes", br.OnVoltage, fmt.Sprintf("above %.4g V, which the bus may reach: a resistor that is on or off is memory", r.Highest.V))
			return nil, 0, f.Err()
		}
	}
	if sign > 0 {
		return r, r.Highest.V, nil
	}
	return r, r.Lowest.V, nil
}

// worstWithin returns the highest, or with sign -1 the lowest, value that a cycle
// has within h of each instant; at least that where pieces are too short to tell.
func worstWithin(c profile.Curve, h, sign float64) profile.Curve {
	period := c.Duration()
	lo, hi := c.Extrema()
	top := hi.V
	if sign < 0 {
		top = lo.V
	}
	flat := func() profile.Curve {
		p, _ := profile.Constant(top, c.Start(), c.End())
		return p
	}
	if 2*h >= period {
		return flat()
	}
	// The cycle from one before to one after, and its local extremes: interior
	// ones and both sides of every break.
	all := c.Repeat(3).Shift(-period - c.Start())
	type peak struct{ at, value float64 }
	var peaks []peak
	cuts := []float64{0, period}
	cut := func(t float64) {
		if t > 0 && t < period {
			cuts = append(cuts, t)
		}
	}
	for i := range all.Pieces() {
		t0, t1, p := all.Piece(i)
		at := []float64{0, t1 - t0}
		if len(p) > 2 {
			at = append(at, poly.Roots(nil, poly.Derivative(nil, p), 0, t1-t0)...)
		}
		for _, x := range at {
			peaks = append(peaks, peak{t0 + x, sign * poly.Eval(p, x)})
			cut(t0 + x - h)
			cut(t0 + x + h)
		}
	}
	sort.Float64s(cuts)
	// On each interval the highest of what is h away on either side and of the local
	// extremes between.
	breaks, coefs := []float64{0}, [][]float64{}
	piece := func(t float64) []float64 { // from t on
		i := sort.Search(all.Pieces()-1, func(i int) bool { _, t1, _ := all.Piece(i); return t1 > t })
		t0, _, p := all.Piece(i)
		return poly.Shift(nil, p, t-t0)
	}
	for k := 0; k+1 < len(cuts); k++ {
		t0, t1 := cuts[k], cuts[k+1]
		if !(t1 > breaks[len(breaks)-1]) || t1-t0 < 1e-12*period {
			continue
		}
		t0 = breaks[len(breaks)-1] // with what was too short
		mid := (t0 + t1) / 2
		flat := math.Inf(-1)
		for _, p := range peaks {
			if math.Abs(p.at-mid) <= h+1e-9*period {
				flat = math.Max(flat, p.value)
			}
		}
		from := []([]float64){backFrom(piece, mid-h, mid-t0), backFrom(piece, mid+h, mid-t0)}
		if !math.IsInf(flat, -1) {
			from = append(from, []float64{sign * flat})
		}
		var turns []float64
		for i := range from {
			for j := range i {
				turns = append(turns, poly.Roots(nil, poly.Add(nil, from[i], poly.Scale(nil, from[j], -1)), 0, t1-t0)...)
			}
		}
		turns = append(turns, t1-t0)
		sort.Float64s(turns)
		last := 0.0
		for _, x := range turns {
			if x-last < 1e-12*period && x < t1-t0 {
				continue
			}
			best := from[0]
			for _, p := range from[1:] {
				if m := (last + x) / 2; sign*poly.Eval(p, m) > sign*poly.Eval(best, m) {
					best = p
				}
			}
			if !(t0+x > breaks[len(breaks)-1]) {
				continue
			}
			breaks = append(breaks, t0+x)
			coefs = append(coefs, poly.Shift(nil, best, last))
			last = x
		}
	}
	breaks[len(breaks)-1] = period
	out, err := profile.NewCurve(breaks, coefs)
	if err != nil {
		return flat()
	}
	return out
}

// backFrom returns the piece that holds at t as a polynomial that begins back before
// it.
func backFrom(piece func(float64) []float64, t, back float64) []float64 {
	return poly.Shift(nil, piece(t), -back)
}
