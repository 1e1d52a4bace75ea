package crosscheck_test

import (
	"flag"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/internal/crosscheck"
)

var update = flag.Bool("update", false, "ask the other programs again and rewrite testdata")

// differences are the largest ones between the library and an answer.
type differences struct {
	volts   float64 // at all instants, of bus and feeders' ends, relative to the start voltage
	amps    float64 // of the source, relative to the power of the loads over the start voltage
	times   float64 // of switchings [s]
	extreme float64 // of lowest and highest voltage, relative
	joules  float64 // of every energy, relative to the throughput
}

func compare(t *testing.T, c crosscheck.Circuit, r *bus.NetworkResult, times []float64, a *crosscheck.Answer) differences {
	t.Helper()
	var d differences
	worst := func(to *float64, got, want, scale float64) {
		if v := math.Abs(got-want) / scale; !(v <= *to) {
			*to = v
		}
	}
	volts := c.Start.Voltage
	amps := math.Abs(r.Load.AbsMax().V)/volts + math.Abs(r.SourceCurrent.AbsMax().V)
	require.Len(t, a.Voltages, len(times))
	require.Len(t, a.Ends, len(r.Ends))
	for k, at := range times {
		worst(&d.volts, r.Voltage.At(at), a.Voltages[k], volts)
		worst(&d.amps, r.SourceCurrent.At(at), a.Currents[k], amps)
		for i, e := range r.Ends {
			worst(&d.volts, e.Voltage.At(at), a.Ends[i][k], volts)
		}
	}
	worst(&d.volts, r.End.Voltage, a.End[0], volts)
	if assert.Len(t, a.Events, len(r.Events)) {
		for i, e := range r.Events {
			assert.Equal(t, a.Events[i].What, e.Kind.String(), "event %d", i)
			assert.Equal(t, a.Events[i].Index, e.Index, "event %d", i)
			worst(&d.times, e.Time, a.Events[i].Time, 1)
		}
	}
	if a.Highest > 0 {
		worst(&d.extreme, r.Lowest.V, a.Lowest, volts)
		worst(&d.extreme, r.Highest.V, a.Highest, volts)
	}
	e := r.Energies
	through := e.Throughput() + e.Switched
	for _, pair := range [][2]float64{
		{e.Source, a.Energies.Source}, {e.Drawn, a.Energies.Drawn}, {e.Returned, a.Energies.Returned}, {e.Switched, a.Energies.Switched},
		{e.Resistor, a.Energies.Resistor}, {e.Bleeder, a.Energies.Bleeder}, {e.Series, a.Energies.Series}, {e.Cables, a.Energies.Cables},
	} {
		worst(&d.joules, pair[0], pair[1], through)
	}
	return d
}

func (d differences) within(t *testing.T, tol float64, method string) {
	t.Helper()
	for _, of := range []struct {
		what string
		v    float64
	}{{"voltage", d.volts}, {"source current", d.amps}, {"switching times", d.times}, {"extremes", d.extreme}, {"energies", d.joules}} {
		assert.LessOrEqual(t, of.v, tol, "%s against %s", of.what, method)
	}
	t.Logf("%-8s voltage %.1e, current %.1e, switching times %.1e s, extremes %.1e, energies %.1e", method, d.volts, d.amps, d.times, d.extreme, d.joules)
}

func question(t *testing.T, c crosscheck.Circuit) crosscheck.Question {
	t.Helper()
	p, err := c.Plain()
	require.NoError(t, err)
	return crosscheck.Question{Circuit: p, Times: c.Times(151), Method: crosscheck.DOP853, Relative: 1e-12}
}

// Every circuit against scipy.integrate.solve_ivp, method DOP853 at 1e-12, to a
// relative 1e-8, and against extrapolation in 80-bit arithmetic to 1e-12: the
// voltages of bus and feeders' ends and the current of the source at 151
// instants, kind and time [s] of all switchings, lowest and highest voltage, and
// every energy. Source: scipy, Debian package python3-scipy; version in testdata.
func TestAgainstScipy(t *testing.T) {
	events := map[string]int{}
	for _, c := range crosscheck.Circuits() {
		t.Run(c.Name, func(t *testing.T) {
			q := question(t, c)
			if *update {
				require.NoError(t, crosscheck.HaveScipy())
				s, err := crosscheck.AskAll(q, crosscheck.DOP853, crosscheck.Extended)
				require.NoError(t, err)
				require.NoError(t, s.Write(c.Name))
			}
			s, err := crosscheck.ReadStored(c.Name, q)
			require.NoError(t, err)
			r, err := c.Simulate()
			require.NoError(t, err)
			for _, e := range r.Events {
				events[e.Kind.String()]++
			}
			compare(t, c, r, q.Times, s.Answers[crosscheck.DOP853]).within(t, 1e-8, "stored "+crosscheck.DOP853)
			compare(t, c, r, q.Times, s.Answers[crosscheck.Extended]).within(t, 1e-12, "stored "+crosscheck.Extended)

			if err := crosscheck.HaveScipy(); err != nil || testing.Short() {
				t.Logf("scipy was not run, only its stored answers (%s) were compared: %v", s.Answers[crosscheck.DOP853].Version, err)
				return
			}
			a, err := q.Ask()
			require.NoError(t, err)
			compare(t, c, r, q.Times, a).within(t, 1e-8, q.Method)
		})
	}
	for _, what := range []string{"source blocks", "source conducts", "source at its current limit", "brake resistor on", "brake resistor off"} {
		assert.Positive(t, events[what], what)
	}
}
