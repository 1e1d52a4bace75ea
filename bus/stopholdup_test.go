package bus_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

func holdUp(t testing.TB, b bus.Bus, from float64, stations ...profile.Curve) bus.HoldUp {
	t.Helper()
	h, err := b.HoldUp(context.Background(), stations, from)
	require.NoError(t, err)
	return h
}

// TestHoldUpByHand: 1 mF from 400 to 300 V gives 35 J. 10 W for 0.9 s and 110 W for 0.1 s are
// 20 W on average: the burst takes 11 J at once, the next one comes after 9 J more, so that
// 35 J last from the start of one burst: 11 + 9 + 11 = 31 J in 1.1 s, then 4 J more in 0.4 s.
func TestHoldUpByHand(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, RatedVoltage: 450}, UnderVoltage: 300}
	cycle := steps(t, []float64{0, 0.9, 1}, 10, 110)
	h := holdUp(t, b, 400, cycle)
	near(t, 1.5, h.Time, 1e-5, "time")
	require.LessOrEqual(t, h.Time, 1.5)
	near(t, 0.7, h.Starts[0], 0.2+1e-5, "beginning of the dip, from 0.5 to 0.9 s")

	near(t, 3.5, holdUp(t, b, 400, steps(t, []float64{0, 1}, 10)).Time, 1e-6, "10 W")
	near(t, 1.75, holdUp(t, b, 400, steps(t, []float64{0, 1}, 10), steps(t, []float64{0, 3}, 10)).Time, 1e-6, "twice 10 W")
	// Only what is above the limit counts, at the lowest capacitance.
	low := b
	low.Bank.ToleranceLow = 0.2
	near(t, 2.8, holdUp(t, low, 400, steps(t, []float64{0, 1}, 10)).Time, 1e-6, "at 0.8 mF")
	require.Zero(t, holdUp(t, b, 300, cycle).Time)
	require.False(t, holdUp(t, b, 300, cycle).Endless)
	require.True(t, holdUp(t, b, 400, steps(t, []float64{0, 1}, 0)).Endless)
	require.True(t, holdUp(t, b, 400, steps(t, []float64{0, 1, 2}, 10, -10)).Endless)
	near(t, 0.35, holdUp(t, b, 400, steps(t, []float64{0, 1, 2}, 100, -100)).Time, 1e-6, "returned too late")

	// A bleeder of 10 kilohm alone: R C ln(4/3).
	b.Bleeder = 1e4
	near(t, 10*math.Log(4./3), holdUp(t, b, 400, steps(t, []float64{0, 1}, 0)).Time, 1e-5, "bleeder")
	// A resistor that may burn down to 350 V what was returned: 350² - 300².
	b.Bleeder = 0
	b.Brakes = []bus.BrakeResistor{{Resistance: 10, OnVoltage: 420, OffVoltage: 350}}
	near(t, 1.625, holdUp(t, b, 400, steps(t, []float64{0, 1}, 10)).Time, 1e-6, "from 350 V")
}

// TestHoldUpAgainstSimulation: from no instant of the cycle does the simulated bus reach
// the limit sooner, and from the one that is named it does soon after; with a bleeder, and
// with series resistance, which the bound is to the safe side for.
func TestHoldUpAgainstSimulation(t *testing.T) {
	exact := 0
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 82))
		cycle := randomCycle(r, 500)
		if !(cycle.Mean() > 0) {
			continue
		}
		b := bus.Bus{UnderVoltage: 300, Bleeder: pick(r, 0, logBetween(r, 300, 1e5))}
		energy := cycle.Mean() * cycle.Duration() * logBetween(r, 0.1, 20)
		b.Bank = bus.Bank{Capacitance: 2 * energy / 70000, RatedVoltage: 450, SeriesResistance: pick(r, 0, 0, 0.5)}
		h := holdUp(t, b, 400, cycle)
		if h.Endless || h.Time == 0 {
			continue
		}
		reached := func(start float64) float64 {
			load, err := bus.Periodic(cycle, -start, 2*h.Time+5*cycle.Duration())
			require.NoError(t, err)
			free := b
			free.UnderVoltage = 0
			res, err := free.Simulate(context.Background(), load, bus.State{Voltage: 400})
			require.NoError(t, err)
			if c := res.Voltage.Crossings(nil, 300); len(c) > 0 {
				return c[0]
			}
			if res.Collapsed {
				return res.Voltage.End()
			}
			return math.Inf(1)
		}
		for i := range 40 {
			require.GreaterOrEqual(t, reached(cycle.Duration()*float64(i)/40), h.Time*(1-1e-6), "seed %d, start %d", seed, i)
		}
		// Where the voltage touches the limit between two bursts, a little later start misses it.
		got := math.Inf(1)
		for _, by := range []float64{-1e-4, 0, 1e-4} {
			got = math.Min(got, reached(h.Starts[0]+by*cycle.Duration()))
		}
		if b.Bank.SeriesResistance == 0 {
			exact++
			require.InDelta(t, h.Time, got, 2e-3*h.Time+3e-4*cycle.Duration(), "seed %d", seed)
		}
	}
	require.Greater(t, exact, 10)
}

func TestHoldUpRefuses(t *testing.T) {
	_, err := bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, RatedVoltage: 450}}.HoldUp(context.Background(), []profile.Curve{{}}, math.NaN())
	require.Equal(t, []string{"bus.underVoltage", "from", "stations[0]"}, paths(err))
	_, err = bus.Bus{UnderVoltage: 1}.HoldUp(context.Background(), nil, 1)
	require.Equal(t, []string{"bus.bank.capacitance", "bus.bank.ratedVoltage", "stations"}, paths(err))
}
