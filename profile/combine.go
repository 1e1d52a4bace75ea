package profile

import (
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
)

// Scale returns k c, for a finite k.
func (c Curve) Scale(k float64) Curve {
	return Curve{b: c.b, c: poly.Scale(nil, c.c, k), w: c.w}
}

// Shift returns the curve delayed by dt [s]. Pieces that are shorter than the
// clock can tell so late are dropped; a dt that is not finite leaves none.
func (c Curve) Shift(dt float64) Curve {
	if c.Pieces() == 0 || !isFinite(c.b[0]+dt) {
		return Curve{}
	}
	b := append(make([]float64, 0, len(c.b)), c.b[0]+dt)
	if appendTimes(&b, c.b[1:], dt) {
		return Curve{b: b, c: c.c, w: c.w} // of the same pieces
	}
	return appendShifted(makeCurve(c.Pieces(), c.w), c, dt)
}

// appendShifted appends to out, which must be at least as wide, the pieces of c
// delayed by dt.
func appendShifted(out, c Curve, dt float64) Curve {
	if len(out.b) == 0 {
		out.b = append(out.b, c.b[0]+dt)
	}
	if out.w == c.w && appendTimes(&out.b, c.b[1:], dt) {
		out.c = append(out.c, c.c...)
		return out
	}
	for i := range c.Pieces() {
		next := c.b[i+1] + dt
		if !(next > out.b[len(out.b)-1]) || math.IsInf(next, 0) {
			continue
		}
		out.b = append(out.b, next)
		out.c = append(out.c, c.coefs(i)...)
		for range out.w - c.w {
			out.c = append(out.c, 0)
		}
	}
	if len(out.b) == 1 {
		return Curve{}
	}
	return out
}

// appendTimes appends times shifted by dt, or none unless each is later than the one before,
// and reports whether it did.
func appendTimes(dst *[]float64, times []float64, dt float64) bool {
	b := *dst
	last := b[len(b)-1]
	for _, t := range times {
		next := t + dt
		if !(next > last) || math.IsInf(next, 0) {
			return false
		}
		b, last = append(b, next), next
	}
	*dst = b
	return true
}

// joinTolerance is how far apart two times may be, relative to the latest time
// of the curves, and still be taken as the same instant: the rounding of some
// thousand additions.
const joinTolerance = 1e-12

// Sum returns the sum of curves with one common domain. Without curves it is
// the empty curve.
func Sum(curves ...Curve) (Curve, error) {
	w := 1
	for _, c := range curves {
		w = max(w, c.w)
	}
	return combine(curves, indexPath, w, func(dst []float64, p [][]float64) {
		clear(dst)
		for _, q := range p {
			poly.Add(dst[:0], dst, q)
		}
	})
}

// Product returns the product of two curves with one common domain. The degree
// of its pieces may be at most 40.
func Product(a, b Curve) (Curve, error) {
	w := max(1, a.w+b.w-1)
	if w > maxDegree+1 {
		var f Faults
		f.Add("b", fmt.Sprintf("pieces of degree %d", b.w-1), fmt.Sprintf("at most %d, so that the product has degree at most %d", maxDegree+1-a.w, maxDegree))
		return Curve{}, f.Err()
	}
	names := func(i int) string { return [...]string{"a", "b"}[i] }
	return combine([]Curve{a, b}, names, w, func(dst []float64, p [][]float64) {
		poly.Mul(dst[:0], p[0], p[1])
	})
}

func indexPath(i int) string { return fmt.Sprintf("curves[%d]", i) }

