package energy

import (
	"fmt"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// Trace is what an axis does during a motion. All curves run from 0 to the duration
// of the motion and are cut at the same instants.
//
// On a [Direct] axis rad/s reads m/s and N·m reads N.
type Trace struct {
	Speed       profile.Curve // of the motor [rad/s]
	Torque      profile.Curve // electromagnetic torque [N·m], drag included: makes the heat
	RatedTorque profile.Curve // shaft torque [N·m], Torque less the motor's drag: compare with its ratings
	ShaftPower  profile.Curve // RatedTorque times Speed [W], positive when motoring
	CopperLoss  profile.Curve // (Torque/Km)² [W]
	BusPower    profile.Curve // [W], positive when taken from the bus
	Book        Book          // where the energy went
}

// maxPosition and maxSpeed are the numbers of coefficients that a piece of a
// motion's position and speed may have; maxTorque is what a drag that grows with
// the square of the speed makes of it. Forces may have as many.
const (
	maxPosition = 8
	maxSpeed    = maxPosition - 1
	maxTorque   = 2*maxSpeed - 1
)

// relative tells what counts as nothing: a sliver of time against the duration of
// the motion, a remnant of speed against its highest speed.
const relative = 1e-12

// Trace follows the motion of the load through the axis, by the equations and the
// standstill rule of the package documentation. The empty motion gives the zero
// Trace. It is an error when the axis is invalid, a piece of the motion has a degree
// above 7, a hoist's rope goes slack, a crank turns too often, or torque or power
// leave the range of float64.
func (a Axis) Trace(m profile.Motion) (Trace, error) {
	if err := a.Validate(); err != nil {
		return Trace{}, err
	}
	position, speed := m.Position(), m.Speed()
	n := speed.Pieces()
	if n == 0 {
		return Trace{}, nil
	}
	width, fastest, err := measure(speed)
	if err != nil {
		return Trace{}, err
	}

	var p pass
	p.setUp(&a, width, n)
	p.sliver = relative * m.Duration()
	p.noise = relative * fastest
	if p.turns {
		if err := p.checkTurns(position); err != nil {
			return Trace{}, err
		}
	}
	for i := range n {
		t0, t1, v := speed.Piece(i)
		_, _, x := position.Piece(i)
		p.piece(t0, t1, v[:min(width, len(v))], x)
	}
	if p.crowded {
		return Trace{}, motionFault(fmt.Sprintf("more than %d pieces", maxCrankPieces), "fewer turns of the crank, or fewer breaks of its forces")
	}
	if p.slack {
		return Trace{}, motionFault(fmt.Sprintf("a rope that goes slack at %g s", p.slackAt), "a hoist that keeps its rope taut")
	}
	p.book.Standby = p.idle * m.Duration()
	p.ends(m.Start(), m.End())
	p.book.close()
	return p.trace()
}

// measure returns the number of coefficients that the speed of a motion has and a bound
// of its magnitude, or an error where its degree is too high.
func measure(speed profile.Curve) (width int, fastest float64, err error) {
	width = 1
	for i := range speed.Pieces() {
		t0, t1, v := speed.Piece(i)
		width = max(width, degree(v)+1)
		fastest = max(fastest, poly.EvalAbs(v, t1-t0))
	}
	if width > maxSpeed {
		err = motionFault(fmt.Sprintf("pieces of degree %d", width), fmt.Sprintf("degree %d at most", maxPosition-1))
	}
	return width, fastest, err
}

// ends books what depends on the two end states alone.
func (p *pass) ends(from, to profile.State) {
	b, v0, v1 := &p.book, from.Speed, to.Speed
	x0, x1 := from.Position, to.Position
	b.Kinetic = p.inert / 2 * (v1 - v0) * (v1 + v0)
	if p.turns {
		var k0, k1 float64
		x0, k0, _ = p.crank.At(x0)
		x1, k1, _ = p.crank.At(x1)
		b.Kinetic += p.mass / 2 * (k1*v1 - k0*v0) * (k1*v1 + k0*v0)
	}
	b.Potential = p.weight * (x1 - x0)
	b.Counterbalance = p.load.Counterbalance.stored(x0, x1)
}

// motionFault returns the error for a motion that an axis cannot follow.
func motionFault(value, want string) error {
	var f profile.Faults
	f.Add("motion", value, want)
	return f.Err()
}

// degree returns the degree of a polynomial, 0 for a constant.
func degree(c []float64) int {
	n := len(c)
	for n > 1 && c[n-1] == 0 {
		n--
	}
	return n - 1
}
