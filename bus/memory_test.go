package bus_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// times returns when events of a kind happened.
func times(r *bus.Result, kind bus.EventKind) (at []float64) {
	for _, e := range r.Events {
		if e.Kind == kind {
			at = append(at, e.Time)
		}
	}
	return at
}

// heater returns a network with a resistance of ohms on the bus that is switched
// on from on to off [s], within the time to end.
func heater(t *testing.T, b bus.Bus, ohms, on, off, end float64) (bus.Network, []profile.Curve) {
	t.Helper()
	states := []bus.Step{{0, 0}, {on, 1 / ohms}}
	if off < end {
		states = append(states, bus.Step{Time: off})
	}
	g, err := bus.Switched(states, end)
	require.NoError(t, err)
	return bus.Network{Bus: b, Switched: []bus.SwitchedLoad{{Conductance: g}}}, []profile.Curve{steps(t, []float64{0, end}, 0)}
}

func simulateNetwork(t *testing.T, n bus.Network, loads []profile.Curve, start float64) *bus.NetworkResult {
	t.Helper()
	r, err := n.Simulate(context.Background(), loads, bus.State{Voltage: start})
	require.NoError(t, err)
	near(t, 0, r.Energies.Residual, 1e-9*r.Energies.Throughput(), "residual")
	return r
}

// A resistance of 5 ohm on a supply of 50 V with 8 A: at the limit the bus falls
// towards 40 V with R C = 50 ms,
//
//	V = 40 + 10 exp(-t/50 ms)
//
// and after 100 ms at the limit the supply goes off, when the bus falls towards 0.
// 50 ms later it starts again from there towards 40 V, goes off once more, and so
// on. Times and voltages by hand.
func TestHiccup(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.01, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 50, CurrentLimit: 8, Overload: bus.Hiccup, Endurance: 0.1, Pause: 0.05},
	}
	n, loads := heater(t, b, 5, 0.05, 10, 0.48)
	r := simulateNetwork(t, n, loads, 50)
	assert.InDeltaSlice(t, []float64{0.15, 0.3, 0.45}, times(&r.Result, bus.SupplyShutsDown), 1e-12)
	assert.InDeltaSlice(t, []float64{0.2, 0.35}, times(&r.Result, bus.SupplyRestarts), 1e-12)
	v := 40 + 10*math.Exp(-2)
	near(t, v, r.Voltage.At(0.15), 1e-10, "when it goes off")
	v *= math.Exp(-1)
	near(t, v, r.Voltage.At(0.2), 1e-10, "when it starts again")
	v = 40 + (v-40)*math.Exp(-2)
	near(t, v, r.Voltage.At(0.3), 1e-10, "when it goes off again")

	// A load that ends in time lets it recover. The bank has to be charged again within
	// the time, too: 8.3 V with 8 A take 10 ms.
	n, loads = heater(t, b, 5, 0.05, 0.13, 0.5)
	r = simulateNetwork(t, n, loads, 50)
	assert.Empty(t, times(&r.Result, bus.SupplyShutsDown))
	near(t, 50, r.Voltage.At(0.45), 1e-10, "recovered")

	// One that latches stays off.
	n, loads = heater(t, b, 5, 0.05, 10, 0.2)
	n.Source = bus.SwitchMode{Voltage: 50, CurrentLimit: 8, Overload: bus.Latch, Endurance: 0.1}
	r = simulateNetwork(t, n, loads, 50)
	assert.InDeltaSlice(t, []float64{0.15}, times(&r.Result, bus.SupplyShutsDown), 1e-12)
	near(t, (40+10*math.Exp(-2))*math.Exp(-1), r.Voltage.At(0.2), 1e-10, "it stays off")

	// The state at the end carries on with what it remembers.
	again, err := n.Simulate(context.Background(), []profile.Curve{steps(t, []float64{0, 0.1}, 0)}, r.End)
	require.NoError(t, err)
	assert.Zero(t, again.Energies.Source)
}

