package bus_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// curve builds a curve of power, or fails the test.
func curve(t testing.TB, breaks []float64, coefs ...[]float64) profile.Curve {
	t.Helper()
	c, err := profile.NewCurve(breaks, coefs)
	require.NoError(t, err)
	return c
}

// steps builds a curve of constant pieces.
func steps(t testing.TB, breaks []float64, powers ...float64) profile.Curve {
	t.Helper()
	coefs := make([][]float64, len(powers))
	for i, p := range powers {
		coefs[i] = []float64{p}
	}
	return curve(t, breaks, coefs...)
}

// near fails the test unless got is within tol of want; NaN fails.
func near(t testing.TB, want, got, tol float64, what string) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.15g, want %.15g ± %g", what, got, want, tol)
	}
}

// between returns a random number in [lo, hi).
func between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// logBetween returns a random number in [lo, hi), evenly spread in its logarithm.
func logBetween(r *rand.Rand, lo, hi float64) float64 {
	return lo * math.Exp(r.Float64()*math.Log(hi/lo))
}

func pick[T any](r *rand.Rand, of ...T) T { return of[r.IntN(len(of))] }

// randomCycle returns a cycle of power with 2 to 8 pieces of degree 0 to 4, in
// about the proportions of axes that accelerate, run, brake and dwell.
func randomCycle(r *rand.Rand, scale float64) profile.Curve {
	n := 2 + r.IntN(7)
	period := logBetween(r, 0.2, 2)
	breaks := []float64{0}
	for range n {
		breaks = append(breaks, breaks[len(breaks)-1]+between(r, 0.2, 1))
	}
	breaks = scaleTo(breaks, period)
	coefs := make([][]float64, n)
	for i := range coefs {
		h := breaks[i+1] - breaks[i]
		var c []float64
		switch r.IntN(5) {
		case 0: // dwell
			c = []float64{between(r, 0, 0.05)}
		case 1: // steady
			c = []float64{between(r, 0.1, 0.6)}
		case 2: // accelerating
			c = []float64{between(r, 0, 0.3), between(r, 0.2, 1) / h, between(r, -0.2, 0.3) / (h * h)}
		case 3: // braking
			c = []float64{-between(r, 0.2, 1), between(r, 0, 1) / h, between(r, -0.2, 0.2) / (h * h)}
		case 4:
			for k := range 5 {
				c = append(c, between(r, -0.5, 0.6)/math.Pow(h, float64(k)))
			}
		}
		for k := range c {
			c[k] *= scale
		}
		coefs[i] = c
	}
	cycle, err := profile.NewCurve(breaks, coefs)
	if err != nil {
		panic(err)
	}
	return cycle
}

func scaleTo(breaks []float64, end float64) []float64 {
	k := end / breaks[len(breaks)-1]
	for i := range breaks {
		breaks[i] *= k
	}
	return breaks
}

// machine is a random bus with the stations on it.
type machine struct {
	bus      bus.Bus
	stations []profile.Curve
}

// randomMachine returns a bus of 48 V to 650 V that can about carry its
// stations.
func randomMachine(r *rand.Rand) machine { return randomMachineOf(r, 0) }

// randomMachineOf does so with n stations, with 0 for 1 to 4.
func randomMachineOf(r *rand.Rand, n int) machine {
	volts := logBetween(r, 48, 650)
	scale := logBetween(r, 200, 5000)
	var m machine
	mean, peak, longest := 0.0, 0.0, 0.0
	if n == 0 {
		n = 1 + r.IntN(4)
	}
	for range n {
		s := randomCycle(r, scale*between(r, 0.3, 1))
		m.stations = append(m.stations, s)
		mean += math.Max(0.02*scale, s.Positive().Mean())
		peak += s.AbsMax().V
		longest = math.Max(longest, s.Duration())
	}
	if r.IntN(2) == 0 {
		m.bus.Source = bus.SwitchMode{
			Voltage: volts, Tolerance: pick(r, 0, 0.02),
			CurrentLimit: mean * between(r, 1.2, 2.5) / volts,
		}
	} else {
		m.bus.Source = bus.Resistive{
			OpenCircuit: volts, LineTolerance: pick(r, 0, 0.1),
			// V²/4R is the most that it delivers.
			Resistance: volts * volts / (4 * mean * between(r, 2, 12)),
		}
	}
	// A store that a cycle's surplus lifts by a few percent up to half as much again.
	energy := mean * longest / float64(len(m.stations))
	m.bus.Bank = bus.Bank{
		Capacitance:  2 * energy / (volts * volts * logBetween(r, 0.1, 1)),
		RatedVoltage: 2 * volts, ToleranceLow: pick(r, 0, 0.2),
	}
	if r.IntN(2) == 0 {
		m.bus.Bank.SeriesResistance = logBetween(r, 0.001, 0.03) * volts * volts / (mean + scale)
	}
	if r.IntN(3) > 0 {
		high := m.bus.High().Source.NoLoadVoltage()
		on := high * between(r, 1.08, 1.2)
		off := high + (on-high)*between(r, 0.2, 0.6)
		m.bus.Brakes = []bus.BrakeResistor{{Resistance: on * on / (scale * between(r, 0.5, 2)), OnVoltage: on, OffVoltage: off}}
		if m.bus.Validate() != nil {
			m.bus.Bank.SeriesResistance = 0
		}
	}
	if r.IntN(2) == 0 {
		m.bus.Bleeder = volts * volts / logBetween(r, 1, 50)
	}
	return m
}

// long marks a test that takes too long under the race detector, which looks at what shorter ones
// do too. It runs beside others.
func long(t *testing.T) {
	t.Helper()
	if raceDetector {
		t.Skip("too long under the race detector")
	}
	t.Parallel()
}
