package profile

import (
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
)

// Curve is a function of time made of polynomial pieces. On the piece that
// starts at t0 its value is
//
//	c[0] + c[1] (t-t0) + c[2] (t-t0)² + …
//
// A Curve may jump where pieces meet; there it has the value of the later
// piece. It is defined from [Curve.Start] to [Curve.End]. The zero value is the
// empty curve, with no pieces and no duration.
type Curve struct {
	b []float64 // breakpoints, one more than pieces
	c []float64 // coefficients, w for each piece
	w int
}

// maxDegree bounds the degree of a piece that a caller may construct, so that
// products of curves stay within what poly is tested for.
const maxDegree = 40

// NewCurve builds a curve from n+1 strictly increasing breakpoints [s] and the
// coefficients of n pieces, ascending, at most 41 each, in units of the value
// per s^k. The slices are copied. A curve whose values or whose duration
// float64 cannot hold is refused.
func NewCurve(breaks []float64, coefs [][]float64) (Curve, error) {
	var f Faults
	if len(coefs) == 0 || len(breaks) != len(coefs)+1 {
		f.Add("breaks", fmt.Sprintf("%d breakpoints for %d pieces", len(breaks), len(coefs)),
			"at least one piece, and one more breakpoint than pieces")
		return Curve{}, f.Err()
	}
	w := 1
	for i, p := range coefs {
		w = max(w, len(p))
		if len(p) > maxDegree+1 {
			f.Add(fmt.Sprintf("coefs[%d]", i), fmt.Sprintf("%d coefficients", len(p)), fmt.Sprintf("at most %d", maxDegree+1))
			return Curve{}, f.Err()
		}
		for k, v := range p {
			if !isFinite(v) {
				f.Finite(fmt.Sprintf("coefs[%d][%d]", i, k), v, "")
			}
		}
	}
	checkTimes(&f, "breaks", breaks)
	if err := f.Err(); err != nil {
		return Curve{}, err
	}
	c := makeCurve(len(coefs), w)
	c.b = append(c.b, breaks...)
	for _, p := range coefs {
		c.c = append(c.c, p...)
		for range w - len(p) {
			c.c = append(c.c, 0)
		}
	}
	if i := c.notFinite(); i >= 0 {
		f.Add(fmt.Sprintf("coefs[%d]", i), coefs[i], fmt.Sprintf("finite values up to %g s", breaks[i+1]))
		return Curve{}, f.Err()
	}
	return c, nil
}

// notFinite returns the first piece on which the value, or one of its terms, is
// not finite, or -1.
func (c Curve) notFinite() int {
	for i := range c.Pieces() {
		// An infinite term times a short piece is still infinite.
		if !isFinite(poly.EvalAbs(c.coefs(i), c.b[i+1]-c.b[i])) {
			return i
		}
	}
	return -1
}

// Samples builds the piecewise-linear curve through the points (t[i], y[i]),
// the form in which recorded data enters. Times [s] must be strictly
// increasing; at least two points are needed.
func Samples(t, y []float64) (Curve, error) {
	var f Faults
	if len(t) != len(y) || len(t) < 2 {
		f.Add("t", fmt.Sprintf("%d times for %d values", len(t), len(y)), "as many times as values, at least 2")
		return Curve{}, f.Err()
	}
	checkTimes(&f, "t", t)
	for i, v := range y {
		if !isFinite(v) {
			f.Finite(fmt.Sprintf("y[%d]", i), v, "")
		}
	}
	if err := f.Err(); err != nil {
		return Curve{}, err
	}
	c := makeCurve(len(t)-1, 2)
	c.b = append(c.b, t...)
	for i := range len(t) - 1 {
		c.c = append(c.c, y[i], (y[i+1]-y[i])/(t[i+1]-t[i]))
	}
	if i := c.notFinite(); i >= 0 {
		f.Add(fmt.Sprintf("y[%d]", i+1), y[i+1], "a finite slope from the sample before it")
		return Curve{}, f.Err()
	}
	return c, nil
}

