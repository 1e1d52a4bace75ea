package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// No motion through any third state is faster: neither through one close to the
// planned motion nor through one far from it. Whatever class of motions the plan
// overlooked, its pieces would be found here, since they are shorter and simpler.
//
// Where the two jerks differ, motions that pass standstill can be faster, as the
// documentation says. They are told apart and counted.
func TestPlanBetweenThroughAThirdState(t *testing.T) {
	for kind := range kindCount {
		t.Run(kindNames[kind], func(t *testing.T) {
			r := seeded(uint64(40 + kind))
			planned, compared, swung, most := 0, 0, 0, 0.0
			for range 6000 {
				c := r.betweenCase(kind)
				m, err := profile.PlanBetween(c.from, c.to, c.lim)
				if err != nil {
					requireEndRefused(t, err)
					continue
				}
				require.NoError(t, flaw(m, c.from, c.to, c.lim, 1e-9), "%+v", c)
				planned++
				for range 4 {
					via := r.state(c.lim)
					via.Position = r.between(-0.5, 1.5) * c.to.Position
					if r.IntN(3) == 0 {
						via = m.At(m.Duration() * r.Float64())
						via.Speed += r.NormFloat64() * r.spread(0.001, 0.3) * c.lim.Speed
						if r.IntN(2) == 0 {
							via.Accel += r.NormFloat64() * r.spread(0.001, 0.3) * c.lim.Accel
						}
					}
					first, err1 := profile.PlanBetween(c.from, via, c.lim)
					second, err2 := profile.PlanBetween(via, c.to, c.lim)
					if err1 != nil || err2 != nil {
						continue
					}
					compared++
					gain := 1 - (first.Duration()+second.Duration())/m.Duration()
					if !(gain > 1e-9) {
						continue
					}
					if c.lim.Jerk != c.lim.DecelJerk && turns(speedsOf(c.from, c.to, first, second)) > 0 {
						swung++
						most = math.Max(most, gain)
						continue
					}
					t.Fatalf("%+v takes %g, but only %g through %+v", c, m.Duration(), first.Duration()+second.Duration(), via)
				}
			}
			require.Greater(t, planned, 3000)
			require.Less(t, swung, compared/200)
			t.Logf("%d motions, %d ways round; %d were faster through standstill, at most by %.2g", planned, compared, swung, most)
		})
	}
}

// Where one jerk is up to 3 times the other, no way through standstill is found
// that is faster either; where it is 30 times the other some are.
func TestPlanBetweenThroughStandstill(t *testing.T) {
	for _, ratio := range []float64{1.0 / 3, 2, 3, 30} {
		r := seeded(50)
		compared, faster, most := 0, 0, 0.0
		for range 400 {
			c := r.betweenCase(unequalJerks)
			c.lim.DecelJerk = c.lim.Jerk * ratio
			m, err := profile.PlanBetween(c.from, c.to, c.lim)
			if err != nil || !insideForGood(c.from.Speed, c.from.Accel, c.lim) {
				continue
			}
			best := m.Duration()
			for k := range 80 {
				near := c.from
				if k%2 == 0 {
					near = c.to
				}
				via := profile.State{Accel: r.between(-1, 1) * math.Min(c.lim.Accel, c.lim.Decel) * r.Float64()}
				via.Position = near.Position + r.NormFloat64()*r.spread(1e-4, 0.3)
				if k%4 < 2 && near.Speed != 0 { // about where it can come to rest
					via.Position = near.Position + r.NormFloat64()*near.Speed*near.Speed/c.lim.Decel
				}
				first, err1 := profile.PlanBetween(c.from, via, c.lim)
				second, err2 := profile.PlanBetween(via, c.to, c.lim)
				if err1 == nil && err2 == nil {
					compared++
					best = math.Min(best, first.Duration()+second.Duration())
				}
			}
			if gain := 1 - best/m.Duration(); gain > 1e-9 {
				faster++
				most = math.Max(most, gain)
				require.Greater(t, ratio, 3.0, "%+v", c)
			}
		}
		require.Greater(t, compared, 5000)
		if ratio > 3 {
			require.NotZero(t, faster)
		}
		t.Logf("ratio %.3g: %d motions improved, at most by %.2g", ratio, faster, most)
	}
}

func requireEndRefused(t testing.TB, err error) {
	t.Helper()
	require.Contains(t, []string{"to.speed", "to.accel"}, profile.InputErrors(err)[0].Path, "%v", err)
}
