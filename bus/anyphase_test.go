package bus_test

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

func anyPhase(t testing.TB, b bus.Bus, stations ...profile.Curve) *bus.Guarantee {
	t.Helper()
	g, err := b.AnyPhase(context.Background(), bus.StrictlyPeriodic(stations), nil)
	require.NoError(t, err)
	return g
}

// Two stations take 1000 W for 0.1 s of every 4 s. At worst they do so at once:
// 2000 W against a source of 2 A. In the current limit C dV/dt = I - P/V, and the
// bus falls from V0 to V in
//
//	t = C ∫ v dv/(P - I v) = C/I [ (P/I) ln((P - I V)/(P - I V0)) - (V0 - V) ]
func TestTwoSquarePulses(t *testing.T) {
	const c, v0, i, p = 0.05, 100., 2., 2000.
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: c, RatedVoltage: 200},
		Source: bus.SwitchMode{Voltage: v0, CurrentLimit: i},
	}
	pulse := steps(t, []float64{0, 0.1, 4}, 1000, 0)
	duration := func(v float64) float64 {
		return c / i * (p/i*math.Log((p-i*v)/(p-i*v0)) - (v0 - v))
	}
	lo, hi := 10., v0
	for range 100 { // the voltage after 0.1 s, some 53 V
		if mid := (lo + hi) / 2; duration(mid) > 0.1 {
			lo = mid
		} else {
			hi = mid
		}
	}
	g := anyPhase(t, b, pulse, pulse)
	require.True(t, g.Sag.Exists)
	near(t, lo, g.Sag.WitnessVoltage, 1e-9, "witness")
	assert.LessOrEqual(t, g.Sag.Voltage, lo)
	near(t, lo, g.Sag.Voltage, 0.02*(v0-lo), "bound")
	near(t, 0.1, g.Sag.Window, 1e-3, "window")
	near(t, g.Sag.Offsets[0], g.Sag.Offsets[1], 1e-12, "both start together")
	assert.Equal(t, g.Sag.Voltage, g.Sag.WitnessVoltage-g.Sag.Gap())

	// Nothing is returned: the highest voltage is that without load.
	near(t, v0, g.Rise.Voltage, 1e-12, "rise")
	near(t, v0, g.Rise.WitnessVoltage, 1e-12, "witness of the rise")
	near(t, 2000, g.PeakDemand, 1e-12, "peak")
	near(t, 50, g.MeanSourcePower, 1e-9, "mean of the source: 2 · 25 W")
	assert.Zero(t, g.MeanReturnedPower)
	near(t, 0, g.ReturnedBurst, 1e-9, "returned")
}

// Energy in bursts too short for the source to matter: W falls by their sum,
// whatever their periods.
func TestIncommensuratePeriods(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.1, RatedVoltage: 200},
		Source: bus.SwitchMode{Voltage: 100, CurrentLimit: 40},
	}
	stations := []profile.Curve{burst(t, 30, 0, 1), burst(t, 40, 0, math.Sqrt2), burst(t, 50, 0, math.Pi)}
	g := anyPhase(t, b, stations...)
	want := math.Sqrt(100*100 - 2*(30+40+50)/0.1)
	near(t, want, g.Sag.Voltage, 2e-3, "bound")
	near(t, want, g.Sag.WitnessVoltage, 1e-3, "witness")

	// All of it returned instead, in the stead of one in each period.
	returning := make([]profile.Curve, 3)
	for i, s := range stations {
		q, err := profile.Sum(s.Scale(-1), steps(t, []float64{0, s.Duration()}, 60))
		require.NoError(t, err)
		returning[i] = q
	}
	g = anyPhase(t, b, returning...)
	want = math.Sqrt(100*100 + 2*(30+40+50)/0.1)
	near(t, want, g.Rise.Voltage, 5e-3, "bound on the rise")
	near(t, want, g.Rise.WitnessVoltage, 1e-3, "witness of the rise")
	near(t, 120, g.ReturnedBurst, 0.02, "energy returned")
	near(t, 30+40/math.Sqrt2+50/math.Pi, g.MeanReturnedPower, 1e-3, "mean returned")
}

