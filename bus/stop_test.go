package bus_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// stopOf returns a station with the figures of one or more stops, its most returning and
// most drawing ones among them. The figures are taken from sums over small steps.
func stopOf(t testing.TB, rest float64, powers ...profile.Curve) bus.StationStop {
	t.Helper()
	s := bus.StationStop{Rest: rest, PeakDrawn: rest, Returned: -1, Drawn: -1}
	for _, p := range powers {
		const n = 6000
		h := p.Duration() / n
		a, low, high := 0.0, 0.0, 0.0
		returned, drawn := 0.0, 0.0
		for i := range n {
			a = p.IntegralBetween(0, float64(i+1)*h)
			low, high = math.Min(low, a), math.Max(high, a)
			returned, drawn = math.Max(returned, -a), math.Max(drawn, a)
			s.ReturnedWithin = math.Max(s.ReturnedWithin, high-a)
			s.DrawnWithin = math.Max(s.DrawnWithin, a-low)
			s.PeakReturned = math.Max(s.PeakReturned, -p.At((float64(i)+0.5)*h))
			s.PeakDrawn = math.Max(s.PeakDrawn, p.At((float64(i)+0.5)*h))
		}
		if returned > s.Returned {
			s.Returned, s.MostReturned = returned, p
		}
		if drawn > s.Drawn {
			s.Drawn, s.MostDrawn = drawn, p
		}
		s.Duration = math.Max(s.Duration, p.Duration())
	}
	s.Returned, s.Drawn = math.Max(0, s.Returned), math.Max(0, s.Drawn)
	return s
}

func stopRise(t testing.TB, b bus.Bus, stations []bus.StationStop, from float64) bus.StopRise {
	t.Helper()
	r, err := b.StopRise(context.Background(), stations, from)
	require.NoError(t, err)
	return r
}

func stopSag(t testing.TB, b bus.Bus, stations []bus.StationStop, from float64) bus.StopSag {
	t.Helper()
	r, err := b.StopSag(context.Background(), stations, from)
	require.NoError(t, err)
	return r
}

// TestStopRiseByHand: 1 mF, at 20 % less 0.8 mF, from 100 V: 4 J make 100² + 2·4/0.8e-3 =
// 20000, so 141.42 V. Two stations return 1 and 3 J at once. A resistor of 10 ohm that
// comes on at 120 V takes 1440 W there, above their 100 + 100 W, and burns what
// is more: 4 J less what is left in the bank below.
func TestStopRiseByHand(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, RatedVoltage: 200, ToleranceLow: 0.2}}
	stations := []bus.StationStop{
		stopOf(t, 0, steps(t, []float64{0, 0.01}, -100)),
		stopOf(t, 0, steps(t, []float64{0, 0.03}, -100)),
	}
	r := stopRise(t, b, stations, 100)
	near(t, math.Sqrt(20000), r.Voltage, 1e-9, "bound")
	near(t, math.Sqrt(20000), r.Result.Highest.V, 1e-9, "simulated")
	require.Zero(t, r.Resistor)

	// With a supply of 110 V the bus may have been filled up after the stop began.
	fed := b
	fed.Source = bus.Resistive{OpenCircuit: 110, Resistance: 1}
	near(t, math.Sqrt(110*110+10000), stopRise(t, fed, stations, 100).Voltage, 1e-9, "bound with supply")
	near(t, math.Sqrt(115*115+10000), stopRise(t, fed, stations, 115).Voltage, 1e-9, "bound from above the supply")

	b.Brakes = []bus.BrakeResistor{{Resistance: 10, OnVoltage: 120, OffVoltage: 115}}
	r = stopRise(t, b, stations, 100)
	near(t, 120, r.Voltage, 1e-12, "bound with resistor")
	near(t, 120, r.Result.Highest.V, 1e-9, "simulated with resistor")
	require.LessOrEqual(t, r.Result.Energies.Resistor, r.Resistor)
	near(t, 4, r.Resistor, 1e-9, "all that was returned")
	// From 100 to between 115 and 120 V the bank takes 1.29 to 1.76 J of the 4.
	require.InDelta(t, 2.5, r.Result.Energies.Resistor, 0.25)

	// Started at 118 V, C/2 (118² - 115²) may be burned besides.
	near(t, 4+0.4e-3*(118*118-115*115), stopRise(t, b, stations, 118).Resistor, 1e-9, "and what was stored")

	// A resistor that is too weak does not hold the bus; a delay lets it rise by 200 W for 5 ms.
	b.Brakes[0].Delay = 5e-3
	near(t, math.Sqrt(120*120+2*200*5e-3/0.8e-3), stopRise(t, b, stations, 100).Voltage, 1e-9, "delayed")
	near(t, 4+115*115/10.*5e-3, stopRise(t, b, stations, 100).Resistor, 1e-9, "burned during the delay")
	b.Brakes[0].Resistance = 100
	near(t, math.Sqrt(20000), stopRise(t, b, stations, 100).Voltage, 1e-9, "too weak a resistor")
}

