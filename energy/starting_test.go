package energy_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// starts is Axis.Starts that fails the test on error.
func starts(t testing.TB, a energy.Axis, m profile.Motion) []energy.Start {
	t.Helper()
	s, err := a.Starts(m)
	require.NoError(t, err)
	return s
}

// TestStartsByHand: 10 kg, 98.0665 N, on a rack with a pinion of radius 0.05 m, 80 %
// upwards and 75 % downwards, drag 0.1 N·m, pinion 0.01 kg·m²; 10 N dry, 30 N static
// friction; gear 4:1 of 90 % and, downwards, 2 - 1/0.9 = 8/9, drag 0.02 N·m; motor
// 0.001 kg·m², so 80 rad/m, and 0.03 N·m.
//
//	upwards at 2 m/s²
//	  rack   20 + 98.0665 + 30 = 148.0665 N;  · 0.05/0.8 + 0.01·40 + 0.1 = 9.75415625 N·m
//	  shaft  9.75415625/(4·0.9) + 0.02 + 0.001·160 = 2.889487847222 N·m
//	downwards at 2 m/s²
//	  rack   -20 + 98.0665 - 30 = 48.0665 N;  · 0.05·0.75 - 0.4 - 0.1 = 1.30249375 N·m
//	  shaft  1.30249375/4 · 8/9 - 0.02 - 0.16 = 0.109443055556 N·m
func TestStartsByHand(t *testing.T) {
	a := energy.Axis{
		Load:      energy.Load{Mass: 10, Incline: math.Pi / 2, Coulomb: 10, Viscous: 40, Breakaway: 30},
		Mechanism: energy.RackPinion{PitchDiameter: 0.1, Efficiency: 0.8, Inertia: 0.01, Drag: 0.1},
		Stages:    []energy.Stage{{Ratio: 4, Efficiency: 0.9, Drag: 0.02}},
		Motor:     lossless(t),
	}
	a.Motor.RotorInertia, a.Motor.DragTorque, a.Motor.DragPerSpeed = 0.001, 0.03, 0.01
	m := accels(t, 0.2, 0, [2]float64{0.5, 2}, [2]float64{1, -2}, [2]float64{0.5, 2})
	s := starts(t, a, m)
	require.Len(t, s, 2)
	require.InDelta(t, 0, s[0].Time, 0)
	require.InDelta(t, 0.2, s[0].Position, 1e-15)
	require.InDelta(t, 2, s[0].Accel, 1e-15)
	require.InDelta(t, 1, s[0].Direction, 0)
	require.InDelta(t, 2.889487847222, s[0].RatedTorque, 1e-11)
	require.InDelta(t, 2.919487847222, s[0].Torque, 1e-11)
	require.InDelta(t, 1, s[1].Time, 1e-12)
	require.InDelta(t, 0.7, s[1].Position, 1e-12)
	require.InDelta(t, -1, s[1].Direction, 0)
	require.InDelta(t, 0.109443055556, s[1].RatedTorque, 1e-11)
	require.InDelta(t, 0.079443055556, s[1].Torque, 1e-11)
}

// TestWhereMotionsStart counts the starts of motions and their directions.
func TestWhereMotionsStart(t *testing.T) {
	a := beltAxis(t)
	move := sCurve(t, 0.3, 0.02, 0.05, 0.1)
	wait, err := profile.Dwell(0.3, 0.2)
	require.NoError(t, err)
	again, err := profile.NewMotion(shifted(t, move.Position(), 0.3))
	require.NoError(t, err)
	back, err := profile.NewMotion(shifted(t, move.Position().Scale(-1), 0.6))
	require.NoError(t, err)
	sequence, err := profile.Sequence(move, wait, again, back)
	require.NoError(t, err)
	d := move.Duration()
	moving := profile.State{Speed: 1}
	for _, tc := range []struct {
		name   string
		m      profile.Motion
		times  []float64
		toward []float64
	}{
		{"nothing", profile.Motion{}, nil, nil},
		{"a dwell", wait, nil, nil},
		{"a move", move, []float64{0}, []float64{1}},
		{"moves with and without a dwell", sequence, []float64{0, d + 0.2, 2*d + 0.2}, []float64{1, 1, -1}},
		{"on the move", steady(t, 1, 1), nil, nil},
		{"a reversal inside a piece", jerks(t, moving, segment{2, -1}), []float64{math.Sqrt2}, []float64{-1}},
		{"a piece that touches standstill", jerks(t, profile.State{Speed: 0.125, Accel: -0.5}, segment{1, 1}), []float64{0.5}, []float64{1}},
		{"two reversals in a piece", jerks(t, profile.State{Speed: 0.09, Accel: -0.5}, segment{1, 1}),
			[]float64{0.5 - math.Sqrt(0.07), 0.5 + math.Sqrt(0.07)}, []float64{-1, 1}},
		{"to rest and no further", accels(t, 0, 1, [2]float64{1, -1}), nil, nil},
		{"to rest and back", accels(t, 0, 1, [2]float64{1, -1}, [2]float64{1, -1}), []float64{1}, []float64{-1}},
		{"on after a dwell, with a jump that rounding explains", jumping(t, 1, 1e-9), []float64{2}, []float64{1}},
		{"to rest and on", accels(t, 0, 1, [2]float64{1, -1}, [2]float64{1, 1}), []float64{1}, []float64{1}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got := starts(t, a, tc.m)
			require.Len(t, got, len(tc.times))
			for i, s := range got {
				require.InDelta(t, tc.times[i], s.Time, 1e-9)
				require.InDelta(t, tc.m.At(s.Time).Position, s.Position, 1e-9)
				require.InDelta(t, tc.toward[i], s.Direction, 0)
			}
		})
	}
}

