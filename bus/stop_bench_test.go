package bus_test

import (
	"context"
	"testing"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

func benchStations(b *testing.B) []bus.StationStop {
	return []bus.StationStop{
		stopOf(b, 5, curve(b, []float64{0, 0.2}, []float64{-800, 4000})),
		stopOf(b, 5, curve(b, []float64{0, 0.05, 0.3}, []float64{200}, []float64{-300, 1200})),
	}
}

func BenchmarkStopRise(b *testing.B) {
	m := bus.Bus{Bank: bus.Bank{Capacitance: 2e-3, RatedVoltage: 450}, Brakes: []bus.BrakeResistor{{Resistance: 200, OnVoltage: 390, OffVoltage: 380}}}
	stations := benchStations(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.StopRise(context.Background(), stations, 340); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkHoldUp(b *testing.B) {
	m := bus.Bus{Bank: bus.Bank{Capacitance: 2e-3, RatedVoltage: 450}, UnderVoltage: 200, Bleeder: 20e3}
	cycles := []profile.Curve{steps(b, []float64{0, 0.1, 0.5, 0.6, 1}, 400, 40, -200, 10), steps(b, []float64{0, 0.3, 0.7}, 90, 20)}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.HoldUp(context.Background(), cycles, 325); err != nil {
			b.Fatal(err)
		}
	}
}
