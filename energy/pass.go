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
	p.grow(n + n/2 + 4)
	p.breaks = append(p.breaks, 0)
}

// grow makes room for a number of pieces in all outputs, in one block.
func (p *pass) grow(pieces int) {
	size := pieces + 1
	for _, w := range p.width {
		size += pieces * w
	}
	block := make([]float64, size)
	p.breaks = append(block[:0:pieces+1], p.breaks...)
	block = block[pieces+1:]
	for k, w := range p.width {
		p.out[k] = append(block[:0:pieces*w], p.out[k]...)
		block = block[pieces*w:]
	}
}

// piece follows the piece of the motion from t0 to t1 [s] with load speed v.
func (p *pass) piece(t0, t1 float64, v []float64) {
	p.t0, p.t1, p.h = t0, t1, t1-t0
	if poly.EvalAbs(v, p.h) <= p.noise {
		p.hold()
		return
	}
	p.v = v[:degree(v)+1]
	p.a[len(p.v)-1] = 0
	for i, c := range p.v[1:] {
		p.a[i] = float64(i+1) * c
	}
	if s, ok := oneSign(p.v, p.h); ok {
		p.move(span{0, p.h, s})
		return
	}
	var buf [maxSpeed]span
	for _, s := range spans(buf[:0], p.v, 0, p.h, p.noise, p.sliver) {
		p.move(s)
	}
}

// move follows a span on which the load moves in one direction.
func (p *pass) move(s span) {
	p.sign = s.sign
	p.friction(s.lo, s.hi)
	p.force(s.lo, s.hi)
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
	l, out := &p.links[k], p.torque[k][:len(p.v)]
	if l.Efficiency == 1 && l.BackEfficiency == 1 {
		p.link(k, span{lo, hi, 0}) // either way the same
		return
	}
	if s, ok := oneSign(out, hi); ok {
		p.link(k, span{lo, hi, s})
		return
	}
	var buf [maxSpeed]span
	for _, s := range spans(buf[:0], out, lo, hi, 0, p.sliver) {
		p.link(k, s)
	}
}

// link takes the torque through link k on a span on which it has one sign.
func (p *pass) link(k int, s span) {
	l, out, in := &p.links[k], p.torque[k][:len(p.v)], p.torque[k+1][:len(p.v)]
	factor, loss := l.BackEfficiency, 1-l.BackEfficiency
	if s.sign*p.sign > 0 {
		factor, loss = 1/l.Efficiency, 1/l.Efficiency-1
	}
	if loss != 0 {
		var buf [maxTorque]float64
		power := poly.Mul(buf[:0], out, p.v)
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
	torque := tb[:len(rated)]
	if c := motor.DragPerSpeedSquared; c > 0 {
		torque = tb[:2*len(rated)-1]
		torque = poly.Scale(torque, poly.Mul(torque, p.v, p.v), c*p.sign*r*r)
	}
	for i, v := range rated {
		torque[i] += v + motor.DragPerSpeed*r*p.v[i]
	}
	torque[0] += p.sign * motor.DragTorque
	if s, ok := oneSign(torque, hi); ok || p.linear == 0 {
		p.emit(lo, hi, rated, torque, s)
		return
	}
	var buf [maxTorque]span
	for _, s := range spans(buf[:0], torque, lo, hi, 0, p.sliver) {
		p.emit(s.lo, s.hi, rated, torque, s.sign)
	}
}

// standstill is the speed of a load at rest; never written.
var standstill = []float64{0}

// hold holds the load at rest for the whole piece with the least torque that does.
func (p *pass) hold() {
	t := towardsZero(p.load.weight()+p.load.External, p.load.Coulomb)
	for _, l := range p.links[:p.n] {
		t = towardsZero(t*math.Max(0, l.BackEfficiency)/l.Ratio, l.Drag)
	}
	rated, torque := [1]float64{t}, [1]float64{towardsZero(t, p.motor.DragTorque)}
	p.v, p.sign = standstill, 0
	p.emit(0, p.h, rated[:], torque[:], sign(torque[0]))
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
	if len(p.breaks) == cap(p.breaks) {
		p.grow(2 * len(p.breaks))
	}
	nv, nt := len(rated), len(torque)
	w := poly.Shift(p.next(speedOut, nv), p.v, lo)
	poly.Scale(w, w, p.ratio[p.n])
	rated = poly.Shift(p.next(ratedOut, nv), rated, lo)
	torque = poly.Shift(p.next(torqueOut, nt), torque, lo)
	poly.Mul(p.next(shaftOut, 2*nv-1), rated, w)
	square := poly.Mul(p.next(copperOut, 2*nt-1), torque, torque)
	bus := p.next(busOut, 2*nt-1)
	poly.Mul(bus[:nt+nv-1], torque, w)
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
	p.split(bus, h)

	end := p.t0 + hi
	if hi == p.h {
		end = p.t1
	}
	p.breaks = append(p.breaks, end)
	for k, w := range p.width {
		p.out[k] = p.out[k][:len(p.out[k])+w]
	}
}

// split books the energy of the bus power on [0, h] as drawn and as returned.
func (p *pass) split(bus []float64, h float64) {
	if s, ok := oneSign(bus, h); ok {
		p.bookBus(bus, span{0, h, s})
		return
	}
	var buf [maxRoots + 1]span
	for _, s := range spans(buf[:0], bus, 0, h, 0, p.sliver) {
		p.bookBus(bus, s)
	}
}

func (p *pass) bookBus(bus []float64, s span) {
	if e := poly.Integral(bus, s.lo, s.hi); e > 0 {
		p.book.Drawn += e
	} else {
		p.book.Returned -= e
	}
}

// next returns the room, all zero, for the first n coefficients of the next piece of
// an output.
func (p *pass) next(k, n int) []float64 {
	at := len(p.out[k])
	return p.out[k][at : at+n : at+n]
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