// Folding back from 10 A at 50 V to 2 A at 0 V the current is 2 + 0.16 V. On
// 4 ohm the balance 2 + 0.16 V = V/4 is at 22.2 V, approached with the rate
// (1/4 - 0.16)/C = 9 per second from where the limit is reached, 50 V.
func TestFoldback(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.01, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 50, CurrentLimit: 10, Overload: bus.Foldback, FoldbackCurrent: 2},
	}
	n, loads := heater(t, b, 4, 0.1, 10, 0.6)
	r := simulateNetwork(t, n, loads, 50)
	near(t, 2/0.09+(50-2/0.09)*math.Exp(-9*0.5), r.Voltage.At(0.6), 1e-10, "voltage")
	near(t, 2+0.16*r.Voltage.At(0.4), r.SourceCurrent.At(0.4), 1e-12, "current")
	near(t, 8.4, b.Source.Current(40), 1e-12, "characteristic")
	// A load of constant power that the limit carries at 50 V, not a little below.
	r2 := simulate(t, b, steps(t, []float64{0, 0.2, 10}, 400, 501), 50)
	assert.True(t, r2.Collapsed)
}

// 12 A from a supply that bears 10 A for long and 15 A for 0.3 s: on 50/12 ohm
// it holds 50 V for 0.3 s, then falls towards 10 A · R = 41.67 V. When the
// heater goes at 0.6 s it holds 50 V again as soon as the bank is charged, and 3 s
// later, at rate 0.1, the peak is back.
func TestTimedPeak(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.01, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 50, CurrentLimit: 10, PeakCurrent: 15, PeakTime: 0.3, PeakRecovery: 3},
	}
	n, loads := heater(t, b, 50./12, 0.1, 0.6, 5)
	r := simulateNetwork(t, n, loads, 50)
	assert.InDeltaSlice(t, []float64{0.4}, times(&r.Result, bus.PeakUsedUp), 1e-12)
	near(t, 50, r.Voltage.At(0.39), 1e-12, "held")
	tau := 50. / 12 * 0.01
	v := 10 * 50. / 12
	near(t, v+(50-v)*math.Exp(-0.2/tau), r.Voltage.At(0.6), 1e-10, "on the continuous limit")
	// It recovers from the moment on at which it is not above 10 A: at once.
	assert.InDeltaSlice(t, []float64{3.4}, times(&r.Result, bus.PeakAvailable), 1e-12)

	// Half used up, half recovered: short peaks may go on for ever.
	cycle, err := bus.Switched([]bus.Step{{0, 12. / 50}, {0.1, 0}}, 2)
	require.NoError(t, err)
	n.Switched[0].Conductance = cycle
	s, err := n.SettledCycle(context.Background(), []profile.Curve{steps(t, []float64{0, 2}, 0)})
	require.NoError(t, err)
	assert.True(t, s.Repeats)
	near(t, 50, s.Lowest.V, 1e-12, "held for ever")
}

// Energy returned onto a supply with its own over-voltage shutdown drives it off,
// and the bus collapses when the axis draws again: the failure that only comes
// with a load that brakes hard. A blocking diode or a larger bank cures it.
func TestPumpedUp(t *testing.T) {
	supply := bus.SwitchMode{Voltage: 48, CurrentLimit: 10, OverVoltage: 56, OverVoltagePause: 2}
	b := bus.Bus{Bank: bus.Bank{Capacitance: 4e-3, RatedVoltage: 80}, Source: supply}
	// Returned: ½ C (56² - 48²) = 1.664 J are enough; 20 W of standby after.
	load := steps(t, []float64{0, 0.1, 0.2, 1}, 200, -50, 20)
	r := simulate(t, b, load, 48)
	// ½ C V² grows by 50 W: 56 V after 1.664 J/50 W.
	assert.InDeltaSlice(t, []float64{0.1 + 1.664/50}, times(r, bus.SupplyOverVoltage), 1e-12)
	assert.True(t, r.Collapsed)
	// 5 J returned in all, and 20 W empty the bank before the pause of 2 s is over.
	assert.Less(t, r.Voltage.End(), 0.2+(4.608+5)/20)

	supply.DiodeDrop = 0.7
	b.Source = supply
	r = simulate(t, b, load, 47.3)
	assert.Empty(t, times(r, bus.SupplyOverVoltage))
	assert.False(t, r.Collapsed)
	near(t, 47.3, r.End.Voltage, 1e-9, "held, less the drop")
	near(t, 0.7*r.SourceCurrent.Integral(), r.Supplies[0].DiodeHeat, 1e-12, "heat of the diode")
	near(t, 47.3*47.3*4e-3/2+5, 4e-3/2*r.Highest.V*r.Highest.V, 1e-9, "all that is returned is stored")

	supply.DiodeDrop = 0
	b.Source, b.Bank.Capacitance = supply, 2*5/(56*56-48*48.)*1.01
	r = simulate(t, b, load, 48)
	assert.Empty(t, times(r, bus.SupplyOverVoltage))
	near(t, 48, r.End.Voltage, 1e-9, "held")

	// With a pause shorter than the time the bus takes to come down it stays off
	// until then, then carries on.
	supply.OverVoltagePause = 0.05
	b.Source, b.Bank.Capacitance = supply, 4e-3
	r = simulate(t, b, load, 48)
	assert.NotEmpty(t, times(r, bus.SupplyRestarts))
	assert.False(t, r.Collapsed)
	near(t, 48, r.End.Voltage, 1e-9, "held")
}

