package energy

import "math"

// transfer is what a link makes of the torque at its output.
type transfer struct {
	driving, braking way     // while the motor drives the load, and while the load drives the motor
	lossy            bool    // whether they differ
	inertia          float64 // torque at its input per acceleration of the load [N·m/(m/s²) | N·m/(rad/s²)]
	drag             float64 // [N·m]
}

// way is what a link does while power flows one way.
type way struct {
	factor float64 // torque at the input over torque at the output
	loss   float64 // power lost over torque at the output times speed of the load
}

// set sets t to what a link does whose output has ratio times the speed of the load.
func (t *transfer) set(l *Stage, ratio float64) {
	forth := 1 / l.Efficiency
	t.driving = way{forth / l.Ratio, (forth - 1) * ratio}
	t.braking = way{l.BackEfficiency / l.Ratio, (1 - l.BackEfficiency) * ratio}
	t.lossy = l.Efficiency != 1 || l.BackEfficiency != 1
	t.inertia = l.Inertia * l.Ratio * ratio
	t.drag = l.Drag
}

// chain takes the torque at the output of link k on to the motor.
func (p *pass) chain(k int, torque form) {
	for ; k < p.n; k++ {
		l := &p.transfer[k]
		if !l.lossy {
			torque = p.link(l, 0, torque) // either way the same
			continue
		}
		s, ok := torque.sign(p.h)
		if !ok {
			at, v := p.at, p.v
			var buf [maxTorque]span
			for _, s := range torque.spans(buf[:0], p.h, 0, p.sliver) {
				p.take(at.part(s), v.from(s.lo))
				p.chain(k+1, p.link(l, s.sign, torque.from(s.lo)))
			}
			return
		}
		torque = p.link(l, s, torque)
	}
	p.shaft(torque)
}

// link takes the torque through a link on an interval on which it has one sign.
func (p *pass) link(l *transfer, sign float64, torque form) form {
	way := &l.braking
	if sign*p.sign > 0 {
		way = &l.driving
	}
	if way.loss != 0 {
		p.book.Transmission += way.loss * math.Abs(torque.work(p.v, p.h))
	}
	torque = torque.plusSlope(way.factor, l.inertia, p.v)
	torque.a += p.sign * l.drag
	return torque
}

// shaft adds rotor and drag to the torque at the motor's shaft and writes the
// result.
func (p *pass) shaft(torque form) {
	motor, r := &p.motor, p.ratio[p.n]
	rated := torque.plusSlope(1, motor.RotorInertia*r, p.v)
	torque = rated.plus(motor.DragPerSpeed*r, p.v)
	if c := motor.DragPerSpeedSquared; c > 0 {
		torque = torque.plus(c*p.sign*r*r, p.product(p.v, p.v))
	}
	torque.a += p.sign * motor.DragTorque
	s, ok := torque.sign(p.h)
	if ok || p.linear == 0 {
		p.emit(p.v.scale(r), rated, torque, s)
		return
	}
	at, v := p.at, p.v
	var buf [maxTorque]span
	for _, s := range torque.spans(buf[:0], p.h, 0, p.sliver) {
		p.take(at.part(s), v.from(s.lo))
		p.emit(p.v.scale(r), rated.from(s.lo), torque.from(s.lo), s.sign)
	}
}

// product returns a b, of degree 12 at most.
func (p *pass) product(a, b form) form {
	var buf [maxTorque]float64
	return p.tails.form(a.times(buf[:a.size()+b.size()-1], b))
}
