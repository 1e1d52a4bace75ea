package bus_test

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

var (
	notPositive = []float64{nan, inf, -inf, 0, -1}
	negative    = []float64{nan, inf, -inf, -1, -5e-324}
	noFraction  = []float64{nan, inf, -inf, -1e-9, 1, 2}
)

// Each field of what supplies, stores and clamps besides, outside its domain.
func TestValidateSources(t *testing.T) {
	hiccup := bus.SwitchMode{Voltage: 72, CurrentLimit: 10, Overload: bus.Hiccup, Endurance: 0.1, Pause: 1}
	latch := bus.SwitchMode{Voltage: 72, CurrentLimit: 10, Overload: bus.Latch, Endurance: 0.1}
	fold := bus.SwitchMode{Voltage: 72, CurrentLimit: 10, Overload: bus.Foldback, FoldbackCurrent: 1}
	peak := bus.SwitchMode{Voltage: 72, CurrentLimit: 10, PeakCurrent: 15, PeakTime: 1, PeakRecovery: 5}
	shut := bus.SwitchMode{Voltage: 72, CurrentLimit: 10, Tolerance: 0.02, OverVoltage: 80, OverVoltagePause: 1}
	plain := bus.SwitchMode{Voltage: 72, CurrentLimit: 10}
	battery := bus.Battery{OpenCircuit: 48, Resistance: 0.05, ChargeLimit: 10, ChargeTolerance: 0.1}
	for _, s := range []bus.Source{hiccup, latch, fold, peak, shut, plain, battery} {
		require.NoError(t, s.Validate())
		require.NoError(t, bus.Parallel{s, plain}.Validate())
	}
	mode := func(s bus.SwitchMode, set func(*bus.SwitchMode, float64)) func(float64) bus.Source {
		return func(v float64) bus.Source { set(&s, v); return s }
	}
	for _, tc := range []struct {
		path   string
		values []float64
		with   func(v float64) bus.Source
	}{
		{"overload", []float64{-1, 4, 1e6}, mode(plain, func(s *bus.SwitchMode, v float64) { s.Overload = bus.Overload(v) })},
		{"foldbackCurrent", append(negative, 10, 11), mode(fold, func(s *bus.SwitchMode, v float64) { s.FoldbackCurrent = v })},
		{"foldbackCurrent", []float64{nan, 1, -1}, mode(plain, func(s *bus.SwitchMode, v float64) { s.FoldbackCurrent = v })},
		{"endurance", notPositive, mode(hiccup, func(s *bus.SwitchMode, v float64) { s.Endurance = v })},
		{"endurance", notPositive, mode(latch, func(s *bus.SwitchMode, v float64) { s.Endurance = v })},
		{"endurance", []float64{nan, 1, -1}, mode(plain, func(s *bus.SwitchMode, v float64) { s.Endurance = v })},
		{"pause", notPositive, mode(hiccup, func(s *bus.SwitchMode, v float64) { s.Pause = v })},
		{"pause", []float64{nan, 1}, mode(latch, func(s *bus.SwitchMode, v float64) { s.Pause = v })},
		{"peakCurrent", []float64{nan, inf, -1, 5, 10}, mode(peak, func(s *bus.SwitchMode, v float64) { s.PeakCurrent = v })},
		{"peakCurrent", []float64{15}, mode(fold, func(s *bus.SwitchMode, v float64) { s.PeakCurrent, s.PeakTime, s.PeakRecovery = v, 1, 1 })},
		{"peakTime", notPositive, mode(peak, func(s *bus.SwitchMode, v float64) { s.PeakTime = v })},
		{"peakTime", []float64{nan, 1}, mode(plain, func(s *bus.SwitchMode, v float64) { s.PeakTime = v })},
		{"peakRecovery", notPositive, mode(peak, func(s *bus.SwitchMode, v float64) { s.PeakRecovery = v })},
		{"peakRecovery", []float64{nan, 1}, mode(plain, func(s *bus.SwitchMode, v float64) { s.PeakRecovery = v })},
		{"overVoltage", append(negative, 1, 72, 73.4), mode(shut, func(s *bus.SwitchMode, v float64) { s.OverVoltage = v })},
		{"overVoltagePause", negative, mode(shut, func(s *bus.SwitchMode, v float64) { s.OverVoltagePause = v })},
		{"overVoltagePause", []float64{1}, mode(plain, func(s *bus.SwitchMode, v float64) { s.OverVoltagePause = v })},
		{"diodeDrop", append(negative, 36, 72), mode(plain, func(s *bus.SwitchMode, v float64) { s.DiodeDrop = v })},
		{"openCircuit", notPositive, func(v float64) bus.Source { b := battery; b.OpenCircuit = v; return b }},
		{"resistance", append(notPositive, 1e-7, 5e-324), func(v float64) bus.Source { b := battery; b.Resistance = v; return b }},
		{"chargeLimit", negative, func(v float64) bus.Source { b := battery; b.ChargeLimit = v; return b }},
		{"chargeTolerance", noFraction, func(v float64) bus.Source { b := battery; b.ChargeTolerance = v; return b }},
	} {
		for _, v := range tc.values {
			s := tc.with(v)
			refused(t, s, tc.path, fmt.Sprintf("%s = %g", tc.path, v))
			refused(t, bus.Parallel{plain, s}, "[1]."+tc.path, fmt.Sprintf("in parallel, %s = %g", tc.path, v))
		}
	}
	var none *bus.SwitchMode
	for path, s := range map[string]bus.Source{
		"":    bus.Parallel{},
		"[0]": bus.Parallel{nil, plain},
		"[1]": bus.Parallel{plain, bus.Parallel{plain}},
	} {
		refused(t, s, path, fmt.Sprintf("%v", s))
	}
	// By a pointer a supply would lose its memory without a word.
	refused(t, &hiccup, "", "pointer")
	refused(t, none, "", "nil pointer")
	refused(t, bus.Parallel{plain, &hiccup}, "[1]", "pointer in parallel")
}

