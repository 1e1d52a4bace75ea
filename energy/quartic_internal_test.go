package energy

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/internal/poly"
	"github.com/stretchr/testify/require"
)

// TestQuarticSigns holds signs and crossing against the roots that poly finds.
func TestQuarticSigns(t *testing.T) {
	var seen [3]int
	for seed := range uint64(20000) {
		r := rand.New(rand.NewPCG(seed, 3))
		var c [5]float64
		for k := range 1 + r.IntN(5) {
			c[k] = r.NormFloat64() * math.Pow(10, 6*r.Float64()-3)
		}
		h := 3 * r.Float64()
		q := quarticOn(&c, h)
		roots := poly.Roots(nil, c[:], 0, h)
		first, changes := q.signs()
		switch changes {
		case 0:
			require.Empty(t, roots, "seed %d", seed)
			require.Equal(t, sign(poly.Eval(c[:], h/2)), first)
		case 1:
			require.Len(t, roots, 1, "seed %d", seed)
			require.InDelta(t, roots[0], h*q.crossing(first), 1e-9*h, "seed %d", seed)
			require.Equal(t, first, sign(poly.Eval(c[:], roots[0]/2)))
		}
		seen[min(changes, 2)]++
	}
	for _, n := range seen {
		require.Greater(t, n, 500)
	}
}

// TestQuarticEdges: zeros at the ends, roots just outside where Newton's method is
// drawn, double roots, and nothing at all.
func TestQuarticEdges(t *testing.T) {
	for _, tc := range []struct {
		c       [5]float64
		first   float64
		changes int
		root    float64
	}{
		{c: [5]float64{}},
		{c: [5]float64{0, 1}, first: 1},
		{c: [5]float64{0, -1, 2}, first: -1, changes: 1, root: 0.5},
		{c: [5]float64{-1e-17, -129, 2219, 35254, 10064}, first: -1, changes: 1, root: poly.Roots(nil, []float64{-1e-17, -129, 2219, 35254, 10064}, 0, 1)[0]},
		{c: [5]float64{-0.125, 0.75, -1.5, 1}, first: -1, changes: 3}, // (u - 1/2)³
		{c: [5]float64{1e-300, -2e-300}, first: 1, changes: 1, root: 0.5},
		{c: [5]float64{-0.0625, 0, 0, 0, 1}, first: -1, changes: 1, root: 0.5},
	} {
		q := quarticOn(&tc.c, 1)
		first, changes := q.signs()
		require.Equal(t, tc.first, first, "%v", tc.c)
		require.Equal(t, tc.changes, changes, "%v", tc.c)
		if changes == 1 {
			require.InDelta(t, tc.root, q.crossing(first), 1e-12, "%v", tc.c)
		}
	}
}
