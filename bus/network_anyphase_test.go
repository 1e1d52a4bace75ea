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

// Behind cables the bounds hold at the distribution point and at every drive, for
// random phasings and for all worst windows together.
func TestNetworkGuarantee(t *testing.T) {
	long(t)
	machines := 50
	if testing.Short() || raceDetector {
		machines = 16
	}
	exists, closest, drops := 0, math.Inf(1), 0.0
	for k := range machines {
		r := rand.New(rand.NewPCG(81, uint64(k)))
		m := randomMachine(r)
		n := bus.Network{Bus: m.bus}
		volts := n.Source.NoLoadVoltage()
		// Larger banks than the bare minimum, so that sag and drops are of one order.
		n.Bank.Capacitance *= 3
		power := 0.0
		for _, s := range m.stations {
			power += math.Abs(s.AbsMax().V)
		}
		stations := make([]bus.Station, len(m.stations))
		for i, s := range m.stations {
			for range 1 + r.IntN(2) {
				ohms := logBetween(r, 1e-3, 4e-2) * volts * volts / power
				n.Feeders = append(n.Feeders, bus.Feeder{
					Upstream: r.IntN(len(n.Feeders) + 1), Resistance: ohms, Capacitance: pick(r, 0, 20e-6/ohms, 2e-4/ohms),
				})
				stations[i].Repeats = bus.Strictly
				a := bus.AxisCycle{Feeder: len(n.Feeders), Power: s.Scale(between(r, 0.2, 0.5))}
				if k%2 == 0 {
					stations[i].Repeats = bus.Pausing
					a.Idle = a.Power.AbsMax().V * between(r, 0, 0.1)
				}
				stations[i].Axes = append(stations[i].Axes, a)
			}
		}
		g, err := n.AnyPhase(context.Background(), stations, nil)
		require.NoError(t, err)
		if !g.Sag.Exists || !g.Rise.Exists {
			continue
		}
		exists++
		longest := 0.0
		for _, s := range m.stations {
			longest = math.Max(longest, s.Duration())
		}
		for try := range 6 {
			loads := make([]profile.Curve, 1+len(n.Feeders))
			for i, s := range stations {
				offset := between(r, 0, s.Axes[0].Power.Duration())
				switch try {
				case 0:
					offset = g.Sag.Offsets[i]
				case 1:
					offset = g.Rise.Offsets[i]
				}
				first := bus.Cycle{Power: s.Axes[0].Power, Repeats: s.Repeats}
				stills := randomStills(r, first, offset, 3*longest)
				for _, a := range s.Axes {
					for j := range stills {
						stills[j].Power = a.Idle
					}
					c := bus.Cycle{Power: a.Power, Repeats: s.Repeats, Idle: a.Idle}
					loads[a.Feeder], err = c.Course(offset, stills, 3*longest)
					require.NoError(t, err)
				}
			}
			for _, corner := range []bus.Network{n.Low(), n.High()} {
				x, err := corner.Simulate(context.Background(), loads, bus.State{Voltage: corner.Source.NoLoadVoltage()})
				require.NoError(t, err)
				if x.Lowest.V < g.Sag.Voltage-tolerated || x.Highest.V > g.Rise.Voltage+tolerated {
					t.Fatalf("network %d: %g V to %g V, bounds %g V and %g V: %+v", k, x.Lowest.V, x.Highest.V, g.Sag.Voltage, g.Rise.Voltage, n)
				}
				for j, e := range x.Ends {
					if e.Lowest.V < g.Ends[j].Lowest-tolerated || e.Highest.V > g.Ends[j].Highest+tolerated {
						t.Fatalf("network %d, end %d: %g V to %g V, bounds %+v: %+v", k, j, e.Lowest.V, e.Highest.V, g.Ends[j], n)
					}
					drops = math.Max(drops, (x.Lowest.V-e.Lowest.V)/volts)
				}
				closest = math.Min(closest, (x.Lowest.V-g.Sag.Voltage)/volts)
			}
		}
	}
	t.Logf("%d networks with bounds; closest sag %.2g, largest drop %.2g of the voltage", exists, closest, drops)
	assert.Greater(t, exists, machines/3)
	assert.Less(t, closest, 0.02)
	if machines >= 50 { // the few of a short run need not have thin cables
		assert.Greater(t, drops, 0.003)
	}
}

// One axis of 500 W behind 0.1 ohm on a stiff bus of 50 V: 10 A at 49 V; the bound
// adds up what the cable burns at the lowest voltage that it confirms.
func TestNetworkGuaranteeByHand(t *testing.T) {
	n := bus.Network{
		Bus:     bus.Bus{Bank: bus.Bank{Capacitance: 0.1, RatedVoltage: 100}, Source: bus.SwitchMode{Voltage: 50, CurrentLimit: 20}},
		Feeders: []bus.Feeder{{Resistance: 0.1}},
	}
	load := steps(t, []float64{0, 0.1, 1}, 490, 20)
	g, err := n.AnyPhase(context.Background(), []bus.Station{{Axes: []bus.AxisCycle{{Feeder: 1, Power: load}}}}, nil)
	require.NoError(t, err)
	near(t, 50, g.Sag.Voltage, 1e-6, "within the limit the bus does not sag")
	near(t, 49, g.Ends[0].Lowest, 0.01, "end")
	assert.LessOrEqual(t, g.Ends[0].Lowest, 49+1e-9)
	near(t, 10, g.Ends[0].Drawn, 0.01, "current")
	near(t, 490+0.1*100, g.PeakDemand, 0.05, "with what the cable burns")

	// Too thin: 490 W behind 1.3 ohm are more than 50²/(4·1.3) = 481 W.
	n.Feeders[0].Resistance = 1.3
	g, err = n.AnyPhase(context.Background(), []bus.Station{{Axes: []bus.AxisCycle{{Feeder: 1, Power: load}}}}, nil)
	require.NoError(t, err)
	assert.False(t, g.Sag.Exists)
	assert.NotEmpty(t, g.Sag.Reason)

	_, err = n.AnyPhase(context.Background(), []bus.Station{{Axes: []bus.AxisCycle{{Feeder: 2, Power: load}}}, {}}, nil)
	require.Error(t, err)
	assert.Len(t, profile.InputErrors(err), 2)
}
