package bus

import (
	"math"

	"example.com/headroom/internal/taylor"
)

// Expand implements [taylor.System].
func (c *circuit) Expand(t float64, x, y []taylor.Series) (reach float64) {
	sg := &c.segments[c.segment]
	reach = math.Inf(1)
	for k := range c.nodes {
		n := &c.nodes[k]
		n.p = taylor.Series{}
		if c.awake && !n.load.empty() {
			reach = math.Min(reach, n.load.expand(t, &n.p))
		}
		if n.idle = n.p == (taylor.Series{}); n.idle {
			n.q = taylor.Series{}
		}
		n.loose, n.volts = c.free(k, sg), c.series(y, k)
	}
	if (c.nodes[0].loose || c.anyFreeEnd) && c.entered != t {
		c.balance(sg, x)
	}
	for k := 0; ; k++ {
		c.voltages(sg, x, y, k)
		c.currents(sg, x, y, k)
		if k == taylor.Order {
			break
		}
		c.slopes(sg, x, y, k)
	}
	c.margins(sg, y)
	if c.out.clamp > 0 {
		c.shunt(&y[c.out.clamp], &y[outVoltage])
		for m := range y[outSource] {
			y[outSource][m] += y[c.out.clamp][m]
		}
	}
	for i := range c.units {
		if c.out.units > 0 {
			c.share(&y[c.out.units+i], sg, i, &y[outVoltage], &y[outSource])
		}
	}
	y[outBank] = x[0]
	c.expandTimers(x, y)
	tick := math.Nextafter(math.Abs(t), math.Inf(1)) - math.Abs(t)
	for k := range c.jitter {
		c.jitter[k] = 2 * tick * math.Abs(y[k][1])
	}
	return reach
}

// series returns the voltage of node k.
func (c *circuit) series(y []taylor.Series, k int) *taylor.Series {
	if k == 0 {
		return &y[outVoltage]
	}
	return &y[c.out.ends+k-1]
}

// inner returns the inner coefficient of a product, Σ a[i] b[n-1-i]: in two sums, which
// do not wait for each other.
func inner(a, b []float64) float64 {
	n := len(a)
	b = b[:n]
	s, r := 0.0, 0.0
	i := 0
	for ; i+1 < n; i += 2 {
		s += a[i] * b[n-1-i]
		r += a[i+1] * b[n-2-i]
	}
	if i < n {
		s += a[i] * b[n-1-i]
	}
	return s + r
}

// voltages fills in coefficient m of all voltages, and of P/V.
func (c *circuit) voltages(sg *segment, x, y []taylor.Series, m int) {
	for k := range c.nodes {
		n := &c.nodes[k]
		v := n.volts
		switch {
		case k == 0 && sg.upright:
			v[m] = 0
			if m == 0 {
				v[0] = sg.lo
			}
		case k == 0 && c.rs == 0:
			v[m] = x[0][m]
		case k > 0 && n.state >= 0:
			v[m] = x[n.state][m]
		case m == 0:
			v[0] = n.v
		}
	}
	if m == 0 {
		for k := range c.nodes {
			n := &c.nodes[k]
			if !n.idle { // which may be at 0 V
				n.inverse = 1 / n.volts[0]
				n.q[0] = n.p[0] / n.volts[0]
				n.slope = n.q[0] * n.inverse
			}
			if n.loose {
				n.through = n.feeder / n.d
			}
		}
		return
	}
	// What a free node's balance holds besides its own and its neighbours' unknown
	// coefficients.
	for k := range c.nodes {
		n := &c.nodes[k]
		v := n.volts
		if n.idle {
			continue
		}
		n.q[m] = (n.p[m] - inner(v[1:m], n.q[1:m])) * n.inverse
	}
	if !c.nodes[0].loose && !c.anyFreeEnd {
		for k := range c.nodes {
			n := &c.nodes[k]
			v := n.volts
			if !n.idle {
				n.q[m] -= n.slope * v[m]
			}
		}
		return
	}
	for k := len(c.nodes) - 1; k >= 0; k-- {
		n := &c.nodes[k]
		if !n.loose {
			continue
		}
		r := -n.q[m]
		if k == 0 {
			r += x[0][m] / c.rs
		} else if !c.nodes[n.up].loose {
			r += n.feeder * c.nodes[n.up].volts[m]
		}
		for _, e := range n.children {
			if c.nodes[e].loose {
				r += c.nodes[e].rest * c.nodes[e].through
			} else {
				r += c.nodes[e].feeder * c.nodes[e].volts[m]
			}
		}
		n.rest = r
	}
	for k := range c.nodes {
		n := &c.nodes[k]
		v := n.volts
		if n.loose {
			r := n.rest
			if k > 0 && c.nodes[n.up].loose {
				r += n.feeder * c.nodes[n.up].volts[m]
			}
			v[m] = r / n.d
		}
		if !n.idle {
			n.q[m] -= n.slope * v[m]
		}
	}
}

