package energy_test

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

func TestBookCloses(t *testing.T) {
	worst := 0.0
	eachRandom(t, 3000, func(t *testing.T, seed uint64, a energy.Axis, m profile.Motion) {
		b := trace(t, a, m).Book
		out := b.LoadWork + b.Kinetic + b.Potential + b.Counterbalance + b.LoadFriction + b.Transmission + b.MotorDrag + b.Copper + b.Drive + b.Standby
		require.InDelta(t, b.Drawn-b.Returned-out, b.Residual, 1e-14*b.Throughput(), "seed %d", seed)
		if off := math.Abs(b.Residual) / b.Throughput(); !(off <= 1e-9) {
			t.Errorf("seed %d: residual %g of %g J", seed, b.Residual, b.Throughput())
		} else {
			worst = math.Max(worst, off)
		}
		for _, e := range []struct {
			name string
			v    float64
		}{
			{"drawn", b.Drawn}, {"returned", b.Returned}, {"load friction", b.LoadFriction}, {"transmission", b.Transmission},
			{"motor drag", b.MotorDrag}, {"copper", b.Copper}, {"drive", b.Drive}, {"standby", b.Standby},
		} {
			if !(e.v >= 0) {
				t.Errorf("seed %d: %s = %g J", seed, e.name, e.v)
			}
		}
	})
	t.Logf("largest residual %.1e of throughput", worst)
}

// TestClosedCycleOnlyLoses: over a cycle that ends as it starts, the bus gives what
// the losses take, and at no instant does the shaft give more than the bus takes in.
func TestClosedCycleOnlyLoses(t *testing.T) {
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 2))
		a := anyAxis(t, r)
		a.Load.ExternalByTime = profile.Curve{} // it may do work in a closed cycle
		m := suited(t, a, closedMotion(t, r, profile.Motion{}))
		require.NoError(t, m.Closes())
		tr := trace(t, a, m)
		b := tr.Book
		losses := b.LoadFriction + b.Transmission + b.MotorDrag + b.Copper + b.Drive + b.Standby
		require.InDelta(t, losses, b.Drawn-b.Returned, 1e-9*b.Throughput(), "seed %d", seed)
		require.GreaterOrEqual(t, b.Drawn, b.Returned, "seed %d", seed)

		loss, err := profile.Sum(tr.BusPower, tr.ShaftPower.Scale(-1))
		require.NoError(t, err)
		require.GreaterOrEqual(t, loss.Min().V, -1e-9*math.Abs(tr.BusPower.AbsMax().V), "seed %d", seed)
	}
}

// TestLosslessMoveReturnsWhatItTook: started up and braked again the same way, an
// axis without friction and losses returns all.
func TestLosslessMoveReturnsWhatItTook(t *testing.T) {
	for seed := range uint64(100) {
		r := rand.New(rand.NewPCG(seed, 3))
		a := anyAxis(t, r)
		switch a.Mechanism.(type) {
		case energy.HoistDrum, energy.CrankSlider:
			continue // fall too fast for a rope; a crank meets the end positions elsewhere
		}
		if a.Load.Counterbalance.Stiffness != 0 {
			a.Load.Counterbalance.Stiffness = 0 // the two halves are elsewhere on the spring
		}
		a = withoutLoss(t, a)
		up := trace(t, a, jerks(t, profile.State{}, segment{0.1, 50}, segment{0.2, 0}, segment{0.1, -50}))
		v := 50 * 0.1 * 0.3
		down := trace(t, a, jerks(t, profile.State{Speed: v}, segment{0.1, -50}, segment{0.2, 0}, segment{0.1, 50}))
		// Down again the other way round in time and upwards in space, the weight does
		// the same work both times.
		scale := 1e-9 * (up.Book.Throughput() + down.Book.Throughput())
		require.InDelta(t, up.Book.Kinetic, -down.Book.Kinetic, scale, "seed %d", seed)
		require.InDelta(t, up.Book.Kinetic+up.Book.Potential+up.Book.Counterbalance, up.Book.Drawn-up.Book.Returned, scale, "seed %d", seed)

		// Backwards in time: what was drawn is returned, whatever the weight does.
		back := trace(t, a, jerks(t, profile.State{Position: 0.3, Speed: -v}, segment{0.1, 50}, segment{0.2, 0}, segment{0.1, -50}))
		require.InDelta(t, up.Book.Drawn, back.Book.Returned, scale, "seed %d", seed)
		require.InDelta(t, up.Book.Returned, back.Book.Drawn, scale, "seed %d", seed)
	}
}

// TestResidualShowsAJump: the residual is worked out, not assumed. A jump in speed of
// 5e-10, which a motion may have, leaves 1/2·4 kg·((1+5e-10)² - 1) = 2e-9 J that no
// torque has provided.
func TestResidualShowsAJump(t *testing.T) {
	a := energy.Axis{
		Load:      energy.Load{Mass: 4},
		Mechanism: energy.Belt{PitchDiameter: 0.1, Efficiency: 1},
		Motor:     lossless(t),
	}
	c, err := profile.NewCurve([]float64{0, 1, 2}, [][]float64{{0, 1}, {1, 1 + 5e-10}})
	require.NoError(t, err)
	m, err := profile.NewMotion(c)
	require.NoError(t, err)
	require.InDelta(t, -2e-9, trace(t, a, m).Book.Residual, 1e-14)
}

func TestThroughput(t *testing.T) {
	b := energy.Book{Counterbalance: -2048, Drawn: 1, Returned: 2, LoadWork: -4, Kinetic: -8, Potential: -16, LoadFriction: 32, Transmission: 64,
		MotorDrag: 128, Copper: 256, Drive: 512, Standby: 1024, Residual: 1e6}
	require.Equal(t, 4095.0, b.Throughput())
}

// TestBookAdd gives every entry of two books a number of its own.
func TestBookAdd(t *testing.T) {
	var a, b, want energy.Book
	n := 0.0
	var fill func(a, b, want reflect.Value)
	fill = func(a, b, want reflect.Value) {
		for i := range a.NumField() {
			if a.Field(i).Kind() == reflect.Struct {
				fill(a.Field(i), b.Field(i), want.Field(i))
				continue
			}
			n++
			a.Field(i).SetFloat(n)
			b.Field(i).SetFloat(1000 * n)
			want.Field(i).SetFloat(1001 * n)
		}
	}
	fill(reflect.ValueOf(&a).Elem(), reflect.ValueOf(&b).Elem(), reflect.ValueOf(&want).Elem())
	require.Equal(t, want, a.Add(b))
	require.GreaterOrEqual(t, n, 16.0)
}
