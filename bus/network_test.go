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

// randomSource returns a source of one of all kinds, of about volts that
// delivers about mean watts.
func randomSource(r *rand.Rand, volts, mean float64) bus.Source {
	amps := mean * between(r, 1.3, 3) / volts
	s := bus.SwitchMode{Voltage: volts * between(r, 0.97, 1), CurrentLimit: amps}
	switch r.IntN(9) {
	case 0:
		return bus.Resistive{OpenCircuit: volts, Resistance: volts * volts / (4 * mean * between(r, 3, 12))}
	case 1:
		return bus.Battery{OpenCircuit: volts, Resistance: volts * volts / (4 * mean * between(r, 3, 12)), ChargeLimit: amps * between(r, 0, 0.5)}
	case 2:
		s.Overload, s.FoldbackCurrent = bus.Foldback, amps*between(r, 0, 0.9)
	case 3:
		s.Overload, s.Endurance, s.Pause = bus.Hiccup, between(r, 0.01, 0.1), between(r, 0.02, 0.2)
	case 4:
		s.Overload, s.Endurance = bus.Latch, between(r, 0.05, 0.3)
	case 5:
		s.PeakCurrent, s.PeakTime, s.PeakRecovery = amps*between(r, 1.2, 2), between(r, 0.01, 0.1), between(r, 0.05, 0.5)
	case 6:
		s.OverVoltage, s.OverVoltagePause = volts*between(r, 1.02, 1.15), between(r, 0.02, 0.3)
	case 7:
		s.DiodeDrop = 0.01 * volts
	}
	return s
}

// randomNetwork returns a network that may carry its loads, or not.
func randomNetwork(r *rand.Rand) (bus.Network, []profile.Curve) {
	m := randomMachine(r)
	n := bus.Network{Bus: m.bus}
	volts := n.Source.NoLoadVoltage()
	mean := math.Max(20, 3*m.stations[0].Positive().Mean())
	if r.IntN(3) == 0 {
		n.Source = bus.Parallel{randomSource(r, volts, mean/2), randomSource(r, volts, mean/2)}
	} else {
		n.Source = randomSource(r, volts, mean)
	}
	n.Brakes = nil
	for k := range r.IntN(3) {
		on := n.Source.NoLoadVoltage() * between(r, 1.08, 1.15) * (1 + 0.03*float64(k))
		n.Brakes = append(n.Brakes, bus.BrakeResistor{
			Resistance: on * on / (mean * between(r, 1, 4)), OnVoltage: on, OffVoltage: on * 0.97, Delay: pick(r, 0, 1e-4, 2e-3),
		})
	}
	if r.IntN(3) == 0 {
		n.Clamp = &bus.Clamp{Voltage: volts * 1.2, Resistance: volts * volts / (mean * 20), CurrentLimit: pick(r, 0, mean/volts)}
	}
	n.Bank.SeriesResistance = pick(r, 0, 1e-3, 1e-2) * volts * volts / mean
	if n.Validate() != nil {
		n.Bank.SeriesResistance = 0
	}
	n.UnderVoltage, n.OverVoltage = volts*between(r, 0.6, 0.9), volts*1.3
	n.TripsRelease = r.IntN(2) == 0
	loads := []profile.Curve{{}}
	whole := m.stations[0]
	for k := range r.IntN(4) {
		ohms := logBetween(r, 1e-3, 2e-2) * volts * volts / mean
		n.Feeders = append(n.Feeders, bus.Feeder{
			Upstream: r.IntN(k + 1), Resistance: ohms,
			Capacitance: pick(r, 0, logBetween(r, 60e-6, 5e-3)/ohms, 10e-6/ohms),
		})
		loads = append(loads, whole.Scale(between(r, 0, 0.5)))
	}
	loads[0] = whole.Scale(between(r, 0.1, pick(r, 0.5, 0.5, 8)))
	if r.IntN(2) == 0 {
		g := mean / (volts * volts)
		c, err := bus.Switched([]bus.Step{{whole.Start(), 0}, {whole.Start() + whole.Duration()*0.3, g}, {whole.Start() + whole.Duration()*0.6, g / 5}}, whole.End())
		if err != nil {
			panic(err)
		}
		n.Switched = append(n.Switched, bus.SwitchedLoad{Feeder: r.IntN(len(n.Feeders) + 1), Conductance: c})
	}
	return n, loads
}