// TestStopSagByHand: 1 mF from 100 V, 2 J drawn at 100 W, then 1 J returned; another
// station draws 10 W at rest: 100² - 2 (2 + 0.3)/1e-3 = 5400.
func TestStopSagByHand(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, RatedVoltage: 200}, UnderVoltage: 70}
	stations := []bus.StationStop{
		stopOf(t, 0, steps(t, []float64{0, 0.02, 0.03}, 100, -100)),
		{Rest: 10, PeakDrawn: 10},
	}
	r := stopSag(t, b, stations, 100)
	near(t, math.Sqrt(10000-2*2.3/1e-3), r.Voltage, 1e-9, "bound")
	near(t, math.Sqrt(10000-2*2.2/1e-3), r.Result.Lowest.V, 1e-9, "simulated, after 20 ms")
	require.True(t, r.Suffice)
	b.UnderVoltage = 74
	r = stopSag(t, b, stations, 100)
	require.False(t, r.Suffice)
	b.UnderVoltage = 0
	require.False(t, stopSag(t, b, stations, 100).Suffice)

	// What was returned first may be burned at 95 V, and then 2 J drawn.
	b.Brakes = []bus.BrakeResistor{{Resistance: 10, OnVoltage: 105, OffVoltage: 95}}
	near(t, math.Sqrt(95*95-2*2.3/1e-3), stopSag(t, b, stations, 100).Voltage, 1e-9, "bound with resistor")

	// More than there is: no bound, and the simulation collapses.
	big := []bus.StationStop{stopOf(t, 0, steps(t, []float64{0, 0.1}, 100))}
	r = stopSag(t, bus.Bus{Bank: b.Bank}, big, 100)
	require.Zero(t, r.Voltage)
	require.True(t, r.Result.Collapsed)

	// At rest nothing happens.
	still := []bus.StationStop{{}}
	r = stopSag(t, bus.Bus{Bank: b.Bank}, still, 100)
	near(t, 100, r.Voltage, 1e-12, "at rest")
	require.Nil(t, r.Result)
	require.Nil(t, stopRise(t, bus.Bus{Bank: b.Bank}, still, 100).Result)
}

// TestStopSagThroughResistance: 100 W for 20 ms from 100 V through 5 ohm. The bank gives at
// least 2 J, and the bus is at least 5 V below it; the bound is below the simulation.
func TestStopSagThroughResistance(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, SeriesResistance: 5, RatedVoltage: 200}}
	r := stopSag(t, b, []bus.StationStop{stopOf(t, 0, steps(t, []float64{0, 0.02}, 100))}, 100)
	require.LessOrEqual(t, r.Voltage, r.Result.Lowest.V)
	require.Greater(t, r.Voltage, r.Result.Lowest.V-2)
	require.Less(t, r.Voltage, math.Sqrt(6000)-5)
	// The losses alone, without the drop at the end: 75 ohm·A² and more for 20 ms.
	bank := r.Voltage + 5*100/r.Voltage
	require.LessOrEqual(t, bank*bank, 6000-2*5*1*0.02/1e-3+1e-6)
}

