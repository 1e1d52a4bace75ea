package bus_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// reference integrates a bus without anything of the package's own method: an
// explicit Runge-Kutta pair with step control (Dormand and Prince 5(4), J. Comp.
// Appl. Math. 6 (1980); coefficients FROM MEMORY, and checked below against a
// closed form), the bus voltage from the balance of currents by bisection, and
// switching instants by bisection of the step.
type reference struct {
	bus  bus.Bus
	load profile.Curve

	t, x    float64 // time, voltage of the bank
	side    int     // of a regulated source's set point, without series resistance: +1 above, 0 held, -1 below
	brakeOn bool
	piece   int

	switched []float64 // times at which the brake resistor switched
}

var errCollapse = errors.New("the bus collapses")

func (r *reference) power(t float64) float64 {
	t0, _, c := r.load.Piece(r.piece)
	s, v := t-t0, 0.0
	for k := len(c) - 1; k >= 0; k-- {
		v = v*s + c[k]
	}
	return v
}

func (r *reference) conductance() float64 {
	g := 0.0
	if r.bus.Bleeder > 0 {
		g = 1 / r.bus.Bleeder
	}
	if r.brakeOn {
		g += 1 / r.bus.Brakes[0].Resistance
	}
	return g
}

// needs is the current that load and resistors take from the bus at v.
func (r *reference) needs(t, v float64) float64 { return r.power(t)/v + r.conductance()*v }

// gives is the source's current at v.
func (r *reference) gives(v float64) float64 {
	switch s := r.bus.Source.(type) {
	case bus.Resistive:
		return math.Max(0, (s.OpenCircuit-v)/s.Resistance)
	case bus.SwitchMode:
		if v < s.Voltage {
			return s.CurrentLimit
		}
	}
	return 0
}

