package bus_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

func settle(t testing.TB, b bus.Bus, load profile.Curve) *bus.Settled {
	t.Helper()
	s, err := b.SettledCycle(context.Background(), load)
	require.NoError(t, err)
	return s
}

// repeats checks that the cycles found begin as they end and that cycles more
// change nothing.
func repeats(t testing.TB, b bus.Bus, load profile.Curve, s *bus.Settled) {
	t.Helper()
	require.True(t, s.Repeats)
	near(t, s.Start.Voltage, s.End.Voltage, 1e-10*s.Start.Voltage, "voltage at the end")
	assert.Equal(t, s.Start.BrakeOn, s.End.BrakeOn)
	near(t, float64(s.Periods)*load.Duration(), s.Voltage.Duration(), 1e-12*s.Voltage.Duration(), "duration")
	more, err := b.Simulate(context.Background(), load.Repeat(s.Periods), s.End)
	require.NoError(t, err)
	near(t, s.End.Voltage, more.End.Voltage, 1e-10*s.End.Voltage, "voltage after cycles more")
	near(t, s.Lowest.V, more.Lowest.V, 1e-9*s.Lowest.V, "lowest voltage in them")
	near(t, s.Highest.V, more.Highest.V, 1e-9*s.Highest.V, "highest voltage in them")
}

func TestSettledRandom(t *testing.T) {
	random := rand.New(rand.NewPCG(31, 32))
	found, without, collapsed, several, never := 0, 0, 0, 0, 0
	for range 150 {
		m := randomMachine(random)
		load := m.stations[0]
		s, err := m.bus.SettledCycle(context.Background(), load)
		if no := new(bus.NoSettledStateError); errors.As(err, &no) {
			require.Empty(t, m.bus.Brakes)
			require.Zero(t, m.bus.Bleeder)
			near(t, -load.Mean(), no.Returned, 1e-9, "returned")
			without++
			continue
		}
		require.NoError(t, err)
		switch {
		case s.Collapsed:
			collapsed++
		case s.Repeats:
			found++
			repeats(t, m.bus, load, s)
			if s.Periods > 1 {
				several++
			}
		default:
			never++
			assert.NotEmpty(t, m.bus.Brakes, "only switching can go on without repeating")
		}
		if t.Failed() {
			t.Fatalf("%+v %+v cycles %d", m.bus, m.bus.Brakes, s.Cycles)
		}
	}
	t.Logf("%d repeat, %d of them in several cycles, %d collapse, %d without settled state, %d not found to repeat", found, several, collapsed, without, never)
	assert.Greater(t, found, 100)
}

// With nothing but a bleeder to drain a steady 100 W the bus goes to √(R P), even
// where that takes thousands of cycles; where it takes half a million, rounding
// in the change from cycle to cycle is what limits the extrapolation.
func TestSettledOnBleeder(t *testing.T) {
	for c, tol := range map[float64]float64{1e-4: 1e-11, 1e-3: 1e-11, 0.01: 1e-11, 1: 1e-10, 10: 1e-8, 1000: 1e-5} {
		b := bus.Bus{
			Bank:    bus.Bank{Capacitance: c, RatedVoltage: 400},
			Source:  bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
			Bleeder: 400,
		}
		load := steps(t, []float64{0, 0.4}, -100)
		s := settle(t, b, load)
		require.True(t, s.Repeats)
		near(t, 200, s.Start.Voltage, tol*200, "√(400 · 100)")
		assert.Less(t, s.Cycles, 100)
	}

	// With a billion farads the change in a cycle is lost in rounding: nothing is
	// claimed.
	s := settle(t, bus.Bus{
		Bank:    bus.Bank{Capacitance: 1e9, RatedVoltage: 400},
		Source:  bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
		Bleeder: 400,
	}, steps(t, []float64{0, 0.4}, -100))
	assert.False(t, s.Repeats)

	// In pulses: with τ = R C/2 the energy at the start of a cycle of T, pulse T1
	// first, is p τ (1-e^(-T1/τ)) e^(-(T-T1)/τ) / (1-e^(-T/τ)).
	b := bus.Bus{
		Bank:    bus.Bank{Capacitance: 2e-3, SeriesResistance: 0, RatedVoltage: 400},
		Source:  bus.Resistive{OpenCircuit: 60, Resistance: 1},
		Bleeder: 400,
	}
	s = settle(t, b, steps(t, []float64{5, 5.3, 6}, -100, 0))
	const tau = 0.4
	w := 100 * tau * (1 - math.Exp(-0.3/tau)) * math.Exp(-0.7/tau) / (1 - math.Exp(-1/tau))
	near(t, math.Sqrt(2*w/2e-3), s.Start.Voltage, 1e-9, "start")
	w = w*math.Exp(-0.3/tau) + 100*tau*(1-math.Exp(-0.3/tau))
	near(t, math.Sqrt(2*w/2e-3), s.Highest.V, 1e-9, "highest")
	near(t, 5.3, s.Highest.T, 1e-12, "when")
	repeats(t, b, steps(t, []float64{5, 5.3, 6}, -100, 0), s)
}

