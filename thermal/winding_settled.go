package thermal

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"

	"example.com/headroom/internal/poly"
	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// WindingCourse is how the temperatures of a [WindingNetwork] move.
type WindingCourse struct {
	Temperatures []profile.Curve // of each node [°C]
	Hottest      profile.Point   // of the winding [°C]
	Margin       float64         // Max less that [K]; negative when too hot
	CopperLoss   float64         // mean, at the temperatures of the course [W]
	Balance      HeatBalance     // copper loss included
}

// NetworkRunawayError reports a winding in a heat network that has no settled
// cycle: it heats until something fails.
type NetworkRunawayError struct {
	Copper float64 // mean copper loss at the temperatures it is given for [W]
	// Growth is the factor by which a small difference in temperatures grows
	// over a cycle [1], >= 1; +Inf when they left all bounds within one.
	Growth float64
	Reason string
}

// Error names the loss and the reason.
func (e *NetworkRunawayError) Error() string {
	return fmt.Sprintf("thermal runaway: with a mean copper loss of %.4g W (before heating) the winding has no settled cycle: %s", e.Copper, e.Reason)
}

const (
	windingTolerance = 1e-15 // of a step, relative to the temperatures
	windingSteps     = 200000
	newtonSteps      = 60
)

// Settled returns the course over one cycle once it has repeated so often that
// it ends where it starts. It is found directly: Taylor steps follow the state
// over a cycle together with its derivative against the start, Φ, and the start
// follows by Newton's method
//
//	(1 - Φ) Δx = x(T) - x(0)
//
// in a single step as long as magnets do not count, since the balance is then
// linear. Started below the settled state it rises to it without passing it, as
// losses only grow with temperature, and the more the higher it is.
//
// The winding runs away, which is a [*NetworkRunawayError], exactly if Φ has an
// eigenvalue of 1 or more there, or if the magnets lose their torque constant.
// As Φ has no negative element, its eigenvalues are all inside the unit circle
// exactly if (1 - Φ) v = (1, 1, …) has a solution v > 0 (theory of M-matrices).
//
// A settled state far above Max is a number, not a state that any insulation
// reaches: read Margin. Taylor steps are not for stiff networks: where a node is
// so fast that millions of its time constants make up a cycle, give it no heat
// capacity; more steps than 200000 are refused.
func (w WindingNetwork) Settled(ctx context.Context, heat WindingHeat) (*WindingCourse, error) {
	s, err := w.newFeedback(heat, true)
	if err != nil {
		return nil, err
	}
	m := len(s.x0)
	for i := range s.x0 {
		s.x0[i] = w.coldest() - s.r.reference
	}
	mean := heat.Copper.Mean()
	for step := 0; ; step++ {
		sol, err := s.solve(ctx, s.states(), mean)
		if err != nil {
			return nil, err
		}
		delta, stable := newton(sol.X, m)
		if !stable {
			return nil, &NetworkRunawayError{mean, growth(sol.X, m), "what a kelvin of heating adds to the copper loss is more than what the network carries away for it"}
		}
		size := 0.0
		for i, d := range delta {
			size = math.Max(size, math.Abs(d)/(1+math.Abs(s.x0[i])))
		}
		if s.magnet < 0 || size < 1e-11 {
			return w.courseOf(s, sol, delta)
		}
		if step == newtonSteps {
			return nil, &NetworkRunawayError{mean, growth(sol.X, m), "the search for a settled cycle does not close in"}
		}
		for i := range delta {
			s.x0[i] += delta[i]
		}
	}
}

// Run follows the winding from given temperatures [°C], one for each node (that
// of a node without heat capacity is not used), over the time of the heat.
func (w WindingNetwork) Run(ctx context.Context, start []float64, heat WindingHeat) (*WindingCourse, error) {
	s, err := w.newFeedback(heat, false)
	if err != nil {
		return nil, err
	}
	if err := w.begin(s, start); err != nil {
		return nil, err
	}
	sol, err := s.solve(ctx, s.states(), heat.Copper.Mean())
	if err != nil {
		return nil, err
	}
	return w.courseOf(s, sol, nil)
}

