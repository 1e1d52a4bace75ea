package bus_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// J. Bird, Electrical Circuit Theory and Technology, ch. 17, example 5, p. 267,
// read in a transcription of its solved examples, not on the printed page
// (LOOKED UP-2): 100 V on a bank of time constant 0.8 s with 50 kilohm, which is
// 16 µF, falls to 20 V in 1.29 s and to 28.7 V in 1 s; after 0.5 s 1.07 mA flow.
func TestPublishedDischarge(t *testing.T) {
	b := bus.Bus{
		Bank:    bus.Bank{Capacitance: 0.8 / 50e3, RatedVoltage: 100},
		Bleeder: 50e3,
	}
	near(t, 16e-6, b.Bank.Capacitance, 1e-12, "capacitance")
	near(t, 1.29, b.DischargeTime(100, 20), 5e-3, "time to 20 V")
	r := simulate(t, b, steps(t, []float64{0, 1.5}, 0), 100)
	near(t, 28.7, r.Voltage.At(1), 0.05, "voltage at 1 s") // exactly 28.65
	near(t, 1.07e-3, r.Voltage.At(0.5)/50e3, 5e-6, "current at 0.5 s")
	at := r.Voltage.Crossings(nil, 20)
	require.Len(t, at, 1)
	near(t, b.DischargeTime(100, 20), at[0], 1e-11, "simulated time to 20 V")
}

// The same book, ch. 6, example 15, p. 68 (LOOKED UP-2): 3 µF at 400 V store
// 0.24 J; discharged in 10 µs they give 24 kW. A tenth of the voltage, at which
// the bus counts as collapsed, is left with a hundredth of the energy.
func TestPublishedPulse(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 3e-6, RatedVoltage: 400}}
	near(t, 0.24, b.Bank.Energy(400), 1e-12, "energy")
	r := simulate(t, b, steps(t, []float64{0, 10e-6}, 24e3), 400)
	require.True(t, r.Collapsed)
	near(t, 9.9e-6, r.Voltage.End(), 1e-15, "collapse")
	near(t, 0.24*0.99, r.Energies.Released, 1e-10, "released")
	near(t, 400*math.Sqrt(0.5), r.Voltage.At(5e-6), 1e-8, "with half of the energy gone")
}

// Own figures, no outside source: 1 mF from 566 V to 60 V in 5 s, the limits that
// IEC 60204-1 §6.2.4 sets (read in a translation, LOOKED UP-2), needs 2227.9 ohm
// or less.
func TestBleederForDischarge(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, RatedVoltage: 600}, Bleeder: 2227.9}
	near(t, 5, b.DischargeTime(566, 60), 1e-4, "time to 60 V")
}

// burst is a load of the shape that network calculus calls a token bucket: an
// amount of energy at once, then a rate [W], over a period that is long.
func burst(t testing.TB, joules, rate, period float64) profile.Curve {
	const at = 1e-6
	return steps(t, []float64{0, at, period}, joules/at, rate)
}

