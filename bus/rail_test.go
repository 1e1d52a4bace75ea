package bus_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

// ohms is a cable of a given resistance.
func ohms(r float64) *bus.Cable {
	return &bus.Cable{Wire: bus.Wire{Section: 1e-6, Resistance: 0.01}, Parallel: 1, Temperature: 20, Terminals: r}
}

func assess(t testing.TB, r bus.Rail) *bus.RailResult {
	t.Helper()
	res, err := r.Assess()
	require.NoError(t, err)
	return res
}

// By hand, 24 V without tolerance, cables of 1 ohm.
//
//	constant power 44 W: v² - 24 v + 44 = 0, v = 22 V (and 2 V), 2 A
//	constant current 48 W at 24 V: 2 A, 22 V
//	ohmic 48 W at 24 V: 12 ohm, 24/13 A
func TestRailKinds(t *testing.T) {
	r := bus.Rail{Supply: bus.RailSupply{Voltage: 24, Efficiency: 0.8}, Consumers: []bus.RailConsumer{
		{Name: "logic", Count: 1, Kind: bus.PowerDraw, Holding: 44, Cable: ohms(1), MinVoltage: 22.5},
		{Name: "loop", Count: 1, Kind: bus.CurrentDraw, Holding: 48, Cable: ohms(1), MinVoltage: 22, MaxVoltage: 23},
		{Name: "coil", Count: 3, Kind: bus.OhmicDraw, Holding: 48, Cable: ohms(1)},
	}}
	res := assess(t, r)
	i := 4 + 3*24.0/13
	near(t, i, res.Mean, 1e-12, "mean")
	near(t, i, res.Sustained, 1e-12, "sustained")
	near(t, i, res.Peak, 1e-12, "peak")
	near(t, 0, res.PeakTime, 0, "peak time")
	require.Empty(t, res.PullingIn)
	near(t, 22, res.Consumers[0].Lowest, 1e-12, "constant power")
	near(t, 0.5, res.Consumers[0].Shortfall, 1e-12, "shortfall")
	near(t, 22, res.Consumers[1].Lowest, 1e-12, "constant current")
	near(t, 0, res.Consumers[1].Shortfall, 0, "shortfall")
	near(t, 1, res.Consumers[1].Excess, 1e-12, "excess")
	near(t, 24.0*12/13, res.Consumers[2].Lowest, 1e-12, "ohmic")
	near(t, 4+4+3*(24.0/13)*(24.0/13), res.CableLoss, 1e-12, "cable loss")
	near(t, 24*i, res.Output, 1e-10, "output")
	near(t, 30*i, res.Input, 1e-10, "input")
	near(t, 6*i, res.SupplyLoss, 1e-10, "supply loss")
	near(t, 30*i, res.PeakInput, 1e-10, "peak input")
	require.Zero(t, res.Continuous)
	require.Zero(t, res.PeakLoad)

	// Given at 20 V instead, the coil has 400/48 ohm and the loop 2.4 A.
	for k := range r.Consumers {
		r.Consumers[k].Voltage = 20
	}
	res = assess(t, r)
	near(t, 2+2.4+3*24/(1+400.0/48), res.Peak, 1e-12, "draws at another voltage")
}

// 144 W through 1 ohm from 24 V is the most there is, at 12 V; 145 W has no answer.
func TestRailNoOperatingPoint(t *testing.T) {
	r := bus.Rail{Supply: bus.RailSupply{Voltage: 24, Efficiency: 1}, Consumers: []bus.RailConsumer{
		{Name: "drive logic", Count: 1, Holding: 144, Cable: ohms(1), MinVoltage: 18},
		{Name: "lamp", Count: 1, Kind: bus.OhmicDraw, Holding: 24},
	}}
	res := assess(t, r)
	near(t, 12, res.Consumers[0].Lowest, 1e-6, "at the nose")
	near(t, 6, res.Consumers[0].Shortfall, 1e-6, "shortfall")
	r.Consumers[0].Holding = 145
	res = assess(t, r)
	require.True(t, res.Consumers[0].NoOperatingPoint)
	near(t, 18, res.Consumers[0].Shortfall, 0, "shortfall")
	near(t, 1, res.Peak, 1e-12, "the lamp alone")
	require.False(t, res.NoOperatingPoint)

	// The same behind a common feed collapses everybody, though each alone could:
	// 2 x 80 W through 1 ohm.
	r = bus.Rail{Supply: bus.RailSupply{Voltage: 24, Efficiency: 1}, Feed: ohms(1), Consumers: []bus.RailConsumer{{Name: "logic", Count: 2, Holding: 72}}}
	res = assess(t, r)
	near(t, 12, res.Consumers[0].Lowest, 1e-6, "at the nose")
	near(t, 12, res.Peak, 1e-6, "current at the nose")
	require.False(t, res.NoOperatingPoint)
	r.Consumers[0].Holding = 80
	res = assess(t, r)
	require.True(t, res.NoOperatingPoint)
	near(t, 0, res.Consumers[0].Lowest, 0, "collapsed")
}

