package energy

import (
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// Start is an instant at which an axis leaves standstill, and what that takes.
//
// On a [Direct] axis N·m reads N.
type Start struct {
	Time        float64 // since the start of the motion [s]
	Position    float64 // axis coordinate [m | rad]
	Accel       float64 // with which the motion sets in [m/s² | rad/s²]
	Direction   float64 // of the motion that follows, 1 or -1
	Torque      float64 // electromagnetic torque [N·m], positive in the direction of positive motion
	RatedTorque float64 // shaft torque [N·m], Torque less the motor's drag: compare with its ratings
}

// Starts returns, in order of time, every instant at which the motion leaves standstill: at
// its start from rest, at the end of a dwell, where it reverses, and where it only touches
// standstill; with the torque that the motor needs there. The load has its static friction
// [Load.Breakaway] in place of the dry one, so that in the direction d of the motion to come
//
//	F = M a + d Fs + M g sin(incline) - A(x) + outside(x, t)
//	t = J alpha + d drag + tL/(N ef)   if tL d > 0
//	t = J alpha + d drag + tL eb/N     if tL d < 0, the load pulls
//
// stage after stage, and the motor adds its rotor and the constant part of its drag; what
// grows with speed is zero (Coulomb friction, static in place of kinetic at rest: common
// practice, no source). a is the acceleration that the motion has from that instant on, 0 for one of
// limited jerk that starts from rest; at a = 0 the torque is BreakPlus or BreakMinus of [Axis.Holding].
//
// A trace has the friction of a moving load from the first instant, because breaking away
// takes no time and no energy in this model: hold the torques here against the peak torque
// of motor and drive, not against their continuous ratings. A negative product of Torque
// and Direction is the torque with which the motor holds the load back.
//
// A force from outside with a step at that position or time counts with its value on the
// side where the motion goes. Where the crank of a [CrankSlider] turns on, the slider comes
// to rest at the dead centres; these are no starts, since its friction has no lever there.
//
// The empty motion has no start. It is an error when the axis is invalid, a piece of the
// motion has a degree above 7, a hoist's rope is slack at a start, as it is when static friction
// holds the load up, or a torque leaves the range of float64.
func (a Axis) Starts(m profile.Motion) ([]Start, error) {
	if err := a.Validate(); err != nil {
		return nil, err
	}
	position, speed := m.Position(), m.Speed()
	width, fastest, err := measure(speed)
	if err != nil {
		return nil, err
	}
	var p pass
	p.setUp(&a, width, 0)
	p.sliver, p.noise = relative*m.Duration(), relative*fastest
	hair := relative * math.Abs(position.AbsMax().V)

	var starts []Start
	moving := 0.0 // direction of the motion so far
	for i := range speed.Pieces() {
		t0, t1, v := speed.Piece(i)
		_, _, x := position.Piece(i)
		h := t1 - t0
		if poly.EvalAbs(v, h) <= p.noise {
			moving = 0
			continue
		}
		p.rests(v[:degree(v)+1], h)
		lo := 0.0
		for k := 0; k <= len(p.cuts); k++ {
			hi := h
			if k < len(p.cuts) {
				hi = p.cuts[k]
			}
			direction := sign(poly.Eval(v, lo+(hi-lo)/2))
			now, accel := poly.EvalBoth(v, lo)
			switch {
			case direction == 0:
			case direction != moving && (i > 0 || k > 0), math.Abs(now) <= p.noise:
				s := Start{Time: t0 + lo, Position: poly.Eval(x, lo), Accel: accel, Direction: direction}
				if err := p.start(&s, hair); err != nil {
					return nil, err
				}
				starts = append(starts, s)
			}
			moving = direction
			lo = hi
		}
	}
	return starts, nil
}

// rests sets cuts to the times from 0 to h at which the speed v is zero: its roots,
// and where it turns so near to zero that rounding may have taken the root away.
func (p *pass) rests(v []float64, h float64) {
	var roots, turns, slope [maxSpeed]float64
	p.cuts = append(p.cuts[:0], poly.Roots(roots[:0], v, 0, h)...)
	for _, t := range poly.Roots(turns[:0], poly.Derivative(slope[:0], v), 0, h) {
		if math.Abs(poly.Eval(v, t)) <= p.noise {
			p.cuts = append(p.cuts, t)
		}
	}
	p.tidyCuts(0, h)
}

// start sets the torques of a start. A load less than a hair from a step of its force table
// counts as on it.
func (p *pass) start(s *Start, hair float64) error {
	d := s.Direction
	x, k := s.Position, 1.0
	if p.turns {
		x, k, _ = p.crank.At(x)
		hair *= math.Abs(k)
	}
	way := d // of the load
	if k < 0 {
		way = -d
	}
	force := p.restingTowards(x, way*hair) + p.mass*k*s.Accel + way*p.load.static(way)
	if c := p.load.ExternalByTime; s.Time >= c.Start() && s.Time < c.End() {
		force += c.At(s.Time)
	}
	if p.taut && force < -1e-9*p.weight {
		return motionFault(fmt.Sprintf("a rope that goes slack at %g s", s.Time), "a hoist that keeps its rope taut")
	}
	s.RatedTorque, s.Torque = p.breakaway(k*force, d, s.Accel)
	if sum := math.Abs(s.Torque) + math.Abs(s.RatedTorque); math.IsInf(sum, 0) || math.IsNaN(sum) {
		return overflow()
	}
	return nil
}
