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

// No window of any line-up has more power of the source on average than is promised,
// nor burns more in the resistors, on the whole.
func TestAverages(t *testing.T) {
	machines := 60
	if testing.Short() || raceDetector {
		machines = 10
	}
	close, closeBurned, limited := 0, 0, 0
	for n := range machines {
		r := rand.New(rand.NewPCG(95, uint64(n)))
		m := randomMachine(r)
		if r.IntN(2) == 0 {
			m.anySource(r)
		}
		var stations []bus.Cycle
		for _, s := range m.stations {
			stations = append(stations, randomStation(r, s))
		}
		g, err := m.bus.AnyPhase(context.Background(), stations, nil)
		require.NoError(t, err)
		a := newAdversary(m.bus, stations)
		duration := 3 * a.longest
		windows := []float64{duration / 3000, duration / 300, duration / 30, duration / 6, duration}
		x, err := m.bus.Averages(context.Background(), stations, nil, g, windows)
		require.NoError(t, err)
		for k := range 6 {
			l := a.random(r, k > 1)
			if k == 0 && g.Sag.Exists {
				l = lineUp{g.Sag.Offsets, g.Sag.Standstills}
			} else if k == 1 && g.Rise.Exists {
				l = lineUp{g.Rise.Offsets, g.Rise.Standstills}
			}
			var loads []profile.Curve
			for i, s := range stations {
				c, err := s.Course(l.offsets[i], l.stills[i], duration)
				require.NoError(t, err)
				loads = append(loads, c)
			}
			load, err := profile.Sum(loads...)
			require.NoError(t, err)
			for _, corner := range []bus.Bus{m.bus.Low(), m.bus.High()} {
				sim, err := corner.Simulate(context.Background(), load, bus.State{Voltage: corner.Source.NoLoadVoltage()})
				require.NoError(t, err)
				if sim.Collapsed {
					assert.False(t, g.Sag.Exists)
					continue
				}
				power, err := profile.Product(sim.Voltage, sim.SourceCurrent)
				require.NoError(t, err)
				energy := power.Antiderivative(0)
				for j, w := range windows {
					most := math.Inf(-1)
					for i := range 200 {
						t0 := power.Start() + (duration-w)*float64(i)/199
						most = math.Max(most, (energy.At(math.Min(t0+w, power.End()))-energy.At(t0))/w)
					}
					if !(most <= x.Source[j]*(1+1e-6)+1e-6) {
						t.Fatalf("machine %d: the source gives %g W over %g s, bound %g W: %+v", n, most, w, x.Source[j], m.bus)
					}
					if most > 0.7*x.Source[j] {
						close++
					}
					if x.Source[j] < 0.999*x.Source[0] {
						limited++
					}
				}
				if v := sim.Energies.Resistor / duration; !(v <= x.Resistor[4]*(1+1e-9)+1e-9) {
					t.Fatalf("machine %d: the resistors burn %g W, bound %g W: %+v", n, v, x.Resistor[4], m.bus)
				} else if v > 0.5*x.Resistor[4] && v > 0 {
					closeBurned++
				}
			}
		}
	}
	t.Logf("close: source %d, resistors %d; less than the peak %d", close, closeBurned, limited)
	assert.Greater(t, close, machines)
	assert.Greater(t, limited, machines)
	assert.Greater(t, closeBurned, 0)
}

// A bank of 1 F at 100 V that two pulses of 100 J, once in 10 s each, lower to
// √(10000 - 400) V: at most 200 J of them and 200 J to fill it up in any window.
func TestAveragesByHand(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 1, RatedVoltage: 200},
		Source: bus.SwitchMode{Voltage: 100, CurrentLimit: 5},
		Brakes: []bus.BrakeResistor{{Resistance: 10, OnVoltage: 120, OffVoltage: 110}},
	}
	stations := bus.StrictlyPeriodic([]profile.Curve{steps(t, []float64{0, 1e-6, 10}, 1e8, 0), steps(t, []float64{0, 1e-6, 10}, 1e8, 0)})
	g := anyPhase(t, b, stations[0].Power, stations[1].Power)
	a, err := b.Averages(context.Background(), stations, nil, g, []float64{0.01, 1, 4})
	require.NoError(t, err)
	near(t, 500, a.Source[0], 1e-9, "at its limit")
	near(t, 400, a.Source[1], 1, "in a second")
	near(t, 100, a.Source[2], 0.3, "in four")
	assert.Zero(t, a.Resistor[1], "nothing comes back")

	// 300 J come back at once, and the bank gives 1150 J from 120 V to 110 V.
	stations[0].Power = steps(t, []float64{0, 1e-3, 10}, -3e5, 60)
	g = anyPhase(t, b, stations[0].Power, stations[1].Power)
	a, err = b.Averages(context.Background(), stations, nil, g, []float64{5})
	require.NoError(t, err)
	assert.Zero(t, a.Resistor[0], "300 J do not lift the bank to 120 V")
	b.Bank.Capacitance = 0.05 // 110 J do
	g = anyPhase(t, b, stations[0].Power, stations[1].Power)
	a, err = b.Averages(context.Background(), stations, nil, g, []float64{5})
	require.NoError(t, err)
	near(t, (300+0.025*(g.Rise.Voltage*g.Rise.Voltage-110*110))/5, a.Resistor[0], 1e-6, "burned")

	_, err = b.Averages(context.Background(), stations, nil, nil, []float64{0, nan})
	assert.Equal(t, []string{"guarantee", "windows[0]", "windows[1]"}, paths(err))
}
