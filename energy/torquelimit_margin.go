package energy

import (
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// Bound names what limits a torque.
type Bound int

// What may limit a torque.
const (
	ByVoltage Bound = iota // the bus voltage at that speed
	ByCurrent              // the drive's peak current
	ByTorque               // the motor's peak torque
)

// String returns "bus voltage", "drive current" or "motor torque".
func (b Bound) String() string {
	switch b {
	case ByVoltage:
		return "bus voltage"
	case ByCurrent:
		return "drive current"
	case ByTorque:
		return "motor torque"
	}
	return "no bound"
}

// TorqueMargin is the point of a trace that is nearest to the peak limit, or farthest
// beyond it.
type TorqueMargin struct {
	At     float64 // instant [s]
	Speed  float64 // of the motor [rad/s]
	Torque float64 // at the shaft [N·m]
	Limit  float64 // of the shaft torque at that speed, on the side that is nearest [N·m]
	Margin float64 // from Torque to Limit [N·m]; negative: beyond the limit
	Bound  Bound   // what limits there

	// OutOfReach says that no torque at all is possible at that speed, the highest of the
	// trace: the voltage is too low. Limit is then the torque that needs the least
	// voltage, and Margin the distance to it, taken negative.
	OutOfReach bool
}

// Margin returns the point of a trace, made with an axis that this motor drives, that
// has the lowest margin to the peak limit [TorqueLimit.Peak]. Only steady current is
// looked at; what changing it takes is in [Voltage]. At rest the drag that helps to
// hold counts as the trace has it.
//
// The point is exact to rounding: bounds of torque and current are extremes of
// polynomials, and for the voltage the margin is lowered until no instant is left
// at which that much more torque would take more than the voltage, which is a
// polynomial in time again.
func (l TorqueLimit) Margin(t Trace) (TorqueMargin, error) {
	var f profile.Faults
	if l.volts == 0 {
		f.Add("torqueLimit", nil, "a limit made by NewTorqueLimit")
	}
	checkCurve(&f, "trace.torque", t.Torque)
	checkCurve(&f, "trace.ratedTorque", t.RatedTorque)
	checkCurve(&f, "trace.speed", t.Speed)
	if err := f.Err(); err != nil {
		return TorqueMargin{}, err
	}
	curves, err := align(t.Speed, t.Torque, t.RatedTorque)
	if err != nil {
		f.Under("trace", err)
		return TorqueMargin{}, f.Err()
	}
	width := 0
	points := make([]driven, curves[0].Pieces())
	for i := range points {
		t0, t1, speed := curves[0].Piece(i)
		_, _, torque := curves[1].Piece(i)
		_, _, rated := curves[2].Piece(i)
		points[i] = driven{speed[:degree(speed)+1], torque[:degree(torque)+1], rated, t0, t1 - t0}
		width = max(width, degree(speed)+degree(torque))
	}
	if width > maxSpeed+maxTorque {
		f.Add("trace", width, "speed and torque of lower degree")
		return TorqueMargin{}, f.Err()
	}
	return l.nearest(points), nil
}

// driven is a span of time with speed, electromagnetic torque and shaft torque as
// polynomials in the time since t0, and its length.
type driven struct {
	speed, torque, rated []float64
	t0, h                float64
}

// nearest returns the lowest margin on the points.
func (l TorqueLimit) nearest(points []driven) TorqueMargin {
	best := TorqueMargin{Margin: math.Inf(1)}
	// offer takes a margin at the time x of a span if it is the lowest so far. toward is
	// +1 when the limit lies above the torque.
	offer := func(p driven, x, margin, toward float64, b Bound) bool {
		if !(margin < best.Margin) {
			return false
		}
		rated := poly.Eval(p.rated, x)
		best = TorqueMargin{
			At: math.Min(p.t0+x, p.t0+p.h), Speed: poly.Eval(p.speed, x),
			Torque: rated, Limit: rated + toward*margin, Margin: margin, Bound: b}
		return true
	}

	var far driven
	farAt, fastest := 0.0, -1.0
	for _, p := range points {
		lo, atLo, hi, atHi := poly.Extrema(p.torque, 0, p.h)
		offer(p, atHi, l.drivePeak-hi, 1, ByCurrent)
		offer(p, atLo, l.drivePeak+lo, -1, ByCurrent)
		lo, atLo, hi, atHi = poly.Extrema(p.rated, 0, p.h)
		offer(p, atHi, l.motor.peakTorque()-hi, 1, ByTorque)
		offer(p, atLo, l.motor.peakTorque()+lo, -1, ByTorque)
		lo, atLo, hi, atHi = poly.Extrema(p.speed, 0, p.h)
		if hi > fastest {
			far, farAt, fastest = p, atHi, hi
		}
		if -lo > fastest {
			far, farAt, fastest = p, atLo, -lo
		}
	}
	// Beyond some speed no torque is possible, and ever less so.
	speed := poly.Eval(far.speed, farAt)
	if limit, _, ok := l.within(speed); !ok {
		rated, torque := poly.Eval(far.rated, farAt), poly.Eval(far.torque, farAt)
		return TorqueMargin{
			At: math.Min(far.t0+farAt, far.t0+far.h), Speed: speed,
			Torque: rated, Limit: rated + limit - torque, Margin: -math.Abs(limit - torque), OutOfReach: true}
	}

	mirrored := make([]driven, len(points))
	for i, p := range points {
		p.speed, p.torque = poly.Scale(nil, p.speed, -1), poly.Scale(nil, p.torque, -1)
		mirrored[i] = p
	}
	for side, ps := range [][]driven{points, mirrored} {
		toward := 1 - 2*float64(side)
		l.descend(ps, &best.Margin, func(i int, x, margin float64) bool {
			return offer(points[i], x, margin, toward, ByVoltage)
		})
	}
	return best
}

// room returns the electromagnetic torque that is left to the upper limit of the
// voltage at the time x of a span.
func (l TorqueLimit) room(p driven, x float64) float64 {
	_, hi, _ := l.within(poly.Eval(p.speed, x))
	return hi - poly.Eval(p.torque, x)
}

// descend offers margins to the upper limit of the voltage, ever lower ones, until
// there is none below *level, which offer lowers.
//
// With the speed w and the torque t of an instant and a level m, the room there is
// below m when t+m takes more than the voltage, on the upper branch of the limit:
//
//	(R' (t+m) + Ke w)² + (X' w (t+m))² - Vmax² > 0
//	R' (R' (t+m) + Ke w) + X' w X' w (t+m) > 0
//
// where R' and X' are per torque. From one level to the next it goes by the instant at
// which the first expression is highest: a quadratic in m, so that this is Newton's
// method on the highest of them, which comes down from above.
func (l TorqueLimit) descend(points []driven, level *float64, offer func(i int, x, margin float64) bool) {
	for i, p := range points {
		for _, x := range [...]float64{0, p.h / 2, p.h} {
			offer(i, x, l.room(p, x))
		}
	}
	if math.IsInf(*level, 1) {
		return
	}
	v := 1 / l.volts // all in units of Vmax
	var t, q, x, d, buf, over, upper, cuts []float64
	done := make([]bool, len(points))
	for range 100 {
		before, most, top, at := *level, 0.0, -1, 0.0
		for i, p := range points {
			if done[i] {
				continue
			}
			t = append(t[:0], p.torque...)
			t[0] += *level
			q = poly.Scale(q, t, l.ohms*v)
			q = poly.Add(q, q, poly.Scale(d, p.speed, l.emf*v))
			x = poly.Scale(x, p.speed, l.react*v)
			d = poly.Mul(d, x, t)
			over = poly.Mul(over, q, q)
			over = poly.Add(over, over, poly.Mul(buf, d, d))
			over[0]--
			if _, hi := poly.Range(over, p.h); hi <= 0 {
				done[i] = true // and at a lower level too
				continue
			}
			// Half the derivative by t+m tells the branch.
			buf = poly.Scale(buf, q, l.ohms*v)
			upper = poly.Mul(upper, x, d)
			upper = poly.Add(upper, upper, buf)
			cuts = append(poly.Roots(cuts, upper, 0, p.h), p.h)
			from := 0.0
			for _, to := range cuts {
				if to > from && poly.Eval(upper, from/2+to/2) > 0 {
					if _, _, e, when := poly.Extrema(over, from, to); e > most {
						most, top, at = e, i, when
					}
				}
				from = to
			}
		}
		if top < 0 || !offer(top, at, l.room(points[top], at)) || before-*level <= 1e-14*math.Abs(*level) {
			return
		}
	}
}
