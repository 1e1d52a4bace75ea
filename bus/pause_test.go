package bus_test

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// randomStation returns a station that repeats in any of the ways, of a cycle.
func randomStation(r *rand.Rand, power profile.Curve) bus.Cycle {
	c := bus.Cycle{Power: power, Repeats: pick(r, bus.Pausing, bus.Pausing, bus.Strictly, bus.Once)}
	scale := math.Abs(power.AbsMax().V)
	if r.IntN(3) > 0 {
		c.Idle = scale * between(r, -0.1, 0.2)
	}
	if c.Repeats == bus.Pausing {
		for range r.IntN(4) {
			w := bus.Wait{At: between(r, 0, power.Duration()), Power: scale * between(r, -0.1, 0.2)}
			if k := r.IntN(power.Pieces()); r.IntN(2) == 0 { // at a break
				_, t1, _ := power.Piece(k)
				w.At = t1 - power.Start()
			}
			c.Waits = append(c.Waits, w)
		}
	}
	return c
}

// randomStills returns standstills of a station that starts at offset, where its
// waits allow them, up to duration.
func randomStills(r *rand.Rand, c bus.Cycle, offset, duration float64) []bus.Standstill {
	if c.Repeats != bus.Pausing {
		return nil
	}
	waits := append([]bus.Wait{{At: 0, Power: c.Idle}}, c.Waits...)
	slices.SortFunc(waits, func(a, b bus.Wait) int { return int(math.Copysign(1, a.At-b.At)) })
	period := c.Power.Duration()
	var stills []bus.Standstill
	delayed := 0.0
	often := r.Float64()
	for start := offset - period*math.Ceil(offset/period+1); start+delayed < duration; start += period {
		for _, w := range waits {
			at := start + w.At + delayed
			if at < 0 || at > duration || r.Float64() > often {
				continue
			}
			s := bus.Standstill{From: at, Length: period * logBetween(r, 1e-3, 2), Power: w.Power}
			stills = append(stills, s)
			delayed += s.Length
		}
	}
	return stills
}

// leaked integrates e^(-b (end-t)) p(t) over all of p.
func leaked(p profile.Curve, leak float64) float64 {
	sum := 0.0
	for i := range p.Pieces() {
		t0, t1, _ := p.Piece(i)
		n := math.Ceil(math.Abs(leak) * (t1 - t0) / 4)
		n = math.Max(1, math.Min(n, 50))
		for k := range int(n) {
			a, b := t0+(t1-t0)*float64(k)/n, t0+(t1-t0)*float64(k+1)/n
			sum += quad.Fixed(func(t float64) float64 {
				return math.Exp(-leak*(p.End()-t)) * p.At(math.Min(t, math.Nextafter(t1, t0)))
			}, a, b, 12, quad.Legendre{}, 0)
		}
	}
	return sum
}

// The worst window of a station that may stand still, against quadrature: the
// schedule found takes what it is said to, and no schedule with any number of waits
// takes more.
func TestWorstWindowWithPauses(t *testing.T) {
	random := rand.New(rand.NewPCG(45, 46))
	paused, close := 0, 0
	for n := range 150 {
		c := randomStation(random, randomCycle(random, 1000).Shift(between(random, -3, 3)))
		if random.IntN(3) == 0 { // as for the rise
			c.Power, c.Idle = c.Power.Scale(-1), -c.Idle
			for i := range c.Waits {
				c.Waits[i].Power *= -1
			}
		}
		period := c.Power.Duration()
		leak := pick(random, 0, 0, 1e-9, logBetween(random, 0.01, 30), -between(random, 0, 4)) / period
		length := pick(random, 0.1, 0.5, 1, 1.7, 4.2) * period * between(random, 0.5, 1)
		got, offset, stills, rate, burst, err := bus.WorstOf(c, leak, length)
		require.NoError(t, err)
		scale := math.Abs(c.Power.AbsMax().V) * length * math.Max(1, math.Exp(-leak*length))

		p, err := c.Course(offset, stills, length)
		require.NoError(t, err)
		if v := leaked(p, leak); !(math.Abs(v-got) <= 1e-9*scale) {
			t.Errorf("%d: energy of the window found = %g, its schedule takes %g (leak %g, length %g, offset %g, %+v): %+v", n, got, v, leak, length, offset, stills, c)
		}
		if len(stills) > 0 {
			paused++
		}
		sigma := length
		if leak != 0 {
			sigma = -math.Expm1(-leak*length) / leak
		}
		assert.LessOrEqual(t, got, rate*sigma+burst+1e-9*scale, "linear bound")

		best := math.Inf(-1)
		for range 300 {
			offset := between(random, 0, period)
			if c.Repeats == bus.Once {
				offset = between(random, -period, length)
			}
			p, err := c.Course(offset, randomStills(random, c, offset, length), length)
			require.NoError(t, err)
			if v := leaked(p, leak); v > best {
				best = v
				if !(v <= got+1e-9*scale) {
					t.Fatalf("%d: D(%g) = %g, a schedule takes %g (leak %g): %+v", n, length, got, v, leak, c)
				}
			}
		}
		if got-best < 0.02*scale {
			close++
		}
	}
	assert.Greater(t, paused, 30)
	assert.Greater(t, close, 60)
}