// begin sets the start of s.
func (w WindingNetwork) begin(s *feedback, start []float64) error {
	var f profile.Faults
	w.Network.checkStart(&f, start)
	if k := w.Conductor.checked(&f); f.Err() == nil {
		k.temperature(&f, fmt.Sprintf("start[%d]", w.Winding), start[w.Winding])
	}
	if err := f.Err(); err != nil {
		return err
	}
	for a, i := range s.r.store {
		s.x0[a] = start[i] - s.r.reference
	}
	return nil
}

// solve follows the state over the heat, keeping the first outputs.
func (s *feedback) solve(ctx context.Context, keep int, mean float64) (*taylor.Solution, error) {
	s.piece, s.demagged, s.reached = 0, false, false
	sol, err := taylor.Solve(ctx, taylor.Problem{System: s, X0: make([]float64, s.states()), Breaks: s.heat.breaks, Scale: s.scales(),
		Tol: windingTolerance, MaxSteps: windingSteps, Keep: keep})
	switch {
	case errors.Is(err, taylor.ErrRange), err == nil && s.reached && s.maximum == beyond:
		return nil, &NetworkRunawayError{mean, math.Inf(1), "its temperatures leave all bounds in that time"}
	case errors.Is(err, taylor.ErrBudget):
		var f profile.Faults
		f.Add("network.capacities", s.r.net.Capacities, fmt.Sprintf("a course of at most %d steps: nodes that are very fast beside it need no heat capacity (%v)", windingSteps, err))
		return nil, f.Err()
	case err != nil:
		return nil, err
	case s.demagged:
		return nil, &NetworkRunawayError{mean, math.Inf(1), "its magnets get so hot that no torque constant is left"}
	}
	return sol, nil
}

// newton solves (1 - Φ) δ = y for the end y of a cycle, with Φ - 1 behind it in
// x, and reports whether the cycle is stable.
func newton(x []float64, m int) ([]float64, bool) {
	buf := make([]float64, m*m+2*m)
	a := blas64.General{Rows: m, Cols: m, Stride: m, Data: buf[:m*m]}
	b := blas64.General{Rows: m, Cols: 2, Stride: 2, Data: buf[m*m:]}
	for i := range m {
		for c := range m {
			a.Data[i*m+c] = -x[m+c*m+i]
		}
		b.Data[2*i], b.Data[2*i+1] = x[i], 1
	}
	pivots := make([]int, m)
	if !lapack64.Getrf(a, pivots) {
		return nil, false
	}
	lapack64.Getrs(blas.NoTrans, a, b, pivots)
	delta := make([]float64, m)
	for i := range delta {
		delta[i] = b.Data[2*i]
		if one := b.Data[2*i+1]; !(one > 0) || math.IsInf(one, 1) || !(math.Abs(delta[i]) <= maxFinite) {
			return nil, false
		}
	}
	return delta, true
}

// growth is the largest eigenvalue of Φ.
func growth(x []float64, m int) float64 {
	a := mat.NewDense(m, m, nil)
	for i := range m {
		for c := range m {
			a.Set(i, c, x[m+c*m+i])
		}
		a.Set(i, i, a.At(i, i)+1)
	}
	var e mat.Eigen
	if !e.Factorize(a, mat.EigenNone) {
		return math.Inf(1)
	}
	top := 0.0
	for _, v := range e.Values(nil) {
		top = math.Max(top, math.Hypot(real(v), imag(v)))
	}
	return top
}

// coldest is the lowest temperature of the surroundings.
func (w WindingNetwork) coldest() float64 {
	t := math.Inf(1)
	for _, b := range w.Network.Boundaries {
		t = math.Min(t, b.Temperature)
	}
	return t
}

