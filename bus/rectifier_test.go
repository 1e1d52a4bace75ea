package bus_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// supplied is a random rectifier with a bus that it can about feed.
type supplied struct {
	rectifier bus.Rectifier
	bus       bus.Bus
	watts     float64 // that it delivers without much of a drop
}

func randomRectifier(r *rand.Rand) supplied {
	var s supplied
	kind := pick(r, bus.HalfWave, bus.Bridge, bus.ThreePhaseBridge)
	volts := logBetween(r, 20, 480)
	s.watts = logBetween(r, 50, 20e3)
	z := volts * volts / s.watts * logBetween(r, 0.01, 0.1) // source impedance
	s.rectifier = bus.Rectifier{
		Kind: kind, Voltage: volts, Frequency: pick(r, 50., 60, 400),
		DiodeThreshold: pick(r, 0, 0.8), DiodeResistance: z * pick(r, 0, 0.05),
	}
	omega := 2 * math.Pi * s.rectifier.Frequency
	switch r.IntN(4) {
	case 0:
		s.rectifier.Resistance = z
	case 1:
		s.rectifier.Inductance = z / omega
	default:
		share := r.Float64()
		s.rectifier.Resistance, s.rectifier.Inductance = z*share, z*(1-share)/omega
	}
	top := s.rectifier.NoLoadVoltage()
	// A charge for a quarter to a hundred periods.
	s.bus.Bank = bus.Bank{
		Capacitance:  s.watts / (top * top * s.rectifier.Frequency) * logBetween(r, 1, 100),
		RatedVoltage: 3 * top,
	}
	if r.IntN(2) == 0 {
		s.bus.Bank.SeriesResistance = z * logBetween(r, 0.01, 1)
	}
	if r.IntN(2) == 0 {
		s.bus.Bleeder = top * top / (s.watts * between(r, 0.001, 0.1))
	}
	return s
}

// The book closes to 1e-9 whatever the rectifier and the load, with brake
// resistors and a clamp, and no diode carries current backwards.
func TestRippleEnergyBook(t *testing.T) {
	random := rand.New(rand.NewPCG(31, 32))
	worst, braked, clamped, magnetic := 0.0, 0, 0, 0
	for n := range 150 {
		s := randomRectifier(random)
		top := s.rectifier.NoLoadVoltage()
		periods := 12 / s.rectifier.Frequency
		load := randomCycle(random, s.watts/4)
		cycle, err := load.Slice(0, math.Min(load.End(), periods))
		require.NoError(t, err)
		if random.IntN(2) == 0 {
			off := top * between(random, 1.05, 1.1)
			s.bus.Brakes = []bus.BrakeResistor{{
				Resistance: top * top / s.watts, OnVoltage: off * 1.1, OffVoltage: off,
				Delay: pick(random, 0, 1e-4),
			}}
			if s.bus.Validate() != nil {
				s.bus.Bank.SeriesResistance = 0
			}
		} else if random.IntN(2) == 0 {
			s.bus.Clamp = &bus.Clamp{Voltage: top * 1.1, Resistance: top * top / s.watts / 20, CurrentLimit: pick(random, 0, s.watts/top/20)}
		}
		with := bus.RippleLoad{Power: cycle}
		if random.IntN(2) == 0 {
			with.Current = constantLoad(t, s.watts/top/20, cycle.Start(), cycle.End())
		}
		start := bus.RippleState{Voltage: top * between(random, 0.9, 1.1), Angle: between(random, 0, 6)}
		r, err := s.bus.SimulateRipple(context.Background(), s.rectifier, with, start)
		require.NoError(t, err, "%d: %+v", n, s)
		e := r.Energies
		require.Positive(t, e.Throughput())
		require.LessOrEqual(t, math.Abs(e.Residual), 1e-9*e.Throughput(), "%d: %+v\n%+v", n, e, s)
		worst = math.Max(worst, math.Abs(e.Residual)/e.Throughput())
		assert.GreaterOrEqual(t, e.Source, 0.)
		assert.GreaterOrEqual(t, e.Diodes, 0.)
		assert.LessOrEqual(t, r.Mains.PowerFactor, 1+1e-12)
		lowest, _ := r.Rectified.Extrema()
		short := math.Sqrt2 * s.rectifier.Voltage / (s.rectifier.Resistance + s.rectifier.DiodeResistance + s.rectifier.Inductance*2*math.Pi*s.rectifier.Frequency)
		assert.GreaterOrEqual(t, lowest.V, -1e-10*short)
		if len(r.Lines) == 3 {
			for _, at := range []float64{0.1, 0.33, 0.7} {
				x := r.Voltage.Start() + at*r.Voltage.Duration()
				near(t, 0, r.Lines[0].At(x)+r.Lines[1].At(x)+r.Lines[2].At(x), 1e-10*short, "sum of the lines")
			}
		}
		if e.Resistor > 0 {
			braked++
		}
		if e.Clamp > 0 {
			clamped++
		}
		if s.rectifier.Inductance > 0 {
			magnetic++
		}
		if t.Failed() {
			t.Fatalf("%d: %+v", n, s)
		}
	}
	assert.Greater(t, braked, 5)
	assert.Greater(t, clamped, 3)
	assert.Greater(t, magnetic, 50)
	t.Logf("largest residual %.2g of the throughput", worst)
}

