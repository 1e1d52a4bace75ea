package bus

import (
	"math"

	"example.com/headroom/internal/taylor"
)

// node is a place on the network: number 0 is the distribution point, number k
// the end of feeder k.
type node struct {
	up       int     // the node at the beginning of its feeder
	feeder   float64 // conductance of that [S]
	c        float64 // capacitance of its own [F], where it has a state
	state    int     // number of that state, or -1: it follows the balance of currents
	children []int
	adjacent float64 // sum of the conductances of all feeders that meet here [S]
	g        float64 // of switched loads, at present [S]
	load     forcing
	idle     bool // no power at the instant at hand
	switched []forcing

	under, over bool // whether beyond the limits of its drive

	v    float64 // voltage at the instant at hand [V]
	rest float64 // what is left of the balance, while it is sought [A]
	d    float64 // diagonal of the balance's matrix after elimination [S]

	// series at the instant at hand
	p, q, w, inverse taylor.Series // power, P/V, P/V², 1/d
	current          taylor.Series // in its feeder
}

// floorOfD is the least diagonal, relative to the sum of its conductances, with
// which the balance of currents still counts as stable: at 0 a little more power
// could not be delivered.
const floorOfD = 2e-3

// free reports whether node k has no voltage of its own but follows the balance
// of currents: a feeder's end without a state, or the distribution point with
// a bank behind series resistance and no source that holds it.
func (c *circuit) free(k int, sg segment) bool {
	if k == 0 {
		return c.rs > 0 && !sg.upright
	}
	return c.nodes[k].state < 0
}

// own returns the conductance of node k besides that of its loads' power.
func (c *circuit) own(k int, sg segment) float64 {
	n := &c.nodes[k]
	if k > 0 {
		return n.adjacent + n.g
	}
	return n.adjacent + n.g + c.drain + sg.g + 1/c.rs
}

// balance finds the voltages of all nodes on one segment of the source's
// characteristic, with loads that draw p[k]: the solution with the highest
// voltages, which is the stable one. It is false when there is none.
//
// The currents that meet in a free node k add up to nothing,
//
//	F_k = Σ g (v_j - v_k) - P_k/v_k - G_k v_k = 0
//
// with the source and the bank's series resistance besides at the distribution
// point. The derivatives of F form a symmetric matrix, negative definite in the
// stable solution; on a tree it is eliminated from the ends to the root.
func (c *circuit) balance(sg segment, x []taylor.Series) bool {
	root := &c.nodes[0]
	for k := range c.nodes {
		if n := &c.nodes[k]; k > 0 && n.state >= 0 {
			n.v = x[n.state][0]
		}
	}
	switch {
	case sg.upright:
		root.v = sg.lo
	case c.rs == 0:
		root.v = x[0][0]
	case !c.anyFreeEnd && !c.single(sg, x[0][0]):
		return false
	}
	if !c.anyFreeEnd {
		if c.free(0, sg) {
			root.d = c.own(0, sg) - c.power(0)/(root.v*root.v)
			return root.d > floorOfD*c.own(0, sg)
		}
		return true
	}
	// From the voltages at hand, and if these lead nowhere from above.
	if c.started && c.newton(sg, x) {
		return true
	}
	top := x[0][0]
	if !c.free(0, sg) {
		top = math.Max(top, root.v)
	}
	for k := range c.nodes {
		if n := &c.nodes[k]; n.state >= 0 {
			top = math.Max(top, n.v)
		}
	}
	for k := range c.nodes {
		if c.free(k, sg) {
			c.nodes[k].v = top
		}
	}
	return c.newton(sg, x)
}

// single finds the voltage of a free distribution point whose neighbours are
// given: the larger root of
//
//	A V² - (Vc + Rs i0 + Rs Σ g u) V + Rs P = 0,   A = 1 + Rs (g + G + Σ g)
func (c *circuit) single(sg segment, vc float64) bool {
	n := &c.nodes[0]
	a := 1 + c.rs*(sg.g+n.g+c.drain)
	b := vc + c.rs*sg.i0
	for _, k := range n.children {
		e := &c.nodes[k]
		a += c.rs * e.feeder
		b += c.rs * e.feeder * e.v
	}
	s := b*b - 4*a*c.rs*c.power(0)
	if !(a > 0 && b > 0 && s > 0) {
		return false
	}
	n.v = (b + math.Sqrt(s)) / (2 * a)
	return true
}

