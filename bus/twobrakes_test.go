package bus_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

// Behind the bank's series resistance one resistor may keep the bus below the
// threshold of the other while the bank is far above it: what the bound on the rise
// counts on must not be both. The cycle switches both off by a short draw, and
// holds the bus where only the first comes on again.
func TestOneResistorHidesTheOther(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.05, SeriesResistance: 0.2, RatedVoltage: 200},
		Source: bus.SwitchMode{Voltage: 60, CurrentLimit: 20},
		Brakes: []bus.BrakeResistor{
			{Resistance: 2, OnVoltage: 80, OffVoltage: 65},
			{Resistance: 2, OnVoltage: 82, OffVoltage: 65},
		},
	}
	for _, draw := range []float64{2500, 3500, 4500} {
		for _, back := range []float64{500, 1500, 2500} {
			cycle := steps(t, []float64{0, 0.02, 0.021, 0.06, 0.08, 2}, -12e3, draw, -back, -12e3, 100)
			g, err := b.AnyPhase(context.Background(), []bus.Cycle{{Power: cycle, Repeats: bus.Strictly}}, nil)
			require.NoError(t, err)
			require.True(t, g.Rise.Exists)
			load, err := bus.Periodic(cycle, 1, 5)
			require.NoError(t, err)
			r := simulate(t, b, load, 60)
			t.Log(draw, back, r.Highest.V, g.Rise.Voltage)
			assert.LessOrEqual(t, r.Highest.V, g.Rise.Voltage+1e-9)
		}
	}
}
