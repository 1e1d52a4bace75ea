package profile

import (
	"math"
	"testing"
)

// The derivatives that the search for the top goes by, against difference
// quotients.
func TestLegSlope(t *testing.T) {
	inf := math.Inf(1)
	for _, tc := range []struct {
		c    climb
		v, a float64
		tops []float64
		bend bool // whether the second derivative is exact too
	}{
		{climb{bound{2, 3}, bound{1, 5}}, 0.2, 0.3, []float64{0.25, 0.3, 0.4, 0.9, 3}, true},
		{climb{bound{2, 3}, bound{1, 5}}, 0.2, -0.4, []float64{0.25, 0.3, 0.4, 0.9, 3}, true},
		{climb{bound{2, 3}, bound{1, 5}}, -2, 0.3, []float64{-1.9, -1.5, -0.5, -0.1}, true},
		{climb{bound{2, 3}, bound{1, 5}}, -2, 0.3, []float64{0.01, 0.05, 0.5, 3}, false},
		{climb{bound{1, 5}, bound{2, 3}}, -0.05, 0.1, []float64{0.01, 0.02, 0.5, 3}, false},
		{climb{bound{1, inf}, bound{2, 3}}, -0.05, 0, []float64{-0.04, 0.01, 0.5}, false},
		{climb{bound{1, 3}, bound{2, inf}}, 0.05, 0, []float64{0.06, 0.5}, true},
	} {
		l := newLeg(tc.c, tc.v, tc.a)
		for _, top := range tc.tops {
			const d = 1e-5
			at := func(v float64) climbed { return l.to(v, v-l.w) }
			c := at(top)
			slope := (at(top+d).s - at(top-d).s) / (2 * d)
			if !(math.Abs(c.ds-slope) <= 1e-6*(1+math.Abs(slope))) {
				t.Errorf("%+v to %g: slope %g, want %g", tc, top, c.ds, slope)
			}
			bend := (at(top+d).ds - at(top-d).ds) / (2 * d)
			if tc.bend && !(math.Abs(c.k-bend) <= 1e-4*(1+math.Abs(bend))) {
				t.Errorf("%+v to %g: bend %g, want %g", tc, top, c.k, bend)
			}
		}
	}
}