func (w WindingNetwork) newFeedback(heat WindingHeat, vary bool) (*feedback, error) {
	var f profile.Faults
	k := w.check(&f)
	k.temperature(&f, "heat.at", heat.At)
	nodes := len(w.Network.Capacities)
	curves := make([]profile.Curve, nodes+1)
	if heat.Other != nil && len(heat.Other) != nodes {
		f.Add("heat.other", fmt.Sprintf("%d curves", len(heat.Other)), fmt.Sprintf("one for each of the %d nodes, empty where there is no heat", nodes))
	} else {
		copy(curves, heat.Other)
	}
	curves[nodes] = heat.Copper
	checkCurve(&f, "heat.copper", heat.Copper)
	checkNotNegative(&f, "heat.copper", heat.Copper)
	for i, c := range heat.Other {
		if negative(c) { // the path only then: this is called often
			checkNotNegative(&f, fmt.Sprintf("heat.other[%d]", i), c)
		}
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	h := newHeating(&f, "heat.other", curves, nodes+1)
	if err := f.Err(); err != nil {
		return nil, err
	}
	r, err := newReduction(w.Network)
	if err != nil {
		f.Under("network", err)
		return nil, f.Err()
	}
	m := len(r.store)
	s := &feedback{r: r, vary: vary, x0: make([]float64, m), maximum: beyond, winding: r.index[w.Winding], magnet: -1,
		zero: r.reference + float64(k), at: heat.At + float64(k), base: make([]taylor.Series, m), all: h}
	s.start = make([]float64, s.states())
	if w.Magnets.Coefficient > 0 {
		s.magnet, s.alpha, s.warmth = r.index[w.Magnets.Node], w.Magnets.Coefficient, r.reference-w.Magnets.At
	}
	// Heat at the nodes that store it, and the copper loss, from here on.
	s.heat = &heating{breaks: h.breaks, width: h.width, nodes: m, coefs: make([]float64, h.pieces()*m*h.width)}
	for p := range h.pieces() {
		for a := range m {
			dst := s.heat.at(p, a)
			dst[0] = r.inflow[a]
			for i := range nodes {
				if g := r.share[i*m+a]; g != 0 {
					for c, v := range h.at(p, i) {
						dst[c] += g * v
					}
				}
			}
			s.peak = math.Max(s.peak, poly.EvalAbs(dst, h.breaks[p+1]-h.breaks[p]))
		}
		copper := h.at(p, nodes)
		for len(copper) > 1 && copper[len(copper)-1] == 0 {
			copper = copper[:len(copper)-1]
		}
		s.copper = append(s.copper, copper)
		s.peak = math.Max(s.peak, poly.EvalAbs(copper, h.breaks[p+1]-h.breaks[p]))
	}
	return s, nil
}

// checkNotNegative records a fault where a curve of heat is negative by more than
// rounding.
func checkNotNegative(f *profile.Faults, path string, c profile.Curve) {
	if negative(c) {
		f.Add(path, c.Min().V, ">= 0 W all along")
	}
}

// negative reports whether a curve of heat is negative by more than rounding.
func negative(c profile.Curve) bool {
	lowest, highest := c.Extrema()
	return !(lowest.V >= -resistorTolerance*math.Abs(highest.V))
}

// scales returns the size of each output for the tolerance of steps.
func (s *feedback) scales() []float64 {
	scale := make([]float64, s.outputs())
	top := 1.0
	for _, x := range s.x0 {
		top = math.Max(top, math.Abs(x))
	}
	for j := range scale {
		scale[j] = 1
		if j < len(s.x0) {
			scale[j] = top
		}
	}
	return scale
}

// courseOf joins the polynomials of a cycle, started δ off the state it was
// computed from, to the curves of all nodes.
func (w WindingNetwork) courseOf(s *feedback, sol *taylor.Solution, delta []float64) (*WindingCourse, error) {
	const width = taylor.Order + 1
	m, n := len(s.x0), len(w.Network.Capacities)
	pieces := len(sol.Breaks) - 1
	rise := make([][]float64, m) // of the nodes that store heat
	for a := range m {
		rise[a] = make([]float64, pieces*width)
		for k := range pieces {
			dst := rise[a][k*width : (k+1)*width]
			copy(dst, sol.Piece(k, a))
			dst[0] += s.x0[a]
			if delta == nil {
				continue
			}
			dst[0] += delta[a]
			for c, d := range delta {
				for i, v := range sol.Piece(k, m+c*m+a) {
					dst[i] += d * v
				}
			}
		}
	}
	out := &WindingCourse{Temperatures: make([]profile.Curve, n)}
	ground := make([]float64, n)
	b := &out.Balance
	duration := sol.Breaks[pieces] - sol.Breaks[0]
	for _, x := range s.r.net.Boundaries {
		ground[x.Node] += x.Conductance
		b.Out -= x.Conductance * (x.Temperature - s.r.reference) * duration
	}
	copper := s.copperHeat(sol.Breaks, rise)
	b.In += copper
	out.CopperLoss = copper / duration
	for i := range n {
		c := s.nodeRise(i, rise, sol.Breaks)
		for k := range s.all.pieces() {
			b.In += poly.Integral(s.all.at(k, i), 0, s.all.breaks[k+1]-s.all.breaks[k])
		}
		if ground[i] > 0 {
			sum := 0.0
			for k := range pieces {
				sum += poly.Integral(c[k*width:(k+1)*width], 0, sol.Breaks[k+1]-sol.Breaks[k])
			}
			b.Out += ground[i] * sum
		}
		for k := range pieces {
			c[k*width] += s.r.reference
		}
		curve, err := profile.FromFlat(sol.Breaks, c, width)
		if err != nil {
			var f profile.Faults
			f.Add("heat.copper", fmt.Sprintf("node %d", i), "sizes that give finite temperatures")
			return nil, f.Err()
		}
		out.Temperatures[i] = curve
	}
	for a, i := range s.r.store {
		gained := sol.X[a]
		for c, d := range delta {
			gained += d * sol.X[m+c*m+a]
		}
		b.Stored += s.r.net.Capacities[i] * gained
	}
	b.Residual = b.In - b.Out - b.Stored
	out.Hottest = out.Temperatures[w.Winding].Max()
	out.Margin = w.Max - out.Hottest.V
	var f profile.Faults
	needFinite(&f, "heat.copper", out.CopperLoss, out.CopperLoss, out.Hottest.V, out.Margin, b.Residual)
	if err := f.Err(); err != nil {
		return nil, err
	}
	return out, nil
}

// nodeRise returns the pieces of the rise of node i from those of the nodes that
// store heat.
func (s *feedback) nodeRise(i int, rise [][]float64, breaks []float64) []float64 {
	const width = taylor.Order + 1
	m, pieces := len(rise), len(breaks)-1
	if a := s.r.index[i]; a >= 0 {
		if len(rise) == len(s.r.index) {
			return rise[a] // no other node is made of it
		}
		return append([]float64(nil), rise[a]...)
	}
	c := make([]float64, pieces*width)
	for a := range m {
		for j, v := range rise[a] {
			c[j] += s.r.share[i*m+a] * v
		}
	}
	piece := 0
	scratch := make([]float64, s.all.width)
	for k := range pieces {
		for piece < s.all.pieces()-1 && breaks[k] >= s.all.breaks[piece+1] {
			piece++
		}
		s.r.addRest(c[k*width:(k+1)*width], s.all, piece, breaks[k]-s.all.breaks[piece], i, scratch)
	}
	return c
}

// gauss holds the abscissae and weights of Gauss and Legendre on 0 to 1.
var gauss = func() (g struct{ x, w [16]float64 }) {
	quad.Legendre{}.FixedLocations(g.x[:], g.w[:], 0, 1)
	return g
}()

// copperHeat returns the integral of the copper loss [J] along given rises: of
// what drives the course, but by another way.
func (s *feedback) copperHeat(breaks []float64, rise [][]float64) float64 {
	const width = taylor.Order + 1
	sum, piece := 0.0, 0
	for k := range len(breaks) - 1 {
		for piece < s.heat.pieces()-1 && breaks[k] >= s.heat.breaks[piece+1] {
			piece++
		}
		h := breaks[k+1] - breaks[k]
		part := 0.0
		for i, x := range gauss.x {
			p := poly.Eval(s.copper[piece], breaks[k]-s.heat.breaks[piece]+x*h)
			p *= (s.zero + poly.Eval(rise[s.winding][k*width:(k+1)*width], x*h)) / s.at
			if s.magnet >= 0 {
				left := 1 - s.alpha*(s.warmth+poly.Eval(rise[s.magnet][k*width:(k+1)*width], x*h))
				p /= left * left
			}
			part += p * gauss.w[i]
		}
		sum += part * h
	}
	return sum
}
