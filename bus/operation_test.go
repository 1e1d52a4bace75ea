package bus_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// A resistor that works across the end of the repeated cycle works once, not twice:
// the same cycle begun elsewhere says the same.
func TestOperationAcrossTheCycle(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 20},
		Brakes: []bus.BrakeResistor{{Resistance: 5, OnVoltage: 82, OffVoltage: 74}},
	}
	within, err := b.SettledCycle(context.Background(), steps(t, []float64{0, 0.4, 0.7, 1}, 300, -1000, 300))
	require.NoError(t, err)
	across, err := b.SettledCycle(context.Background(), steps(t, []float64{0, 0.15, 0.85, 1}, -1000, 300, -1000))
	require.NoError(t, err)
	require.True(t, within.Repeats && across.Repeats)
	require.True(t, across.Start.BrakeOn)
	near(t, within.Brakes[0].Energy, across.Brakes[0].Energy, 1e-9*within.Brakes[0].Energy, "energy")
	near(t, within.Brakes[0].Highest, across.Brakes[0].Highest, 1e-9*within.Brakes[0].Energy, "largest operation")
	assert.Equal(t, within.Brakes[0].Times, across.Brakes[0].Times)
}

// Two batteries side by side: what the one takes from the other is delivered and
// accepted, whatever they do together. 50 V and 48 V behind 0.1 ohm each meet at
// 49 V with 10 A.
func TestBatteriesAgainstEachOther(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.01, RatedVoltage: 100},
		Source: bus.Parallel{bus.Battery{OpenCircuit: 50, Resistance: 0.1, ChargeLimit: 20}, bus.Battery{OpenCircuit: 48, Resistance: 0.1, ChargeLimit: 20}},
	}
	r := simulate(t, b, steps(t, []float64{0, 10}, 0), 49)
	near(t, 4900, r.Energies.Source, 1e-6, "delivered")
	near(t, 4900, r.Energies.Accepted, 1e-6, "accepted")
	near(t, 4900, r.Supplies[0].Energy, 1e-6, "first battery")
	near(t, 0, r.Supplies[1].Energy, 1e-6, "second battery")
	near(t, 0, r.Energies.Residual, 1e-6, "book")
}

// Drives that trip and are released do not settle: the cycle in which they trip is
// what there is to see, not the dead bus of the cycles after it.
func TestTripDoesNotSettle(t *testing.T) {
	b := bus.Bus{
		Bank:         bus.Bank{Capacitance: 0.01, RatedVoltage: 100},
		Source:       bus.SwitchMode{Voltage: 50, CurrentLimit: 8},
		UnderVoltage: 45, TripsRelease: true,
	}
	s, err := b.SettledCycle(context.Background(), steps(t, []float64{0, 0.5, 1}, 100, 1000))
	require.NoError(t, err)
	assert.False(t, s.Repeats)
	assert.Equal(t, 1, s.Cycles)
	assert.Contains(t, kinds(s.Result), bus.LoadsOff)
	near(t, 45, s.Lowest.V, 1e-9, "lowest")
}

// Drives are not switched on again while the bus is above their limit: a source of
// 100 V trips those for 90 V for good, at once and once.
func TestNoRestartAboveTheLimit(t *testing.T) {
	b := bus.Bus{
		Bank:        bus.Bank{Capacitance: 0.01, RatedVoltage: 200},
		Source:      bus.SwitchMode{Voltage: 100, CurrentLimit: 10},
		OverVoltage: 90,
	}
	s := begin(t, b, bus.StartUp{Ready: 85, Load: 50, TurnOn: 60, Patience: 1})
	assert.Equal(t, 1, s.Interrupted)
	assert.Len(t, times(s.Result, bus.LoadsOn), 1)
	near(t, 0, s.Load.At(0.9), 0, "load after the trip")
}

// A supply that folds back to nothing delivers nothing into an empty bank.
func TestFoldedBackFromEmpty(t *testing.T) {
	for _, rs := range []float64{0, 0.01} {
		b := bus.Bus{
			Bank:   bus.Bank{Capacitance: 0.01, SeriesResistance: rs, RatedVoltage: 100},
			Source: bus.SwitchMode{Voltage: 50, CurrentLimit: 10, Overload: bus.Foldback},
		}
		s := begin(t, b, bus.StartUp{Ready: 45, Patience: 1})
		assert.False(t, s.Reached)
		assert.Equal(t, "after 1 s the bus is at 0 V", s.Reason)
	}
}

// What a simulation carries on: cut in two anywhere, everything with memory gives
// the same as in one.
func TestCarriedOn(t *testing.T) {
	n := bus.Network{
		Bus: bus.Bus{
			Bank: bus.Bank{Capacitance: 0.05, RatedVoltage: 100},
			Source: bus.Parallel{
				bus.SwitchMode{Voltage: 50, CurrentLimit: 6, PeakCurrent: 9, PeakTime: 0.05, PeakRecovery: 0.4},
				bus.SwitchMode{Voltage: 49, CurrentLimit: 4, Overload: bus.Hiccup, Endurance: 0.06, Pause: 0.05, OverVoltage: 55, OverVoltagePause: 0.03},
			},
			Brakes: []bus.BrakeResistor{
				{Resistance: 10, OnVoltage: 54, OffVoltage: 52, Delay: 7e-3},
				{Resistance: 8, OnVoltage: 58, OffVoltage: 53, Delay: 3e-3},
			},
		},
		Feeders: []bus.Feeder{{Resistance: 0.1, Capacitance: 1e-3}, {Upstream: 1, Resistance: 0.05, Capacitance: 2e-3}},
	}
	load := steps(t, []float64{0, 0.1, 0.3, 0.4, 0.6, 0.7, 1}, 100, 520, -300, 400, -500, 150)
	loads := func(from, to float64) []profile.Curve {
		l, err := load.Slice(from, to)
		require.NoError(t, err)
		return []profile.Curve{{}, l.Scale(0.5), l.Scale(0.5)}
	}
	whole := simulateNetwork(t, n, loads(0, 1), 50)
	require.False(t, whole.Collapsed)
	for _, kind := range []bus.EventKind{bus.PeakUsedUp, bus.PeakAvailable, bus.SupplyShutsDown, bus.SupplyOverVoltage, bus.SupplyRestarts, bus.BrakeOn} {
		assert.NotEmpty(t, times(&whole.Result, kind), kind.String())
	}
	for _, cut := range []float64{0.13, 0.19, 0.22, 0.31, 0.315, 0.45, 0.61, 0.62, 0.8} {
		first := simulateNetwork(t, n, loads(0, cut), 50)
		second, err := n.Simulate(context.Background(), loads(cut, 1), first.End)
		require.NoError(t, err)
		near(t, whole.End.Voltage, second.End.Voltage, 1e-8, "end")
		near(t, whole.Energies.Source, first.Energies.Source+second.Energies.Source, 1e-6, "source")
		near(t, whole.Energies.Resistor, first.Energies.Resistor+second.Energies.Resistor, 1e-6, "resistors")
	}
}
