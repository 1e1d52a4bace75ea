package bus_test

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

func goodRail() bus.Rail {
	return bus.Rail{
		Supply: bus.RailSupply{Voltage: 24, Tolerance: 0.02, RatedCurrent: 10, BoostCurrent: 15, BoostTime: 1, Efficiency: 0.9,
			Store: &bus.SupplyStore{Capacitance: 1e-4, From: 320, To: 220}},
		Capacitance: 0.01, Feed: ohms(0.01), Period: 2,
		Consumers: []bus.RailConsumer{
			{Name: "a", Count: 2, Holding: 10, PullIn: 20, PullInTime: 0.1, MinVoltage: 20, MaxVoltage: 28, Cable: ohms(0.1), Duty: 0.5, Switchings: 1},
			{Name: "b", Count: 1, Kind: bus.OhmicDraw, Holding: 5, PullIn: 20, PullInTime: 0.1, On: []bus.RailSpan{{0.2, 0.5}, {0.6, 2.1}}},
		},
	}
}

func TestRailBadInput(t *testing.T) {
	require.NoError(t, goodRail().Validate())
	positive := []float64{nan, inf, -inf, 0, -1}
	atLeastZero := []float64{nan, inf, -1}
	for _, tc := range []struct {
		path   string
		values []float64
		set    func(r *bus.Rail, v float64)
	}{
		{"supply.voltage", positive, func(r *bus.Rail, v float64) { r.Supply.Voltage = v }},
		{"supply.tolerance", []float64{nan, -0.1, 1}, func(r *bus.Rail, v float64) { r.Supply.Tolerance = v }},
		{"supply.ratedCurrent", atLeastZero, func(r *bus.Rail, v float64) {
			r.Supply.RatedCurrent, r.Supply.BoostCurrent, r.Supply.BoostTime = v, 0, 0
		}},
		{"supply.boostCurrent", append(atLeastZero, 9), func(r *bus.Rail, v float64) {
			r.Supply.BoostCurrent = v
			if !(v > 0) || math.IsInf(v, 1) {
				r.Supply.BoostTime = 0
			}
		}},
		{"supply.boostCurrent", []float64{9}, func(r *bus.Rail, v float64) { r.Supply.RatedCurrent = 0 }},
		{"supply.boostTime", positive, func(r *bus.Rail, v float64) { r.Supply.BoostTime = v }},
		{"supply.boostTime", []float64{nan, 1}, func(r *bus.Rail, v float64) { r.Supply.BoostCurrent, r.Supply.BoostTime = 0, v }},
		{"supply.efficiency", append(positive, 1.01), func(r *bus.Rail, v float64) { r.Supply.Efficiency = v }},
		{"supply.holdUpTime", append(atLeastZero, 1), func(r *bus.Rail, v float64) { r.Supply.HoldUpTime = v }},
		{"supply.holdUpTime", []float64{1}, func(r *bus.Rail, v float64) {
			r.Supply = bus.RailSupply{Voltage: 24, Efficiency: 1, HoldUpTime: v}
		}},
		{"supply.store.capacitance", positive, func(r *bus.Rail, v float64) { r.Supply.Store.Capacitance = v }},
		{"supply.store.from", positive, func(r *bus.Rail, v float64) { r.Supply.Store.From = v }},
		{"supply.store.to", append(positive, 320), func(r *bus.Rail, v float64) { r.Supply.Store.To = v }},
		{"capacitance", atLeastZero, func(r *bus.Rail, v float64) { r.Capacitance = v }},
		{"feed.terminals", atLeastZero, func(r *bus.Rail, v float64) { r.Feed.Terminals = v }},
		{"simultaneity", append(atLeastZero, 1.1), func(r *bus.Rail, v float64) { r.Simultaneity = v }},
		{"simultaneity", []float64{0.5}, func(r *bus.Rail, v float64) { r.Simultaneity, r.Consumers[0].Group = v, "x" }},
		{"period", []float64{nan, inf, -1}, func(r *bus.Rail, v float64) { r.Period = v }},
		{"consumers", []float64{0}, func(r *bus.Rail, v float64) { r.Consumers = nil }},
		{"consumers", []float64{101}, func(r *bus.Rail, v float64) { r.Consumers = slices.Repeat(r.Consumers[:1], int(v)) }},
		{"consumers", []float64{51}, func(r *bus.Rail, v float64) { r.Consumers = slices.Repeat(r.Consumers[1:], int(v)) }},
		{"consumers[0].count", []float64{0, -1, 1e7}, func(r *bus.Rail, v float64) { r.Consumers[0].Count = int(v) }},
		{"consumers[0].kind", []float64{-1, 3}, func(r *bus.Rail, v float64) { r.Consumers[0].Kind = bus.DrawKind(v) }},
		{"consumers[0].voltage", atLeastZero, func(r *bus.Rail, v float64) { r.Consumers[0].Voltage = v }},
		{"consumers[0].holding", atLeastZero, func(r *bus.Rail, v float64) { r.Consumers[0].Holding = v }},
		{"consumers[0].pullIn", []float64{nan, inf, -1, 9}, func(r *bus.Rail, v float64) {
			r.Consumers[0].PullIn = v
			if v != 9 {
				r.Consumers[0].PullInTime = 0
			}
		}},
		{"consumers[0].pullInTime", append(positive, 2.1), func(r *bus.Rail, v float64) { r.Consumers[0].PullInTime, r.Consumers[0].Switchings = v, 0 }},
		{"consumers[0].pullInTime", []float64{nan, 1}, func(r *bus.Rail, v float64) {
			r.Consumers[0].PullIn, r.Consumers[0].PullInTime, r.Consumers[0].Switchings = 0, v, 0
		}},
		{"consumers[0].minVoltage", atLeastZero, func(r *bus.Rail, v float64) { r.Consumers[0].MinVoltage = v }},
		{"consumers[0].maxVoltage", append(atLeastZero, 20), func(r *bus.Rail, v float64) { r.Consumers[0].MaxVoltage = v }},
		{"consumers[0].cable.length", atLeastZero, func(r *bus.Rail, v float64) { r.Consumers[0].Cable.Length = v }},
		{"consumers[0].duty", append(atLeastZero, 1.1), func(r *bus.Rail, v float64) { r.Consumers[0].Duty, r.Consumers[0].Switchings = v, 0 }},
		{"consumers[0].switchings", append(atLeastZero, 5.1), func(r *bus.Rail, v float64) { r.Consumers[0].Switchings = v }},
		{"consumers[1].on", []float64{0}, func(r *bus.Rail, v float64) { r.Period = v }},
		{"consumers[1].on", []float64{0.5}, func(r *bus.Rail, v float64) { r.Consumers[1].Duty = v }},
		{"consumers[1].on[0].from", []float64{nan, inf, -0.1}, func(r *bus.Rail, v float64) {
			r.Consumers[1].On = []bus.RailSpan{{v, 0.5}}
			if v != -0.1 {
				r.Consumers[1].On[0].To = 0.5
			}
		}},
		{"consumers[1].on[1].from", []float64{nan, 0.4}, func(r *bus.Rail, v float64) { r.Consumers[1].On[1].From = v }},
		{"consumers[1].on[1].to", []float64{nan, inf, 0.6, 0.1, 2.3}, func(r *bus.Rail, v float64) { r.Consumers[1].On[1].To = v }},
	} {
		for _, v := range tc.values {
			r := goodRail()
			tc.set(&r, v)
			name := fmt.Sprintf("%s = %g", tc.path, v)
			got := paths(r.Validate())
			require.Contains(t, got, tc.path, name)
			for _, p := range got {
				// A NaN in one end of a span also spoils what is said of the other.
				require.True(t, p == tc.path || len(tc.path) > 15 && p[:12] == tc.path[:12], "%s: %s", name, p)
			}
			_, err := r.Assess()
			require.Equal(t, got, paths(err), name)
			_, err = r.HoldUp()
			require.Equal(t, got, paths(err), name)
		}
	}
}

