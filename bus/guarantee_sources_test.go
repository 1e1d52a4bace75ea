package bus_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

// Neither are the bounds passed with any other kind of source, several of them,
// resistors that switch late, or a clamp; or they are refused by name.
func TestGuaranteeOfEverySource(t *testing.T) {
	long(t)
	machines := 250
	if testing.Short() || raceDetector {
		machines = 40
	}
	sag, rise, refused := 0, 0, 0
	closest := [2]float64{1, 1}
	for n := range machines {
		r := rand.New(rand.NewPCG(71, uint64(n)))
		m := randomMachine(r)
		volts := m.anySource(r)
		g, err := m.bus.AnyPhase(context.Background(), bus.StrictlyPeriodic(m.stations), nil)
		require.NoError(t, err)
		for k, x := range []bus.Bound{g.Sag, g.Rise} {
			if !x.Exists {
				refused++
				assert.NotEmpty(t, x.Reason)
			} else if k == 0 {
				sag++
			} else {
				rise++
			}
		}
		longest := 0.0
		for _, s := range m.stations {
			longest = math.Max(longest, s.Duration())
		}
		offsets := make([]float64, len(m.stations))
		for k := range 14 {
			for i, s := range m.stations {
				offsets[i] = between(r, 0, s.Duration())
			}
			if k == 0 && g.Sag.Exists {
				copy(offsets, g.Sag.Offsets)
			} else if k == 1 && g.Rise.Exists {
				copy(offsets, g.Rise.Offsets)
			}
			lowest, highest := m.lineUp(t, offsets, 3*longest)
			if beyond(g.Sag, lowest, -1) || beyond(g.Rise, highest, 1) {
				t.Fatalf("machine %d, offsets %v: lowest %.12g V, bound %.12g V; highest %.12g V, bound %.12g V\n%+v %+v",
					n, offsets, lowest, g.Sag.Voltage, highest, g.Rise.Voltage, m.bus, m.bus.Source)
			}
			if g.Sag.Exists {
				closest[0] = math.Min(closest[0], (lowest-g.Sag.Voltage)/volts)
			}
			if g.Rise.Exists {
				closest[1] = math.Min(closest[1], (g.Rise.Voltage-highest)/volts)
			}
		}
	}
	t.Logf("%d bounds on the sag, %d on the rise, %d refused; closest %.2g and %.2g of the voltage", sag, rise, refused, closest[0], closest[1])
	assert.Greater(t, sag, machines/4)
	assert.Greater(t, rise, machines/2)
	assert.Greater(t, refused, machines/10)
	assert.Less(t, closest[0], 0.01)
	assert.Less(t, closest[1], 0.01)
}

// randomAveraged returns a rectifier without its ripple, of about a no-load voltage, that
// can give about a power.
func randomAveraged(r *rand.Rand, volts, power float64) bus.Source {
	x := bus.Rectifier{
		Kind: pick(r, bus.HalfWave, bus.Bridge, bus.ThreePhaseBridge), Voltage: volts / math.Sqrt2, Frequency: pick(r, 50., 60),
		LineTolerance: pick(r, 0, 0.1),
	}
	impedance := volts * volts / (power * between(r, 8, 40))
	x.Resistance = impedance * between(r, 0.3, 1)
	if r.IntN(2) == 0 {
		x.Inductance = impedance * between(r, 0.1, 1) / (2 * math.Pi * x.Frequency)
	}
	a, err := x.Averaged(context.Background())
	if err != nil {
		panic(err)
	}
	return a
}

// anySource gives a machine a source of any kind, several of them, or several
// resistors that may switch late, and returns the no-load voltage that it had.
func (m *machine) anySource(r *rand.Rand) float64 {
	volts, mean := m.bus.Source.NoLoadVoltage(), 0.0
	for _, s := range m.stations {
		mean += s.Positive().Mean()
	}
	mean = math.Max(mean, 20)
	if r.IntN(6) == 0 {
		m.bus.Source = randomAveraged(r, volts, 3*mean)
	} else if r.IntN(2) == 0 {
		m.bus.Source = bus.Parallel{randomSource(r, volts, 2*mean), randomSource(r, volts, 2*mean)}
	} else {
		m.bus.Source = randomSource(r, volts, 3*mean)
	}
	high := m.bus.High().Source.NoLoadVoltage()
	m.bus.Brakes = nil
	for k := range r.IntN(3) {
		on := high * between(r, 1.06, 1.1) * (1 + 0.02*float64(k))
		m.bus.Brakes = append(m.bus.Brakes, bus.BrakeResistor{
			Resistance: on * on / (mean * between(r, 2, 8)), OnVoltage: on, OffVoltage: on * 0.98, Delay: pick(r, 0, 1e-3, 1e-2),
		})
	}
	if m.bus.Validate() != nil {
		m.bus.Bank.SeriesResistance = 0
	}
	return volts
}
