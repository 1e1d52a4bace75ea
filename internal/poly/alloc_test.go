package poly

import (
	"slices"
	"testing"
)

func TestAllocs(t *testing.T) {
	dst := make([]float64, 0, 2*maxInline)
	check := func(name string, f func()) {
		t.Helper()
		if n := testing.AllocsPerRun(20, f); n != 0 {
			t.Errorf("%s allocates %v times", name, n)
		}
	}
	rng := seeded(40)
	for n := 0; n <= maxInline; n++ {
		c := random(rng, n, 2)
		check("Add", func() { dst = Add(dst, c, c) })
		check("Scale", func() { dst = Scale(dst, c, 2) })
		check("Mul", func() { dst = Mul(dst, c, c) })
		check("Shift", func() { dst = Shift(dst, c, 2) })
		check("Stretch", func() { dst = Stretch(dst, c, 2) })
		check("Derivative", func() { dst = Derivative(dst, c) })
		check("Antiderivative", func() { dst = Antiderivative(dst, c) })
		check("Range", func() { Range(c, 2) })
		check("Extrema", func() { Extrema(c, -1, 2) })
		check("Roots", func() { dst = Roots(dst, c, 0, 2) })
		check("Roots on both sides", func() { dst = Roots(dst, c, -1, 2) })
		check("Roots near the end of the range", func() { dst = Roots(dst, c, -1e200, 1e200) })
		if n > 1 {
			// Double roots all over: the longest way through.
			squares := []float64{1}
			for i := 1; len(squares)+2 <= n; i++ {
				r := 1 / float64(i)
				squares = Mul(nil, squares, []float64{r * r, -2 * r, 1})
			}
			check("Roots, all double", func() { dst = Roots(dst, squares, 0, 2) })
		}
	}
}

// Beyond the fixed buffers it works all the same.
func TestLong(t *testing.T) {
	c := slices.Repeat([]float64{1}, 120)
	c[0] = -1 // x + x² + … = 1 at almost exactly 1/2
	got := Roots(nil, c, 0, 1)
	if len(got) != 1 || !(got[0] > 0.5-1e-15 && got[0] < 0.5+1e-15) {
		t.Errorf("Roots = %v", got)
	}
	lo, atLo, hi, atHi := Extrema(c, -1, 1)
	if lo != -2 || atLo != -1 || hi != 118 || atHi != 1 {
		t.Errorf("Extrema = %v %v %v %v", lo, atLo, hi, atHi)
	}
}