// A simulation in two parts is that in one.
func TestRippleCarriesOn(t *testing.T) {
	random := rand.New(rand.NewPCG(33, 34))
	pending := 0
	for n := range 60 {
		s := randomRectifier(random)
		top, period := s.rectifier.NoLoadVoltage(), 1/s.rectifier.Frequency
		s.bus.Brakes = []bus.BrakeResistor{{Resistance: top * top / s.watts, OnVoltage: top * 1.3, OffVoltage: top * 1.2, Delay: period / 2}}
		if s.bus.Validate() != nil {
			s.bus.Bank.SeriesResistance = 0
		}
		load := steps(t, []float64{0, 2.3 * period, 4 * period, 6 * period}, s.watts/4, -s.watts, s.watts/2)
		start := bus.RippleState{Voltage: top * 0.97}
		whole, err := s.bus.SimulateRipple(context.Background(), s.rectifier, bus.RippleLoad{Power: load}, start)
		require.NoError(t, err)
		if whole.Collapsed {
			continue
		}
		at := between(random, 0.5, 5.5) * period
		a, b, err := load.Split(at)
		require.NoError(t, err)
		first, err := s.bus.SimulateRipple(context.Background(), s.rectifier, bus.RippleLoad{Power: a}, start)
		require.NoError(t, err)
		// The second part by another clock.
		second, err := s.bus.SimulateRipple(context.Background(), s.rectifier, bus.RippleLoad{Power: b.Shift(5*period - at)}, first.End)
		require.NoError(t, err)
		for _, e := range whole.Events {
			if (e.Kind == bus.BrakeOn || e.Kind == bus.BrakeOff) && at > e.Time-period/2 && at < e.Time {
				pending++
			}
		}
		near(t, whole.End.Voltage, second.End.Voltage, 1e-9*top, "voltage at the end")
		near(t, whole.Energies.Mains, first.Energies.Mains+second.Energies.Mains, 1e-8*whole.Energies.Throughput(), "energy")
		near(t, whole.Energies.Resistor, first.Energies.Resistor+second.Energies.Resistor, 1e-8*whole.Energies.Throughput(), "energy of the resistor")
		if t.Failed() {
			t.Fatalf("%d: %+v split at %g", n, s, at)
		}
	}
	assert.Positive(t, pending, "splits while a brake resistor is about to switch")
}

