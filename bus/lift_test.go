package bus_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// One station returns 1000 W for 0.1 s and draws 100 W for 1.9 s. Its bank of 0.02 F has to be
// lifted from 100 V by 60 J before the resistor of Won²/(500 W) works. Had the bank been at
// the threshold all along, it would take the 100 J less 50 J that the resistor burns or so; but 60 J
// of them were needed to get there, and what follows in the remaining 0.04 s is an
// exponential towards 1000 W.
func TestLiftByHand(t *testing.T) {
	const c, v0, duration, power = 0.02, 100., 0.1, 1000.
	on := math.Sqrt(v0*v0 + 2*60/c)
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: c, RatedVoltage: 200},
		Source: bus.SwitchMode{Voltage: v0, CurrentLimit: 50},
		Brakes: []bus.BrakeResistor{{Resistance: on * on / 500, OnVoltage: on, OffVoltage: 0.98 * on}},
	}
	station := steps(t, []float64{0, duration, 2}, -power, 100)
	leak := 2 / (b.Brakes[0].Resistance * c)
	left := duration - 60/power
	above := (power - 500) / leak * -math.Expm1(-leak*left)
	want := math.Sqrt(on*on + 2*above/c)
	for _, s := range []bus.Cycle{{Power: station, Repeats: bus.Strictly}, {Power: station}, {Power: station, Repeats: bus.Once}} {
		g, err := b.AnyPhase(t.Context(), []bus.Cycle{s}, nil)
		require.NoError(t, err)
		require.True(t, g.Rise.Exists)
		assert.GreaterOrEqual(t, g.Rise.Voltage, want)
		near(t, want, g.Rise.Voltage, 1e-3*(want-on), "bound")
		near(t, want, g.Rise.WitnessVoltage, 1e-9*want, "witness")
	}
	// Where it also returns 80 W in between, with another one that draws them, the bank may be
	// up by then.
	returns := steps(t, []float64{0, duration, 2}, -power, -80)
	g, err := b.AnyPhase(t.Context(), bus.StrictlyPeriodic([]profile.Curve{returns, steps(t, []float64{0, 1, 2}, 500, -20)}), nil)
	require.NoError(t, err)
	full := (power + 20 - 500) / leak * -math.Expm1(-leak*duration)
	assert.GreaterOrEqual(t, g.Rise.Voltage, math.Sqrt(on*on+2*full/c))
}

