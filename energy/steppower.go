package energy

import (
	"sync"
	"sync/atomic"

	"example.com/headroom/profile"
)

// StepTracer traces steps whose motions are always the same, with one load after another,
// for a study that asks for no more than losses and bus power. It is made by
// [NewStepTracer] and safe for concurrent use.
type StepTracer struct {
	motions []profile.Motion
	noise   float64
	passes  sync.Pool    // of *pass
	pieces  atomic.Int64 // that a trace had at most
}

// NewStepTracer checks that the motions of the steps join, as [Axis.TraceSteps] does.
func NewStepTracer(steps []Step) (*StepTracer, error) {
	noise, err := checkJoined(steps)
	if err != nil {
		return nil, err
	}
	t := &StepTracer{noise: noise}
	t.passes.New = func() any { return new(pass) }
	for _, s := range steps {
		t.motions = append(t.motions, s.Motion)
	}
	return t, nil
}

// StepPower is what of the trace of steps makes heat in the motor and load on the bus.
type StepPower struct {
	CopperLoss float64 // mean, with the winding of the axis [W]
	MotorDrag  float64 // mean [W]

	axis         Axis
	room         int // for so many pieces at first
	breaks       []float64
	bus          []float64 // coefficients of the bus power, width for each piece
	width        int
	square, line []float64 // of the copper loss and of the magnitude of the torque, as many
}

// Trace follows the axis with one load for each of the motions. Its errors are those of
// [Axis.TraceSteps].
func (t *StepTracer) Trace(a Axis, load func(step int) Load) (StepPower, error) {
	p := t.passes.Get().(*pass)
	defer t.passes.Put(p)
	s := StepPower{axis: a, room: int(t.pieces.Load())}
	s.breaks = make([]float64, 1, 1+s.room)
	err := a.traceEach(p, len(t.motions), func(i int) Step { return Step{t.motions[i], load(i)} }, t.noise, func(_ int, tr Trace) {
		s.add(tr)
		s.CopperLoss += tr.Book.Copper
		s.MotorDrag += tr.Book.MotorDrag
	})
	if err != nil {
		return StepPower{}, err
	}
	if n := int64(len(s.breaks) - 1); n > t.pieces.Load() {
		t.pieces.Store(n) // the next one has room, whichever of several that trace at once is last
	}
	if duration := s.breaks[len(s.breaks)-1]; duration > 0 {
		s.CopperLoss /= duration
		s.MotorDrag /= duration
	}
	return s, nil
}

// add appends what counts of the trace of a step.
func (s *StepPower) add(t Trace) {
	n := t.BusPower.Pieces()
	if n == 0 {
		return
	}
	if _, _, c := t.BusPower.Piece(0); len(c) > s.width {
		s.widen(len(c))
	}
	start := s.breaks[len(s.breaks)-1]
	for k := range n {
		t0, t1, bus := t.BusPower.Piece(k)
		_, _, copper := t.CopperLoss.Piece(k)
		_, _, torque := t.Torque.Piece(k)
		sign := 1.0 // the torque keeps its sign over a piece where losses of the drive depend on it
		if t.Torque.At(t0+(t1-t0)/2) < 0 {
			sign = -1
		}
		s.breaks = append(s.breaks, start+t1)
		s.bus, s.square, s.line = appendWide(s.bus, bus, s.width, 1), appendWide(s.square, copper, s.width, 1), appendWide(s.line, torque, s.width, sign)
	}
}

// widen makes room for more coefficients in each piece.
func (s *StepPower) widen(width int) {
	for _, c := range []*[]float64{&s.bus, &s.square, &s.line} {
		wide := make([]float64, 0, max(s.room, len(s.breaks)-1)*width)
		for i := range len(s.breaks) - 1 {
			wide = appendWide(wide, (*c)[i*s.width:(i+1)*s.width], width, 1)
		}
		*c = wide
	}
	s.width = width
}

// appendWide appends sign times coefficients, with zeros up to a width.
func appendWide(dst, c []float64, width int, sign float64) []float64 {
	for _, v := range c {
		dst = append(dst, sign*v)
	}
	for range width - len(c) {
		dst = append(dst, 0)
	}
	return dst
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
	if len(s.bus) == 0 {
		return profile.Curve{}, nil
	}
	was, is := s.axis.Drive.losses(&s.axis.Motor.Winding), s.axis.Drive.losses(&w)
	square := (is.copper + is.square - was.copper - was.square) / was.copper // per copper loss
	linear := is.linear - was.linear
	coefs := make([]float64, len(s.bus))
	for i, v := range s.bus {
		coefs[i] = v + square*s.square[i] + linear*s.line[i]
	}
	c, err := profile.FromFlat(s.breaks, coefs, s.width)
	if err != nil {
		return profile.Curve{}, overflow()
	}
	return c, nil
}