// randomStop returns the power of a stop: pieces of any sign, more returned than drawn.
func randomStop(r *rand.Rand, scale float64) profile.Curve {
	c := randomCycle(r, scale)
	return c.Scale(pick(r, -1.0, 1.0))
}

// TestStopBounds: whatever stops the stations make of those that their figures are for, the
// bus stays within the bounds and the resistors within theirs, on all kinds of buses.
func TestStopBounds(t *testing.T) {
	rises, sags, burned := 0, 0, 0
	for seed := range uint64(150) {
		r := rand.New(rand.NewPCG(seed, 81))
		m := randomMachine(r)
		b := m.bus
		top := b.High().Source.NoLoadVoltage()
		switch r.IntN(3) {
		case 0:
			b.Source = nil
		case 1:
			b.Source = bus.Resistive{OpenCircuit: top, Resistance: top * top / 5000}
		}
		var stations []bus.StationStop
		var choices [][]profile.Curve
		for range 1 + r.IntN(3) {
			scale := logBetween(r, 100, 3000)
			all := []profile.Curve{randomStop(r, scale), randomStop(r, scale), randomStop(r, scale)}
			choices = append(choices, all)
			stations = append(stations, stopOf(t, pick(r, 0, between(r, 1, 50)), all...))
		}
		from := top * between(r, 0.9, 1.05)
		rise := stopRise(t, b, stations, from)
		sag := stopSag(t, b, stations, from)
		for try := range 6 {
			picked := make([]bus.StationStop, len(stations))
			for i := range picked {
				picked[i] = stations[i]
				picked[i].MostReturned = pick(r, choices[i]...)
				picked[i].MostDrawn = picked[i].MostReturned
			}
			what := fmt.Sprintf("seed %d, try %d", seed, try)
			up := stopRise(t, b, picked, from)
			if h := up.Result.Highest.V; !up.Result.Collapsed {
				require.LessOrEqual(t, h, rise.Voltage*(1+1e-6), what)
				require.LessOrEqual(t, up.Result.Energies.Resistor+up.Result.Energies.Clamp, rise.Resistor*(1+1e-4)+1e-6, what)
				rises++
				if up.Result.Energies.Resistor > 0 {
					burned++
				}
			}
			down := stopSag(t, b, picked, from)
			if sag.Voltage > 0 {
				require.False(t, down.Result.Collapsed && sag.Voltage > 0.2*from, what)
				if !down.Result.Collapsed {
					require.GreaterOrEqual(t, down.Result.Lowest.V, sag.Voltage*(1-1e-6)-1e-4*from, what)
					sags++
				}
			}
		}
	}
	t.Logf("%d rises, %d of them with a resistor, %d sags", rises, burned, sags)
	require.Greater(t, rises, 100)
	require.Greater(t, burned, 20)
	require.Greater(t, sags, 50)
}

func TestStopRefuses(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, RatedVoltage: 200}}
	c := steps(t, []float64{0, 1}, 1)
	bad := []bus.StationStop{{Returned: math.NaN(), Drawn: 1, ReturnedWithin: -1, PeakReturned: -1, PeakDrawn: math.Inf(1), Duration: 0.5, Rest: -1, MostDrawn: c}}
	want := []string{"stations[0].returned", "stations[0].peakReturned", "stations[0].peakDrawn", "stations[0].rest",
		"stations[0].returnedWithin", "stations[0].drawnWithin", "stations[0].mostDrawn", "from"}
	_, err := b.StopRise(context.Background(), bad, 0)
	require.Equal(t, want, paths(err))
	_, err = b.StopSag(context.Background(), bad, 0)
	require.Equal(t, want, paths(err))
	_, err = bus.Bus{}.StopRise(context.Background(), nil, 100)
	require.Equal(t, []string{"bus.bank.capacitance", "bus.bank.ratedVoltage", "stations", "from"}[:3], paths(err)[:3])
	_, err = b.StopRise(context.Background(), []bus.StationStop{{Returned: 1e308, ReturnedWithin: 1e308}, {Returned: 1e308, ReturnedWithin: 1e308}}, 100)
	require.Equal(t, []string{"stations"}, paths(err))
}