// What Settle solves for is where a long simulation ends up, and its figures keep
// the laws that hold for any waveform.
func TestSettledRipple(t *testing.T) {
	random := rand.New(rand.NewPCG(35, 36))
	for n := range 60 {
		s := randomRectifier(random)
		f, top := s.rectifier.Frequency, s.rectifier.NoLoadVoltage()
		load := bus.SteadyLoad{Power: s.watts / 10 * random.Float64(), Current: s.watts / 20 / top, Resistance: pick(random, 0, 10*top*top/s.watts)}
		p, err := s.rectifier.Settle(context.Background(), s.bus.Bank, load)
		require.NoError(t, err, "%d: %+v", n, s)
		w := p.Waveform
		near(t, w.Start.Voltage, w.End.Voltage, 1e-9*top, "start and end")
		near(t, 0, w.BankCurrent.Mean(), 1e-8*p.BankRMS, "mean current of the bank")
		assert.LessOrEqual(t, p.Secondary.PowerFactor, 1.)
		// The rectified current flows into bank and load.
		draw := load.Current
		if load.Resistance > 0 {
			draw += p.Mean / load.Resistance
		}
		assert.Greater(t, p.RectifiedMean, draw)
		assert.InEpsilon(t, draw+load.Power/p.Mean, p.RectifiedMean, 0.2)
		upper := w.Lines[0].Positive() // current of the upper diode of line 1
		near(t, upper.Mean(), p.DiodeMean, 1e-6*p.DiodeMean, "mean of a diode")
		near(t, upper.RMS(), p.DiodeRMS, 1e-6*p.DiodeRMS, "RMS of a diode")
		near(t, upper.Max().V, p.DiodePeak, 1e-6*p.DiodePeak, "peak of a diode")
		assert.LessOrEqual(t, p.DiodeRMS, p.DiodePeak)
		assert.LessOrEqual(t, p.ConductionAngle, 2*math.Pi+1e-9)
		assert.LessOrEqual(t, p.PeakToPeak, 1.05*s.rectifier.SmallRipple(s.bus.Bank.Capacitance, p.RectifiedMean)+2*s.bus.Bank.SeriesResistance*p.DiodePeak)
		// RMS of rectified: bank and mean of the load at right angles, but for the
		// load's own ripple.
		if p.Stable && n < 8 {
			b := s.bus
			b.Bleeder = load.Resistance
			tau := 1.0
			if load.Resistance > 0 {
				tau = load.Resistance * b.Bank.Capacitance
			}
			end := math.Min(400/f, math.Max(100/f, 20*tau))
			long, err := b.SimulateRipple(context.Background(), s.rectifier, bus.RippleLoad{
				Power: constantLoad(t, load.Power, 0, end), Current: constantLoad(t, load.Current, 0, end),
			}, bus.RippleState{Voltage: w.Start.Voltage * 1.002})
			require.NoError(t, err)
			last := slice(t, long.Voltage, end-1/f, end)
			near(t, p.Mean, last.Mean(), 2e-3*top, "mean after long")
			lo, hi := last.Extrema()
			near(t, p.PeakToPeak, hi.V-lo.V, 0.02*p.PeakToPeak+1e-4*top, "ripple after long")
		}
		if t.Failed() {
			t.Fatalf("%d: %+v\n%+v\n%+v", n, s, load, p)
		}
	}
}

// Inductance without resistance charges the bank by half an oscillation: what the
// valley is too low the crest is too high. A load of constant power, which
// discharges a higher bank less, makes that grow from pulse to pulse; resistance
// damps it. Settle says so, and the simulation shows it.
func TestSettledUnstable(t *testing.T) {
	r := bus.Rectifier{Kind: bus.Bridge, Voltage: 230, Frequency: 50, Inductance: 1e-4}
	b := bus.Bus{Bank: bus.Bank{Capacitance: 760e-6, RatedVoltage: 500}}
	load := bus.SteadyLoad{Power: 120}
	for _, c := range []struct {
		resistance float64
		stable     bool
	}{{0, false}, {0.05, true}} {
		r.Resistance = c.resistance
		p, err := r.Settle(context.Background(), b.Bank, load)
		require.NoError(t, err)
		assert.Equal(t, c.stable, p.Stable, "%g ohm", c.resistance)
		start := p.Waveform.Start
		start.Voltage *= 1.0001
		res, err := b.SimulateRipple(context.Background(), r, bus.RippleLoad{Power: constantLoad(t, 120, 0, 1)}, start)
		require.NoError(t, err)
		off := math.Abs(res.End.Voltage/p.Waveform.Start.Voltage - 1)
		if c.stable {
			assert.Less(t, off, 0.5e-4, "dies away")
		} else {
			assert.Greater(t, off, 2e-4, "grows")
		}
	}
}

