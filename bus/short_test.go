package bus_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"

	"example.com/headroom/bus"
)

// By hand: 20 mF at 100 V hold 100 J; through 10 + 15 milliohm 4 kA flow at once,
// decay with 0.5 ms and leave 100 J / 25 milliohm = 4000 A²s.
func TestShortWithoutInductance(t *testing.T) {
	s := bus.Bank{Capacitance: 0.02, SeriesResistance: 0.01, RatedVoltage: 120}.Short(100, 0.015, 0)
	g, err := s.Figures()
	require.NoError(t, err)
	near(t, 4000, g.Peak, 1e-9, "peak")
	near(t, 0, g.PeakTime, 0, "peak time")
	near(t, 100, g.Energy, 1e-12, "energy")
	near(t, 4000, g.I2t, 1e-9, "I²t")
	near(t, 0.5e-3, g.TimeConstant, 1e-18, "time constant")
	i, i2t, err := s.At(0.5e-3)
	require.NoError(t, err)
	near(t, 4000/math.E, i, 1e-9, "current after one time constant")
	near(t, 4000*(1-math.Exp(-2)), i2t, 1e-9, "I²t by then")
}

// The three kinds of damping against the differential equation, integrated here
// by Runge and Kutta's rule, and I²t against quadrature of that solution.
func TestShortAgainstEquation(t *testing.T) {
	const v, c, l = 600.0, 1e-3, 4e-6
	z := math.Sqrt(l / c) // critical at R = 2 z
	for _, damping := range []float64{0.05, 0.5, 1 - 1e-5, 1, 1 + 1e-12, 1 + 1e-5, 2, 20} {
		r := 2 * z * damping
		s := bus.Short{Voltage: v, Capacitance: c, Resistance: r, Inductance: l}
		g, err := s.Figures()
		require.NoError(t, err)
		near(t, damping, g.Damping, 1e-12*damping, "damping")
		name := fmt.Sprintf("damping %g", damping)

		end := 6 * math.Sqrt(l*c)
		const n = 60000
		h := end / n
		i, u, i2t, peak, at := 0.0, v, 0.0, 0.0, 0.0
		slope := func(i, u float64) (float64, float64) { return (u - r*i) / l, -i / c }
		for k := range n {
			a1, b1 := slope(i, u)
			a2, b2 := slope(i+h/2*a1, u+h/2*b1)
			a3, b3 := slope(i+h/2*a2, u+h/2*b2)
			a4, b4 := slope(i+h*a3, u+h*b3)
			mid := i + h/2*a2
			next := i + h/6*(a1+2*a2+2*a3+a4)
			i2t += h / 6 * (i*i + 4*mid*mid + next*next)
			i, u = next, u+h/6*(b1+2*b2+2*b3+b4)
			if i > peak {
				peak, at = i, float64(k+1)*h
			}
			if k == n/10 || k == n/2 || k == n-1 {
				ti := float64(k+1) * h
				gi, gt, err := s.At(ti)
				require.NoError(t, err)
				near(t, i, gi, 1e-6*g.Peak, name+": current")
				near(t, i2t, gt, 1e-6*g.I2t, name+": I²t")
			}
		}
		near(t, peak, g.Peak, 1e-6*peak, name+": peak")
		near(t, at, g.PeakTime, 2*h, name+": time of the peak")
		i, _, err = s.At(g.PeakTime)
		require.NoError(t, err)
		near(t, g.Peak, i, 1e-9*g.Peak, name+": current at the peak")

		// To the end: the slowest decay is 1/(α+√(α²-ω0²)) or 1/α.
		long := 20 * (2*l/r + r*c)
		whole := quad.Fixed(func(x float64) float64 { // t = x² long crowds points at the start
			i, _, err := s.At(x * x * long)
			require.NoError(t, err)
			return i * i * 2 * x * long
		}, 0, 1, 2000, nil, 0)
		near(t, c*v*v/2/r, whole, 1e-8*g.I2t, name+": whole I²t by quadrature")
		near(t, whole, g.I2t, 1e-8*g.I2t, name+": whole I²t")
	}
}

