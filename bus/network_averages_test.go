package bus_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// Behind cables no window of any course has more power of the source on average than is
// promised, cables included, nor burns more in the resistors.
func TestNetworkAverages(t *testing.T) {
	long(t)
	looked, close := 0, 0
	for k := range 20 {
		r := rand.New(rand.NewPCG(83, uint64(k)))
		m := randomMachine(r)
		n := bus.Network{Bus: m.bus}
		n.Bank.Capacitance *= 3
		volts, power := n.Source.NoLoadVoltage(), 0.0
		for _, s := range m.stations {
			power += math.Abs(s.AbsMax().V)
		}
		stations := make([]bus.Station, len(m.stations))
		for i, s := range m.stations {
			ohms := logBetween(r, 1e-3, 4e-2) * volts * volts / power
			n.Feeders = append(n.Feeders, bus.Feeder{Upstream: r.IntN(len(n.Feeders) + 1), Resistance: ohms, Capacitance: pick(r, 0, 20e-6/ohms, 2e-4/ohms)})
			stations[i] = bus.Station{Repeats: bus.Strictly, Axes: []bus.AxisCycle{{Feeder: len(n.Feeders), Power: s.Scale(0.4)}}}
		}
		g, err := n.AnyPhase(context.Background(), stations, nil)
		require.NoError(t, err)
		if !g.Sag.Exists || !g.Rise.Exists {
			continue
		}
		looked++
		longest := 0.0
		for _, s := range m.stations {
			longest = math.Max(longest, s.Duration())
		}
		duration := 3 * longest
		windows := []float64{duration / 300, duration / 10, duration / 2, duration}
		x, err := n.Averages(context.Background(), stations, nil, g.Guarantee, windows)
		require.NoError(t, err)
		for try := range 4 {
			loads := make([]profile.Curve, 1+len(n.Feeders))
			for i, s := range stations {
				offset := between(r, 0, s.Axes[0].Power.Duration())
				if try == 0 {
					offset = g.Sag.Offsets[i]
				}
				loads[s.Axes[0].Feeder], err = bus.Periodic(s.Axes[0].Power, offset, duration)
				require.NoError(t, err)
			}
			for _, corner := range []bus.Network{n.Low(), n.High()} {
				sim, err := corner.Simulate(context.Background(), loads, bus.State{Voltage: corner.Source.NoLoadVoltage()})
				require.NoError(t, err)
				source, err := profile.Product(sim.Voltage, sim.SourceCurrent)
				require.NoError(t, err)
				energy := source.Antiderivative(0)
				for j, w := range windows {
					for i := range 100 {
						t0 := (duration - w) * float64(i) / 99
						mean := (energy.At(math.Min(t0+w, duration)) - energy.At(t0)) / w
						if !(mean <= x.Source[j]*(1+1e-6)+1e-6) {
							t.Fatalf("network %d: the source gives %g W over %g s, bound %g W: %+v", k, mean, w, x.Source[j], n)
						}
						if mean > 0.7*x.Source[j] {
							close++
						}
					}
				}
				if v := sim.Energies.Resistor / duration; !(v <= x.Resistor[3]*(1+1e-9)+1e-9) {
					t.Fatalf("network %d: the resistors burn %g W, bound %g W: %+v", k, v, x.Resistor[3], n)
				}
			}
		}
	}
	t.Logf("%d networks, %d windows close to their bound", looked, close)
	assert.Greater(t, looked, 5)
	assert.Greater(t, close, 20)
}

// A load of 100 W in pulses of half a second, once in two seconds, behind 1 ohm on a stiff
// bus of 50 V: 50 = u + I, u I = 100, u = 47.9129 V and I = 2.08712 A, so that the cable
// burns 4.35608 W and the source gives 104.356 W, a quarter of that on average.
func TestNetworkAveragesByHand(t *testing.T) {
	n := bus.Network{
		Bus:     bus.Bus{Bank: bus.Bank{Capacitance: 0.1, RatedVoltage: 100}, Source: bus.SwitchMode{Voltage: 50, CurrentLimit: 20}},
		Feeders: []bus.Feeder{{Resistance: 1}},
	}
	stations := []bus.Station{{Repeats: bus.Strictly, Axes: []bus.AxisCycle{{Feeder: 1, Power: steps(t, []float64{0, 0.5, 2}, 100, 0)}}}}
	g, err := n.AnyPhase(context.Background(), stations, nil)
	require.NoError(t, err)
	x, err := n.Averages(context.Background(), stations, nil, g.Guarantee, []float64{0.25, 2})
	require.NoError(t, err)
	near(t, 104.356, x.Source[0], 0.1, "within the pulse")
	assert.GreaterOrEqual(t, x.Source[0], 104.35608)
	near(t, 26.0890, x.Source[1], 0.03, "over the cycle")
	assert.GreaterOrEqual(t, x.Source[1], 26.0890)
	assert.Equal(t, []float64{0, 0}, x.Resistor, "there is none")

	// The capacitor of the drive is filled up like the bank: 50 mF together from the lowest
	// voltage to 50 V, and the 60 J of the pulse.
	n.Bank.Capacitance, n.Source = 0.01, bus.SwitchMode{Voltage: 50, CurrentLimit: 2}
	n.Feeders[0] = bus.Feeder{Resistance: 1e-3, Capacitance: 0.04}
	pulse := []bus.Station{{Repeats: bus.Strictly, Axes: []bus.AxisCycle{{Feeder: 1, Power: steps(t, []float64{0, 0.2, 10}, 300, 0)}}}}
	filled, err := n.AnyPhase(context.Background(), pulse, nil)
	require.NoError(t, err)
	x, err = n.Averages(context.Background(), pulse, nil, filled.Guarantee, []float64{5})
	require.NoError(t, err)
	v := filled.Sag.Voltage
	assert.Less(t, v, 35.)
	near(t, (0.025*(2500-v*v)+60)/5, x.Source[0], 0.3, "what fills the capacitors and feeds the pulse")

	_, err = n.Averages(context.Background(), nil, nil, g.Guarantee, []float64{1})
	assert.Equal(t, []string{"stations"}, paths(err))
	_, err = n.Averages(context.Background(), stations, nil, nil, []float64{nan})
	assert.Equal(t, []string{"guarantee", "windows[0]"}, paths(err))
}
