package bus_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

func paths(err error) (p []string) {
	for _, e := range profile.InputErrors(err) {
		p = append(p, e.Path)
	}
	return p
}

func goodBus() bus.Bus {
	return bus.Bus{
		Bank:         bus.Bank{Capacitance: 0.02, SeriesResistance: 0.01, RatedVoltage: 100, ToleranceLow: 0.2, ToleranceHigh: 0.2},
		Source:       bus.SwitchMode{Voltage: 72, Tolerance: 0.02, CurrentLimit: 10},
		Brakes:       []bus.BrakeResistor{{Resistance: 6.8, OnVoltage: 82, OffVoltage: 79}},
		Bleeder:      4700,
		UnderVoltage: 55, OverVoltage: 90,
	}
}

var (
	nan = math.NaN()
	inf = math.Inf(1)
)

// Each field, with values outside its domain.
func TestValidate(t *testing.T) {
	require.NoError(t, goodBus().Validate())
	require.NoError(t, bus.Resistive{OpenCircuit: 72, Resistance: 0.1}.Validate())
	positive := []float64{nan, inf, -inf, 0, -1}
	atLeastZero := []float64{nan, inf, -inf, -1, -5e-324}
	fraction := []float64{nan, inf, -inf, -1e-9, 1, 2}
	for _, tc := range []struct {
		path   string
		values []float64
		set    func(b *bus.Bus, v float64)
	}{
		{"bank.capacitance", positive, func(b *bus.Bus, v float64) { b.Bank.Capacitance = v }},
		{"bank.seriesResistance", atLeastZero, func(b *bus.Bus, v float64) { b.Bank.SeriesResistance = v }},
		{"bank.ratedVoltage", positive, func(b *bus.Bus, v float64) { b.Bank.RatedVoltage = v }},
		{"bank.toleranceLow", fraction, func(b *bus.Bus, v float64) { b.Bank.ToleranceLow = v }},
		{"bank.toleranceHigh", atLeastZero, func(b *bus.Bus, v float64) { b.Bank.ToleranceHigh = v }},
		{"bleeder", atLeastZero, func(b *bus.Bus, v float64) { b.Bleeder = v }},
		{"underVoltage", append(atLeastZero, 90, 91), func(b *bus.Bus, v float64) { b.UnderVoltage = v }},
		{"overVoltage", atLeastZero, func(b *bus.Bus, v float64) { b.OverVoltage = v }},
		{"brakes[0].resistance", positive, func(b *bus.Bus, v float64) { b.Brakes[0].Resistance = v }},
		{"brakes[0].onVoltage", positive, func(b *bus.Bus, v float64) { b.Brakes[0].OnVoltage = v }},
		{"brakes[0].offVoltage", append(positive, 82, 100), func(b *bus.Bus, v float64) { b.Brakes[0].OffVoltage = v }},
		// With 0.01 ohm in series switching on pulls 82 V down to 81.88 V.
		{"brakes[0].offVoltage", []float64{81.9}, func(b *bus.Bus, v float64) { b.Brakes[0].OffVoltage = v }},
		{"source.voltage", positive, func(b *bus.Bus, v float64) { b.Source = bus.SwitchMode{Voltage: v, CurrentLimit: 1} }},
		{"source.currentLimit", positive, func(b *bus.Bus, v float64) { b.Source = bus.SwitchMode{Voltage: 1, CurrentLimit: v} }},
		{"source.tolerance", fraction, func(b *bus.Bus, v float64) {
			b.Source = bus.SwitchMode{Voltage: 1, CurrentLimit: 1, Tolerance: v}
		}},
		{"source.openCircuit", positive, func(b *bus.Bus, v float64) { b.Source = bus.Resistive{OpenCircuit: v, Resistance: 1} }},
		{"source.resistance", positive, func(b *bus.Bus, v float64) { b.Source = bus.Resistive{OpenCircuit: 1, Resistance: v} }},
		{"source.resistance", []float64{5e-324, 1e-9}, func(b *bus.Bus, v float64) { b.Source = bus.Resistive{OpenCircuit: 1, Resistance: v} }},
		{"source.lineTolerance", fraction, func(b *bus.Bus, v float64) {
			b.Source = bus.Resistive{OpenCircuit: 1, Resistance: 1, LineTolerance: v}
		}},
	} {
		for _, v := range tc.values {
			b := goodBus()
			tc.set(&b, v)
			name := fmt.Sprintf("%s = %g", tc.path, v)
			err := b.Validate()
			require.Error(t, err, name)
			assert.Contains(t, paths(err), tc.path, name)

			// Everything that takes a bus refuses it alike.
			_, err = b.Simulate(context.Background(), steps(t, []float64{0, 1}, 1), bus.State{Voltage: 72})
			assert.Contains(t, paths(err), "bus."+tc.path, name)
			_, err = b.AnyPhase(context.Background(), bus.StrictlyPeriodic([]profile.Curve{steps(t, []float64{0, 1}, 1)}), nil)
			assert.Contains(t, paths(err), "bus."+tc.path, name)
			_, err = b.SettledCycle(context.Background(), steps(t, []float64{0, 1}, 1))
			assert.Contains(t, paths(err), "bus."+tc.path, name)
		}
	}

	// All at once.
	bad := bus.Bus{
		Bank:    bus.Bank{Capacitance: -1, SeriesResistance: nan, RatedVoltage: 0, ToleranceLow: 1, ToleranceHigh: inf},
		Source:  bus.SwitchMode{},
		Brakes:  []bus.BrakeResistor{{}},
		Bleeder: -1, UnderVoltage: nan, OverVoltage: inf,
	}
	assert.Equal(t, []string{
		"bank.capacitance", "bank.seriesResistance", "bank.ratedVoltage", "bank.toleranceLow", "bank.toleranceHigh",
		"source.voltage", "source.currentLimit", "brakes[0].resistance", "brakes[0].onVoltage", "brakes[0].offVoltage",
		"bleeder", "underVoltage", "overVoltage",
	}, paths(bad.Validate()))
	assert.NotPanics(t, func() { _ = bus.Bus{}.Validate() })
	assert.Error(t, bus.Bus{}.Validate(), "the zero value is invalid")
}

