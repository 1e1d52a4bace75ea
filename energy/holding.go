package energy

import (
	"math"

	"example.com/headroom/profile"
)

// Holding says which electromagnetic torques of the motor leave an axis at rest, all in
// N·m (N on a [Direct] axis) and positive in the direction of positive motion. With the
// force f that the load needs to be balanced, from weight, counterbalance and outside, and
// the static friction s of the load,
//
//	BreakPlus   is what f + s takes at the motor while everything starts to move upwards:
//	            t = drag + tL/(N ef), or drag + tL eb/N where tL is negative
//	BreakMinus  is what f - s takes while it starts to move downwards:
//	            t = -drag + tL eb/N, or -drag + tL/(N ef) where tL is negative
//
// stage after stage, "upwards" being the direction of positive motion. Every torque between
// the two holds the axis; above BreakPlus it starts upwards, below BreakMinus downwards.
// BreakPlus is thus both the torque to break away upwards and the largest that still holds.
// Where BreakMinus is not above 0 the axis needs no torque to stay: friction or a
// self-locking stage holds it.
type Holding struct {
	Least      float64 // torque of the least magnitude that holds: 0, or the one of the two below that is nearer to it; what [Axis.Trace] has at standstill
	BreakPlus  float64 // above it the axis starts in the positive direction
	BreakMinus float64 // below it the axis starts in the negative direction, at most BreakPlus
	Free       float64 // torque that balances the load without any friction or loss: what a brake has to be chosen for
}

// Holding returns what holds the axis at rest at a position [m | rad], with the force
// from outside that it has there, and at the given time [s] where that depends on time.
//
// Friction and self-locking give way to vibration, wear and oil: a load that can fall needs
// a brake or lock rated for Free with the margin that codes and licensed practice ask for.
func (a Axis) Holding(position, time float64) (Holding, error) {
	var f profile.Faults
	f.Under("", a.Validate())
	checkFinite(&f, "position", position, "m or rad")
	checkFinite(&f, "time", time, "s")
	if err := f.Err(); err != nil {
		return Holding{}, err
	}
	var p pass
	p.setUp(&a, 1, 0)
	x, k := position, 1.0
	if p.turns {
		x, k, _ = p.crank.At(position)
	}
	force := p.resting(x)
	if c := p.load.ExternalByTime; time >= c.Start() && time <= c.End() {
		force += c.At(time)
	}
	var h Holding
	plus, minus := p.load.static(1), p.load.static(-1)
	if k < 0 {
		plus, minus = minus, plus
	}
	_, h.BreakPlus = p.breakaway(k*force+math.Abs(k)*plus, 1, 0)
	_, h.BreakMinus = p.breakaway(k*force-math.Abs(k)*minus, -1, 0)
	h.Free = k * force / p.ratio[p.n]
	h.Least = math.Max(h.BreakMinus, math.Min(0, h.BreakPlus))
	if sum := math.Abs(h.BreakPlus) + math.Abs(h.BreakMinus) + math.Abs(h.Free); math.IsInf(sum, 0) || math.IsNaN(sum) {
		f.Add("position", position, "a place at which the torque is a finite number")
		return Holding{}, f.Err()
	}
	return h, nil
}

// resting returns the force [N | N·m] that a load at rest at x needs to be balanced,
// without the one against time.
func (p *pass) resting(x float64) float64 { return p.restingTowards(x, 0) }

// restingTowards is resting with the force of the table that holds when the load is a
// step away from x.
func (p *pass) restingTowards(x, step float64) float64 {
	spring := &p.load.Counterbalance
	return p.steady + spring.Stiffness*(x-spring.Relaxed) + p.load.ExternalByPosition.segment(x+step).value(x)
}

// breakaway returns the torques at the motor's shaft and in its air gap that a torque at
// the output of the first link takes at the start of motion in a direction, 1 or -1, with
// an acceleration of the load.
func (p *pass) breakaway(torque, direction, accel float64) (shaft, motor float64) {
	for i := range p.n {
		l := &p.links[i]
		if torque*direction > 0 {
			torque /= l.Ratio * l.Efficiency
		} else {
			torque *= l.BackEfficiency / l.Ratio
		}
		torque += l.Inertia*p.ratio[i+1]*accel + direction*l.Drag
	}
	shaft = torque + p.motor.RotorInertia*p.ratio[p.n]*accel
	return shaft, shaft + direction*p.motor.DragTorque
}
