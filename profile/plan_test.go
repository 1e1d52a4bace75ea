package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// limits draws limits; about a third of the jerks are not limited, and about a
// third of the values for slowing down are left to follow the others.
func (r random) limits() profile.Limits {
	l := profile.Limits{Speed: r.spread(1e-3, 1e3), Accel: r.spread(1e-3, 1e3)}
	if r.IntN(3) > 0 {
		l.Decel = r.spread(1e-3, 1e3)
	}
	for _, j := range []*float64{&l.Jerk, &l.DecelJerk} {
		switch r.IntN(6) {
		case 0:
			*j = inf
		case 1:
			*j = 0
		default:
			*j = r.spread(1e-3, 1e4)
		}
	}
	return l
}

// filled returns the limits with every default spelled out.
func filled(l profile.Limits) profile.Limits {
	if l.Jerk == 0 {
		l.Jerk = inf
	}
	if l.Decel == 0 {
		l.Decel = l.Accel
	}
	if l.DecelJerk == 0 {
		l.DecelJerk = l.Jerk
	}
	return l
}

// checkMove holds a planned move against what was asked: it starts and ends at
// rest where it should, joins in position and speed (and in acceleration where
// jerk is limited), and stays within the limits, all to tol.
func checkMove(t testing.TB, m profile.Move, from, to float64, lim profile.Limits, tol float64) {
	t.Helper()
	l := filled(lim)
	travel := math.Abs(to - from)
	// Positions are resolved no better than float64 resolves from and to.
	grain := tol*travel + 8e-16*math.Max(math.Abs(from), math.Abs(to))

	require.Equal(t, from, m.At(0).Position)
	require.Equal(t, to, m.At(m.Duration()).Position)
	require.Equal(t, to, m.At(inf).Position)
	require.Zero(t, m.At(0).Speed)
	require.Zero(t, m.At(m.Duration()).Speed)
	motion := m.Motion()
	require.Equal(t, m.Duration(), motion.Duration())
	if from == to {
		require.Zero(t, motion)
		return
	}
	p, v, a := motion.Position(), motion.Speed(), motion.Accel()
	dir := math.Copysign(1, to-from)
	peak := v.AbsMax().V * dir
	require.LessOrEqual(t, peak, l.Speed*(1+tol), "%+v", l)
	lo, hi := v.Scale(dir).Extrema()
	require.GreaterOrEqual(t, lo.V, -tol*hi.V, "%+v: backwards", l)
	lo, hi = a.Scale(dir).Extrema()
	noise := 1e-15 * math.Max(hi.V, -lo.V)
	require.LessOrEqual(t, hi.V, l.Accel*(1+tol)+noise, "%+v", l)
	require.LessOrEqual(t, -lo.V, l.Decel*(1+tol)+noise, "%+v", l)
	near(t, from, motion.Start().Position, 0, "start of the motion")
	near(t, to, motion.End().Position, grain, "%+v: end of the motion", l)
	near(t, 0, motion.End().Speed, tol*peak, "%+v: speed at the end", l)

	for i := range p.Pieces() {
		t0, t1, c := a.Piece(i)
		half := dir * (c[0] + c[1]*(t1-t0)/2)
		limit := l.Jerk
		if half < 0 {
			limit = l.DecelJerk
		}
		require.LessOrEqual(t, math.Abs(c[1]), limit*(1+tol), "%+v: piece %d", l, i)
		if i == 0 {
			continue
		}
		near(t, justBefore(p, i), p.At(t0), grain, "%+v: position at %g", l, t0)
		near(t, justBefore(v, i), v.At(t0), tol*peak, "%+v: speed at %g", l, t0)
	}
	steps := func(x, limit, jerk float64) {
		if !math.IsInf(jerk, 1) {
			near(t, 0, x, tol*limit+noise, "%+v: a step of acceleration", l)
		}
	}
	steps(a.At(0), l.Accel, l.Jerk)
	steps(justBefore(a, a.Pieces()), l.Decel, l.DecelJerk)
	for i := 1; i < a.Pieces(); i++ {
		t0, _, _ := a.Piece(i)
		before, after := dir*justBefore(a, i), dir*a.At(t0)
		// A step counts on the side of zero on which it happens.
		steps(math.Max(0, after)-math.Max(0, before), l.Accel, l.Jerk)
		steps(math.Min(0, after)-math.Min(0, before), l.Decel, l.DecelJerk)
	}
}

