package energy

import (
	"math"

	"example.com/headroom/profile"
)

// pass is one walk over the pieces of a motion, from the load to the bus. What does not
// change on the way is worked out by setUp.
type pass struct {
	load  Load
	motor Motor

	turns   bool        // whether a crank moves the load
	crank   CrankSlider // the one
	angles  []float64   // at which the forces on it are not smooth [rad]
	crowded bool        // whether its pieces are too many
	taut    bool        // whether a rope holds the load

	links    [maxStages + 1]Stage    // the mechanism, then the stages towards the motor
	transfer [maxStages + 1]transfer // what each makes of a torque
	n        int                     // number of links
	ratio    [maxStages + 2]float64  // speed at the output of link i over that of the load; [n] is the motor's
	dry      float64                 // drags of all links, as a friction of the load [N | N·m]
	inert    float64                 // of all that moves, at the load [kg | kg·m²]; without the load itself behind a crank
	mass     float64                 // of load and counterweight [kg | kg·m²]

	weight float64 // part of it that opposes positive motion [N]
	steady float64 // weight and constant forces that oppose positive motion [N | N·m]
	varies bool    // whether force depends on position or time besides
	elapse bool    // whether it depends on time

	losses
	idle float64 // standby [W]

	sliver, noise float64 // a time [s] and a speed [m/s] that count as nothing

	path   profile.Curve // position of the load or crank
	i      int           // the piece of the motion at hand
	t0, t1 float64       // its start and end [s]
	sign   float64       // of the speed on the part of it at hand, 0 at standstill
	at     interval      // the part
	h      float64       // how long it is [s]
	v      form          // speed of the load or crank on it
	cuts   []float64     // times in the piece at which it is cut
	held   []float64     // the same, while a hold cuts further

	slack   bool // whether the rope has gone slack, at slackAt [s]
	slackAt float64

	book Book
	back float64 // mechanical energy taken in by the motor while the bus takes power [J]

	gap [2*maxTorque - 1]float64 // mechanical power of the motor on the interval at hand

	room
}

// interval is a part of a piece of a motion, by the time since the start of that piece [s].
// Forms are in the time since the start of the interval.
type interval struct{ lo, hi float64 }

func (i interval) length() float64 { return i.hi - i.lo }

// part returns the part of i that a span of its own time is.
func (i interval) part(s span) interval {
	hi := i.hi
	if s.hi != i.length() {
		hi = i.lo + s.hi
	}
	return interval{i.lo + s.lo, hi}
}

// take makes an interval, and the speed of the load on it, the ones at hand.
func (p *pass) take(at interval, v form) { p.at, p.h, p.v = at, at.length(), v }

// setUp prepares the pass over n pieces whose speed has width coefficients. The room of an
// earlier one is used again.
func (p *pass) setUp(a *Axis, width, n int) {
	room, angles, cuts, held := p.room, p.angles[:0], p.cuts[:0], p.held[:0]
	*p = pass{}
	p.room, p.angles, p.cuts, p.held = room, angles, cuts, held
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
		p.transfer[i].set(l, p.ratio[i])
	}
	r := p.ratio[p.n]
	p.inert += a.Motor.RotorInertia * r * r

	p.weight = p.load.weight()
	p.steady = p.weight + p.load.External - p.load.Counterbalance.steady()
	p.elapse = p.load.ExternalByTime.Pieces() > 0
	p.varies = p.elapse || len(p.load.ExternalByPosition.Position) > 0 || p.load.Counterbalance.Stiffness != 0

	p.losses = a.Drive.losses(&a.Motor.Winding)
	p.idle = a.Drive.Standby

	width = max(width, 3)
	rated := width
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
	if p.tails == nil && torque > 3 {
		p.tails = new(tails)
	}
	// Of three pieces one brakes, and each link and the motor can cut it.
	p.room.lay([outputs]int{width, torque, rated, rated + width - 1, 2*torque - 1, 2*torque - 1}, n+max(1, n/3)*(p.n+1))
}

// position returns the position of the load or crank on the piece of the motion at hand.
func (p *pass) position() []float64 {
	_, _, x := p.path.Piece(p.i)
	return x
}

// piece follows piece i of the motion, from t0 to t1 [s] with a speed of the load.
func (p *pass) piece(i int, t0, t1 float64, speed []float64) {
	p.tails.release(0)
	p.i, p.t0, p.t1 = i, t0, t1
	at, v := interval{0, t1 - t0}, p.tails.form(speed[:degree(speed)+1])
	if v.bound(at.hi) <= p.noise {
		p.stand(at)
		return
	}
	if s, ok := v.sign(at.hi); ok {
		p.move(at, v, s)
		return
	}
	var buf [maxSpeed]span
	for _, s := range v.spans(buf[:0], at.hi, p.noise, p.sliver) {
		p.move(at.part(s), v.from(s.lo), s.sign)
	}
}

// move follows an interval on which the load moves in one direction, with speed v.
func (p *pass) move(at interval, v form, sign float64) {
	p.sign = sign
	switch {
	case p.turns:
		p.turn(at, v)
	case p.varies:
		p.cutAt(at.lo, at.hi)
		lo := at.lo
		for i := 0; i <= len(p.cuts); i++ {
			hi := at.hi
			if i < len(p.cuts) {
				hi = p.cuts[i]
			}
			p.force(interval{lo, hi}, v.from(lo-at.lo))
			lo = hi
		}
	default:
		p.force(at, v)
	}
}

// result writes the result, nothing where it is beyond the range of numbers.
func (p *pass) result(t *Trace) error {
	ok := p.curve(&t.Speed, speedOut) && p.curve(&t.Torque, torqueOut) && p.curve(&t.RatedTorque, ratedOut) &&
		p.curve(&t.ShaftPower, shaftOut) && p.curve(&t.CopperLoss, copperOut) && p.curve(&t.BusPower, busOut)
	b := &t.Book
	*b = p.book
	b.Recovery.Burned = math.Max(0, b.Recovery.Generated-p.back)
	sum := b.Throughput() + b.Residual + b.Recovery.Offered + b.Recovery.Generated
	if !ok || math.IsNaN(sum) || math.IsInf(sum, 0) {
		*t = Trace{}
		return overflow()
	}
	return nil
}

func overflow() error {
	return motionFault("torque or power beyond the range of numbers", "a motion that leaves them finite")
}
