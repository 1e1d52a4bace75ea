package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// By hand, on a line of 5 m with 3 m in x and 4 m in y. The path may go at most
// min(1.5·5/3, 4·5/4) = 2.5 m/s, speed up at min(9·5/3, 4·5/4) = 5 m/s² and slow
// down at min(3·5/3, 8·5/4) = 5 m/s²: 0.5 s up, 1.5 s, 0.5 s down.
func TestLineByHand(t *testing.T) {
	axes := []profile.Limits{{Speed: 1.5, Accel: 9, Decel: 3}, {Speed: 4, Accel: 4, Decel: 8}}
	moves := must[[]profile.Move](t)(profile.Line(nil, []float64{1, 2}, []float64{4, -2}, axes, profile.Limits{}))
	x, y := moves[0], moves[1]
	near(t, 2.5, x.Duration(), 1e-15, "duration")
	require.Equal(t, x.Duration(), y.Duration())
	near(t, 1.5, x.At(1).Speed, 1e-15, "speed of x")
	near(t, -2, y.At(1).Speed, 1e-15, "speed of y")
	near(t, 3, x.At(0.2).Accel, 1e-14, "acceleration of x")
	near(t, -4, y.At(0.2).Accel, 1e-14, "acceleration of y")
	near(t, -3, x.At(2.3).Accel, 1e-14, "deceleration of x")
	near(t, 2.5, x.At(1.25).Position, 1e-15, "half-way in x")
	near(t, 0, y.At(1.25).Position, 1e-15, "half-way in y")

	// No limit of the path is hidden: 10 ms up and 10 ms down at 1e4 m/s².
	fast := must[[]profile.Move](t)(profile.Line(nil, []float64{0}, []float64{1}, []profile.Limits{{Speed: 1e5, Accel: 1e4}}, profile.Limits{}))
	near(t, 0.02, fast[0].Duration(), 1e-16, "duration of a fast axis")

	// A speed along the path of 2 m/s: 0.4 s up, 2.1 s, 0.4 s down.
	moves = must[[]profile.Move](t)(profile.Line(moves, []float64{1, 2}, []float64{4, -2}, axes, profile.Limits{Speed: 2}))
	near(t, 2.9, moves[0].Duration(), 1e-15, "duration with a limit on the path")
	// An acceleration of 4 m/s² both ways: 5/8 s up, 11/8 s, 5/8 s down.
	moves = must[[]profile.Move](t)(profile.Line(moves, []float64{1, 2}, []float64{4, -2}, axes, profile.Limits{Accel: 4}))
	near(t, 2.625, moves[0].Duration(), 1e-15, "duration with an acceleration on the path")
	// Of the path alone: 1 s up at 1 m/s², 4 s at 1 m/s, 1 s down.
	moves = must[[]profile.Move](t)(profile.Line(moves, []float64{1, 2}, []float64{4, -2}, nil, profile.Limits{Speed: 1, Accel: 1}))
	near(t, 6, moves[0].Duration(), 1e-15, "duration of the path alone")
	near(t, 0.6, moves[0].At(3).Speed, 1e-15, "speed of x")
	near(t, -0.8, moves[1].At(3).Speed, 1e-15, "speed of y")
}

// line draws a line of n axes, some of which have no way to go.
func (r random) line(n int) (from, to []float64, axes []profile.Limits) {
	for range n {
		p := r.between(-10, 10)
		from = append(from, p)
		if r.IntN(5) > 0 || len(from) == n {
			p += math.Copysign(r.spread(1e-3, 1e2), r.NormFloat64())
		}
		to = append(to, p)
		axes = append(axes, r.limits())
	}
	return from, to, axes
}

// pathLimits draws limits of the path of which some are missing.
func (r random) pathLimits() profile.Limits {
	l := r.limits()
	if r.IntN(2) == 0 {
		l.Speed = 0
	}
	if r.IntN(2) == 0 {
		l.Accel = 0
	}
	return l
}