// combine cuts curves, which faults name by path, at the union of their
// breakpoints and merges their pieces there into w coefficients.
func combine(curves []Curve, path func(i int) string, w int, merge func(dst []float64, p [][]float64)) (Curve, error) {
	if len(curves) == 0 {
		return Curve{}, nil
	}
	start, end := curves[0].Start(), curves[0].End()
	tol := joinTolerance * math.Max(math.Abs(start), math.Abs(end))
	var f Faults
	pieces := 0
	for i, c := range curves {
		pieces += c.Pieces()
		if (c.Pieces() == 0) != (curves[0].Pieces() == 0) || math.Abs(c.Start()-start) > tol || math.Abs(c.End()-end) > tol {
			f.Add(path(i), fmt.Sprintf("from %g s to %g s", c.Start(), c.End()),
				fmt.Sprintf("the domain of %s, from %g s to %g s", path(0), start, end))
		}
	}
	if err := f.Err(); err != nil {
		return Curve{}, err
	}
	if pieces == 0 {
		return Curve{}, nil
	}

	out := makeCurve(pieces, w)
	at := make([]int, len(curves))
	parts := make([][]float64, len(curves))
	out.b = append(out.b, start)
	for t := start; t < end; {
		next := end
		for k, c := range curves {
			for at[k] < c.Pieces()-1 && c.b[at[k]+1] <= t+tol {
				at[k]++
			}
			if at[k] < c.Pieces()-1 {
				next = math.Min(next, c.b[at[k]+1])
			}
			parts[k] = poly.Shift(parts[k], c.coefs(at[k]), t-c.b[at[k]])
		}
		if next >= end-tol {
			next = end
		}
		n := len(out.c)
		out.c = append(out.c, make([]float64, w)...)
		merge(out.c[n:], parts)
		out.b = append(out.b, next)
		t = next
	}
	if i := out.notFinite(); i >= 0 {
		f.Add(path(len(curves)-1), fmt.Sprintf("an overflow at %g s", out.b[i]), "curves that combine to finite values")
		return Curve{}, f.Err()
	}
	return out, nil
}

// Slice returns the part of the curve from t0 to t1 [s], which must lie in its
// domain with t0 < t1.
func (c Curve) Slice(t0, t1 float64) (Curve, error) {
	var f Faults
	if !(t0 >= c.Start() && t0 < c.End()) {
		f.Add("t0", t0, fmt.Sprintf("from %g s to below %g s", c.Start(), c.End()))
	}
	if !(t1 > t0 && t1 <= c.End()) {
		f.Add("t1", t1, fmt.Sprintf("above %g s and at most %g s", t0, c.End()))
	}
	if err := f.Err(); err != nil {
		return Curve{}, err
	}
	first := find(c.b, t0)
	last := first
	for last < c.Pieces()-1 && c.b[last+1] < t1 {
		last++
	}
	out := makeCurve(last-first+1, c.w)
	out.b = append(out.b, t0)
	out.b = append(out.b, c.b[first+1:last+1]...)
	out.b = append(out.b, t1)
	out.c = append(out.c, c.c[first*c.w:(last+1)*c.w]...)
	poly.Shift(out.c[:0:c.w], c.coefs(first), t0-c.b[first])
	return out, nil
}

// Split returns the part before at [s] and the part from there on; at must lie
// inside the domain, not at its ends.
func (c Curve) Split(at float64) (before, after Curve, err error) {
	if !(at > c.Start() && at < c.End()) {
		var f Faults
		f.Add("at", at, fmt.Sprintf("between %g s and %g s", c.Start(), c.End()))
		return Curve{}, Curve{}, f.Err()
	}
	if before, err = c.Slice(c.Start(), at); err == nil {
		after, err = c.Slice(at, c.End())
	}
	return before, after, err
}

// Concat joins curves one after another: each is shifted to start where the one
// before it ends. Empty curves are skipped. The result starts where the first
// one does. Pieces that are shorter than the clock can tell so late are dropped.
func Concat(curves ...Curve) Curve {
	n, w := 0, 1
	for _, c := range curves {
		if c.Pieces() > 0 {
			n += c.Pieces()
			w = max(w, c.w)
		}
	}
	if n == 0 {
		return Curve{}
	}
	out := makeCurve(n, w)
	for _, c := range curves {
		if c.Pieces() == 0 {
			continue
		}
		shift := 0.0
		if len(out.b) > 0 {
			shift = out.End() - c.Start()
		}
		out = appendShifted(out, c, shift)
	}
	return out
}

// Repeat returns the curve followed by itself, n times in all; the empty curve
// for n < 1.
func (c Curve) Repeat(n int) Curve {
	all := make([]Curve, max(0, n))
	for i := range all {
		all[i] = c
	}
	return Concat(all...)
}
