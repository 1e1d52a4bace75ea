package thermal

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// Course is how a heat network moves.
type Course struct {
	// Temperatures holds that of each node against time [°C], in polynomial
	// pieces that follow the exact solution to about 1e-13 of its rise. At every
	// piece of heat the course starts from the exact state. A node without
	// capacity jumps with its heat.
	Temperatures []profile.Curve

	// Rates are those at which the modes of the network decay, slowest first:
	// 1/(time constant) [1/s].
	Rates []float64

	Balance HeatBalance
}

// HeatBalance is where the heat of a course went.
type HeatBalance struct {
	In       float64 // from the heat curves [J]
	Out      float64 // through the boundaries [J]; negative when they heat
	Stored   float64 // kept in the capacities [J]; 0 over a settled cycle
	Residual float64 // In - Out - Stored [J], what rounding leaves
}

// Run follows the network from given temperatures [°C], one for each node (that
// of a node without heat capacity is not used), under the heat curves [W], one
// for each node, over their common duration. An empty curve stands for no heat.
//
// Each mode of the network is advanced over each piece of the heat by the exact
// solution of its equation; there is no time step.
func (n Network) Run(ctx context.Context, start []float64, heat []profile.Curve) (*Course, error) {
	var f profile.Faults
	s, h := n.prepare(&f, heat)
	n.checkStart(&f, start)
	if err := f.Err(); err != nil {
		return nil, err
	}
	q := s.project(start)
	return s.course(ctx, q, h)
}

