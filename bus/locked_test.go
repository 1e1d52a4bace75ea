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

// Two stations of +100 J and -80 J in pulses of half a second, one after the other, of
// one period. In phase the bus draws 200 J and returns 160 J; in antiphase what one
// returns feeds the other, and 20 J are drawn by each pulse of the other: the peak of
// 400 W falls to 40 W, and nothing is returned.
func TestLockAntiphase(t *testing.T) {
	pulse := steps(t, []float64{0, 0.5, 1}, 200, -160)
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.05, RatedVoltage: 120},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 4},
		Brakes: []bus.BrakeResistor{{Resistance: 10, OnVoltage: 80, OffVoltage: 77}},
	}
	stations := []bus.LockedStation{{Power: pulse}, {Power: pulse, Latest: 1}}
	lock := func(aim bus.Aim) *bus.Phasing {
		p, err := b.Lock(context.Background(), stations, aim)
		require.NoError(t, err)
		return p
	}
	p := lock(bus.LeastPeak)
	near(t, 400, p.Together, 1e-9, "in phase")
	near(t, 40, p.Value, 1e-9, "in antiphase")
	near(t, 0.5, p.Offsets[1], 1e-3, "offset")
	near(t, 400, p.Worst, 1e-9, "worst")
	assert.Zero(t, p.Offsets[0])

	p = lock(bus.LeastResistor)
	near(t, 0, p.Value, 1e-9, "nothing burned")
	assert.Greater(t, p.Together, 50.)
	assert.GreaterOrEqual(t, p.Worst, p.Together)

	p = lock(bus.LeastRise)
	near(t, 72, p.Value, 1e-6, "no rise")
	assert.Greater(t, p.Together, 79.9)

	p = lock(bus.LeastSag)
	near(t, 72, p.Value, 1e-6, "40 W are within the limit of 288 W")
	assert.Less(t, p.Together, 70.)

	// Within a range of 0.2 s some of it remains.
	stations[1].Latest = 0.2
	p = lock(bus.LeastResistor)
	assert.LessOrEqual(t, p.Offsets[1], 0.2)
	assert.Less(t, p.Value, p.Together)
}

// Cycles of 0.4 s and 0.6 s have one of 1.2 s in common.
func TestLockCommonCycle(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.01, RatedVoltage: 120}, Source: bus.Resistive{OpenCircuit: 72, Resistance: 0.5}}
	stations := []bus.LockedStation{
		{Power: steps(t, []float64{0, 0.1, 0.4}, 500, 0)},
		{Power: steps(t, []float64{0, 0.1, 0.6}, 500, 0), Latest: 0.6},
	}
	p, err := b.Lock(context.Background(), stations, bus.LeastPeak)
	require.NoError(t, err)
	near(t, 1000, p.Together, 1e-9, "together")
	near(t, 500, p.Value, 1e-9, "never together")
	first, second := stations[0].Power, stations[1].Power
	for k := range 1200 {
		at := (float64(k) + 0.37) * 1e-3
		a := first.At(math.Mod(at+0.4-p.Offsets[0], 0.4))
		z := second.At(math.Mod(at+0.6-p.Offsets[1], 0.6))
		assert.LessOrEqual(t, a+z, 500.)
	}

	stations[1].Power = steps(t, []float64{0, 0.1, math.Pi / 7}, 500, 0)
	_, err = b.Lock(context.Background(), stations, bus.LeastPeak)
	require.Error(t, err)
	assert.Equal(t, "stations", profile.InputErrors(err)[0].Path)
	_, err = b.Lock(context.Background(), stations[:1], bus.Aim(9))
	assert.Len(t, profile.InputErrors(err), 2)

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = b.Lock(ctx, []bus.LockedStation{stations[0], stations[0]}, bus.LeastSag)
	assert.ErrorIs(t, err, context.Canceled)
}

// Without cables a network is the bus; with cables the lowest voltage of the point where
// they begin follows from what they burn: two pulses of 100 W behind 1 ohm each on a source of
// 50 V and 0.5 ohm, apart or in phase.
func TestLockNetwork(t *testing.T) {
	ctx := context.Background()
	pulse := steps(t, []float64{0, 0.5, 2}, 100, 0)
	n := bus.Network{
		Bus:     bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, RatedVoltage: 100}, Source: bus.Resistive{OpenCircuit: 50, Resistance: 0.5}},
		Feeders: []bus.Feeder{{Resistance: 1}, {Resistance: 1}},
	}
	stations := []bus.Station{
		{Repeats: bus.Strictly, Axes: []bus.AxisCycle{{Feeder: 1, Power: pulse}}},
		{Repeats: bus.Strictly, Axes: []bus.AxisCycle{{Feeder: 2, Power: pulse}}},
	}
	p, err := n.Lock(ctx, stations, []bus.Delay{{}, {Latest: 2}}, bus.LeastSag)
	require.NoError(t, err)
	// Alone: u (50 - u)/1.5 = 100 gives u = 46.7944947 V, I = 2.13700352 A, V = 48.9314982 V.
	near(t, 48.9314982, p.Value, 1e-6, "apart")
	// Both: each end follows u (V - u) = 100 with V = 50 - 0.5·2 I, so 50 - u = 2 I: u = 45.6155281 V,
	// I = 2.19223594 A, V = 47.8077641 V.
	near(t, 47.8077641, p.Together, 1e-6, "in phase")
	near(t, 47.8077641, p.Worst, 1e-6, "worst")
	assert.Equal(t, 2., p.Common)
	if d := p.Offsets[1]; !(d >= 0.5-1e-6 && d <= 1.5+1e-6) {
		t.Errorf("offset %g s, want 0.5 s to 1.5 s", d)
	}

	n.Feeders = nil
	stations[0].Axes[0].Feeder, stations[1].Axes[0].Feeder = 0, 0
	network, err := n.Lock(ctx, stations, []bus.Delay{{}, {Latest: 2}}, bus.LeastRise)
	require.NoError(t, err)
	plain, err := n.Bus.Lock(ctx, []bus.LockedStation{{Power: pulse}, {Power: pulse, Latest: 2}}, bus.LeastRise)
	require.NoError(t, err)
	assert.Equal(t, plain, network)

	_, err = n.Lock(ctx, stations, []bus.Delay{{nan, 0}, {3, 2}, {}}, bus.Aim(-1))
	assert.Equal(t, []string{"delays", "delays[0].earliest", "delays[1].latest", "aim"}, paths(err))
	stations[0].Axes[0].Feeder = 1
	_, err = n.Lock(ctx, stations, []bus.Delay{{}, {}}, bus.LeastSag)
	assert.Equal(t, []string{"stations[0].axes[0].feeder"}, paths(err))
}