// Backlog of a token bucket α = b + r t behind a rate-latency server
// β = R (t-T)+ : b + r T. With b 4, r 3, R 4, T 3 it is 13, and for r > R there is
// none. Theory: Le Boudec and Thiran, Network Calculus, LNCS 2050, theorem 1.4.1
// (FROM MEMORY); numbers: the test suite of a network calculus library of the
// University of Pisa, CurveDeviations (LOOKED UP).
//
// Read here with energy for data. A server that pauses for T is one that goes on
// at R beside a load that takes R for T; once in a period so long that it does
// not come twice. The suite's delay, T + b/R = 4, has no meaning for a bus: it is that of
// the curves in TestPublishedDeviations.
func TestPublishedBacklog(t *testing.T) {
	const long = 1e4
	alpha, pause := burst(t, 4, 3, long), steps(t, []float64{0, 3, long}, 4, 0)
	loads := []profile.Curve{alpha, pause}
	lower, upper, length, swing, err := bus.WorstBacklog(loads, 4, 0)
	require.NoError(t, err)
	// In the long period the rates of both are a little off: 4 J and 12 J in 1e4 s.
	near(t, 13, lower, bus.BacklogTolerance*swing, "backlog")
	near(t, 13, upper, bus.BacklogTolerance*swing, "bound on it")
	assert.GreaterOrEqual(t, upper, 13-2e-5)
	near(t, 3, length, 1e-3, "window")

	_, upper, _, _, err = bus.WorstBacklog([]profile.Curve{burst(t, 4, 4.1, long), pause}, 4, 0)
	require.NoError(t, err)
	assert.True(t, math.IsInf(upper, 1), "r > R")

	// The same on a bus: so large a bank that its voltage hardly moves, and a source
	// limited to 4 W at its set point.
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 1e4, RatedVoltage: 200},
		Source: bus.SwitchMode{Voltage: 100, CurrentLimit: 0.04},
	}
	g, err := b.AnyPhase(context.Background(), bus.StrictlyPeriodic(loads), nil)
	require.NoError(t, err)
	require.True(t, g.Sag.Exists)
	near(t, 13, g.Sag.Energy, 2e-3, "energy that the bank gives")

	g, err = b.AnyPhase(context.Background(), bus.StrictlyPeriodic([]profile.Curve{burst(t, 4, 4.1, long), pause}), nil)
	require.NoError(t, err)
	assert.False(t, g.Sag.Exists)
	assert.NotEmpty(t, g.Sag.Reason)
}

// Backlog of a variable-rate flow α = min(M + p t, b + r t), M 1, p 4, r 1, b 7,
// behind R 2, T 3: b + r T = 10, since it changes rate after (b-M)/(p-r) = 2 <= T.
// Formula: Le Boudec and Thiran, Network Calculus, chapter 1 (FROM MEMORY).
func TestPublishedVariableRate(t *testing.T) {
	const at, long = 1e-6, 1e4
	flow := steps(t, []float64{0, at, 2, long}, 1/at, 4, 1)
	pause := steps(t, []float64{0, 3, long}, 2, 0)
	lower, upper, _, swing, err := bus.WorstBacklog([]profile.Curve{flow, pause}, 2, 0)
	require.NoError(t, err)
	near(t, 10, lower, bus.BacklogTolerance*swing, "backlog")
	near(t, 10, upper, bus.BacklogTolerance*swing, "bound on it")
}

// Own figures, no outside source: 300 J every second and 200 J every 0.7 s are
// 585.7 W on average; a drain of 600 W leaves a backlog of 500 J when both come
// at once. As pulses of a microsecond.
func TestTwoBursts(t *testing.T) {
	loads := []profile.Curve{burst(t, 300, 0, 1), burst(t, 200, 0, 0.7)}
	lower, upper, _, swing, err := bus.WorstBacklog(loads, 600, 0)
	require.NoError(t, err)
	near(t, 500, lower, bus.BacklogTolerance*swing, "backlog")
	near(t, 500, upper, bus.BacklogTolerance*swing, "bound on it")
	assert.GreaterOrEqual(t, upper, 500-600*1e-6, "less what drains within the pulses")

	// A bank from which 500 J lower 100 V to 80 V, and a source of 600 W at 100 V.
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 2 * 500 / (100.*100 - 80*80), RatedVoltage: 200},
		Source: bus.SwitchMode{Voltage: 100, CurrentLimit: 6},
	}
	_, upper, _, _, err = bus.WorstBacklog(loads, 480, 0)
	require.NoError(t, err)
	assert.True(t, math.IsInf(upper, 1), "480 W, what the source gives at 80 V, is less than the mean: no bound this way")
	for i := range loads { // half as often
		loads[i] = burst(t, []float64{300, 200}[i], 0, []float64{2, 1.4}[i])
	}
	g, err := b.AnyPhase(context.Background(), bus.StrictlyPeriodic(loads), nil)
	require.NoError(t, err)
	require.True(t, g.Sag.Exists)
	near(t, 80, g.Sag.Voltage, 0.02, "sag")
	near(t, 80, g.Sag.WitnessVoltage, 1e-3, "witness")
}