func TestSettledAtTheLimit(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.05, RatedVoltage: 200},
		Source: bus.SwitchMode{Voltage: 100, CurrentLimit: 5},
	}
	// 800 W then 100 W: 450 W on average of 500 W that the source can give.
	load := steps(t, []float64{0, 0.1, 0.2}, 800, 100)
	s := settle(t, b, load)
	repeats(t, b, load, s)
	near(t, 5, s.SourceCurrent.Max().V, 0, "current at the limit")
	near(t, 100, s.Highest.V, 1e-12, "it recovers in every cycle")

	// Resistive, 100 V behind 1 ohm: the mean of source power is that of the load,
	// and the voltage swings about the larger root of V² - 100 V + 450 = 0, 95.27 V.
	b.Source = bus.Resistive{OpenCircuit: 100, Resistance: 1}
	s = settle(t, b, load)
	repeats(t, b, load, s)
	near(t, 90, s.Energies.Source, 1e-8, "source energy of a cycle")
	near(t, 95.27, s.Voltage.Mean(), 0.2, "mean voltage")

	// 1100 W then 100 W is more than 500 W: the bus runs down and collapses.
	b.Source = bus.SwitchMode{Voltage: 100, CurrentLimit: 5}
	s = settle(t, b, steps(t, []float64{0, 0.1, 0.2}, 1100, 100))
	assert.True(t, s.Collapsed)
	assert.False(t, s.Repeats)
	assert.Equal(t, bus.Collapse, s.Events[len(s.Events)-1].Kind)
	// Each cycle takes more than 20 J of 250 J.
	assert.Less(t, s.Cycles, 14)
	assert.Greater(t, s.Cycles, 2)
}

// Returned energy in small pulses: the resistor comes on every third cycle.
// Pulses of 1 J (1000 W, 1 ms) lift the bank, which takes 2.4 J from the off to the
// on threshold. The resistor, about 4 kW, takes 2.4 J within a millisecond, before
// the next pulse. So after an off the bank gains 1 J, then 1 J, then comes to the
// on threshold 0.4 J into the third pulse and is drained to the off threshold
// while or after it ends: one on in three cycles, if the pulse is over by then.
func TestSettledOverSeveralCycles(t *testing.T) {
	const c = 0.01
	off := 80.0
	on := math.Sqrt(off*off + 2*2.4/c)
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: c, RatedVoltage: 120},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
		Brakes: []bus.BrakeResistor{{Resistance: 3, OnVoltage: on, OffVoltage: off}},
	}
	// The drain of some 2150 W against 1000 W returned takes more than the 0.6 ms
	// that are left of the third pulse for 2.4 J.
	load := steps(t, []float64{0, 0.001, 0.1}, -1000, 0)
	s := settle(t, b, load)
	assert.Equal(t, 3, s.Periods)
	repeats(t, b, load, s)
	near(t, 3, s.Energies.Returned, 1e-12, "returned in three cycles")
	near(t, 3, s.Energies.Resistor, 1e-9, "burned in three cycles")
	assert.Equal(t, []bus.EventKind{bus.BrakeOn, bus.BrakeOff}, kinds(s.Result))

	// One pulse in the cycle that needs the resistor many times.
	many := settle(t, b, steps(t, []float64{0, 0.05, 0.1}, -1000, 0))
	assert.Greater(t, len(many.Events), 20)
	repeats(t, b, steps(t, []float64{0, 0.05, 0.1}, -1000, 0), many)
}

func TestNoSettledState(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.01, RatedVoltage: 120},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
	}
	// 40 J drawn, 45 J returned in 0.1 s.
	load := steps(t, []float64{0, 0.02, 0.06, 0.1}, 2000, -1125, 0)
	no := func(b bus.Bus, load profile.Curve, watts float64) {
		t.Helper()
		_, err := b.SettledCycle(context.Background(), load)
		var e *bus.NoSettledStateError
		require.ErrorAs(t, err, &e)
		near(t, watts, e.Returned, 1e-9, "returned")
		assert.ErrorContains(t, err, "brake resistor")
	}
	no(b, load, 50)
	b.Source = nil
	no(b, load, 50)
	b.Source = bus.Resistive{OpenCircuit: 72, Resistance: 1}
	no(b, load, 50)

	// What comes back exactly is no surplus.
	even := steps(t, []float64{0, 0.02, 0.06}, 200, -100)
	repeats(t, b, even, settle(t, b, even))

	// Series resistance burns some 1.5 J in a cycle: it takes a surplus of 0.02 J, and
	// the source gives the rest; but not one of 5 J.
	b.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 10}
	b.Bank.Capacitance, b.Bank.SeriesResistance = 0.05, 0.1
	no(b, load, 50)
	small := steps(t, []float64{0, 0.02, 0.06, 0.1}, 2000, -1000.5, 0)
	s := settle(t, b, small)
	repeats(t, b, small, s)
	near(t, s.Energies.Series, s.Energies.Source+0.02, 1e-8, "burned in the bank")
	assert.Positive(t, s.Energies.Source)

	// A bleeder or a brake resistor settles the large surplus.
	b.Bleeder = 1000
	repeats(t, b, load, settle(t, b, load))
	b.Bleeder, b.Brakes = 0, []bus.BrakeResistor{{Resistance: 5, OnVoltage: 85, OffVoltage: 80}}
	s = settle(t, b, load)
	assert.Positive(t, s.Energies.Resistor)
}

func TestSettledCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.01, RatedVoltage: 120}, Bleeder: 100}
	_, err := b.SettledCycle(ctx, steps(t, []float64{0, 1}, -10))
	assert.ErrorIs(t, err, context.Canceled)
}
