package profile

import (
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
)

// Stretch returns the same motion at a slower pace, so that it takes duration
// [s], at least as long as it does now. With k the ratio of the two durations
// the position at time t is what it was at t/k, and so
//
//	speed/k, acceleration/k², jerk/k³
//
// Shape and travel stay, and the limits are kept all the more; ∫a² dt falls to
// 1/k³. A speed at the start or the end is slowed like any other. The result is
// exact but for the rounding of times. Stretching an empty motion is an error: it
// has no position to wait at, use [Dwell].
func (m Motion) Stretch(duration float64) (Motion, error) {
	d := m.Duration()
	if err := stretchFaults(d, duration); err != nil {
		return Motion{}, err
	}
	if duration == d {
		return m, nil
	}
	if position, ok := m.position.slowed(duration/d, duration); ok {
		if out, err := NewMotion(position); err == nil {
			return out, nil
		}
	}
	return Motion{}, notStretched(d, duration)
}

// Stretch returns the same move at a slower pace, as [Motion.Stretch] does. A
// move of no duration rests where it is for that long.
func (m Move) Stretch(duration float64) (Move, error) {
	d := m.duration
	if err := stretchFaults(d, duration); err != nil {
		return Move{}, err
	}
	if duration == d {
		return m, nil
	}
	if d == 0 && m.speed == 0 && m.accel == 0 {
		m.add(duration, m.to, 0, 0, 0)
		return m, nil
	}
	if out, ok := m.slowed(duration/d, duration); ok {
		return out, nil
	}
	return Move{}, notStretched(d, duration)
}

func stretchFaults(now, duration float64) error {
	if duration >= now && isFinite(duration) {
		return nil
	}
	var f Faults
	f.Add("duration", duration, fmt.Sprintf("finite and at least %v s, what it takes now", now))
	return f.Err()
}

func notStretched(now, duration float64) error {
	var f Faults
	f.Add("duration", duration, fmt.Sprintf("a time to which float64 can stretch what takes %g s", now))
	return f.Err()
}

// slowed returns the curve, which starts at time 0, with its time multiplied by
// k and its end at end, which is k times the present one. Pieces that the clock
// cannot tell are dropped. It reports whether float64 holds the coefficients.
func (c Curve) slowed(k, end float64) (Curve, bool) {
	out := makeCurve(c.Pieces(), c.w)
	out.b = append(out.b, 0)
	for i := range c.Pieces() {
		next := math.Min(c.b[i+1]*k, end)
		if i == c.Pieces()-1 {
			next = end
		}
		if !(next > out.End()) {
			continue
		}
		out.b = append(out.b, next)
		n := len(out.c)
		out.c = out.c[:n+c.w]
		p := poly.Stretch(out.c[n:n:n+c.w], c.coefs(i), 1/k)
		if lost(c.coefs(i), p) {
			return Curve{}, false
		}
	}
	return out, len(out.b) > 1
}

// lost reports whether a value other than 0 has left the normal numbers.
func lost(before, after []float64) bool {
	for i, v := range before {
		if v != 0 && !(math.Abs(after[i]) >= 0x1p-1022 && isFinite(after[i])) {
			return true
		}
	}
	return false
}

// slowed does for a move what it does for a curve, and reports whether the
// speeds still join.
func (m *Move) slowed(k, end float64) (Move, bool) {
	out := Move{to: m.to, speed: m.speed / k, accel: m.accel / k / k}
	speed := m.segment(0).speed / k // at the end of the segment before
	peak, gap := 0.0, 0.0
	for i := range m.n {
		s, next := m.segment(i), end
		if i+1 < m.n {
			next = math.Min(m.segment(i+1).t*k, end)
		}
		h := next - out.duration
		v, a, j := s.speed/k, s.accel/k/k, s.jerk/k/k/k
		gap = math.Max(gap, math.Abs(v-speed))
		speed = v + h*(a+h*j/2)
		peak = math.Max(peak, math.Max(math.Abs(v), math.Abs(speed)))
		out.add(h, s.position, v, a, j)
		out.duration = next
	}
	gap = math.Max(gap, math.Abs(speed-out.speed))
	return out, out.duration == end && gap <= motionTolerance*peak
}
