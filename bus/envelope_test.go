package bus_test

import (
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// window integrates e^(-b s) P(T-s) over s from 0 to L by quadrature between the
// breaks of the repeated cycle.
func window(c profile.Curve, leak, length, end float64) float64 {
	sum := 0.0
	period := c.Duration()
	first := math.Floor((end - length) / period)
	for k := first; k*period < end; k++ {
		for i := range c.Pieces() {
			t0, t1, _ := c.Piece(i)
			t0, t1 = t0-c.Start(), t1-c.Start()
			lo, hi := math.Max(end-length, k*period+t0), math.Min(end, k*period+t1)
			if !(hi > lo) {
				continue
			}
			mid := (t0+t1)/2 + c.Start()
			for j := range 4 { // e^x is no polynomial
				a, b := lo+(hi-lo)*float64(j)/4, lo+(hi-lo)*float64(j+1)/4
				sum += quad.Fixed(func(t float64) float64 {
					at := t - k*period + c.Start()
					if (at-mid)*2 >= t1-t0 { // not the next piece at the very end
						at = math.Nextafter(t1+c.Start(), 0)
					}
					return math.Exp(-leak*(end-t)) * c.At(at)
				}, a, b, 12, quad.Legendre{}, 0)
			}
		}
	}
	return sum
}

// The worst window of one length, without, with positive and with negative leak,
// against quadrature of many windows.
func TestWorstWindow(t *testing.T) {
	random := rand.New(rand.NewPCG(41, 42))
	for n := range 40 {
		c := randomCycle(random, 1000).Shift(between(random, -3, 3))
		period := c.Duration()
		leak := pick(random, 0, 0, 1e-9, logBetween(random, 0.01, 100), -between(random, 0, 8)) / period
		length := pick(random, 0.1, 0.5, 1, 1.7, 3) * period * between(random, 0.5, 1)
		got, end, err := bus.WorstWindow(c, leak, length)
		require.NoError(t, err)

		scale := math.Abs(c.AbsMax().V) * math.Min(length, period) * math.Max(1, math.Exp(-leak*length))
		near(t, window(c, leak, length, end), got, 1e-10*scale, "energy of the window found")
		assert.True(t, end >= 0 && end <= period)
		best := math.Inf(-1)
		const tries = 300
		for k := range tries {
			best = math.Max(best, window(c, leak, length, period*float64(k)/tries))
		}
		if !(got >= best-1e-10*scale) {
			t.Errorf("%d: D(%g) = %g, a window takes %g (leak %g)", n, length, got, best, leak)
		}
		// No window is far from one tried.
		lo, hi := c.Extrema()
		step := period / tries / 2
		assert.LessOrEqual(t, got-best, (hi.V-lo.V)*step*math.Max(1, math.Exp(-leak*length))+math.Abs(leak)*step*scale*2)
	}
}

func TestWorstWindowByHand(t *testing.T) {
	// 100 W for 0.2 s of every second.
	c := steps(t, []float64{0, 0.2, 1}, 100, 0)
	for _, tc := range []struct{ leak, length, want float64 }{
		{0, 0.1, 10}, {0, 0.2, 20}, {0, 0.9, 20}, {0, 1, 20}, {0, 1.1, 30}, {0, 1.2, 40}, {0, 2.2, 60},
		{5, 0.2, 100 * (1 - math.Exp(-1)) / 5},
		{5, 1.2, 100 * (1 - math.Exp(-1)) / 5 * (1 + math.Exp(-5))},
		{5, 40, 100 * (1 - math.Exp(-1)) / 5 / (1 - math.Exp(-5))},
		{-2, 0.2, 100 * (math.Exp(0.4) - 1) / 2}, // weighted by e^(2 s)
		{-2, 1, 100 * (math.Exp(2) - math.Exp(1.6)) / 2},
	} {
		got, _, err := bus.WorstWindow(c, tc.leak, tc.length)
		require.NoError(t, err)
		near(t, tc.want, got, 1e-10, "energy")
	}
	// Energy that is only returned: windows that miss the pulse take least, 0.
	got, _, err := bus.WorstWindow(c.Scale(-1), 0, 0.5)
	require.NoError(t, err)
	near(t, 0, got, 1e-12, "window between the pulses")
	got, _, err = bus.WorstWindow(c.Scale(-1), 0, 0.9)
	require.NoError(t, err)
	near(t, -10, got, 1e-12, "window that cannot miss it")
}

// The bracket of the worst backlog holds the value of every window length.
func TestBacklogBracket(t *testing.T) {
	random := rand.New(rand.NewPCG(51, 52))
	finite := 0
	for n := range 40 {
		var loads []profile.Curve
		mean, longest := 0.0, 0.0
		for range 1 + random.IntN(3) {
			c := randomCycle(random, 1000)
			loads = append(loads, c)
			mean += c.Mean()
			longest = math.Max(longest, c.Duration())
		}
		leak := pick(random, 0, 0, logBetween(random, 0.1, 30)/longest, -between(random, 0, 1)*8/longest)
		drain := math.Max(0, mean) * between(random, 1.05, 3)
		if random.IntN(4) == 0 {
			drain = 0
		}
		lower, upper, length, swing, err := bus.WorstBacklog(loads, drain, leak)
		require.NoError(t, err)
		value := func(l float64) float64 {
			sum := -drain * l
			if leak != 0 {
				sum = drain * math.Expm1(-leak*l) / leak
			}
			for _, c := range loads {
				d, _, err := bus.WorstWindow(c, leak, l)
				require.NoError(t, err)
				sum += d
			}
			return sum
		}
		if math.IsInf(upper, 1) {
			assert.LessOrEqual(t, leak, 0.0)
			if leak == 0 {
				assert.Greater(t, mean, drain)
			}
			continue
		}
		finite++
		near(t, lower, value(length), 1e-9*swing, "value at the length found")
		assert.LessOrEqual(t, upper-lower, 1.01*bus.BacklogTolerance*swing, "%d: width", n)
		for k := range 200 {
			l := longest * 4 * float64(k) / 200
			if v := value(l); !(v <= upper+1e-9*swing) {
				t.Fatalf("%d: %g J in windows of %g s, bound %g J", n, v, l, upper)
			}
		}
	}
	assert.Greater(t, finite, 25)
}

// Stations of nearly the same period whose worst windows, of 0.5 s and 0.25 s,
// come to the same length only after 250 cycles: 25 J and 18.76 J over what is
// drained, beyond the windows that are searched.
func TestBacklogOfLongWindows(t *testing.T) {
	a := steps(t, []float64{0, 0.5, 1}, 100, 0)
	b := steps(t, []float64{0, 0.25, 1.001}, 100, 0)
	drain := a.Mean() + b.Mean() + 1e-6
	_, upper, _, _, err := bus.WorstBacklog([]profile.Curve{a, b}, drain, 0)
	require.NoError(t, err)
	value := -drain * 250.5
	for _, c := range []profile.Curve{a, b} {
		d, _, err := bus.WorstWindow(c, 0, 250.5)
		require.NoError(t, err)
		value += d
	}
	near(t, 25+25*(1-0.25/1.001), value, 0.05, "in 250.5 s")
	assert.GreaterOrEqual(t, upper, value)
}

func TestBacklogEdges(t *testing.T) {
	c := steps(t, []float64{0, 0.2, 1}, 100, 0) // mean 20 W
	for _, tc := range []struct {
		name        string
		loads       []profile.Curve
		drain, leak float64
		want        float64
	}{
		{"no loads", nil, 10, 0, 0},
		{"drain above the peak", []profile.Curve{c}, 101, 0, 0},
		{"drain above the mean", []profile.Curve{c}, 40, 0, 12},
		{"drain equal to the mean", []profile.Curve{c}, 20, 0, 16},
		{"drain below the mean", []profile.Curve{c}, 19, 0, math.Inf(1)},
		{"no drain, no mean", []profile.Curve{steps(t, []float64{0, 0.2, 1}, 100, -25)}, 0, 0, 20},
		{"constant load at the drain", []profile.Curve{steps(t, []float64{0, 1}, 5)}, 5, 0, 0},
		{"constant load with leak", []profile.Curve{steps(t, []float64{0, 1}, 5)}, 3, 4, 2 / 4.},
		{"endless window", []profile.Curve{c}, 0, 5, 100 * (1 - math.Exp(-1)) / 5 / (1 - math.Exp(-5))},
	} {
		lower, upper, _, swing, err := bus.WorstBacklog(tc.loads, tc.drain, tc.leak)
		require.NoError(t, err)
		if math.IsInf(tc.want, 1) {
			assert.True(t, math.IsInf(upper, 1), tc.name)
			continue
		}
		assert.GreaterOrEqual(t, upper, tc.want-1e-9, tc.name)
		near(t, tc.want, upper, bus.BacklogTolerance*swing+1e-9, tc.name)
		near(t, tc.want, lower, bus.BacklogTolerance*swing+1e-9, tc.name)
	}
}

// The bracket does not depend on how many processors there are: sums are the same to
// the last digit.
func TestBacklogOfManyStations(t *testing.T) {
	r := rand.New(rand.NewPCG(53, 54))
	var loads []profile.Curve
	drain := 0.0
	for range 150 {
		loads = append(loads, randomCycle(r, 1000))
		drain += 1.5 * loads[len(loads)-1].Positive().Mean()
	}
	values := func(processors int) (v [3]float64) {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(processors))
		var err error
		v[0], v[1], v[2], _, err = bus.WorstBacklog(loads, drain, 0.1)
		require.NoError(t, err)
		return v
	}
	one := values(1)
	assert.Equal(t, one, values(3))
	assert.Greater(t, one[0], 0.0)
}

// Windows of a steep negative leak, with a drain that their linear bound just meets, are not
// followed beyond the range of numbers.
func TestBacklogOfSteepNegativeLeak(t *testing.T) {
	load := steps(t, []float64{0, 0.2, 1}, 100, -20)
	_, _, _, rate, _, err := bus.WorstOf(bus.Cycle{Power: load, Repeats: bus.Strictly}, -12, 1)
	require.NoError(t, err)
	lower, upper, _, _, err := bus.WorstBacklog([]profile.Curve{load}, rate, -12)
	require.NoError(t, err)
	assert.LessOrEqual(t, lower, upper)
	finite(t, "bound", lower, upper)
}