// Constant returns the curve with value v from t0 to t1 [s]; it needs a finite
// v and t0 < t1.
func Constant(v, t0, t1 float64) (Curve, error) {
	var f Faults
	f.Finite("v", v, "")
	f.Finite("t0", t0, "s")
	if f.Finite("t1", t1, "s") && !(t1 > t0 && isFinite(t1-t0)) {
		f.Add("t1", t1, fmt.Sprintf("> t0 = %g s, with a finite duration", t0))
	}
	if err := f.Err(); err != nil {
		return Curve{}, err
	}
	return Curve{b: []float64{t0, t1}, c: []float64{v}, w: 1}, nil
}

func makeCurve(pieces, w int) Curve {
	return Curve{b: make([]float64, 0, pieces+1), c: make([]float64, 0, pieces*w), w: w}
}

// checkTimes records a fault for each time that is not finite or not later than
// the one before it, and for a duration that is not finite.
func checkTimes(f *Faults, path string, t []float64) {
	for i, v := range t {
		if !isFinite(v) {
			f.Finite(fmt.Sprintf("%s[%d]", path, i), v, "s")
		} else if i > 0 && !(v > t[i-1]) && isFinite(t[i-1]) {
			f.Add(fmt.Sprintf("%s[%d]", path, i), v, fmt.Sprintf("> %g s, the one before it", t[i-1]))
		} else if math.IsInf(v-t[0], 1) && isFinite(t[0]) {
			f.Add(fmt.Sprintf("%s[%d]", path, i), v, fmt.Sprintf("a finite duration since %g s", t[0]))
		}
	}
}

func isFinite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// Pieces returns the number of pieces.
func (c Curve) Pieces() int { return max(0, len(c.b)-1) }

// Start returns the time [s] at which the curve starts; 0 when it is empty.
func (c Curve) Start() float64 {
	if len(c.b) == 0 {
		return 0
	}
	return c.b[0]
}

// End returns the time [s] at which the curve ends; 0 when it is empty.
func (c Curve) End() float64 {
	if len(c.b) == 0 {
		return 0
	}
	return c.b[len(c.b)-1]
}

// Duration returns End - Start [s].
func (c Curve) Duration() float64 { return c.End() - c.Start() }

// Piece returns the times [s] between which piece i holds, and its
// coefficients, which the caller must not change. i counts from 0; zeros are
// returned where there is no such piece.
func (c Curve) Piece(i int) (t0, t1 float64, coefs []float64) {
	if i < 0 || i >= c.Pieces() {
		return 0, 0, nil
	}
	return c.b[i], c.b[i+1], c.c[i*c.w : (i+1)*c.w : (i+1)*c.w]
}

func (c Curve) coefs(i int) []float64 { return c.c[i*c.w : (i+1)*c.w] }

// find returns the piece of the breakpoints b that holds at t, the first or
// last one outside them.
func find(b []float64, t float64) int {
	lo, hi := 0, len(b)-2
	for hi-lo > 8 {
		if mid := (lo + hi + 1) / 2; t >= b[mid] {
			lo = mid
		} else {
			hi = mid - 1
		}
	}
	for lo < hi && t >= b[lo+1] {
		lo++
	}
	return lo
}

// At returns the value at time t [s]. Before the start it is the first value,
// after the end the last one, and 0 for the empty curve. A NaN time counts as
// before the start.
func (c Curve) At(t float64) float64 { return eval(c.b, c.c, c.w, t) }

// eval is At. A Curve is too large for registers, its parts are not: handed
// over one by one they take a fraction of the time.
func eval(b, c []float64, w int, t float64) float64 {
	if len(b) == 0 {
		return 0
	}
	if !(t > b[0]) {
		return c[0]
	}
	if end := b[len(b)-1]; t > end {
		t = end
	}
	i := find(b, t)
	return poly.Eval(c[i*w:(i+1)*w], t-b[i])
}

// endOf returns the value that piece i takes at its end.
func (c Curve) endOf(i int) float64 {
	return poly.Eval(c.coefs(i), c.b[i+1]-c.b[i])
}
