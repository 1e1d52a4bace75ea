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
	drop float64 // across its feeder, if it is free [V]
	rest float64 // what is left of the balance, while it is sought [A], then the correction [V]
	d    float64 // diagonal of the balance's matrix after elimination [S]

	// What is beyond the node, seen from its feeder, and d, without loads [S].
	beyond, bare, most float64

	// series at the instant at hand
	p, q, w, ratio taylor.Series // power, P/V, P/V², of what is beyond over d
	volts          *taylor.Series
	degree         int     // of the power
	arrived        float64 // to where the series of the power led [W]
	loose          bool    // free, for which see [circuit.free]

	inverse    float64 // 1/V [1/V]
	slope      float64 // P/V² [S]
	resistance float64 // 1/d [ohm]
	through    float64 // feeder over d
	sum        float64 // of what the nodes beyond pass on, of the order at hand
	current    float64 // in its feeder, of the order at hand
	onward     float64 // in the feeders that go on from it
}

// settled is the relative change by a step of Newton's method for the balance after which
// the next would change nothing: it falls with its square.
const settled = 1e-11

// floorOfD is the least diagonal after elimination, relative to that without loads,
// with which the balance of currents still counts as stable: at 0 a little more
// power could not be delivered.
const floorOfD = 2e-3

// free reports whether node k has no voltage of its own but follows the balance
// of currents: a feeder's end without a state, or the distribution point with
// a bank behind series resistance and no source that holds it.
func (c *circuit) free(k int, sg *segment) bool {
	if k == 0 {
		return c.rs > 0 && !sg.upright
	}
	return c.nodes[k].state < 0
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
func (c *circuit) balance(sg *segment, x []taylor.Series) bool {
	root := &c.nodes[0]
	root.loose = c.free(0, sg)
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
		return c.diagonals(sg)
	}
	// From the voltages at hand, and if these lead nowhere from equal ones: there
	// the matrix is that of a stable solution, whatever the loads.
	if c.newton(sg, x) {
		return true
	}
	top := x[0][0]
	if !c.free(0, sg) {
		top = max(top, root.v)
	} else if a := 1 + c.rs*(sg.g+c.drain+root.g); a > 0 {
		top = max(top, (top+c.rs*sg.i0)/a)
	}
	for k := range c.nodes {
		if n := &c.nodes[k]; n.state >= 0 {
			top = max(top, n.v)
		}
	}
	for k := range c.nodes {
		if n := &c.nodes[k]; c.free(k, sg) {
			n.v, n.drop = top, 0
			if k > 0 {
				n.drop = c.nodes[n.up].v - top
			}
		}
	}
	return c.newton(sg, x)
}

// single finds the voltage of a free distribution point whose neighbours are
// given: the larger root of
//
//	A V² - (Vc + Rs i0 + Rs Σ g u) V + Rs P = 0,   A = 1 + Rs (g + G + Σ g)
func (c *circuit) single(sg *segment, vc float64) bool {
	n := &c.nodes[0]
	a := 1 + c.rs*(sg.g+n.g+c.drain)
	b := vc + c.rs*sg.i0
	for _, k := range n.children {
		e := &c.nodes[k]
		a += c.rs * e.feeder
		b += c.rs * e.feeder * e.v
	}
	p := c.power(0)
	s := b*b - 4*a*c.rs*p
	switch {
	case !(a > 0 && s >= 0):
		return false
	case b >= 0 && (s > 0 || p == 0):
		n.v = (b + math.Sqrt(s)) / (2 * a)
	case p < 0: // a current that the source or a clamp takes outweighs the bank
		n.v = 2 * c.rs * p / (b - math.Sqrt(s))
	default:
		return false
	}
	return true
}

