package energy

import (
	"math"
	"testing"

	"example.com/headroom/internal/poly"
	"github.com/stretchr/testify/require"
)

// TestInterpolant: what it calls ready is as near to the function as it says, whether the
// function is even or odd about the middle, where every other coefficient vanishes; a
// polynomial of degree 9 comes back.
func TestInterpolant(t *testing.T) {
	for name, f := range map[string]func(x float64) float64{
		"even":   math.Cos,
		"odd":    math.Sin,
		"both":   func(x float64) float64 { return math.Exp(-x / 2) },
		"degree": func(x float64) float64 { return math.Pow(x, 9) - 3*x*x },
		"kink":   math.Abs,
		"nought": func(float64) float64 { return 0 },
	} {
		t.Run(name, func(t *testing.T) {
			ready := 0
			for _, half := range []float64{0.01, 0.1, 0.5, 1, 2, 4, 8} {
				var c interpolant
				for i := range c.values {
					x := -half * node[i]
					c.values[i] = f(x)
					c.scale = max(c.scale, math.Abs(c.values[i]))
				}
				if !c.ready() {
					continue
				}
				ready++
				var buf [samples]float64
				p := c.polynomial(buf[:], 2*half)
				for i := range 201 {
					s := 2 * half * float64(i) / 200
					require.InDelta(t, f(s-half), poly.Eval(p, s), 1e-11*c.scale+1e-300, "half width %g at %g", half, s)
				}
			}
			switch name {
			case "kink":
				require.Zero(t, ready)
			case "degree", "nought":
				require.Equal(t, 7, ready)
			default:
				require.Greater(t, ready, 2)
				require.Less(t, ready, 6, "a wide stretch must be refused")
			}
		})
	}
}
