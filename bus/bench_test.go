package bus_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// benchBus and its stations are invented: a 72 V bus with servo axes whose
// cycles of about a second accelerate, run, brake and dwell.
func benchBus(rs float64) bus.Bus {
	return bus.Bus{
		Bank:    bus.Bank{Capacitance: 0.02, SeriesResistance: rs, RatedVoltage: 100},
		Source:  bus.SwitchMode{Voltage: 72, CurrentLimit: 20},
		Brakes:  []bus.BrakeResistor{{Resistance: 5, OnVoltage: 82, OffVoltage: 79}},
		Bleeder: 4700,
	}
}

func station(t testing.TB, stretch float64) profile.Curve {
	breaks := []float64{0, 0.05, 0.1, 0.3, 0.35, 0.4, 0.7, 0.75, 0.9, 1}
	for i := range breaks {
		breaks[i] *= stretch
	}
	return curve(t, breaks,
		[]float64{5, 2e3 / stretch, 1e5 / (stretch * stretch)}, []float64{355, 1.2e4 / stretch, -9e4 / (stretch * stretch)}, []float64{420},
		[]float64{-600, -4e3 / stretch, 9e4 / (stretch * stretch)}, []float64{-575, 1.1e4 / stretch}, []float64{30},
		[]float64{30, 1e4 / stretch}, []float64{-450, 1e3 / stretch}, []float64{10})
}

func benchmarkSimulate(b *testing.B, rs float64) {
	m, load := benchBus(rs), station(b, 1)
	start := bus.State{Voltage: 72}
	r, err := m.Simulate(context.Background(), load, start)
	require.NoError(b, err)
	switchings := 0
	for _, e := range r.Events {
		if e.Kind == bus.BrakeOn || e.Kind == bus.BrakeOff {
			switchings++
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.Simulate(context.Background(), load, start); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(r.Steps), "steps")
	b.ReportMetric(float64(switchings), "switchings")
}

func BenchmarkSimulate(b *testing.B)                 { benchmarkSimulate(b, 0) }
func BenchmarkSimulateSeriesResistance(b *testing.B) { benchmarkSimulate(b, 0.02) }

func BenchmarkSettledCycle(b *testing.B) {
	m, load := benchBus(0), station(b, 1)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.SettledCycle(context.Background(), load); err != nil {
			b.Fatal(err)
		}
	}
}

// Eight drives behind feeders of 40 mohm with 470 µF each, in star: capacitors that
// count as part of the bank.
func BenchmarkNetworkOfEight(b *testing.B) {
	n := bus.Network{Bus: benchBus(0)}
	loads := []profile.Curve{{}}
	for k := range 8 {
		n.Feeders = append(n.Feeders, bus.Feeder{Resistance: 0.04, Capacitance: 470e-6})
		loads = append(loads, station(b, 1).Scale(0.1+0.02*float64(k)))
	}
	r, err := n.Simulate(context.Background(), loads, bus.State{Voltage: 72})
	require.NoError(b, err)
	require.Len(b, r.Lumped, 8)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := n.Simulate(context.Background(), loads, bus.State{Voltage: 72}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(r.Steps), "steps")
}

func BenchmarkAnyPhase(b *testing.B) {
	for _, s := range []struct {
		name   string
		source bus.Source
		rs     float64
	}{
		{"limit", bus.SwitchMode{Voltage: 72, CurrentLimit: 40}, 0},
		{"resistive", bus.Resistive{OpenCircuit: 72, Resistance: 0.15}, 0},
		{"resistive-rs", bus.Resistive{OpenCircuit: 72, Resistance: 0.15}, 0.01},
	} {
		b.Run(s.name, func(b *testing.B) {
			m := benchBus(s.rs)
			m.Source, m.Bank.Capacitance = s.source, 0.1
			var stations []profile.Curve
			for _, stretch := range []float64{1, 0.83, 1.27, 0.61, 1.09} {
				stations = append(stations, station(b, stretch))
			}
			g, err := m.AnyPhase(context.Background(), bus.StrictlyPeriodic(stations), nil)
			require.NoError(b, err)
			require.True(b, g.Sag.Exists)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := m.AnyPhase(context.Background(), bus.StrictlyPeriodic(stations), nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// Distinct stations of 20 pieces each on a bus that grows with them.
func BenchmarkAnyPhaseStations(b *testing.B) {
	for _, n := range []int{10, 100, 1000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			r := rand.New(rand.NewPCG(1, 2))
			stations := make([]profile.Curve, n)
			mean := 0.0
			for i := range stations {
				breaks, coefs := []float64{0}, [][]float64{}
				for k := range 20 {
					breaks = append(breaks, breaks[k]+between(r, 0.02, 0.08))
					coefs = append(coefs, []float64{between(r, -300, 500), between(r, -1000, 1000)})
				}
				stations[i] = curve(b, breaks, coefs...)
				mean += stations[i].Positive().Mean()
			}
			m := benchBus(0)
			m.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: mean / 60}
			m.Brakes[0].Resistance /= float64(n)
			m.Bank.Capacitance = 0.04 * float64(n)
			b.ReportAllocs()
			for b.Loop() {
				g, err := m.AnyPhase(context.Background(), bus.StrictlyPeriodic(stations), nil)
				if err != nil || !g.Sag.Exists || !g.Rise.Exists {
					b.Fatal(err, g)
				}
			}
		})
	}
}
