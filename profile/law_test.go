package profile_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

func lawOf(t testing.TB, s profile.Shares) profile.Law {
	t.Helper()
	return must[profile.Law](t)(s.Law())
}

// named laws, all that there are but for the endless kinds of shares.
func laws(t testing.TB) map[string]profile.Law {
	return map[string]profile.Law{
		"least loss":       profile.LeastLoss(),
		"3-4-5":            profile.Polynomial345(),
		"4-5-6-7":          profile.Polynomial4567(),
		"simple harmonic":  profile.SimpleHarmonic(),
		"cycloidal":        profile.Cycloidal(),
		"thirds":           lawOf(t, profile.Shares{Accel: 1. / 3, Decel: 1. / 3}),
		"triangle":         lawOf(t, profile.Shares{Accel: 0.5, Decel: 0.5}),
		"pure S":           lawOf(t, profile.Shares{Accel: 0.5, Decel: 0.5, AccelRounding: 1, DecelRounding: 1}),
		"uneven":           lawOf(t, profile.Shares{Accel: 0.2, Decel: 0.5, AccelRounding: 0.3, DecelRounding: 0.8}),
		"rounded one side": lawOf(t, profile.Shares{Accel: 0.4, Decel: 0.6, DecelRounding: 1}),
	}
}

// shares draws shares of a move, now and then at the ends of their ranges.
func (r random) shares() profile.Shares {
	pick := func(lo, hi float64) float64 {
		switch r.IntN(6) {
		case 0:
			return lo
		case 1:
			return hi
		}
		return r.between(lo, hi)
	}
	s := profile.Shares{Accel: pick(0.01, 0.9)}
	s.Decel = pick(0.01, 1-s.Accel)
	s.AccelRounding, s.DecelRounding = pick(0, 1), pick(0, 1)
	for _, v := range []*float64{&s.AccelRounding, &s.DecelRounding} {
		if *v < 1e-3 {
			*v = 0
		}
	}
	return s
}

// peaks returns the tightest limits that a motion keeps, from its curves alone.
// A step of acceleration above 1e-6 of its peak is an infinite jerk.
func peaks(t testing.TB, m profile.Motion) profile.Limits {
	t.Helper()
	dir := math.Copysign(1, m.End().Position-m.Start().Position)
	a := m.Accel().Scale(dir)
	lo, hi := a.Extrema()
	l := profile.Limits{Speed: math.Abs(m.Speed().AbsMax().V), Accel: hi.V, Decel: -lo.V}
	jerk := a.Derivative()
	cuts := a.Crossings(nil, 0)
	for i := range a.Pieces() {
		_, t1, _ := a.Piece(i)
		cuts = append(cuts, t1)
	}
	slices.Sort(cuts)
	from := 0.0
	for _, to := range cuts {
		if !(to > from+1e-12*a.End()) {
			from = to
			continue
		}
		most := math.Abs(must[profile.Curve](t)(jerk.Slice(from, to)).AbsMax().V)
		if a.At((from+to)/2) > 0 {
			l.Jerk = math.Max(l.Jerk, most)
		} else {
			l.DecelJerk = math.Max(l.DecelJerk, most)
		}
		from = to
	}
	noise := 1e-6 * math.Max(hi.V, -lo.V)
	step := func(before, after float64) {
		if math.Abs(math.Max(0, after)-math.Max(0, before)) > noise {
			l.Jerk = inf
		}
		if math.Abs(math.Min(0, after)-math.Min(0, before)) > noise {
			l.DecelJerk = inf
		}
	}
	step(0, a.At(0))
	step(justBefore(a, a.Pieces()), 0)
	for i := 1; i < a.Pieces(); i++ {
		t0, _, _ := a.Piece(i)
		step(justBefore(a, i), a.At(t0))
	}
	return l
}

