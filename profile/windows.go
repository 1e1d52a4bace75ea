package profile

import "math"

// Windows finds the window in which a curve >= 0 that is repeated for ever holds most. It
// comes from [NewWindows].
type Windows struct {
	cycle, total float64
	sum          Curve // integral over two cycles, from 0
}

// NewWindows returns the windows of a curve >= 0, repeated for ever. A curve of no duration
// is an error.
func NewWindows(c Curve) (Windows, error) {
	var f Faults
	if !(c.Duration() > 0) {
		f.Add("curve", "no duration", "a curve of at least one piece")
		return Windows{}, f.Err()
	}
	return Windows{c.Duration(), c.Integral(), c.Shift(-c.Start()).Repeat(2).Antiderivative(0)}, nil
}

// Most returns the largest integral of the curve over any window of the given length [s], > 0,
// and when in the cycle that window starts [s], counted from the start of the curve.
//
// Whole cycles all hold the same; what is left of the window slides, and the integral over
// it is a curve whose maximum is exact.
func (w Windows) Most(length float64) (sum, start float64, err error) {
	var f Faults
	if !f.Positive("length", length, "s") {
		return 0, 0, f.Err()
	}
	whole := math.Floor(length / w.cycle)
	part := math.Min(length-whole*w.cycle, w.cycle)
	switch {
	case !(part > 1e-12*w.cycle):
		sum = whole * w.total
	case part >= (1-1e-12)*w.cycle:
		sum = (whole + 1) * w.total
	default:
		from, err := w.sum.Slice(0, w.cycle)
		if err != nil {
			return 0, 0, err
		}
		to, err := w.sum.Slice(part, math.Min(part+w.cycle, w.sum.End()))
		if err != nil {
			return 0, 0, err
		}
		gain, err := Sum(to.Shift(-part), from.Scale(-1))
		if err != nil {
			return 0, 0, err
		}
		p := gain.Max()
		sum, start = whole*w.total+math.Max(0, p.V), p.T
	}
	if !(math.Abs(sum) <= math.MaxFloat64) {
		f.Add("length", length, "a length and a curve of finite integral")
		return 0, 0, f.Err()
	}
	return sum, start, nil
}
