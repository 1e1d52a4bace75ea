package bus_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

func curve(t testing.TB, breaks []float64, coefs ...[]float64) profile.Curve {
	t.Helper()
	c, err := profile.NewCurve(breaks, coefs)
	require.NoError(t, err)
	return c
}

func demoBus() bus.Bus {
	return bus.Bus{
		Bank:         bus.Bank{Capacitance: 0.02, SeriesResistance: 0, RatedVoltage: 100},
		Source:       bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
		Brake:        &bus.BrakeResistor{Resistance: 6.8, OnVoltage: 82, OffVoltage: 79},
		Bleeder:      4700,
		UnderVoltage: 55, OverVoltage: 90,
	}
}

func TestTry(t *testing.T) {
	for _, rs := range []float64{0, 0.02} {
		b := demoBus()
		b.Bank.SeriesResistance = rs
		p := curve(t, []float64{0, .1, .2, .3, .5}, []float64{0, 12000}, []float64{1200}, []float64{-1500, 5000}, []float64{10})
		r, err := b.Simulate(context.Background(), p, bus.State{Voltage: 72})
		require.NoError(t, err)
		t.Log(r.Steps, r.Lowest, r.Highest, r.Collapsed, r.Energies, r.End)
		for _, e := range r.Events {
			t.Log(e.Time, e.Kind, e.Voltage)
		}
		require.LessOrEqual(t, math.Abs(r.Energies.Residual), 1e-9*r.Energies.Throughput())
	}
}
