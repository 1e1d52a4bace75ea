package bus_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

// busOver returns the highest voltage V of a bus over its bank at Vc,
//
//	V = Vc - Rs (P/V - source(V) + V/Rbleed + [on] V/Rbrake)
//
// with the power drawn net, by bisection.
func busOver(b bus.Bus, vc, drawn float64, source func(v float64) float64, on bool) (v float64, ok bool) {
	over := func(v float64) bool {
		i := drawn/v - source(v)
		if b.Bleeder > 0 {
			i += v / b.Bleeder
		}
		if on {
			i += v / b.Brakes[0].Resistance
		}
		return v+b.Bank.SeriesResistance*i > vc
	}
	hi := 2*vc + 100
	lo := hi
	for lo > 5 && over(lo) {
		hi, lo = lo, lo*0.999
	}
	for range 60 {
		if m := (lo + hi) / 2; over(m) {
			hi = m
		} else {
			lo = m
		}
	}
	return lo, lo > 5
}

// The lines of the rise against the circuit itself: at any voltage of the bank from the
// threshold on, with any powers drawn and returned and the resistor as it may be, the
// bank takes no more than the line says. The bus follows from V = Vc - Rs i by bisection.
func TestRiseLines(t *testing.T) {
	r := rand.New(rand.NewPCG(57, 58))
	least, lower := math.Inf(1), 0
	for n := range 400 {
		b := bus.Bus{Bank: bus.Bank{Capacitance: 1, SeriesResistance: logBetween(r, 1e-3, 0.3), RatedVoltage: 500}}
		const v0 = 100.
		limit := between(r, 1, 30)
		supply := func(v float64) float64 { // the most that the source gives
			if v < v0 {
				return limit
			}
			return 0
		}
		b.Source = bus.SwitchMode{Voltage: v0, CurrentLimit: limit}
		if n%2 == 0 {
			resistance := logBetween(r, 0.05, 2)
			b.Source = bus.Resistive{OpenCircuit: v0, Resistance: resistance}
			supply = func(v float64) float64 { return math.Max(0, (v0-v)/resistance) }
		}
		if n%3 > 0 {
			b.Bleeder = logBetween(r, 30, 3000)
		}
		brake := bus.BrakeResistor{Resistance: logBetween(r, 1, 30), OnVoltage: between(r, 105, 120)}
		brake.OffVoltage = between(r, 101, brake.OnVoltage-2)
		b.Brakes = []bus.BrakeResistor{brake}
		if b.Validate() != nil {
			continue
		}
		drawn, returned := between(r, 100, 5000), between(r, 100, 5000)
		lines, braking := bus.RiseLines(b, drawn, returned)
		require.Positive(t, braking)
		lower += braking - 1
		for k, l := range lines {
			for range 60 {
				vc := l.From * (1 + pick(r, 0, between(r, 0, 0.02), between(r, 0, 0.3)))
				up, back := pick(r, 0, 1, r.Float64())*drawn, pick(r, 0, 0, 1, r.Float64())*returned
				on := r.IntN(2) == 0
				lo, ok := busOver(b, vc, up-back, supply, on)
				if !ok {
					continue // the bus has collapsed
				}
				if k >= len(lines)-braking && !on && lo > brake.OnVoltage*(1-1e-9) || on && lo < brake.OffVoltage*(1+1e-9) {
					continue // it has switched
				}
				takes := -vc * (vc - lo) / b.Bank.SeriesResistance
				w := (vc*vc - l.From*l.From) / 2
				most := -l.Drain - l.Leak*w + l.Adverse*back - l.Helpful*up
				if !(takes <= most+1e-6*(1+drawn+returned)) {
					t.Fatalf("%d: line %d %+v of %+v %+v: the bank at %g V, bus at %g V (resistor on: %v), takes %g W with %g W drawn and %g W returned, more than %g W",
						n, k, l, b, b.Source, vc, lo, on, takes, up, back, most)
				}
				least = math.Min(least, (most-takes)/(1+drawn+returned))
			}
		}
	}
	assert.Greater(t, lower, 30)
	assert.Less(t, least, 1e-4) // and some come close
}