// Critically damped exactly: 1 H, 1 F, 2 ohm and 1 V give i = t e^-t, at its peak of 1/e
// after 1 s, and ∫ i² dt = (1 - (1 + 2t + 2t²) e^-2t)/4.
func TestShortCritical(t *testing.T) {
	s := bus.Short{Voltage: 1, Capacitance: 1, Resistance: 2, Inductance: 1}
	g, err := s.Figures()
	require.NoError(t, err)
	near(t, 1, g.PeakTime, 1e-15, "time of the peak")
	near(t, 1/math.E, g.Peak, 1e-15, "peak")
	near(t, 1, g.Damping, 0, "damping")
	i, i2t, err := s.At(2)
	require.NoError(t, err)
	near(t, 2*math.Exp(-2), i, 1e-15, "current")
	near(t, (1-13*math.Exp(-4))/4, i2t, 1e-15, "I²t")
}

// With less and less inductance the peak comes nearer to V/R, and never exceeds it.
func TestShortPeakLimit(t *testing.T) {
	before := 0.0
	for l := 1e-3; l > 1e-300; l /= 10 {
		g, err := bus.Short{Voltage: 100, Capacitance: 0.02, Resistance: 0.025, Inductance: l}.Figures()
		require.NoError(t, err)
		require.GreaterOrEqual(t, g.Peak, before*(1-1e-10))
		require.LessOrEqual(t, g.Peak, 4000*(1+1e-10))
		before = g.Peak
	}
	near(t, 4000, before, 1e-6, "peak with hardly any inductance")
}

func TestShortBadInput(t *testing.T) {
	good := bus.Short{Voltage: 100, Capacitance: 0.02, Resistance: 0.025, Inductance: 1e-6}
	positive := []float64{nan, inf, -inf, 0, -1}
	for _, tc := range []struct {
		path   string
		values []float64
		set    func(s *bus.Short, v float64)
	}{
		{"voltage", positive, func(s *bus.Short, v float64) { s.Voltage = v }},
		{"capacitance", positive, func(s *bus.Short, v float64) { s.Capacitance = v }},
		{"resistance", positive, func(s *bus.Short, v float64) { s.Resistance = v }},
		{"inductance", []float64{nan, inf, -1}, func(s *bus.Short, v float64) { s.Inductance = v }},
	} {
		for _, v := range tc.values {
			s := good
			tc.set(&s, v)
			_, err := s.Figures()
			require.Equal(t, []string{tc.path}, paths(err), "%g", v)
			_, _, err = s.At(0)
			require.Equal(t, []string{tc.path}, paths(err), "%g", v)
		}
	}
	for _, v := range []float64{nan, inf, -1} {
		_, _, err := good.At(v)
		require.Equal(t, []string{"t"}, paths(err))
	}
	// Extreme sizes give an error or something finite.
	sizes := []float64{5e-324, 1e-300, 1e-9, 1, 1e9, 1e300}
	for _, v := range sizes {
		for _, c := range sizes {
			for _, r := range sizes {
				for _, l := range append(sizes, 0) {
					s := bus.Short{Voltage: v, Capacitance: c, Resistance: r, Inductance: l}
					if g, err := s.Figures(); err == nil {
						requireFinite(t, g.Peak, g.PeakTime, g.I2t, g.Energy, g.TimeConstant, g.RiseConstant, g.Damping)
					}
					for _, at := range append(sizes, 0) {
						if i, i2t, err := s.At(at); err == nil {
							requireFinite(t, i, i2t)
						}
					}
				}
			}
		}
	}
}

func requireFinite(t testing.TB, xs ...float64) {
	t.Helper()
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("not finite: %v", xs)
		}
	}
}
