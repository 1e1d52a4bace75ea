package energy

import (
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// pass is one walk over the pieces of a motion, from the load to the bus.
// Polynomials are in the local time of the stretch at hand until emit moves them to
// the start of the interval that it writes.
type pass struct {
	load  Load
	motor Motor

	turns   bool        // whether a crank moves the load
	crank   CrankSlider // the one
	angles  []float64   // at which the forces on it are not smooth [rad]
	crowded bool        // whether its pieces are too many
	taut    bool        // whether a rope holds the load

	links [maxStages + 1]Stage   // the mechanism, then the stages towards the motor
	n     int                    // number of links
	ratio [maxStages + 2]float64 // speed at the output of link i over that of the load; [n] is the motor's
	dry   float64                // drags of all links, as a friction of the load [N | N·m]
	inert float64                // of all that moves, at the load [kg | kg·m²]; without the load itself behind a crank
	mass  float64                // of load and counterweight [kg | kg·m²]

	weight float64 // part of it that opposes positive motion [N]
	steady float64 // weight and constant forces that oppose positive motion [N | N·m]
	varies bool    // whether force depends on position or time besides
	elapse bool    // whether it depends on time

	copper float64 // 1/Km² [W/(N·m)²]
	linear float64 // drive loss per torque [W/(N·m)]
	square float64 // drive loss per squared torque [W/(N·m)²]
	idle   float64 // standby [W]

	sliver, noise float64 // a time [s] and a speed [m/s] that count as nothing

	stretch                    // the part of the motion at hand
	a       [maxSpeed]float64  // acceleration of the load there
	sign    float64            // of the speed there, 0 at standstill
	coulomb float64            // dry friction of the load there [N | N·m]
	viscous float64            // viscous friction of the load there
	outside [maxTorque]float64 // what of the force from outside varies there
	timed   [maxTorque]float64 // of this the force against time
	vs, xs  []float64          // room for speed and position where they are not those of the motion

	// torque at the output of each link, and at the motor's shaft without its rotor,
	// terms coefficients of each
	torque [maxStages + 2][maxTorque]float64
	terms  int

	cuts    []float64 // times at which the stretch is cut
	slack   bool      // whether the rope has gone slack, at slackAt [s]
	slackAt float64

	breaks []float64
	out    [outputs][]float64 // flat coefficients, width of them for each piece
	width  [outputs]int
	book   Book
	back   float64 // mechanical energy taken in by the motor while the bus takes power [J]
}

// stretch is a part of a motion: a polynomial of the time since its start.
type stretch struct {
	t0, t1, h float64   // start, end and length [s]
	v, x      []float64 // speed and position of the load
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
func (p *pass) setUp(a *Axis, width, n int) {
	p.load, p.motor = a.Load, a.Motor
	switch m := a.Mechanism.(type) {
	case CrankSlider:
		p.turns, p.crank = true, m
		p.links[0] = m.crank()
	case HoistDrum:
		p.taut = true
		p.load.Incline = math.Pi / 2
		p.links[0] = m.link()
	default:
		p.links[0] = m.link()
	}
	p.n = 1 + len(a.Stages)
	for i, s := range a.Stages {
		p.links[p.n-1-i] = s.link()
	}
	p.mass = p.load.inert()
	p.ratio[0] = 1
	if !p.turns {
		p.inert = p.mass
	}
	for i := range p.n {
		l := &p.links[i]
		r := p.ratio[i] * l.Ratio
		p.ratio[i+1] = r
		p.dry += l.Drag * r
		p.inert += l.Inertia * r * r
	}
	r := p.ratio[p.n]
	p.inert += a.Motor.RotorInertia * r * r

	p.weight = p.load.weight()
	p.steady = p.weight + p.load.External - p.load.Counterbalance.steady()
	p.elapse = p.load.ExternalByTime.Pieces() > 0
	p.varies = p.elapse || len(p.load.ExternalByPosition.Position) > 0 || p.load.Counterbalance.Stiffness != 0

	w := &a.Motor.Winding
	p.copper = 1 / (w.km * w.km)
	p.linear = a.Drive.LossPerAmp / w.kt
	p.square = a.Drive.LossPerAmpSquared / (w.kt * w.kt)
	p.idle = a.Drive.Standby

	rated := width
	if p.turns || p.varies {
		p.vs, p.xs = make([]float64, maxSpeed), make([]float64, maxPosition)
	}
	if p.turns {
		rated = maxTorque
	} else if p.varies {
		rated = min(width+1, maxPosition)
		for i := range p.load.ExternalByTime.Pieces() {
			_, _, c := p.load.ExternalByTime.Piece(i)
			rated = max(rated, degree(c)+1)
		}
	}
	torque := rated
	if a.Motor.DragPerSpeedSquared > 0 {
		torque = max(torque, 2*width-1)
	}
	p.width = [outputs]int{width, torque, rated, rated + width - 1, 2*torque - 1, 2*torque - 1}
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

// piece follows the piece of the motion from t0 to t1 [s] with speed v and position x
// of the load.
func (p *pass) piece(t0, t1 float64, v, x []float64) {
	p.take(stretch{t0, t1, t1 - t0, v, x})
	if poly.EvalAbs(v, p.h) <= p.noise {
		p.stand()
		return
	}
	if s, ok := oneSign(p.v, 0, p.h); ok {
		p.move(span{0, p.h, s})
		return
	}
	var buf [maxSpeed]span
	for _, s := range spans(buf[:0], p.v, 0, p.h, p.noise, p.sliver) {
		p.move(s)
	}
}

// take makes s the stretch at hand.
func (p *pass) take(s stretch) {
	s.v = s.v[:degree(s.v)+1]
	p.stretch = s
	p.a[len(s.v)-1] = 0
	for i, c := range s.v[1:] {
		p.a[i] = float64(i+1) * c
	}
}

// part makes the part of s from lo to hi, in its local time, the stretch at hand.
func (p *pass) part(s stretch, lo, hi float64) {
	t1 := s.t0 + hi
	if hi == s.h {
		t1 = s.t1
	}
	p.take(stretch{s.t0 + lo, t1, hi - lo, poly.Shift(p.vs, s.v, lo), poly.Shift(p.xs, s.x, lo)})
}

// move follows a span of the stretch at hand on which the load moves in one direction.
func (p *pass) move(s span) {
	p.sign = s.sign
	switch {
	case p.turns:
		p.turn(s)
	case p.varies:
		p.coulomb, p.viscous = p.load.friction(s.sign)
		whole := p.stretch
		p.cutAt(s.lo, s.hi)
		lo := s.lo
		for i := 0; i <= len(p.cuts); i++ {
			hi := s.hi
			if i < len(p.cuts) {
				hi = p.cuts[i]
			}
			p.part(whole, lo, hi)
			p.friction(0, p.h)
			p.force(0, p.h)
			lo = hi
		}
		p.take(whole)
	default:
		p.coulomb, p.viscous = p.load.friction(s.sign)
		p.friction(s.lo, s.hi)
		p.force(s.lo, s.hi)
	}
}

// trace assembles the result.
func (p *pass) trace() (Trace, error) {
	var c [outputs]profile.Curve
	for k := range c {
		var err error
		if c[k], err = profile.FromFlat(p.breaks, p.out[k], p.width[k]); err != nil {
			return Trace{}, overflow()
		}
	}
	p.book.Recovery.Burned = math.Max(0, p.book.Recovery.Generated-p.back)
	if b := p.book.Throughput() + p.book.Residual + p.book.Recovery.Offered + p.book.Recovery.Generated; math.IsNaN(b) || math.IsInf(b, 0) {
		return Trace{}, overflow()
	}
	return Trace{c[speedOut], c[torqueOut], c[ratedOut], c[shaftOut], c[copperOut], c[busOut], p.book}, nil
}

func overflow() error {
	return motionFault("torque or power beyond the range of numbers", "a motion that leaves them finite")
}