// nearLimits compares relative to the wanted values; equal infinities are equal.
func nearLimits(t testing.TB, want, got profile.Limits, tol, jerkTol float64, what string) {
	t.Helper()
	for _, v := range []struct {
		name           string
		want, got, tol float64
	}{
		{"speed", want.Speed, got.Speed, tol}, {"accel", want.Accel, got.Accel, tol}, {"decel", want.Decel, got.Decel, tol},
		{"jerk", want.Jerk, got.Jerk, jerkTol}, {"decelJerk", want.DecelJerk, got.DecelJerk, jerkTol},
	} {
		if v.want != v.got {
			near(t, v.want, v.got, v.tol*v.want, "%s: peak %s", what, v.name)
		}
	}
}

// The factors are those of the curves that the law makes, found there by roots.
func TestLawFactorsAreThePeaks(t *testing.T) {
	for name, l := range laws(t) {
		nearLimits(t, l.Factors(), peaks(t, must[profile.Motion](t)(l.Motion(0, 1, 1))), 3e-10, 1e-7, name)
		// s/T, s/T² and s/T³, either way.
		f := l.Factors()
		f.Speed, f.Accel, f.Decel, f.Jerk, f.DecelJerk = f.Speed*0.4/3, f.Accel*0.4/9, f.Decel*0.4/9, f.Jerk*0.4/27, f.DecelJerk*0.4/27
		nearLimits(t, f, peaks(t, must[profile.Motion](t)(l.Motion(0.1, -0.3, 3))), 3e-10, 1e-7, name)
	}
	r := seeded(40)
	for range 2000 {
		s := r.shares()
		l := lawOf(t, s)
		nearLimits(t, l.Factors(), peaks(t, must[profile.Motion](t)(l.Motion(0, 1, 1))), 1e-11, 1e-11, "shares")
	}
}

// checkEnds holds a motion of a law against what was asked: it starts and ends
// at rest where it should, in the time it should, joins, and never turns back.
func checkEnds(t testing.TB, m profile.Motion, from, to, duration float64) {
	t.Helper()
	travel := math.Abs(to - from)
	grain := 1e-13*travel + 1e-15*math.Max(math.Abs(from), math.Abs(to))
	require.Equal(t, duration, m.Duration())
	require.Equal(t, from, m.Start().Position)
	require.Zero(t, m.Start().Speed)
	near(t, to, m.End().Position, grain, "end of the motion")
	peak := math.Abs(m.Speed().AbsMax().V)
	near(t, 0, m.End().Speed, 1e-9*peak, "speed at the end")
	lo, _ := m.Speed().Scale(math.Copysign(1, to-from)).Extrema()
	require.GreaterOrEqual(t, lo.V, -1e-9*peak, "backwards")
	p, v := m.Position(), m.Speed()
	for i := 1; i < p.Pieces(); i++ {
		t0, _, _ := p.Piece(i)
		near(t, justBefore(p, i), p.At(t0), 1e-9*travel+grain, "position at %g", t0)
		near(t, justBefore(v, i), v.At(t0), 1e-9*peak, "speed at %g", t0)
	}
}

func TestLawMotionArrives(t *testing.T) {
	r := seeded(41)
	check := func(l profile.Law) {
		from, duration := r.between(-10, 10), r.spread(1e-3, 1e4)
		to := from + math.Copysign(r.spread(1e-6, 1e4), r.NormFloat64())
		checkEnds(t, must[profile.Motion](t)(l.Motion(from, to, duration)), from, to, duration)
	}
	for _, l := range laws(t) {
		for range 50 {
			check(l)
		}
	}
	for range 3000 {
		check(lawOf(t, r.shares()))
	}
	// The shortest parts that shares may have.
	for _, s := range []profile.Shares{
		{Accel: 1e-6, Decel: 1e-6}, {Accel: 1e-6, Decel: 1e-6, AccelRounding: 1, DecelRounding: 1},
		{Accel: 1 - 1e-6, Decel: 1e-6, AccelRounding: 1e-5, DecelRounding: 1}, {Accel: 0.5, Decel: 0.5, AccelRounding: 1 - 1e-16, DecelRounding: 2e-6},
		{Accel: 0.1, Decel: 0.9}, {Accel: 2. / 3, Decel: 1. / 3}, {Accel: 0.7, Decel: 0.3 + 1e-13},
	} {
		l := lawOf(t, s)
		checkEnds(t, must[profile.Motion](t)(l.Motion(3, 7, 11)), 3, 7, 11)
		nearLimits(t, l.Factors(), peaks(t, must[profile.Motion](t)(l.Motion(0, 1, 1))), 1e-9, 1e-9, "short parts")
	}
}

