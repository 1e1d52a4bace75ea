package energy

import (
	"slices"

	"example.com/headroom/internal/poly"
)

// cutAt sets cuts to the times between lo and hi at which the load passes a break of
// its force against position or time.
func (p *pass) cutAt(lo, hi float64) {
	p.cuts = p.cuts[:0]
	p.timeBreaks(lo, hi)
	from, to := poly.Eval(p.position(), lo), poly.Eval(p.position(), hi)
	for _, x := range p.load.ExternalByPosition.between(min(from, to), max(from, to)) {
		p.reach(x, lo, hi)
	}
	p.tidyCuts(lo, hi)
}

// timeBreaks adds the breaks of the force against time to the cuts.
func (p *pass) timeBreaks(lo, hi float64) {
	c := p.load.ExternalByTime
	for i := range c.Pieces() + 1 {
		t := c.End()
		if i < c.Pieces() {
			t, _, _ = c.Piece(i)
		}
		if p.elapse && t > p.t0+lo && t < p.t0+hi {
			p.cuts = append(p.cuts, t-p.t0)
		}
	}
}

// reach adds to the cuts the time at which the position, which runs one way from lo
// to hi, is x.
func (p *pass) reach(x, lo, hi float64) {
	var shifted, roots [maxPosition]float64
	q := append(shifted[:0], p.position()...)
	q[0] -= x
	if r := poly.Roots(roots[:0], q, lo, hi); len(r) > 0 {
		p.cuts = append(p.cuts, r[0])
	}
}

// tidyCuts sorts the cuts and drops those that leave no more than a sliver.
func (p *pass) tidyCuts(lo, hi float64) {
	slices.Sort(p.cuts)
	kept := p.cuts[:0]
	for _, t := range p.cuts {
		if t > lo+p.sliver && t < hi-p.sliver {
			kept = append(kept, t)
			lo = t
		}
	}
	p.cuts = kept
}