// refused fails the test unless everything that takes a bus refuses the source,
// with or without a clamp, by the path.
func refused(t *testing.T, s bus.Source, path, what string) {
	t.Helper()
	if path != "" && path[0] != '[' {
		path = "." + path
	}
	load := steps(t, []float64{0, 1}, 1)
	for _, clamp := range []*bus.Clamp{nil, {Voltage: 200, Resistance: 1}} {
		b := bus.Bus{Bank: bus.Bank{Capacitance: 0.02, RatedVoltage: 300}, Source: s, Clamp: clamp}
		assert.Contains(t, paths(b.Validate()), "source"+path, what)
		_, err := b.Simulate(context.Background(), load, bus.State{Voltage: 72})
		assert.Contains(t, paths(err), "bus.source"+path, what)
		_, err = b.SettledCycle(context.Background(), load)
		assert.Contains(t, paths(err), "bus.source"+path, what)
		_, err = b.AnyPhase(context.Background(), []bus.Cycle{{Power: load}}, nil)
		assert.Contains(t, paths(err), "bus.source"+path, what)
		_, _, err = b.BankForSag(context.Background(), []bus.Cycle{{Power: load}}, nil, 50)
		assert.Contains(t, paths(err), "bus.source"+path, what)
		_, err = b.Start(context.Background(), bus.StartUp{Ready: 60, Patience: 1})
		assert.Contains(t, paths(err), "bus.source"+path, what)
		n := bus.Network{Bus: b}
		_, err = n.Simulate(context.Background(), []profile.Curve{load}, bus.State{Voltage: 72})
		assert.Contains(t, paths(err), "network.source"+path, what)
		_, err = n.SettledCycle(context.Background(), []profile.Curve{load})
		assert.Contains(t, paths(err), "network.source"+path, what)
		_, err = n.AnyPhase(context.Background(), []bus.Station{{Axes: []bus.AxisCycle{{Power: load}}}}, nil)
		assert.Contains(t, paths(err), "network.source"+path, what)
	}
}

