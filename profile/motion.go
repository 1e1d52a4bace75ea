package profile

import (
	"fmt"
	"math"
)

// State is where an axis is at one instant.
type State struct {
	Position float64 // [m]
	Speed    float64 // [m/s], positive towards larger positions
	Accel    float64 // [m/s²]
}

// Motion is the position of one axis over time, starting at time 0, together
// with the speed and acceleration that follow from it. Position and speed are
// continuous; acceleration may jump. The zero value is the empty motion, which
// has no duration.
type Motion struct {
	position, speed, accel Curve
}

// motionTolerance is the gap in position or speed, relative to the largest
// value the motion takes, up to which two pieces count as joined.
const motionTolerance = 1e-9

// NewMotion returns the motion with the given position curve [m], shifted to
// start at time 0. A gap in position or speed between pieces is refused.
func NewMotion(position Curve) (Motion, error) {
	position = position.Shift(-position.Start())
	speed := position.Derivative()
	m := Motion{position, speed, speed.Derivative()}
	var f Faults
	if position.notFinite() >= 0 || m.speed.notFinite() >= 0 || m.accel.notFinite() >= 0 {
		f.Add("position", "an overflow", "finite positions, speeds and accelerations")
		return Motion{}, f.Err()
	}
	checkJoined(&f, position, "position", "m")
	checkJoined(&f, speed, "speed", "m/s")
	if err := f.Err(); err != nil {
		return Motion{}, err
	}
	return m, nil
}

func checkJoined(f *Faults, c Curve, what, unit string) {
	scale := math.Abs(c.AbsMax().V)
	for i := 1; i < c.Pieces(); i++ {
		if gap := c.coefs(i)[0] - c.endOf(i-1); !(math.Abs(gap) <= motionTolerance*scale) {
			f.Add(what, fmt.Sprintf("a jump of %g %s at %g s", gap, unit, c.b[i]), "pieces that join in "+what)
		}
	}
}

// Dwell returns the motion that stays at position [m] for duration [s].
// A duration of 0 is the empty motion.
func Dwell(position, duration float64) (Motion, error) {
	var f Faults
	f.Finite("position", position, "m")
	f.NonNegative("duration", duration, "s")
	if err := f.Err(); err != nil || duration == 0 {
		return Motion{}, err
	}
	c, err := Constant(position, 0, duration)
	if err != nil {
		return Motion{}, err
	}
	return NewMotion(c)
}

// Sequence joins motions one after another. Empty ones are skipped. Each must
// start where the one before it ends, in position and in speed; a gap is
// refused with its size and place.
func Sequence(motions ...Motion) (Motion, error) {
	if err := CheckSequence(motions...); err != nil {
		return Motion{}, err
	}
	p, v, a := make([]Curve, len(motions)), make([]Curve, len(motions)), make([]Curve, len(motions))
	for i, m := range motions {
		p[i], v[i], a[i] = m.position, m.speed, m.accel
	}
	return Motion{Concat(p...), Concat(v...), Concat(a...)}, nil
}

// CheckSequence returns an error unless the motions join as [Sequence] asks.
func CheckSequence(motions ...Motion) error {
	scalePos, scaleSpeed := 0.0, 0.0
	for _, m := range motions {
		scalePos = math.Max(scalePos, math.Abs(m.position.AbsMax().V))
		scaleSpeed = math.Max(scaleSpeed, math.Abs(m.speed.AbsMax().V))
	}
	var f Faults
	last, t := -1, 0.0
	for i, m := range motions {
		if m.Duration() == 0 {
			continue
		}
		if last >= 0 {
			end, start := motions[last].End(), m.Start()
			if gap := start.Position - end.Position; !(math.Abs(gap) <= motionTolerance*scalePos) {
				f.Add(fmt.Sprintf("motions[%d]", i), fmt.Sprintf("starts at %g m, at %g s", start.Position, t), fmt.Sprintf("a start at %g m, where motions[%d] ends", end.Position, last))
			}
			if gap := start.Speed - end.Speed; !(math.Abs(gap) <= motionTolerance*scaleSpeed) {
				f.Add(fmt.Sprintf("motions[%d]", i), fmt.Sprintf("starts at %g m/s, at %g s", start.Speed, t), fmt.Sprintf("a start at %g m/s, as motions[%d] ends", end.Speed, last))
			}
		}
		last, t = i, t+m.Duration()
	}
	return f.Err()
}

// Position returns the position curve [m].
func (m Motion) Position() Curve { return m.position }

// Speed returns the speed curve [m/s].
func (m Motion) Speed() Curve { return m.speed }

// Accel returns the acceleration curve [m/s²].
func (m Motion) Accel() Curve { return m.accel }

// Duration returns how long the motion takes [s].
func (m Motion) Duration() float64 { return m.position.Duration() }

// At returns the state at time t [s], that of the nearer end outside the
// motion.
func (m Motion) At(t float64) State {
	return State{m.position.At(t), m.speed.At(t), m.accel.At(t)}
}

// Start returns the state at time 0.
func (m Motion) Start() State { return m.At(0) }

// End returns the state at the end, with the acceleration of the last piece.
func (m Motion) End() State { return m.At(m.Duration()) }

// Closes returns nil when the motion ends in the position and at the speed with
// which it starts, so that it can be repeated; otherwise an error with the gap.
func (m Motion) Closes() error {
	var f Faults
	start, end := m.Start(), m.End()
	if gap := end.Position - start.Position; !(math.Abs(gap) <= motionTolerance*math.Abs(m.position.AbsMax().V)) {
		f.Add("position", end.Position, fmt.Sprintf("%g m, where the cycle starts, %g m away", start.Position, math.Abs(gap)))
	}
	if gap := end.Speed - start.Speed; !(math.Abs(gap) <= motionTolerance*math.Abs(m.speed.AbsMax().V)) {
		f.Add("speed", end.Speed, fmt.Sprintf("%g m/s, as the cycle starts, %g m/s different", start.Speed, math.Abs(gap)))
	}
	return f.Err()
}