func TestLawMotionNowhere(t *testing.T) {
	l := profile.Polynomial345()
	want := must[profile.Motion](t)(profile.Dwell(2, 3))
	require.Equal(t, want, must[profile.Motion](t)(l.Motion(2, 2, 3)))
	lim := profile.Limits{Speed: 1, Accel: 1}
	require.Equal(t, want, must[profile.Motion](t)(l.MotionWithin(2, 2, 3, lim)))
	require.Zero(t, must[float64](t)(l.Shortest(0, lim)))
}

// A move in its shortest time reaches one of its limits and keeps the others; in
// less time it would not.
func TestLawShortest(t *testing.T) {
	r := seeded(42)
	reached := map[string]int{}
	for range 3000 {
		l := lawOf(t, r.shares())
		if r.IntN(3) == 0 {
			l = profile.Polynomial345()
		}
		lim := r.limits()
		full := filled(lim)
		steps := math.IsInf(l.Factors().Jerk, 1) && full.Jerk < inf || math.IsInf(l.Factors().DecelJerk, 1) && full.DecelJerk < inf
		from := r.between(-10, 10)
		to := from + math.Copysign(r.spread(1e-3, 1e3), r.NormFloat64())
		shortest, err := l.Shortest(to-from, lim)
		if steps {
			require.Error(t, err)
			reached["nothing"]++
			continue
		}
		require.NoError(t, err)
		got := peaks(t, must[profile.Motion](t)(l.MotionWithin(from, to, shortest, lim)))
		most, at := 0.0, ""
		for name, share := range map[string]float64{
			"speed": got.Speed / full.Speed, "accel": got.Accel / full.Accel, "decel": got.Decel / full.Decel,
			"jerk": got.Jerk / full.Jerk, "decelJerk": got.DecelJerk / full.DecelJerk,
		} {
			if share > most {
				most, at = share, name
			}
		}
		near(t, 1, most, 1e-9, "%+v: share of the limit on %s", lim, at)
		reached[at]++

		_, err = l.MotionWithin(from, to, shortest*(1-1e-12), lim)
		require.Equal(t, []string{"duration"}, paths(err))
		must[profile.Motion](t)(l.MotionWithin(from, to, 2*shortest, lim))
	}
	for _, name := range []string{"nothing", "speed", "accel", "decel", "jerk", "decelJerk"} {
		require.NotZero(t, reached[name], "moves that reach %s", name)
	}
}

// By hand: equal thirds over 2 m have peaks 1.5·2/T and 4.5·2/T², so 3 m/s asks
// for 1 s, and 4 m/s² for 1.5 s.
func TestShortestTimeIsSaid(t *testing.T) {
	l := lawOf(t, profile.Shares{Accel: 1. / 3, Decel: 1. / 3})
	lim := profile.Limits{Speed: 3, Accel: 4}
	near(t, 1.5, must[float64](t)(l.Shortest(2, lim)), 1e-15, "limited by acceleration")
	near(t, 1.5, must[float64](t)(l.Shortest(-2, lim)), 1e-15, "the other way")
	near(t, 1, must[float64](t)(l.Shortest(2, profile.Limits{Speed: 3, Accel: 99})), 1e-15, "limited by speed")
	near(t, 3, must[float64](t)(l.Shortest(2, profile.Limits{Speed: 3, Accel: 99, Decel: 1})), 1e-15, "limited by deceleration")
	_, err := l.MotionWithin(0, 2, 1.25, lim)
	require.EqualError(t, err, "duration = 1.25: want at least 1.5 s, the shortest by this law within the limits")

	// By hand: the jerk of 3-4-5 over 1 m is 60/T³.
	j := profile.Limits{Speed: 99, Accel: 99, Jerk: 7.5}
	near(t, 2, must[float64](t)(profile.Polynomial345().Shortest(1, j)), 1e-15, "limited by jerk")
	j.Jerk, j.DecelJerk = 60, 7.5
	near(t, 2, must[float64](t)(profile.Polynomial345().Shortest(1, j)), 1e-15, "limited by jerk, slowing down")
	_, err = l.Shortest(1, j)
	require.Equal(t, []string{"lim.jerk", "lim.decelJerk"}, paths(err))
	_, err = profile.LeastLoss().MotionWithin(0, 1, 99, profile.Limits{Speed: 1, Accel: 1, DecelJerk: 3})
	require.EqualError(t, err, "lim.decelJerk = 3: want no limit on the jerk, as the acceleration of this law steps")
}

