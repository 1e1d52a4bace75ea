package energy

import (
	"math"
	"sort"

	"example.com/headroom/internal/poly"
)

// friction books the losses that depend on speed alone, and the work against the
// constant external force.
func (p *pass) friction(lo, hi float64) {
	path := p.sign * integral(p.v, lo, hi) // distance covered
	p.book.LoadWork += p.load.External * p.sign * path
	p.book.LoadFriction += p.coulomb * path
	square := p.drags(lo, hi, path, p.viscous > 0)
	p.book.LoadFriction += p.viscous * square
}

// drags books what the drags of stages and motor take over a path, and returns the
// integral of the squared speed if it was needed, or if asked for.
func (p *pass) drags(lo, hi, path float64, asked bool) (square float64) {
	motor, r := &p.motor, p.ratio[p.n]
	p.book.Transmission += p.dry * path
	p.book.MotorDrag += motor.DragTorque * r * path
	if !asked && motor.DragPerSpeed == 0 && motor.DragPerSpeedSquared == 0 {
		return 0
	}
	var sq [maxTorque]float64
	v2 := multiply(sq[:2*len(p.v)-1], p.v, p.v)
	square = integral(v2, lo, hi)
	p.book.MotorDrag += motor.DragPerSpeed * r * r * square
	if motor.DragPerSpeedSquared > 0 {
		var cu [3 * maxSpeed]float64
		p.book.MotorDrag += motor.DragPerSpeedSquared * r * r * r * p.sign * poly.Integral(poly.Mul(cu[:0], v2, p.v), lo, hi)
	}
	return square
}

// force starts the chain with the force that the load takes.
func (p *pass) force(lo, hi float64) {
	var offer [maxTorque]float64
	f := &p.torque[0]
	for i, v := range p.v {
		f[i] = p.mass*p.a[i] + p.viscous*v
		offer[i] = p.inert * p.a[i]
	}
	f[0] += p.sign*p.coulomb + p.steady
	offer[0] += p.steady
	p.terms = len(p.v)
	if p.varies {
		p.varying(hi, &offer)
	}
	if p.taut {
		p.checkTaut(lo, hi)
	}
	p.offered(offer[:p.terms], lo, hi)
	p.chain(0, lo, hi)
}

// varying adds the forces that depend on position and time to the force and to what
// the load offers, on a stretch of length h without breaks, and books the work of
// those from outside.
func (p *pass) varying(h float64, offer *[maxTorque]float64) {
	outside := p.fromOutside(h, p.x)
	f := &p.torque[0]
	for i := p.terms; i < len(outside); i++ {
		f[i] = 0
	}
	p.terms = max(p.terms, len(outside))
	for i, c := range outside {
		f[i] += c
		offer[i] += c
	}
	var buf [maxTorque + maxSpeed]float64
	p.book.LoadWork += poly.Integral(poly.Mul(buf[:0], outside, p.v), 0, h)

	if k := p.load.Counterbalance.Stiffness; k != 0 {
		for i := p.terms; i < len(p.x); i++ {
			f[i] = 0
		}
		p.terms = max(p.terms, degree(p.x)+1)
		for i, c := range p.x[:degree(p.x)+1] {
			f[i] += k * c
			offer[i] += k * c
		}
		f[0] -= k * p.load.Counterbalance.Relaxed
		offer[0] -= k * p.load.Counterbalance.Relaxed
	}
}

// fromOutside returns the forces from table and curve on a stretch of length h without
// breaks on which the load has position x; at least one coefficient.
func (p *pass) fromOutside(h float64, x []float64) []float64 {
	out := p.outside[:1]
	out[0] = 0
	if len(p.load.ExternalByPosition.Position) > 0 {
		s := p.load.ExternalByPosition.segment(poly.Eval(x, h/2))
		if s.slope != 0 {
			out = poly.Scale(p.outside[:0], x[:degree(x)+1], s.slope)
		}
		out[0] += s.value(0)
	}
	c := p.duringStretch(h)
	for i := len(out); i < len(c); i++ {
		out = append(out, 0)
	}
	for i, v := range c {
		out[i] += v
	}
	return out
}

// duringStretch returns the force against time on a stretch of length h without
// breaks, in its local time.
func (p *pass) duringStretch(h float64) []float64 {
	if !p.elapse {
		return nil
	}
	c := &p.load.ExternalByTime
	mid := p.t0 + h/2
	i := sort.Search(c.Pieces(), func(i int) bool { _, t1, _ := c.Piece(i); return t1 > mid })
	t0, _, q := c.Piece(i)
	if i == c.Pieces() || mid < t0 {
		return nil
	}
	return poly.Shift(p.timed[:0], q[:degree(q)+1], p.t0-t0)
}

// offered books the energy that inertia, weight, counterbalance and outside forces
// hand over while their sum drives the motion; force is the sum, positive against
// positive motion.
func (p *pass) offered(force []float64, lo, hi float64) {
	if s, ok := oneSign(force, lo, hi); ok {
		if s*p.sign < 0 {
			p.offer(force, lo, hi)
		}
		return
	}
	var buf [maxTorque]span
	for _, s := range spans(buf[:0], force, lo, hi, 0, p.sliver) {
		if s.sign*p.sign < 0 {
			p.offer(force, s.lo, s.hi)
		}
	}
}

func (p *pass) offer(force []float64, lo, hi float64) {
	var buf [maxTorque + maxSpeed]float64
	p.book.Recovery.Offered += math.Abs(integral(multiply(buf[:len(force)+len(p.v)-1], force, p.v), lo, hi))
}

// checkTaut notes when the force on a load that hangs on a rope is below zero.
func (p *pass) checkTaut(lo, hi float64) {
	f := p.torque[0][:p.terms]
	if least, at, _, _ := poly.Extrema(f, lo, hi); least < -1e-9*p.weight && !p.slack {
		p.slack, p.slackAt = true, p.t0+at
	}
}
