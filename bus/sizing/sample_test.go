package sizing_test

import (
	"context"
	"math"
	"math/rand/v2"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

func lowest(o sizing.Outcome) float64 { return o.Lowest }

// One worker, two workers and two joined shards give the same bits, and no sample lies
// beyond the bounds of the assessment.
func TestSamples(t *testing.T) {
	m := parse(t, plainDemo(t))
	n := 60
	if testing.Short() {
		n = 20
	}
	one, err := m.Sample(context.Background(), sizing.Study{Seed: 7, Count: n})
	require.NoError(t, err)
	two, err := m.Sample(context.Background(), sizing.Study{Seed: 7, Count: n, Workers: 2})
	require.NoError(t, err)
	require.Equal(t, one, two)
	first, err := m.Sample(context.Background(), sizing.Study{Seed: 7, Count: n / 3, Workers: 2})
	require.NoError(t, err)
	rest, err := m.Sample(context.Background(), sizing.Study{Seed: 7, First: n / 3, Count: n - n/3})
	require.NoError(t, err)
	joined, err := sizing.Join(first, rest)
	require.NoError(t, err)
	require.Equal(t, one, joined)

	a := assess(t, plainDemo(t))
	low, high := a.Bus.Lowest, a.Bus.Highest
	for _, e := range a.Bus.AtDrives {
		low, high = math.Min(low, e.Lowest), math.Max(high, e.Highest)
	}
	hottest := 0.0
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			hottest = math.Max(hottest, ax.Winding.Temperature)
		}
	}
	seen := map[sizing.Outcome]bool{}
	for _, o := range one.Outcomes {
		require.GreaterOrEqual(t, o.Lowest, low)
		require.LessOrEqual(t, o.Highest, high)
		require.LessOrEqual(t, o.Peak, a.Bus.PeakDemand)
		require.LessOrEqual(t, o.Hottest, hottest+1e-9)
		seen[o] = true
	}
	require.Len(t, seen, n, "no two machines are alike")

	_, err = sizing.Join(rest, first)
	require.Error(t, err)
	for _, s := range []sizing.Study{{}, {Count: 1, First: -1}, {Count: 1e9}, {Count: 1, Workers: -1}} {
		_, err := m.Sample(context.Background(), s)
		require.NotEmpty(t, profile.InputErrors(err))
	}
}

// What a sample says is what the simulation of the same machine says with all its curves,
// to some rounding.
func TestSamplesInFull(t *testing.T) {
	m := parse(t, plainDemo(t))
	s, err := m.Sample(context.Background(), sizing.Study{Seed: 7, Count: 20})
	require.NoError(t, err)
	for k, o := range s.Outcomes {
		r, err := m.InFull(7, k)
		require.NoError(t, err)
		require.False(t, r.Collapsed)
		low, high := r.Lowest.V, r.Highest.V
		for _, e := range r.Ends {
			low, high = math.Min(low, e.Lowest.V), math.Max(high, e.Highest.V)
		}
		require.InDeltaSlice(t, []float64{1, 1, 1}, []float64{o.Lowest / low, o.Highest / high, o.Peak / r.Load.Max().V}, 1e-9)
	}
}

// What the axes of a sample take is what two traces of each, cold and then hot, say.
func TestSampledAxes(t *testing.T) {
	m := parse(t, demo(t))
	for k := range 20 {
		sampled, traced, err := m.AxisPowers(11, k)
		require.NoError(t, err)
		require.Len(t, sampled, len(traced))
		for i, want := range traced {
			got := sampled[i]
			require.InDelta(t, want.Temperature, got.Temperature, 1e-9, want.Name)
			require.Equal(t, want.Bus.Pieces(), got.Bus.Pieces(), want.Name)
			difference, err := profile.Sum(want.Bus, got.Bus.Scale(-1))
			require.NoError(t, err)
			require.LessOrEqual(t, math.Abs(difference.AbsMax().V), 1e-11*math.Abs(want.Bus.AbsMax().V), want.Name)
		}
	}
}