func TestLawRefuses(t *testing.T) {
	l, lim := profile.Polynomial4567(), profile.Limits{Speed: 1, Accel: 1}
	for _, tc := range []struct {
		law                profile.Law
		from, to, duration float64
		want               []string
	}{
		{l, nan, nan, nan, []string{"from", "to", "duration"}},
		{l, inf, -inf, inf, []string{"from", "to", "duration"}},
		{l, 0, 1, 0, []string{"duration"}}, {l, 0, 1, -1, []string{"duration"}}, {l, 0, 0, 0, []string{"duration"}},
		{l, -1.5e308, 1.5e308, 1, []string{"to"}},
		{l, 0, 1, 1e-300, []string{"duration"}}, {l, 0, 1, 1e300, []string{"duration"}}, {l, 0, 1e308, 1, []string{"duration"}},
		{l, 0, 1e-310, 1, []string{"duration"}}, {l, 1000, 1000 + 1e-7, 1e160, []string{"duration"}},
		{lawOf(t, profile.Shares{Accel: 0.2, Decel: 0.2}), 0, 1e-323, 1e-20, []string{"duration"}}, {l, 0, 1e306, 1, []string{"duration"}},
		{l, 0, 1, 5e-324, []string{"duration"}}, {l, 0, 1, 1.7e308, []string{"duration"}},
		{profile.Law{}, 0, 1, 1, []string{"law"}}, {profile.Law{}, 1, 1, 1, []string{"law"}},
	} {
		m, err := tc.law.Motion(tc.from, tc.to, tc.duration)
		require.Equal(t, tc.want, paths(err), "%g to %g in %g: %v", tc.from, tc.to, tc.duration, err)
		require.Zero(t, m)
		m, err = tc.law.MotionWithin(tc.from, tc.to, tc.duration, profile.Limits{Speed: 1e308, Accel: 1e308})
		require.NotEmpty(t, paths(err), "%g to %g in %g", tc.from, tc.to, tc.duration)
		require.Zero(t, m)
		m, err = tc.law.MotionWithin(nan, 1, -1, profile.Limits{})
		require.Subset(t, paths(err), []string{"from", "duration", "lim.speed", "lim.accel"})
		require.Zero(t, m)
	}
	for _, tc := range []struct {
		law      profile.Law
		distance float64
		lim      profile.Limits
		want     []string
	}{
		{l, nan, lim, []string{"distance"}}, {l, -inf, profile.Limits{}, []string{"distance", "lim.speed", "lim.accel"}},
		{l, 1e300, profile.Limits{Speed: 1e-300, Accel: 1}, []string{"lim"}}, {profile.Law{}, 1, lim, []string{"law"}},
	} {
		d, err := tc.law.Shortest(tc.distance, tc.lim)
		require.Equal(t, tc.want, paths(err), "Shortest(%g, %+v)", tc.distance, tc.lim)
		require.Zero(t, d)
	}
	// Far beyond squares and cubes that float64 holds.
	near(t, math.Sqrt(84*math.Sqrt(5)/25), must[float64](t)(l.Shortest(1e300, profile.Limits{Speed: 1e305, Accel: 1e300})), 1e-15, "huge")
	near(t, 1, must[float64](t)(l.Shortest(1e300, profile.Limits{Speed: 1e300, Accel: 1e-10}))/(1e155*math.Sqrt(84*math.Sqrt(5)/25)), 1e-15, "huge over small")
	require.Zero(t, profile.Law{}.Factors())
}
