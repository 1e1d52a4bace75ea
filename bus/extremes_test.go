package bus_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

// The extremes are those of the curves that the simulation returns: of networks of every
// kind, those that collapse and trip too. The simulation follows how the bank is filled
// step by step with steps good to 1e-13, the extremes leap over it, and their steps are good to
// 1e-10 of the scale of the voltages.
func TestExtremes(t *testing.T) {
	random := rand.New(rand.NewPCG(33, 34))
	collapsed, tripped, dipped, steps := 0, 0, 0, 0
	for k := range 400 {
		n, loads := randomNetwork(random)
		start := bus.State{Voltage: n.Source.NoLoadVoltage() * between(random, 0.95, 1.02)}
		r, err := n.Simulate(context.Background(), loads, start)
		e, other := n.Extremes(context.Background(), loads, start)
		if err != nil {
			require.EqualError(t, other, err.Error(), "network %d", k)
			continue
		}
		require.NoError(t, other, "network %d", k)
		want := bus.Extremes{Lowest: r.Lowest.V, Highest: r.Highest.V, Load: r.Load.Max().V, Collapsed: r.Collapsed, Steps: e.Steps}
		for _, end := range r.Ends {
			want.Lowest, want.Highest = math.Min(want.Lowest, end.Lowest.V), math.Max(want.Highest, end.Highest.V)
		}
		near := func(want, got float64) float64 {
			if math.Abs(got-want) <= 1e-9*math.Abs(want) { // steps are longer
				return want
			}
			return got
		}
		got := bus.Extremes{Lowest: near(want.Lowest, e.Lowest), Highest: near(want.Highest, e.Highest), Load: near(want.Load, e.Load), Collapsed: e.Collapsed, Steps: e.Steps}
		require.Equal(t, want, got, "network %d: %+v", k, n)
		steps += e.Steps - r.Steps
		if r.Collapsed {
			collapsed++
		}
		if len(times(&r.Result, bus.LoadsOff)) > 0 {
			tripped++
		}
		if r.Voltage.Pieces() > 0 && e.Lowest < 0.5*n.Source.NoLoadVoltage() {
			dipped++
		}
	}
	t.Logf("%d collapsed, %d tripped, %d went below half of the voltage", collapsed, tripped, dipped)
	require.Negative(t, steps, "in all it takes less")
	require.Greater(t, collapsed, 5)
	require.Greater(t, tripped, 20)
	require.Greater(t, dipped, 5)

	_, err := bus.Network{}.Extremes(context.Background(), nil, bus.State{})
	require.Error(t, err)
}
