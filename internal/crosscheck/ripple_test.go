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

// Rectifiers with their waveform against scipy.integrate.solve_ivp, method DOP853
// at 1e-12, to a relative 1e-8: voltage of the bus and currents of the lines at
// 151 instants, how often a line begins to conduct, the ripple's lowest and
// highest voltage, crest and RMS of the lines' current, energy of mains, load and
// bleeder. Source: scipy, Debian package python3-scipy; version in testdata.
func TestRippleAgainstScipy(t *testing.T) {
	for _, c := range crosscheck.Ripples() {
		t.Run(c.Name, func(t *testing.T) {
			q, err := c.Question(c.Times(151))
			require.NoError(t, err)
			if *update {
				require.NoError(t, crosscheck.HaveScipy())
				s, err := crosscheck.AskRipple(q)
				require.NoError(t, err)
				require.NoError(t, s.Write(c.Name))
			}
			s, err := crosscheck.ReadRipple(c.Name, q)
			require.NoError(t, err)
			r, err := c.Simulate()
			require.NoError(t, err)
			compareRipple(t, "stored", c, r, q.Times, s.Answers[q.Method])
			if err := crosscheck.HaveScipy(); err != nil || testing.Short() {
				t.Logf("scipy was not run, only its stored answers (%s) were compared: %v", s.Answers[q.Method].Version, err)
				return
			}
			a, err := q.Ask()
			require.NoError(t, err)
			compareRipple(t, "fresh", c, r, q.Times, a)
		})
	}
}

func compareRipple(t *testing.T, name string, c crosscheck.Ripple, r *bus.RippleResult, times []float64, a *crosscheck.RippleAnswer) {
	t.Helper()
	volts, amps := 0.0, 0.0
	require.Len(t, a.Voltages, len(times))
	require.Len(t, a.Lines, len(r.Lines))
	for k, at := range times {
		volts = math.Max(volts, math.Abs(r.Voltage.At(at)-a.Voltages[k])/c.Start.Voltage)
		for j, l := range r.Lines {
			amps = math.Max(amps, math.Abs(l.At(at)-a.Lines[j][k])/r.Mains.Peak)
		}
	}
	const tol = 1e-8
	assert.LessOrEqual(t, volts, tol, "voltage")
	assert.LessOrEqual(t, amps, tol, "line currents")
	assert.InEpsilon(t, a.Lowest, r.Lowest.V, tol, "lowest voltage")
	assert.InEpsilon(t, a.Highest, r.Highest.V, tol, "highest voltage")
	assert.InEpsilon(t, a.Peak, r.Mains.Peak, tol, "crest of the line current")
	assert.InEpsilon(t, a.RMS, r.Mains.RMS, tol, "RMS of the line current")
	assert.InEpsilon(t, a.Mains, r.Energies.Mains, tol, "energy of the mains")
	assert.InEpsilon(t, a.Taken, r.Energies.Drawn+r.Energies.Bleeder-r.Energies.Returned, tol, "energy of load and bleeder")
	assert.InEpsilon(t, a.End, r.End.Voltage, tol, "voltage at the end")
	begins := 0
	for _, l := range r.Lines {
		was := false
		for i := range l.Pieces() {
			t0, t1, _ := l.Piece(i)
			is := l.At(t0+(t1-t0)/2) != 0
			if is && !was {
				begins++
			}
			was = is
		}
	}
	assert.Equal(t, a.Conductions, begins, "conductions")
	t.Logf("%s: voltage %.1e, line currents %.1e, %d conductions", name, volts, amps, begins)
}

// Rectifiers against ngspice at all its own points of time. Without inductance:
// the voltage of the bank within 5e-6, the currents of the lines within 2e-4 of
// their crest. With inductance ngspice does not get past the end of a conduction
// without damping and snubbers, which do not shrink with the step, and carry
// current of their own: up to 100 V across an inductance is 0.1 A in 1 kohm, 50 V
// by which a leg springs back rings with 50 V √(C/L) = 0.25 A, together 8e-3 of a
// crest of 44 A; three snubbers of 10 nF at 545 V hold 16 µC, 18 mV of the bank or
// 3e-5, one way or the other. Hence 1e-4 and 8e-3. Source: ngspice, Debian package;
// version in testdata.
func TestRippleAgainstNgspice(t *testing.T) {
	const step = 5e-6
	for _, c := range crosscheck.Ripples() {
		t.Run(c.Name, func(t *testing.T) {
			r, err := c.Simulate()
			require.NoError(t, err)
			netlist, err := c.Netlist(step)
			require.NoError(t, err)
			_, end := c.Span()
			columns := 1 + len(r.Lines)
			worst := func(name string, run *crosscheck.Transient) (point int) {
				volts, amps := 0.0, 0.0
				for k, at := range run.Time {
					if at == 0 || at > r.Voltage.End() {
						continue
					}
					bank := r.Voltage.At(at) - c.Bus.Bank.SeriesResistance*r.BankCurrent.At(at)
					if d := math.Abs(run.Rows[k][0]-bank) / c.Start.Voltage; !(d <= volts) {
						volts, point = d, k
					}
					for j, l := range r.Lines {
						amps = math.Max(amps, math.Abs(run.Rows[k][1+j]-l.At(at))/r.Mains.Peak)
					}
				}
				mostVolts, mostAmps := 5e-6, 2e-4
				if c.Rectifier.Inductance > 0 {
					mostVolts, mostAmps = 1e-4, 8e-3
				}
				assert.LessOrEqual(t, volts, mostVolts, "voltage")
				assert.LessOrEqual(t, amps, mostAmps, "line currents")
				t.Logf("%s %s: voltage %.1e, line currents %.1e", name, run.Version, volts, amps)
				return point
			}
			listing, stored := filepath.Join("testdata", c.Name+".cir"), filepath.Join("testdata", c.Name+".transient.json")
			if *update {
				require.NoError(t, crosscheck.HaveNgspice())
				run, err := crosscheck.RunNgspice(netlist, end)
				require.NoError(t, err)
				text, err := json.Marshal(run.Thinned(300, worst("new", run), columns))
				require.NoError(t, err)
				require.NoError(t, os.WriteFile(listing, []byte(netlist), 0o644))
				require.NoError(t, os.WriteFile(stored, append(text, '\n'), 0o644))
			}
			was, err := os.ReadFile(listing)
			require.NoError(t, err)
			require.Equal(t, string(was), netlist, "the netlist changed since ngspice answered it: run go test ./internal/crosscheck -update, with ngspice")
			text, err := os.ReadFile(stored)
			require.NoError(t, err)
			var run *crosscheck.Transient
			require.NoError(t, json.Unmarshal(text, &run))
			worst("stored", run)
			if err := crosscheck.HaveNgspice(); err != nil || testing.Short() {
				t.Logf("ngspice was not run, only its stored answers were compared: %v", err)
				return
			}
			run, err = crosscheck.RunNgspice(netlist, end)
			require.NoError(t, err)
			worst("ngspice", run)
		})
	}
}
