package bus_test

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"testing"
	"time"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// numbers reads one number after another from bytes: most of them of sizes that
// machines have, some of any size.
type numbers struct{ b []byte }

func (n *numbers) byte() byte {
	if len(n.b) == 0 {
		return 0
	}
	v := n.b[0]
	n.b = n.b[1:]
	return v
}

func (n *numbers) next() float64 {
	switch k := n.byte(); {
	case k < 200: // 1e-5 to 1e5
		return math.Pow(10, float64(n.byte())/25.5-5)
	case k < 210:
		return -math.Pow(10, float64(n.byte())/25.5-5)
	case k < 235:
		return float64(n.byte())
	}
	if len(n.b) < 8 {
		return 0
	}
	v := math.Float64frombits(binary.LittleEndian.Uint64(n.b))
	n.b = n.b[8:]
	return v
}

func (n *numbers) bus() (b bus.Bus) {
	b.Bank = bus.Bank{Capacitance: n.next(), RatedVoltage: n.next()}
	kinds := n.byte()
	if kinds&1 > 0 {
		b.Bank.SeriesResistance = n.next()
	}
	if kinds&2 > 0 {
		b.Bank.ToleranceLow, b.Bank.ToleranceHigh = n.next(), n.next()
	}
	switch {
	case kinds&12 == 0:
		b.Source = bus.Resistive{OpenCircuit: n.next(), Resistance: n.next(), LineTolerance: n.next()}
	case kinds&12 != 12:
		b.Source = bus.SwitchMode{Voltage: n.next(), CurrentLimit: n.next()}
	}
	if kinds&16 > 0 {
		off := n.next()
		b.Brakes = []bus.BrakeResistor{{Resistance: n.next(), OffVoltage: off, OnVoltage: off + n.next()}}
	}
	if kinds&32 > 0 {
		b.Bleeder = n.next()
	}
	if kinds&64 > 0 {
		b.UnderVoltage, b.OverVoltage = n.next(), n.next()
	}
	return b
}

// supply reads one supply of any kind, with a voltage near volts or any other.
func (n *numbers) supply(volts float64) bus.Source {
	kind := n.byte()
	if kind&128 > 0 {
		volts = n.next()
	} else {
		volts *= 1 + (float64(n.byte())-128)/1e3
	}
	s := bus.SwitchMode{Voltage: volts, CurrentLimit: n.next()}
	switch kind % 8 {
	case 0:
		return bus.Resistive{OpenCircuit: volts, Resistance: n.next()}
	case 1:
		return bus.Battery{OpenCircuit: volts, Resistance: n.next(), ChargeLimit: n.next()}
	case 2:
		s.Overload, s.FoldbackCurrent = bus.Foldback, s.CurrentLimit*float64(n.byte())/256
	case 3:
		s.Overload, s.Endurance, s.Pause = bus.Hiccup, n.next(), n.next()
	case 4:
		s.Overload, s.Endurance = bus.Latch, n.next()
	}
	if kind&8 > 0 && s.Overload != bus.Foldback {
		s.PeakCurrent, s.PeakTime, s.PeakRecovery = s.CurrentLimit*(1+float64(n.byte())/64), n.next(), n.next()
	}
	if kind&16 > 0 {
		s.OverVoltage, s.OverVoltagePause = volts*(1+float64(n.byte())/256), n.next()
	}
	if kind&32 > 0 {
		s.DiodeDrop = volts * float64(n.byte()) / 512
	}
	if kind&64 > 0 {
		s.Tolerance = float64(n.byte()) / 512
	}
	return s
}

// supplies reads one to three supplies.
func (n *numbers) supplies(volts float64) bus.Source {
	count := 1 + n.byte()%3
	if count == 1 {
		return n.supply(volts)
	}
	var p bus.Parallel
	for range count {
		p = append(p, n.supply(volts))
	}
	return p
}