// One station returns 500 W for 0.2 s and draws nothing else. Nothing but the
// brake resistor drains that, so the rise counts from its on threshold:
//
//	W = W1 e^(-t/τ) + p τ (1 - e^(-t/τ)),  τ = R C/2 = 0.2 s
func TestOnePulseIntoTheResistor(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
		Brakes: []bus.BrakeResistor{{Resistance: 20, OnVoltage: 82, OffVoltage: 79}},
	}
	pulse := steps(t, []float64{0, 0.2, 1}, -500, 0)
	w := 0.01*82*82*math.Exp(-1) + 500*0.2*(1-math.Exp(-1))
	top := math.Sqrt(w / 0.01) // 94.2 V
	g := anyPhase(t, b, pulse)
	near(t, top, g.Rise.Voltage, 1e-3, "bound")
	assert.GreaterOrEqual(t, g.Rise.Voltage, top)
	near(t, 0.2, g.Rise.Window, 1e-3, "window")
	near(t, 82, g.Rise.From, 0, "from")
	assert.True(t, math.IsInf(g.ReturnedBurst, 1), "it returns without end")

	// The bank takes what comes before the resistor is on, 3 V or more.
	assert.Less(t, g.Rise.WitnessVoltage, top)
	assert.Greater(t, g.Rise.WitnessVoltage, 92.5)

	// Without the resistor there is no bound, with a bleeder it is that of the
	// bleeder: W = p τ (1-e^(-T1/τ))/(1-e^(-T/τ)) at the end of a pulse, if that is
	// more than 72 V, τ = 10 s.
	b.Brakes = nil
	g = anyPhase(t, b, pulse)
	assert.False(t, g.Rise.Exists)
	assert.Contains(t, g.Rise.Reason, "100 W")
	b.Bleeder = 1000
	g = anyPhase(t, b, pulse)
	require.True(t, g.Rise.Exists)
	top = math.Sqrt(500 * 10 * (1 - math.Exp(-0.02)) / (1 - math.Exp(-0.1)) / 0.01)
	near(t, top, g.Rise.Voltage, 0.01, "bound with a bleeder")
	assert.GreaterOrEqual(t, g.Rise.Voltage, top)
	near(t, top, g.Rise.WitnessVoltage, 0.1, "witness with a bleeder")

	// A station that draws as much again elsewhere: the pulse is 100 J at most,
	// and lifts the bank from 72 V, since the resistor's threshold is not reached.
	b.Bleeder, b.Brakes = 0, []bus.BrakeResistor{{Resistance: 20, OnVoltage: 150, OffVoltage: 140}}
	g = anyPhase(t, b, steps(t, []float64{0, 0.2, 1}, -500, 200))
	near(t, math.Sqrt(72*72+2*100/0.02), g.Rise.Voltage, 2e-3, "lifted by 100 J")
	near(t, g.Rise.WitnessVoltage, g.Rise.Voltage, 2e-3, "witness")
	near(t, 100, g.ReturnedBurst, 0.05, "burst")
}

// One square pulse behind series resistance: its peak is there when its energy
// is, so that the bounds are near what happens.
func TestOnePulseWithSeriesResistance(t *testing.T) {
	pulse := steps(t, []float64{0, 0.05, 2}, 600, 0)
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, SeriesResistance: 0.2, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 1},
	}
	check := func(name string, x bus.Bound, noLoad, sign, gap float64) {
		t.Helper()
		require.True(t, x.Exists, name)
		assert.LessOrEqual(t, sign*x.WitnessVoltage, sign*x.Voltage+1e-9, name)
		assert.LessOrEqual(t, x.Gap(), gap*math.Abs(x.Voltage-noLoad), name)
	}
	check("sag at the limit", anyPhase(t, b, pulse).Sag, 72, -1, 0.05)
	b.Source = bus.Resistive{OpenCircuit: 72, Resistance: 5}
	check("sag behind a resistance", anyPhase(t, b, pulse).Sag, 72, -1, 0.05)

	// 30 J come back, and are taken again so slowly that it does not matter.
	back := steps(t, []float64{0, 0.05, 2}, -600, 600*0.05/1.95)
	check("rise", anyPhase(t, b, back).Rise, 72, 1, 0.05)
	b.Source = bus.SwitchMode{Voltage: 72, CurrentLimit: 10}
	check("rise", anyPhase(t, b, back).Rise, 72, 1, 0.05)
	b.Brakes = []bus.BrakeResistor{{Resistance: 15, OnVoltage: 75, OffVoltage: 73}}
	check("rise into the resistor", anyPhase(t, b, back).Rise, 72, 1, 0.25) // counted from its threshold
}