// All axes keep their limits, the path its own, and all stay on the line.
func TestLineKeepsTheLimitsAndTheLine(t *testing.T) {
	r := seeded(48)
	for range 3000 {
		n := 1 + r.IntN(6)
		from, to, axes := r.line(n)
		path := r.pathLimits()
		moves := must[[]profile.Move](t)(profile.Line(nil, from, to, axes, path))
		require.Len(t, moves, n)
		length := 0.0
		for i := range from {
			length += (to[i] - from[i]) * (to[i] - from[i])
		}
		length = math.Sqrt(length)
		for i, m := range moves {
			require.Equal(t, moves[0].Duration(), m.Duration())
			if from[i] == to[i] {
				require.Equal(t, profile.State{Position: to[i]}, m.At(m.Duration()/3))
				require.Equal(t, 1, m.Motion().Position().Pieces())
				continue
			}
			checkMove(t, m, from[i], to[i], axes[i], 1e-9)
			// What the path may do, as limits of this axis.
			u := math.Abs(to[i]-from[i]) / length
			p := filled(path)
			for _, v := range []*float64{&p.Speed, &p.Accel, &p.Decel, &p.Jerk, &p.DecelJerk} {
				if *v == 0 {
					*v = 1e300
				}
				*v *= u
			}
			checkMove(t, m, from[i], to[i], p, 1e-9)
		}
		for range 5 {
			x := r.Float64() * moves[0].Duration()
			share := 0.0
			for i, m := range moves {
				if from[i] != to[i] {
					share = (m.At(x).Position - from[i]) / (to[i] - from[i])
				}
			}
			for i, m := range moves {
				near(t, from[i]+share*(to[i]-from[i]), m.At(x).Position, 1e-11*math.Abs(to[i]-from[i])+1e-10*share, "axis %d of %d at %g", i, n, x)
			}
		}
	}
}

// Source: a search over the peak speed of the fraction of the line that is
// covered, with the limits of every axis in that measure.
func TestLineBeatsASearch(t *testing.T) {
	r := seeded(49)
	for range 300 {
		from, to, axes := r.line(1 + r.IntN(5))
		got := must[[]profile.Move](t)(profile.Line(nil, from, to, axes, profile.Limits{}))[0].Duration()
		all := profile.Limits{Speed: inf, Accel: inf, Decel: inf, Jerk: inf, DecelJerk: inf}
		alone := 0.0
		for i, l := range axes {
			d := math.Abs(to[i] - from[i])
			if d == 0 {
				continue
			}
			alone = math.Max(alone, must[profile.Move](t)(profile.Plan(from[i], to[i], l)).Duration())
			l = filled(l)
			all.Speed = math.Min(all.Speed, l.Speed/d)
			all.Accel = math.Min(all.Accel, l.Accel/d)
			all.Decel = math.Min(all.Decel, l.Decel/d)
			all.Jerk = math.Min(all.Jerk, l.Jerk/d)
			all.DecelJerk = math.Min(all.DecelJerk, l.DecelJerk/d)
		}
		require.GreaterOrEqual(t, got, alone*(1-1e-12), "no axis alone is slower")
		best, lo, hi := inf, 0.0, all.Speed
		for range 100 {
			v := lo + (hi-lo)/2
			if d := searchTime(1, v, all); math.IsInf(d, 1) {
				hi = v
			} else {
				lo, best = v, d
			}
		}
		near(t, best, got, 1e-9*best, "%v to %v, %+v", from, to, axes)
	}
}

// A line along one axis is the plan of that axis.
func TestLineOfOneAxisIsThePlan(t *testing.T) {
	r := seeded(50)
	for range 500 {
		lim := r.limits()
		to := r.between(-5, 5)
		plan := must[profile.Move](t)(profile.Plan(1, to, lim))
		for _, m := range [][]profile.Move{
			must[[]profile.Move](t)(profile.Line(nil, []float64{3, 1}, []float64{3, to}, []profile.Limits{{Speed: 1e-9, Accel: 1e-9}, lim}, profile.Limits{})),
			must[[]profile.Move](t)(profile.Line(nil, []float64{3, 1}, []float64{3, to}, nil, lim)),
		} {
			near(t, plan.Duration(), m[1].Duration(), 1e-14*plan.Duration(), "duration")
			for _, x := range []float64{0.1, 0.4, 0.8} {
				near(t, plan.At(x*plan.Duration()).Position, m[1].At(x*plan.Duration()).Position, 1e-13, "position")
			}
			require.Equal(t, profile.State{Position: 3}, m[0].At(0))
		}
	}
}

