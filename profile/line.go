package profile

import (
	"fmt"
	"math"
)

// Line returns the fastest move of several axes on the straight line from rest
// at from to rest at to [m], one position for each axis. All axes start and end
// together. The moves come in dst[:0], which is grown when too short.
//
// The limits of axis i are axes[i]; axes may be empty. path limits the motion
// along the line, whose length is the root of the sum of the squares of the
// distances of the axes: it makes sense where these are perpendicular and of one
// unit. In path a Speed or an Accel of 0 is no limit; without limits of the axes
// both are needed.
//
// With the length L and the distance d of an axis, that axis moves at |d|/L times
// the speed, acceleration and jerk of the path. So each of speed, acceleration,
// deceleration and the two jerks of the path may be as high as
//
//	least over the axes of (limit of the axis) L/|d|
//
// or the limit of the path itself. As all axes speed up and slow down at the
// same time, a motion on the line keeps all limits if and only if it keeps these
// five, and the fastest one is what [Plan] gives with them. An axis that has no
// way to go rests for as long.
//
// The error joins one [*InputError] for every value out of its domain.
func Line(dst []Move, from, to []float64, axes []Limits, path Limits) ([]Move, error) {
	length, err := checkLine(from, to, axes, path)
	if err != nil {
		return nil, err
	}
	// At no length there is nothing to plan; the moves have no duration.
	var along Move
	if length > 0 {
		along, err = Plan(0, length, lineLimits(length, from, to, axes, path))
		if err != nil {
			return nil, notLine(to)
		}
	}
	dst = dst[:0]
	for i, p := range from {
		m, ok := along.part(p, to[i], length)
		if !ok {
			return nil, notLine(to)
		}
		dst = append(dst, m)
	}
	return dst, nil
}

func notLine(to []float64) error {
	var f Faults
	f.Add("to", to, "a line on which float64 can hold the move within the limits")
	return f.Err()
}

// checkLine returns the length of the line [m].
func checkLine(from, to []float64, axes []Limits, path Limits) (float64, error) {
	var f Faults
	if len(from) == 0 {
		f.Add("from", "no axis", "a position for at least one axis")
	}
	if len(to) != len(from) {
		f.Add("to", fmt.Sprintf("%d positions", len(to)), fmt.Sprintf("as many as from, %d", len(from)))
	}
	if len(axes) != len(from) && len(axes) > 0 {
		f.Add("axes", fmt.Sprintf("limits for %d axes", len(axes)), fmt.Sprintf("none, or as many as from, %d", len(from)))
	}
	if f.errs != nil {
		return 0, f.Err()
	}
	length := 0.0
	for i := range from {
		if isFinite(from[i]) && isFinite(to[i]) {
			length = math.Hypot(length, to[i]-from[i])
			continue
		}
		f.Finite(fmt.Sprintf("from[%d]", i), from[i], "m")
		f.Finite(fmt.Sprintf("to[%d]", i), to[i], "m")
	}
	if f.errs == nil && !isFinite(length) {
		f.Add("to", to, "a finite distance from there")
	}
	for i, l := range axes {
		if err := l.Validate(); err != nil {
			f.Under(fmt.Sprintf("axes[%d]", i), err)
		}
	}
	if len(axes) > 0 {
		// Any valid value stands in for the limits that path may leave out.
		if path.Speed == 0 {
			path.Speed = 1
		}
		if path.Accel == 0 {
			path.Accel = 1
		}
	}
	f.Under("path", path.Validate())
	return length, f.Err()
}

// lineLimits returns the limits along the line, all of them spelled out.
func lineLimits(length float64, from, to []float64, axes []Limits, path Limits) Limits {
	lim := path
	up, down := path.ramps()
	lim.Accel, lim.Jerk, lim.Decel, lim.DecelJerk = up.accel, up.jerk, down.accel, down.jerk
	for _, v := range []*float64{&lim.Speed, &lim.Accel, &lim.Decel} {
		if *v == 0 {
			*v = math.Inf(1)
		}
	}
	for i, l := range axes {
		// Without a way to go u is 0, and any limit over it +Inf.
		u := math.Abs(to[i]-from[i]) / length
		up, down := l.ramps()
		lim.Speed = math.Min(lim.Speed, l.Speed/u)
		lim.Accel = math.Min(lim.Accel, up.accel/u)
		lim.Jerk = math.Min(lim.Jerk, up.jerk/u)
		lim.Decel = math.Min(lim.Decel, down.accel/u)
		lim.DecelJerk = math.Min(lim.DecelJerk, down.jerk/u)
	}
	return lim
}

// part returns what the axis that goes from one position to another does of m,
// a move from 0 to length, and reports whether float64 holds it.
func (m *Move) part(from, to, length float64) (Move, bool) {
	out := Move{to: to}
	if from == to {
		out.add(m.duration, to, 0, 0, 0)
		return out, true
	}
	u := (to - from) / length
	for i := range m.n {
		s := m.segment(i)
		q := segment{s.t, from + u*s.position, u * s.speed, u * s.accel, u * s.jerk}
		if lost([]float64{1, s.speed, s.accel, s.jerk}, []float64{u, q.speed, q.accel, q.jerk}) {
			return Move{}, false
		}
		*out.segment(i) = q
	}
	out.n, out.duration = m.n, m.duration
	return out, true
}
