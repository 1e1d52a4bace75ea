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

// hardMachine returns a machine of the kinds that bounds find hardest: supplies
// near what they can carry, several unlike ones, banks with much series resistance,
// several resistors close to each other, late ones, and a clamp beside them.
func hardMachine(r *rand.Rand) machine {
	m := randomMachine(r)
	volts, mean, drawn := m.bus.Source.NoLoadVoltage(), 0.0, 0.0
	for _, s := range m.stations {
		mean += s.Mean()
		drawn += s.Positive().Mean()
	}
	drawn = math.Max(drawn, 20)
	mean = math.Max(mean, 0.3*drawn)
	source := func(share float64) bus.Source {
		v := volts * pick(r, 1, 1, between(r, 0.8, 1))
		amps := share * mean / v
		s := bus.SwitchMode{Voltage: v, CurrentLimit: amps}
		switch r.IntN(6) {
		case 0:
			return bus.Resistive{OpenCircuit: v, Resistance: v * v / (4 * mean * share * between(r, 1, 5))}
		case 1:
			return bus.Battery{OpenCircuit: v, Resistance: v * v / (4 * mean * share * between(r, 1, 5)), ChargeLimit: amps * between(r, 0, 0.5)}
		case 2:
			s.Overload, s.FoldbackCurrent = bus.Foldback, amps*between(r, 0, 0.95)
		case 3:
			s.PeakCurrent, s.PeakTime, s.PeakRecovery = amps*between(r, 1.2, 3), between(r, 0.01, 0.1), between(r, 0.05, 0.5)
		case 4:
			s.DiodeDrop = 0.01 * v
		}
		return s
	}
	switch r.IntN(3) {
	case 0:
		m.bus.Source = source(between(r, 1.02, 3))
	case 1:
		m.bus.Source = bus.Parallel{source(between(r, 0.5, 2)), source(between(r, 0.5, 2))}
	case 2:
		m.bus.Source = bus.Parallel{source(between(r, 0.3, 1)), source(between(r, 0.3, 1)), source(between(r, 0.3, 1))}
	}
	high := m.bus.High().Source.NoLoadVoltage()
	m.bus.Bank.SeriesResistance = pick(r, 0.0, 1, 1) * logBetween(r, 0.001, 0.1) * volts * volts / drawn
	m.bus.Brakes = nil
	for range r.IntN(4) {
		on := high * between(r, 1.03, 1.12)
		m.bus.Brakes = append(m.bus.Brakes, bus.BrakeResistor{
			Resistance: on * on / (drawn * logBetween(r, 0.3, 30)), OnVoltage: on, OffVoltage: math.Max(1.001*high, on*between(r, 0.9, 0.99)), Delay: pick(r, 0, 0, 1e-3, 1e-2),
		})
	}
	if len(m.bus.Brakes) > 0 && r.IntN(3) == 0 {
		m.bus.Clamp = &bus.Clamp{Voltage: high * between(r, 1.01, 1.15), Resistance: high * high / (drawn * logBetween(r, 3, 300)), CurrentLimit: pick(r, 0, drawn/high*between(r, 0.2, 3))}
	}
	for m.bus.Validate() != nil {
		m.bus.Bank.SeriesResistance /= 2
		if m.bus.Bank.SeriesResistance < 1e-9 {
			m.bus.Bank.SeriesResistance = 0
			break
		}
	}
	return m
}

// An adversary looks for phases that pass the bounds: all worst windows together,
// any phases, and from the worst found downhill, one station at a time.
func TestAdversary(t *testing.T) {
	t.Parallel()
	machines := 60
	if testing.Short() || raceDetector {
		machines = 10
	}
	sags, rises, closest := 0, 0, [2]float64{1, 1}
	for k := range machines {
		r := rand.New(rand.NewPCG(97, uint64(k)))
		m := hardMachine(r)
		require.NoError(t, m.bus.Validate())
		g, err := m.bus.AnyPhase(context.Background(), bus.StrictlyPeriodic(m.stations), nil)
		require.NoError(t, err)
		if !g.Sag.Exists && !g.Rise.Exists {
			continue
		}
		longest := 0.0
		for _, s := range m.stations {
			longest = math.Max(longest, s.Duration())
		}
		volts := m.bus.Source.NoLoadVoltage()
		for side, b := range []bus.Bound{g.Sag, g.Rise} {
			if !b.Exists {
				continue
			}
			sign := float64(2*side - 1)
			at := func(offsets []float64) float64 { // how far towards the bound
				lowest, highest := m.lineUp(t, offsets, 4*longest)
				if beyond(g.Sag, lowest, -1) || beyond(g.Rise, highest, 1) {
					t.Errorf("machine %d, offsets %v: lowest %.12g V, bound %.12g V; highest %.12g V, bound %.12g V\n%+v %+v %+v",
						k, offsets, lowest, g.Sag.Voltage, highest, g.Rise.Voltage, m.bus, m.bus.Source, m.bus.Clamp)
				}
				return map[int]float64{0: -lowest, 1: highest}[side]
			}
			best := append([]float64{}, b.Offsets...)
			top := at(best)
			offsets := make([]float64, len(best))
			for try := range 20 {
				copy(offsets, best)
				for i, s := range m.stations {
					if try < 8 {
						offsets[i] = between(r, 0, s.Duration())
					} else if r.IntN(2) == 0 {
						offsets[i] = math.Mod(offsets[i]+s.Duration()*(1+0.3*r.NormFloat64()/float64(1+try/4)), s.Duration())
						if offsets[i] < 0 {
							offsets[i] += s.Duration()
						}
					}
				}
				if v := at(offsets); v > top {
					top = v
					copy(best, offsets)
				}
			}
			closest[side] = math.Min(closest[side], (sign*b.Voltage-top)/volts)
			if side == 0 {
				sags++
			} else {
				rises++
			}
			if t.Failed() {
				return
			}
		}
	}
	t.Logf("%d bounds on the sag, %d on the rise; closest %.2g and %.2g of the voltage", sags, rises, closest[0], closest[1])
	assert.Greater(t, sags, machines/4)
	assert.Greater(t, rises, machines/2)
	assert.Less(t, closest[0], 0.02)
	assert.Less(t, closest[1], 0.01)
}
