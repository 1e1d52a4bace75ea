package energy_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

func goodKey() energy.ParallelKey {
	return energy.ParallelKey{
		ShaftDiameter:   0.014,
		Section:         energy.KeySection{Width: 0.005, Height: 0.005, ShaftDepth: 0.003, HubDepth: 0.0023},
		EffectiveLength: 0.015,
		Pressure:        100e6,
		Shear:           60e6,
	}
}

func capacity(t testing.TB, j energy.Joint) float64 {
	t.Helper()
	c, err := j.Capacity()
	require.NoError(t, err)
	return c
}

// TestFrictionAndBondByIntegration sums the force on small areas times its lever.
func TestFrictionAndBondByIntegration(t *testing.T) {
	const d, l, mu, p, tau = 0.019, 0.024, 0.11, 43e6, 17e6
	around := func(stress float64) (torque float64) {
		const n, m = 360, 40
		for range n * m {
			torque += stress * (math.Pi * d / n) * (l / m) * d / 2
		}
		return torque
	}
	requireNear(t, around(mu*p), capacity(t, energy.ClampHub{Diameter: d, Length: l, Friction: mu, Pressure: p}), 1e-9, "clamp hub")
	requireNear(t, around(tau), capacity(t, energy.BondedJoint{Diameter: d, Length: l, Shear: tau}), 1e-9, "bonded joint")

	// Force from pressure: the part of the pressure on one half that pulls across the split.
	force := 0.0
	const n = 100000
	for i := range n {
		force += p * (math.Pi * d / 2 / n) * l * math.Sin(math.Pi*(float64(i)+0.5)/n)
	}
	byForce := energy.ClampHub{Diameter: d, Length: l, Friction: mu, Force: force}
	got, err := byForce.ContactPressure()
	require.NoError(t, err)
	requireNear(t, p, got, 1e-9, "pressure from the bolts")
	requireNear(t, around(mu*p), capacity(t, byForce), 1e-9, "clamp hub by its bolts")
	// The documented bound for a loose fit: two lines, each with the whole force.
	requireNear(t, 2/math.Pi, 2*mu*force*d/2/capacity(t, byForce), 1e-9, "line contact")
}

func TestKeyGoverns(t *testing.T) {
	k := goodKey()
	bearing, err := k.BearingCapacity()
	require.NoError(t, err)
	shear, err := k.ShearCapacity()
	require.NoError(t, err)
	requireNear(t, 0.007*100e6*0.015*0.002, bearing, 1e-12, "bearing")
	requireNear(t, 0.007*60e6*0.015*0.005, shear, 1e-12, "shear")
	require.Equal(t, bearing, capacity(t, k))
	k.Shear = 10e6
	requireNear(t, shear/6, capacity(t, k), 1e-12, "soft key")
	// A keyway of less than half the height bears on the shaft's side.
	k = goodKey()
	k.Section.ShaftDepth = 0.001
	requireNear(t, 0.007*100e6*0.015*0.001, capacity(t, k), 1e-12, "shallow keyway")
}

// TestStandardKeysFit: every section leaves some play above the key, keyways grow
// with the shaft, and each diameter has one section.
func TestStandardKeysFit(t *testing.T) {
	last := energy.KeySection{}
	for d := 0.00605; d < 0.07501; d += 0.0001 {
		s, err := energy.StandardKey(d)
		require.NoError(t, err)
		play := s.ShaftDepth + s.HubDepth - s.Height
		require.True(t, play > 0.0001 && play < 0.0006, "play %g m at %g m", play, d)
		require.Greater(t, 2*s.ShaftDepth, s.Height, "more than half in the shaft")
		require.GreaterOrEqual(t, s.Width, last.Width)
		require.GreaterOrEqual(t, s.ShaftDepth, last.ShaftDepth)
		last = s
	}
	for _, v := range []float64{0, 0.006, 0.0751, 17, -0.02, math.NaN(), math.Inf(1), math.Inf(-1), 1e300} {
		_, err := energy.StandardKey(v)
		requirePaths(t, err, "shaftDiameter")
	}
	// A limit that was converted from mm with rounding belongs to its own row.
	for _, v := range []float64{22e-3, 22 * 0.001, 22. / 1000, math.Nextafter(0.022, 1)} {
		s, err := energy.StandardKey(v)
		require.NoError(t, err)
		require.Equal(t, 6e-3, s.Width)
	}
}