func TestBadLoads(t *testing.T) {
	b := goodBus()
	var empty profile.Curve
	good := steps(t, []float64{0, 1}, 10)
	for _, v := range []float64{nan, inf, 0, -1} {
		_, err := b.Simulate(context.Background(), good, bus.State{Voltage: v})
		assert.Equal(t, []string{"start.voltage"}, paths(err))
	}
	_, err := b.Simulate(context.Background(), empty, bus.State{Voltage: 72})
	assert.Equal(t, []string{"load"}, paths(err))
	_, err = b.SettledCycle(context.Background(), empty)
	assert.Equal(t, []string{"load"}, paths(err))

	_, err = b.AnyPhase(context.Background(), nil, nil)
	assert.Equal(t, []string{"stations"}, paths(err))
	_, err = b.AnyPhase(context.Background(), bus.StrictlyPeriodic([]profile.Curve{good, empty, good, empty}), nil)
	assert.Equal(t, []string{"stations[1]", "stations[3]"}, paths(err))
	b.Source = nil
	_, err = b.AnyPhase(context.Background(), bus.StrictlyPeriodic([]profile.Curve{good}), nil)
	assert.Equal(t, []string{"bus.source"}, paths(err))

	for _, v := range []float64{nan, inf, -inf} {
		_, err = bus.Periodic(good, v, 1)
		assert.Equal(t, []string{"offset"}, paths(err))
	}
	for _, v := range []float64{nan, inf, 0, -1, 1e300, 1e9} {
		_, err = bus.Periodic(good, 0, v)
		assert.Equal(t, []string{"duration"}, paths(err), "%g", v)
	}
	_, err = bus.Periodic(empty, 0, 1)
	assert.Equal(t, []string{"cycle"}, paths(err))
}

// known reports whether an error is one that callers can tell.
func known(err error) bool {
	var settled *bus.NoSettledStateError
	return len(profile.InputErrors(err)) > 0 || errors.Is(err, bus.ErrBudget) || errors.Is(err, bus.ErrRange) ||
		errors.As(err, &settled) || errors.Is(err, context.DeadlineExceeded)
}

func finite(t testing.TB, what string, v ...float64) {
	t.Helper()
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Errorf("%s: %g", what, x)
		}
	}
}

