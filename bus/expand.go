package bus

import (
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/internal/taylor"
)

// Expand implements [taylor.System]. Where a load changes before the next step ends, its
// series go no further than the terms count until then.
func (c *circuit) Expand(t float64, x, y []taylor.Series) (reach float64) {
	c.arrive(t, x)
	sg := &c.segments[c.segment]
	reach = math.Inf(1)
	within := math.Inf(1)
	for k := range c.nodes {
		n := &c.nodes[k]
		n.idle = !c.awake || n.load.empty()
		if !n.idle {
			reach = min(reach, n.load.expand(t, &n.p))
			left, degree := n.load.ahead(t)
			within = min(within, left)
			n.degree, n.idle = degree, degree == 0 && n.p[0] == 0
		}
		if n.idle {
			n.p, n.q = taylor.Series{}, taylor.Series{}
		}
		for i := range n.switched {
			left, _ := n.switched[i].ahead(t)
			within = min(within, left)
		}
		n.volts = c.series(y, k)
	}
	c.nodes[0].loose = c.free(0, sg)
	if (c.nodes[0].loose || c.anyFreeEnd) && c.entered != t {
		c.balance(sg, x)
	}
	c.expanded = t
	held := sg.upright && c.rs > 0
	if held && !c.extremes {
		within = c.fill(sg, x, within)
	}
	least, strongest := c.degree(within)
	least++
	// Orders in sequence that do not count, of which a load that is all but c t^d leaves d
	// between any two that do; and within to the order at hand.
	small, enough, power := 0, max(2, strongest+1), 1.0
	for k := 0; ; k++ {
		c.voltages(sg, x, y, k)
		taken := c.currents(sg, x, y, k)
		if k == 0 {
			c.stable = c.out.margins > 0 && c.clearlyStable(sg, y)
		}
		if k == taylor.Order {
			break
		}
		if c.slopes(x, k); !held {
			taken = y[outSource][k]
			x[0][k+1] = c.bankCurrent[k] / (c.c * float64(k+1))
		}
		if k < least || !c.stable && c.out.margins > 0 || !c.negligible(x, taken, k, power, held) {
			small = 0
		} else if small++; small == enough {
			reach = min(reach, within)
			c.cut(x, y, k, held)
			break
		}
		power *= within
	}
	if held {
		if c.extremes {
			if leap := c.leap(t, sg, x, &y[outSource], within); leap > 0 {
				reach = min(reach, leap)
			} else {
				c.fill(sg, x, within)
			}
		}
		for m := range c.bankCurrent {
			y[outSource][m] += c.bankCurrent[m]
		}
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

// fill fills in the series of a bank that is filled through its series resistance from a
// voltage that is held, which depend on nothing else,
//
//	C dv/dt = (V - v)/Rs
//
// and returns for how long at most [taylor.Solve] will use them.
func (c *circuit) fill(sg *segment, x []taylor.Series, within float64) float64 {
	v := &x[0]
	rate, power := 1/(c.rs*c.c), 1.0
	c.bankCurrent[0] = (sg.lo - v[0]) / c.rs
	v[1] = c.bankCurrent[0] / c.c
	m := 1
	for ; m < taylor.Order; m++ {
		c.bankCurrent[m] = -v[m] / c.rs
		v[m+1] = -v[m] * rate / float64(m+1)
		power *= within
		if within*rate < float64(m+1) && math.Abs(v[m])*power <= c.little()*c.reference && math.Abs(c.bankCurrent[m])*power <= c.little()*c.current {
			clear(v[m+1:])
			clear(c.bankCurrent[m+1:])
			return within
		}
	}
	c.bankCurrent[m] = -v[m] / c.rs
	return min(within, math.Pow(c.tolerance*c.current/math.Abs(c.bankCurrent[m]), 1./taylor.Order))
}

// leap leaves out how the bank is filled where only the extremes of voltages matter: these
// do not depend on it while the source holds the bus, for which it is enough that the
// current into the bank, which falls in magnitude, and the range over a time of what else
// is taken add up to what the source can deliver. [circuit.arrive] makes it good:
//
//	v(t) = V - (V - v(t0)) e^(-(t - t0)/(Rs C))
//
// It returns for how long that holds, within the time given; 0: not for long.
func (c *circuit) leap(t float64, sg *segment, x []taylor.Series, taken *taylor.Series, within float64) float64 {
	missing := sg.lo - x[0][0]
	from, to := min(0, missing/c.rs), max(0, missing/c.rs)
	for _, within := range []float64{within, min(within, 10*c.rs*c.c)} {
		lo, hi := poly.Range(taken[:], within)
		if missing != 0 && lo+from >= sg.imin && hi+to <= sg.imax {
			c.leapt, c.heldAt, c.missing = t, sg.lo, missing
			clear(x[0][1:])
			c.bankCurrent = taylor.Series{}
			return within
		}
	}
	return 0
}

// arrive brings the voltage of the bank up to date after a leap, and loads and free nodes to
// where their series lead.
func (c *circuit) arrive(t float64, x []taylor.Series) {
	if dt := t - c.expanded; dt > 0 {
		for k := range c.nodes {
			n := &c.nodes[k]
			if n.arrived = 0; !n.idle {
				n.arrived = poly.Eval(n.p[:min(n.degree, taylor.Order)+1], dt)
			}
			if n.loose { // the balance starts from there
				n.v = poly.Eval(n.volts[:], dt)
				if k > 0 {
					n.drop = poly.Eval(c.nodes[n.up].volts[:], dt) - n.v
				}
			}
		}
		c.expanded = t
	}
	if !math.IsNaN(c.leapt) {
		x[0][0] = c.heldAt
		if rest := c.missing * math.Exp(-(t-c.leapt)/(c.rs*c.c)); math.Abs(rest) > c.little()*c.heldAt {
			x[0][0] -= rest
		}
		c.leapt = math.NaN()
	}
}

// little is the part of its scale below which a term of a series over a step counts as
// nothing. The rule for the length of a step, with terms that are as small as that at
// its end, leaves out more.
func (c *circuit) little() float64 { return c.tolerance / 10 }

// negligible reports whether the terms of order m are nothing over a time, given the
// power m of that: those of the voltages, of a current, and of the bank unless it is held.
func (c *circuit) negligible(x []taylor.Series, current float64, m int, power float64, held bool) bool {
	limit := c.little() * c.reference / power
	for k := range c.nodes {
		if !(math.Abs(c.nodes[k].volts[m]) <= limit) {
			return false
		}
	}
	return math.Abs(current) <= c.little()*c.current/power && (held || math.Abs(x[0][m]) <= limit)
}

// degree returns the highest order at which a load counts over a time, and the highest of the
// orders that count most in one of them.
func (c *circuit) degree(within float64) (highest, strongest int) {
	for k := range c.nodes {
		n := &c.nodes[k]
		if n.idle || n.degree == 0 {
			continue
		}
		power, most, at := 1.0, math.Abs(n.p[0]), 0
		for m := 1; m <= min(n.degree, taylor.Order); m++ {
			power *= within
			v := math.Abs(n.p[m]) * power
			if v > most {
				most, at = v, m
			}
			if m > highest && !(v <= c.little()*n.load.peak) {
				highest = m
			}
		}
		strongest = max(strongest, at)
	}
	return highest, strongest
}

// cut ends all series at order m, but for those of a bank that is held.
func (c *circuit) cut(x, y []taylor.Series, m int, held bool) {
	for k := range c.nodes {
		n := &c.nodes[k]
		clear(n.volts[m+1:])
		clear(n.q[m+1:])
		if n.state >= 0 {
			clear(x[n.state][m+1:])
		}
	}
	clear(y[outSource][m+1:])
	if !held {
		clear(x[0][m+1:])
	}
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
	switch root := &c.nodes[0]; {
	case sg.upright:
		root.volts[m] = 0
		if m == 0 {
			root.volts[0] = sg.lo
		}
	case c.rs == 0:
		root.volts[m] = x[0][m]
	case m == 0:
		root.volts[0] = root.v
	}
	for k := 1; k < len(c.nodes) && (m == 0 || c.anyState); k++ {
		if n := &c.nodes[k]; n.state >= 0 {
			n.volts[m] = x[n.state][m]
		} else if m == 0 {
			n.volts[0] = n.v
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
			n.sum = 0
			if n.loose {
				n.resistance = 1 / n.d
				n.through = n.feeder * n.resistance
			}
		}
		return
	}
	// What a free node's balance holds besides its own and its neighbours' unknown
	// coefficients, from the ends to the root.
	for k := len(c.nodes) - 1; k >= 0; k-- {
		n := &c.nodes[k]
		if !n.idle {
			n.q[m] = (n.p[m] - inner(n.volts[1:m], n.q[1:m])) * n.inverse
		}
		switch {
		case k == 0:
			if n.loose {
				n.rest = n.sum - n.q[m] + x[0][m]/c.rs
			}
		case n.loose:
			n.rest = n.sum - n.q[m]
			if up := &c.nodes[n.up]; up.loose {
				up.sum += n.rest * n.through
			} else {
				n.rest += n.feeder * up.volts[m]
			}
		default:
			if up := &c.nodes[n.up]; up.loose {
				up.sum += n.feeder * n.volts[m]
			}
		}
		n.sum = 0
	}
	for k := range c.nodes {
		n := &c.nodes[k]
		if n.loose {
			r := n.rest
			if k > 0 {
				if up := &c.nodes[n.up]; up.loose {
					r += n.feeder * up.volts[m]
				}
			}
			n.volts[m] = r * n.resistance
		}
		if !n.idle {
			n.q[m] -= n.slope * n.volts[m]
		}
	}
}

// currents fills in coefficient m of the currents in the feeders and of the
// source, and returns that of what is taken from the distribution point. What the bank
// takes behind a series resistance from a voltage that is held is left out.
func (c *circuit) currents(sg *segment, x, y []taylor.Series, m int) float64 {
	root, v, is := &c.nodes[0], &y[outVoltage], &y[outSource]
	g := root.g + c.drain
	if sg.upright && c.rs > 0 && !c.anyState && m > 0 {
		// The voltage of the distribution point is constant: nothing is lost in differences.
		taken := root.q[m]
		for _, e := range root.children {
			taken -= c.nodes[e].feeder * c.nodes[e].volts[m]
		}
		is[m] = taken
		return taken
	}
	for k := len(c.nodes) - 1; k > 0; k-- {
		n := &c.nodes[k]
		up := &c.nodes[n.up]
		n.onward, n.sum = n.sum, 0
		if n.state >= 0 {
			n.current = n.feeder * (up.volts[m] - n.volts[m])
		} else {
			n.current = n.q[m] + n.g*n.volts[m] + n.onward
		}
		up.sum += n.current
	}
	feeders := root.sum
	root.sum = 0
	taken := g*v[m] + root.q[m] + feeders
	// The currents of bank and source are differences of voltages over their
	// resistances, but for a small resistance the balance with the rest is the
	// better way.
	if sg.upright {
		if is[m] = taken; c.rs == 0 {
			c.bankCurrent[m] = 0
		}
		return taken
	}
	is[m] = -sg.g * v[m]
	bank := -(sg.g+g)*v[m] - root.q[m] - feeders
	if m == 0 {
		is[0] += sg.i0
		bank += sg.i0
	}
	if c.rs > 0 {
		if c.rs*(sg.g+g+root.adjacent) > 1 {
			bank = (v[m] - x[0][m]) / c.rs
		}
		if c.rs*sg.g > 1 {
			is[m] = bank + taken
		}
	}
	c.bankCurrent[m] = bank
	return taken
}

// slopes fills in coefficient m+1 of the states at the ends of feeders.
func (c *circuit) slopes(x []taylor.Series, m int) {
	if !c.anyState {
		return
	}
	for k := 1; k < len(c.nodes); k++ {
		n := &c.nodes[k]
		if n.state < 0 {
			continue
		}
		i := n.current - n.q[m] - n.g*n.volts[m] - n.onward
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
