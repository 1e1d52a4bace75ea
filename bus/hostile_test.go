package bus_test

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// A bus that settles within microseconds: the steps are short, the answer is
// right or the budget says that it would take too long.
func TestStiff(t *testing.T) {
	load := steps(t, []float64{0, 0.05, 0.1}, 500, 100)
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 100e-6, RatedVoltage: 100},
		Source: bus.Resistive{OpenCircuit: 72, Resistance: 0.01}, // R C = 1 µs
	}
	r := simulate(t, b, load, 72)
	// It follows V² - 72 V + R P = 0.
	near(t, 36+math.Sqrt(36*36-0.01*500), r.Voltage.At(0.04), 1e-9, "first load")
	near(t, 36+math.Sqrt(36*36-0.01*100), r.Voltage.At(0.09), 1e-9, "second load")
	near(t, 0, r.Energies.Residual, 1e-9*r.Energies.Throughput(), "residual")

	b.Source = bus.Resistive{OpenCircuit: 72, Resistance: 1e-3}
	b.Bank.Capacitance = 1e-8 // 10 ps
	r = simulate(t, b, load, 72)
	near(t, 36+math.Sqrt(36*36-1e-3*100), r.Voltage.At(0.09), 1e-9, "at rest it is not stiff")
	near(t, 0, r.Energies.Residual, 1e-9*r.Energies.Throughput(), "residual")
	_, err := b.Simulate(context.Background(), curve(t, []float64{0, 0.1}, []float64{0, 5000}), bus.State{Voltage: 72})
	assert.ErrorIs(t, err, bus.ErrBudget, "under a ramp the steps stay short")

	// A regulated source on a bank of small time constant is not stiff once charged.
	b = bus.Bus{
		Bank:   bus.Bank{Capacitance: 1e-3, SeriesResistance: 1e-6, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 20},
	}
	r = simulate(t, b, load, 71.9)
	near(t, 72, r.End.Voltage, 1e-9, "charged")
	assert.Less(t, r.Steps, 500)
	near(t, 0, r.Energies.Residual, 1e-9*r.Energies.Throughput(), "residual")
}

// Series resistance so small that it makes no difference makes none.
func TestVanishingSeriesResistance(t *testing.T) {
	m := benchBus(0)
	load := station(t, 1)
	want := simulate(t, m, load, 72)
	for _, rs := range []float64{1e-4, 1e-5, 1e-6, 1e-7} {
		m.Bank.SeriesResistance = rs
		got := simulate(t, m, load, 72)
		near(t, want.Lowest.V, got.Lowest.V, 20*rs*10, "lowest")
		near(t, want.Highest.V, got.Highest.V, 20*rs*10, "highest")
		near(t, 0, got.Energies.Residual, 1e-9*got.Energies.Throughput(), "residual")
	}
}

// A bank behind a resistance a million times that of the source charges with a
// current that is far below what rounding leaves of a short-circuit current of
// 1e5 A.
func TestUnequalResistances(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 1e-6, SeriesResistance: 1000, RatedVoltage: 100},
		Source: bus.Resistive{OpenCircuit: 100, Resistance: 1e-3},
	}
	r := simulate(t, b, steps(t, []float64{0, 0.004}, 0), 50)
	for k := range 20 {
		s := 0.004 * float64(k) / 20
		near(t, 50/1000.001*math.Exp(-s/1.000001e-3), r.SourceCurrent.At(s), 1e-14, "charging current")
	}
}

// More than the source can ever carry: a collapse is reported, by simulation and
// settled cycle, and no bound is given.
func TestTooMuchLoad(t *testing.T) {
	load := steps(t, []float64{0, 0.1, 1}, 100, 5000)
	for _, source := range []bus.Source{
		bus.Resistive{OpenCircuit: 72, Resistance: 0.5}, // 2592 W at most
		bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
	} {
		for _, rs := range []float64{0, 0.05} {
			b := bus.Bus{Bank: bus.Bank{Capacitance: 0.02, SeriesResistance: rs, RatedVoltage: 100}, Source: source}
			r := simulate(t, b, load, 72)
			assert.True(t, r.Collapsed)
			assert.Greater(t, r.Voltage.End(), 0.1)
			assert.Less(t, r.Voltage.End(), 0.2)
			s, err := b.SettledCycle(context.Background(), load)
			require.NoError(t, err)
			assert.True(t, s.Collapsed)
			g := anyPhase(t, b, load)
			assert.False(t, g.Sag.Exists)
			assert.NotEmpty(t, g.Sag.Reason)
			assert.True(t, g.Rise.Exists)
		}
	}
}

