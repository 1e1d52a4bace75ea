package bus_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// Two ends in chain without capacitors on a stiff bus of 50 V: the balances of
// currents by hand.
func TestBalanceInChain(t *testing.T) {
	stiff := bus.Bus{Bank: bus.Bank{Capacitance: 0.1, RatedVoltage: 100}, Source: bus.SwitchMode{Voltage: 50, CurrentLimit: 200}}
	for _, tc := range []struct {
		name           string
		r1, r2, p1, p2 float64
		u1, u2         float64
		tol            float64
	}{
		// 200 W at the end of 1 ohm and of next to nothing: (50 + √(50² - 4·200))/2.
		{"a short feeder after a long one", 1, 1e-5, 0, 200, 25 + math.Sqrt(425), 25 + math.Sqrt(425), 1e-4},
		// The first end stands at 100 V: 5 A flow back through 10 ohm to the bus. The
		// second draws 1000 W from there: u (100 - u)/1 = 1000, and the first returns
		// 500 W and 100 V times what the second takes.
		{"returned power that lifts another end", 10, 1, -500 - 100*(50-math.Sqrt(1500)), 1000, 100, 50 + math.Sqrt(1500), 1e-9},
		// Nearly all that can be delivered: 625 W are 50²/(4·1).
		{"near the most", 0.5, 0.5, 0, 624.9, math.NaN(), 25 + math.Sqrt(0.1), 1e-9},
	} {
		n := bus.Network{Bus: stiff, Feeders: []bus.Feeder{{Resistance: tc.r1}, {Upstream: 1, Resistance: tc.r2}}}
		loads := []profile.Curve{{}, steps(t, []float64{0, 1e-3}, tc.p1), steps(t, []float64{0, 1e-3}, tc.p2)}
		r, err := n.Simulate(context.Background(), loads, bus.State{Voltage: 50})
		require.NoError(t, err, tc.name)
		require.False(t, r.Collapsed, tc.name)
		if !math.IsNaN(tc.u1) {
			near(t, tc.u1, r.Ends[0].Voltage.At(0), tc.tol, tc.name+": first end")
		}
		near(t, tc.u2, r.Ends[1].Voltage.At(0), tc.tol, tc.name+": second end")
	}
}

// Behind the bank's series resistance one supply's part of the characteristic may
// end where the other carries on: 30 A at up to 50 V beside a battery of 40 V and
// 10 mohm, a bank behind 1 ohm. 1900 W are 38 A at 50 V: the bank gives the rest
// for a time, then the bus jumps to where the battery conducts.
func TestNextSegmentCarriesOn(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.01, SeriesResistance: 1, RatedVoltage: 100},
		Source: bus.Parallel{bus.SwitchMode{Voltage: 50, CurrentLimit: 30}, bus.Battery{OpenCircuit: 40, Resistance: 0.01}},
	}
	r, err := b.Simulate(context.Background(), steps(t, []float64{0, 1}, 1900), bus.State{Voltage: 50})
	require.NoError(t, err)
	require.False(t, r.Collapsed, "%v", r.Events)
	// At the end the bank is at rest: V (30 + (40-V)/0.01) = 1900.
	v := (40.3 + math.Sqrt(40.3*40.3-4*0.01*1900)) / 2
	near(t, v, r.End.Voltage, 1e-6, "end")
	near(t, 0, r.Energies.Residual, 1e-9*r.Energies.Throughput(), "book")
}

// The same without the battery collapses.
func TestNoSegmentCarriesOn(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.01, SeriesResistance: 1, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 50, CurrentLimit: 30},
	}
	r, err := b.Simulate(context.Background(), steps(t, []float64{0, 1}, 1900), bus.State{Voltage: 50})
	require.NoError(t, err)
	assert.True(t, r.Collapsed)
}

// An output that folds back more steeply than the bank's series resistance can hold
// has no stable course below its set point: an end, not figures of no balance.
func TestSteepFoldback(t *testing.T) {
	for _, rs := range []float64{1.5, 3, 30} {
		b := bus.Bus{
			Bank:   bus.Bank{Capacitance: 0.01, SeriesResistance: rs, RatedVoltage: 100},
			Source: bus.SwitchMode{Voltage: 50, CurrentLimit: 20, Overload: bus.Foldback},
		}
		r, err := b.Simulate(context.Background(), steps(t, []float64{0, 0.1, 0.2, 1}, 500, 1100, 200), bus.State{Voltage: 50})
		require.NoError(t, err)
		if r.Voltage.Pieces() == 0 {
			continue
		}
		near(t, 0, r.Energies.Residual, 1e-9*(r.Energies.Throughput()+b.Bank.Energy(50)), "book")
		assert.Greater(t, r.Lowest.V, 0.0)
		assert.LessOrEqual(t, r.Highest.V, 50+1e-9)
	}
}

// More is returned than a clamp and a battery at their limits take while the bank
// is empty behind a large resistance: V (V/1 + 100 A) = 50 kW + 72 V·V/1 by hand.
func TestClampOutweighsTheBank(t *testing.T) {
	b := bus.Bus{
		Bank:  bus.Bank{Capacitance: 10, SeriesResistance: 1, RatedVoltage: 1000},
		Clamp: &bus.Clamp{Voltage: 80, Resistance: 0.01, CurrentLimit: 100},
	}
	r, err := b.Simulate(context.Background(), steps(t, []float64{0, 1e-6}, -50e3), bus.State{Voltage: 72})
	require.NoError(t, err)
	require.False(t, r.Collapsed)
	near(t, -14+math.Sqrt(14*14+50e3), r.Voltage.At(0), 1e-9, "bus")
}