// The averaged rectifier on a bank that gets larger: the mean of the settled
// waveform comes to the voltage at which the average delivers the same current.
func TestAveragedRectifier(t *testing.T) {
	long(t)
	random := rand.New(rand.NewPCG(37, 38))
	for n := range 25 {
		s := randomRectifier(random)
		r := s.rectifier
		top, crest := r.NoLoadVoltage(), math.Sqrt2*r.Voltage
		a, err := r.Averaged(context.Background())
		require.NoError(t, err)
		require.NoError(t, a.Validate())
		load := bus.SteadyLoad{Current: s.watts / top * between(random, 0.05, 0.3)}
		lo, hi := 0.0, top
		for range 60 {
			if mid := (lo + hi) / 2; a.Current(mid) > load.Current {
				lo = mid
			} else {
				hi = mid
			}
		}
		last := math.Inf(1)
		for _, k := range []float64{1, 10, 100, 1000} {
			p, err := r.Settle(context.Background(), bus.Bank{Capacitance: k * load.Current / (0.2 * top * r.Frequency), RatedVoltage: 2 * top}, load)
			require.NoError(t, err)
			off := math.Abs(p.Mean - lo)
			assert.LessOrEqual(t, off, 0.5*p.PeakToPeak+1e-3*crest, "%d: %g", n, k)
			assert.LessOrEqual(t, off, math.Max(last*1.01, 1e-3*crest))
			last = off
		}
		assert.LessOrEqual(t, last, 1e-3*crest, "%d %+v", n, r)

		// A characteristic: it falls, is blocked at no load, scales with the line.
		before := math.Inf(1)
		for v := 0.0; v < 1.1*top; v += top / 200 {
			i := a.Current(v)
			assert.True(t, i <= before && i >= 0)
			before = i
		}
		assert.Zero(t, a.Current(top*1.0001))
		r.LineTolerance = 0.1
		tolerant, err := r.Averaged(context.Background())
		require.NoError(t, err)
		high, err := r.High().Averaged(context.Background())
		require.NoError(t, err)
		near(t, high.Current(0.9*top), tolerant.High().Current(0.9*top), 1e-9*high.Current(0), "high line")
		assert.Less(t, tolerant.Low().Current(0.9*top), a.Current(0.9*top))
		if t.Failed() {
			t.Fatalf("%d: %+v", n, s)
		}
	}
}

// The averaged rectifier in the closed form for sine caps, its own corners apart:
// i = (p/π) (sin γ - γ cos γ) crest/R.
func TestAveragedClosedForm(t *testing.T) {
	for _, c := range []struct {
		kind   bus.RectifierKind
		pulses float64
		lines  float64
	}{{bus.HalfWave, 1, 1}, {bus.Bridge, 2, 1}, {bus.ThreePhaseBridge, 6, 2}} {
		r := bus.Rectifier{Kind: c.kind, Voltage: 230, Frequency: 50, Resistance: 0.7, DiodeThreshold: 1, DiodeResistance: 0.01}
		a, err := r.Averaged(context.Background())
		require.NoError(t, err)
		diodes := 2.0
		if c.kind == bus.HalfWave {
			diodes = 1
		}
		crest, loop := 230*math.Sqrt2, c.lines*0.7+diodes*0.01
		for u := 0.88; u < 1; u += 0.007 { // above √3/2
			gamma := math.Acos(u)
			want := c.pulses / math.Pi * (math.Sin(gamma) - gamma*math.Cos(gamma)) * crest / loop
			lo, hi := a.Current(u*crest-diodes+5e-4*crest), a.Current(u*crest-diodes-5e-4*crest)
			if !(lo <= want && want <= hi) {
				t.Errorf("%v at %g of the crest: %g A to %g A, want %g A", c.kind, u, lo, hi, want)
			}
		}
	}
	// A pure inductance short-circuited through a bridge: the sine current of the
	// mains is rectified, 2/π of its crest.
	r := bus.Rectifier{Kind: bus.Bridge, Voltage: 100, Frequency: 50, Inductance: 1e-3}
	a, err := r.Averaged(context.Background())
	require.NoError(t, err)
	near(t, 2/math.Pi*100*math.Sqrt2/(2*math.Pi*50*1e-3), a.Current(0), 1e-6*a.Current(0), "short circuit")
	// Three-phase with commutation: a mean of 3√2/π V less 3 ωL/π for every ampere,
	// as long as the overlap is below 60° (any text on power electronics, FROM
	// MEMORY). It holds for smooth direct current; into a smooth voltage the current
	// ripples, which costs a little more or less.
	three := bus.Rectifier{Kind: bus.ThreePhaseBridge, Voltage: 400, Frequency: 50, Inductance: 1e-3}
	a, err = three.Averaged(context.Background())
	require.NoError(t, err)
	v := 0.85 * 3 * math.Sqrt2 / math.Pi * 400
	near(t, (3*math.Sqrt2/math.Pi*400-v)/(3*2*math.Pi*50*1e-3/math.Pi), a.Current(v), 0.05*a.Current(v), "commutation")
}

