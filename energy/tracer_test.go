package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// TestTracer: in memory that other axes and motions have used the traces are those of
// Axis.Trace, to the last digit; an error in between spoils nothing.
func TestTracer(t *testing.T) {
	var tracer energy.Tracer
	eachRandom(t, 1000, func(t *testing.T, seed uint64, a energy.Axis, m profile.Motion) {
		if seed%7 == 0 {
			broken := a
			broken.Load.Coulomb = math.NaN()
			_, err := tracer.Trace(broken, m)
			requirePaths(t, err, "load.coulomb")
		}
		got, err := tracer.Trace(a, m)
		require.NoError(t, err, "seed %d", seed)
		require.Equal(t, trace(t, a, m), got, "seed %d", seed)
		require.Equal(t, m.Duration(), got.BusPower.End(), "seed %d: no rounding of the end", seed)
	})
	got, err := tracer.Trace(beltAxis(t), profile.Motion{})
	require.NoError(t, err)
	require.Equal(t, energy.Trace{}, got)
}

// TestTracerAllocatesNothing once it has the memory, whatever the axis.
func TestTracerAllocatesNothing(t *testing.T) {
	m := sCurve(t, 0.5, 0.03, 0.07, 0.15)
	belt, forces, crank, drag := beltAxis(t), beltAxis(t), beltAxis(t), beltAxis(t)
	forces.Load.ExternalByPosition = energy.ForceTable{Position: []float64{0.1, 0.2, 0.4}, Force: []float64{0, 50, 10}}
	forces.Load.Counterbalance.Stiffness = 30
	crank.Mechanism = energy.CrankSlider{Radius: 0.08, Rod: 0.3, Efficiency: 0.96}
	drag.Motor.DragPerSpeedSquared = 1e-7
	for name, a := range map[string]energy.Axis{"belt": belt, "forces": forces, "crank": crank, "drag": drag} {
		var tracer energy.Tracer
		once := func() {
			if _, err := tracer.Trace(a, m); err != nil {
				t.Fatal(err)
			}
		}
		once()
		require.Zero(t, testing.AllocsPerRun(20, once), name)
	}
}