// Hysteresis next to nothing switches often and ends; a resistor that pulls the
// bus below its off threshold at once has no end, and says so.
func TestFastSwitching(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.01, RatedVoltage: 120},
		Brakes: []bus.BrakeResistor{{Resistance: 5, OnVoltage: 80, OffVoltage: 79.99}},
	}
	r := simulate(t, b, steps(t, []float64{0, 0.1}, -600), 80)
	assert.Greater(t, len(r.Events), 1000)
	assert.LessOrEqual(t, r.Highest.V, 80+1e-9)
	near(t, 0, r.Energies.Residual, 1e-9*r.Energies.Throughput(), "residual")

	b.Brakes[0].OffVoltage = math.Nextafter(80, 0)
	_, err := b.SimulateWithin(context.Background(), steps(t, []float64{0, 0.1}, -600), bus.State{Voltage: 80}, 3000)
	assert.ErrorIs(t, err, bus.ErrBudget)

	// A drawn power adds to the resistor's drop across the series resistance, so
	// that within the limits of Validate the bus may find no place between the
	// thresholds. At 80.8 V of the bank and 150 W the bus is above 79.8 V without
	// the resistor and below 72.7 V with it.
	b = bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.05, SeriesResistance: 0.5, RatedVoltage: 120},
		Brakes: []bus.BrakeResistor{{Resistance: 5, OnVoltage: 79.8, OffVoltage: 72.5}},
	}
	require.NoError(t, b.Validate())
	_, err = b.SimulateWithin(context.Background(), steps(t, []float64{0, 0.1}, 150), bus.State{Voltage: 80.8}, 3000)
	assert.ErrorIs(t, err, bus.ErrBudget)
}

// Long computations stop soon after their context.
func TestCancelled(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 100e-6, RatedVoltage: 100},
		Source: bus.Resistive{OpenCircuit: 72, Resistance: 0.01},
	}
	load := curve(t, []float64{0, 1000}, []float64{100, 1})
	after := func(name string, f func(ctx context.Context) error) {
		ctx, cancel := context.WithCancel(context.Background())
		stopped := make(chan time.Time, 1)
		go func() {
			time.Sleep(5 * time.Millisecond)
			stopped <- time.Now()
			cancel()
		}()
		err := f(ctx)
		cancel()
		assert.ErrorIs(t, err, context.Canceled, name)
		t.Logf("%s stopped %v after its context", name, time.Since(<-stopped))
	}
	after("simulation", func(ctx context.Context) error {
		_, err := b.Simulate(ctx, load, bus.State{Voltage: 60})
		return err
	})
	after("settled cycle", func(ctx context.Context) error {
		_, err := b.SettledCycle(ctx, load)
		return err
	})
	after("bounds", func(ctx context.Context) error {
		_, err := b.AnyPhase(ctx, bus.StrictlyPeriodic([]profile.Curve{load, steps(t, []float64{0, 400, 900}, 100, 20)}), nil)
		return err
	})
}

// A supply's current passes its limit so steeply that a tick of the clock is more
// than its rounding: it is to pass once, not to and fro at one instant. The load falls
// from 1000 W to 500 W and rises again, late in the day.
func TestSteepPassage(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.05, RatedVoltage: 600},
		Source: bus.SwitchMode{Voltage: 279, CurrentLimit: 3, PeakCurrent: 5, PeakTime: 1, PeakRecovery: 1},
	}
	for _, rate := range []float64{1e4, 3e4, 1e5, 3e5, 1e6, 5e6} {
		for _, start := range []float64{7, 80, 900, 86400} {
			load := curve(t, []float64{start, start + 500/rate, start + 1000/rate}, []float64{1000, -rate}, []float64{500, rate})
			r, err := b.SimulateWithin(context.Background(), load, bus.State{Voltage: 279}, 100)
			require.NoError(t, err, "%g W/s at %g s", rate, start)
			near(t, 279, r.End.Voltage, 1e-9, "end")
		}
	}
}