// network reads a bus with everything on it, and feeders.
func (n *numbers) network() (w bus.Network) {
	w.Bus = n.bus()
	volts := 72.0
	if w.Source != nil {
		volts = w.Source.NoLoadVoltage()
	}
	kinds := n.byte()
	if kinds&1 > 0 {
		w.Source = n.supplies(volts)
	}
	if kinds&2 > 0 {
		w.Clamp = &bus.Clamp{Voltage: volts * (1 + float64(n.byte())/200), Resistance: n.next()}
		if kinds&4 > 0 {
			w.Clamp.CurrentLimit = n.next()
		}
	}
	for k := range w.Brakes {
		if kinds&8 > 0 {
			w.Brakes[k].Delay = n.next()
		}
	}
	if kinds&16 > 0 {
		on := volts * (1 + float64(n.byte())/200)
		w.Brakes = append(w.Brakes, bus.BrakeResistor{Resistance: n.next(), OnVoltage: on, OffVoltage: on * (1 - float64(n.byte())/1000), Delay: n.next()})
	}
	w.TripsRelease = kinds&32 > 0
	for k := range n.byte() % 4 {
		f := bus.Feeder{Upstream: int(n.byte()) % int(k+1), Resistance: n.next()}
		if n.byte()&1 > 0 {
			f.Capacitance = n.next()
		}
		w.Feeders = append(w.Feeders, f)
	}
	return w
}

func (n *numbers) curve() (profile.Curve, error) {
	breaks := []float64{n.next()}
	var coefs [][]float64
	for range 1 + n.byte()%4 {
		breaks = append(breaks, breaks[len(breaks)-1]+n.next())
		var c []float64
		for range n.byte() % 5 {
			c = append(c, n.next()*(1-float64(n.byte()%3)))
		}
		coefs = append(coefs, c)
	}
	return profile.NewCurve(breaks, coefs)
}

// loads reads curves over the same time, one for each place of the network.
func (n *numbers) loads(places int) ([]profile.Curve, error) {
	first, err := n.curve()
	if err != nil {
		return nil, err
	}
	loads := []profile.Curve{first}
	for range places - 1 {
		loads = append(loads, first.Scale(n.next()))
	}
	if n.byte()&1 > 0 {
		loads[0] = first.Scale(0)
	}
	return loads, nil
}

// Whatever the bus and the load, the simulation ends with a finite result whose
// book closes, or with an error that callers can tell.
func FuzzSimulate(f *testing.F) {
	f.Add([]byte{})
	// 0.02 F, 100 V; series resistance, regulated source, brake, bleeder.
	f.Add([]byte{0, 84, 0, 178, 1 | 4 | 16 | 32, 0, 76, 0, 174, 0, 153, 0, 175, 0, 148, 0, 140, 0, 220, 0, 0, 3,
		0, 102, 1, 0, 204, 0, 0, 102, 2, 0, 200, 2, 0, 220, 0, 0, 102, 1, 0, 204, 2, 0, 174})
	// The same with resistive source and limits.
	f.Add([]byte{0, 84, 0, 178, 64, 0, 174, 0, 100, 215, 0, 0, 170, 0, 180, 0, 0, 2, 0, 102, 1, 0, 204, 0, 0, 102, 2, 0, 200, 2, 0, 220, 0, 0, 174})
	f.Fuzz(func(t *testing.T, data []byte) {
		n := &numbers{data}
		b := n.bus()
		load, err := n.curve()
		if err != nil {
			return
		}
		start := bus.State{Voltage: n.next(), BrakeOn: n.byte()&1 > 0}
		if b.Source != nil && n.byte()&1 > 0 {
			start.Voltage = b.Source.NoLoadVoltage()
		}
		r, err := b.SimulateWithin(context.Background(), load, start, 2000)
		if err != nil {
			if !known(err) {
				t.Fatal(err)
			}
			return
		}
		checkFinite(t, "simulation", r)
		last := load.Start()
		for _, e := range r.Events {
			if e.Time < last || e.Time > load.End() {
				t.Fatalf("event at %g s after one at %g s", e.Time, last)
			}
			last = e.Time
		}
		if !r.Collapsed && r.Voltage.End() != load.End() {
			t.Fatalf("ends at %g s of %g s", r.Voltage.End(), load.End())
		}
		if e := r.Energies; r.Voltage.Pieces() > 0 {
			stored := b.Bank.Energy(math.Max(r.Start.Voltage, r.End.Voltage))
			clock := 0x1p-52 * math.Max(math.Abs(load.Start()), math.Abs(load.End())) // tells no shorter times
			moved := e.Throughput() + stored + e.Resistor
			power := math.Abs(load.AbsMax().V) + r.Highest.V*r.SourceCurrent.Max().V
			if b.Source != nil { // what it gives in an instant too short for a piece
				power += b.Source.NoLoadVoltage() * b.Source.Current(b.Source.NoLoadVoltage()/2)
			}
			volts := math.Max(r.Highest.V, math.Max(r.Start.Voltage, r.End.Voltage))
			for _, ohms := range []float64{b.Bleeder, brakeOf(b).Resistance, b.Bank.SeriesResistance} {
				if ohms > 0 {
					power += volts * volts / ohms
				}
			}
			// Beyond 1e100 J a bank is empty before two numbers can tell the times apart.
			if moved < 1e100 && !(math.Abs(e.Residual) <= 1e-9*moved+float64(r.Steps)*clock*power) {
				t.Fatalf("%+v %+v: the book does not close: %+v", b, b.Brakes, e)
			}
		}
		// What is 15 orders below the highest voltage is rounding.
		if r.Voltage.Pieces() > 0 && r.Lowest.V <= -1e-15*r.Highest.V {
			t.Fatalf("lowest voltage %g V", r.Lowest.V)
		}
		if b.Source != nil && r.Voltage.Pieces() > 0 && b.Source.NoLoadVoltage() > 1e-280 { // below digits are lost
			amps := b.Source.Current(b.Source.NoLoadVoltage() / 2)
			if rs := b.Bank.SeriesResistance; rs > 0 {
				amps += 1e-5 * r.Highest.V / rs // a difference of voltages over it
			}
			// In pieces of a few ticks of the clock the current is not told to that.
			shortest := math.Inf(1)
			for i := range r.Voltage.Pieces() {
				t0, t1, _ := r.Voltage.Piece(i)
				shortest = math.Min(shortest, t1-t0)
			}
			clock := 0x1p-52 * math.Max(math.Abs(load.Start()), math.Abs(load.End()))
			if least := r.SourceCurrent.Min().V; shortest > 1e8*clock && least < -1e-7*amps {
				t.Fatalf("%+v: source current %g A of %g A", b, least, amps)
			}
		}
	})
}