// The bank's energy grows by 100 W: 80 V and 84 V are reached at instants known by
// hand; resistors come on a delay later, and off a delay after the bus has fallen.
func TestBrakeDelay(t *testing.T) {
	b := bus.Bus{
		Bank: bus.Bank{Capacitance: 0.02, RatedVoltage: 120},
		Brakes: []bus.BrakeResistor{
			{Resistance: 40, OnVoltage: 80, OffVoltage: 78, Delay: 0.02},
			{Resistance: 10, OnVoltage: 84, OffVoltage: 79},
		},
	}
	r := simulate(t, b, steps(t, []float64{0, 10}, -200), 70)
	first := 0.01 * (80*80 - 70*70.) / 200
	require.NotEmpty(t, r.Events)
	assert.Equal(t, 0, r.Events[0].Index)
	near(t, first+0.02, r.Events[0].Time, 1e-12, "on after its delay")
	at := math.Sqrt(70*70 + 200*(first+0.02)/0.01)
	near(t, at, r.Events[0].Voltage, 1e-10, "voltage by then")
	// With 40 ohm on: C dV/dt = 200/V - V/40: V² = 8000 + (at² - 8000) exp(-2 t/RC).
	second := 0.4 * math.Log((8000-at*at)/(8000-84*84))
	near(t, first+0.02+second, r.Events[1].Time, 1e-10, "second resistor")
	assert.Equal(t, 1, r.Events[1].Index)
	// Both on: 8 ohm, towards V² = 200·8; the second goes off at 79 V, at once.
	off := 0.08 * math.Log((84*84-1600.)/(79*79-1600))
	near(t, first+0.02+second+off, r.Events[2].Time, 1e-10, "second off")
	assert.Equal(t, bus.BrakeOff, r.Events[2].Kind)
	near(t, r.Energies.Resistor, r.Brakes[0].Energy+r.Brakes[1].Energy, 1e-9, "both together")
	on := r.Brakes[1]
	assert.Greater(t, on.Times, 1)
	assert.LessOrEqual(t, on.Highest, on.Energy)
	assert.Positive(t, on.OnTime)

	// A dip shorter than the delay leaves the resistor on.
	b.Brakes = b.Brakes[:1]
	load := steps(t, []float64{0, 0.2, 0.21, 0.22, 0.4}, -2500, 2500, -2500, -100)
	r = simulate(t, b, load, 79)
	assert.Len(t, times(r, bus.BrakeOn), 1)
	// And one pulse above the threshold shorter than the delay does not turn it on.
	r = simulate(t, b, steps(t, []float64{0, 0.002, 0.004, 0.3}, -200, 3000, 0), 79.9)
	assert.Empty(t, r.Events)
}

// A clamp at 80 V with 2 ohm and 500 W returned settles where V (V - 80)/2 = 500.
func TestClamp(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 2e-3, RatedVoltage: 120}, Clamp: &bus.Clamp{Voltage: 80, Resistance: 2}}
	r := simulate(t, b, steps(t, []float64{0, 2}, -500), 70)
	v := 40 + math.Sqrt(1600+1000)
	near(t, v, r.End.Voltage, 1e-9, "settled")
	near(t, v, r.Highest.V, 1e-9, "nothing beyond")
	near(t, 1000+0.001*(70*70-v*v), r.Energies.Clamp, 1e-8, "burned")
	// At its limit of 3 A it takes 3 V: 500 W are too much.
	b.Clamp.CurrentLimit = 3
	r = simulate(t, b, steps(t, []float64{0, 2}, -500), 70)
	assert.Greater(t, r.Highest.V, 130.)
	near(t, 3, b.Clamp.Current(1000), 0, "at its limit")
	near(t, 0.5, b.Clamp.Current(81), 1e-12, "on its line")
}

