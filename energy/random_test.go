package energy_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// between returns a number from lo to hi, spread evenly over its logarithm.
func between(r *rand.Rand, lo, hi float64) float64 { return lo * math.Pow(hi/lo, r.Float64()) }

// maybe returns 0 in one of three cases.
func maybe(r *rand.Rand, v float64) float64 {
	if r.IntN(3) == 0 {
		return 0
	}
	return v
}

// randomBack returns a back-driving efficiency: not given, self-locking, or any.
func randomBack(r *rand.Rand) float64 {
	switch r.IntN(4) {
	case 0:
		return -2 * r.Float64()
	case 1:
		return 0.2 + 0.8*r.Float64()
	}
	return 0
}

func randomEfficiency(r *rand.Rand) float64 {
	if r.IntN(5) == 0 {
		return 1
	}
	return 0.25 + 0.75*r.Float64()
}

// randomAxis returns an axis of any mechanism with 0 to 3 stages.
func randomAxis(t testing.TB, r *rand.Rand) energy.Axis {
	t.Helper()
	w, err := energy.SinusoidalPeak(between(r, 0.05, 2), energy.PerPhase(between(r, 0.1, 10)), 20+100*r.Float64())
	require.NoError(t, err)
	a := energy.Axis{
		Load: energy.Load{
			Coulomb:  maybe(r, between(r, 1, 60)),
			Viscous:  maybe(r, between(r, 1, 60)),
			External: maybe(r, 200*(r.Float64()-0.5)),
		},
		Motor: energy.Motor{
			RotorInertia:        maybe(r, between(r, 1e-6, 1e-3)),
			DragTorque:          maybe(r, between(r, 0.005, 0.1)),
			DragPerSpeed:        maybe(r, between(r, 1e-5, 1e-3)),
			DragPerSpeedSquared: maybe(r, between(r, 1e-8, 1e-5)),
			Winding:             w,
		},
		Drive: energy.Drive{
			Standby:           maybe(r, 20*r.Float64()),
			LossPerAmp:        maybe(r, 3*r.Float64()),
			LossPerAmpSquared: maybe(r, 0.2*r.Float64()),
		},
	}
	ef, eb := randomEfficiency(r), randomBack(r)
	inertia, drag := maybe(r, between(r, 1e-6, 1e-3)), maybe(r, between(r, 0.01, 0.2))
	linear := true
	switch r.IntN(3) {
	case 0:
		a.Mechanism = energy.Screw{Lead: between(r, 0.004, 0.05), Efficiency: ef, BackEfficiency: eb, Inertia: inertia, Drag: drag}
	case 1:
		a.Mechanism = energy.Belt{PitchDiameter: between(r, 0.02, 0.2), Efficiency: ef, BackEfficiency: eb,
			Inertia: inertia, BeltMass: maybe(r, r.Float64()), Drag: drag}
	case 2:
		a.Mechanism = energy.Rotary{Efficiency: ef, BackEfficiency: eb, Inertia: inertia, Drag: drag}
		linear = false
	}
	if linear {
		a.Load.Mass = between(r, 1, 100)
		a.Load.Incline = maybe(r, math.Pi*(r.Float64()-0.5))
	} else {
		a.Load.Inertia = between(r, 0.1, 10)
	}
	for range r.IntN(4) {
		a.Stages = append(a.Stages, energy.Stage{
			Ratio:          between(r, 0.5, 10),
			Efficiency:     randomEfficiency(r),
			BackEfficiency: randomBack(r),
			Inertia:        maybe(r, between(r, 1e-6, 1e-4)),
			Drag:           maybe(r, between(r, 0.01, 0.1)),
		})
	}
	return a
}

// randomMotion returns a motion of one of three kinds: constant jerks from a moving
// start, moves from rest to rest with waits between, or pieces of degree 7.
func randomMotion(t testing.TB, r *rand.Rand) profile.Motion {
	t.Helper()
	normal := func() float64 { return r.NormFloat64() }
	switch r.IntN(3) {
	case 0:
		var s []segment
		for range 1 + r.IntN(8) {
			s = append(s, segment{between(r, 0.02, 0.3), 200 * normal()})
		}
		return jerks(t, profile.State{Position: normal(), Speed: normal(), Accel: 5 * normal()}, s...)
	case 1:
		wait, err := profile.Dwell(0, between(r, 0.01, 1))
		require.NoError(t, err)
		return closedMotion(t, r, wait)
	}
	var breaks = []float64{0}
	var coefs [][]float64
	x, v := normal(), normal()
	for range 1 + r.IntN(4) {
		d := between(r, 0.1, 0.5)
		c := []float64{x, v, 0, 0, 0, 0, 0, 0}
		for k := 2; k < 8; k++ {
			c[k] = normal() / math.Pow(d, float64(k)) / float64(k)
		}
		x, v = 0, 0
		for k := 7; k >= 0; k-- {
			v = v*d + x
			x = x*d + c[k]
		}
		coefs = append(coefs, c)
		breaks = append(breaks, breaks[len(breaks)-1]+d)
	}
	c, err := profile.NewCurve(breaks, coefs)
	require.NoError(t, err)
	m, err := profile.NewMotion(c)
	require.NoError(t, err)
	return m
}

// closedMotion waits, goes out, waits, and comes back to 0.
func closedMotion(t testing.TB, r *rand.Rand, wait profile.Motion) profile.Motion {
	t.Helper()
	d := (r.Float64() - 0.5) * 2
	out := sCurve(t, d, between(r, 0.01, 0.1), between(r, 0.01, 0.1), between(r, 0.01, 0.3))
	back := sCurve(t, -d, between(r, 0.01, 0.1), between(r, 0.01, 0.1), between(r, 0.01, 0.3))
	there, err := profile.Dwell(out.End().Position, between(r, 0.01, 0.5))
	require.NoError(t, err)
	turned := back.Position()
	offset, err := profile.Constant(out.End().Position, 0, turned.End())
	require.NoError(t, err)
	turned, err = profile.Sum(turned, offset)
	require.NoError(t, err)
	back, err = profile.NewMotion(turned)
	require.NoError(t, err)
	m, err := profile.Sequence(wait, out, there, back)
	require.NoError(t, err)
	return m
}

// eachRandom runs fn on n random axes and motions with fixed seeds.
func eachRandom(t *testing.T, n int, fn func(t *testing.T, seed uint64, a energy.Axis, m profile.Motion)) {
	for seed := range uint64(n) {
		r := rand.New(rand.NewPCG(seed, 1))
		a := anyAxis(t, r)
		fn(t, seed, a, suited(t, a, randomMotion(t, r)))
		if t.Failed() {
			t.Fatalf("at seed %d", seed)
		}
	}
}
