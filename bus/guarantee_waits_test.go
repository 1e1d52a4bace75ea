package bus_test

import (
	"context"
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

var (
	manyMachines = flag.Int("machines", 0, "how many machines the bounds are tried on, 0: a few hundred")
	firstMachine = flag.Int("first", 0, "number of the first one, to share them out among several runs")
)

// randomHostile returns a machine with any source, resistors of any hysteresis and
// stations that pause, or not. On every third one all stations brake.
func randomHostile(n int) (machine, []bus.Cycle) {
	r := rand.New(rand.NewPCG(91, uint64(n)))
	m := randomMachine(r)
	if n%3 == 0 {
		for i, s := range m.stations {
			for scale := s.AbsMax().V; !(s.Negative().Mean() < 0); {
				s = randomCycle(r, scale)
			}
			m.stations[i] = s
		}
	}
	if r.IntN(2) == 0 {
		m.anySource(r)
	}
	high := m.bus.High().Source.NoLoadVoltage()
	for i, b := range m.bus.Brakes { // from next to nothing to all the way down
		was := b.OffVoltage
		b.OffVoltage = b.OnVoltage - (b.OnVoltage-high)*logBetween(r, 1e-3, 0.99)
		if m.bus.Brakes[i] = b; m.bus.Validate() != nil {
			m.bus.Brakes[i].OffVoltage = was
		}
	}
	stations := bus.StrictlyPeriodic(m.stations)
	if n%4 > 0 {
		for i := range stations {
			stations[i] = randomStation(r, m.stations[i])
		}
	}
	return m, stations
}

// adversary seeks line-ups of a machine that pass its bounds.
type adversary struct {
	bus       bus.Bus
	stations  []bus.Cycle
	low, high bus.Bus
	longest   float64
	runs      int
}

// lineUp is one way in which the stations can run.
type lineUp struct {
	offsets []float64
	stills  [][]bus.Standstill
}

func newAdversary(b bus.Bus, stations []bus.Cycle) *adversary {
	a := &adversary{bus: b, stations: stations, low: b.Low(), high: b.High()}
	for _, s := range stations {
		a.longest = math.Max(a.longest, s.Power.Duration())
	}
	return a
}

// random returns a line-up with waits, or without.
func (a *adversary) random(r *rand.Rand, waits bool) lineUp {
	l := lineUp{make([]float64, len(a.stations)), make([][]bus.Standstill, len(a.stations))}
	for i, s := range a.stations {
		l.offsets[i] = between(r, 0, s.Power.Duration())
		if waits {
			l.stills[i] = randomStills(r, s, l.offsets[i], 3*a.longest)
		}
	}
	return l
}

// near returns a line-up a little off: each station as a whole, and the lengths of
// its standstills.
func (a *adversary) near(r *rand.Rand, l lineUp, by float64) lineUp {
	next := lineUp{slices.Clone(l.offsets), make([][]bus.Standstill, len(l.stills))}
	for i, s := range a.stations {
		shift := by * s.Power.Duration() * r.NormFloat64()
		next.offsets[i] += shift
		stills := slices.Clone(l.stills[i])
		for k := range stills {
			stills[k].From += shift
		}
		for k := range stills {
			longer := math.Max(-stills[k].Length, by*s.Power.Duration()*r.NormFloat64())
			stills[k].Length += longer
			if r.IntN(2) == 0 { // what follows stays where it is
				next.offsets[i] -= longer
				for j := range k + 1 {
					stills[j].From -= longer
				}
				continue
			}
			for j := k + 1; j < len(stills); j++ {
				stills[j].From += longer
			}
		}
		next.stills[i] = stills
	}
	return next
}

// run simulates a line-up on the bus of lowest and that of highest voltage.
func (a *adversary) run(t testing.TB, l lineUp, duration float64) (lowest, highest float64) {
	t.Helper()
	loads := make([]profile.Curve, len(a.stations))
	for i, s := range a.stations {
		var err error
		loads[i], err = s.Course(l.offsets[i], l.stills[i], duration)
		require.NoError(t, err)
	}
	load, err := profile.Sum(loads...)
	require.NoError(t, err)
	a.runs += 2
	r, err := a.low.Simulate(context.Background(), load, bus.State{Voltage: a.low.Source.NoLoadVoltage()})
	require.NoError(t, err)
	lowest = r.Lowest.V
	if r.Collapsed {
		lowest = 0
	}
	r, err = a.high.Simulate(context.Background(), load, bus.State{Voltage: a.high.Source.NoLoadVoltage()})
	require.NoError(t, err)
	return lowest, r.Highest.V
}

// Whatever the source, the resistors, their hysteresis and delay, and whether the
// stations wait: the bounds are never passed. With -machines=20000 on so many.
func TestGuaranteeWithWaits(t *testing.T) {
	long(t)
	machines := 200
	if testing.Short() || raceDetector {
		machines = 30
	}
	if *manyMachines > 0 {
		machines = *manyMachines
	}
	gaps := gapTable{}
	caught, controls, none, runs, waited := 0, 0, 0, 0, 0
	for n := *firstMachine; n < *firstMachine+machines; n++ {
		r := rand.New(rand.NewPCG(92, uint64(n)))
		m, stations := randomHostile(n)
		g, err := m.bus.AnyPhase(context.Background(), stations, nil)
		require.NoError(t, err)
		a := newAdversary(m.bus, stations)
		// The extremes of all that is tried.
		extreme := [2]float64{math.Inf(1), math.Inf(-1)}
		try := func(l lineUp, duration float64) [2]float64 {
			lowest, highest := a.run(t, l, duration)
			if beyond(g.Sag, lowest, -1) || beyond(g.Rise, highest, 1) {
				t.Fatalf("machine %d, %+v: lowest %.12g V, bound %.12g V; highest %.12g V, bound %.12g V\n%+v %+v %+v\n%+v",
					n, l, lowest, g.Sag.Voltage, highest, g.Rise.Voltage, m.bus, m.bus.Source, m.bus.Brakes, stations)
			}
			extreme[0], extreme[1] = math.Min(extreme[0], lowest), math.Max(extreme[1], highest)
			return [2]float64{lowest, highest}
		}
		for k := range 6 {
			try(a.random(r, k%2 == 0), 3*a.longest)
		}
		for k, x := range []bus.Bound{g.Sag, g.Rise} {
			sign := float64(2*k - 1)
			if !x.Exists {
				none++
				assert.NotEmpty(t, x.Reason)
				continue
			}
			if beyond(x, x.WitnessVoltage, sign) {
				t.Fatalf("machine %d: witness %.12g V, bound %.12g V", n, x.WitnessVoltage, x.Voltage)
			}
			at := lineUp{x.Offsets, x.Standstills}
			for _, s := range at.stills {
				waited += min(1, len(s))
			}
			here, duration := sign*try(at, x.Witness.Load.End())[k], x.Witness.Load.End()
			by := 0.05
			for range 8 {
				if duration > 20*a.longest { // it takes long as it is
					break
				}
				next := a.near(r, at, by)
				if v := sign * try(next, duration)[k]; v > here {
					at, here = next, v
				} else {
					by /= 1.5
				}
			}
			best := sign * math.Max(sign*extreme[k], sign*x.WitnessVoltage)
			gaps.add(m, x, k, best)
			// Shrunk by 1 % of the way off the no-load voltage more than the gap that is
			// known, the bound is caught by what was tried here.
			noLoad := []bus.Bus{a.low, a.high}[k].Source.NoLoadVoltage()
			if sign*(x.WitnessVoltage-noLoad) < 1e-6*noLoad {
				continue
			}
			controls++
			shrunk := x
			shrunk.Voltage = x.WitnessVoltage - 0.01*(x.WitnessVoltage-noLoad)
			if beyond(shrunk, extreme[k], sign) {
				caught++
			}
		}
		runs += a.runs
		if n%1000 == 999 {
			t.Logf("%d machines done", n+1-*firstMachine)
		}
	}
	if caught != controls || controls < machines {
		t.Errorf("%d of %d shrunk bounds were caught", caught, controls)
	}
	assert.Greater(t, waited, machines/10)
	t.Logf("%d machines, %d simulations, %d bounds without a finite value, %d stations wait in witnesses", machines, runs, none, waited)
	gaps.log(t)
}
