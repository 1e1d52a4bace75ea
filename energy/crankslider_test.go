package energy_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// TestCrankGeometry holds position against the triangle of crank and rod, and the
// derivatives against differences of it.
func TestCrankGeometry(t *testing.T) {
	for seed := range uint64(200) {
		r := rand.New(rand.NewPCG(seed, 12))
		radius := between(r, 0.01, 1)
		offset := radius * (r.Float64() - 0.5)
		c := energy.CrankSlider{Radius: radius, Offset: offset, Rod: (radius + math.Abs(offset)) * between(r, 1.05, 8), Efficiency: 1}
		require.NoError(t, c.Validate())
		angle := 20 * r.NormFloat64()
		x, k, dk := c.At(angle)
		require.InDelta(t, c.Rod, math.Hypot(x-radius*math.Cos(angle), offset-radius*math.Sin(angle)), 1e-13*c.Rod, "the rod keeps its length")
		const h = 1e-4
		x0, k0, _ := c.At(angle - h)
		x1, k1, _ := c.At(angle + h)
		require.InDelta(t, (x1-x0)/(2*h), k, 1e-5*radius)
		require.InDelta(t, (k1-k0)/(2*h), dk, 1e-4*radius)

		// The largest travel per radian is what the axis reflects most.
		a := energy.Axis{Load: energy.Load{Mass: 3}, Mechanism: c, Motor: lossless(t)}
		most := 0.0
		for i := range 20000 {
			_, k, _ := c.At(float64(i) / 20000 * 2 * math.Pi)
			most = math.Max(most, math.Abs(k))
		}
		j, err := a.ReflectedInertia()
		require.NoError(t, err)
		requireNear(t, 3*most*most, j, 1e-6, "reflected inertia")
	}
}

// TestCrankByHand: r = 0.1 m, l = 0.5 m, no offset, 2 kg; at θ = π/2 the rod is at
// s = √0.24 = 0.4898979486 m, k = -0.1, k' = r²/s = 0.0204124145.
//
//	w = 10 rad/s, α = 30 rad/s²: x'' = -0.1·30 + 0.0204124145·100 = -0.9587585476 m/s²
//	friction 5 N against x' = -1 m/s: -5 N; 3 N·s/m: -3 N; outside 7 N: +7 N
//	F = 2·(-0.9587585476) - 5 - 3 + 7 = -2.9175170953 N, T = 0.29175170953 N·m
func TestCrankByHand(t *testing.T) {
	a := energy.Axis{
		Load:      energy.Load{Mass: 2, Coulomb: 5, Viscous: 3, External: 7},
		Mechanism: energy.CrankSlider{Radius: 0.1, Rod: 0.5, Efficiency: 1},
		Motor:     lossless(t),
	}
	// Speed 10 rad/s and angle π/2 after 0.01 s.
	m := accels(t, math.Pi/2-0.1+30*0.01*0.01/2, 10-0.3, [2]float64{0.02, 30})
	require.InDelta(t, math.Pi/2, m.At(0.01).Position, 1e-12)
	require.InDelta(t, 0.29175170953, trace(t, a, m).Torque.At(0.01), 1e-10)

	// A whole turn at constant speed: inertia and the outside force give back what they take,
	// dry friction takes 5 N over 0.4 m.
	a.Load.Viscous = 0
	b := trace(t, a, steady(t, 2*math.Pi, 1)).Book
	require.InDelta(t, 2, b.LoadFriction, 1e-12)
	require.InDelta(t, 0, b.LoadWork, 1e-12)
	require.InDelta(t, 0, b.Kinetic, 1e-12)
	require.InDelta(t, 2, b.Drawn-b.Returned, 1e-9)

	// Standing at θ = 1: k = -0.1 sin 1 - u 0.1 cos 1/s, by the formula with u = 0.1 sin 1.
	u := 0.1 * math.Sin(1)
	k := -u - u*0.1*math.Cos(1)/math.Sqrt(0.25-u*u)
	h := holding(t, a, 1, 0)
	require.InDelta(t, 7*k, h.Free, 1e-12)
	require.InDelta(t, (7-5)*k, h.BreakPlus, 1e-12, "upwards in θ the slider goes down in x, its friction helps to hold")
	require.InDelta(t, (7+5)*k, h.BreakMinus, 1e-12)
	require.InDelta(t, h.BreakPlus, h.Least, 1e-12)
}

// TestCrankAgainstDirectEvaluation: between the points of interpolation the torque is
// that of the equations, to 1e-9 of the largest one.
func TestCrankAgainstDirectEvaluation(t *testing.T) {
	worst, pieces := 0.0, 0
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 13))
		a := anyAxis(t, r)
		if _, ok := a.Mechanism.(energy.CrankSlider); !ok {
			continue
		}
		m := suited(t, a, randomMotion(t, r))
		tr := trace(t, a, m)
		top := math.Abs(tr.Torque.AbsMax().V)
		for i := range tr.Torque.Pieces() {
			t0, t1, _ := tr.Torque.Piece(i)
			for _, share := range []float64{0.01, 0.13, 0.37, 0.61, 0.86, 0.99} {
				s := t0 + share*(t1-t0)
				if off := math.Abs(tr.Torque.At(s)-atInstant(a, m.At(s), s).torque) / top; !(off <= 1e-9) {
					t.Errorf("seed %d: torque %g at %g s, off by %g of the largest", seed, tr.Torque.At(s), s, off)
				} else {
					worst = math.Max(worst, off)
				}
			}
		}
		pieces += tr.Torque.Pieces()
	}
	require.NotZero(t, pieces)
	t.Logf("largest deviation %.1e of the largest torque, %d pieces", worst, pieces)
}

func TestCrankRefusesEndlessTurns(t *testing.T) {
	a := energy.Axis{
		Load:      energy.Load{Mass: 2},
		Mechanism: energy.CrankSlider{Radius: 0.1, Rod: 0.5, Efficiency: 1},
		Motor:     lossless(t),
	}
	for _, speed := range []float64{1e5, 1e18, -1e100} {
		_, err := a.Trace(steady(t, speed, 1))
		requirePaths(t, err, "motion")
	}
	_, err := a.Trace(accels(t, 1e17, 0, [2]float64{1, 1}))
	requirePaths(t, err, "motion")
	tr := trace(t, a, steady(t, 600, 1)) // 95 turns
	require.InDelta(t, 0, tr.Book.Residual, 1e-9*tr.Book.Throughput())
}

// TestCrankFarRound: after 900 turns a crank takes what it takes after none, and no more
// pieces.
func TestCrankFarRound(t *testing.T) {
	a := beltAxis(t)
	a.Mechanism = energy.CrankSlider{Radius: 0.08, Rod: 0.3, Efficiency: 0.96}
	near := sCurve(t, 3, 0.03, 0.07, 0.15)
	far, err := profile.NewMotion(shifted(t, near.Position(), 900*2*math.Pi))
	require.NoError(t, err)
	want, got := trace(t, a, near), trace(t, a, far)
	require.Equal(t, want.BusPower.Pieces(), got.BusPower.Pieces())
	require.InDelta(t, want.Book.Drawn, got.Book.Drawn, 1e-9*want.Book.Throughput())
	require.InDelta(t, 0, got.Book.Residual, 1e-9*want.Book.Throughput())
}