// jumping returns a motion that comes to rest from a speed, waits, and goes on at once at
// another [m/s].
func jumping(t testing.TB, from, to float64) profile.Motion {
	t.Helper()
	c, err := profile.NewCurve([]float64{0, 1, 2, 3}, [][]float64{{0, from, -from / 2}, {from / 2}, {from / 2, to, from}})
	require.NoError(t, err)
	m, err := profile.NewMotion(c)
	require.NoError(t, err)
	return m
}

// shifted returns a curve moved up by an offset.
func shifted(t testing.TB, c profile.Curve, offset float64) profile.Curve {
	t.Helper()
	k, err := profile.Constant(offset, c.Start(), c.End())
	require.NoError(t, err)
	c, err = profile.Sum(c, k)
	require.NoError(t, err)
	return c
}

// TestStartsAgainstThePlainModel: a start is what the plain model makes of a creep with the
// static friction in place of the dry one, and without an acceleration it is what Holding says.
func TestStartsAgainstThePlainModel(t *testing.T) {
	count := 0
	eachRandom(t, 1500, func(t *testing.T, seed uint64, a energy.Axis, m profile.Motion) {
		got, err := a.Starts(m)
		if err != nil {
			require.IsType(t, energy.HoistDrum{}, a.Mechanism, "seed %d: %v", seed, err)
			return
		}
		for _, s := range got {
			count++
			rough := a
			if b := a.Load.Breakaway; b > 0 {
				rough.Load.Coulomb, rough.Load.Plus.Coulomb, rough.Load.Minus.Coulomb = b, 0, 0
			}
			creep := profile.State{Position: s.Position, Speed: 1e-30 * s.Direction, Accel: s.Accel}
			want := atInstant(rough, creep, s.Time)
			tol := 1e-9 * (math.Abs(want.torque) + math.Abs(s.Torque) + 1e-3)
			require.InDelta(t, want.torque, s.Torque, tol, "seed %d", seed)
			require.InDelta(t, want.rated, s.RatedTorque, tol, "seed %d", seed)
			if s.Accel == 0 {
				h := holding(t, a, s.Position, s.Time)
				require.InDelta(t, map[float64]float64{1: h.BreakPlus, -1: h.BreakMinus}[s.Direction], s.Torque, tol, "seed %d", seed)
			}
		}
	})
	require.Greater(t, count, 1500)
}

