package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"

	"example.com/headroom/profile"
)

// reach returns the longest way (sense 1) or the negative of the shortest
// (sense -1) that leads in n steps of h from the speed and acceleration of from to
// those of to, with an acceleration that is linear over each step and the same
// limits for speeding up and slowing down. ok is false if none does.
func reach(t testing.TB, l profile.Limits, from, to profile.State, n int, h, sense float64) (way float64, ok bool) {
	t.Helper()
	m := n - 1 // unknown: a[1..n-1] + accel >= 0
	base := make([]float64, n+1)
	for k := range base {
		base[k] = -l.Accel
	}
	base[0], base[n] = from.Accel, to.Accel

	// Speed at node k and the way to the end are linear in the accelerations: the
	// trapezoid rule for the speed, hat functions for the way.
	speedOf := func(k int) (coef []float64, fixed float64) {
		coef, fixed = make([]float64, m), from.Speed
		for j := 0; j <= k; j++ {
			w := h
			if j == 0 || j == k {
				w = h / 2
			}
			if k == 0 {
				w = 0
			}
			fixed += w * base[j]
			if j >= 1 && j <= m {
				coef[j-1] = w
			}
		}
		return coef, fixed
	}
	wayCoef, wayFixed := make([]float64, m), from.Speed*h*float64(n)
	for j := 0; j <= n; j++ {
		// ∫ (T - t) a dt over the hat at node j
		w := h * h * float64(n-j)
		switch j {
		case 0:
			w = h * h * (float64(n)/2 - 1./6)
		case n:
			w = h * h / 6
		}
		wayFixed += w * base[j]
		if j >= 1 && j <= m {
			wayCoef[j-1] = w
		}
	}
	type row struct {
		coef  []float64
		bound float64
	}
	var rows []row
	unit := func(j int, v float64) []float64 {
		c := make([]float64, m)
		c[j-1] = v
		return c
	}
	// Between nodes the speed may pass a node's by jerk h²/8.
	top := l.Speed - l.Jerk*h*h/8
	for k := 1; k <= n; k++ {
		if k <= m {
			rows = append(rows, row{unit(k, 1), 2 * l.Accel})
			c, v := speedOf(k)
			back := make([]float64, m)
			for j := range c {
				back[j] = -c[j]
			}
			rows = append(rows, row{c, top - v}, row{back, top + v})
		}
		step, back, d := make([]float64, m), make([]float64, m), base[k]-base[k-1]
		if k <= m {
			step[k-1], back[k-1] = 1, -1
		}
		if k >= 2 {
			step[k-2], back[k-2] = -1, 1
		}
		rows = append(rows, row{step, l.Jerk*h - d}, row{back, l.Jerk*h + d})
	}
	a := mat.NewDense(len(rows)+1, m+len(rows), nil)
	b := make([]float64, len(rows)+1)
	for i, r := range rows {
		for j, c := range r.coef {
			a.Set(i, j, c)
		}
		a.Set(i, m+i, 1)
		b[i] = r.bound
	}
	c, v := speedOf(n)
	for j, x := range c {
		a.Set(len(rows), j, x)
	}
	b[len(rows)] = to.Speed - v
	cost := make([]float64, m+len(rows))
	for j := range m {
		cost[j] = -sense * wayCoef[j]
	}
	opt, _, err := lp.Simplex(cost, a, b, 1e-10, nil)
	if err != nil {
		return 0, false
	}
	return sense*wayFixed - opt, true
}

// Source: linear programming (gonum.org/v1/gonum/optimize/convex/lp) over all
// motions whose acceleration is linear between the nodes of a grid, whatever
// their shape. With the same limits for speeding up and slowing down the ways that
// can be gone in a given time form an interval. In less than the time of the plan
// its way is never in it, in a little more it mostly is.
func TestPlanBetweenAgainstLinearProgramming(t *testing.T) {
	r := seeded(70)
	const n = 12
	cases, reached := 0, 0
	for cases < 20 {
		c := r.betweenCase(symmetric)
		c.to.Position /= 4
		m, err := profile.PlanBetween(c.from, c.to, c.lim)
		if err != nil || !insideForGood(c.from.Speed, c.from.Accel, c.lim) || m.Duration() == 0 {
			continue
		}
		cases++
		within := func(d float64) bool {
			far, ok1 := reach(t, c.lim, c.from, c.to, n, d/n, 1)
			near, ok2 := reach(t, c.lim, c.from, c.to, n, d/n, -1)
			s := c.to.Position - c.from.Position
			return ok1 && ok2 && s <= far && s >= -near
		}
		for _, x := range []float64{0.9999, r.between(0.9, 1), r.between(0.3, 0.95)} {
			require.False(t, within(m.Duration()*x), "%+v takes %g, but %g of it is enough", c, m.Duration(), x)
		}
		if within(m.Duration() * 1.1) {
			reached++
		}
	}
	require.Greater(t, reached, cases/2)
	t.Logf("in a tenth more than the time of the plan the grid reaches the end in %d of %d cases", reached, cases)
}

// The grid finds the way of a motion known by hand: 1 s up to 1 m/s², 1 s back, at
// jerk 1, 1 m from rest to 1 m/s; and 2 m with 1 m/s held for 1 s more.
func TestReachByHand(t *testing.T) {
	l := profile.Limits{Speed: 99, Accel: 1, Jerk: 1}
	way, ok := reach(t, l, profile.State{}, profile.State{Speed: 1}, 8, 0.25, 1)
	require.True(t, ok)
	near(t, 1, way, 1e-9, "from rest to 1 m/s in 2 s")
	_, ok = reach(t, l, profile.State{}, profile.State{Speed: 1}, 8, 0.24, 1)
	require.False(t, ok, "in less than 2 s")
	way, ok = reach(t, l, profile.State{Speed: 1}, profile.State{Speed: 1}, 4, 0.25, -1)
	require.True(t, ok)
	require.Less(t, math.Abs(-way-1), 0.1)
}
