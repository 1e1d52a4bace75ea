package profile

import (
	"fmt"
	"math"
)

// FromFlat builds a curve on the caller's own storage: n+1 breakpoints [s] and, in
// coefs, width coefficients for each of the n pieces, ascending, one piece after
// another. It is [NewCurve] without the copy. The slices belong to the curve from then
// on and must not be changed. The same input is refused as there.
func FromFlat(breaks, coefs []float64, width int) (Curve, error) {
	var f Faults
	pieces := len(breaks) - 1
	switch {
	case width < 1 || width > maxDegree+1:
		f.Add("width", width, fmt.Sprintf("from 1 to %d", maxDegree+1))
	case pieces < 1 || len(coefs)%width != 0 || len(coefs)/width != pieces:
		f.Add("breaks", fmt.Sprintf("%d breakpoints for %d coefficients", len(breaks), len(coefs)),
			fmt.Sprintf("at least one piece of %d coefficients, and one more breakpoint than pieces", width))
	}
	if err := f.Err(); err != nil {
		return Curve{}, err
	}
	ascending, longest := isFinite(breaks[pieces]-breaks[0]), 0.0
	for i := range pieces {
		h := breaks[i+1] - breaks[i]
		ascending = ascending && h > 0
		longest = max(longest, h)
	}
	if !ascending {
		checkTimes(&f, "breaks", breaks)
		return Curve{}, f.Err()
	}
	c := Curve{b: breaks, c: coefs, w: width}
	if c.clearlyFinite(longest) {
		return c, nil
	}
	for i, v := range coefs {
		if !isFinite(v) {
			f.Finite(fmt.Sprintf("coefs[%d]", i), v, "")
		}
	}
	if i := c.notFinite(); i >= 0 && f.Err() == nil {
		f.Add(fmt.Sprintf("coefs[%d]", i*width), c.coefs(i), fmt.Sprintf("finite values up to %g s", breaks[i+1]))
	}
	if err := f.Err(); err != nil {
		return Curve{}, err
	}
	return c, nil
}

// clearlyFinite reports whether the largest coefficient alone, as every term of the
// longest piece, leaves all values finite.
func (c Curve) clearlyFinite(longest float64) bool {
	var top uint64
	for _, v := range c.c {
		top = max(top, math.Float64bits(v)&^(1<<63)) // infinities and NaN are above all numbers
	}
	bound, power := 0.0, math.Float64frombits(top)
	longest = max(longest, 1)
	for range c.w {
		bound += power
		power *= longest
	}
	return isFinite(bound)
}