// voltage returns the highest bus voltage at which the currents balance.
func (r *reference) voltage(t, x float64) (float64, error) {
	rs := r.bus.Bank.SeriesResistance
	if rs == 0 {
		return x, nil
	}
	excess := func(v float64) float64 { return (v - x) - rs*(r.gives(v)-r.needs(t, v)) }
	hi := 1.01 * x
	for excess(hi) <= 0 {
		hi *= 1.5
	}
	lo := hi
	for excess(lo) > 0 {
		hi = lo
		lo *= 0.98
		if lo < 0.01*x {
			return 0, errCollapse
		}
	}
	for range 200 {
		mid := lo + (hi-lo)/2
		if mid == lo || mid == hi {
			break
		}
		if excess(mid) > 0 {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi, nil
}

// slope is the rate of change of the bank's voltage.
func (r *reference) slope(t, x float64) (float64, error) {
	c, rs := r.bus.Bank.Capacitance, r.bus.Bank.SeriesResistance
	if rs > 0 {
		v, err := r.voltage(t, x)
		return (v - x) / rs / c, err
	}
	if !(x > 0) {
		return 0, errCollapse
	}
	if s, ok := r.bus.Source.(bus.SwitchMode); ok {
		i := 0.0
		switch {
		case r.side == 0:
			return 0, nil
		case r.side < 0:
			i = s.CurrentLimit
		}
		return (i - r.needs(t, x)) / c, nil
	}
	return (r.gives(x) - r.needs(t, x)) / c, nil
}

// trial takes one step of length h and returns the new bank voltage and an
// estimate of the error.
func (r *reference) trial(h float64) (x, e float64, err error) {
	a := [7][6]float64{
		{},
		{1. / 5},
		{3. / 40, 9. / 40},
		{44. / 45, -56. / 15, 32. / 9},
		{19372. / 6561, -25360. / 2187, 64448. / 6561, -212. / 729},
		{9017. / 3168, -355. / 33, 46732. / 5247, 49. / 176, -5103. / 18656},
		{35. / 384, 0, 500. / 1113, 125. / 192, -2187. / 6784, 11. / 84},
	}
	c := [7]float64{0, 1. / 5, 3. / 10, 4. / 5, 8. / 9, 1, 1}
	low := [7]float64{5179. / 57600, 0, 7571. / 16695, 393. / 640, -92097. / 339200, 187. / 2100, 1. / 40}
	var k [7]float64
	for i := range k {
		x = r.x
		for j := range i {
			x += h * a[i][j] * k[j]
		}
		if k[i], err = r.slope(r.t+c[i]*h, x); err != nil {
			return 0, 0, err
		}
	}
	other := r.x
	for j := range k {
		other += h * low[j] * k[j]
	}
	return x, math.Abs(x - other), nil
}

// passed reports whether at (t, x) a switching threshold has been passed.
func (r *reference) passed(t, x float64) bool {
	v, err := r.voltage(t, x)
	if err != nil {
		return true
	}
	for _, b := range r.bus.Brakes {
		if r.brakeOn && v < b.OffVoltage || !r.brakeOn && v > b.OnVoltage {
			return true
		}
	}
	switch s := r.bus.Source.(type) {
	case bus.SwitchMode:
		if r.bus.Bank.SeriesResistance == 0 {
			switch need := r.needs(t, s.Voltage); {
			case r.side > 0:
				return x < s.Voltage
			case r.side < 0:
				return x > s.Voltage
			default:
				return need < 0 || need > s.CurrentLimit
			}
		}
		return r.region(t, x) != r.side
	case bus.Resistive:
		return (v > s.OpenCircuit) != (r.side > 0)
	}
	return false
}

// region tells on which side of the source's kinks the bus stands with series
// resistance, and anywhere for a resistive source.
func (r *reference) region(t, x float64) int {
	v, err := r.voltage(t, x)
	if err != nil {
		return r.side
	}
	s, ok := r.bus.Source.(bus.SwitchMode)
	switch {
	case !ok:
		if v > r.bus.Source.(bus.Resistive).OpenCircuit {
			return 1
		}
		return -1
	case math.Abs(v-s.Voltage) <= 1e-13*v:
		return 0
	case v > s.Voltage:
		return 1
	}
	return -1
}

// held reports whether the source holds the bank at its set point.
func (r *reference) held() bool {
	_, ok := r.bus.Source.(bus.SwitchMode)
	return ok && r.side == 0 && r.bus.Bank.SeriesResistance == 0
}

// choose sets source side and resistor to what holds just after now.
func (r *reference) choose() error {
	for range 4 {
		v, err := r.voltage(r.t, r.x)
		if err != nil {
			return err
		}
		if s, ok := r.bus.Source.(bus.SwitchMode); ok && r.bus.Bank.SeriesResistance == 0 {
			switch need := r.needs(r.t, s.Voltage); {
			case math.Abs(r.x-s.Voltage) > 1e-11*s.Voltage:
				r.side = 1
				if r.x < s.Voltage {
					r.side = -1
				}
			case need < 0:
				r.side, r.x = 1, s.Voltage
			case need > s.CurrentLimit:
				r.side, r.x = -1, s.Voltage
			default:
				r.side, r.x = 0, s.Voltage
			}
		} else if r.bus.Source != nil {
			r.side = r.region(r.t, r.x)
		}
		if len(r.bus.Brakes) == 0 {
			return nil
		}
		b := r.bus.Brakes[0]
		if r.brakeOn == (v > b.OffVoltage) && r.brakeOn || !r.brakeOn && v < b.OnVoltage {
			return nil
		}
		r.brakeOn = !r.brakeOn
		r.switched = append(r.switched, r.t)
	}
	return nil
}

// advance integrates to end, which must lie in the load's present piece.
func (r *reference) advance(end, tol float64) error {
	h := (end - r.t) / 8
	for r.t < end {
		h = math.Min(h, end-r.t)
		x, e, err := r.trial(h)
		if err != nil || e > tol*r.x {
			if h *= 0.5; h < 1e-15 {
				return errCollapse
			}
			continue
		}
		if r.passed(r.t+h, x) {
			// Located when neither time nor voltage resolves it better. A held voltage
			// does not move.
			if moves := math.Abs(x-r.x) > 4e-15*r.x; h > 3e-14 && (moves || r.held()) {
				h /= 2
				continue
			}
			// The instant lies within h of here.
			r.t, r.x = r.t+h, x
			if err := r.choose(); err != nil {
				return err
			}
			h = 1e-9
			continue
		}
		r.t, r.x = r.t+h, x
		if end-r.t < 1e-14 {
			r.t = end
		}
		h *= math.Min(2, 0.9*math.Pow(tol*r.x/math.Max(e, 1e-300), 0.2))
	}
	return nil
}

// run integrates to each of the times in turn and returns the bus voltages and
// source currents there, as far as the bus does not collapse.
func (r *reference) run(times []float64, tol float64) (volts, amps []float64, err error) {
	r.t = r.load.Start()
	if err := r.choose(); err != nil {
		return nil, nil, err
	}
	for _, at := range times {
		for {
			_, t1, _ := r.load.Piece(r.piece)
			if at < t1 || r.piece == r.load.Pieces()-1 {
				break
			}
			if err := r.advance(t1, tol); err != nil {
				return volts, amps, err
			}
			r.piece++
			if err := r.choose(); err != nil {
				return volts, amps, err
			}
		}
		if err := r.advance(at, tol); err != nil {
			return volts, amps, err
		}
		v, err := r.voltage(r.t, r.x)
		if err != nil {
			return volts, amps, err
		}
		i := r.gives(v)
		if s, ok := r.bus.Source.(bus.SwitchMode); ok {
			rs := r.bus.Bank.SeriesResistance
			switch {
			case rs == 0 && r.side == 0:
				i = r.needs(r.t, v)
			case rs == 0 && r.side < 0:
				i = s.CurrentLimit
			case rs == 0:
				i = 0
			case math.Abs(v-s.Voltage) <= 1e-13*v:
				i = (v-r.x)/rs + r.needs(r.t, v)
			}
		}
		volts, amps = append(volts, v), append(amps, i)
	}
	return volts, amps, nil
}

// The reference against closed forms, so that it may judge.
func TestReferenceIntegrator(t *testing.T) {
	// Constant power from a bank alone: ½ C V² falls by P t.
	load := steps(t, []float64{0, 1}, 100)
	r := &reference{bus: bus.Bus{Bank: bus.Bank{Capacitance: 0.04}}, load: load, x: 100}
	v, _, err := r.run([]float64{0.25, 0.5, 1}, 1e-13)
	require.NoError(t, err)
	for k, at := range []float64{0.25, 0.5, 1} {
		near(t, math.Sqrt(1e4-2*100*at/0.04), v[k], 1e-9, "bank under constant power")
	}
	// Charging through a resistance with nothing drawn: exponential.
	r = &reference{
		bus:  bus.Bus{Bank: bus.Bank{Capacitance: 0.01, SeriesResistance: 0.5}, Source: bus.Resistive{OpenCircuit: 100, Resistance: 1.5}},
		load: steps(t, []float64{0, 1}, 0), x: 60,
	}
	v, i, err := r.run([]float64{0.01, 0.02, 0.05}, 1e-13)
	require.NoError(t, err)
	for k, at := range []float64{0.01, 0.02, 0.05} {
		amps := 20 * math.Exp(-at/0.02)
		near(t, amps, i[k], 1e-8, "charging current")
		near(t, 100-1.5*amps, v[k], 1e-9, "bus while charging")
	}
}

// Simulate against the reference over random machines: both sources, with and
// without series resistance, bleeder and brake resistor.
func TestAgainstReference(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	machines, switchings, collapsed := 150, 0, 0
	if testing.Short() || raceDetector {
		machines = 12
	}
	worst, worstAmps := 0.0, 0.0
	for n := range machines {
		m := randomMachine(random)
		load := m.stations[0]
		for _, s := range m.stations[1:] {
			// Several stations in step, on a common clock.
			q, err := bus.Periodic(s, between(random, 0, 1), load.Duration())
			require.NoError(t, err)
			load, err = profile.Sum(load, q)
			require.NoError(t, err)
		}
		start := bus.State{Voltage: m.bus.Source.NoLoadVoltage()}
		got, err := m.bus.Simulate(context.Background(), load, start)
		require.NoError(t, err)

		var times []float64
		for range 150 {
			times = append(times, between(random, 0, load.Duration()))
		}
		for i := range got.Voltage.Pieces() { // where each step begins, and inside it
			t0, t1, _ := got.Voltage.Piece(i)
			times = append(times, t0+0.02*(t1-t0), t0+0.98*(t1-t0))
		}
		sort.Float64s(times)
		if got.Collapsed {
			// Close to it, differences grow without bound.
			collapsed++
			last := got.Voltage.Start() + 0.95*got.Voltage.Duration()
			times = times[:sort.SearchFloat64s(times, last)]
		}
		ref := &reference{bus: m.bus, load: load, x: start.Voltage}
		volts, amps, err := ref.run(times, 1e-12)
		require.NoError(t, err, "machine %d", n)

		scale := math.Abs(load.AbsMax().V) / start.Voltage
		for k, at := range times {
			v, i := got.Voltage.At(at), got.SourceCurrent.At(at)
			dv, di := math.Abs(v-volts[k])/volts[k], math.Abs(i-amps[k])/scale
			if !(dv <= 1e-8) || !(di <= 1e-6) {
				t.Fatalf("machine %d at %.12g s: %.12g V and %.12g A, reference %.12g V and %.12g A\n%+v %+v %+v", n, at, v, i, volts[k], amps[k], m.bus, m.bus.Brakes, got.Events)
			}
			worst, worstAmps = math.Max(worst, dv), math.Max(worstAmps, di)
		}

		// The resistor switches at the same instants.
		var switched []float64
		for _, e := range got.Events {
			if (e.Kind == bus.BrakeOn || e.Kind == bus.BrakeOff) && len(times) > 0 && e.Time < times[len(times)-1] {
				switched = append(switched, e.Time)
			}
		}
		switchings += len(switched)
		if assert.Len(t, ref.switched, len(switched)) {
			assert.InDeltaSlice(t, switched, ref.switched, 1e-9)
		}
	}
	t.Logf("%d machines, %d collapsed, %d brake switchings: largest relative difference %.2g in voltage, %.2g in current", machines, collapsed, switchings, worst, worstAmps)
	assert.Greater(t, switchings, machines/2)
}