// A bus with the averaged rectifier as its source sags like the mean of the one
// with the waveform, and its bounds hold for the averaged one.
func TestAveragedOnBus(t *testing.T) {
	r := bus.Rectifier{Kind: bus.ThreePhaseBridge, Voltage: 230, Frequency: 50, Resistance: 0.1, Inductance: 3e-4, DiodeThreshold: 0.9, LineTolerance: 0.1}
	a, err := r.Averaged(context.Background())
	require.NoError(t, err)
	b := bus.Bus{
		Bank: bus.Bank{Capacitance: 20e-3, RatedVoltage: 450}, Source: a,
		Brakes: []bus.BrakeResistor{{Resistance: 20, OnVoltage: 390, OffVoltage: 375}},
	}
	cycle := steps(t, []float64{0, 0.2, 0.5, 0.7, 1}, 9000, 3000, -4000, 500)
	start := r.NoLoadVoltage() * 0.97
	mean, err := b.Simulate(context.Background(), cycle, bus.State{Voltage: start})
	require.NoError(t, err)
	real, err := b.SimulateRipple(context.Background(), r, bus.RippleLoad{Power: cycle}, bus.RippleState{Voltage: start})
	require.NoError(t, err)
	require.Positive(t, real.Energies.Resistor)
	assert.Equal(t, mean.Brakes[0].Times, real.Brakes[0].Times)
	near(t, mean.Lowest.V, real.Lowest.V, 0.02*start, "sag")
	near(t, mean.Energies.Source, real.Energies.Mains-real.Energies.Source-real.Energies.Diodes, 0.01*mean.Energies.Source, "energy")
	near(t, mean.Energies.Resistor, real.Energies.Resistor, 0.02*real.Energies.Resistor+0.01*mean.Energies.Source, "energy of the resistor")

	g, err := b.Low().AnyPhase(context.Background(), []bus.Cycle{{Power: cycle, Repeats: bus.Strictly}}, nil)
	require.NoError(t, err)
	require.True(t, g.Sag.Exists, g.Sag.Reason)
	low, err := b.Low().SettledCycle(context.Background(), cycle)
	require.NoError(t, err)
	assert.LessOrEqual(t, g.Sag.Voltage, low.Lowest.V+1e-9)
	t.Logf("bound %.2f V, settled cycle %.2f V, witness %.2f V", g.Sag.Voltage, low.Lowest.V, g.Sag.WitnessVoltage)

	// Another source besides is refused.
	b.Source = bus.SwitchMode{Voltage: 320, CurrentLimit: 10}
	_, err = b.SimulateRipple(context.Background(), r, bus.RippleLoad{Power: cycle}, bus.RippleState{Voltage: start})
	require.ErrorContains(t, err, "bus.source")
}

