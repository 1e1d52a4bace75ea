package bus_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

// The lines of the sag against the circuit itself: at any voltage of the bank between where it
// is assumed to stay and the threshold, with any powers drawn and returned and the resistor
// as it may be, the bank takes no less than the line says.
func TestSagLines(t *testing.T) {
	r := rand.New(rand.NewPCG(59, 60))
	closest := [2]float64{math.Inf(1), math.Inf(1)}
	tried := [2]int{}
	for n := range 500 {
		const v0 = 100.
		b := bus.Bus{Bank: bus.Bank{Capacitance: 1, SeriesResistance: logBetween(r, 1e-3, 0.3), RatedVoltage: 500}}
		limit := between(r, 1, 60)
		supply := func(v float64) float64 { // the most that the source gives
			if v < v0 {
				return limit
			}
			return 0
		}
		switch n % 4 {
		case 0:
			resistance := logBetween(r, 0.05, 2)
			b.Source = bus.Resistive{OpenCircuit: v0, Resistance: resistance}
			supply = func(v float64) float64 { return math.Max(0, (v0-v)/resistance) }
		case 1:
			resistance, charge := logBetween(r, 0.05, 2), between(r, 0, 20)
			b.Source = bus.Battery{OpenCircuit: v0, Resistance: resistance, ChargeLimit: charge}
			supply = func(v float64) float64 { return math.Max(-charge, (v0-v)/resistance) }
		default:
			b.Source = bus.SwitchMode{Voltage: v0, CurrentLimit: limit}
		}
		if n%3 > 0 {
			b.Bleeder = logBetween(r, 30, 3000)
		}
		brake := bus.BrakeResistor{Resistance: logBetween(r, 1, 30), OnVoltage: between(r, 103, 120)}
		brake.OffVoltage = between(r, 101, brake.OnVoltage-1)
		b.Brakes = []bus.BrakeResistor{brake}
		if b.Validate() != nil {
			continue
		}
		drawn, returned := between(r, 100, 5000), logBetween(r, 10, 5000)
		low := v0 * between(r, 0.5, 0.95)
		bank := low * between(r, 1, 1.02)
		lines, clipped := bus.SagLines(b, drawn, returned, low, bank)
		for k, l := range lines {
			if !(l.Drain >= 0 && l.From > bank) {
				continue
			}
			for range 40 {
				vc := bank + (l.From-bank)*pick(r, 0, 1, r.Float64(), 1-logBetween(r, 1e-4, 1))
				up, back := pick(r, 0, 1, r.Float64())*drawn, pick(r, 0, 0, 1, r.Float64())*returned
				on := r.IntN(2) == 0
				v, ok := busOver(b, vc, up-back, supply, on)
				if !ok || v < low || !on && v > brake.OnVoltage*(1-1e-9) || on && v < brake.OffVoltage*(1+1e-9) {
					continue // below what is assumed, or it has switched
				}
				takes := vc * (v - vc) / b.Bank.SeriesResistance
				least := l.Drain + l.Leak*(l.From*l.From-vc*vc)/2 - l.Adverse*math.Max(l.Floor, up) + l.Helpful*back
				if !(takes >= least-1e-6*(1+drawn+returned)) {
					t.Fatalf("%d: line %d of %d %+v of %+v %+v: the bank at %g V, bus at %g V (resistor on: %v), takes %g W with %g W drawn and %g W returned, less than %g W",
						n, k, len(lines), l, b, b.Source, vc, v, on, takes, up, back, least)
				}
				which := 0
				if k >= len(lines)-clipped {
					which = 1
				}
				tried[which]++
				closest[which] = math.Min(closest[which], (takes-least)/(1+drawn+returned))
			}
		}
	}
	t.Logf("%v tried, closest %.2g", tried, closest)
	assert.Greater(t, min(tried[0], tried[1]), 5000)
	assert.Less(t, math.Max(closest[0], closest[1]), 1e-3) // and some come close
}

// Two pulses of 8 kW from a supply of 60 A with a rest between, over a bank whose series
// resistance lets it be charged with less the fuller it is. A line that took it to be charged
// with 60 A up to the no-load voltage would have the second pulse begin too high.
func TestRechargeBehindSeriesResistance(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.4, SeriesResistance: 0.05, RatedVoltage: 150},
		Source: bus.SwitchMode{Voltage: 100, CurrentLimit: 60},
	}
	station := steps(t, []float64{0, 0.02, 0.035, 0.055, 2}, 8000, 0, 8000, 0)
	g := anyPhase(t, b, station)
	require.True(t, g.Sag.Exists)
	load, err := bus.Periodic(station, 0.5, 4)
	require.NoError(t, err)
	r, err := b.Simulate(t.Context(), load, bus.State{Voltage: 100})
	require.NoError(t, err)
	assert.LessOrEqual(t, g.Sag.Voltage, r.Lowest.V)
	assert.Less(t, r.Lowest.V-g.Sag.Voltage, 2.5)
	t.Logf("bound %.4g V, simulated %.4g V", g.Sag.Voltage, r.Lowest.V)
}