// Windows where what was taken before counts too, against quadrature: the schedule found
// takes what it is said to, and none takes more.
func TestWorstLiftedWindow(t *testing.T) {
	random := rand.New(rand.NewPCG(53, 54))
	paused, moved, close := 0, 0, 0
	for n := range 150 {
		c := randomStation(random, randomCycle(random, 1000).Shift(between(random, -3, 3)))
		c.Power, c.Idle = c.Power.Scale(-1), -c.Idle
		most := c.Power.Mean()
		if c.Repeats != bus.Strictly {
			most = math.Max(most, c.Idle)
		}
		if c.Repeats == bus.Once {
			most = c.Idle
		}
		for i := range c.Waits {
			c.Waits[i].Power *= -1
			most = math.Max(most, c.Waits[i].Power)
		}
		scale := math.Abs(c.Power.AbsMax().V)
		added := -most - pick(random, 0.01, 0.1, 0.5)*scale
		if random.IntN(2) == 0 {
			added = math.Min(added, 0)
		}
		period := c.Power.Duration()
		leak := pick(random, 0, 1e-9, logBetween(random, 0.01, 10)) / period
		length := pick(random, 0.03, 0.1, 0.5, 1, 1.7) * period * between(random, 0.5, 1)
		before := pick(random, 0.1, 0.5, 1)
		history := 3 * period
		got, offset, stills, rate, burst, err := bus.WorstLifted(c, leak, length, before, added, history+length)
		require.NoError(t, err)
		scale *= length + period

		value := func(offset float64, stills []bus.Standstill) float64 {
			p, err := c.Course(offset, stills, history+length)
			require.NoError(t, err)
			earlier, window, err := p.Split(history)
			require.NoError(t, err)
			constant, err := profile.Constant(added, 0, history)
			require.NoError(t, err)
			earlier, err = profile.Sum(earlier, constant)
			require.NoError(t, err)
			u := earlier.Antiderivative(0)
			return leaked(window, leak) + before*math.Exp(-leak*length)*(u.At(u.End())-u.Min().V)
		}
		if v := value(offset, stills); !(math.Abs(v-got) <= 1e-9*scale) {
			t.Errorf("%d: %g found, its schedule takes %g (leak %g, length %g, before %g, added %g, offset %g, %+v): %+v", n, got, v, leak, length, before, added, offset, stills, c)
		}
		if len(stills) > 0 {
			paused++
		}
		sigma := length
		if leak != 0 {
			sigma = -math.Expm1(-leak*length) / leak
		}
		assert.LessOrEqual(t, got, rate*sigma+burst+1e-9*scale, "linear bound")
		_, other, _, _, _, err := bus.WorstOf(c, leak, length)
		require.NoError(t, err)
		if period*0.01 < math.Abs(math.Remainder(other+history-offset, period)) {
			moved++
		}

		best := math.Inf(-1)
		for range 300 {
			offset := between(random, 0, period)
			if c.Repeats == bus.Once {
				offset = between(random, -period, length) + history
			}
			if v := value(offset, randomStills(random, c, offset, history+length)); v > best {
				best = v
				if !(v <= got+1e-9*scale) {
					t.Fatalf("%d: %g found, a schedule takes %g (leak %g, length %g, before %g, added %g): %+v", n, got, v, leak, length, before, added, c)
				}
			}
		}
		if got-best < 0.02*scale {
			close++
		}
	}
	assert.Greater(t, paused, 20)
	assert.Greater(t, moved, 30)
	assert.Greater(t, close, 120)
	t.Logf("%d windows with a wait, %d moved, %d come close", paused, moved, close)
}

// 10 J returned in 0.1 s, 1 J drawn in 0.1 s, and where the station may then wait, 20 J
// returned in 0.1 s. A window of 0.15 s begins best in the wait: the 20 J, no power for 0.05 s,
// and half of the 9 J before.
func TestLiftBeforeAWait(t *testing.T) {
	c := bus.Cycle{Power: steps(t, []float64{0, 0.1, 0.2, 0.3, 3}, 100, -10, 200, -100), Waits: []bus.Wait{{At: 0.2}}, Idle: -50}
	got, _, stills, _, _, err := bus.WorstLifted(c, 0, 0.15, 0.5, 0, 5)
	require.NoError(t, err)
	near(t, 20+9./2, got, 1e-9, "window")
	assert.Len(t, stills, 1)
}

// The bracket around the worst backlog with chains, against the sums at many lengths.
func TestChainedBacklog(t *testing.T) {
	random := rand.New(rand.NewPCG(55, 56))
	tight, helped := 0, 0
	for n := range 60 {
		var cycles []bus.Cycle
		longest, burst := 0.0, 0.0
		for range 1 + random.IntN(4) {
			c := bus.Cycle{Power: randomCycle(random, 1000), Repeats: pick(random, bus.Strictly, bus.Pausing)}
			if !(c.Power.Mean() > 0) {
				continue
			}
			cycles = append(cycles, c)
			longest = math.Max(longest, c.Power.Duration())
			burst += c.Power.Duration() * c.Power.AbsMax().V
		}
		if len(cycles) == 0 {
			continue
		}
		leak := logBetween(random, 0.05, 10) / longest
		rise := math.Abs(burst) * logBetween(random, 0.01, 0.5)
		drain := math.Abs(burst) / longest * logBetween(random, 0.05, 0.5)
		upper, width, of, err := bus.ChainedBacklog(cycles, drain, leak, rise)
		require.NoError(t, err)
		plain, _, _, err := bus.ChainedBacklog(cycles, drain, leak, 0)
		require.NoError(t, err)
		most := 0.0
		for k := range 4000 {
			most = math.Max(most, of(longest*3*float64(k)/4000))
		}
		assert.LessOrEqual(t, most, upper+1e-9*math.Abs(burst), "%d", n)
		assert.LessOrEqual(t, upper, plain+width)
		if upper-most < width+1e-3*math.Abs(burst) {
			tight++
		}
		if upper < 0.9*plain {
			helped++
		}
	}
	assert.Greater(t, tight, 40)
	assert.Greater(t, helped, 5)
	t.Logf("%d brackets are tight, %d bounds are lower than without what came before", tight, helped)
}