// By hand: a feed of 0.5 ohm; 40 W of logic, a loop of 1 A and a coil of 20 ohm
// behind 1 ohm more at u = 20 V draw 2 + 1 + 20/21 A, so the supply has 20 + that/2.
func TestRailFeed(t *testing.T) {
	i := 3 + 20.0/21
	vs := 20 + i/2
	r := bus.Rail{Supply: bus.RailSupply{Voltage: vs, Efficiency: 1}, Feed: ohms(0.5), Consumers: []bus.RailConsumer{
		{Name: "logic", Count: 1, Holding: 40},
		{Name: "loop", Count: 2, Kind: bus.CurrentDraw, Holding: vs / 2},
		{Name: "coil", Count: 1, Kind: bus.OhmicDraw, Holding: vs * vs / 20, Cable: ohms(1)},
	}}
	res := assess(t, r)
	near(t, i, res.Mean, 1e-12, "current")
	near(t, 20, res.Consumers[0].Lowest, 1e-12, "logic")
	near(t, 20, res.Consumers[1].Lowest, 1e-12, "loop")
	near(t, 400.0/21, res.Consumers[2].Lowest, 1e-12, "coil")
	near(t, 0.5*i*i+(20.0/21)*(20.0/21), res.CableLoss, 1e-12, "loss")
	// What goes in comes out.
	near(t, res.Output, res.CableLoss+40+20+400.0/21*20/21, 1e-11, "balance")
}

// Tolerance: logic draws most at the lowest voltage, coils at the highest.
func TestRailCorners(t *testing.T) {
	r := bus.Rail{Supply: bus.RailSupply{Voltage: 24, Tolerance: 0.1, Efficiency: 1}, Consumers: []bus.RailConsumer{{Name: "a", Count: 1, Holding: 48, MaxVoltage: 26}}}
	res := assess(t, r)
	near(t, 48/21.6, res.Peak, 1e-12, "logic")
	near(t, 2, res.Mean, 1e-12, "mean")
	near(t, 48, res.PeakInput, 1e-12, "power")
	near(t, 21.6, res.Consumers[0].Lowest, 1e-12, "lowest")
	near(t, 0.4, res.Consumers[0].Excess, 1e-12, "excess")
	r.Consumers[0].Kind = bus.OhmicDraw
	res = assess(t, r)
	near(t, 2.2, res.Peak, 1e-12, "coil")
	near(t, 48*1.21, res.PeakInput, 1e-12, "power")
}

// Brakes with economiser: 24 W, then 6 W; valves 12 W, then 12 W; logic 24 W. By
// hand at 24 V in A.
func TestRailPullIn(t *testing.T) {
	base := func() bus.Rail {
		return bus.Rail{Supply: bus.RailSupply{Voltage: 24, Efficiency: 1, RatedCurrent: 4, BoostCurrent: 6, BoostTime: 0.2}, Consumers: []bus.RailConsumer{
			{Name: "brake", Count: 3, Kind: bus.OhmicDraw, PullIn: 24, PullInTime: 0.15, Holding: 6},
			{Name: "contactor", Count: 2, Kind: bus.OhmicDraw, PullIn: 48, PullInTime: 0.03, Holding: 3},
			{Name: "logic", Count: 1, Holding: 24},
		}}
	}
	r := base()
	res := assess(t, r)
	near(t, 0.75+0.25+1, res.Sustained, 1e-12, "sustained")
	near(t, 3+4+1, res.Peak, 1e-12, "peak: all at once")
	require.Equal(t, []string{"brake", "contactor"}, res.PullingIn)
	near(t, 0.15, res.PeakTime, 1e-15, "above sustained until the brakes hold")
	// After 30 ms 3 + 0.25 + 1 A are left, still above 4 A until 0.15 s.
	near(t, 0.15, res.OverTime, 1e-15, "above rated")
	near(t, 6, res.PeakLoad.Limit, 0, "boost holds for so long")
	require.False(t, res.PeakLoad.Within())
	r.Supply.BoostTime = 0.1
	near(t, 4, assess(t, r).PeakLoad.Limit, 0, "boost ends before")
	r.Supply.RatedCurrent, r.Supply.BoostCurrent = 4.5, 8
	res = assess(t, r)
	near(t, 0.03, res.OverTime, 1e-15, "above a larger rating")
	require.True(t, res.PeakLoad.Within())

	// Interlocked: 3 + 0.25 + 1 or 0.75 + 4 + 1.
	r = base()
	r.Consumers[0].Group, r.Consumers[1].Group = "axes", "power"
	res = assess(t, r)
	near(t, 5.75, res.Peak, 1e-12, "groups")
	require.Equal(t, []string{"contactor"}, res.PullingIn)
	near(t, 0.15, res.PeakTime, 1e-15, "the other group is longer above sustained")
	near(t, 0.15, res.OverTime, 1e-15, "4.25 A")

	// Brakes of no group may pull in with the contactors, not with the valves: 3 + 4 + 1
	// and 0.5 A.
	r.Consumers[0].Group = ""
	r.Consumers = append(r.Consumers, bus.RailConsumer{Name: "valve", Count: 1, Kind: bus.OhmicDraw, PullIn: 60, PullInTime: 0.05, Holding: 12, Group: "air"})
	res = assess(t, r)
	near(t, 8.5, res.Peak, 1e-12, "no group")
	require.Equal(t, []string{"brake", "contactor"}, res.PullingIn)

	// Half of the excess 2.25 + 3.75 A at once.
	r = base()
	r.Simultaneity = 0.5
	near(t, 2+3, assess(t, r).Peak, 1e-12, "factor")
	// Never less than the largest single one, 1.875 A.
	r.Simultaneity = 0.01
	near(t, 2+1.875, assess(t, r).Peak, 1e-12, "least factor")

	// Mean: brakes on half of the time, released 0.4 times a second: per brake
	// 0.5·6 + 0.4·0.15·18 = 4.08 W.
	r = base()
	r.Consumers[0].Duty, r.Consumers[0].Switchings = 0.5, 0.4
	near(t, 3*4.08/24+0.25+1, assess(t, r).Mean, 1e-12, "mean")
}