// The same where the power at the end of the window counts too: quadrature and the
// curve's own values on both sides of the end.
func TestWorstWindowsEndingWithPower(t *testing.T) {
	random := rand.New(rand.NewPCG(47, 48))
	moved := 0
	for n := range 120 {
		c := randomStation(random, randomCycle(random, 1000))
		if random.IntN(3) == 0 {
			c.Power, c.Idle = c.Power.Scale(-1), -c.Idle
			for i := range c.Waits {
				c.Waits[i].Power *= -1
			}
		}
		period := c.Power.Duration()
		leak := pick(random, 0, 0, logBetween(random, 0.01, 30), -between(random, 0, 4)) / period
		length := pick(random, 0.1, 0.5, 1, 1.7, 4.2) * period * between(random, 0.5, 1)
		ending := period * logBetween(random, 1e-3, 3)
		got, offset, stills, surplus, _, err := bus.WorstEnding(c, leak, length, ending)
		require.NoError(t, err)
		scale := math.Abs(c.Power.AbsMax().V) * (ending + length*math.Max(1, math.Exp(-leak*length)))

		const after = 1e-9
		value := func(offset float64, stills []bus.Standstill) (before, beyond float64) {
			p, err := c.Course(offset, stills, length*(1+after))
			require.NoError(t, err)
			last, err := p.Slice(0, length)
			require.NoError(t, err)
			sum := leaked(last, leak)
			return sum + ending*last.At(length*(1-after)), sum + ending*p.At(length*(1+after/2))
		}
		a, b := value(offset, stills)
		if d := math.Min(math.Abs(a-got), math.Abs(b-got)); !(d <= 1e-7*scale) {
			t.Errorf("%d: %g found, its schedule takes %g or %g (leak %g, length %g, ending %g, %+v): %+v", n, got, a, b, leak, length, ending, stills, c)
		}
		plain, other, _, _, _, err := bus.WorstOf(c, leak, length)
		require.NoError(t, err)
		if math.Abs(other-offset) > 1e-3*period {
			moved++
		}
		assert.LessOrEqual(t, got, plain+ending*math.Max(math.Abs(c.Power.AbsMax().V), math.Abs(c.Idle))+1e-9*scale)
		for range 200 {
			offset := between(random, 0, period)
			if c.Repeats == bus.Once {
				offset = between(random, -period, length)
			}
			a, b := value(offset, randomStills(random, c, offset, length))
			if v := math.Max(a, b); !(v <= got+surplus+1e-7*scale) {
				t.Fatalf("%d: D(%g; %g) = %g, a schedule takes %g (leak %g): %+v", n, length, ending, got, v, leak, c)
			}
		}
	}
	assert.Greater(t, moved, 30)
}

// A wait that lasts no time, with which the window ends, can beat all that are looked at.
// 10 kW returned until 0.4 s, then 100 W for 0.1 s, then nothing; at 0.54 s a wait with
// 50 W. Of windows of 0.12 s the one from 0.42 s on takes 8 J and, ending with a moment of
// the wait counted as 0.1 s, 5 J. Found are 6 J and 5 J, of a wait all along.
func TestMomentOfAWait(t *testing.T) {
	c := bus.Cycle{Power: steps(t, []float64{0, 0.4, 0.5, 1}, -1e4, 100, 0), Waits: []bus.Wait{{At: 0.54, Power: 50}}}
	got, _, _, surplus, _, err := bus.WorstEnding(c, 0, 0.12, 0.1)
	require.NoError(t, err)
	near(t, 11, got, 1e-9, "looked at")
	near(t, 5, surplus, 1e-9, "surplus")
	assert.GreaterOrEqual(t, got+surplus, 13.0)
}