// Without tolerances a machine of one station, whose bank is full again before its cycle
// ends, is in every sample what its assessment says.
func TestSamplesOfExactMachine(t *testing.T) {
	m := parse(t, plainDemo(t))
	m.Stations, m.Axes = m.Stations[1:], m.Axes[4:]
	m.Stations[0].Strict = true
	m.Bank.ToleranceLow, m.Bank.ToleranceHigh, m.Ageing = 0, 0, sizing.Ageing{}
	m.Switched = nil
	source := m.Supply.Source.(bus.SwitchMode)
	source.Tolerance = 0
	m.Supply.Source = source
	m.AmbientLow = m.AmbientHigh
	m.BleederTolerance = 0
	for i := range m.Brakes {
		m.Brakes[i].ThresholdTolerance, m.Brakes[i].Tolerance = 0, 0
	}
	for i := range m.Axes {
		m.Axes[i].FrictionSpread, m.Axes[i].PayloadSpread = 0, 0
	}
	a, err := sizing.Assess(context.Background(), m)
	require.NoError(t, err)
	require.NotNil(t, a.Bus.SagCycle)
	low, high := a.Bus.Lowest, a.Bus.Highest
	for _, e := range a.Bus.AtDrives {
		low, high = math.Min(low, e.Lowest), math.Max(high, e.Highest)
	}
	s, err := m.Sample(context.Background(), sizing.Study{Seed: 1, Count: 5})
	require.NoError(t, err)
	for _, o := range s.Outcomes {
		require.InEpsilon(t, low, o.Lowest, 1e-9)
		require.GreaterOrEqual(t, o.Highest, a.Bus.SagCycle.Highest.V*(1-1e-9))
		require.LessOrEqual(t, o.Highest, high*(1+1e-9), "with cold copper more comes back")
		require.InEpsilon(t, a.Bus.SagCycle.Load.Max().V, o.Peak, 1e-9)
		require.InEpsilon(t, a.Stations[0].Axes[0].Winding.Temperature, o.Hottest, 1e-9)
	}
}

// A study tells how far it is, and ends soon after its context.
func TestSamplesStop(t *testing.T) {
	m := parse(t, plainDemo(t))
	ctx, cancel := context.WithCancel(context.Background())
	var last atomic.Int64
	var stopped time.Time
	_, err := m.Sample(ctx, sizing.Study{Seed: 1, Count: 1_000_000, Workers: 2, Progress: func(done int) {
		if last.Store(int64(done)); stopped.IsZero() {
			stopped = time.Now()
			cancel()
		}
	}})
	require.ErrorIs(t, err, context.Canceled)
	require.Positive(t, last.Load())
	t.Logf("stopped %v after its context", time.Since(stopped))
}

// Quantiles of 1 to 1000, by hand: the median next to 500, with a range of 469 to 532 (the
// binomial of 1000 and 1/2 has 2.5 % below 469, normal approximation 500 ± 31). 95 % of
// such ranges hold the true quantile of evenly drawn numbers.
func TestQuantiles(t *testing.T) {
	s := &sizing.Samples{}
	for k := range 1000 {
		s.Outcomes = append(s.Outcomes, sizing.Outcome{Lowest: float64(k + 1)})
	}
	q, err := s.Quantiles(lowest, 0.5, 0.001)
	require.NoError(t, err)
	require.InDelta(t, 501, q[0].Value, 1)
	require.InDelta(t, 469, q[0].Low, 1)
	require.InDelta(t, 532, q[0].High, 1)
	require.True(t, math.IsInf(q[1].Low, -1), "too few samples for a lower end")

	r := rand.New(rand.NewPCG(3, 4))
	inside := 0
	for range 2000 {
		s := &sizing.Samples{}
		for range 50 {
			s.Outcomes = append(s.Outcomes, sizing.Outcome{Lowest: r.Float64()})
		}
		q, err := s.Quantiles(lowest, 0.3)
		require.NoError(t, err)
		if q[0].Low <= 0.3 && 0.3 <= q[0].High {
			inside++
		}
	}
	require.GreaterOrEqual(t, inside, 1880, "95 % or more of 2000")
	require.Less(t, inside, 1990)
	_, err = s.Quantiles(lowest, 1)
	require.Error(t, err)
}

// Ranked by what they do to the lowest voltage; a supply voltage that rises by 4 % of 72 V
// lifts it by about that.
func TestSensitivities(t *testing.T) {
	m := parse(t, plainDemo(t))
	s, err := m.Sensitivities(context.Background(), nil)
	require.NoError(t, err)
	at := map[string]sizing.Sensitivity{}
	for i, x := range s {
		at[x.Input] = x
		if i > 0 {
			require.LessOrEqual(t, math.Abs(x.Lowest), math.Abs(s[i-1].Lowest))
		}
	}
	require.InDelta(t, 0.04*72, at["supply voltage"].Lowest, 0.6)
	require.Positive(t, at["capacitance of the bank"].Lowest)
	require.Negative(t, at["friction of gantry"].Lowest)
	require.Positive(t, at["ambient temperature"].Hottest)
	require.InDelta(t, 33, at["ambient temperature"].Hottest, 8)
}

func BenchmarkSample(b *testing.B) {
	m := parse(b, demo(b))
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		if _, err := m.Sample(context.Background(), sizing.Study{Seed: 1, First: n, Count: 100}); err != nil {
			b.Fatal(err)
		}
		n += 100
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(n), "µs/sample")
}