// A schedule over 1 s: A on from 0.2 to 0.6 s, B from 0.5 s to 0.1 s of the next
// cycle. Each pulls in 48 W for 0.05 s, then holds 12 W; logic 24 W, always.
func TestRailSchedule(t *testing.T) {
	coil := func(name string, from, to float64) bus.RailConsumer {
		return bus.RailConsumer{Name: name, Count: 1, Kind: bus.OhmicDraw, PullIn: 48, PullInTime: 0.05, Holding: 12, On: []bus.RailSpan{{From: from, To: to}}}
	}
	r := bus.Rail{Supply: bus.RailSupply{Voltage: 24, Efficiency: 1, RatedCurrent: 2.2}, Period: 1, Consumers: []bus.RailConsumer{
		coil("A", 0.2, 0.6), coil("B", 0.5, 1.1), {Name: "logic", Count: 1, Holding: 24},
	}}
	res := assess(t, r)
	for _, x := range [][2]float64{{0.05, 1.5}, {0.15, 1}, {0.22, 3}, {0.4, 1.5}, {0.52, 3.5}, {0.57, 2}, {0.8, 1.5}} {
		near(t, x[1], res.Current.At(x[0]), 1e-12, "current")
	}
	near(t, 2, res.Sustained, 1e-12, "sustained")
	near(t, 3.5, res.Peak, 1e-12, "peak")
	near(t, 0.5, res.PeakAt, 1e-15, "when")
	require.Equal(t, []string{"B"}, res.PullingIn)
	near(t, 0.05, res.PeakTime, 1e-12, "how long")
	near(t, 0.05, res.OverTime, 1e-12, "above 2.2 A")
	near(t, 1+0.5*0.4+0.5*0.6+1.5*0.1, res.Mean, 1e-12, "mean")

	// A valve that may switch any time, 12 W then 2.4 W for 0.08 s: with it 2.1 A
	// sustained and 4 A of peak; its own 2.5 A above 2.2 A join A's or B's pull-in
	// when both are on (0.5 to 0.6 s). B's pull-in 0.5 to 0.55, then 2 + 0.5 until
	// 0.6 at most: 0.1 s when the valve starts at 0.52 to 0.55 s.
	valve := bus.RailConsumer{Name: "valve", Count: 1, Kind: bus.OhmicDraw, PullIn: 12, PullInTime: 0.08, Holding: 2.4}
	r.Consumers = append(r.Consumers, valve)
	res = assess(t, r)
	near(t, 2.1, res.Sustained, 1e-12, "sustained")
	near(t, 4, res.Peak, 1e-12, "peak")
	require.Equal(t, []string{"B", "valve"}, res.PullingIn)
	near(t, 0.1, res.OverTime, 1e-12, "above 2.2 A")
	near(t, 0.1, res.PeakTime, 1e-12, "above sustained")
	require.False(t, res.PeakLoad.Within())

	// Rated so low that the valve alone brings the current above it beside one coil:
	// 1.5 + 0.5 > 1.95 A > 1.5 + 0.1 A cannot be asked while both on hold 2.1 A.
	r.Supply.RatedCurrent = 1.95
	res = assess(t, r)
	require.False(t, res.Continuous.Within())
	near(t, 0, res.OverTime, 0, "sustained is above already")
}
