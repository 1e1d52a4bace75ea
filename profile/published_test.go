package profile_test

import (
	"math"
	"testing"

	"example.com/headroom/profile"
)

// Source: L. Biagiotti, C. Melchiorri, Trajectory Planning for Automatic
// Machines and Robots, Springer 2008, §3.4, Example 3.13. LOOKED UP-2: read in
// a transcription, not on the printed page. The jerk time, the ramp time and the
// missing constant speed are printed; the example's own printed peak speed and
// acceleration are misprints (they repeat Example 3.11), so those two are our
// own values, from the printed jerk time.
func TestDoubleSExample313(t *testing.T) {
	m := must[profile.Move](t)(profile.Plan(0, 10, profile.Limits{Speed: 10, Accel: 20, Jerk: 30}))
	p := m.Motion().Position()
	if p.Pieces() != 4 {
		t.Fatalf("%d pieces, want 4: neither acceleration nor speed reaches its limit", p.Pieces())
	}
	const printed = 1e-4
	_, rise, _ := p.Piece(0)
	_, ramp, _ := p.Piece(1)
	near(t, 0.5503, rise, printed, "Tj")
	near(t, 1.1006, ramp, printed, "Ta")
	near(t, 2*1.1006, m.Duration(), 2*printed, "Ta + Td, Tv = 0")
	near(t, 9.0856, m.Motion().Speed().Max().V, printed, "peak speed (own)")
	near(t, 16.5096, m.Motion().Accel().Max().V, printed, "peak acceleration (own)")
	near(t, math.Cbrt(10./60), rise, 1e-15, "Tj = (h/2j)^(1/3)")
}

// lossFactor returns ∫a² dt T³/s², the copper loss of a pure inertia for one way
// s in one time T, freed of both.
func lossFactor(m profile.Motion) float64 {
	d, s := m.Duration(), m.End().Position-m.Start().Position
	return m.Accel().RMS() * m.Accel().RMS() * d * d * d * d / (s * s)
}

func moves(t testing.TB, breaks []float64, coefs ...[]float64) profile.Motion {
	return must[profile.Motion](t)(profile.NewMotion(curve(t, breaks, coefs...)))
}

func planned(t testing.TB, lim profile.Limits) profile.Motion {
	return must[profile.Move](t)(profile.Plan(0, 1, lim)).Motion()
}

// Source: classical result of the calculus of variations for the double
// integrator; any textbook on optimal control derives the 12 of the parabolic
// speed. FROM MEMORY; recomputed exactly.
func TestCopperLossFactors(t *testing.T) {
	for _, tc := range []struct {
		name string
		m    profile.Motion
		want float64
	}{
		{"parabolic speed", moves(t, []float64{0, 1}, []float64{0, 0, 3, -2}), 12},
		{"trapezoid in thirds", planned(t, profile.Limits{Speed: 1.5, Accel: 4.5}), 13.5},
		{"triangle", planned(t, profile.Limits{Speed: 99, Accel: 4}), 16},
	} {
		near(t, tc.want, lossFactor(tc.m), 1e-12*tc.want, "%s", tc.name)
	}
}

// powers returns the coefficients up to s^38 of the series with first term
// a s^first whose next terms follow by the factor -w²/((k+1)(k+2)): sine and
// cosine. Beyond, the terms are below 1e-17 for w up to 2π.
func powers(a float64, first int, w float64) []float64 {
	c := make([]float64, 39)
	for k := first; k < len(c); k += 2 {
		c[k] = a
		a *= -w * w / float64((k+1)*(k+2))
	}
	return c
}

// Sources: the shapes are those of cam design, e.g. R. L. Norton, Design of
// Machinery. FROM MEMORY. The factors: own, by exact integration.
func TestMoreCopperLossFactors(t *testing.T) {
	const w = 2 * math.Pi
	harmonic := powers(math.Pi*math.Pi/4, 2, math.Pi) // (1 - cos πs)/2
	cycloidal := powers(w*w/6, 3, w)                  // s - sin(2πs)/2π
	for _, tc := range []struct {
		name string
		m    profile.Motion
		want float64
	}{
		{"cubic position", moves(t, []float64{0, 2}, []float64{0, 0, 3. / 4, -2. / 8}), 12},
		{"simple harmonic", moves(t, []float64{0, 1}, harmonic), math.Pow(math.Pi, 4) / 8},
		{"3-4-5 polynomial", moves(t, []float64{0, 1}, []float64{0, 0, 0, 10, -15, 6}), 120. / 7},
		{"cycloidal", moves(t, []float64{0, 1}, cycloidal), 2 * math.Pi * math.Pi},
		{"pure S", planned(t, profile.Limits{Speed: 99, Accel: 99, Jerk: 7}), 64. / 3},
	} {
		near(t, tc.want, lossFactor(tc.m), 1e-9*tc.want, "%s", tc.name)
	}
	// The symmetric trapezoid that speeds up for the fraction p of its time.
	for _, p := range []float64{0.05, 0.2, 1. / 3, 0.45} {
		speed := 1 / (1 - p)
		want := 2 / (p * (1 - p) * (1 - p))
		near(t, want, lossFactor(planned(t, profile.Limits{Speed: speed, Accel: speed / p})), 1e-9*want, "trapezoid with p = %g", p)
	}
}