// Resistive source, 100 V behind 1 ohm, steady 400 W: V² - 100 V + 400 = 0.
func TestSteadyLoad(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.01, RatedVoltage: 200},
		Source: bus.Resistive{OpenCircuit: 100, Resistance: 1},
	}
	want := 50 + math.Sqrt(2500-400)
	g := anyPhase(t, b, steps(t, []float64{0, 1}, 300), steps(t, []float64{0, 0.7}, 100))
	near(t, want, g.Sag.Voltage, 0.02, "bound")
	assert.LessOrEqual(t, g.Sag.Voltage, want)
	near(t, want, g.Sag.WitnessVoltage, 1e-6, "witness")

	// The line 10 % low: 90 V, and with series resistance the bus is no lower once it
	// has settled.
	b.Source = bus.Resistive{OpenCircuit: 100, Resistance: 1, LineTolerance: 0.1}
	b.Bank.SeriesResistance = 0.2
	want = 45 + math.Sqrt(45*45-400)
	g = anyPhase(t, b, steps(t, []float64{0, 1}, 400))
	near(t, want, g.Sag.WitnessVoltage, 1e-6, "witness")
	assert.LessOrEqual(t, g.Sag.Voltage, want)
	near(t, want, g.Sag.Voltage, 0.2, "bound")

	// A regulated source within its limit does not sag at all.
	b.Source, b.Bank.SeriesResistance = bus.SwitchMode{Voltage: 100, CurrentLimit: 5}, 0
	g = anyPhase(t, b, steps(t, []float64{0, 1}, 400))
	near(t, 100, g.Sag.Voltage, 1e-9, "bound")
	near(t, 100, g.Sag.WitnessVoltage, 1e-9, "witness")

	// 600 W is more than 500 W.
	g = anyPhase(t, b, steps(t, []float64{0, 1}, 600))
	assert.False(t, g.Sag.Exists)
	assert.Contains(t, g.Sag.Reason, "600 W")
	assert.Contains(t, g.Sag.Reason, "less than that average")
	require.NotNil(t, g.Sag.Witness)
	assert.True(t, g.Sag.Witness.Collapsed, "600 W is more than 500 W: the bus collapses")
	assert.Len(t, g.Sag.Offsets, 1)
	// 60 J in pulses of 6000 W are more than a bank of 50 J has, whatever the average.
	g = anyPhase(t, b, steps(t, []float64{0, 0.01, 2}, 3000, 0), steps(t, []float64{0, 0.01, 1.7}, 3000, 0))
	assert.False(t, g.Sag.Exists)
	assert.Contains(t, g.Sag.Reason, "collapse")
	require.NotNil(t, g.Sag.Witness)
	assert.True(t, g.Sag.Witness.Collapsed)
}

// A station of its own: its worst phase is its own worst moment.
func TestTheWitnessIsWhatItSays(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.05, ToleranceLow: 0.2, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, Tolerance: 0.02, CurrentLimit: 10},
		Brakes: []bus.BrakeResistor{{Resistance: 8, OnVoltage: 82, OffVoltage: 78}},
	}
	p := curve(t, []float64{0, .1, .2, .3, .5}, []float64{0, 6000}, []float64{500}, []float64{-700, 5000}, []float64{10})
	q := curve(t, []float64{0, .11, .2, .31, .55}, []float64{0, 4000}, []float64{300}, []float64{-500, 5000}, []float64{10})
	g := anyPhase(t, b, p, q)
	for _, x := range []struct {
		bus   bus.Bus
		bound bus.Bound
		sign  float64
	}{{b.Low(), g.Sag, -1}, {b.High(), g.Rise, 1}} {
		require.True(t, x.bound.Exists)
		end := x.bound.Witness.Load.End()
		var loads []profile.Curve
		for i, s := range []profile.Curve{p, q} {
			assert.GreaterOrEqual(t, x.bound.Offsets[i], 0.0)
			assert.Less(t, x.bound.Offsets[i], s.Duration())
			c, err := bus.Periodic(s, x.bound.Offsets[i], end)
			require.NoError(t, err)
			loads = append(loads, c)
		}
		load, err := profile.Sum(loads...)
		require.NoError(t, err)
		r := simulate(t, x.bus, load, x.bus.Source.NoLoadVoltage())
		v := r.Highest.V
		if x.sign < 0 {
			v = r.Lowest.V
		}
		near(t, x.bound.WitnessVoltage, v, 1e-9, "witness, simulated again")
		assert.LessOrEqual(t, x.sign*v, x.sign*x.bound.Voltage)
	}
}

