package profile_test

import (
	"fmt"
	"math"
	"sort"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"

	"example.com/headroom/profile"
)

// searchRamp finds by bisection the fastest ramp to speed v, and its distance
// by Simpson's rule, which is exact for the pieces of its speed.
func searchRamp(v, accel, jerk float64) (duration, distance float64) {
	rise, hold := 0.0, 0.0
	speed := func(t float64) float64 {
		if math.IsInf(jerk, 1) {
			return accel * t
		}
		up := math.Min(t, rise)
		down := math.Max(0, t-rise-hold)
		a := jerk * rise
		return jerk*up*up/2 + a*math.Max(0, t-rise) - jerk*down*down/2
	}
	end := func() float64 { return speed(2*rise + hold) }
	bisect := func(x *float64, hi float64) {
		lo := 0.0
		for range 200 {
			*x = lo + (hi-lo)/2
			if *x == lo || *x == hi {
				break
			}
			if end() < v {
				lo = *x
			} else {
				hi = *x
			}
		}
	}
	bisect(&rise, math.Min(accel/jerk, math.Sqrt(v/jerk)*2))
	if end() < v*(1-1e-9) || math.IsInf(jerk, 1) {
		bisect(&hold, 2*v/accel)
	}
	for _, p := range [][2]float64{{0, rise}, {rise, rise + hold}, {rise + hold, 2*rise + hold}} {
		distance += (p[1] - p[0]) / 6 * (speed(p[0]) + 4*speed((p[0]+p[1])/2) + speed(p[1]))
	}
	return 2*rise + hold, distance
}

// searchTime returns the time over travel with peak speed v, +Inf if the ramps
// alone go farther.
func searchTime(travel, v float64, l profile.Limits) float64 {
	t1, s1 := searchRamp(v, l.Accel, l.Jerk)
	t2, s2 := searchRamp(v, l.Decel, l.DecelJerk)
	if s1+s2 > travel {
		return inf
	}
	return t1 + t2 + (travel-s1-s2)/v
}

// Source: a search over the peak speed, over accelerations and over jerks, with
// none of the closed forms.
func TestPlanBeatsASearch(t *testing.T) {
	r := seeded(30)
	for range 3000 {
		lim := r.limits()
		l := filled(lim)
		travel := r.spread(1e-3, 1e3)
		got := must[profile.Move](t)(profile.Plan(0, travel, lim)).Duration()

		// The highest peak speed that leaves room for both ramps.
		lo, hi := 0.0, l.Speed
		for range 100 {
			if v := lo + (hi-lo)/2; math.IsInf(searchTime(travel, v, l), 1) {
				hi = v
			} else {
				lo = v
			}
		}
		best := searchTime(travel, lo, l)
		near(t, best, got, 1e-9*best, "%+v over %g", l, travel)

		for range 20 {
			slower := l
			slower.Accel *= r.spread(0.5, 1)
			slower.Decel *= r.spread(0.5, 1)
			slower.Jerk *= r.spread(0.5, 1)
			slower.DecelJerk *= r.spread(0.5, 1)
			v := lo * r.Float64()
			require.GreaterOrEqual(t, searchTime(travel, v, l), got*(1-1e-9), "%+v over %g at %g", l, travel, v)
			require.GreaterOrEqual(t, searchTime(travel, v, slower), got*(1-1e-9), "%+v over %g at %g", l, travel, v)
		}
	}
}

