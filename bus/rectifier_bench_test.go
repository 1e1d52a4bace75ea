package bus_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

func benchRectifier() (bus.Rectifier, bus.Bank) {
	return bus.Rectifier{
		Kind: bus.ThreePhaseBridge, Voltage: 400, Frequency: 50, Resistance: 0.05, Inductance: 1e-4,
		DiodeThreshold: 0.9, DiodeResistance: 5e-3,
	}, bus.Bank{Capacitance: 2e-3, RatedVoltage: 800}
}

// One second of a machine cycle with the waveform of a three-phase bridge.
func BenchmarkRippleSecond(b *testing.B) {
	r, bank := benchRectifier()
	m := bus.Bus{Bank: bank, Bleeder: 33e3}
	load := bus.RippleLoad{Power: station(b, 1).Scale(10)}
	start := bus.RippleState{Voltage: 555}
	res, err := m.SimulateRipple(context.Background(), r, load, start)
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.SimulateRipple(context.Background(), r, load, start); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(res.Steps), "steps")
}

func BenchmarkRippleSettled(b *testing.B) {
	r, bank := benchRectifier()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := r.Settle(context.Background(), bank, bus.SteadyLoad{Power: 5000}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRectifierAveraged(b *testing.B) {
	r, _ := benchRectifier()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := r.Averaged(context.Background()); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkInrush(b *testing.B) {
	r, bank := benchRectifier()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := r.Inrush(context.Background(), bank, 0); err != nil {
			b.Fatal(err)
		}
	}
}