// Bounds and settled cycle of whatever bus and load: finite or an error that
// callers can tell, and no bound is passed by its own witness.
func FuzzAnyPhase(f *testing.F) {
	f.Add([]byte{})
	f.Add([]byte{0, 84, 0, 178, 1 | 4 | 16 | 32, 0, 76, 0, 174, 0, 153, 0, 175, 0, 148, 0, 140, 0, 220, 0, 0, 3,
		0, 102, 1, 0, 204, 0, 0, 102, 2, 0, 200, 2, 0, 220, 0, 0, 102, 1, 0, 204, 2, 0, 174})
	f.Add([]byte{0, 84, 0, 178, 64, 0, 174, 0, 100, 215, 0, 0, 170, 0, 180, 0, 0, 2, 0, 102, 1, 0, 204, 0, 0, 102, 2, 0, 200, 2, 0, 220, 0, 0, 174})
	machine := []byte{0, 84, 0, 178, 1 | 4 | 16 | 32, 0, 76, 0, 174, 0, 153, 0, 175, 0, 148, 0, 140, 0, 220}
	load := []byte{0, 0, 2, 0, 102, 1, 0, 204, 0, 0, 102, 1, 0, 160, 0, 0, 110, 1, 0, 190, 1, 0, 140}
	for kind := range byte(128) {
		seed := append([]byte{}, machine...)
		seed = append(seed, 1|kind<<1&62, kind%3, kind, 128, 0, 180, 100, 0, 100, 0, 110)
		f.Add(append(append(append(seed, kind, 0, 0, 80, 0, 1), load...), load...))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		n := &numbers{data}
		b := n.network().Bus
		var stations []profile.Curve
		for range 1 + n.byte()%3 {
			c, err := n.curve()
			if err != nil {
				return
			}
			stations = append(stations, c)
		}
		ctx, cancel := context.WithTimeout(context.Background(), 300*time.Millisecond)
		defer cancel()
		g, err := b.AnyPhase(ctx, bus.StrictlyPeriodic(stations), nil)
		if err != nil {
			if !known(err) {
				t.Fatal(err)
			}
			return
		}
		finite(t, "powers", g.MeanSourcePower, g.PeakDemand, g.MeanReturnedPower)
		for k, x := range []bus.Bound{g.Sag, g.Rise} {
			finite(t, "bound", x.Voltage, x.Energy, x.Window, x.From, x.WitnessVoltage, x.Gap())
			sign := float64(2*k - 1)
			if x.Exists && !(sign*x.WitnessVoltage <= sign*x.Voltage+1e-11*x.Voltage) {
				t.Fatalf("%+v %+v: bound %.15g V, witness %.15g V", b, brakeOf(b), x.Voltage, x.WitnessVoltage)
			}
		}
		s, err := b.SettledCycle(ctx, stations[0])
		if err != nil {
			if !known(err) {
				t.Fatal(err)
			}
			return
		}
		checkFinite(t, "settled", s.Result)
	})
}