func TestRefusals(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, Tolerance: 0.1, CurrentLimit: 10},
		Brakes: []bus.BrakeResistor{{Resistance: 8, OnVoltage: 82, OffVoltage: 79}},
	}
	load := steps(t, []float64{0, 0.2, 1}, -500, 300)
	g := anyPhase(t, b, load)
	for _, x := range []bus.Bound{g.Sag, g.Rise} {
		assert.False(t, x.Exists)
		assert.Contains(t, x.Reason, "brake resistor switches off at 79 V")
		assert.Contains(t, x.Reason, "79.2 V")
	}
	near(t, 240, g.MeanSourcePower, 1e-9, "means are given all the same")

	// A resistive source never gives more than V²/4R.
	r := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, SeriesResistance: 0.1, RatedVoltage: 100},
		Source: bus.Resistive{OpenCircuit: 72, LineTolerance: 0.1, Resistance: 8},
	}
	g = anyPhase(t, r, steps(t, []float64{0, 0.2, 1}, 50, 300))
	assert.False(t, g.Sag.Exists)
	near(t, 79.2*79.2/32, g.MeanSourcePower, 1e-9, "most of the source")

	// A drain of 6 W into the bleeder at 79.2 V.
	b.Brakes, b.Bleeder = nil, 79.2*79.2/6
	near(t, 246, anyPhase(t, b, load).MeanSourcePower, 1e-9, "with bleeder")
}

func TestAnyPhaseCancelled(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, RatedVoltage: 100},
		Source: bus.Resistive{OpenCircuit: 72, Resistance: 0.01},
	}
	stations := []profile.Curve{steps(t, []float64{0, 5, 10}, -500, 600), steps(t, []float64{0, 7, 13}, -500, 600)}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := b.AnyPhase(ctx, bus.StrictlyPeriodic(stations), nil)
	assert.ErrorIs(t, err, context.Canceled)

	ctx, cancel = context.WithTimeout(context.Background(), 2*time.Millisecond)
	defer cancel()
	_, err = b.AnyPhase(ctx, bus.StrictlyPeriodic(stations), nil)
	assert.ErrorIs(t, err, context.DeadlineExceeded)
}

// A cycle of a millisecond beside one of an hour: the witness is cut short, the
// bounds are not.
func TestVeryDifferentPeriods(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.05, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 20},
	}
	g := anyPhase(t, b, steps(t, []float64{0, 0.0005, 0.001}, 2000, 0), steps(t, []float64{0, 0.05, 3600}, 1200, 0))
	require.True(t, g.Sag.Exists)
	assert.LessOrEqual(t, g.Sag.Voltage, g.Sag.WitnessVoltage)
	near(t, g.Sag.WitnessVoltage, g.Sag.Voltage, 0.2, "bound")
	assert.Less(t, g.Sag.Witness.Steps, 200_000)
}

func TestPeriodic(t *testing.T) {
	cycle := steps(t, []float64{7, 7.25, 8}, 1, 2)
	for _, offset := range []float64{0, 0.1, 0.25, 0.9, 1, 1.1, -0.9, -5.9, 1e3 + 0.125} {
		p, err := bus.Periodic(cycle, offset, 3.3)
		require.NoError(t, err)
		assert.Zero(t, p.Start())
		near(t, 3.3, p.End(), 0, "end")
		for k := range 100 {
			at := 3.3 * (float64(k) + 0.37) / 100
			phase := math.Mod(at-offset+2000, 1)
			want := 2.0
			if phase < 0.25 {
				want = 1
			}
			if math.Abs(phase-0.25) > 1e-9 && phase > 1e-9 {
				near(t, want, p.At(at), 0, "value")
			}
		}
	}
	// Short against the cycle.
	p, err := bus.Periodic(cycle, 0.1, 0.01)
	require.NoError(t, err)
	near(t, 2, p.At(0.005), 0, "value")
}

// A short pulse of 150 J lowers a bank of 100 mF from 100 V to 83.7 V behind a source of
// 20 ohm. A resistor that may still be on for 10 ms when the bus has fallen below its off
// threshold costs up to 5 J more.
func TestSagBelowALateResistor(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.1, RatedVoltage: 200},
		Source: bus.Resistive{OpenCircuit: 100, Resistance: 20},
		Brakes: []bus.BrakeResistor{{Resistance: 22, OnVoltage: 110, OffVoltage: 105}},
	}
	pulse := steps(t, []float64{0, 0.01, 10}, 15000, 0)
	prompt := anyPhase(t, b, pulse).Sag.Voltage
	near(t, math.Sqrt(100*100-2*150/0.1), prompt, 0.2, "sag")
	b.Brakes[0].Delay = 0.01
	late := anyPhase(t, b, pulse).Sag.Voltage
	// Both bounds are up to 2 J below what happens.
	near(t, 105*105/22.*0.01, 0.1/2*(prompt*prompt-late*late), 2, "energy that the late resistor takes")
}
