package profile

import "example.com/headroom/internal/poly"

// Sample returns the values of the curve at the times t [s], in dst[:0], which
// is grown when too short. Times may come in any order; ascending ones are
// fastest. dst may be t itself.
func (c Curve) Sample(dst, t []float64) []float64 {
	dst = dst[:0]
	k := c.Cursor()
	for _, x := range t {
		dst = append(dst, k.At(x))
	}
	return dst
}

// Cursor evaluates a curve at times that mostly ascend: it remembers the piece
// it used last and looks from there, so that one pass over the curve takes
// constant time per evaluation, on average, however many pieces there are.
// Going back costs one search. A Cursor is not safe for concurrent use; copies
// of it go their own ways.
type Cursor struct {
	c Curve
	i int
}

// Cursor returns a cursor at the start of the curve.
func (c Curve) Cursor() Cursor { return Cursor{c: c} }

// At returns what [Curve.At] returns.
func (k *Cursor) At(t float64) float64 {
	b, w := k.c.b, k.c.w
	if len(b) == 0 {
		return 0
	}
	if !(t > b[0]) {
		t = b[0]
	} else if end := b[len(b)-1]; t > end {
		t = end
	}
	i := k.i
	if t < b[i] {
		i = find(b, t)
	}
	for i < len(b)-2 && t >= b[i+1] {
		i++
	}
	k.i = i
	return poly.Eval(k.c.c[i*w:(i+1)*w], t-b[i])
}