// 12 A between a supply of 50.1 V and 8 A and one of 50 V and 10 A: the first gives
// all it has, the second the rest, at its set point. Equal ones share by limit.
func TestParallel(t *testing.T) {
	a, z := bus.SwitchMode{Voltage: 50.1, CurrentLimit: 8}, bus.SwitchMode{Voltage: 50, CurrentLimit: 10}
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.01, SeriesResistance: 1e-3, RatedVoltage: 100}, Source: bus.Parallel{a, z}}
	r := simulate(t, b, steps(t, []float64{0, 1, 2, 3}, 200, 600, 0), 50)
	near(t, 200/50.1, r.Supplies[0].Current.At(0.9), 1e-9, "alone")
	near(t, 0, r.Supplies[1].Current.At(0.9), 1e-9, "idle")
	near(t, 8, r.Supplies[0].Current.At(1.9), 1e-9, "at its limit")
	near(t, 4, r.Supplies[1].Current.At(1.9), 1e-9, "the rest")
	near(t, 50, r.Voltage.At(1.9), 1e-9, "at the lower set point")
	near(t, r.Energies.Source, r.Supplies[0].Energy+r.Supplies[1].Energy, 1e-8, "both together")

	a.Voltage = 50
	b.Source = bus.Parallel{a, z}
	r = simulate(t, b, steps(t, []float64{0, 2}, 450), 50)
	near(t, 4, r.Supplies[0].Current.At(1.9), 1e-9, "8/18 of 9 A")
	near(t, 5, r.Supplies[1].Current.At(1.9), 1e-9, "10/18")

	// One that shuts down leaves the other alone.
	a.Overload, a.Endurance, a.Voltage = bus.Latch, 0.2, 50.1
	b.Source = bus.Parallel{a, z}
	r = simulate(t, b, steps(t, []float64{0, 1, 2}, 600, 400), 50)
	require.Len(t, times(r, bus.SupplyShutsDown), 1)
	near(t, 0, r.Supplies[0].Current.At(1.5), 1e-12, "off")
	near(t, r.SourceCurrent.At(1.5), r.Supplies[1].Current.At(1.5), 1e-12, "alone")
}

// 100 W returned onto a battery of 48 V and 0.1 ohm that accepts 3 A: it takes
// 100 W/V until V = 48 + 0.1 I; 100 W are 2.08 A. 300 W are beyond 3 A, the rest
// goes into the bank.
func TestBattery(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.01, RatedVoltage: 100}, Source: bus.Battery{OpenCircuit: 48, Resistance: 0.1, ChargeLimit: 3}}
	r := simulate(t, b, steps(t, []float64{0, 1}, -100), 48)
	v := 24 + math.Sqrt(24*24+10)
	near(t, v, r.End.Voltage, 1e-9, "voltage")
	near(t, -100/v, r.SourceCurrent.At(0.9), 1e-9, "charging")
	near(t, 100-0.005*(v*v-48*48), r.Energies.Accepted, 1e-8, "taken back")
	r = simulate(t, b, steps(t, []float64{0, 1}, -300), 48)
	near(t, -3, r.SourceCurrent.At(0.9), 1e-12, "no more than it accepts")
	assert.Greater(t, r.End.Voltage, 90.)
	s, err := b.SettledCycle(context.Background(), steps(t, []float64{0, 1, 2}, -100, 40))
	require.NoError(t, err)
	assert.True(t, s.Repeats, "a net return onto a battery settles")
}

// A trip that releases the axes ends what they take and return.
func TestTripsRelease(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.01, RatedVoltage: 100}, OverVoltage: 80, UnderVoltage: 40, TripsRelease: true, Bleeder: 100}
	r := simulate(t, b, steps(t, []float64{0, 1}, -300), 70)
	require.Equal(t, bus.OverVoltage, r.Events[0].Kind)
	require.Equal(t, bus.LoadsOff, r.Events[1].Kind)
	at := r.Events[0].Time
	near(t, 80, r.Highest.V, 1e-9, "no higher")
	near(t, 80*math.Exp(-(1-at)), r.End.Voltage, 1e-9, "then the bleeder discharges it")
	near(t, 300*at, r.Energies.Returned, 1e-9, "returned until then")
	near(t, 0, r.Load.At(0.99), 0, "nothing after")
}
