package profile_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// phases returns for how long a motion that only moves forwards speeds up, keeps
// its speed and slows down [s], and its highest speed [m/s].
func phases(t testing.TB, m profile.Move) (up, level, down, top float64) {
	t.Helper()
	a := m.Motion().Accel()
	for i := range a.Pieces() {
		t0, t1, c := a.Piece(i)
		switch mid := at(c, 0) + at(c, 1)*(t1-t0)/2; {
		case mid > 0:
			up += t1 - t0
		case mid < 0:
			down += t1 - t0
		default:
			level += t1 - t0
		}
	}
	return up, level, down, m.Motion().Speed().Max().V
}

// Source: L. Biagiotti, C. Melchiorri, Trajectory Planning for Automatic Machines
// and Robots, Springer 2008, §3.4, Examples 3.9, 3.10 and 3.13. LOOKED UP-2: read in
// transcriptions of the section, not on the printed page; for 3.9 and 3.10 two
// separate ones agree. What Example 3.13 prints for the peak speed is a misprint
// (it repeats Example 3.11) and is not compared.
func TestPlanBetweenDoubleS(t *testing.T) {
	state := func(position, speed float64) profile.State {
		return profile.State{Position: position, Speed: speed}
	}
	plan := func(v0 float64, l profile.Limits) profile.Move {
		return must[profile.Move](t)(profile.PlanBetween(state(0, v0), state(10, 0), l))
	}
	const printed = 1e-4

	t.Run("3.9, with constant speed", func(t *testing.T) {
		m := plan(1, profile.Limits{Speed: 5, Accel: 10, Jerk: 30})
		up, level, down, _ := phases(t, m)
		near(t, 0.7333, up, printed, "Ta")
		near(t, 1.1433, level, printed, "Tv")
		near(t, 0.8333, down, printed, "Td")
		near(t, 11./15, up, 1e-14, "Ta exactly")
		near(t, 1.1433333333333333, level, 1e-14, "Tv exactly")
		near(t, 5./6, down, 1e-14, "Td exactly")
		_, first, _ := m.Motion().Position().Piece(0)
		near(t, 1./3, first, 1e-14, "Tj1")
	})
	t.Run("3.10, without", func(t *testing.T) {
		up, level, down, top := phases(t, plan(1, profile.Limits{Speed: 10, Accel: 10, Jerk: 30}))
		near(t, 1.0747, up, printed, "Ta")
		near(t, 0, level, 0, "Tv")
		near(t, 1.1747, down, printed, "Td")
		near(t, 8.4136, top, printed, "v_lim")
	})
	t.Run("3.13, neither limit reached", func(t *testing.T) {
		up, level, down, _ := phases(t, plan(0, profile.Limits{Speed: 10, Accel: 20, Jerk: 30}))
		near(t, 1.1006, up, printed, "Ta")
		near(t, 0, level, 0, "Tv")
		near(t, 1.1006, down, printed, "Td")
	})
	// Examples 3.11 and 3.12 print what the book's approximate branch gives, which
	// is not the optimum: bounds from above only.
	t.Run("3.11 and 3.12, bounds", func(t *testing.T) {
		l := profile.Limits{Speed: 10, Accel: 10, Jerk: 30}
		require.LessOrEqual(t, plan(7, l).Duration(), 1.9384)
		require.LessOrEqual(t, plan(7.5, l).Duration(), 2.6667)
	})
	// Status: own. A separate calculation of the optimum of the two.
	t.Run("3.11 and 3.12, optimum", func(t *testing.T) {
		l := profile.Limits{Speed: 10, Accel: 10, Jerk: 30}
		m := plan(7, l)
		up, level, down, top := phases(t, m)
		near(t, 0.5335810, up, 1e-7, "Ta")
		near(t, 0, level, 0, "Tv")
		near(t, 1.2468648, down, 1e-7, "Td")
		near(t, 9.1353149, top, 1e-7, "v")
		near(t, 1.7804458, m.Duration(), 1e-7, "T")
		near(t, 8.00371, m.Motion().Accel().Max().V, 1e-5, "acceleration")
		near(t, 1.75422, plan(7.5, l).Duration(), 1e-5, "T of 3.12")
	})
}
