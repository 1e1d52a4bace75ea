package thermal_test

import (
	"math"
	"testing"
)

// Every exported function with any numbers: no panic, no NaN or infinity with a
// nil error, and errors of known kinds only.
func FuzzAll(f *testing.F) {
	f.Add(uint8(0), 1., 2., 3., 4., 5., 6., 7.)
	for i, c := range calls {
		v := append(good(c), make([]float64, 7)...)
		f.Add(uint8(i), v[0], v[1], v[2], v[3], v[4], v[5], v[6])
	}
	f.Add(uint8(2), 1e308, math.Inf(1), math.NaN(), -1e308, 1e-308, 0., -0.)
	f.Fuzz(func(t *testing.T, which uint8, a, b, c, d, e, g, h float64) {
		fn := calls[int(which)%len(calls)]
		sound(t, fn, []float64{a, b, c, d, e, g, h}[:len(fn.args)])
	})
}