// The book closes to 1e-9 of the throughput over networks of every kind, and at
// every instant the currents at every place add up to nothing.
func TestNetworkBalances(t *testing.T) {
	long(t)
	random := rand.New(rand.NewPCG(31, 32))
	seen := map[bus.EventKind]int{}
	worst, imbalance, lumped, chained := 0.0, 0.0, 0, 0
	for k := range 600 {
		n, loads := randomNetwork(random)
		r, err := n.Simulate(context.Background(), loads, bus.State{Voltage: n.Source.NoLoadVoltage() * between(random, 0.95, 1.02)})
		if errors.Is(err, bus.ErrBudget) {
			t.Logf("network %d: %v", k, err)
			continue
		}
		require.NoError(t, err, "network %d: %+v", k, n)
		if r.Voltage.Pieces() == 0 {
			continue
		}
		e := r.Energies
		worst = math.Max(worst, math.Abs(e.Residual)/e.Throughput())
		require.LessOrEqual(t, math.Abs(e.Residual), 1e-9*e.Throughput(), "network %d: %+v %+v", k, n, e)
		lumped += len(r.Lumped)
		for _, f := range n.Feeders {
			if f.Upstream > 0 {
				chained++
			}
		}
		for _, ev := range r.Events {
			seen[ev.Kind]++
		}
		imbalance = math.Max(imbalance, checkCurrents(t, n, loads, r))
		if t.Failed() {
			t.Fatalf("network %d: %+v %+v", k, n, n.Source)
		}
	}
	t.Logf("largest residual %.2g of the throughput, largest imbalance of currents %.2g; %d lumped, %d chained; %v", worst, imbalance, lumped, chained, seen)
	assert.Greater(t, lumped, 100)
	assert.Greater(t, chained, 100)
	for kind := bus.SourceBlocks; kind <= bus.LoadsOff; kind++ {
		assert.Positive(t, seen[kind], kind.String())
	}
}

// checkCurrents holds the currents at every place of a result against each other,
// from its voltages and the network alone.
func checkCurrents(t *testing.T, n bus.Network, loads []profile.Curve, r *bus.NetworkResult) float64 {
	t.Helper()
	worst := 0.0
	on := make([]bool, len(n.Brakes))
	awake, ev := true, 0
	slope := r.Voltage.Derivative()
	ends := make([]profile.Curve, len(r.Ends))
	for k := range ends {
		ends[k] = r.Ends[k].Voltage.Derivative()
	}
	c := n.Bank.Capacitance
	isLumped := map[int]bool{}
	for _, k := range r.Lumped {
		c += n.Feeders[k-1].Capacitance
		isLumped[k] = true
	}
	for i := range r.Voltage.Pieces() {
		t0, t1, _ := r.Voltage.Piece(i)
		for ; ev < len(r.Events) && r.Events[ev].Time <= t0; ev++ {
			switch e := r.Events[ev]; e.Kind {
			case bus.BrakeOn, bus.BrakeOff:
				on[e.Index] = e.Kind == bus.BrakeOn
			case bus.LoadsOff:
				awake = false
			}
		}
		s := t0 + (t1-t0)*0.37
		v := r.Voltage.At(s)
		power := func(k int) float64 {
			if !awake || k >= len(loads) || loads[k].Pieces() == 0 {
				return 0
			}
			return loads[k].At(s)
		}
		switched := func(k int) (g float64) {
			for _, l := range n.Switched {
				if l.Feeder == k {
					g += l.Conductance.At(s)
				}
			}
			return g
		}
		scale := 1e-9 * (math.Abs(r.SourceCurrent.At(s)) + n.Source.Current(0.5*v) + 1)
		for _, f := range n.Feeders {
			scale += 1e-15 * v / f.Resistance
		}
		into := r.SourceCurrent.At(s) - power(0)/v - switched(0)*v
		if n.Bleeder > 0 {
			into -= v / n.Bleeder
		}
		for k, b := range n.Brakes {
			if on[k] {
				into -= v / b.Resistance
			}
		}
		if n.Clamp != nil {
			into -= n.Clamp.Current(v)
		}
		for k, f := range n.Feeders {
			u, up := r.Ends[k].Voltage.At(s), v
			if f.Upstream > 0 {
				up = r.Ends[f.Upstream-1].Voltage.At(s)
			}
			current := (up - u) / f.Resistance
			near(t, current, r.Ends[k].Current.At(s), scale, "current of a feeder")
			if f.Upstream == 0 {
				into -= current
			}
			out := power(k+1)/u + switched(k+1)*u
			for j, g := range n.Feeders {
				if g.Upstream == k+1 {
					out += (u - r.Ends[j].Voltage.At(s)) / g.Resistance
				}
			}
			if !isLumped[k+1] {
				out += f.Capacitance * ends[k].At(s)
			}
			worst = math.Max(worst, math.Abs(current-out)/scale*1e-9)
			near(t, current, out, scale, "balance at the end of a feeder")
		}
		bank := r.BankCurrent.At(s)
		worst = math.Max(worst, math.Abs(into-bank)/scale*1e-9)
		near(t, into, bank, scale, "balance at the distribution point")
		if n.Bank.SeriesResistance == 0 {
			near(t, c*slope.At(s), bank, scale, "current of the bank")
		}
	}
	return worst
}