// TestStartsAreNotBelowTheTrace: static friction is at least the dry one, so a start takes at
// least the torque that the trace has from then on. A self-locking stage is left out: there a
// friction of the load takes force off the thread and with it more friction than it brings.
func TestStartsAreNotBelowTheTrace(t *testing.T) {
	count := 0
	for seed := range uint64(1500) {
		r := rand.New(rand.NewPCG(seed, 12))
		a := randomAxis(t, r)
		anyForces(t, r, &a)
		a.Load.ExternalByPosition, a.Load.ExternalByTime = energy.ForceTable{}, profile.Curve{}
		switch m := a.Mechanism.(type) {
		case energy.Screw:
			m.BackEfficiency = r.Float64()
			a.Mechanism = m
		case energy.Belt:
			m.BackEfficiency = r.Float64()
			a.Mechanism = m
		case energy.Rotary:
			m.BackEfficiency = r.Float64()
			a.Mechanism = m
		}
		for i := range a.Stages {
			a.Stages[i].BackEfficiency = r.Float64()
		}
		m := randomMotion(t, r)
		tr := trace(t, a, m)
		for _, s := range starts(t, a, m) {
			count++
			i := 0
			for i < tr.Torque.Pieces()-1 {
				if _, t1, _ := tr.Torque.Piece(i); t1 > s.Time+1e-9*m.Duration() {
					break
				}
				i++
			}
			t0, _, c := tr.Torque.Piece(i)
			traced, now := 0.0, s.Time-t0
			for k := len(c) - 1; k >= 0; k-- {
				traced = traced*now + c[k]
			}
			require.GreaterOrEqual(t, s.Direction*(s.Torque-traced), -1e-6*math.Abs(tr.Torque.AbsMax().V), "seed %d at %g s", seed, s.Time)
		}
	}
	require.Greater(t, count, 1500)
}

// TestStartsAtSteps: the force on the side where the motion goes counts, against position and
// against time; friction of the direction to come, without a static one.
func TestStartsAtSteps(t *testing.T) {
	a := energy.Axis{
		Load: energy.Load{Mass: 1, Plus: energy.Friction{Coulomb: 3}, Minus: energy.Friction{Coulomb: 5},
			ExternalByPosition: energy.ForceTable{Position: []float64{0, 0.3, 0.3, 1}, Force: []float64{10, 10, 20, 20}}},
		Mechanism: energy.Direct{},
		Motor:     lossless(t),
	}
	for _, tc := range []struct{ to, want float64 }{{1, 20 + 3}, {-1, 10 - 5}} {
		// 0.3 is reached by a sum that rounding may take to either side of it.
		position := shifted(t, sCurve(t, 0.1*tc.to, 0.02, 0.05, 0.1).Position(), 0.1+0.2)
		m, err := profile.NewMotion(position)
		require.NoError(t, err)
		s := starts(t, a, m)
		require.Len(t, s, 1)
		require.InDelta(t, tc.want, s[0].Torque, 1e-12)
	}
	a.Load.ExternalByPosition = energy.ForceTable{}
	force, err := profile.NewCurve([]float64{0, 1, 2}, [][]float64{{7}, {11}})
	require.NoError(t, err)
	a.Load.ExternalByTime = force
	s := starts(t, a, accels(t, 0, 1, [2]float64{2, -1}, [2]float64{2, 1}, [2]float64{1, 1}))
	require.Len(t, s, 2)
	require.InDelta(t, 11-1-5, s[0].Torque, 1e-12, "reversal at 1 s")
	require.InDelta(t, 1+3, s[1].Torque, 1e-12, "reversal at 3 s, after the curve has ended")
}

func TestStartsRefuse(t *testing.T) {
	a := beltAxis(t)
	m := sCurve(t, 0.5, 0.03, 0.07, 0.15)
	broken := a
	broken.Load.Mass = math.NaN()
	_, err := broken.Starts(m)
	requirePaths(t, err, "load.mass")

	c := make([]float64, 9)
	c[8] = 1
	curve, err := profile.NewCurve([]float64{0, 1}, [][]float64{c})
	require.NoError(t, err)
	steep, err := profile.NewMotion(curve)
	require.NoError(t, err)
	_, err = a.Starts(steep)
	requirePaths(t, err, "motion")

	// 98 N hang on the rope; 200 N of static friction keep them up while it is paid out.
	a.Mechanism, a.Stages = energy.HoistDrum{Diameter: 0.2, Falls: 1, Efficiency: 0.9}, nil
	a.Load = energy.Load{Mass: 10, Breakaway: 200}
	_, err = a.Starts(sCurve(t, -0.5, 0.03, 0.07, 0.15))
	requirePaths(t, err, "motion")
	require.ErrorContains(t, err, "slack")
	up := starts(t, a, m)
	require.Len(t, up, 1)
	require.InDelta(t, (98.0665+200)*0.1/0.9+0.02, up[0].Torque, 1e-9)

	huge, err := profile.NewMotion(m.Position().Scale(1e300))
	require.NoError(t, err)
	a = beltAxis(t)
	a.Stages[0].Ratio, a.Motor.RotorInertia = 1e9, 1
	s, err := a.Starts(huge)
	for _, s := range s {
		require.False(t, math.IsNaN(s.Torque) || math.IsInf(s.Torque, 0))
	}
	if err != nil {
		requirePaths(t, err, "motion")
	}
}