func TestPlanKeepsTheLimitsAndArrives(t *testing.T) {
	r := seeded(20)
	pieces := map[int]int{}
	for range 20000 {
		lim := r.limits()
		from := r.between(-10, 10)
		to := from + math.Copysign(r.spread(1e-6, 1e4), r.NormFloat64())
		m, err := profile.Plan(from, to, lim)
		require.NoError(t, err, "%+v from %g to %g", lim, from, to)
		checkMove(t, m, from, to, lim, 1e-9)
		pieces[m.Motion().Position().Pieces()]++
	}
	for n := 2; n <= 7; n++ {
		require.NotZero(t, pieces[n], "moves of %d segments among the cases", n)
	}
}

// By hand: 0.5 s up, 0.5 s down, each over 0.5 m, 1.5 s at 2 m/s between.
func TestPlanTrapezoid(t *testing.T) {
	m := must[profile.Move](t)(profile.Plan(10, 6, profile.Limits{Speed: 2, Accel: 4}))
	require.Equal(t, 2.5, m.Duration())
	require.Equal(t, profile.State{Position: 9.5, Speed: -2, Accel: 0}, m.At(0.5))
	require.Equal(t, profile.State{Position: 8, Speed: -2, Accel: 0}, m.At(1.25))
	require.Equal(t, profile.State{Position: 6.125, Speed: -1, Accel: 4}, m.At(2.25))
	require.Equal(t, profile.State{Position: 10, Speed: 0, Accel: -4}, m.At(-1))
	require.Equal(t, profile.State{Position: 6, Speed: 0, Accel: 4}, m.At(3))
	require.Equal(t, m.At(0), m.At(nan))
}

// By hand, jerk 1, acceleration 1, speed 2: each ramp is 1 s of rising, 1 s of
// full and 1 s of falling acceleration and covers 3 m; 2 s at 2 m/s between.
func TestPlanSevenSegments(t *testing.T) {
	m := must[profile.Move](t)(profile.Plan(0, 10, profile.Limits{Speed: 2, Accel: 1, Jerk: 1}))
	near(t, 8, m.Duration(), 1e-15, "duration")
	for _, tc := range []struct {
		t float64
		profile.State
	}{
		{0.5, profile.State{Position: 1. / 48, Speed: 0.125, Accel: 0.5}},
		{1, profile.State{Position: 1. / 6, Speed: 0.5, Accel: 1}},
		{2, profile.State{Position: 1./6 + 1, Speed: 1.5, Accel: 1}},
		{3, profile.State{Position: 3, Speed: 2}},
		{4, profile.State{Position: 5, Speed: 2}},
		{5, profile.State{Position: 7, Speed: 2}},
		{6, profile.State{Position: 10 - 1./6 - 1, Speed: 1.5, Accel: -1}},
		{7, profile.State{Position: 10 - 1./6, Speed: 0.5, Accel: -1}},
		{7.5, profile.State{Position: 10 - 1./48, Speed: 0.125, Accel: -0.5}},
		{8, profile.State{Position: 10}},
	} {
		got := m.At(tc.t)
		near(t, tc.Position, got.Position, 1e-14, "position at %g", tc.t)
		near(t, tc.Speed, got.Speed, 1e-14, "speed at %g", tc.t)
		near(t, tc.Accel, got.Accel, 1e-14, "acceleration at %g", tc.t)
	}
	require.Equal(t, 7, m.Motion().Position().Pieces())
}

// Backwards in time a move is the move back with the limits for speeding up and
// slowing down exchanged.
func TestPlanReversed(t *testing.T) {
	r := seeded(21)
	for range 5000 {
		lim := filled(r.limits())
		swapped := profile.Limits{Speed: lim.Speed, Accel: lim.Decel, Decel: lim.Accel, Jerk: lim.DecelJerk, DecelJerk: lim.Jerk}
		to := r.spread(1e-3, 1e3)
		there := must[profile.Move](t)(profile.Plan(0, to, lim))
		back := must[profile.Move](t)(profile.Plan(to, 0, swapped))
		near(t, there.Duration(), back.Duration(), 1e-13*there.Duration(), "%+v: duration", lim)
		for range 5 {
			x := there.Duration() * r.Float64()
			a, b := there.At(x), back.At(there.Duration()-x)
			peak := math.Abs(there.Motion().Speed().AbsMax().V)
			near(t, a.Position, b.Position, 1e-11*to, "%+v: position at %g", lim, x)
			near(t, a.Speed, -b.Speed, 1e-9*peak, "%+v: speed at %g", lim, x)
		}
		mirrored := must[profile.Move](t)(profile.Plan(0, -to, lim))
		require.Equal(t, there.Duration(), mirrored.Duration())
		x := there.Duration() / 3
		a, b := there.At(x), mirrored.At(x)
		require.Equal(t, a, profile.State{Position: -b.Position, Speed: -b.Speed, Accel: -b.Accel})
	}
}

