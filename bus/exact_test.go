package bus_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// The extreme power within some time of each instant, against many instants.
func TestWorstWithin(t *testing.T) {
	random := rand.New(rand.NewPCG(97, 98))
	for range 60 {
		c := randomCycle(random, 1000).Shift(between(random, -2, 2))
		period, scale := c.Duration(), math.Abs(c.AbsMax().V)
		h := period * logBetween(random, 1e-4, 0.6)
		sign := pick(random, -1., 1)
		w := bus.WorstWithin(c, h, sign)
		near(t, period, w.Duration(), 1e-12*period, "period")
		for k := range 100 {
			at := period * (float64(k) + 0.37) / 100
			want := math.Inf(-1)
			for j := range 401 {
				d := h * (float64(j)/200 - 1) * (1 - 1e-6)
				want = math.Max(want, sign*c.At(c.Start()+math.Mod(at+d+period, period)))
			}
			got := sign * w.At(w.Start()+at)
			if !(got >= want-1e-9*scale) {
				t.Fatalf("%g within %g of %g, is %g", got, h, at, want)
			}
			assert.LessOrEqual(t, got, want+scale*(0.05+20*h/period*0.05), "not far above")
		}
	}
}

// Bracketed extremes hold for phases on a fine grid, and lie within the bounds for
// any phase.
func TestExtremeOverPhases(t *testing.T) {
	long(t)
	compared, narrow := 0, 0
	for n := range 60 {
		r := rand.New(rand.NewPCG(99, uint64(n)))
		m := randomMachine(r)
		if len(m.stations) < 2 || len(m.stations) > 3 {
			continue
		}
		m.bus.Brakes = nil
		m.stations = m.stations[:2]
		horizon := 3 * math.Max(m.stations[0].Duration(), m.stations[1].Duration())
		g := anyPhase(t, m.bus, m.stations...)
		for k, f := range []func(context.Context, []profile.Curve, float64, float64) (*bus.Extreme, error){m.bus.LowestOverPhases, m.bus.HighestOverPhases} {
			sign := float64(2*k - 1)
			tolerance := 2e-3 * m.bus.Source.NoLoadVoltage()
			x, err := f(context.Background(), m.stations, horizon, tolerance)
			require.NoError(t, err)
			assert.GreaterOrEqual(t, sign*x.Bound, sign*x.Attained)
			if math.Abs(x.Bound-x.Attained) <= tolerance*(1+1e-9) {
				narrow++
			}
			if guaranteed := []bus.Bound{g.Sag, g.Rise}[k]; guaranteed.Exists {
				assert.LessOrEqual(t, sign*x.Attained, sign*guaranteed.Voltage+1e-9)
			}
			for j := range 30 {
				offsets := []float64{0, m.stations[1].Duration() * float64(j) / 30}
				lowest, highest := m.lineUp(t, offsets, horizon)
				if v := []float64{lowest, highest}[k]; !(sign*v <= sign*x.Bound+1e-9) {
					t.Fatalf("%d: %g V at %v, bound %g V", n, v, offsets, x.Bound)
				}
			}
			compared++
		}
	}
	t.Logf("%d extremes, %d narrowed down", compared, narrow)
	assert.Greater(t, compared, 20)
	assert.Greater(t, narrow, compared*8/10)
}

// Two stations that draw 100 J and return 80 J, at rates that the source hardly
// counts beside: in phase the bank gives 200 J, in antiphase, where one returns while
// the other draws, 20 J at a time.
func TestInPhaseAndAntiphase(t *testing.T) {
	cycle := steps(t, []float64{0, 0.1, 0.5, 0.6, 1}, 1000, 0, -800, 0)
	b := bus.Bus{Bank: bus.Bank{Capacitance: 1, RatedVoltage: 200}, Source: bus.SwitchMode{Voltage: 100, CurrentLimit: 0.5}}
	volts := func(drop float64) float64 { return math.Sqrt(100*100 - 2*drop) }
	lowest := func(phase, horizon float64) float64 {
		q, err := bus.Periodic(cycle, phase, horizon)
		require.NoError(t, err)
		p, err := bus.Periodic(cycle, 0, horizon)
		require.NoError(t, err)
		load, err := profile.Sum(p, q)
		require.NoError(t, err)
		return simulate(t, b, load, 100).Lowest.V
	}
	near(t, volts(200), lowest(0, 0.9), 0.06, "in phase")
	// 100 J drawn while 80 J come back, less 5 J from the source, twice in a cycle: 40 J
	// where it is 200 J in phase.
	near(t, volts(20-0.1*50), lowest(0.5, 0.45), 1e-3, "antiphase, once")
	b.Source = bus.SwitchMode{Voltage: 100, CurrentLimit: 1e-6}
	near(t, volts(40), lowest(0.5, 1), 1e-3, "antiphase, a cycle")
	near(t, volts(200), lowest(0, 0.5), 1e-3, "in phase, a cycle")
	b.Source = bus.SwitchMode{Voltage: 100, CurrentLimit: 0.5}

	x, err := b.LowestOverPhases(context.Background(), []profile.Curve{cycle, cycle}, 0.9, 0.01)
	require.NoError(t, err)
	near(t, lowest(0, 0.9), x.Attained, 0.02, "worst phase")
	assert.LessOrEqual(t, x.Attained-x.Bound, 0.0101)
	g := anyPhase(t, b, cycle, cycle)
	require.True(t, g.Sag.Exists)
	near(t, volts(200), g.Sag.Voltage, 0.1, "bound for any phase")
	assert.LessOrEqual(t, g.Sag.Voltage, x.Attained)

	// Never beyond four stations, nor with memory.
	_, err = b.LowestOverPhases(context.Background(), []profile.Curve{cycle, cycle, cycle, cycle, cycle}, 1, 0.1)
	assert.Equal(t, []string{"stations"}, paths(err))
	b.Source = bus.SwitchMode{Voltage: 100, CurrentLimit: 0.5, Overload: bus.Hiccup, Endurance: 1}
	_, err = b.LowestOverPhases(context.Background(), []profile.Curve{cycle}, nan, 0)
	assert.Contains(t, paths(err), "bus.source")
	assert.Contains(t, paths(err), "horizon")
	assert.Contains(t, paths(err), "tolerance")
}

// Three and four stations of commensurate periods.
func TestExtremeOfFourStations(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.05, RatedVoltage: 200},
		Source: bus.Resistive{OpenCircuit: 100, Resistance: 2},
	}
	powers := []profile.Curve{
		steps(t, []float64{0, 0.2, 0.6}, 500, 20), steps(t, []float64{0, 0.1, 0.3}, 400, 0),
		steps(t, []float64{0, 0.15, 0.6}, 300, 0), steps(t, []float64{0, 0.05, 0.2}, 200, 0),
	}
	for n := range powers {
		x, err := b.LowestOverPhases(context.Background(), powers[:n+1], 1.8, 1)
		require.NoError(t, err)
		assert.LessOrEqual(t, x.Attained-x.Bound, 1.0)
		assert.Len(t, x.Offsets, n+1)
		g := anyPhase(t, b, powers[:n+1]...)
		assert.LessOrEqual(t, g.Sag.Voltage, x.Attained)
		t.Logf("%d stations: %.3f V to %.3f V, %d boxes; bound for any phase %.3f V, its witness %.3f V", n+1, x.Bound, x.Attained, x.Boxes, g.Sag.Voltage, g.Sag.WitnessVoltage)
	}
}