// The bound on the sag with an averaged rectifier holds for stations in any phase.
func TestAveragedGuarantee(t *testing.T) {
	long(t)
	random := rand.New(rand.NewPCG(43, 44))
	bounds, tried := 0, 0
	for n := range 25 {
		s := randomRectifier(random)
		a, err := s.rectifier.Averaged(context.Background())
		require.NoError(t, err)
		top := a.NoLoadVoltage()
		s.bus.Source = a
		cycle := randomCycle(random, s.watts/5)
		s.bus.Bank.Capacitance = math.Max(s.bus.Bank.Capacitance, s.watts*cycle.Duration()/(top*top)/between(random, 1, 20))
		s.bus.Bank.RatedVoltage = 10 * top
		off := top * 1.1
		s.bus.Brakes = []bus.BrakeResistor{{Resistance: top * top / s.watts, OnVoltage: off * 1.1, OffVoltage: off}}
		if s.bus.Validate() != nil {
			s.bus.Bank.SeriesResistance = 0
		}
		g, err := s.bus.AnyPhase(context.Background(), bus.StrictlyPeriodic([]profile.Curve{cycle, cycle.Scale(0.5)}), nil)
		require.NoError(t, err)
		if !g.Sag.Exists {
			continue
		}
		bounds++
		for range 10 {
			before, after, err := cycle.Split(cycle.Start() + between(random, 0.01, 0.99)*cycle.Duration())
			require.NoError(t, err)
			both, err := profile.Sum(cycle.Shift(-cycle.Start()), profile.Concat(after, before).Scale(0.5).Shift(-after.Start()))
			if err != nil {
				continue // durations differ by rounding
			}
			tried++
			r, err := s.bus.SettledCycle(context.Background(), both)
			require.NoError(t, err)
			require.GreaterOrEqual(t, r.Lowest.V, g.Sag.Voltage-1e-9*top, "%d: %+v", n, s)
		}
		require.GreaterOrEqual(t, g.Sag.WitnessVoltage, g.Sag.Voltage-1e-9*top)
	}
	assert.Greater(t, bounds, 15)
	assert.Greater(t, tried, 50)
}

// What cannot be carried is a finding and not a hang.
func TestRectifierOverload(t *testing.T) {
	r := bus.Rectifier{Kind: bus.Bridge, Voltage: 48, Frequency: 50, Resistance: 1}
	b := bus.Bus{Bank: bus.Bank{Capacitance: 10e-3, RatedVoltage: 100}}
	_, err := r.Settle(context.Background(), b.Bank, bus.SteadyLoad{Power: 5000})
	var over *bus.OverloadError
	require.ErrorAs(t, err, &over)
	assert.Contains(t, err.Error(), "5000 W")
	res, err := b.SimulateRipple(context.Background(), r, bus.RippleLoad{Power: constantLoad(t, 5000, 0, 1)}, bus.RippleState{Voltage: 60})
	require.NoError(t, err)
	assert.True(t, res.Collapsed)
	assert.Equal(t, bus.Collapse, res.Events[len(res.Events)-1].Kind)
	assert.Less(t, res.Voltage.End(), 0.1)
	near(t, 0, res.Energies.Residual, 1e-9*res.Energies.Throughput(), "energy book")
	b.Bank.SeriesResistance = 0.5
	res, err = b.SimulateRipple(context.Background(), r, bus.RippleLoad{Power: constantLoad(t, 5000, 0, 1)}, bus.RippleState{Voltage: 60})
	require.NoError(t, err)
	assert.True(t, res.Collapsed)
	// From an empty bank a load cannot start.
	res, err = b.SimulateRipple(context.Background(), r, bus.RippleLoad{Power: constantLoad(t, 5, 0, 1)}, bus.RippleState{})
	require.NoError(t, err)
	assert.True(t, res.Collapsed)
}

