package energy

import (
	"math"
	"sort"

	"example.com/headroom/internal/poly"
)

// force books what depends on the speed v alone and starts the chain with the force that
// the load takes.
func (p *pass) force(at interval, v form) {
	used := p.tails.mark()
	p.take(at, v)
	dry, viscous := p.load.friction(p.sign)
	path := p.sign * v.integral(p.h) // distance covered
	p.book.LoadWork += p.load.External * p.sign * path
	p.book.LoadFriction += dry*path + viscous*p.drags(path)

	var outside form
	if p.varies {
		outside = p.varying(at, v)
	}
	outside.a += p.steady
	p.offered(outside.plusSlope(1, p.inert, v))
	force := outside.plusMotion(viscous, p.mass, v)
	force.a += p.sign * dry
	if p.taut {
		p.checkTaut(at, force)
	}
	p.chain(0, force)
	p.tails.release(used)
}

// drags books what the drags of stages and motor take over a path, and returns the
// integral of the squared speed.
func (p *pass) drags(path float64) (square float64) {
	motor, r := &p.motor, p.ratio[p.n]
	square = p.v.work(p.v, p.h)
	p.book.Transmission += p.dry * path
	p.book.MotorDrag += r * (motor.DragTorque*path + motor.DragPerSpeed*r*square)
	if c := motor.DragPerSpeedSquared; c > 0 {
		p.book.MotorDrag += c * r * r * r * p.sign * p.product(p.v, p.v).work(p.v, p.h)
	}
	return square
}

// varying returns the forces that depend on position and time on an interval without
// breaks, and books the work of those from outside.
func (p *pass) varying(at interval, v form) form {
	var buf [maxPosition]float64
	path := p.position()
	position := poly.Shift(buf[:0], path[:degree(path)+1], at.lo)
	x, h := p.tails.form(position), at.length()
	outside := p.during(at)
	if len(p.load.ExternalByPosition.Position) > 0 {
		s := p.load.ExternalByPosition.segment(x.at(h / 2))
		outside = outside.plus(s.slope, x)
		outside.a += s.value(0)
	}
	p.book.LoadWork += outside.work(v, h)
	if k := p.load.Counterbalance.Stiffness; k != 0 {
		outside = outside.plus(k, x)
		outside.a -= k * p.load.Counterbalance.Relaxed
	}
	return outside
}

// during returns the force against time on an interval without breaks.
func (p *pass) during(at interval) form {
	if !p.elapse {
		return form{}
	}
	c := &p.load.ExternalByTime
	start := p.t0 + at.lo
	mid := start + at.length()/2
	i := sort.Search(c.Pieces(), func(i int) bool { _, t1, _ := c.Piece(i); return t1 > mid })
	if i == c.Pieces() {
		return form{}
	}
	t0, _, q := c.Piece(i)
	if mid < t0 {
		return form{}
	}
	var buf [maxTorque]float64
	return p.tails.form(poly.Shift(buf[:0], q[:degree(q)+1], start-t0))
}

// offered books the energy that inertia, weight, counterbalance and outside forces
// hand over while their sum drives the motion; force is the sum, positive against
// positive motion.
func (p *pass) offered(force form) {
	if s, ok := force.sign(p.h); ok {
		if s*p.sign < 0 {
			p.book.Recovery.Offered += math.Abs(force.work(p.v, p.h))
		}
		return
	}
	var buf [maxTorque]span
	for _, s := range force.spans(buf[:0], p.h, 0, p.sliver) {
		if s.sign*p.sign < 0 {
			p.book.Recovery.Offered += math.Abs(force.from(s.lo).work(p.v.from(s.lo), s.hi-s.lo))
		}
	}
}

// checkTaut notes when the force on a load that hangs on a rope is below zero.
func (p *pass) checkTaut(at interval, force form) {
	var buf [maxTorque]float64
	if least, when, _, _ := poly.Extrema(force.coefs(&buf), 0, at.length()); least < -1e-9*p.weight && !p.slack {
		p.slack, p.slackAt = true, p.t0+at.lo+when
	}
}
