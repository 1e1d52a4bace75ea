package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// By hand: 4 s for 4 m at up to 2 m/s and 2 m/s², at half the pace.
func TestStretchByHand(t *testing.T) {
	m := must[profile.Move](t)(profile.Plan(0, 4, profile.Limits{Speed: 2, Accel: 2}))
	require.Equal(t, 3.0, m.Duration())
	s := must[profile.Move](t)(m.Stretch(6))
	require.Equal(t, 6.0, s.Duration())
	require.Equal(t, profile.State{Position: 0.25, Speed: 0.5, Accel: 0.5}, s.At(1))
	require.Equal(t, profile.State{Position: 2, Speed: 1}, s.At(3))
	require.Equal(t, profile.State{Position: 4, Accel: -0.5}, s.At(6))
	require.Equal(t, profile.State{Position: 2, Speed: 1}, must[profile.Motion](t)(m.Motion().Stretch(6)).At(3))
	require.Equal(t, m, must[profile.Move](t)(m.Stretch(3)))
	require.Equal(t, m.Motion(), must[profile.Motion](t)(m.Motion().Stretch(3)))
}

// Position is the same at the same share of the time; speed, acceleration and
// jerk fall with the first, second and third power of the ratio of times.
func TestStretchMove(t *testing.T) {
	r := seeded(45)
	for range 3000 {
		lim := r.limits()
		from := r.between(-10, 10)
		to := from + math.Copysign(r.spread(1e-3, 1e3), r.NormFloat64())
		m := must[profile.Move](t)(profile.Plan(from, to, lim))
		k := r.spread(1+1e-12, 1e3)
		if r.IntN(4) == 0 {
			k = float64(int(1) << r.IntN(9))
		}
		s, err := m.Stretch(k * m.Duration())
		if shortRamp(m) {
			continue // near the limit of what the clock resolves
		}
		require.NoError(t, err, "%+v by %g", lim, k)
		require.Equal(t, k*m.Duration(), s.Duration())
		full := filled(lim)
		slower := profile.Limits{Speed: full.Speed / k, Accel: full.Accel / k / k, Decel: full.Decel / k / k, Jerk: full.Jerk / k / k / k, DecelJerk: full.DecelJerk / k / k / k}
		checkMove(t, s, from, to, slower, 1e-9)
		motion := must[profile.Motion](t)(m.Motion().Stretch(k * m.Duration()))
		require.Equal(t, k*m.Duration(), motion.Duration())
		peak, strongest := math.Abs(motion.Speed().AbsMax().V), math.Abs(motion.Accel().AbsMax().V)
		grain := 1e-12*math.Abs(to-from) + 1e-14
		for range 10 {
			x := r.Float64()
			was, is := m.At(x*m.Duration()), s.At(x*s.Duration())
			near(t, was.Position, is.Position, grain, "%+v by %g: position at %g", lim, k, x)
			near(t, was.Speed/k, is.Speed, 1e-9*peak, "%+v by %g: speed at %g", lim, k, x)
			// Move and Motion are stretched alike.
			near(t, is.Position, motion.At(x*s.Duration()).Position, grain, "%+v by %g: position at %g", lim, k, x)
			near(t, is.Speed, motion.At(x*s.Duration()).Speed, 1e-12*peak, "%+v by %g: speed at %g", lim, k, x)
		}
		near(t, m.Motion().Accel().RMS()/k/k, s.Motion().Accel().RMS(), 1e-9*strongest, "%+v by %g: RMS acceleration", lim, k)
		near(t, s.Motion().Accel().RMS(), motion.Accel().RMS(), 1e-12*strongest, "%+v by %g: RMS acceleration", lim, k)
	}
}

// shortRamp reports whether a part of the move that changes its speed lasts for
// less than a millionth of it.
func shortRamp(m profile.Move) bool {
	a := m.Motion().Accel()
	for i := range a.Pieces() {
		t0, t1, c := a.Piece(i)
		if (c[0] != 0 || c[1] != 0) && t1-t0 < 1e-6*m.Duration() {
			return true
		}
	}
	return false
}