// A machine where a break of B is next to one of the power, and its station waits there.
func TestLiftBreaksSideBySide(t *testing.T) {
	m, stations := randomHostile(3994)
	_, err := m.bus.AnyPhase(t.Context(), stations, nil)
	require.NoError(t, err)
}

// What is added to the returned powers changes nothing of their sum, and leaves no station that
// returns more than it draws, or anything in a pause.
func TestLifting(t *testing.T) {
	random := rand.New(rand.NewPCG(61, 62))
	moved, none := 0, 0
	for range 300 {
		var cycles []bus.Cycle
		for range 1 + random.IntN(5) {
			cycles = append(cycles, randomStation(random, randomCycle(random, 1000)))
		}
		added, ok := bus.Lifting(cycles)
		if !ok {
			none++
			continue
		}
		sum, largest := 0.0, 0.0
		for i, c := range cycles {
			sum += added[i]
			largest = math.Max(largest, math.Abs(added[i]))
			if c.Repeats != bus.Once {
				assert.LessOrEqual(t, added[i]-c.Power.Mean(), 1e-9)
			}
			if c.Repeats != bus.Strictly {
				assert.LessOrEqual(t, added[i]-c.Idle, 1e-9)
			}
			for _, w := range c.Waits {
				assert.LessOrEqual(t, added[i]-w.Power, 1e-9)
			}
		}
		near(t, 0, sum, 1e-12*largest, "sum")
		if largest > 0 {
			moved++
		}
	}
	assert.Greater(t, min(moved, none), 20)
}

// LineUp against where the stations are in their cycles, and what it refuses.
func TestLineUp(t *testing.T) {
	n := bus.Network{Bus: goodBus(), Feeders: []bus.Feeder{{Resistance: 0.1}}}
	a, b := steps(t, []float64{0, 1, 2}, 10, -4), steps(t, []float64{0, 1, 2}, 3, 5)
	stations := []bus.Station{{Axes: []bus.AxisCycle{{Power: a}, {Power: b, Feeder: 1}}}, {Axes: []bus.AxisCycle{{Power: b, Feeder: 1}}}}
	loads, sum, err := n.LineUp(stations, []float64{0, 1}, 4)
	require.NoError(t, err)
	for _, tc := range []struct{ at, here, there float64 }{{0.5, 10, 3 + 5}, {1.5, -4, 5 + 3}, {2.5, 10, 3 + 5}} {
		near(t, tc.here, loads[0].At(tc.at), 1e-12, "distribution point")
		near(t, tc.there, loads[1].At(tc.at), 1e-12, "feeder")
		near(t, tc.here+tc.there, sum.At(tc.at), 1e-12, "sum")
	}
	_, _, err = n.LineUp(stations, []float64{0}, 4)
	assert.Equal(t, []string{"offsets"}, paths(err))
	_, _, err = n.LineUp(stations, []float64{0, nan}, 4)
	require.Error(t, err)
	_, _, err = n.LineUp(nil, nil, 4)
	assert.Equal(t, []string{"stations"}, paths(err))
}