// Whatever the network, its supplies and the loads, the simulation ends with a
// finite result whose book closes, events in order and a voltage that ends at the
// end state, or with an error that callers can tell. So does one that carries on.
func FuzzNetwork(f *testing.F) {
	machine := []byte{0, 84, 0, 178, 1 | 4 | 16 | 32, 0, 76, 0, 174, 0, 153, 0, 175, 0, 148, 0, 140, 0, 220}
	load := []byte{0, 0, 3, 0, 102, 1, 0, 204, 0, 0, 102, 2, 0, 200, 2, 0, 220, 0, 0, 102, 1, 0, 204, 2, 0, 120, 0, 110, 0, 130, 0, 174}
	for kind := range byte(128) {
		seed := append([]byte{}, machine...)
		seed = append(seed, 1|kind<<1&62, kind%3, kind, 128, 0, 140, 100, 0, 100, 0, 110)
		f.Add(append(append(seed, kind, 0, 0, 80, 1, 0, 60, 1, 0, 70, 0, 2, 0, 90, 0), load...))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		n := &numbers{data}
		w := n.network()
		loads, err := n.loads(1 + len(w.Feeders))
		if err != nil {
			return
		}
		if n.byte()&1 > 0 {
			g, err := bus.Switched([]bus.Step{{loads[0].Start(), n.next()}, {loads[0].Start() + n.next(), n.next()}}, loads[0].End())
			if err != nil {
				return
			}
			w.Switched = []bus.SwitchedLoad{{Feeder: int(n.byte()) % (1 + len(w.Feeders)), Conductance: g}}
		}
		start := bus.State{Voltage: n.next(), BrakeOn: n.byte()&1 > 0}
		if w.Source != nil && n.byte()&1 > 0 {
			start.Voltage = w.Source.NoLoadVoltage()
		}
		for range 2 {
			r, err := w.SimulateWithin(context.Background(), loads, start, 2000)
			if err != nil {
				if !known(err) {
					t.Fatal(err)
				}
				return
			}
			checkNetwork(t, fmt.Sprintf("%+v %+v %+v", w, w.Source, w.Clamp), w, r)
			if !r.Collapsed && r.Voltage.End() != loads[0].End() {
				t.Fatalf("ends at %g s of %g s", r.Voltage.End(), loads[0].End())
			}
			if r.Collapsed {
				return
			}
			start = r.End
		}
	})
}

// Start-up likewise.
func FuzzStart(f *testing.F) {
	machine := []byte{0, 84, 0, 178, 1 | 4 | 16 | 32 | 64, 0, 76, 0, 174, 0, 153, 0, 175, 0, 148, 0, 140, 0, 220, 0, 165, 0, 180}
	for kind := range byte(128) {
		seed := append([]byte{}, machine...)
		seed = append(seed, 1|kind<<1&62, kind%3, kind, 128, 0, 140, 100, 0, 100, 0, 110)
		f.Add(append(seed, 220, 0, 0, 170, 0, 150, 0, 160, 0, 130))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		n := &numbers{data}
		b := n.network().Bus
		s := bus.StartUp{From: n.next(), Ready: n.next(), Load: n.next(), TurnOn: n.next(), Patience: n.next()}
		ctx, cancel := context.WithTimeout(context.Background(), 300*time.Millisecond)
		defer cancel()
		r, err := b.Start(ctx, s)
		if err != nil {
			if !known(err) {
				t.Fatal(err)
			}
			return
		}
		checkNetwork(t, fmt.Sprintf("%+v %+v %+v %+v", s, b, b.Source, b.Clamp), bus.Network{Bus: b}, &bus.NetworkResult{Result: *r.Result})
		finite(t, "start", r.Time, r.PeakCurrent)
		if r.Reached == (r.Reason != "") {
			t.Fatalf("%+v: reached %v, reason %q", s, r.Reached, r.Reason)
		}
	})
}

func brakeOf(b bus.Bus) bus.BrakeResistor {
	if len(b.Brakes) == 0 {
		return bus.BrakeResistor{}
	}
	return b.Brakes[0]
}