func TestAssessJoint(t *testing.T) {
	// 10 N·m one way, 8 the other, twice in 2 s.
	shuttle := steps(t, []float64{0, 0.4, 0.6, 1, 1.2, 1.4, 1.6, 2}, 10, 0, -8, 0, 10, 0, -8)
	key := goodKey()
	key.SetScrew = true
	clamp := energy.ClampHub{Diameter: 0.014, Length: 0.02, Friction: 0.12, Pressure: 30e6}
	bond := energy.BondedJoint{Diameter: 0.014, Length: 0.02, Shear: 10e6}
	assess := func(j energy.Joint, c profile.Curve, factor float64) energy.JointAssessment {
		t.Helper()
		a, err := energy.AssessJoint(j, c, factor)
		require.NoError(t, err)
		return a
	}

	a := assess(key, shuttle, 2)
	requireNear(t, 20, a.Loading.Value, 1e-14, "value")
	requireNear(t, 21, a.Loading.Limit, 1e-12, "limit")
	requireNear(t, 0.8, a.OppositeShare, 1e-14, "opposite share")
	requireNear(t, 2, a.ReversalRate, 1e-14, "reversal rate") // 4 in 2 s, counting the one from end to start
	require.True(t, a.ReversingFast)
	require.True(t, a.MarginalDesign)
	require.Len(t, a.Advice, 1)
	require.Contains(t, a.Advice[0], "marginal")
	require.Contains(t, a.Advice[0], "common practice, no source")

	a = assess(key, shuttle, 2.2)
	require.False(t, a.Loading.Within())
	require.Len(t, a.Advice, 2, "marginal and overloaded")

	tight := key
	tight.SetScrew = false
	for _, j := range []energy.Joint{tight, clamp, bond} {
		a = assess(j, shuttle, 1)
		require.True(t, a.ReversingFast)
		require.False(t, a.MarginalDesign)
		require.Empty(t, a.Advice)
	}
	a = assess(clamp, shuttle, 3)
	require.Len(t, a.Advice, 1, "overloaded")

	a = assess(key, steps(t, []float64{0, 1, 2}, 10, -2.5), 1)
	requireNear(t, 1, a.ReversalRate, 1e-14, "a quarter the other way counts")
	a = assess(key, steps(t, []float64{0, 1, 2}, 10, 2), 1)
	require.Zero(t, a.OppositeShare, "all one way")

	for name, c := range map[string]profile.Curve{
		"one way":              steps(t, []float64{0, 1, 2, 3}, 10, 0, 9),
		"little the other way": steps(t, []float64{0, 1, 2, 3}, 10, 0, -1.9),
		"seldom":               steps(t, []float64{0, 1, 30, 31}, 10, 0, -10),
		"none":                 steps(t, []float64{0, 1}, 0),
	} {
		a = assess(key, c, 1)
		require.False(t, a.MarginalDesign, name)
		require.Empty(t, a.Advice, name)
	}
}

// TestReversals holds the number of reversals against a walk along samples, on
// curves with jumps, slopes, and stretches that sit exactly on a threshold.
func TestReversals(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 300 {
		// Corners at multiples of 2 and values up to ±10 with threshold 2: stretches at
		// ±2 occur often.
		n := 2 + r.IntN(8)
		breaks := []float64{0}
		var coefs [][]float64
		value := func() float64 { return float64(2 * (r.IntN(11) - 5)) }
		for i := range n {
			breaks = append(breaks, float64(i+1))
			v0, v1 := value(), value()
			if r.IntN(2) == 0 {
				v1 = v0
			}
			coefs = append(coefs, []float64{v0, v1 - v0})
		}
		coefs[0] = []float64{10, 0} // the peak
		c, err := profile.NewCurve(breaks, coefs)
		require.NoError(t, err)

		var signs []float64
		for i := range 1000 * n {
			if v := c.At((float64(i) + 0.5) / 1000); math.Abs(v) > 2 {
				signs = append(signs, math.Copysign(1, v))
			}
		}
		want := 0
		for i := range signs {
			if signs[i] != signs[(i+1)%len(signs)] {
				want++
			}
		}
		a, err := energy.AssessJoint(goodKey(), c, 1)
		require.NoError(t, err)
		require.InDelta(t, float64(want)/float64(n), a.ReversalRate, 1e-12, "%v", coefs)
	}
}