// currents fills in coefficient m of the currents in the feeders and of the
// source.
func (c *circuit) currents(sg *segment, x, y []taylor.Series, m int) {
	for k := len(c.nodes) - 1; k > 0; k-- {
		n := &c.nodes[k]
		v := n.volts
		if n.state >= 0 {
			n.current[m] = n.feeder * (c.nodes[n.up].volts[m] - v[m])
			continue
		}
		i := n.q[m] + n.g*v[m]
		for _, e := range n.children {
			i += c.nodes[e].current[m]
		}
		n.current[m] = i
	}
	root, v, is := &c.nodes[0], &y[outVoltage], &y[outSource]
	g := root.g + c.drain
	feeders := 0.0
	for _, e := range root.children {
		feeders += c.nodes[e].current[m]
	}
	taken := g*v[m] + root.q[m] + feeders
	// The currents of bank and source are differences of voltages over their
	// resistances, but for a small resistance the balance with the rest is the
	// better way.
	bank := 0.0
	switch {
	case sg.upright:
		if c.rs > 0 {
			bank = (v[m] - x[0][m]) / c.rs
		}
		is[m] = taken + bank
	default:
		is[m] = -sg.g * v[m]
		bank = -(sg.g+g)*v[m] - root.q[m] - feeders
		if m == 0 {
			is[0] += sg.i0
			bank += sg.i0
		}
		if c.rs == 0 {
			break
		}
		if c.rs*(sg.g+g+root.adjacent) > 1 {
			bank = (v[m] - x[0][m]) / c.rs
		}
		if c.rs*sg.g > 1 {
			is[m] = bank + taken
		}
	}
	c.bankCurrent[m] = bank
}

// slopes fills in coefficient m+1 of the states.
func (c *circuit) slopes(sg *segment, x, y []taylor.Series, m int) {
	x[0][m+1] = c.bankCurrent[m] / (c.c * float64(m+1))
	for k := 1; k < len(c.nodes); k++ {
		n := &c.nodes[k]
		if n.state < 0 {
			continue
		}
		i := n.current[m] - n.q[m] - n.g*n.volts[m]
		for _, e := range n.children {
			i -= c.nodes[e].current[m]
		}
		x[n.state][m+1] = i / (n.c * float64(m+1))
	}
}

// shunt fills in what the clamp takes.
func (c *circuit) shunt(i, v *taylor.Series) {
	*i = taylor.Series{}
	segs := c.clamp
	for _, s := range segs {
		// v[0] may lie on a border: the segment at hand of the sum decides.
		if s.lo <= c.segments[c.segment].lo && s.hi >= c.segments[c.segment].hi {
			for m := range i {
				i[m] = s.g * v[m]
			}
			i[0] -= s.i0
			return
		}
	}
}

// share fills in the current of supply k.
func (c *circuit) share(i *taylor.Series, sg *segment, k int, v, total *taylor.Series) {
	p := sg.part[k]
	if sg.upright {
		for m := range i {
			i[m] = p.w * total[m]
		}
		i[0] += p.base - p.w*sg.imin
		return
	}
	for m := range i {
		i[m] = -p.g * v[m]
	}
	i[0] += p.i0
}
