package energy

import (
	"math"

	"example.com/headroom/profile"
)

// StepTracer traces steps whose motions are always the same, with one load after another,
// for a study that asks for no more than losses and bus power. It is made by
// [NewStepTracer] and safe for concurrent use.
type StepTracer struct {
	motions []profile.Motion
	noise   float64
}

// NewStepTracer checks that the motions of the steps join, as [Axis.TraceSteps] does.
func NewStepTracer(steps []Step) (*StepTracer, error) {
	noise, err := checkJoined(steps)
	if err != nil {
		return nil, err
	}
	t := &StepTracer{noise: noise}
	for _, s := range steps {
		t.motions = append(t.motions, s.Motion)
	}
	return t, nil
}

// StepPower is what of the trace of steps makes heat in the motor and load on the bus.
type StepPower struct {
	CopperLoss float64 // mean, with the winding of the axis [W]
	MotorDrag  float64 // mean [W]

	axis     Axis
	traces   []Trace
	duration float64
}

// Trace follows the axis with one load for each of the motions. Its errors are those of
// [Axis.TraceSteps].
func (t *StepTracer) Trace(a Axis, loads []Load) (StepPower, error) {
	if len(loads) != len(t.motions) {
		var f profile.Faults
		f.Add("loads", len(loads), "one for each step")
		return StepPower{}, f.Err()
	}
	steps := make([]Step, len(loads))
	for i, l := range loads {
		steps[i] = Step{t.motions[i], l}
	}
	s := StepPower{axis: a}
	var err error
	if s.traces, err = a.traceEach(steps, t.noise); err != nil {
		return StepPower{}, err
	}
	for i := range s.traces {
		s.duration += t.motions[i].Duration()
		s.CopperLoss += s.traces[i].Book.Copper
		s.MotorDrag += s.traces[i].Book.MotorDrag
	}
	if s.duration > 0 {
		s.CopperLoss /= s.duration
		s.MotorDrag /= s.duration
	}
	return s, nil
}

// BusPower returns the power that the axis takes from the bus [W] with another winding of
// its motor, as [Winding.At] and [Winding.AtMagnets] make it. Torques do not depend on the
// winding, so that it differs by
//
//	(1/Km² + b/Kt²) t² + a |t|/Kt
//
// with that winding less the same with that of the axis; a and b of [Drive].
func (s StepPower) BusPower(w Winding) (profile.Curve, error) {
	if err := w.Validate(); err != nil {
		return profile.Curve{}, err
	}
	pieces, width := 0, 1
	for i := range s.traces {
		for k := range s.traces[i].BusPower.Pieces() {
			_, _, c := s.traces[i].BusPower.Piece(k)
			width = max(width, len(c))
			pieces++
		}
	}
	if pieces == 0 {
		return profile.Curve{}, nil
	}
	was, is := s.axis.Drive.losses(&s.axis.Motor.Winding), s.axis.Drive.losses(&w)
	square := (is.copper + is.square - was.copper - was.square) / was.copper // per copper loss
	linear := is.linear - was.linear
	breaks, coefs := make([]float64, 1, pieces+1), make([]float64, pieces*width)
	at, start := 0, 0.0
	for i := range s.traces {
		t := &s.traces[i]
		for k := range t.BusPower.Pieces() {
			t0, t1, bus := t.BusPower.Piece(k)
			_, _, copper := t.CopperLoss.Piece(k)
			_, _, torque := t.Torque.Piece(k)
			out := coefs[at : at+width]
			copy(out, bus)
			for m, c := range copper {
				out[m] += square * c
			}
			if linear != 0 {
				each := math.Copysign(linear, t.Torque.At(t0+(t1-t0)/2)*linear)
				for m, c := range torque {
					out[m] += each * c
				}
			}
			at += width
			breaks = append(breaks, start+t1)
		}
		start = breaks[len(breaks)-1]
	}
	c, err := profile.FromFlat(breaks, coefs, width)
	if err != nil {
		return profile.Curve{}, overflow()
	}
	return c, nil
}
