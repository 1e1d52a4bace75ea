package energy

import (
	"math"

	"example.com/headroom/internal/poly"
)

// chain takes the torque at the output of link k on to the motor.
func (p *pass) chain(k int, lo, hi float64) {
	if k == p.n {
		p.shaft(lo, hi)
		return
	}
	l, out := &p.links[k], p.torque[k][:p.terms]
	if l.Efficiency == 1 && l.BackEfficiency == 1 {
		p.link(k, span{lo, hi, 0}) // either way the same
		return
	}
	if s, ok := oneSign(out, lo, hi); ok {
		p.link(k, span{lo, hi, s})
		return
	}
	var buf [maxTorque]span
	for _, s := range spans(buf[:0], out, lo, hi, 0, p.sliver) {
		p.link(k, s)
	}
}

// link takes the torque through link k on a span on which it has one sign.
func (p *pass) link(k int, s span) {
	l, out, in := &p.links[k], p.torque[k][:p.terms], p.torque[k+1][:p.terms]
	factor, loss := l.BackEfficiency, 1-l.BackEfficiency
	if s.sign*p.sign > 0 {
		factor, loss = 1/l.Efficiency, 1/l.Efficiency-1
	}
	if loss != 0 {
		var buf [maxTorque + maxSpeed]float64
		power := multiply(buf[:len(out)+len(p.v)-1], out, p.v)
		p.book.Transmission += loss * p.ratio[k] * math.Abs(integral(power, s.lo, s.hi))
	}
	j := l.Inertia * p.ratio[k+1]
	factor /= l.Ratio
	for i, t := range out {
		in[i] = factor * t
	}
	for i := range p.v {
		in[i] += j * p.a[i]
	}
	in[0] += p.sign * l.Drag
	p.chain(k+1, s.lo, s.hi)
}

// shaft adds rotor and drag to the torque at the motor's shaft and writes the
// result.
func (p *pass) shaft(lo, hi float64) {
	motor, r := &p.motor, p.ratio[p.n]
	j := motor.RotorInertia * r
	rated := p.torque[p.n][:p.terms]
	for i := range p.v {
		rated[i] += j * p.a[i]
	}
	var tb [maxTorque]float64
	torque := tb[:len(rated)]
	if c := motor.DragPerSpeedSquared; c > 0 {
		square := poly.Mul(tb[:0], p.v, p.v)
		poly.Scale(square, square, c*p.sign*r*r)
		torque = tb[:max(len(rated), len(square))]
	}
	for i, v := range rated {
		torque[i] += v
	}
	if c := motor.DragPerSpeed * r; c > 0 {
		for i, v := range p.v {
			torque[i] += c * v
		}
	}
	torque[0] += p.sign * motor.DragTorque
	s, ok := oneSign(torque, lo, hi)
	if ok || p.linear == 0 {
		p.emit(lo, hi, rated, torque, s)
		return
	}
	var buf [maxTorque]span
	for _, s := range spans(buf[:0], torque, lo, hi, 0, p.sliver) {
		p.emit(s.lo, s.hi, rated, torque, s.sign)
	}
}
