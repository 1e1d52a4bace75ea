package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// simulation runs a motion made of arcs of full jerk, from its limits alone.
type simulation struct {
	l       profile.Limits
	p, v, a float64
	fastest float64
}

// arc runs for h with the jerk at its limit in the sense of sign, holding the
// acceleration at its limit once it is there; sign 0 holds it. Where jerk is not
// limited the acceleration steps to its limit, or for sign 0 to zero. It reports
// whether that keeps the limits.
func (s *simulation) arc(sign, h float64) bool {
	if !(h >= 0) {
		return false
	}
	for range 20 {
		if h == 0 {
			return true
		}
		// The quadrant that the state is in or about to enter.
		side := s.v
		if side == 0 {
			side = s.a
		}
		if side == 0 {
			side = sign
		}
		unlimited := math.IsInf(s.l.Jerk, 1)
		sense := s.a
		if sense == 0 || unlimited {
			sense = sign
		}
		most, jerk := s.l.Accel, s.l.Jerk
		if side*sense < 0 {
			most, jerk = s.l.Decel, s.l.DecelJerk
		}
		var j float64
		switch {
		case unlimited:
			s.a = sign * most
		case s.a*sign >= most*(1-1e-12) && sign != 0:
			if s.a*sign > most*(1+1e-9) {
				return false
			}
			s.a = sign * most
		case math.Abs(s.a) > most*(1+1e-9):
			return false
		default:
			j = sign * jerk
		}

		step := h
		event := func(x float64) bool { // whether x is the next thing to happen
			if x > 0 && x < step {
				step = x
				return true
			}
			return false
		}
		toA, zeroV := math.NaN(), false
		if j != 0 {
			if s.a*sign < 0 && event(-s.a/j) {
				toA = 0
			}
			if s.a*sign >= 0 && event((sign*most-s.a)/j) {
				toA = sign * most
			}
		}
		for _, x := range crossings(s.v, s.a, j) {
			if event(x) {
				toA, zeroV = math.NaN(), true
			}
		}
		s.p += step * (s.v + step*(s.a/2+step*j/6))
		s.v += step * (s.a + step*j/2)
		s.a += step * j
		if !math.IsNaN(toA) {
			s.a = toA
		}
		if zeroV {
			s.v = 0
		}
		s.fastest = math.Max(s.fastest, math.Abs(s.v))
		h -= step
	}
	return false
}

// crossings returns the positive times at which v + a t + j t²/2 is zero.
func crossings(v, a, j float64) []float64 {
	const tiny = 1e-13
	if v == 0 {
		if j != 0 && -2*a/j > tiny {
			return []float64{-2 * a / j}
		}
		return nil
	}
	if j == 0 {
		return []float64{-v / a}
	}
	q := a*a - 2*j*v
	if q < 0 {
		return nil
	}
	return []float64{(-a - math.Sqrt(q)) / j, (-a + math.Sqrt(q)) / j}
}

// run returns the state after the arcs, and whether they keep the limits. All of
// them start where the speed is inside its limit; the speed is highest where the
// acceleration is zero, at an event.
func run(l profile.Limits, from profile.State, signs, times []float64) (profile.State, bool) {
	s := simulation{l: l, p: from.Position, v: from.Speed, a: from.Accel, fastest: math.Abs(from.Speed)}
	for i, sign := range signs {
		if !s.arc(sign, times[i]) {
			return profile.State{}, false
		}
	}
	return profile.State{Position: s.p, Speed: s.v, Accel: s.a}, s.fastest <= l.Speed*(1+1e-9)
}

// solve adjusts the times of the arcs free so that they lead to the end, by
// Newton's iteration with difference quotients.
func solve(c between, signs, times []float64, free []int) bool {
	miss := func() ([3]float64, bool) {
		s, ok := run(c.lim, c.from, signs, times)
		return [3]float64{s.Position - c.to.Position, s.Speed - c.to.Speed, s.Accel - c.to.Accel}, ok
	}
	n := len(free)
	for range 25 {
		m, ok := miss()
		if !ok {
			return false
		}
		worst := 0.0
		for _, x := range m[:n] {
			worst = math.Max(worst, math.Abs(x))
		}
		if worst < 1e-13 {
			return true
		}
		var jac [3][4]float64
		for k, i := range free {
			const d = 1e-7
			times[i] += d
			x, ok := miss()
			times[i] -= d
			if !ok {
				return false
			}
			for q := range n {
				jac[q][k] = (x[q] - m[q]) / d
			}
		}
		for q := range n {
			jac[q][n] = -m[q]
		}
		step, ok := gauss(jac, n)
		if !ok {
			return false
		}
		shrink := 1.0
		for k, i := range free {
			if step[k] < 0 {
				shrink = math.Min(shrink, 0.9*times[i]/-step[k])
			}
		}
		if shrink < 1e-3 {
			return false
		}
		for k, i := range free {
			times[i] += shrink * step[k]
		}
	}
	return false
}

