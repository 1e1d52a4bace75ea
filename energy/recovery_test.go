package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// TestRecoveryByHand brakes 4 kg from 1 m/s at 2 m/s², 4 N of dry friction, radius 0.1 m,
// no other loss than copper: 0.2 N·m/√W.
//
//	offered    1/2 · 4 · 1² = 2 J, with -v 8 N
//	generated  8 - 4 = 4 N over 0.25 m: 1 J
//	copper     (0.4/0.2)² = 4 W for 0.5 s: 2 J
//
// Bus power is 4 W - 4 N v: negative never, since v stays at or below 1 m/s. All is burned.
// From 3 m/s it is negative above 1 m/s: 1 J are burned as before, and in the second before
// 4 N · 2 m = 8 J are generated, of which copper takes 4 J.
func TestRecoveryByHand(t *testing.T) {
	winding, err := energy.SinusoidalRMS(0.5, energy.MotorConstant(0.2), 25)
	require.NoError(t, err)
	a := energy.Axis{
		Load:      energy.Load{Mass: 4, Coulomb: 4},
		Mechanism: energy.Belt{PitchDiameter: 0.2, Efficiency: 1},
		Motor:     energy.Motor{Winding: winding},
	}
	b := trace(t, a, accels(t, 0, 1, [2]float64{0.5, -2})).Book
	require.InDelta(t, 2, b.Recovery.Offered, 1e-12)
	require.InDelta(t, 1, b.Recovery.Generated, 1e-12)
	require.InDelta(t, 1, b.Recovery.Burned, 1e-12)
	require.InDelta(t, 0, b.Returned, 1e-12)
	require.InDelta(t, 0.5, b.BurnedShare(), 1e-12)
	require.InDelta(t, 0, b.ReturnedShare(), 1e-12)

	b = trace(t, a, accels(t, 0, 3, [2]float64{1.5, -2})).Book
	require.InDelta(t, 18, b.Recovery.Offered, 1e-12)
	require.InDelta(t, 9, b.Recovery.Generated, 1e-12)
	require.InDelta(t, 1, b.Recovery.Burned, 1e-12)
	require.InDelta(t, 4, b.Returned, 1e-12)
	require.InDelta(t, 4./18, b.ReturnedShare(), 1e-12)

	// A weight of 10 N lowered by 1 m offers 10 J besides what inertia does; a force from
	// outside that drives counts too.
	a.Load = energy.Load{Mass: 10 / energy.StandardGravity, Incline: math.Pi / 2}
	b = trace(t, a, steady(t, -1, 1)).Book
	require.InDelta(t, 10, b.Recovery.Offered, 1e-12)
	a.Load.External = 5
	require.InDelta(t, 15, trace(t, a, steady(t, -1, 1)).Book.Recovery.Offered, 1e-12)
	require.Zero(t, energy.Book{}.ReturnedShare())
	require.Zero(t, energy.Book{}.BurnedShare())
}

// TestRecoveryOfADip: with s = t - 3 from -3 to 0, the speed s² + 1 of 1 kg against 0.8 N·s/m
// takes 0.8 (s + 2)(s + 1/2) N, which drives at both ends of the piece and brakes in its midst:
//
//	-∫ (0.8 s² + 2 s + 0.8)(s² + 1) ds from -2 to -1/2 = 1.20375 J
func TestRecoveryOfADip(t *testing.T) {
	for _, lossPerAmp := range []float64{0, 1} {
		a := energy.Axis{
			Load:      energy.Load{Mass: 1, Viscous: 0.8},
			Mechanism: energy.Belt{PitchDiameter: 0.2, Efficiency: 1},
			Motor:     lossless(t),
			Drive:     energy.Drive{LossPerAmp: lossPerAmp},
		}
		b := trace(t, a, jerks(t, profile.State{Speed: 10, Accel: -6}, segment{3, 2})).Book
		require.InDelta(t, 1.20375, b.Recovery.Generated, 1e-9, "%g W/A", lossPerAmp)
	}
}

// TestRecoveryOnlyShrinks: nothing on the way from the load to the bus gives energy.
func TestRecoveryOnlyShrinks(t *testing.T) {
	eachRandom(t, 2000, func(t *testing.T, seed uint64, a energy.Axis, m profile.Motion) {
		b := trace(t, a, m).Book
		tol := 1e-9 * b.Throughput()
		r := b.Recovery
		require.LessOrEqual(t, r.Generated, r.Offered+tol, "seed %d", seed)
		require.LessOrEqual(t, r.Burned+b.Returned, r.Generated+tol, "seed %d", seed)
		require.GreaterOrEqual(t, r.Burned, 0.0)
		for _, share := range []float64{b.ReturnedShare(), b.BurnedShare()} {
			require.True(t, share >= 0 && share <= 1)
		}
	})
}

// TestRecoveryAgainstSums holds the three integrals of a cut-off function against plain
// midpoint sums of the plain model; the tolerance is that of the sums.
func TestRecoveryAgainstSums(t *testing.T) {
	eachRandom(t, 60, func(t *testing.T, seed uint64, a energy.Axis, m profile.Motion) {
		tr := trace(t, a, m)
		var offered, generated, burned float64
		for i := range tr.BusPower.Pieces() {
			t0, t1, _ := tr.BusPower.Piece(i)
			const n = 400
			h := (t1 - t0) / n
			for k := range n {
				s := t0 + (float64(k)+0.5)*h
				at := atInstant(a, m.At(s), s)
				offered += at.offered * h
				generated += at.generated * h
				burned += at.burned * h
			}
		}
		r, tol := tr.Book.Recovery, 1e-3*tr.Book.Throughput()
		require.InDelta(t, offered, r.Offered, 1e-3*(offered+tol), "seed %d", seed)
		require.InDelta(t, generated, r.Generated, 1e-3*(generated+tol), "seed %d", seed)
		require.InDelta(t, burned, r.Burned, 3e-3*(generated+tol), "seed %d", seed)
	})
}

// TestStoredEnergyIsOffered: without a force from outside, a closed cycle without any loss
// offers all that it has drawn.
func TestStoredEnergyIsOffered(t *testing.T) {
	a := withoutLoss(t, beltAxis(t))
	a.Load.Incline = 0.3
	b := trace(t, a, sCurve(t, 0.5, 0.03, 0.07, 0.15)).Book
	requireNear(t, b.Recovery.Offered, b.Drawn-b.Potential, 1e-9, "offered")
	requireNear(t, b.Recovery.Offered, b.Returned, 1e-9, "returned")
}