// Huge and tiny values in every field: a finite answer or a known error.
func TestExtremeValues(t *testing.T) {
	load := steps(t, []float64{0, 0.1, 0.2}, 300, -200)
	for _, v := range []float64{1e300, 1e150, 1e20, 1e-20, 1e-150, 1e-300, 5e-324} {
		for name, set := range map[string]func(b *bus.Bus, load *profile.Curve){
			"capacitance": func(b *bus.Bus, _ *profile.Curve) { b.Bank.Capacitance = v },
			"series":      func(b *bus.Bus, _ *profile.Curve) { b.Bank.SeriesResistance = v; b.Brakes = nil },
			"bleeder":     func(b *bus.Bus, _ *profile.Curve) { b.Bleeder = v },
			"brake":       func(b *bus.Bus, _ *profile.Curve) { b.Brakes[0].Resistance = v; b.Bank.SeriesResistance = 0 },
			"thresholds":  func(b *bus.Bus, _ *profile.Curve) { b.Brakes[0].OnVoltage, b.Brakes[0].OffVoltage = v, v/2 },
			"set point":   func(b *bus.Bus, _ *profile.Curve) { b.Source = bus.SwitchMode{Voltage: v, CurrentLimit: 10} },
			"limit":       func(b *bus.Bus, _ *profile.Curve) { b.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: v} },
			"source":      func(b *bus.Bus, _ *profile.Curve) { b.Source = bus.Resistive{OpenCircuit: 72, Resistance: v} },
			"open":        func(b *bus.Bus, _ *profile.Curve) { b.Source = bus.Resistive{OpenCircuit: v, Resistance: 0.1} },
			"all":         func(b *bus.Bus, p *profile.Curve) { b.Bank.Capacitance, b.Bleeder = v, v; *p = p.Scale(v) },
			"power":       func(_ *bus.Bus, p *profile.Curve) { *p = p.Scale(v) },
			"tolerance":   func(b *bus.Bus, _ *profile.Curve) { b.Bank.ToleranceHigh = v },
			"time":        func(_ *bus.Bus, p *profile.Curve) { *p = steps(t, []float64{0, v / 3, v / 2 * 1.5}, 300, -200) },
		} {
			if name == "time" && v < 1e-300 {
				continue // no such curve
			}
			b, p := goodBus(), load
			set(&b, &p)
			what := fmt.Sprintf("%s %g", name, v)
			ctx, cancel := context.WithTimeout(context.Background(), 200e6)
			for _, volts := range []float64{72, v} {
				r, err := b.SimulateWithin(ctx, p, bus.State{Voltage: volts}, 2000)
				if err != nil {
					assert.True(t, known(err), "%s: %v", what, err)
					continue
				}
				checkFinite(t, what, r)
			}
			if s, err := b.SettledCycle(ctx, p); err != nil {
				assert.True(t, known(err), "%s: %v", what, err)
			} else {
				checkFinite(t, what, s.Result)
			}
			if g, err := b.AnyPhase(ctx, bus.StrictlyPeriodic([]profile.Curve{p, load}), nil); err != nil {
				assert.True(t, known(err), "%s: %v", what, err)
			} else {
				finite(t, what, g.MeanSourcePower, g.PeakDemand, g.MeanReturnedPower)
				for k, x := range []bus.Bound{g.Sag, g.Rise} {
					if sign := float64(2*k - 1); x.Exists && sign*x.WitnessVoltage > sign*x.Voltage*(1+sign*1e-11) {
						t.Errorf("%s: bound %g V, witness %g V", what, x.Voltage, x.WitnessVoltage)
					}
					finite(t, what, x.Voltage, x.Energy, x.Window, x.From, x.WitnessVoltage, x.Gap())
					if !x.Exists {
						assert.NotEmpty(t, x.Reason)
					}
				}
			}
			cancel()
			noLoad, _ := b.SourceHeatsResistor()
			finite(t, what, noLoad)
			for _, volts := range []float64{v, 72, 0} {
				if i := b.Source.Current(volts); math.IsNaN(i) || i < 0 {
					t.Errorf("%s: current %g at %g V", what, i, volts)
				}
				if d := b.DischargeTime(volts, 60); math.IsNaN(d) || d < 0 {
					t.Errorf("%s: discharge from %g V takes %g s", what, volts, d)
				}
			}
		}
	}
}

func checkFinite(t testing.TB, what string, r *bus.Result) {
	t.Helper()
	e := r.Energies
	finite(t, what, e.Source, e.Drawn, e.Returned, e.Resistor, e.Bleeder, e.Series, e.Released, e.Residual,
		r.Lowest.V, r.Lowest.T, r.Highest.V, r.Highest.T, r.End.Voltage, r.Voltage.Mean(), r.SourceCurrent.Mean())
	for _, x := range r.Events {
		finite(t, what, x.Time, x.Voltage)
	}
	if r.Voltage.Pieces() > 0 {
		for k := range 20 {
			at := r.Voltage.Start() + r.Voltage.Duration()*float64(k)/19
			finite(t, what, r.Voltage.At(at), r.SourceCurrent.At(at))
		}
	}
}