// gauss solves n linear equations.
func gauss(m [3][4]float64, n int) (x [3]float64, ok bool) {
	for c := range n {
		p := c
		for r := c; r < n; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[p][c]) {
				p = r
			}
		}
		if math.Abs(m[p][c]) < 1e-12 {
			return x, false
		}
		m[c], m[p] = m[p], m[c]
		for r := range n {
			if f := m[r][c] / m[c][c]; r != c {
				for k := c; k <= n; k++ {
					m[r][k] -= f * m[c][k]
				}
			}
		}
	}
	for c := range n {
		x[c] = m[c][n] / m[c][c]
	}
	return x, true
}

// searchArcs draws orders and numbers of arcs and solves for their times, around d
// in all. It returns the shortest time found, +Inf for none.
func (r random) searchArcs(c between, d float64, tries int) (best float64, bestSigns, bestTimes []float64) {
	best = inf
	for range tries {
		n, unknown := 3+r.IntN(3), 3
		if math.IsInf(c.lim.Jerk, 1) {
			n, unknown = 2+r.IntN(2), 2
		}
		signs, times := make([]float64, n), make([]float64, n)
		for i := range signs {
			signs[i] = float64(r.IntN(2)*2 - 1)
			if i > 0 && signs[i] == signs[i-1] || r.IntN(5) == 0 {
				signs[i] = 0
			}
			times[i] = d * r.Float64() * 2 / float64(n)
		}
		if !solve(c, signs, times, r.Perm(n)[:unknown]) {
			continue
		}
		total := 0.0
		for _, h := range times {
			total += h
		}
		if total < best {
			best, bestSigns, bestTimes = total, signs, times
		}
	}
	return best, bestSigns, bestTimes
}

// Rare ones: without a turn of the speed, with a dip below zero speed, so that a
// deeper dip first leads farther and then less far.
func TestPlanBetweenDipsBelowZeroSpeed(t *testing.T) {
	r := seeded(61)
	for _, c := range []between{
		{moving(0, -0.36, 0.6), moving(0.0085, 0.32, 0.345), profile.Limits{Speed: 3.2, Accel: 1.17, Decel: 0.82, Jerk: 0.376}},
		{moving(0, -0.192, 0.374), moving(-0.002, 0.2356, 0.797), profile.Limits{Speed: 1.5, Accel: 0.957, Decel: 0.946, Jerk: 0.853}},
		{moving(0, -0.2, 0.934), moving(0.0052, 0.1259, 0), profile.Limits{Speed: 0.32, Accel: 1.45, Decel: 1.86, Jerk: 1.976}},
	} {
		c.lim = filled(c.lim)
		d := must[profile.Move](t)(profile.PlanBetween(c.from, c.to, c.lim)).Duration()
		best, _, _ := r.searchArcs(c, d, 20000)
		near(t, best, d, 1e-9*d, "%+v", c)
	}
}

// Source: brute force over the order and the number of arcs of full, no and full
// opposite jerk, with times from Newton's iteration and from chance; it shares
// nothing with the plan. It finds the same in most cases, and never a faster
// one but, where the jerks differ, through standstill.
func TestPlanBetweenAgainstArcs(t *testing.T) {
	for _, kind := range []int{symmetric, unequalAccels, unequalJerks, unlimitedJerks} {
		t.Run(kindNames[kind], func(t *testing.T) {
			r := seeded(uint64(60 + kind))
			cases, found, same, swung := 0, 0, 0, 0
			for cases < 400 {
				c := r.betweenCase(kind)
				c.to.Position /= 3
				if kind == unlimitedJerks {
					c.from.Accel, c.to.Accel = 0, 0
				}
				m, err := profile.PlanBetween(c.from, c.to, c.lim)
				if err != nil || insideForGood(c.from.Speed, c.from.Accel, filled(c.lim)) == false {
					continue
				}
				cases++
				d := m.Duration()
				best, bestSigns, bestTimes := r.searchArcs(c, d, 1000)
				if math.IsInf(best, 1) {
					continue
				}
				found++
				if best < d*(1+1e-6) {
					same++
				}
				if best < d*(1-1e-8) {
					if kind == unequalJerks && turns(arcSpeeds(c, bestSigns, bestTimes)) > 0 {
						swung++
						continue
					}
					t.Fatalf("%+v: takes %g, but %g with arcs %v for %v", c, d, best, bestSigns, bestTimes)
				}
			}
			require.Greater(t, found, cases/2, "motions found by the search")
			require.Greater(t, same, cases/8, "motions as fast as the plan found by the search")
			t.Logf("of %d cases the search solved %d, %d as fast as the plan, %d faster through standstill", cases, found, same, swung)
		})
	}
}

func arcSpeeds(c between, signs, times []float64) []instant {
	var out []instant
	s := simulation{l: c.lim, p: c.from.Position, v: c.from.Speed, a: c.from.Accel}
	for i, sign := range signs {
		const n = 200
		for range n {
			out = append(out, instant{v: s.v})
			s.arc(sign, times[i]/n)
		}
	}
	return append(out, instant{v: c.to.Speed})
}