// Trips release the axes when asked to.
func TestRippleTrips(t *testing.T) {
	r := bus.Rectifier{Kind: bus.Bridge, Voltage: 48, Frequency: 50, Resistance: 0.2}
	b := bus.Bus{Bank: bus.Bank{Capacitance: 10e-3, RatedVoltage: 100}, UnderVoltage: 58, TripsRelease: true}
	load := constantLoad(t, 700, 0, 0.3)
	res, err := b.SimulateRipple(context.Background(), r, bus.RippleLoad{Power: load}, bus.RippleState{Voltage: 67})
	require.NoError(t, err)
	require.Len(t, res.Events, 2)
	assert.Equal(t, bus.UnderVoltage, res.Events[0].Kind)
	assert.Equal(t, bus.LoadsOff, res.Events[1].Kind)
	near(t, 700*res.Events[1].Time, res.Energies.Drawn, 1e-9*res.Energies.Drawn, "drawn until the trip")
	near(t, 0, res.Energies.Residual, 1e-9*res.Energies.Throughput(), "energy book")
	near(t, r.NoLoadVoltage(), res.Voltage.At(0.3), 0.5, "charged again")
	b.TripsRelease = false
	res, err = b.SimulateRipple(context.Background(), r, bus.RippleLoad{Power: load}, bus.RippleState{Voltage: 67})
	require.NoError(t, err)
	assert.InDelta(t, 700*res.Voltage.Duration(), res.Energies.Drawn, 1e-6)
}

func TestRectifierFaults(t *testing.T) {
	good := bus.Rectifier{Kind: bus.Bridge, Voltage: 48, Frequency: 50, Resistance: 0.2, DiodeThreshold: 0.8}
	require.NoError(t, good.Validate())
	for path, spoil := range map[string]func(r *bus.Rectifier, v float64){
		"voltage":         func(r *bus.Rectifier, v float64) { r.Voltage = v },
		"frequency":       func(r *bus.Rectifier, v float64) { r.Frequency = v },
		"resistance":      func(r *bus.Rectifier, v float64) { r.Resistance = v },
		"inductance":      func(r *bus.Rectifier, v float64) { r.Inductance = v },
		"diodeThreshold":  func(r *bus.Rectifier, v float64) { r.DiodeThreshold = v },
		"diodeResistance": func(r *bus.Rectifier, v float64) { r.DiodeResistance = v },
		"lineTolerance":   func(r *bus.Rectifier, v float64) { r.LineTolerance = v },
	} {
		for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1} {
			r := good
			spoil(&r, v)
			require.ErrorContains(t, r.Validate(), path, "%g", v)
			_, err := r.Settle(context.Background(), bus.Bank{Capacitance: 1e-3, RatedVoltage: 100}, bus.SteadyLoad{Power: 10})
			require.ErrorContains(t, err, "rectifier."+path)
		}
	}
	for _, bad := range []bus.Rectifier{
		{},
		{Kind: 7, Voltage: 48, Frequency: 50, Resistance: 1},
		{Kind: bus.Bridge, Voltage: 48, Frequency: 50},                                           // no impedance
		{Kind: bus.Bridge, Voltage: 48, Frequency: 50, Resistance: 1e-9},                         // short-circuit current
		{Kind: bus.Bridge, Voltage: 48, Frequency: 50, Resistance: 1, DiodeThreshold: 40},        // never conducts
		{Kind: bus.Bridge, Voltage: 1e300, Frequency: 50, Resistance: 1},                         // short-circuit current
		{Kind: bus.Bridge, Voltage: 48, Frequency: 1e300, Resistance: 1},                         // frequency
		{Kind: bus.ThreePhaseBridge, Voltage: 48, Frequency: 50, Inductance: math.MaxFloat64},    // range
		{Kind: bus.Bridge, Voltage: 48, Frequency: 50, Resistance: 1, DiodeThreshold: 1e300},     // never conducts
		{Kind: bus.Bridge, Voltage: 48, Frequency: 50, Resistance: 1, LineTolerance: 1},          // no line
		{Kind: bus.Bridge, Voltage: math.Inf(1), Frequency: 50, Resistance: 1, LineTolerance: 1}, // infinite
	} {
		require.NotEmpty(t, profile.InputErrors(bad.Validate()), "%+v", bad)
	}
	b := bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, RatedVoltage: 100}}
	_, err := b.SimulateRipple(context.Background(), good, bus.RippleLoad{}, bus.RippleState{Voltage: -1, Angle: math.NaN()})
	for _, path := range []string{"load", "start.voltage", "start.angle"} {
		require.ErrorContains(t, err, path)
	}
	_, err = b.SimulateRipple(context.Background(), good, bus.RippleLoad{Power: constantLoad(t, 1, 0, 1e5)}, bus.RippleState{Voltage: 60})
	require.ErrorContains(t, err, "periods")
	_, err = b.SimulateRipple(context.Background(), good, bus.RippleLoad{Power: constantLoad(t, 1, 0, 1), Current: constantLoad(t, 1, 0, 2)}, bus.RippleState{Voltage: 60})
	require.ErrorContains(t, err, "load.current")
	_, err = good.Settle(context.Background(), b.Bank, bus.SteadyLoad{})
	require.ErrorContains(t, err, "load")
	require.ErrorContains(t, bus.AveragedRectifier{Rectifier: good}.Validate(), "Averaged")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = b.SimulateRipple(ctx, good, bus.RippleLoad{Power: constantLoad(t, 1, 0, 1)}, bus.RippleState{Voltage: 60})
	require.ErrorIs(t, err, context.Canceled)
}