// Clamp, resistors, feeders, switched loads, start-up and stations.
func TestValidateNetwork(t *testing.T) {
	load, empty := steps(t, []float64{0, 1}, 1), profile.Curve{}
	g, err := bus.Switched([]bus.Step{{0, 0}, {0.5, 0.1}}, 1)
	require.NoError(t, err)
	good := func() bus.Network {
		b := goodBus()
		b.Clamp = &bus.Clamp{Voltage: 85, Resistance: 0.5, CurrentLimit: 10}
		b.Brakes = append(b.Brakes, bus.BrakeResistor{Resistance: 5, OnVoltage: 84, OffVoltage: 81, Delay: 1e-3})
		return bus.Network{
			Bus:      b,
			Feeders:  []bus.Feeder{{Resistance: 0.1}, {Upstream: 1, Resistance: 0.1, Capacitance: 1e-3}},
			Switched: []bus.SwitchedLoad{{Feeder: 2, Conductance: g}},
		}
	}
	require.NoError(t, good().Validate())
	for _, tc := range []struct {
		path   string
		values []float64
		set    func(n *bus.Network, v float64)
	}{
		{"clamp.voltage", append(notPositive, 72, 73.44), func(n *bus.Network, v float64) { n.Clamp.Voltage = v }},
		{"clamp.resistance", append(notPositive, 5e-324, 1e-7), func(n *bus.Network, v float64) { n.Clamp.Resistance = v }},
		{"clamp.currentLimit", negative, func(n *bus.Network, v float64) { n.Clamp.CurrentLimit = v }},
		{"brakes[1].delay", negative, func(n *bus.Network, v float64) { n.Brakes[1].Delay = v }},
		{"brakes[1].offVoltage", []float64{84, 90}, func(n *bus.Network, v float64) { n.Brakes[1].OffVoltage = v }},
		{"feeders[1].resistance", append(notPositive, 5e-324, 1e-10), func(n *bus.Network, v float64) { n.Feeders[1].Resistance = v }},
		{"feeders[1].capacitance", negative, func(n *bus.Network, v float64) { n.Feeders[1].Capacitance = v }},
		{"feeders[1].upstream", []float64{-1, 2, 3}, func(n *bus.Network, v float64) { n.Feeders[1].Upstream = int(v) }},
		{"feeders[0].upstream", []float64{-1, 1}, func(n *bus.Network, v float64) { n.Feeders[0].Upstream = int(v) }},
		{"switched[0].feeder", []float64{-1, 3}, func(n *bus.Network, v float64) { n.Switched[0].Feeder = int(v) }},
		{"switched[0].conductance", []float64{-1, -5e-324}, func(n *bus.Network, v float64) { n.Switched[0].Conductance = steps(t, []float64{0, 1}, v) }},
		{"switched[0].conductance", []float64{0}, func(n *bus.Network, v float64) { n.Switched[0].Conductance = empty }},
		{"switched[0].conductance", []float64{1}, func(n *bus.Network, v float64) {
			n.Switched[0].Conductance = curve(t, []float64{0, 1}, []float64{1, v})
		}},
	} {
		for _, v := range tc.values {
			n := good()
			tc.set(&n, v)
			what := fmt.Sprintf("%s = %g", tc.path, v)
			assert.Contains(t, paths(n.Validate()), tc.path, what)
			_, err := n.Simulate(context.Background(), []profile.Curve{load}, bus.State{Voltage: 72})
			assert.Contains(t, paths(err), "network."+tc.path, what)
			_, err = n.SettledCycle(context.Background(), []profile.Curve{load})
			assert.Contains(t, paths(err), "network."+tc.path, what)
			_, err = n.AnyPhase(context.Background(), []bus.Station{{Axes: []bus.AxisCycle{{Power: load}}}}, nil)
			assert.Contains(t, paths(err), "network."+tc.path, what)
		}
	}

	later, longer := steps(t, []float64{0.5, 1}, 1), steps(t, []float64{0, 2}, 1)
	for _, tc := range []struct {
		loads []profile.Curve
		path  string
	}{
		{nil, "loads"},
		{[]profile.Curve{empty, empty}, "loads"},
		{[]profile.Curve{load, load, load, load}, "loads"},
		{[]profile.Curve{load, later}, "loads[1]"},
		{[]profile.Curve{empty, load, longer}, "loads[2]"},
		{[]profile.Curve{longer}, "switched[0].conductance"},
	} {
		n := good()
		_, err := n.Simulate(context.Background(), tc.loads, bus.State{Voltage: 72})
		assert.Equal(t, []string{tc.path}, paths(err))
		_, err = n.SettledCycle(context.Background(), tc.loads)
		assert.Equal(t, []string{tc.path}, paths(err))
	}
	for _, v := range notPositive {
		_, err := good().Simulate(context.Background(), []profile.Curve{load}, bus.State{Voltage: v})
		assert.Equal(t, []string{"start.voltage"}, paths(err))
	}

	n := good()
	n.Switched = nil
	one := func(axes ...bus.AxisCycle) []bus.Station { return []bus.Station{{Axes: axes}} }
	for _, tc := range []struct {
		stations, returning []bus.Station
		path                string
	}{
		{nil, nil, "stations"},
		{[]bus.Station{{}}, nil, "stations[0]"},
		{one(bus.AxisCycle{Power: empty}), nil, "stations[0].axes[0]"},
		{one(bus.AxisCycle{Power: load}, bus.AxisCycle{Power: longer}), nil, "stations[0].axes[1].power"},
		{one(bus.AxisCycle{Power: load}, bus.AxisCycle{Feeder: 3, Power: load}), nil, "stations[0].axes[1].feeder"},
		{one(bus.AxisCycle{Power: load}, bus.AxisCycle{Feeder: -1, Power: load}), nil, "stations[0].axes[1].feeder"},
		{one(bus.AxisCycle{Power: load}), one(bus.AxisCycle{Power: load, Waits: []float64{1}}), "returning[0].axes[0].waits"},
		{one(bus.AxisCycle{Power: load}), one(bus.AxisCycle{Feeder: 1, Power: load}), "returning[0].axes[0].feeder"},
		{one(bus.AxisCycle{Power: load}), one(), "returning[0]"},
	} {
		_, err := n.AnyPhase(context.Background(), tc.stations, tc.returning)
		assert.Equal(t, []string{tc.path}, paths(err))
	}

	for _, tc := range []struct {
		steps []bus.Step
		end   float64
		path  string
	}{
		{nil, 1, "steps"},
		{[]bus.Step{{nan, 1}}, 1, "steps[0].time"},
		{[]bus.Step{{inf, 1}}, 1, "steps[0].time"},
		{[]bus.Step{{0, 1}, {0, 2}}, 1, "steps[1].time"},
		{[]bus.Step{{0, nan}}, 1, "steps[0].conductance"},
		{[]bus.Step{{0, -1}}, 1, "steps[0].conductance"},
		{[]bus.Step{{0, 1}}, 0, "end"},
		{[]bus.Step{{0, 1}}, nan, "end"},
		{[]bus.Step{{0, 1}}, inf, "end"},
		{[]bus.Step{{-1e308, 1}}, 1e308, "breaks[1]"},
	} {
		_, err := bus.Switched(tc.steps, tc.end)
		assert.Contains(t, paths(err), tc.path, "%v", tc)
	}
}