// 100 W for 0.1 s, then 60 W returned for 0.1 s, then 0.3 s at rest, where the
// station may wait and takes 2 W.
func TestPausesByHand(t *testing.T) {
	power := steps(t, []float64{0, 0.1, 0.2, 0.5}, 100, -60, 0)
	between := bus.Cycle{Power: power, Waits: []bus.Wait{{At: 0.2, Power: 2}, {At: 0.1, Power: 5}}, Idle: 1}
	for _, tc := range []struct {
		name         string
		cycle        bus.Cycle
		leak, length float64
		want         float64
	}{
		{"strict", bus.Cycle{Power: power, Repeats: bus.Strictly}, 0, 0.6, 10 - 6 + 10},
		// The next pulse waits for nothing; the wait before the return takes 5 W.
		{"the return is put off", between, 0, 0.3, 10 + 0.2*5},
		{"nothing is gained", between, 0, 0.1, 10},
		{"two cycles", between, 0, 0.6, math.Max(10-6+10, 10+0.5*5)},
		{"two cycles and time to wait", between, 0, 0.7, 10 - 6 + 10 + 0.1*5},
		{"idle", bus.Cycle{Power: power, Idle: 20}, 0, 2, 2*20 + 8}, // 0.1 s of a pulse instead
		{"leak", bus.Cycle{Power: power.Scale(-1)}, 10, 0.3, 6*(1-math.Exp(-1)) - 10*(math.Exp(-1)-math.Exp(-2))},
		{"leak and wait", bus.Cycle{Power: power.Scale(-1), Waits: []bus.Wait{{At: 0.1}}}, 10, 0.3, 6 * (1 - math.Exp(-1))},
		{"once", bus.Cycle{Power: power, Repeats: bus.Once, Idle: 3}, 0, 0.6, 10 + 0.5*3},
		{"once, too short", bus.Cycle{Power: power, Repeats: bus.Once, Idle: 3}, 0, 0.05, 5},
		{"once, returned", bus.Cycle{Power: power.Scale(-1), Repeats: bus.Once}, 0, 7, 6}, // begins within it
	} {
		got, _, _, _, _, err := bus.WorstOf(tc.cycle, tc.leak, tc.length)
		require.NoError(t, err)
		near(t, tc.want, got, 1e-9, tc.name)
	}
}

// The course of a station against where it is in its cycle.
func TestCourse(t *testing.T) {
	power := steps(t, []float64{7, 7.25, 8}, 1, 2)
	c := bus.Cycle{Power: power, Idle: 5, Waits: []bus.Wait{{At: 0.25, Power: 6}}}
	p, err := c.Course(0.5, []bus.Standstill{{From: 0.75, Length: 0.5, Power: 6}, {From: 2, Length: 10, Power: 5}}, 4)
	require.NoError(t, err)
	for _, at := range []struct{ t, want float64 }{
		{0.1, 2}, {0.6, 1}, {0.8, 6}, {1.2, 6}, {1.3, 2}, {1.9, 2}, {2.1, 5}, {3.9, 5},
	} {
		near(t, at.want, p.At(at.t), 0, "power")
	}
	near(t, 4, p.End(), 0, "end")

	c = bus.Cycle{Power: power, Repeats: bus.Once, Idle: 5}
	for _, tc := range []struct{ offset, at, want float64 }{
		{0.5, 0.4, 5}, {0.5, 0.6, 1}, {0.5, 1.4, 2}, {0.5, 1.6, 5}, {-0.5, 0.1, 2}, {-0.5, 0.6, 5}, {-3, 0.1, 5}, {3, 1.9, 5},
	} {
		p, err := c.Course(tc.offset, nil, 2)
		require.NoError(t, err)
		near(t, tc.want, p.At(tc.at), 0, "power")
		near(t, 2, p.End(), 0, "end")
	}
}

func TestBadCycles(t *testing.T) {
	b := goodBus()
	power := steps(t, []float64{0, 1}, 10)
	for _, v := range []float64{nan, inf, -inf} {
		_, err := b.AnyPhase(context.Background(), []bus.Cycle{{Power: power, Idle: v, Waits: []bus.Wait{{At: v, Power: v}}}}, nil)
		assert.Equal(t, []string{"stations[0].idle", "stations[0].waits[0].at", "stations[0].waits[0].power"}, paths(err))
		_, err = bus.Cycle{Power: power}.Course(v, []bus.Standstill{{From: v, Length: v, Power: v}}, v)
		assert.Len(t, profile.InputErrors(err), 5)
	}
	_, err := b.AnyPhase(context.Background(), []bus.Cycle{{Power: power, Waits: []bus.Wait{{At: 1.1}, {At: -0.1}, {At: 1}, {At: 0}}}}, nil)
	assert.Equal(t, []string{"stations[0].waits[0].at", "stations[0].waits[1].at"}, paths(err))
	_, err = b.AnyPhase(context.Background(), []bus.Cycle{{Power: power, Repeats: bus.Once, Waits: []bus.Wait{{At: 1}}}, {Power: power, Repeats: 7}}, nil)
	assert.Equal(t, []string{"stations[0].waits[0]", "stations[1].repeats"}, paths(err))
	pausing := []bus.Cycle{{Power: power}}
	_, err = b.AnyPhase(context.Background(), pausing, bus.StrictlyPeriodic([]profile.Curve{power}))
	assert.Equal(t, []string{"returning[0].waits"}, paths(err))
	_, err = bus.Cycle{Power: power}.Course(0, []bus.Standstill{{From: 1, Length: 1}, {From: 1.5, Length: -1}}, 3)
	assert.Equal(t, []string{"stills[1].length", "stills[1].from"}, paths(err))
	for _, v := range []float64{1e300, -1e300} {
		g, err := b.AnyPhase(context.Background(), []bus.Cycle{{Power: power, Idle: v}}, nil)
		if err == nil {
			finite(t, "powers", g.MeanSourcePower, g.PeakDemand, g.MeanReturnedPower, g.Sag.Voltage, g.Rise.Voltage)
		}
	}
}