// A resistance in front of the bank far above that of the mains, and late in the
// day, where the time is known to 1e-11 s: diodes still switch twice a pulse.
func TestRectifierLate(t *testing.T) {
	for _, kind := range []bus.RectifierKind{bus.HalfWave, bus.Bridge, bus.ThreePhaseBridge} {
		for ind, series := range map[float64]float64{0: 1e5, 1e-3: 10} {
			r := bus.Rectifier{Kind: kind, Voltage: 230, Frequency: 50, Resistance: 0.5, Inductance: ind}
			b := bus.Bus{Bank: bus.Bank{Capacitance: 10e-3, SeriesResistance: series, RatedVoltage: 400}}
			for _, at := range []float64{0, 5, 1e5} {
				res, err := b.SimulateRippleWithin(context.Background(), r, bus.RippleLoad{Power: constantLoad(t, 0, at, at+0.5)}, bus.RippleState{Voltage: 100}, 10_000)
				require.NoError(t, err, "%v, %g H, at %g s", kind, ind, at)
				assert.Less(t, res.Steps, 2500)
				near(t, 0, res.Energies.Residual, 1e-9*res.Energies.Throughput()+1e-11*at, "energy book")
			}
		}
	}
}

// Time constants far below a period end in ErrBudget or a result, soon.
func TestRectifierStiff(t *testing.T) {
	for _, r := range []bus.Rectifier{
		{Kind: bus.Bridge, Voltage: 230, Frequency: 50, Resistance: 1e-3, Inductance: 2e-9},
		{Kind: bus.ThreePhaseBridge, Voltage: 230, Frequency: 50, Resistance: 10, Inductance: 2e-5},
		{Kind: bus.ThreePhaseBridge, Voltage: 230, Frequency: 1e-3, Resistance: 0.1},
		{Kind: bus.HalfWave, Voltage: 1e-6, Frequency: 1e5, Resistance: 1e9, Inductance: 1e9},
	} {
		b := bus.Bus{Bank: bus.Bank{Capacitance: 1e-9, RatedVoltage: 1e3}}
		_, err := b.SimulateRippleWithin(context.Background(), r, bus.RippleLoad{Current: constantLoad(t, 1e-3, 0, 5/r.Frequency)}, bus.RippleState{Voltage: r.NoLoadVoltage()}, 5000)
		if err != nil && !errors.Is(err, bus.ErrBudget) {
			t.Errorf("%+v: %v", r, err)
		}
		_, err = r.Settle(context.Background(), b.Bank, bus.SteadyLoad{Current: 1e-3})
		var over *bus.OverloadError
		if err != nil && !errors.Is(err, bus.ErrBudget) && !errors.As(err, &over) {
			t.Errorf("%+v: %v", r, err)
		}
	}
	r := bus.Rectifier{Kind: bus.Bridge, Voltage: 230, Frequency: 50, Resistance: 1, Inductance: 1e-6}
	require.ErrorContains(t, r.Validate(), "inductance")
	r.Inductance = 2e-6
	require.NoError(t, r.Validate())
}
