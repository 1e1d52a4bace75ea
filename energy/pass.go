package energy

import (
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// pass is one walk over the pieces of a motion, from the load to the bus.
// Polynomials are in the local time of the piece at hand until emit moves them to
// the start of the interval that it writes.
type pass struct {
	load  Load
	motor Motor

	links [maxStages + 1]Stage   // the mechanism, then the stages towards the motor
	n     int                    // number of links
	ratio [maxStages + 2]float64 // speed at the output of link i over that of the load; [n] is the motor's
	dry   float64                // drags of all links, as a friction of the load [N | N·m]
	inert float64                // of all that moves, at the load [kg | kg·m²]

	copper float64 // 1/Km² [W/(N·m)²]
	linear float64 // drive loss per torque [W/(N·m)]
	square float64 // drive loss per squared torque [W/(N·m)²]
	idle   float64 // standby [W]

	sliver, noise float64 // a time [s] and a speed [m/s] that count as nothing

	t0, t1, h float64           // start, end and length of the piece [s]
	v         []float64         // speed of the load
	a         [maxSpeed]float64 // acceleration of the load
	sign      float64           // of the speed on the span at hand, 0 at standstill

	// torque at the output of each link, and at the motor's shaft without its rotor
	torque [maxStages + 2][maxSpeed]float64

	breaks []float64
	out    [outputs][]float64 // flat coefficients, width of them for each piece
	width  [outputs]int
	book   Book
}

const (
	speedOut = iota
	torqueOut
	ratedOut
	shaftOut
	copperOut
	busOut
	outputs
)

// setUp prepares the pass over n pieces whose speed has width coefficients.
func (p *pass) setUp(a Axis, width, n int) {
	p.load, p.motor = a.Load, a.Motor
	p.links[0] = a.Mechanism.link()
	p.n = 1 + len(a.Stages)
	for i, s := range a.Stages {
		p.links[p.n-1-i] = s.link()
	}
	p.ratio[0] = 1
	p.inert = a.Load.inert()
	for i, l := range p.links[:p.n] {
		r := p.ratio[i] * l.Ratio
		p.ratio[i+1] = r
		p.dry += l.Drag * r
		p.inert += l.Inertia * r * r
	}
	r := p.ratio[p.n]
	p.inert += a.Motor.RotorInertia * r * r

	w := a.Motor.Winding
	p.copper = 1 / (w.km * w.km)
	p.linear = a.Drive.LossPerAmp / w.kt
	p.square = a.Drive.LossPerAmpSquared / (w.kt * w.kt)
	p.idle = a.Drive.Standby

	torque := width
	if a.Motor.DragPerSpeedSquared > 0 {
		torque = 2*width - 1
	}
	p.width = [outputs]int{width, torque, width, 2*width - 1, 2*torque - 1, 2*torque - 1}
	room := n + n/2 + 4
	p.breaks = append(make([]float64, 0, room+1), 0)
	for i, w := range p.width {
		p.out[i] = make([]float64, 0, room*w)
	}
}

// piece follows the piece of the motion from t0 to t1 [s] with load speed v.
func (p *pass) piece(t0, t1 float64, v []float64) {
	p.t0, p.t1, p.h = t0, t1, t1-t0
	if poly.EvalAbs(v, p.h) <= p.noise {
		p.hold()
		return
	}
	p.v = v
	clear(p.a[:])
	for i := 1; i < len(v); i++ {
		p.a[i-1] = float64(i) * v[i]
	}
	var buf [maxSpeed]span
	for _, s := range spans(buf[:0], v, 0, p.h, p.noise, p.sliver) {
		p.sign = s.sign
		p.friction(s.lo, s.hi)
		p.force(s.lo, s.hi)
	}
}

// friction books the losses that depend on speed alone, and the work against the
// external force.
func (p *pass) friction(lo, hi float64) {
	load, motor, r := &p.load, &p.motor, p.ratio[p.n]
	path := p.sign * poly.Integral(p.v, lo, hi) // distance covered
	p.book.LoadWork += load.External * p.sign * path
	p.book.LoadFriction += load.Coulomb * path
	p.book.Transmission += p.dry * path
	p.book.MotorDrag += motor.DragTorque * r * path
	if load.Viscous == 0 && motor.DragPerSpeed == 0 && motor.DragPerSpeedSquared == 0 {
		return
	}
	var sq [maxTorque]float64
	v2 := poly.Mul(sq[:0], p.v, p.v)
	square := poly.Integral(v2, lo, hi)
	p.book.LoadFriction += load.Viscous * square
	p.book.MotorDrag += motor.DragPerSpeed * r * r * square
	if motor.DragPerSpeedSquared > 0 {
		var cu [3 * maxSpeed]float64
		p.book.MotorDrag += motor.DragPerSpeedSquared * r * r * r * p.sign * poly.Integral(poly.Mul(cu[:0], v2, p.v), lo, hi)
	}
}

// force starts the chain with the force that the load takes.
func (p *pass) force(lo, hi float64) {
	m, f := p.load.inert(), &p.torque[0]
	for i, v := range p.v {
		f[i] = m*p.a[i] + p.load.Viscous*v
	}
	f[0] += p.sign*p.load.Coulomb + p.load.weight() + p.load.External
	p.chain(0, lo, hi)
}

// chain takes the torque at the output of link k on to the motor.
func (p *pass) chain(k int, lo, hi float64) {
	if k == p.n {
		p.shaft(lo, hi)
		return
	}
	l := &p.links[k]
	out, in := p.torque[k][:len(p.v)], p.torque[k+1][:len(p.v)]
	var buf [maxSpeed]span
	parts := append(buf[:0], span{lo, hi, 0})
	if l.Efficiency != 1 || l.BackEfficiency != 1 {
		parts = spans(buf[:0], out, lo, hi, 0, p.sliver)
	}
	for _, s := range parts {
		factor, loss := l.BackEfficiency, 1-l.BackEfficiency
		if s.sign*p.sign > 0 {
			factor, loss = 1/l.Efficiency, 1/l.Efficiency-1
		}
		if loss != 0 {
			var pb [maxTorque]float64
			power := poly.Mul(pb[:0], out, p.v)
			p.book.Transmission += loss * p.ratio[k] * math.Abs(poly.Integral(power, s.lo, s.hi))
		}
		j := l.Inertia * p.ratio[k+1]
		factor /= l.Ratio
		for i, t := range out {
			in[i] = j*p.a[i] + factor*t
		}
		in[0] += p.sign * l.Drag
		p.chain(k+1, s.lo, s.hi)
	}
}

// shaft adds rotor and drag to the torque at the motor's shaft and writes the
// result.
func (p *pass) shaft(lo, hi float64) {
	motor, r := &p.motor, p.ratio[p.n]
	j := motor.RotorInertia * r
	var rb [maxSpeed]float64
	rated := rb[:len(p.v)]
	for i, t := range p.torque[p.n][:len(p.v)] {
		rated[i] = j*p.a[i] + t
	}
	var tb [maxTorque]float64
	torque := tb[:p.width[torqueOut]]
	if c := motor.DragPerSpeedSquared; c > 0 {
		torque = poly.Scale(torque, poly.Mul(torque, p.v, p.v), c*p.sign*r*r)
	}
	for i, v := range rated {
		torque[i] += v + motor.DragPerSpeed*r*p.v[i]
	}
	torque[0] += p.sign * motor.DragTorque
	if p.linear == 0 {
		p.emit(lo, hi, rated, torque, 0)
		return
	}
	var buf [maxTorque]span
	for _, s := range spans(buf[:0], torque, lo, hi, 0, p.sliver) {
		p.emit(s.lo, s.hi, rated, torque, s.sign)
	}
}

// standstill is the speed of a load at rest; never written.
var standstill [maxSpeed]float64

// hold holds the load at rest for the whole piece with the least torque that does.
func (p *pass) hold() {
	t := towardsZero(p.load.weight()+p.load.External, p.load.Coulomb)
	for _, l := range p.links[:p.n] {
		t = towardsZero(t*math.Max(0, l.BackEfficiency)/l.Ratio, l.Drag)
	}
	var rb [maxSpeed]float64
	var tb [maxTorque]float64
	rb[0] = t
	tb[0] = towardsZero(t, p.motor.DragTorque)
	p.v, p.sign = standstill[:p.width[speedOut]], 0
	p.emit(0, p.h, rb[:p.width[ratedOut]], tb[:p.width[torqueOut]], sign(tb[0]))
}

// towardsZero returns t reduced in magnitude by at most d.
func towardsZero(t, d float64) float64 {
	switch {
	case t > d:
		return t - d
	case t < -d:
		return t + d
	}
	return 0
}

func sign(x float64) float64 {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}

// emit writes all curves from lo to hi and books what depends on torque. sgn is the
// sign of the torque where the drive's loss depends on it.
func (p *pass) emit(lo, hi float64, rated, torque []float64, sgn float64) {
	w := poly.Scale(p.next(speedOut), poly.Shift(p.next(speedOut), p.v, lo), p.ratio[p.n])
	rated = poly.Shift(p.next(ratedOut), rated, lo)
	torque = poly.Shift(p.next(torqueOut), torque, lo)
	poly.Mul(p.next(shaftOut), rated, w)
	square := poly.Mul(p.next(copperOut), torque, torque)
	bus := p.next(busOut)
	clear(bus[len(poly.Mul(bus, torque, w)):])
	for i, v := range square {
		bus[i] += (p.copper + p.square) * v
	}
	if p.linear > 0 {
		for i, v := range torque {
			bus[i] += p.linear * sgn * v
		}
	}
	bus[0] += p.idle

	h := hi - lo
	heat := poly.Integral(square, 0, h)
	p.book.Copper += p.copper * heat
	p.book.Drive += p.square * heat
	if p.linear > 0 {
		p.book.Drive += p.linear * math.Abs(poly.Integral(torque, 0, h))
	}
	poly.Scale(square, square, p.copper)
	var buf [maxRoots + 1]span
	for _, s := range spans(buf[:0], bus, 0, h, 0, p.sliver) {
		e := poly.Integral(bus, s.lo, s.hi)
		if e > 0 {
			p.book.Drawn += e
		} else {
			p.book.Returned -= e
		}
	}

	end := p.t0 + hi
	if hi == p.h {
		end = p.t1
	}
	p.breaks = append(p.breaks, end)
	for i := range p.out {
		p.out[i] = p.out[i][:len(p.out[i])+p.width[i]]
	}
}

// next returns the room for the next piece of an output, growing it when needed.
func (p *pass) next(k int) []float64 {
	n, w := len(p.out[k]), p.width[k]
	if cap(p.out[k]) < n+w {
		grown := make([]float64, n, 2*(n+w))
		copy(grown, p.out[k])
		p.out[k] = grown
	}
	return p.out[k][n : n+w : n+w]
}

// trace assembles the result.
func (p *pass) trace() (Trace, error) {
	var c [outputs]profile.Curve
	pieces := make([][]float64, len(p.breaks)-1)
	for k := range c {
		w := p.width[k]
		for i := range pieces {
			pieces[i] = p.out[k][i*w : (i+1)*w]
		}
		var err error
		if c[k], err = profile.NewCurve(p.breaks, pieces); err != nil {
			return Trace{}, overflow()
		}
	}
	if b := p.book.Throughput() + p.book.Residual; math.IsNaN(b) || math.IsInf(b, 0) {
		return Trace{}, overflow()
	}
	return Trace{c[speedOut], c[torqueOut], c[ratedOut], c[shaftOut], c[copperOut], c[busOut], p.book}, nil
}

func overflow() error {
	var f profile.Faults
	f.Add("motion", "torque or power beyond the range of numbers", "a motion that leaves them finite")
	return f.Err()
}