// newton solves the balance from the voltages at hand. Over the squares of the
// voltages the power that node k gets,
//
//	v_k F_k = Σ g (√(v_j² v_k²) - v_k²) - P_k - G_k v_k²
//
// is concave, whatever the sign of P, and grows with the others' voltages. So there
// is at most one stable solution; Newton's method over the squares is above it
// after one step, and from there comes down to it without fail.
func (c *circuit) newton(sg *segment, x []taylor.Series) bool {
	c.follow()
	last := math.Inf(1)
	for range 100 {
		for k := range c.nodes {
			n := &c.nodes[k]
			if !n.loose {
				continue
			}
			if !(n.v > 0) {
				return false
			}
			foot, _ := c.foot(k, sg)
			n.rest = n.feeder*n.drop - foot*n.v - c.power(k)/n.v
			in := n.feeder * (n.v + n.drop) // what the node would get at 0 V
			if k == 0 {
				n.rest += x[0][0]/c.rs + sg.i0
				in = x[0][0]/c.rs + sg.i0
			}
			own := foot + n.adjacent
			for _, i := range n.children {
				e := &c.nodes[i]
				drop := n.v - e.v
				if e.loose {
					drop = e.drop
				}
				n.rest -= e.feeder * drop
				in += e.feeder * (n.v - drop)
			}
			n.d = 2*own - in/n.v
		}
		if !c.eliminate() {
			return false
		}
		change := 0.0
		for k := range c.nodes {
			n := &c.nodes[k]
			if !n.loose {
				continue
			}
			r := 2 * n.rest / n.v // of the squares
			if !(r > -1) {
				return false
			}
			change = max(change, math.Abs(n.rest)/n.v)
			n.rest *= 2 / (1 + math.Sqrt(1+r))
			n.drop -= n.rest
			if k > 0 && c.nodes[n.up].loose {
				n.drop += c.nodes[n.up].rest
			}
		}
		if c.nodes[0].loose {
			c.nodes[0].v += c.nodes[0].rest
		}
		c.follow()
		if change <= settled || change >= last && change < 1e-12 {
			return c.diagonals(sg)
		}
		last = change
	}
	return last < 1e-12 && c.diagonals(sg)
}

// follow takes the voltages of free ends from the drops across their feeders: these
// are what is sought, as a short feeder's is lost in the voltages.
func (c *circuit) follow() {
	for k := 1; k < len(c.nodes); k++ {
		if n := &c.nodes[k]; n.loose {
			n.v = c.nodes[n.up].v - n.drop
		}
	}
}

// diagonals leaves at the nodes the diagonals after elimination, at the voltages at
// hand: from the ends to the root
//
//	d = g + e,   e = G - P/v² + Σ g' e'/d'   over the feeders g' that go on
//
// It is false when one says that the solution is not stable.
func (c *circuit) diagonals(sg *segment) bool {
	for k := len(c.nodes) - 1; k >= 0; k-- {
		n := &c.nodes[k]
		if !n.loose {
			continue
		}
		g, bare := c.foot(k, sg)
		n.beyond, n.bare = g, bare
		if p := c.power(k); p != 0 { // which takes a voltage
			n.beyond -= p / (n.v * n.v)
		}
		for _, i := range n.children {
			e := &c.nodes[i]
			if e.loose {
				n.beyond += e.feeder * e.beyond / e.d
				n.bare += e.feeder * e.bare / e.most
			} else {
				n.beyond += e.feeder
				n.bare += e.feeder
			}
		}
		n.d, n.most = n.feeder+n.beyond, n.feeder+n.bare // the root has no feeder
		if !(n.d > floorOfD*n.most) {
			return false
		}
	}
	return true
}

// foot returns the conductance at node k besides feeders and the power of loads,
// and without that of a source that folds back.
func (c *circuit) foot(k int, sg *segment) (g, bare float64) {
	if k > 0 {
		return c.nodes[k].g, c.nodes[k].g
	}
	bare = c.nodes[0].g + c.drain + 1/c.rs
	return bare + sg.g, bare + max(0, sg.g)
}

// eliminate solves the balance's equations for a right-hand side in place, with
// the diagonals that the nodes hold; false when the matrix is not that of a stable
// solution.
func (c *circuit) eliminate() bool {
	for k := len(c.nodes) - 1; k >= 0; k-- {
		n := &c.nodes[k]
		if !n.loose {
			continue
		}
		if !(n.d > 0) {
			return false
		}
		if k > 0 && c.nodes[n.up].loose {
			up := &c.nodes[n.up]
			up.d -= n.feeder * n.feeder / n.d
			up.rest += n.rest * n.feeder / n.d
		}
	}
	for k := range c.nodes {
		n := &c.nodes[k]
		if !n.loose {
			continue
		}
		if k > 0 && c.nodes[n.up].loose {
			n.rest += n.feeder * c.nodes[n.up].rest
		}
		n.rest /= n.d
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
