package crosscheck_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/internal/crosscheck"
)

// spiceSteps are the longest steps that ngspice may take [s], each a quarter of
// the one before.
var spiceSteps = []float64{2e-4, 5e-5, 1.25e-5}

// transients runs ngspice with each step.
func transients(t *testing.T, c crosscheck.Circuit) []*crosscheck.Transient {
	t.Helper()
	var all []*crosscheck.Transient
	_, end := c.Span()
	for _, step := range spiceSteps {
		netlist, err := c.Netlist(step)
		require.NoError(t, err)
		run, err := crosscheck.RunNgspice(netlist, end)
		require.NoError(t, err)
		all = append(all, run)
	}
	return all
}

// storedTransients reads what ngspice answered before, after a check that it was
// asked the same. The netlists lie beside it.
func storedTransients(t *testing.T, c crosscheck.Circuit) []*crosscheck.Transient {
	t.Helper()
	for i, step := range spiceSteps {
		was, err := os.ReadFile(netlistPath(c, i))
		require.NoError(t, err)
		is, err := c.Netlist(step)
		require.NoError(t, err)
		require.Equal(t, string(was), is, "the netlist changed since ngspice answered it: run go test ./internal/crosscheck -update, with ngspice")
	}
	text, err := os.ReadFile(transientPath(c))
	require.NoError(t, err)
	var all []*crosscheck.Transient
	require.NoError(t, json.Unmarshal(text, &all))
	return all
}

func storeTransients(t *testing.T, c crosscheck.Circuit, r *bus.NetworkResult, all []*crosscheck.Transient) {
	t.Helper()
	var thin []*crosscheck.Transient
	for i, step := range spiceSteps {
		netlist, err := c.Netlist(step)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(netlistPath(c, i), []byte(netlist), 0o644))
		_, _, worst := furthest(t, c, r, all[i])
		thin = append(thin, all[i].Thinned(120, worst, columns(c)))
	}
	text, err := json.Marshal(thin)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(transientPath(c), append(text, '\n'), 0o644))
}

func netlistPath(c crosscheck.Circuit, step int) string {
	return filepath.Join("testdata", c.Name+[]string{".coarse", ".middle", ".fine"}[step]+".cir")
}

func transientPath(c crosscheck.Circuit) string {
	return filepath.Join("testdata", c.Name+".transient.json")
}

// columns are those before the currents of brake resistors.
func columns(c crosscheck.Circuit) int { return 2 + len(c.Network.Feeders) }

// furthest returns the largest difference from the library in the voltages of
// bank and feeders' ends, relative to the start voltage, by how much a switching
// of the brake resistor is out [s], and at which point the former is.
func furthest(t *testing.T, c crosscheck.Circuit, r *bus.NetworkResult, run *crosscheck.Transient) (volts, seconds float64, point int) {
	t.Helper()
	worst := func(to *float64, got, want float64) bool {
		v := math.Abs(got - want)
		if v <= *to {
			return false
		}
		*to = v
		return true
	}
	rs := c.Network.Bank.SeriesResistance
	for k, at := range run.Time {
		if at == 0 || at > r.Voltage.End() {
			continue
		}
		if worst(&volts, run.Rows[k][0], r.Voltage.At(at)-rs*r.BankCurrent.At(at)) {
			point = k
		}
		for i, e := range r.Ends {
			if worst(&volts, run.Rows[k][1+i], e.Voltage.At(at)) {
				point = k
			}
		}
	}
	switched := run.Switchings(columns(c))
	n := 0
	for _, e := range r.Events {
		if e.Kind != bus.BrakeOn && e.Kind != bus.BrakeOff {
			continue
		}
		if n < len(switched) {
			worst(&seconds, math.Min(math.Max(e.Time, switched[n][0]), switched[n][1]), e.Time)
		}
		n++
	}
	assert.Len(t, switched, n, "switchings of the brake resistor")
	return volts / c.Start.Voltage, seconds, point
}

// Every circuit against ngspice, which is given the circuit and no equations:
// the voltages of bank and feeders' ends at all its own points of time, and how
// often and when the brake resistor switches. The difference is that of ngspice's
// steps and of the resistance that a regulated source has there, 2 mV of 72 V at
// first, or 3e-5: within 5e-5 of the voltage at 0.2 ms, and 5e-7 at 12.5 µs. It must
// shrink to a fifth or less with each quarter of the step: the trapezoidal rule
// is of second order, so that a sixteenth is expected where all steps are of the
// greatest length, and less where it shortens them after a jump. Source: ngspice,
// Debian package; version in testdata.
func TestAgainstNgspice(t *testing.T) {
	for _, c := range crosscheck.Circuits() {
		t.Run(c.Name, func(t *testing.T) {
			r, err := c.Simulate()
			require.NoError(t, err)
			if *update {
				require.NoError(t, crosscheck.HaveNgspice())
				storeTransients(t, c, r, transients(t, c))
			}
			check := func(name string, all []*crosscheck.Transient) {
				before := math.Inf(1)
				for i, run := range all {
					volts, seconds, _ := furthest(t, c, r, run)
					t.Logf("%s %s, steps to %.4g s: voltage %.1e, switching times %.1e s", name, run.Version, spiceSteps[i], volts, seconds)
					assert.LessOrEqual(t, volts, before/5, "steps to %g s", spiceSteps[i])
					fine := math.Pow(spiceSteps[i]/spiceSteps[0], 2)
					assert.LessOrEqual(t, volts, 5e-5*math.Max(fine, 1e-2), "steps to %g s", spiceSteps[i])
					assert.LessOrEqual(t, seconds, spiceSteps[i]/20)
					before = volts
				}
			}
			check("stored", storedTransients(t, c))
			if err := crosscheck.HaveNgspice(); err != nil || testing.Short() {
				t.Logf("ngspice was not run, only its stored answers were compared: %v", err)
				return
			}
			check("ngspice", transients(t, c))
		})
	}
}