// rail reads a rail of any numbers.
func (n *numbers) rail() (r bus.Rail) {
	cable := func() *bus.Cable {
		if n.byte()&1 == 0 {
			return nil
		}
		return ohms(n.next() / 1000)
	}
	share := func() float64 { return float64(n.byte()) / 255 }
	r.Supply = bus.RailSupply{Voltage: n.next(), Tolerance: share() / 2, Efficiency: share(), RatedCurrent: n.next()}
	r.Capacitance, r.Feed = n.next(), cable()
	if n.byte()&1 > 0 {
		r.Period = n.next()
	}
	if n.byte()&1 > 0 {
		r.Simultaneity = share()
	}
	for range 1 + n.byte()%5 {
		c := bus.RailConsumer{Count: int(n.byte()), Kind: bus.DrawKind(n.byte() % 3), Holding: n.next(), MinVoltage: n.next(), Cable: cable()}
		kinds := n.byte()
		if kinds&1 > 0 {
			c.PullIn, c.PullInTime = c.Holding+n.next(), n.next()
		}
		if kinds&2 > 0 {
			from := share() * r.Period
			c.On = []bus.RailSpan{{from, from + share()*r.Period}}
		} else {
			c.Duty, c.Switchings = share(), n.next()
		}
		if kinds&4 > 0 {
			c.Voltage = n.next()
		}
		r.Consumers = append(r.Consumers, c)
	}
	return r
}

