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
//
// See [Tracer] for many traces without fresh memory for each.
func (a Axis) Trace(m profile.Motion) (t Trace, err error) {
	var p pass
	err = p.follow(&a, m, &t)
	return t, err
}

// Tracer traces one motion after another in the same memory, for a search that tries
// thousands of axes and motions. The zero value is ready.
//
// A Tracer is not safe for concurrent use.
type Tracer struct{ pass pass }

// Trace is [Axis.Trace]. It overwrites the curves of the trace before, and those made
// from them that share their memory: take what is needed out of a trace before the next
// one. Its Book and other plain numbers stay. Where the memory of the traces before is
// enough, nothing is allocated.
func (t *Tracer) Trace(a Axis, m profile.Motion) (tr Trace, err error) {
	err = t.pass.follow(&a, m, &tr)
	return tr, err
}

// follow is Axis.Trace. It writes to t, which is zero, and only where there is no error.
func (p *pass) follow(a *Axis, m profile.Motion, t *Trace) error {
	if err := a.validate(); err != nil {
		return err
	}
	position, speed := m.Position(), m.Speed()
	n := speed.Pieces()
	if n == 0 {
		return nil
	}
	width, fastest, err := measure(speed)
	if err != nil {
		return err
	}
	p.setUp(a, width, n)
	p.path = position
	duration := m.Duration()
	p.sliver = relative * duration
	p.noise = relative * fastest
	if p.turns {
		if err := p.checkTurns(position); err != nil {
			return err
		}
	}
	for i := range n {
		t0, t1, v := speed.Piece(i)
		p.piece(i, t0, t1, v)
	}
	if p.crowded {
		return motionFault(fmt.Sprintf("more than %d pieces", maxCrankPieces), "fewer turns of the crank, or fewer breaks of its forces")
	}
	if p.slack {
		return motionFault(fmt.Sprintf("a rope that goes slack at %g s", p.slackAt), "a hoist that keeps its rope taut")
	}
	p.book.Standby = p.idle * duration
	p.ends(position, speed)
	p.book.close()
	return p.result(t)
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

// ends books what depends on position and speed at the two ends alone.
func (p *pass) ends(position, speed profile.Curve) {
	b := &p.book
	x0, x1 := ends(position)
	v0, v1 := ends(speed)
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

// ends returns the values at start and end of a curve.
func ends(c profile.Curve) (first, last float64) {
	_, _, p := c.Piece(0)
	t0, t1, q := c.Piece(c.Pieces() - 1)
	return p[0], poly.Eval(q, t1-t0)
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