func TestValidateStartUp(t *testing.T) {
	b := goodBus()
	for _, tc := range []struct {
		path   string
		values []float64
		set    func(s *bus.StartUp, v float64)
	}{
		{"from", negative, func(s *bus.StartUp, v float64) { s.From = v }},
		{"ready", append(notPositive, 72, 100), func(s *bus.StartUp, v float64) { s.Ready = v }},
		{"load", negative, func(s *bus.StartUp, v float64) { s.Load = v }},
		{"turnOn", append(notPositive, 55, 72, 80), func(s *bus.StartUp, v float64) { s.TurnOn = v }},
		{"turnOn", append(negative, 55, 72, 80), func(s *bus.StartUp, v float64) { s.Load, s.TurnOn = 0, v }},
		{"patience", notPositive, func(s *bus.StartUp, v float64) { s.Patience = v }},
	} {
		for _, v := range tc.values {
			s := bus.StartUp{Ready: 70, Load: 10, TurnOn: 60, Patience: 1}
			tc.set(&s, v)
			_, err := b.Start(context.Background(), s)
			assert.Equal(t, []string{tc.path}, paths(err), "%s = %g", tc.path, v)
		}
	}
}

// Huge and tiny values in the same fields: a finite answer or a known error, soon.
func TestExtremeSources(t *testing.T) {
	long(t)
	plain := bus.SwitchMode{Voltage: 72, CurrentLimit: 10}
	load := steps(t, []float64{0, 0.1, 0.2}, 900, -400)
	for _, v := range []float64{1e308, 1e300, 1e150, 1e20, 1e7, 1e-5, 1e-20, 1e-150, 1e-300, 5e-324} {
		for name, set := range map[string]func(n *bus.Network){
			"fold": func(n *bus.Network) {
				n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 10, Overload: bus.Foldback, FoldbackCurrent: v}
			},
			"fold limit": func(n *bus.Network) { n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: v, Overload: bus.Foldback} },
			"endurance": func(n *bus.Network) {
				n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 5, Overload: bus.Hiccup, Endurance: v, Pause: 1e-2}
			},
			"pause": func(n *bus.Network) {
				n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 5, Overload: bus.Hiccup, Endurance: 1e-2, Pause: v}
			},
			"both": func(n *bus.Network) {
				n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 5, Overload: bus.Hiccup, Endurance: v, Pause: v}
			},
			"peak": func(n *bus.Network) {
				n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 5, PeakCurrent: v, PeakTime: 1e-2, PeakRecovery: 0.1}
			},
			"peak time": func(n *bus.Network) {
				n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 5, PeakCurrent: 9, PeakTime: v, PeakRecovery: 0.1}
			},
			"recovery": func(n *bus.Network) {
				n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 5, PeakCurrent: 9, PeakTime: 1e-2, PeakRecovery: v}
			},
			"rate": func(n *bus.Network) {
				n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 5, PeakCurrent: 9, PeakTime: v, PeakRecovery: 1 / v}
			},
			"over": func(n *bus.Network) {
				n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 5, OverVoltage: v, OverVoltagePause: v}
			},
			"over pause": func(n *bus.Network) {
				n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 5, OverVoltage: 75, OverVoltagePause: v}
			},
			"diode":    func(n *bus.Network) { n.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 5, DiodeDrop: v} },
			"battery":  func(n *bus.Network) { n.Source = bus.Battery{OpenCircuit: v, Resistance: v, ChargeLimit: 10} },
			"charge":   func(n *bus.Network) { n.Source = bus.Battery{OpenCircuit: 72, Resistance: 0.1, ChargeLimit: v} },
			"parallel": func(n *bus.Network) { n.Source = bus.Parallel{plain, bus.SwitchMode{Voltage: v, CurrentLimit: v}} },
			"unlike": func(n *bus.Network) {
				n.Source = bus.Parallel{plain, bus.Battery{OpenCircuit: 60, Resistance: v, ChargeLimit: v}}
			},
			"nearly": func(n *bus.Network) {
				n.Source = bus.Parallel{plain, bus.SwitchMode{Voltage: 72 * (1 + v), CurrentLimit: 10}}
			},
			"clamp":       func(n *bus.Network) { n.Clamp = &bus.Clamp{Voltage: 80, Resistance: v} },
			"clamp limit": func(n *bus.Network) { n.Clamp = &bus.Clamp{Voltage: 80, Resistance: 1, CurrentLimit: v} },
			"clamp at":    func(n *bus.Network) { n.Clamp = &bus.Clamp{Voltage: v, Resistance: 1} },
			"delay":       func(n *bus.Network) { n.Brakes[0].Delay = v },
			"feeder":      func(n *bus.Network) { n.Feeders = []bus.Feeder{{Resistance: v}} },
			"end":         func(n *bus.Network) { n.Feeders = []bus.Feeder{{Resistance: 0.1, Capacitance: v}} },
			"feeder end":  func(n *bus.Network) { n.Feeders = []bus.Feeder{{Resistance: v, Capacitance: v}} },
			"switched": func(n *bus.Network) {
				n.Switched = []bus.SwitchedLoad{{Conductance: steps(t, []float64{0, 0.05, 0.2}, 0, v)}}
			},
		} {
			for _, rs := range []float64{0, 0.01} {
				n := bus.Network{Bus: goodBus()}
				n.Bank.SeriesResistance = rs
				set(&n)
				if n.Source == nil {
					n.Source = plain
				}
				what := fmt.Sprintf("%s %g, %g ohm", name, v, rs)
				loads := []profile.Curve{load}
				if len(n.Feeders) > 0 {
					loads = []profile.Curve{{}, load}
				}
				ctx, cancel := context.WithTimeout(context.Background(), 200*time.Millisecond)
				if r, err := n.SimulateWithin(ctx, loads, bus.State{Voltage: 72}, 2000); err != nil {
					assert.True(t, known(err), "%s: %v", what, err)
				} else {
					checkNetwork(t, what, n, r)
				}
				if s, err := n.SettledCycle(ctx, loads); err != nil {
					assert.True(t, known(err), "%s: %v", what, err)
				} else {
					checkFinite(t, what, &s.NetworkResult.Result)
				}
				stations := []bus.Station{{Axes: []bus.AxisCycle{{Feeder: len(n.Feeders), Power: load}}}}
				if g, err := n.AnyPhase(ctx, stations, nil); err != nil {
					assert.True(t, known(err), "%s: %v", what, err)
				} else {
					finite(t, what, g.MeanSourcePower, g.PeakDemand, g.MeanReturnedPower, g.Sag.Voltage, g.Rise.Voltage)
				}
				if s, err := n.Bus.Start(ctx, bus.StartUp{Ready: n.Source.NoLoadVoltage() * 0.9, Load: 100, TurnOn: n.Source.NoLoadVoltage() * 0.85, Patience: 1}); err != nil {
					assert.True(t, known(err), "%s: %v", what, err)
				} else {
					checkFinite(t, what, s.Result)
					finite(t, what, s.Time, s.PeakCurrent)
				}
				cancel()
				if math.IsNaN(n.Source.Current(72)) {
					t.Errorf("%s: current", what)
				}
			}
		}
	}
}