// A cycle with waits, curved by laws of higher degree, keeps its shape; powers
// of two are exact to the last bit.
func TestStretchMotion(t *testing.T) {
	out := must[profile.Motion](t)(profile.Polynomial4567().Motion(0, 1, 0.7))
	wait := must[profile.Motion](t)(profile.Dwell(1, 0.3))
	back := must[profile.Motion](t)(profile.Cycloidal().Motion(1, 0, 0.9))
	m := must[profile.Motion](t)(profile.Sequence(out, wait, back))
	for _, k := range []float64{1 + 1e-15, 1.1, 2, 3.7, 8, 1e6} {
		d := k * m.Duration()
		s := must[profile.Motion](t)(m.Stretch(d))
		require.Equal(t, d, s.Duration())
		require.NoError(t, s.Closes())
		require.Equal(t, m.Position().Pieces(), s.Position().Pieces())
		for _, x := range dense(m.Position(), 3) {
			was, is := m.At(x), s.At(x*k)
			if k == 2 || k == 8 {
				require.Equal(t, profile.State{Position: was.Position, Speed: was.Speed / k, Accel: was.Accel / k / k}, is)
			}
			near(t, was.Position, is.Position, 1e-13, "by %g: position at %g", k, x)
			near(t, was.Speed/k, is.Speed, 1e-12/k, "by %g: speed at %g", k, x)
			near(t, was.Accel/k/k, is.Accel, 1e-10/k/k, "by %g: acceleration at %g", k, x)
		}
		// Squaring the 4-5-6-7 polynomial costs six digits: its terms are that much
		// larger than their sum.
		near(t, m.Accel().RMS()/k/k, s.Accel().RMS(), 1e-10*m.Accel().RMS()/k/k, "by %g: RMS acceleration", k)
	}
	r := seeded(53)
	for range 300 {
		d := m.Duration() * r.spread(1, 1e3)
		d = math.Round(1e6*d) / 1e6
		require.Equal(t, d, must[profile.Motion](t)(m.Stretch(d)).Duration())
		require.Equal(t, d, must[profile.Move](t)(hotMove(t).Stretch(d)).Duration())
	}
	// Also where it starts and ends moving.
	ramp := must[profile.Motion](t)(profile.NewMotion(curve(t, []float64{0, 2}, []float64{0, 1, 0.5})))
	s := must[profile.Motion](t)(ramp.Stretch(4))
	require.Equal(t, profile.State{Position: 0, Speed: 0.5, Accel: 0.25}, s.Start())
	require.Equal(t, profile.State{Position: 4, Speed: 1.5, Accel: 0.25}, s.End())
}

// A move of no duration rests.
func TestStretchRest(t *testing.T) {
	m := must[profile.Move](t)(profile.Plan(3, 3, profile.Limits{Speed: 1, Accel: 1}))
	s := must[profile.Move](t)(m.Stretch(2))
	require.Equal(t, 2.0, s.Duration())
	require.Equal(t, profile.State{Position: 3}, s.At(1))
	require.Equal(t, must[profile.Motion](t)(profile.Dwell(3, 2)).At(1), s.Motion().At(1))
	require.Equal(t, 2.0, s.Motion().Duration())
	again := must[profile.Move](t)(s.Stretch(5))
	require.Equal(t, 5.0, again.Duration())
	require.Equal(t, profile.State{Position: 3}, again.At(4))
	require.Equal(t, m, must[profile.Move](t)(m.Stretch(0)))
	require.Zero(t, must[profile.Motion](t)(profile.Motion{}.Stretch(0)))
}

func TestStretchRefuses(t *testing.T) {
	m := must[profile.Move](t)(profile.Plan(0, 4, profile.Limits{Speed: 2, Accel: 2, Jerk: 20}))
	motion := m.Motion()
	for _, d := range []float64{nan, inf, -inf, 0, -1, m.Duration() * (1 - 1e-15), 1e160, 1e300, math.MaxFloat64} {
		s, err := m.Stretch(d)
		require.Equal(t, []string{"duration"}, paths(err), "Stretch(%g)", d)
		require.Zero(t, s)
		q, err := motion.Stretch(d)
		require.Equal(t, []string{"duration"}, paths(err), "Stretch(%g)", d)
		require.Zero(t, q)
	}
	_, err := profile.Motion{}.Stretch(1)
	require.Equal(t, []string{"duration"}, paths(err))
	_, err = profile.Move{}.Stretch(-1)
	require.Equal(t, []string{"duration"}, paths(err))

	// Ramps that the clock hardly tells: an answer that joins, or none.
	r := seeded(46)
	refused := 0
	for range 3000 {
		lim := profile.Limits{Speed: 1, Accel: r.spread(1e4, 1e14)}
		m := must[profile.Move](t)(profile.Plan(0, 1000, lim))
		k := r.between(1, 2)
		s, err := m.Stretch(k * m.Duration())
		if err != nil {
			require.Equal(t, []string{"duration"}, paths(err))
			require.Greater(t, lim.Accel, 1e4, "ramps of a millionth")
			refused++
			continue
		}
		checkMove(t, s, 0, 1000, profile.Limits{Speed: 1 / k, Accel: lim.Accel / k / k}, 1e-9)
	}
	require.Less(t, refused, 3000)
	t.Logf("refused %d of 3000", refused)
}

// Pieces of one unit in the last place of their time, which may fall together on
// a stretched clock, are dropped and leave no gap.
func TestStretchDropsWhatTheClockCannotTell(t *testing.T) {
	const u = 0x1p-52
	b := []float64{0}
	var c [][]float64
	for i := range 5 {
		c = append(c, []float64{b[i], 1})
		b = append(b, 2-float64(5-i)*u)
	}
	m := must[profile.Motion](t)(profile.NewMotion(curve(t, append(b, 3), append(c, []float64{b[5], 1})...)))
	dropped := 0
	for i := range 40 {
		d := 3 + float64(i+1)*2*u
		s := must[profile.Motion](t)(m.Stretch(d))
		require.Equal(t, d, s.Duration())
		near(t, 3, s.End().Position, 1e-15, "end")
		dropped += m.Position().Pieces() - s.Position().Pieces()
	}
	require.NotZero(t, dropped)
}
