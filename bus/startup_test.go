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

func begin(t *testing.T, b bus.Bus, s bus.StartUp) *bus.Started {
	t.Helper()
	r, err := b.Start(context.Background(), s)
	require.NoError(t, err)
	near(t, 0, r.Energies.Residual, 1e-9*r.Energies.Throughput(), "residual")
	return r
}

// 10 A charge 20 mF to 70 V in 140 ms; behind 0.5 ohm to 120 V the last volts come
// as 120 (1 - exp(-t/RC)).
func TestStartUpByHand(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.02, RatedVoltage: 100}, Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 10}}
	r := begin(t, b, bus.StartUp{Ready: 70, Patience: 1})
	assert.True(t, r.Reached)
	near(t, 0.14, r.Time, 1e-12, "time")
	near(t, 10, r.PeakCurrent, 1e-12, "peak")
	near(t, 0.06, begin(t, b, bus.StartUp{From: 40, Ready: 70, Patience: 1}).Time, 1e-12, "from 40 V")

	b.Source = bus.Resistive{OpenCircuit: 120, Resistance: 0.5}
	r = begin(t, b, bus.StartUp{Ready: 110, Patience: 1})
	near(t, 0.01*math.Log(12), r.Time, 1e-12, "time behind a resistance")
	near(t, 240, r.PeakCurrent, 1e-9, "into the empty bank")

	// Drives of 300 W that work from 60 V on take a part of the current from then
	// on: dV/dt = (10 - 300/V)/C between 60 V and 70 V, t = C ∫ V dV/(10 V - 300).
	b.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 10}
	r = begin(t, b, bus.StartUp{Ready: 70, Load: 300, TurnOn: 60, Patience: 1})
	near(t, 0.12+0.02*(1+3*math.Log(400./300)), r.Time, 1e-10, "with load")

	r = begin(t, b, bus.StartUp{Ready: 70, Patience: 0.1})
	assert.False(t, r.Reached)
	assert.Contains(t, r.Reason, "at 50 V")
}

// Supplies that never get there say why.
func TestStartUpFails(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.02, RatedVoltage: 100}, UnderVoltage: 50}
	hiccup := bus.SwitchMode{Voltage: 72, CurrentLimit: 10, Overload: bus.Hiccup, Endurance: 0.05, Pause: 0.2}
	latch := bus.SwitchMode{Voltage: 72, CurrentLimit: 10, Overload: bus.Latch, Endurance: 0.05}
	fold := bus.SwitchMode{Voltage: 72, CurrentLimit: 10, Overload: bus.Foldback, FoldbackCurrent: 2}
	for _, c := range []struct {
		source  bus.Source
		start   bus.StartUp
		bleeder float64
		reason  string
	}{
		// 50 ms of 10 A are 25 V: without load it gets there in three goes.
		{hiccup, bus.StartUp{Ready: 70, Patience: 5}, 0, ""},
		{hiccup, bus.StartUp{Ready: 70, Load: 300, TurnOn: 60, Patience: 5}, 0, "shuts down"},
		{latch, bus.StartUp{Ready: 70, Patience: 5}, 0, "for good, with the bus at most at 25 V"},
		{fold, bus.StartUp{Ready: 70, Patience: 5}, 0, ""},
		// 30 ohm take 2.4 A at 72 V. Folding back, 2 A + 0.111 V less V/30 always charges.
		{fold, bus.StartUp{Ready: 70, Patience: 5}, 30, ""},
		// 6 ohm draw as much as it gives at V/6 = 2 + V/9: 36 V.
		{fold, bus.StartUp{Ready: 70, Patience: 5}, 6, "at 36 V"},
		// 650 W: 9.0 A at 72 V, but 10.8 A at 60 V.
		{bus.SwitchMode{Voltage: 72, CurrentLimit: 10}, bus.StartUp{Ready: 70, Load: 650, TurnOn: 60, Patience: 5}, 0, "start and stop"},
		{bus.SwitchMode{Voltage: 72, CurrentLimit: 10}, bus.StartUp{Ready: 70, Load: 650, TurnOn: 68, Patience: 5}, 0, ""},
	} {
		b.Source, b.Bleeder = c.source, c.bleeder
		r := begin(t, b, c.start)
		assert.Equal(t, c.reason == "", r.Reached, "%+v %+v: %s", c.source, c.start, r.Reason)
		assert.Contains(t, r.Reason, c.reason)
		if !r.Reached {
			assert.NotEmpty(t, r.Reason)
		}
	}
}

func TestStartUpBadInput(t *testing.T) {
	good := bus.StartUp{Ready: 70, Load: 10, TurnOn: 60, Patience: 1}
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.02, RatedVoltage: 100}, Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 10}, UnderVoltage: 50}
	nan := math.NaN()
	for path, set := range map[string]func(*bus.Bus, *bus.StartUp){
		"from":                 func(_ *bus.Bus, s *bus.StartUp) { s.From = -1 },
		"ready":                func(_ *bus.Bus, s *bus.StartUp) { s.Ready = 72 },
		"load":                 func(_ *bus.Bus, s *bus.StartUp) { s.Load = nan },
		"turnOn":               func(_ *bus.Bus, s *bus.StartUp) { s.TurnOn = 50 },
		"patience":             func(_ *bus.Bus, s *bus.StartUp) { s.Patience = math.Inf(1) },
		"bus.source":           func(b *bus.Bus, _ *bus.StartUp) { b.Source = nil },
		"bus.bank.capacitance": func(b *bus.Bus, _ *bus.StartUp) { b.Bank.Capacitance = 0 },
	} {
		b, s := b, good
		set(&b, &s)
		_, err := b.Start(context.Background(), s)
		require.Error(t, err, path)
		faults := profile.InputErrors(err)
		require.NotEmpty(t, faults, path)
		assert.Equal(t, path, faults[0].Path)
	}
}