// farthest returns the longest way that any motion goes from rest to rest in n
// steps of h, with an acceleration that is linear over each step, within the
// limits; peak is the step from which on the speed may only fall and the limits
// for slowing down hold, or 0 for any course of the speed, where they must be
// equal. It is a linear program and knows nothing of the shape of the answer.
func farthest(t testing.TB, l profile.Limits, n, peak int, h float64) float64 {
	t.Helper()
	m := n - 1 // accelerations a[1..n-1] at the inner nodes; a[0] = a[n] = 0
	lower, upper, jerk := make([]float64, n+1), make([]float64, n+1), make([]float64, n+1)
	for k := 1; k <= n; k++ {
		lower[k], upper[k], jerk[k] = -l.Decel, l.Accel, l.Jerk
		if peak > 0 && k <= peak {
			lower[k] = 0
		}
		if peak > 0 && k >= peak {
			upper[k] = 0
		}
		if peak > 0 && k > peak {
			jerk[k] = l.DecelJerk
		}
	}
	// Speed and distance at node k are sums over a: the trapezoid rule is exact
	// for the speed, and the distance follows by integrating a hat function.
	speed := func(k, j int) float64 { // ∂v[k]/∂a[j]
		switch {
		case j < k:
			return h
		case j == k:
			return h / 2
		}
		return 0
	}
	distance := func(j int) float64 { return h * h * float64(n-j) } // ∂s[n]/∂a[j]

	// Unknowns x[j] = a[j] - lower[j] >= 0, then one slack for every inequality.
	type row struct {
		coef  []float64
		bound float64
	}
	var rows []row
	le := func(coef []float64, bound float64) {
		for j, c := range coef {
			bound -= c * lower[j+1]
		}
		rows = append(rows, row{coef, bound})
	}
	unit := func(j int, v float64) []float64 {
		c := make([]float64, m)
		if j >= 1 && j <= m {
			c[j-1] = v
		}
		return c
	}
	for k := 1; k <= n; k++ {
		if k <= m {
			le(unit(k, 1), upper[k])
			v := make([]float64, m)
			for j := 1; j <= m; j++ {
				v[j-1] = speed(k, j)
			}
			le(v, l.Speed)
		}
		step, back := unit(k, 1), unit(k, -1)
		if k >= 2 {
			step[k-2], back[k-2] = -1, 1
		}
		le(step, jerk[k]*h)
		le(back, jerk[k]*h)
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
	cost := make([]float64, m+len(rows))
	start := 0.0
	for j := 1; j <= m; j++ {
		a.Set(len(rows), j-1, h) // the speed at the end is 0
		b[len(rows)] -= h * lower[j]
		cost[j-1] = -distance(j)
		start += distance(j) * lower[j]
	}
	opt, _, err := lp.Simplex(cost, a, b, 1e-10, nil)
	require.NoError(t, err)
	return start - opt
}

// Source: linear programming (gonum.org/v1/gonum/optimize/convex/lp) over all
// motions whose acceleration is linear between the nodes of a grid. In the time
// that the plan takes none goes farther, and where the nodes fall on its
// switching times one goes just as far.
func TestPlanAgainstLinearProgramming(t *testing.T) {
	for _, tc := range []struct {
		lim              profile.Limits
		travel, duration float64 // by hand
	}{
		{profile.Limits{Speed: 2, Accel: 1, Jerk: 1}, 10, 8},                         // 1 1 1 | 2 | 1 1 1
		{profile.Limits{Speed: 99, Accel: 99, Jerk: 1}, 16, 8},                       // 2 2 | 2 2
		{profile.Limits{Speed: 99, Accel: 1, Jerk: 1}, 6, 6},                         // 1 1 1 | 1 1 1
		{profile.Limits{Speed: 2, Accel: 1, Jerk: 1, Decel: 2, DecelJerk: 2}, 9, 7},  // 1 1 1 | 2 | 1 1
		{profile.Limits{Speed: 4, Accel: 1, Jerk: 1, Decel: 4, DecelJerk: 4}, 22, 9}, // 1 3 1 | 2 | 1 1
		{profile.Limits{Speed: 99, Accel: 2, Jerk: 2, Decel: 1, DecelJerk: 1}, 5, 5}, // 1 1 | 1 1 1
	} {
		l := filled(tc.lim)
		m := must[profile.Move](t)(profile.Plan(0, tc.travel, tc.lim))
		near(t, tc.duration, m.Duration(), 1e-14*tc.duration, "%+v", tc.lim)
		n := 2 * int(tc.duration)
		if l.Jerk == l.DecelJerk {
			near(t, tc.travel, farthest(t, l, n, 0, 0.5), 1e-8, "%+v, any course", l)
		}
		best := 0.0
		for peak := 1; peak < n; peak++ {
			best = math.Max(best, farthest(t, l, n, peak, 0.5))
		}
		near(t, tc.travel, best, 1e-8, "%+v, one peak", l)
	}

	r := seeded(31)
	var shares []float64
	for range 40 {
		l := profile.Limits{Speed: r.between(0.5, 2), Accel: r.between(0.5, 2), Decel: r.between(0.5, 2), Jerk: r.between(0.5, 4)}
		l.DecelJerk = l.Jerk
		travel := r.between(0.5, 4)
		d := must[profile.Move](t)(profile.Plan(0, travel, l)).Duration()
		const n = 16
		s := farthest(t, l, n, 0, d/n)
		// Between nodes the speed may pass its limit by jerk h²/8.
		require.LessOrEqual(t, s, travel+l.Jerk*(d/n)*(d/n)/8*d, fmt.Sprintf("%+v over %g", l, travel))
		shares = append(shares, s/travel)
	}
	sort.Float64s(shares)
	require.Greater(t, shares[len(shares)/2], 0.98, "the grid comes close to the plan: %v", shares)
}