func TestMoveAtAndMotionAgree(t *testing.T) {
	r := seeded(22)
	for range 1000 {
		lim := r.limits()
		m := must[profile.Move](t)(profile.Plan(-1, 2, lim))
		motion := m.Motion()
		peak, strongest := math.Abs(motion.Speed().AbsMax().V), math.Abs(motion.Accel().AbsMax().V)
		for k := range 50 {
			x := m.Duration() * float64(k) / 50
			a, b := m.At(x), motion.At(x)
			near(t, a.Position, b.Position, 1e-14, "%+v: position at %g", lim, x)
			near(t, a.Speed, b.Speed, 1e-14*peak, "%+v: speed at %g", lim, x)
			near(t, a.Accel, b.Accel, 1e-14*strongest, "%+v: acceleration at %g", lim, x)
		}
		// The curves are derivatives of each other, as NewMotion makes them.
		again := must[profile.Motion](t)(profile.NewMotion(motion.Position()))
		for _, x := range dense(motion.Position(), 3) {
			near(t, again.At(x).Speed, motion.At(x).Speed, 1e-14*peak, "%+v: speed at %g", lim, x)
			near(t, again.At(x).Accel, motion.At(x).Accel, 1e-14*strongest, "%+v: acceleration at %g", lim, x)
		}
	}
}

func TestPlanNowhere(t *testing.T) {
	m := must[profile.Move](t)(profile.Plan(3, 3, profile.Limits{Speed: 1, Accel: 1, Jerk: 1}))
	require.Zero(t, m.Duration())
	require.Equal(t, profile.State{Position: 3}, m.At(0))
	require.Equal(t, profile.State{Position: 3}, m.At(1))
	require.Zero(t, m.Motion())
	require.Zero(t, profile.Move{}.At(1))
	require.Zero(t, profile.Move{}.Motion())
}

// Whatever does not follow the speed limit follows the others, and a default is
// the value that it stands for.
func TestLimitsDefaults(t *testing.T) {
	plan := func(l profile.Limits) profile.Move { return must[profile.Move](t)(profile.Plan(0, 1, l)) }
	require.Equal(t, plan(profile.Limits{Speed: 1, Accel: 3, Decel: 3}), plan(profile.Limits{Speed: 1, Accel: 3}))
	require.Equal(t, plan(profile.Limits{Speed: 1, Accel: 3, Jerk: 9, DecelJerk: 9}), plan(profile.Limits{Speed: 1, Accel: 3, Jerk: 9}))
	require.Equal(t, plan(profile.Limits{Speed: 1, Accel: 3, Jerk: inf, DecelJerk: inf}), plan(profile.Limits{Speed: 1, Accel: 3}))
	require.Equal(t, plan(profile.Limits{Speed: 1, Accel: 3, Jerk: inf, DecelJerk: 9}), plan(profile.Limits{Speed: 1, Accel: 3, DecelJerk: 9}))
	require.Less(t, plan(profile.Limits{Speed: 1, Accel: 3, Jerk: 9, DecelJerk: inf}).Duration(), plan(profile.Limits{Speed: 1, Accel: 3, Jerk: 9}).Duration())
}

// A jerk so high that it hardly counts gives the trapezoid.
func TestPlanWithHighJerkIsTheTrapezoid(t *testing.T) {
	r := seeded(23)
	for range 200 {
		lim := r.limits()
		lim.Jerk, lim.DecelJerk = 0, 0
		trapezoid := must[profile.Move](t)(profile.Plan(0, 1, lim))
		lim.Jerk = 1e9 * math.Max(lim.Accel, filled(lim).Decel) / trapezoid.Duration()
		near(t, trapezoid.Duration(), must[profile.Move](t)(profile.Plan(0, 1, lim)).Duration(), 3e-9*trapezoid.Duration(), "%+v", lim)
	}
}