// newton solves the balance from the voltages at hand.
func (c *circuit) newton(sg segment, x []taylor.Series) bool {
	last := math.Inf(1)
	for range 100 {
		for k := range c.nodes {
			n := &c.nodes[k]
			if !c.free(k, sg) {
				continue
			}
			p := c.power(k)
			n.d = c.own(k, sg) - p/(n.v*n.v)
			n.rest = -p/n.v - n.g*n.v
			if k == 0 {
				n.rest += (x[0][0]-n.v)/c.rs + sg.at(n.v) - c.drain*n.v
			} else {
				n.rest += n.feeder * (c.nodes[n.up].v - n.v)
			}
			for _, e := range n.children {
				n.rest += c.nodes[e].feeder * (c.nodes[e].v - n.v)
			}
		}
		if !c.eliminate(sg, func(k int) *float64 { return &c.nodes[k].rest }) {
			return false
		}
		change := 0.0
		for k := range c.nodes {
			n := &c.nodes[k]
			if !c.free(k, sg) {
				continue
			}
			step := math.Max(n.rest, -0.5*n.v)
			n.v += step
			change = math.Max(change, math.Abs(step)/n.v)
		}
		if change <= 4e-16 || change >= last && change < 1e-12 {
			return c.diagonals(sg)
		}
		last = change
	}
	return last < 1e-12 && c.diagonals(sg)
}

// diagonals leaves the eliminated diagonals at the voltages at hand.
func (c *circuit) diagonals(sg segment) bool {
	for k := range c.nodes {
		if n := &c.nodes[k]; c.free(k, sg) {
			n.d = c.own(k, sg) - c.power(k)/(n.v*n.v)
			n.rest = 0
		}
	}
	return c.eliminate(sg, func(k int) *float64 { return &c.nodes[k].rest })
}

// eliminate solves the balance's equations for a right-hand side in place, with
// the diagonals that the nodes hold; false when a diagonal says that the
// solution is not stable.
func (c *circuit) eliminate(sg segment, rhs func(k int) *float64) bool {
	for k := len(c.nodes) - 1; k >= 0; k-- {
		if !c.free(k, sg) {
			continue
		}
		n := &c.nodes[k]
		if !(n.d > floorOfD*c.own(k, sg)) {
			return false
		}
		if k > 0 && c.free(n.up, sg) {
			up := &c.nodes[n.up]
			up.d -= n.feeder * n.feeder / n.d
			*rhs(n.up) += *rhs(k) * n.feeder / n.d
		}
	}
	for k := range c.nodes {
		if !c.free(k, sg) {
			continue
		}
		n := &c.nodes[k]
		r := rhs(k)
		if k > 0 && c.free(n.up, sg) {
			*r += n.feeder * *rhs(n.up)
		}
		*r /= n.d
	}
	return true
}

// taken returns the current that loads, drains and feeders take from the
// distribution point.
func (c *circuit) taken() float64 {
	for k := len(c.nodes) - 1; k > 0; k-- {
		n := &c.nodes[k]
		if n.state >= 0 {
			n.rest = n.feeder * (c.nodes[n.up].v - n.v)
		} else {
			n.rest = c.drawn(k)
			for _, e := range n.children {
				n.rest += c.nodes[e].rest
			}
		}
	}
	i := c.drawn(0) + c.drain*c.nodes[0].v
	for _, e := range c.nodes[0].children {
		i += c.nodes[e].rest
	}
	return i
}

// drawn returns the current of the loads at node k.
func (c *circuit) drawn(k int) float64 {
	n := &c.nodes[k]
	i := n.g * n.v
	if p := c.power(k); p != 0 {
		i += p / n.v
	}
	return i
}