func TestLineNowhere(t *testing.T) {
	moves := must[[]profile.Move](t)(profile.Line(nil, []float64{1, 2}, []float64{1, 2}, nil, profile.Limits{Speed: 1, Accel: 1}))
	for i, m := range moves {
		require.Zero(t, m.Duration())
		require.Equal(t, profile.State{Position: float64(i + 1)}, m.At(1))
	}
}

func TestLineRefuses(t *testing.T) {
	lim := profile.Limits{Speed: 1, Accel: 1}
	for name, tc := range map[string]struct {
		from, to []float64
		axes     []profile.Limits
		path     profile.Limits
		want     []string
	}{
		"no axis":          {nil, nil, nil, lim, []string{"from"}},
		"lengths":          {[]float64{1}, []float64{1, 2}, []profile.Limits{lim, lim}, lim, []string{"to", "axes"}},
		"no limits":        {[]float64{1}, []float64{2}, nil, profile.Limits{}, []string{"path.speed", "path.accel"}},
		"bad positions":    {[]float64{nan, 1, inf}, []float64{1, -inf, 2}, nil, lim, []string{"from[0]", "to[1]", "from[2]"}},
		"too far":          {[]float64{-1.5e308}, []float64{1.5e308}, nil, lim, []string{"to"}},
		"too far together": {[]float64{0, 0}, []float64{1.5e308, 1.5e308}, nil, lim, []string{"to"}},
		"bad limits": {[]float64{0, 0}, []float64{1, nan}, []profile.Limits{lim, {Speed: -1, Accel: nan}}, profile.Limits{Speed: nan, Accel: -1, Decel: inf, Jerk: -1, DecelJerk: nan},
			[]string{"to[1]", "axes[1].speed", "axes[1].accel", "path.speed", "path.accel", "path.decel", "path.jerk", "path.decelJerk"}},
		"magnitudes":     {[]float64{0}, []float64{1e300}, []profile.Limits{{Speed: 1e-300, Accel: 1}}, profile.Limits{}, []string{"to"}},
		"a lost axis":    {[]float64{0, 0}, []float64{1e300, 1e-20}, nil, profile.Limits{Speed: 1e10, Accel: 1}, []string{"to"}},
		"boundless path": {[]float64{0}, []float64{1}, nil, profile.Limits{Speed: inf, Accel: inf}, []string{"path.speed", "path.accel"}},
	} {
		got, err := profile.Line(nil, tc.from, tc.to, tc.axes, tc.path)
		require.Equal(t, tc.want, paths(err), "%s: %v", name, err)
		require.Nil(t, got, name)
	}
}

// Any combination of magnitudes gives an error or moves that hold.
func TestLineOverAllMagnitudes(t *testing.T) {
	r := seeded(51)
	refused := 0
	for range 5000 {
		from, to := []float64{0, 0}, []float64{r.spread(1e-300, 1e300), -r.spread(1e-300, 1e300)}
		var axes []profile.Limits
		for range to {
			axes = append(axes, profile.Limits{Speed: r.spread(1e-300, 1e300), Accel: r.spread(1e-300, 1e300), Jerk: r.spread(1e-300, 1e300)})
		}
		moves, err := profile.Line(nil, from, to, axes, profile.Limits{})
		if err != nil {
			require.Equal(t, []string{"to"}, paths(err))
			refused++
			continue
		}
		for i, m := range moves {
			checkMove(t, m, from[i], to[i], axes[i], 1e-9)
		}
	}
	require.Less(t, refused, 5000)
	t.Logf("refused %d of 5000", refused)
}