// checkNetwork fails the test unless the result is finite, its events are in order,
// its curves end at its end state, and its book closes.
func checkNetwork(t testing.TB, what string, n bus.Network, r *bus.NetworkResult) {
	t.Helper()
	checkFinite(t, what, &r.Result)
	if r.Voltage.Pieces() == 0 {
		return
	}
	start, end := r.Voltage.Start(), r.Voltage.End()
	last := start
	for _, e := range r.Events {
		if !(e.Time >= last && e.Time <= end) {
			t.Errorf("%s: event at %g s after one at %g s of %g s", what, e.Time, last, end)
		}
		last = e.Time
	}
	volts := math.Max(r.Highest.V, math.Max(r.Start.Voltage, r.End.Voltage))
	if n.Source != nil { // the scale of the integration's tolerance
		if n.Source.NoLoadVoltage() > 1e9*volts {
			return // to which the bus is nothing
		}
		volts = math.Max(volts, n.Source.NoLoadVoltage())
	}
	clock := 0x1p-52 * math.Max(math.Abs(start), math.Abs(end)) // tells no shorter times
	if slew := math.Abs(r.BankCurrent.AbsMax().V) / n.Bank.Capacitance; n.Bank.SeriesResistance == 0 &&
		!(math.Abs(r.Voltage.At(end)-r.End.Voltage) <= 1e-9*volts+4*clock*slew) {
		t.Errorf("%s: ends at %g V, end state %g V", what, r.Voltage.At(end), r.End.Voltage)
	}
	for _, x := range r.Ends {
		volts = math.Max(volts, x.Highest.V)
	}
	stored := n.Bank.Energy(volts)
	watts := volts * math.Abs(r.SourceCurrent.AbsMax().V)
	e := r.Energies
	for k, x := range r.Ends {
		finite(t, what, x.Lowest.V, x.Highest.V, x.Energy, x.Voltage.Mean(), x.Current.Mean())
		stored += n.Feeders[k].Capacitance * volts * volts / 2
		watts += volts * math.Abs(x.Current.AbsMax().V)
	}
	energies := 0.0
	for _, b := range r.Brakes {
		finite(t, what, b.Energy, b.Highest, b.OnTime)
		energies += b.Energy
		if b.Highest > b.Energy*(1+1e-12) || b.OnTime > (end-start)*(1+1e-12) {
			t.Errorf("%s: %+v", what, b)
		}
	}
	if !(math.Abs(energies-e.Resistor) <= 1e-9*energies) {
		t.Errorf("%s: %g J in the resistors, %g J in the book", what, energies, e.Resistor)
	}
	for _, s := range r.Supplies {
		finite(t, what, s.Energy, s.DiodeHeat)
	}
	// Currents that are differences of voltages over a resistance are as good as the rounding of these.
	for _, w := range []float64{e.Source, e.Accepted, e.Drawn, e.Returned, e.Switched, e.Resistor, e.Clamp, e.Bleeder, e.Series, e.Cables} {
		if w < -1e-11*(e.Throughput()+stored) {
			t.Errorf("%s: negative energy in %+v", what, e)
		}
	}
	watts += math.Abs(r.Load.AbsMax().V)
	if n.Bleeder > 0 {
		watts += volts * volts / n.Bleeder
	}
	if rs := n.Bank.SeriesResistance; rs > 0 {
		watts += volts * volts / rs
	}
	for _, s := range n.Switched {
		watts += volts * volts * s.Conductance.Max().V
	}
	for _, b := range n.Brakes {
		watts += volts * volts / b.Resistance
	}
	// Currents that are the difference of voltages over a small resistance.
	amps := 0.0
	if n.Source != nil {
		amps = n.Source.Current(0)
	}
	if rs := n.Bank.SeriesResistance; rs > 0 {
		amps += volts / rs
	}
	if n.Clamp != nil {
		amps += n.Clamp.Voltage / n.Clamp.Resistance
	}
	if !(math.Abs(e.Residual) <= 1e-9*(e.Throughput()+stored+e.Resistor+e.Clamp+e.Switched)+float64(r.Steps)*clock*watts+1e-15*volts*amps*(end-start)) {
		t.Errorf("%s: the book does not close: %+v of %g J stored", what, e, stored)
	}
}
