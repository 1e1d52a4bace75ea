package profile

// Move is a motion made of segments of constant jerk, as [Plan], [PlanBetween] and
// [Halt] return it. It is a plain value, and nothing about it allocates but
// [Move.Motion]. The zero value rests at 0 and has no duration.
type Move struct {
	seg      [maxSegments]segment
	rest     *[maxRest]segment // those from maxSegments on, never changed once the move is made
	n        int               // segments in use
	duration float64
	to       float64

	speed, accel float64 // at the end
}

// maxSegments is the length of the longest move from rest to rest: acceleration
// built up, held and taken back; constant speed; the same three for the
// deceleration. One more at each end takes off an acceleration at the start and
// builds one up at the end. What passes zero speed or comes back inside the
// limits may be longer by maxRest.
const maxSegments, maxRest = 9, 24

// segment is the state at its start and the jerk that holds from then on.
type segment struct {
	t, position, speed, accel, jerk float64
}

// add appends a segment that lasts for h [s] unless h is 0.
func (m *Move) add(h, position, speed, accel, jerk float64) {
	if h > 0 {
		if m.n == maxSegments {
			m.rest = new([maxRest]segment)
		}
		*m.segment(m.n) = segment{m.duration, position, speed, accel, jerk}
		m.n++
		m.duration += h
	}
}

func (m *Move) segment(i int) *segment {
	if i < maxSegments {
		return &m.seg[i]
	}
	return &m.rest[i-maxSegments]
}

// Duration returns how long the move takes [s].
func (m Move) Duration() float64 { return m.duration }

// At returns the state at time t [s] after the start, that of the nearer end
// outside the move; a NaN time counts as the start. At the end the position is
// exactly the one that was asked for.
func (m Move) At(t float64) State { return m.at(t) }

func (m *Move) at(t float64) State {
	if m.n == 0 {
		return State{m.to, m.speed, m.accel}
	}
	if !(t > 0) {
		t = 0
	}
	atEnd := t >= m.duration
	if atEnd {
		t = m.duration
	}
	i := m.n - 1
	for i > 0 && t < m.segment(i).t {
		i--
	}
	s := m.segment(i)
	t -= s.t
	if atEnd {
		return State{m.to, m.speed, s.accel + s.jerk*t}
	}
	return s.state(t)
}

// Motion returns the move as curves, one piece per segment. A move of no
// duration gives the empty motion.
func (m Move) Motion() Motion {
	if m.n == 0 {
		return Motion{}
	}
	// One array holds the breakpoints and the coefficients of all three curves.
	n := m.n
	buf := make([]float64, 10*n+1)
	b, buf := buf[:n+1:n+1], buf[n+1:]
	p, buf := buf[:4*n:4*n], buf[4*n:]
	v, a := buf[:3*n:3*n], buf[3*n:]
	for i := range n {
		s := m.segment(i)
		b[i] = s.t
		p[4*i], p[4*i+1], p[4*i+2], p[4*i+3] = s.position, s.speed, s.accel/2, s.jerk/6
		v[3*i], v[3*i+1], v[3*i+2] = s.speed, s.accel, s.jerk/2
		a[2*i], a[2*i+1] = s.accel, s.jerk
	}
	b[n] = m.duration
	return Motion{position: Curve{b, p, 4}, speed: Curve{b, v, 3}, accel: Curve{b, a, 2}}
}