// checkRailResult holds an answer against what must be true of every one.
func checkRailResult(t testing.TB, r bus.Rail) {
	res, err := r.Assess()
	if err == nil {
		requireFinite(t, res.Mean, res.Sustained, res.Peak, res.PeakAt, res.PeakTime, res.OverTime, res.Output, res.CableLoss, res.SupplyLoss, res.Input, res.PeakInput)
		require.GreaterOrEqual(t, res.PeakTime, 0.0)
		if !res.NoOperatingPoint {
			require.LessOrEqual(t, res.Sustained, res.Peak*(1+1e-9)+1e-300, "sustained above peak")
			require.LessOrEqual(t, res.CableLoss, res.Output*(1+1e-9)+1e-300, "more lost than fed")
		}
		for _, c := range res.Consumers {
			requireFinite(t, c.Lowest, c.Highest, c.Shortfall, c.Excess)
			require.LessOrEqual(t, c.Lowest, c.Highest*(1+1e-12))
			require.GreaterOrEqual(t, c.Lowest, 0.0)
		}
	}
	if h, err := r.HoldUp(); err == nil {
		requireFinite(t, h.Time, h.Supply, h.Rail, h.Lowest, h.Power)
		require.GreaterOrEqual(t, h.Time, 0.0)
	}
	if c, err := r.CapacitanceFor(0.02); err == nil {
		requireFinite(t, c)
		if c > 1e-12 && c < 1e12 {
			r.Capacitance = c
			h, err := r.HoldUp()
			require.NoError(t, err)
			near(t, 0.02, h.Time, 1e-9, "dip that the capacitance found survives")
		}
	}
}

func FuzzRail(f *testing.F) {
	seed := make([]byte, 80)
	for i := range seed {
		seed[i] = byte(i * 37)
	}
	f.Add(seed)
	huge := binary.LittleEndian.AppendUint64([]byte{255}, math.Float64bits(1e300))
	f.Add(slices.Repeat(huge, 6))
	f.Add([]byte{0, 150, 10, 230, 0, 140, 0, 120, 1, 0, 60, 1, 0, 130, 0, 2, 3, 0, 0, 160, 0, 130, 1, 0, 70, 1, 0, 130, 0, 110})
	f.Fuzz(func(t *testing.T, b []byte) {
		n := numbers{b}
		r := n.rail()
		checkRailResult(t, r)
	})
}
