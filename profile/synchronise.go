package profile

import "fmt"

// stretcher is a [Move] or a [Motion].
type stretcher[M any] interface {
	Duration() float64
	Stretch(duration float64) (M, error)
}

// Synchronise makes the moves or motions of several axes end together: each is
// stretched to the duration of the slowest one. They come in dst[:0], which is
// grown when too short and may be motions itself.
//
// Stretching keeps the shape of each and makes its speed, acceleration and jerk
// only smaller, so the limits hold, and no axis is loaded more than it has to
// be. The shapes may differ, so the way in space is not a straight line: for
// that see [Line], or give all axes one [Law]. An axis whose move has no
// duration rests where it is; an empty [Motion] is refused.
func Synchronise[M stretcher[M]](dst, motions []M) ([]M, error) {
	longest := 0.0
	for _, m := range motions {
		longest = max(longest, m.Duration())
	}
	var f Faults
	dst = dst[:0]
	for i, m := range motions {
		s, err := m.Stretch(longest)
		if err != nil {
			f.Under(fmt.Sprintf("motions[%d]", i), err)
		}
		dst = append(dst, s)
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	return dst, nil
}
