package energy

import (
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// Trace is what an axis does during a motion. All curves run from 0 to the duration
// of the motion and are cut at the same instants.
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
// the square of the speed makes of it.
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
// above 7, or torque or power leave the range of float64.
func (a Axis) Trace(m profile.Motion) (Trace, error) {
	if err := a.Validate(); err != nil {
		return Trace{}, err
	}
	position, speed := m.Position(), m.Speed()
	n := speed.Pieces()
	if n == 0 {
		return Trace{}, nil
	}
	width, fastest := 1, 0.0
	for i := range n {
		t0, t1, v := speed.Piece(i)
		width = max(width, degree(v)+1)
		fastest = math.Max(fastest, poly.EvalAbs(v, t1-t0))
	}
	if width > maxSpeed {
		var f profile.Faults
		f.Add("motion", fmt.Sprintf("pieces of degree %d", width), fmt.Sprintf("degree %d at most", maxPosition-1))
		return Trace{}, f.Err()
	}

	var p pass
	p.setUp(a, width, n)
	p.sliver = relative * m.Duration()
	p.noise = relative * fastest
	for i := range n {
		t0, t1, v := speed.Piece(i)
		p.piece(t0, t1, v[:min(width, len(v))])
	}

	t0, _, first := speed.Piece(0)
	_, t1, _ := speed.Piece(n - 1)
	v0, v1 := first[0], speed.At(t1)
	p.book.Kinetic = p.inert / 2 * (v1 - v0) * (v1 + v0)
	p.book.Potential = a.Load.weight() * (position.At(t1) - position.At(t0))
	p.book.Standby = a.Drive.Standby * (t1 - t0)
	p.book.close()
	return p.trace()
}

// degree returns the degree of a polynomial, 0 for a constant.
func degree(c []float64) int {
	n := len(c)
	for n > 1 && c[n-1] == 0 {
		n--
	}
	return n - 1
}
