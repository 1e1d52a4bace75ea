package bus

import "example.com/headroom/internal/taylor"

// nearFraction is the part of the reference voltage down to which margins are not
// followed where their bound at that voltage is good enough.
const nearFraction = 0.5

// margins fills in how far the free nodes are from where their balance ends: the
// diagonals after elimination, relative to what they are without loads; see
// [circuit.diagonals]. Where they are far, as circuit.stable says, they are left
// at 1.
func (c *circuit) margins(sg *segment, y []taylor.Series) {
	if c.out.margins == 0 {
		return
	}
	at := c.out.margins
	if c.stable {
		for k := at; k < c.endOfMargins(); k++ {
			y[k] = taylor.Series{1}
		}
		return
	}
	for k := len(c.nodes) - 1; k >= 0; k-- {
		n := &c.nodes[k]
		if k > 0 && n.state >= 0 || k == 0 && c.rs == 0 {
			continue
		}
		d := &y[at]
		at++
		if !c.free(k, sg) {
			*d = taylor.Series{1}
			continue
		}
		v := c.series(y, k)
		var beyond taylor.Series
		if !n.idle {
			for m := range beyond {
				n.w[m] = taylor.QuotientCoef(&n.w, &n.q, v, m)
				beyond[m] = -n.w[m]
			}
		}
		g, _ := c.foot(k, sg)
		beyond[0] += g
		for _, i := range n.children {
			e := &c.nodes[i]
			if !c.free(i, sg) {
				beyond[0] += e.feeder
				continue
			}
			for m := range beyond {
				beyond[m] += e.feeder * e.ratio[m]
			}
		}
		*d = beyond
		d[0] += n.feeder
		if k > 0 && c.free(n.up, sg) {
			for m := range d {
				n.ratio[m] = taylor.QuotientCoef(&n.ratio, &beyond, d, m)
			}
		}
		for m := range d {
			d[m] /= n.most
		}
	}
}

// clearlyStable reports whether the balance of currents stays far from its end as long as
// no free node falls to [circuit.near]. Less is taken by -P/v² the higher the voltage and
// the lower the power, and d of [circuit.diagonals] grows with what is beyond: so d at that
// voltage and at the highest power of every load is a lower bound of it.
func (c *circuit) clearlyStable(sg *segment, y []taylor.Series) bool {
	v := c.near()
	for k := len(c.nodes) - 1; k >= 0; k-- {
		if !c.free(k, sg) {
			continue
		}
		if !(c.series(y, k)[0] > v*(1+1e-6)) {
			return false
		}
		n := &c.nodes[k]
		g, bare := c.foot(k, sg)
		n.beyond, n.bare = g-n.load.peak/(v*v), bare
		for _, i := range n.children {
			e := &c.nodes[i]
			if c.free(i, sg) {
				n.beyond += e.feeder * e.beyond / (e.feeder + e.beyond)
				n.bare += e.feeder * e.bare / (e.feeder + e.bare)
			} else {
				n.beyond += e.feeder
				n.bare += e.feeder
			}
		}
		if !(n.feeder+n.beyond > (n.feeder+n.bare)/2) {
			return false
		}
	}
	return true
}

// near is the voltage below which margins are followed in any case [V].
func (c *circuit) near() float64 { return nearFraction * c.reference }