// Two axes behind feeders with capacitors of their own, against a plain
// Runge-Kutta integration of the four differential equations.
func TestNetworkAgainstRungeKutta(t *testing.T) {
	load1 := curve(t, []float64{0, 0.1, 0.25, 0.3}, []float64{100, 6000}, []float64{700, -3000}, []float64{-400, 8000})
	load2 := curve(t, []float64{0, 0.15, 0.3}, []float64{-300, 4000}, []float64{300, -2000, 1000})
	n := bus.Network{
		Bus: bus.Bus{
			Bank:   bus.Bank{Capacitance: 5e-3, RatedVoltage: 120},
			Source: bus.Resistive{OpenCircuit: 90, Resistance: 0.4}, Bleeder: 500,
		},
		Feeders: []bus.Feeder{{Resistance: 0.15, Capacitance: 1e-3}, {Upstream: 1, Resistance: 0.3, Capacitance: 0.5e-3}},
	}
	r, err := n.Simulate(context.Background(), []profile.Curve{{}, load1, load2}, bus.State{Voltage: 88})
	require.NoError(t, err)
	f := func(s float64, y [3]float64) [3]float64 {
		i1, i2 := (y[0]-y[1])/0.15, (y[1]-y[2])/0.3
		is := math.Max(0, (90-y[0])/0.4)
		return [3]float64{(is - y[0]/500 - i1) / 5e-3, (i1 - i2 - load1.At(s)/y[1]) / 1e-3, (i2 - load2.At(s)/y[2]) / 0.5e-3}
	}
	y := [3]float64{88, 88, 88}
	const h = 2e-6
	blocked := false
	for k := range 150_000 {
		s := float64(k) * h
		axpy := func(a float64, d [3]float64) (out [3]float64) {
			for i := range out {
				out[i] = y[i] + a*d[i]
			}
			return out
		}
		// The jumps of the loads lie on steps; take the load's side within.
		k1 := f(s+1e-12, y)
		k2 := f(s+h/2, axpy(h/2, k1))
		k3 := f(s+h/2, axpy(h/2, k2))
		k4 := f(s+h-1e-12, axpy(h, k3))
		for i := range y {
			y[i] += h / 6 * (k1[i] + 2*k2[i] + 2*k3[i] + k4[i])
		}
		if (k+1)%5000 == 0 {
			at := float64(k+1) * h
			at = math.Min(at, 0.3-1e-12)
			near(t, y[0], r.Voltage.At(at), 2e-8, "distribution point")
			near(t, y[1], r.Ends[0].Voltage.At(at), 2e-8, "first drive")
			near(t, y[2], r.Ends[1].Voltage.At(at), 2e-8, "second drive")
			blocked = blocked || y[0] > 90
		}
	}
	assert.Less(t, r.Ends[1].Lowest.V, r.Lowest.V)
}

// A capacitor that is counted as part of the bank makes little difference where
// its cable is short, and the less the shorter.
func TestLumpedFeeder(t *testing.T) {
	load := curve(t, []float64{0, 0.1, 0.2, 0.3}, []float64{0, 5000}, []float64{500}, []float64{-400, 4000})
	at := func(ohms, farads float64) *bus.NetworkResult {
		n := bus.Network{
			Bus:     bus.Bus{Bank: bus.Bank{Capacitance: 10e-3, RatedVoltage: 120}, Source: bus.Resistive{OpenCircuit: 80, Resistance: 0.3}},
			Feeders: []bus.Feeder{{Resistance: ohms, Capacitance: farads}},
		}
		r, err := n.Simulate(context.Background(), []profile.Curve{{}, load}, bus.State{Voltage: 80})
		require.NoError(t, err)
		return r
	}
	for _, ohms := range []float64{0.02, 0.1} {
		slow, fast := at(ohms, bus.ShortestFeeder/ohms*1.0001), at(ohms, bus.ShortestFeeder/ohms*0.9999)
		require.Empty(t, slow.Lumped)
		require.Equal(t, []int{1}, fast.Lumped)
		// The bus moves at up to 1 kV/s here: within the time constant by 50 mV.
		near(t, slow.Lowest.V, fast.Lowest.V, 0.05, "lowest of the bus")
		near(t, slow.Ends[0].Lowest.V, fast.Ends[0].Lowest.V, 0.05, "lowest of the drive")
		near(t, slow.Ends[0].Highest.V, fast.Ends[0].Highest.V, 0.05, "highest of the drive")
		assert.Less(t, fast.Steps, slow.Steps/5)
	}
	// Without a capacitor the end follows the quadratic u² - V u + R P = 0.
	r := at(0.1, 0)
	for _, s := range []float64{0.05, 0.15, 0.25} {
		v, p := r.Voltage.At(s), load.At(s)
		near(t, v/2+math.Sqrt(v*v/4-0.1*p), r.Ends[0].Voltage.At(s), 1e-12*v, "end")
	}
}