func TestLimitsValidate(t *testing.T) {
	good := profile.Limits{Speed: 1, Accel: 1, Decel: 1, Jerk: 1, DecelJerk: 1}
	require.NoError(t, good.Validate())
	require.Equal(t, []string{"speed", "accel"}, paths(profile.Limits{}.Validate()))
	require.Equal(t, []string{"speed", "accel", "decel", "jerk", "decelJerk"}, paths(profile.Limits{Speed: nan, Accel: nan, Decel: nan, Jerk: nan, DecelJerk: nan}.Validate()))
	for _, tc := range []struct {
		field func(l *profile.Limits) *float64
		path  string
		bad   []float64
		good  []float64
	}{
		{func(l *profile.Limits) *float64 { return &l.Speed }, "speed", []float64{nan, inf, -inf, 0, -1}, nil},
		{func(l *profile.Limits) *float64 { return &l.Accel }, "accel", []float64{nan, inf, -inf, 0, -1}, nil},
		{func(l *profile.Limits) *float64 { return &l.Decel }, "decel", []float64{nan, inf, -inf, -1}, []float64{0}},
		{func(l *profile.Limits) *float64 { return &l.Jerk }, "jerk", []float64{nan, -inf, -1}, []float64{0, inf}},
		{func(l *profile.Limits) *float64 { return &l.DecelJerk }, "decelJerk", []float64{nan, -inf, -1}, []float64{0, inf}},
	} {
		for _, v := range tc.bad {
			l := good
			*tc.field(&l) = v
			require.Equal(t, []string{tc.path}, paths(l.Validate()), "%s = %g", tc.path, v)
			m, err := profile.Plan(nan, 1, l)
			require.Equal(t, []string{"from", "lim." + tc.path}, paths(err), "%s = %g", tc.path, v)
			require.Zero(t, m)
		}
		for _, v := range tc.good {
			l := good
			*tc.field(&l) = v
			require.NoError(t, l.Validate(), "%s = %g", tc.path, v)
		}
	}
}

func TestPlanRefuses(t *testing.T) {
	lim := profile.Limits{Speed: 1, Accel: 1, Jerk: 1}
	for _, tc := range []struct {
		from, to float64
		lim      profile.Limits
		want     []string
	}{
		{nan, nan, lim, []string{"from", "to"}},
		{inf, inf, lim, []string{"from", "to"}},
		{0, -inf, lim, []string{"to"}},
		{-1.5e308, 1.5e308, lim, []string{"to"}},
		{0, 1e300, profile.Limits{Speed: 1e-300, Accel: 1}, []string{"lim"}},
		{0, 1e-175, profile.Limits{Speed: 1, Accel: 1e300, Jerk: 1e305}, []string{"lim"}},
	} {
		m, err := profile.Plan(tc.from, tc.to, tc.lim)
		require.Equal(t, tc.want, paths(err), "%g to %g, %+v: %v", tc.from, tc.to, tc.lim, err)
		require.Zero(t, m)
	}
}

// An hour at constant speed behind a ramp of a millisecond still resolves.
func TestPlanLongCruise(t *testing.T) {
	lim := profile.Limits{Speed: 1, Accel: 1000}
	m := must[profile.Move](t)(profile.Plan(0, 3600, lim))
	near(t, 3600.001, m.Duration(), 1e-9, "duration")
	checkMove(t, m, 0, 3600, lim, 1e-9)
}

// Ramps far shorter than the rounding of a late time allows for still end at
// rest, also where the duration passes a power of two.
func TestPlanShortRampsAtALateTime(t *testing.T) {
	lim := profile.Limits{Speed: 1, Accel: 1e8}
	for k := range 100 {
		travel := 1024 - 1e-10*float64(k)
		checkMove(t, must[profile.Move](t)(profile.Plan(0, travel, lim)), 0, travel, lim, 1e-9)
	}
	lim = profile.Limits{Speed: 1, Accel: 1e20, Jerk: 1e30}
	m := must[profile.Move](t)(profile.Plan(0, 1e6, lim))
	require.LessOrEqual(t, m.Duration(), 1e6+1e-9)
	checkMove(t, m, 0, 1e6, lim, 1e-9)
}

// Any combination of magnitudes gives an error or a move that holds.
func TestPlanOverAllMagnitudes(t *testing.T) {
	r := seeded(24)
	refused := 0
	for range 20000 {
		lim := profile.Limits{Speed: r.spread(1e-300, 1e300), Accel: r.spread(1e-300, 1e300), Decel: r.spread(1e-300, 1e300), Jerk: r.spread(1e-300, 1e300), DecelJerk: r.spread(1e-300, 1e300)}
		from, to := 0.0, r.spread(1e-300, 1e300)
		m, err := profile.Plan(from, to, lim)
		if err != nil {
			require.Equal(t, []string{"lim"}, paths(err))
			refused++
			continue
		}
		checkMove(t, m, from, to, lim, 1e-9)
	}
	require.Less(t, refused, 20000)
	t.Logf("refused %d of 20000", refused)
}