// Settled returns the course over one cycle of heat [W], as [Network.Run], once
// the cycle has repeated so often that it ends where it starts. Each mode settles
// for itself: what a cycle brings it from 0 is kept to the part e^(-λT) by the
// next, so it starts at
//
//	q = (brought by a cycle) / (1 - e^(-λT))
//
// Every node needs a path to a boundary.
func (n Network) Settled(ctx context.Context, heat []profile.Curve) (*Course, error) {
	var f profile.Faults
	s, h := n.prepare(&f, heat)
	if f.Err() == nil {
		n.checkGrounded(&f)
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	return s.course(ctx, s.settle(h), h)
}

func (n Network) prepare(f *profile.Faults, heat []profile.Curve) (*modes, *heating) {
	n.check(f)
	h := newHeating(f, "heat", heat, len(n.Capacities))
	if f.Err() != nil {
		return nil, nil
	}
	s, err := newModes(n)
	f.Under("", err)
	return s, h
}

func (n Network) checkStart(f *profile.Faults, start []float64) {
	if len(start) != len(n.Capacities) {
		f.Add("start", fmt.Sprintf("%d temperatures", len(start)), fmt.Sprintf("one for each of the %d nodes", len(n.Capacities)))
	}
	for i, t := range start {
		checkTemperature(f, fmt.Sprintf("start[%d]", i), t)
	}
}

// TimeConstants returns those of the network [s], the longest first: +Inf for a
// part without boundary, which keeps its heat.
func (n Network) TimeConstants() ([]float64, error) {
	var f profile.Faults
	n.check(&f)
	if err := f.Err(); err != nil {
		return nil, err
	}
	s, err := newModes(n)
	if err != nil {
		return nil, err
	}
	t := make([]float64, len(s.decay))
	for j, r := range s.decay {
		t[j] = 1 / r
	}
	return t, nil
}

// project returns the modes at given temperatures.
func (s *modes) project(start []float64) []float64 {
	m := len(s.store)
	q := make([]float64, m)
	for _, i := range s.store {
		c := s.net.Capacities[i] * (start[i] - s.reference)
		for j := range q {
			q[j] += c * s.shape[i*m+j]
		}
	}
	return q
}

// feed fills p with the heat into each mode over a piece, boundaries included.
func (s *modes) feed(p []float64, h *heating, piece int) {
	m, w := len(s.decay), h.width
	clear(p)
	for j := range m {
		p[j*w] = s.feeding[j]
	}
	for i := range h.nodes {
		for k, c := range h.at(piece, i) {
			if c == 0 {
				continue
			}
			for j := range m {
				p[j*w+k] += c * s.shape[i*m+j]
			}
		}
	}
}

// settle returns the modes at the start of the settled cycle.
func (s *modes) settle(h *heating) []float64 {
	m, w := len(s.decay), h.width
	brought, p, scratch := make([]float64, m), make([]float64, m*w), make([]float64, w)
	for k := range h.pieces() {
		s.feed(p, h, k)
		for j := range brought {
			change, _ := step(brought[j], s.decay[j], h.breaks[k+1]-h.breaks[k], p[j*w:(j+1)*w], scratch)
			brought[j] += change
		}
	}
	cycle := h.breaks[h.pieces()] - h.breaks[0]
	for j := range brought {
		brought[j] /= -math.Expm1(-s.decay[j] * cycle)
	}
	return brought
}

// tracer lays polynomials through a course.
type tracer struct {
	s        *modes
	h        *heating
	order    int       // coefficients of the temperatures
	p, local []float64 // heat into the modes over the piece at hand, and from the time at hand
	c        []float64 // coefficients of each mode from the time at hand
	scratch  []float64
	spread   []float64 // largest rise of a node per unit of each mode
	breaks   []float64
	rise     [][]float64 // coefficients of the rise of each node
}

// course follows the network from q, which it changes.
func (s *modes) course(ctx context.Context, q []float64, h *heating) (*Course, error) {
	m, w := len(s.decay), h.width
	tr := &tracer{s: s, h: h, p: make([]float64, m*w), local: make([]float64, m*w), scratch: make([]float64, w)}
	tr.order = tr.terms()
	tr.c = make([]float64, m*tr.order)
	tr.spread = make([]float64, m)
	for j := range m {
		for i := range h.nodes {
			tr.spread[j] = math.Max(tr.spread[j], math.Abs(s.shape[i*m+j]))
		}
	}
	tr.breaks = append(make([]float64, 0, 2*len(h.breaks)), h.breaks[0])
	tr.rise = make([][]float64, h.nodes)
	for i := range tr.rise {
		tr.rise[i] = make([]float64, 0, 2*h.pieces()*tr.order)
	}
	gained := make([]float64, m) // what each mode gained over the course
	for k := range h.pieces() {
		if err := tr.piece(ctx, k, q, gained); err != nil {
			return nil, err
		}
	}
	return tr.finish(gained)
}

// terms returns how many coefficients follow a mode over a step of at most its
// time constant: those that the heat makes, and for the decay as many as bring
// its series below 1e-18.
func (tr *tracer) terms() int {
	x := 0.0
	fastest := tr.s.decay[len(tr.s.decay)-1]
	for k := range tr.h.pieces() {
		x = math.Max(x, math.Min(1, fastest*(tr.h.breaks[k+1]-tr.h.breaks[k])))
	}
	n, term := tr.h.width+1, x
	for k := 2; term > 1e-18 && n < 41; k++ {
		term *= x / float64(k)
		n++
	}
	return n
}

// maxSteps bounds the polynomial pieces within one piece of heat.
const maxSteps = 100000

// piece follows the modes over one piece of heat. Within it a step is at most
// as long as the time constant of the fastest mode that has not come to rest
// on what the heat alone makes of it.
func (tr *tracer) piece(ctx context.Context, k int, q, gained []float64) error {
	s, w := tr.s, tr.h.width
	m := len(q)
	t0, t1 := tr.h.breaks[k], tr.h.breaks[k+1]
	s.feed(tr.p, tr.h, k)
	resolved := 1e-12 * math.Max(math.Abs(t0), math.Abs(t1)) // shorter than the clock shows
	done := 0.0
	for steps := 0; done < t1-t0; steps++ {
		if steps&15 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if steps == maxSteps {
			var f profile.Faults
			f.Add("heat", fmt.Sprintf("a piece of %g s", t1-t0), fmt.Sprintf("a course of at most %d steps", maxSteps))
			return f.Err()
		}
		size := 0.0
		for j := range q {
			copy(tr.local[j*w:(j+1)*w], tr.p[j*w:(j+1)*w])
			if done > 0 {
				poly.Shift(tr.local[j*w:(j+1)*w], tr.p[j*w:(j+1)*w], done)
			}
			size = math.Max(size, tr.spread[j]*math.Abs(q[j]))
		}
		h := t1 - t0 - done
		for j := m - 1; j >= 0; j-- {
			if lambda := s.decay[j]; lambda*h > 1 && 40/lambda > resolved && !tr.atRest(j, q[j], size, h) {
				h = 1 / lambda
			}
		}
		last := false
		if t1-t0-done-h <= resolved {
			h, last = t1-t0-done, true
		}
		for j := range q {
			c := tr.c[j*tr.order : (j+1)*tr.order]
			if s.decay[j]*h > 1.01 { // as the last step may be a little longer
				tr.forced(c, j)
			} else {
				c[0] = q[j]
				for i := range tr.order - 1 {
					v := -s.decay[j] * c[i]
					if i < w {
						v += tr.local[j*w+i]
					}
					c[i+1] = v / float64(i+1)
				}
			}
			change, _ := step(q[j], s.decay[j], h, tr.local[j*w:(j+1)*w], tr.scratch)
			q[j] += change
			gained[j] += change
		}
		tr.emit(k, done)
		done += h
		next := t0 + done
		if last {
			done, next = t1-t0, t1
		}
		tr.breaks = append(tr.breaks, next)
	}
	return nil
}

// forced fills c with the polynomial that the heat alone makes of mode j, once
// its start is forgotten: c[k] = (p[k] - (k+1) c[k+1])/λ.
func (tr *tracer) forced(c []float64, j int) {
	w := tr.h.width
	clear(c)
	for i := w - 1; i >= 0; i-- {
		c[i] = (tr.local[j*w+i] - float64(i+1)*c[i+1]) / tr.s.decay[j]
	}
}

// atRest reports whether mode j is on its forced polynomial, beside which nothing
// is seen in temperatures of the given size.
func (tr *tracer) atRest(j int, q, size, h float64) bool {
	if tr.s.decay[j]*h < float64(tr.h.width) {
		return false // the polynomial loses digits
	}
	c := tr.c[j*tr.order : (j+1)*tr.order]
	tr.forced(c, j)
	return tr.spread[j]*math.Abs(q-c[0]) <= 2e-15*size
}

// emit appends the polynomials of all nodes for one step.
func (tr *tracer) emit(piece int, done float64) {
	s, m := tr.s, len(tr.s.decay)
	for i := range tr.h.nodes {
		n := len(tr.rise[i])
		for range tr.order {
			tr.rise[i] = append(tr.rise[i], 0)
		}
		dst := tr.rise[i][n:]
		for j, v := range s.shape[i*m : (i+1)*m] {
			for k, c := range tr.c[j*tr.order : (j+1)*tr.order] {
				dst[k] += v * c
			}
		}
		if s.index[i] < 0 {
			s.addRest(dst, tr.h, piece, done, i, tr.scratch)
		}
	}
}

// addRest adds to dst what heat and boundaries do at once to node i, which stores
// none, from a time into a piece on.
func (r *reduction) addRest(dst []float64, h *heating, piece int, from float64, i int, scratch []float64) {
	dst[0] += r.restIn[i]
	n := len(r.index)
	for node, v := range r.restHeat[i*n : (i+1)*n] {
		if v == 0 {
			continue
		}
		p := append(scratch[:0], h.at(piece, node)...)
		if from > 0 {
			poly.Shift(p, h.at(piece, node), from)
		}
		for k, c := range p {
			dst[k] += v * c
		}
	}
}

// finish turns rises into temperatures and draws the balance.
func (tr *tracer) finish(gained []float64) (*Course, error) {
	s, m := tr.s, len(tr.s.decay)
	out := &Course{Temperatures: make([]profile.Curve, tr.h.nodes), Rates: s.decay}
	b := &out.Balance
	ground := make([]float64, tr.h.nodes)
	duration := tr.h.breaks[tr.h.pieces()] - tr.h.breaks[0]
	for _, x := range s.net.Boundaries {
		ground[x.Node] += x.Conductance
		b.Out -= x.Conductance * (x.Temperature - s.reference) * duration
	}
	var f profile.Faults
	for i, rise := range tr.rise {
		for k := range tr.h.pieces() {
			b.In += poly.Integral(tr.h.at(k, i), 0, tr.h.breaks[k+1]-tr.h.breaks[k])
		}
		if ground[i] > 0 {
			sum := 0.0
			for k := range len(tr.breaks) - 1 {
				sum += poly.Integral(rise[k*tr.order:(k+1)*tr.order], 0, tr.breaks[k+1]-tr.breaks[k])
			}
			b.Out += ground[i] * sum
		}
		for k := 0; k < len(rise); k += tr.order {
			rise[k] += s.reference
		}
		c, err := profile.FromFlat(tr.breaks, rise, tr.order)
		if err != nil {
			f.Add("heat", fmt.Sprintf("node %d", i), "sizes that give finite temperatures")
			return nil, f.Err()
		}
		out.Temperatures[i] = c
	}
	for _, i := range s.store {
		for j, g := range gained {
			b.Stored += s.net.Capacities[i] * s.shape[i*m+j] * g
		}
	}
	b.Residual = b.In - b.Out - b.Stored
	needFinite(&f, "heat", b.In, b.In, b.Out, b.Stored, b.Residual)
	if err := f.Err(); err != nil {
		return nil, err
	}
	return out, nil
}