// Very short cables and tiny capacitors end in few steps, and the drop is that of
// the currents.
func TestStiffNetwork(t *testing.T) {
	load := curve(t, []float64{0, 0.5, 1}, []float64{0, 800}, []float64{-300})
	n := bus.Network{Bus: bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, SeriesResistance: 1e-3, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 20},
		Brakes: []bus.BrakeResistor{{Resistance: 8, OnVoltage: 80, OffVoltage: 78}},
	}}
	loads := []profile.Curve{{}}
	for k := range 8 {
		n.Feeders = append(n.Feeders, bus.Feeder{Upstream: k / 2, Resistance: math.Pow(10, -float64(k%7)), Capacitance: 1e-12 * math.Pow(10, float64(k))})
		loads = append(loads, load.Scale(0.2))
	}
	r, err := n.Simulate(context.Background(), loads, bus.State{Voltage: 72})
	require.NoError(t, err)
	assert.Less(t, r.Steps, 300)
	assert.Len(t, r.Lumped, 8)
	assert.LessOrEqual(t, math.Abs(r.Energies.Residual), 1e-9*r.Energies.Throughput())
}

// More than a cable can carry: the collapse is found, wherever the cable is.
func TestFeederTooThin(t *testing.T) {
	for _, farads := range []float64{0, 5e-3} {
		for _, upstream := range []int{0, 1} {
			n := bus.Network{
				Bus: bus.Bus{Bank: bus.Bank{Capacitance: 0.05, SeriesResistance: 0.01, RatedVoltage: 100}, Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 100}},
				Feeders: []bus.Feeder{
					{Resistance: 0.05, Capacitance: 1e-5}, {Upstream: upstream, Resistance: 1, Capacitance: farads},
				},
			}
			// V²/4R is 1296 W, less what the first feeder drops.
			load := curve(t, []float64{0, 1}, []float64{0, 2000})
			r, err := n.Simulate(context.Background(), []profile.Curve{{}, {}, load}, bus.State{Voltage: 72})
			require.NoError(t, err)
			require.True(t, r.Collapsed)
			last := 72 * 72 / (4 * (1 + 0.05*float64(upstream))) / 2000.0
			if farads == 0 {
				near(t, last, r.Voltage.End(), 1e-3, "collapse")
			} else {
				assert.Greater(t, r.Voltage.End(), last)
				assert.Less(t, r.Voltage.End(), last+0.1)
			}
		}
	}
}

func TestNetworkSettles(t *testing.T) {
	random := rand.New(rand.NewPCG(41, 42))
	found := 0
	for k := range 60 {
		n, loads := randomNetwork(random)
		n.TripsRelease = false
		s, err := n.SettledCycle(context.Background(), loads)
		var none *bus.NoSettledStateError
		if errors.As(err, &none) || errors.Is(err, bus.ErrBudget) {
			continue
		}
		require.NoError(t, err, k)
		if s.Collapsed || !s.Repeats {
			continue
		}
		found++
		near(t, s.Start.Voltage, s.End.Voltage, 1e-9*s.Start.Voltage, "bank after the cycle")
		for _, e := range s.Ends {
			near(t, e.Voltage.At(e.Voltage.Start()), e.Voltage.At(e.Voltage.End()), 0.05*s.Start.Voltage, "ends, that may jump with the load")
		}
		near(t, 0, s.Energies.Released, 1e-8*s.Energies.Throughput(), "nothing is left over")
		if t.Failed() {
			t.Fatalf("network %d %+v %+v", k, n, n.Source)
		}
	}
	assert.Greater(t, found, 20)
}
