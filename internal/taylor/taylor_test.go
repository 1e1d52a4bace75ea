package taylor

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/internal/poly"
)

// system is a [System] made of functions; those left out do nothing.
type system struct {
	resume func(t float64, x []Series) bool
	expand func(t float64, x, y []Series)
	reach  func(t float64) float64
	guards []Guard
	fire   func(t float64, g Guard, x []Series) bool
}

func (s *system) Resume(t float64, x []Series) bool {
	return s.resume == nil || s.resume(t, x)
}
func (s *system) Expand(t float64, x, y []Series) float64 {
	s.expand(t, x, y)
	if s.reach != nil {
		return s.reach(t)
	}
	return math.Inf(1)
}
func (s *system) Guards(dst []Guard) []Guard { return append(dst, s.guards...) }
func (s *system) Fire(t float64, g Guard, x []Series) bool {
	return s.fire == nil || s.fire(t, g, x)
}

// at evaluates output j of a solution.
func (s *Solution) at(j int, t float64) float64 {
	for i := range len(s.Breaks) - 1 {
		if t <= s.Breaks[i+1] {
			return poly.Eval(s.Piece(i, j), t-s.Breaks[i])
		}
	}
	return math.NaN()
}

func TestOscillator(t *testing.T) {
	const w = 7.0
	osc := &system{expand: func(_ float64, x, y []Series) {
		for k := range Order {
			x[0][k+1] = w * x[1][k] / float64(k+1)
			x[1][k+1] = -w * x[0][k] / float64(k+1)
		}
		copy(y, x)
	}}
	sol, err := Solve(context.Background(), Problem{
		System: osc, X0: []float64{0, 1}, Breaks: []float64{2, 2.5, 12},
		Scale: []float64{1, 1}, Tol: 1e-14, MaxSteps: 1000, Keep: 2,
	})
	require.NoError(t, err)
	assert.Equal(t, 2.0, sol.Breaks[0])
	assert.Contains(t, sol.Breaks, 2.5)
	assert.Equal(t, 12.0, sol.Breaks[len(sol.Breaks)-1])
	assert.Equal(t, sol.Steps, len(sol.Breaks)-1)
	for k := range 1001 {
		x := 10 * float64(k) / 1000
		assert.InDelta(t, math.Sin(w*x), sol.at(0, 2+x), 1e-12)
		assert.InDelta(t, math.Cos(w*x), sol.at(1, 2+x), 1e-12)
	}
	assert.InDelta(t, math.Sin(70), sol.X[0], 1e-12)

	// Without pieces the end is the same to the last bit.
	end, err := Solve(context.Background(), Problem{
		System: osc, X0: []float64{0, 1}, Breaks: []float64{2, 2.5, 12},
		Scale: []float64{1, 1}, Tol: 1e-14, MaxSteps: 1000,
	})
	require.NoError(t, err)
	assert.Equal(t, sol.X, end.X)
	assert.Empty(t, end.Coefs)
	assert.Empty(t, end.Breaks)
}

// x' = -x² + 1 has x = tanh(t); x' = 1 + x² has x = tan(t) with a pole that no
// step may jump; x' = -3 x decays.
func TestClosedForms(t *testing.T) {
	riccati := func(c, sign float64) *system {
		return &system{expand: func(_ float64, x, y []Series) {
			for k := range Order {
				v := sign * ProductCoef(&x[0], &x[0], k)
				if k == 0 {
					v += c
				}
				x[0][k+1] = v / float64(k+1)
			}
			y[0] = x[0]
		}}
	}
	decay := &system{expand: func(_ float64, x, y []Series) {
		for k := range Order {
			x[0][k+1] = -3 * x[0][k] / float64(k+1)
		}
		y[0] = x[0]
	}}
	for name, tc := range map[string]struct {
		s    *system
		x0   float64
		end  float64
		want func(float64) float64
	}{
		"tanh":  {riccati(1, -1), 0, 20, math.Tanh},
		"tan":   {riccati(1, 1), 0, 1.5, math.Tan},
		"1/t":   {riccati(0, -1), 1, 50, func(t float64) float64 { return 1 / (1 + t) }},
		"decay": {decay, 1, 10, func(t float64) float64 { return math.Exp(-3 * t) }},
	} {
		sol, err := Solve(context.Background(), Problem{
			System: tc.s, X0: []float64{tc.x0}, Breaks: []float64{0, tc.end},
			Scale: []float64{1}, Tol: 1e-14, MaxSteps: 10000, Keep: 1,
		})
		require.NoError(t, err, name)
		for k := range 201 {
			x := tc.end * float64(k) / 200
			want := tc.want(x)
			assert.InDelta(t, want, sol.at(0, x), 1e-12*math.Max(1, want), "%s at %g", name, x)
		}
	}
	_, err := Solve(context.Background(), Problem{
		System: riccati(1, 1), X0: []float64{0}, Breaks: []float64{0, 2},
		Scale: []float64{1}, Tol: 1e-14, MaxSteps: 1000,
	})
	assert.Error(t, err, "there is no solution beyond the pole at π/2")
}

// poly of degree up to Order as the output, at constant state, in one step.
func polynomial(c Series, guards ...Guard) (*system, *[]float64) {
	var fired []float64
	return &system{
		expand: func(t float64, x, y []Series) {
			poly.Shift(y[0][:], c[:], t)
		},
		guards: guards,
		fire: func(t float64, g Guard, x []Series) bool {
			fired = append(fired, t)
			return false
		},
	}, &fired
}

func firstEvent(t *testing.T, c Series, end float64, g Guard) (at float64, ok bool) {
	t.Helper()
	s, fired := polynomial(c, g)
	sol, err := Solve(context.Background(), Problem{
		System: s, X0: []float64{0}, Breaks: []float64{0, end},
		Scale: []float64{0}, Tol: 1e-14, MaxSteps: 10, Keep: 1, // scale 0: one step to the end
	})
	require.NoError(t, err)
	assert.Equal(t, 1, sol.Steps)
	assert.Equal(t, len(*fired) > 0, sol.Stopped)
	if !sol.Stopped {
		assert.Equal(t, []float64{0, end}, sol.Breaks)
		return 0, false
	}
	if (*fired)[0] > 0 {
		assert.Equal(t, []float64{0, (*fired)[0]}, sol.Breaks)
	}
	return (*fired)[0], true
}

// product returns k Π (x - root).
func product(k float64, roots ...float64) (s Series) {
	s[0] = k
	for n, r := range roots {
		for i := n + 1; i > 0; i-- {
			s[i] = s[i-1] - r*s[i]
		}
		s[0] *= -r
	}
	return s
}

// A bump over the level that lies wholly inside one long step, both ends far
// below, is found: sampling the ends, or the ends and the middle, sees nothing.
func TestCrossedAndRecrossed(t *testing.T) {
	// y = -(x-0.701)(x-0.702)((x-0.2)²+0.01): above 0 for a thousandth of the step.
	quad := func(shift float64) Series {
		a := product(-1, 0.701, 0.702)
		b := Series{0.05, -0.4, 1}
		var c Series
		for k := range c {
			c[k] = ProductCoef(&a, &b, k)
		}
		c[0] += shift
		return c
	}
	at, ok := firstEvent(t, quad(0), 1, Guard{Rising: true, Level: 0, Noise: 1e-14})
	assert.True(t, ok)
	assert.InDelta(t, 0.701, at, 1e-12)

	at, ok = firstEvent(t, quad(5), 1, Guard{Rising: true, Level: 5, Noise: 1e-14})
	assert.True(t, ok, "the same above another level")
	assert.InDelta(t, 0.701, at, 1e-9)

	var negative Series
	for k, v := range quad(0) {
		negative[k] = -v
	}
	at, ok = firstEvent(t, negative, 1, Guard{Level: 0, Noise: 1e-14})
	assert.True(t, ok, "falling")
	assert.InDelta(t, 0.701, at, 1e-12)

	_, ok = firstEvent(t, negative, 1, Guard{Rising: true, Level: 1, Noise: 1e-14})
	assert.False(t, ok, "the dip is no rise above 1")
}

func TestGuardDirection(t *testing.T) {
	wave := product(1, 0.1, 0.4, 0.7) // below, above from 0.1, below from 0.4, above from 0.7
	for _, tc := range []struct {
		name   string
		c      Series
		g      Guard
		at     float64
		exists bool
	}{
		{"rising at the first of three", wave, Guard{Rising: true}, 0.1, true},
		{"already below: falling fires at once", wave, Guard{}, 0, true},
		{"falling from above", product(-1, 0.1), Guard{}, 0.1, true},
		{"already above: rising fires at once", product(1, -0.1), Guard{Rising: true}, 0, true},
		{"starts on the level and rises", product(1, 0, -1), Guard{Rising: true}, 0, true},
		{"starts on the level and falls, then rises", product(1, 0, 0.5), Guard{Rising: true}, 0.5, true},
		{"starts on the level and stays below", product(-1, 0, -1), Guard{Rising: true}, 0, false},
		{"touches from below", product(-1, 0.3, 0.3), Guard{Rising: true, Noise: 1e-15}, 0, false},
		{"touches from above", product(1, 0.3, 0.3), Guard{Noise: 1e-15}, 0, false},
		{"beyond the level by less than the noise", product(-1e-3, 0.3, 0.3001), Guard{Rising: true, Noise: 1e-10}, 0, false},
		{"beyond by more", product(-1, 0.3, 0.3001), Guard{Rising: true, Noise: 1e-10}, 0.3, true},
		{"passes through in a triple root", product(1, 0.3, 0.3, 0.3), Guard{Rising: true, Noise: 1e-15}, 0.3, true},
		{"constant on the level", Series{}, Guard{Rising: true, Noise: 1e-15}, 0, false},
	} {
		at, ok := firstEvent(t, tc.c, 1, tc.g)
		assert.Equal(t, tc.exists, ok, tc.name)
		assert.InDelta(t, tc.at, at, 1e-4, tc.name)
	}
}

// The earliest guard of several fires, and after it the rest of the step is
// computed anew.
func TestGuardOrder(t *testing.T) {
	var log []int
	var times []float64
	s := &system{
		expand: func(_ float64, x, y []Series) {
			x[0][1] = 1
			y[0] = x[0]
		},
		guards: []Guard{{Level: 0.75, Rising: true, Tag: 3}, {Level: 0.25, Rising: true, Tag: 1}, {Level: 0.5, Rising: true, Tag: 2}},
	}
	s.fire = func(at float64, g Guard, x []Series) bool {
		log, times = append(log, g.Tag), append(times, at)
		for i := range s.guards {
			if s.guards[i].Tag == g.Tag {
				s.guards[i].Level = 100
			}
		}
		return true
	}
	sol, err := Solve(context.Background(), Problem{
		System: s, X0: []float64{0}, Breaks: []float64{0, 1}, Scale: []float64{1}, Tol: 1e-14, MaxSteps: 10, Keep: 1,
	})
	require.NoError(t, err)
	assert.Equal(t, []int{1, 2, 3}, log)
	assert.InDeltaSlice(t, []float64{0.25, 0.5, 0.75}, times, 1e-15)
	assert.InDeltaSlice(t, []float64{0, 0.25, 0.5, 0.75, 1}, sol.Breaks, 1e-15)
}

// A ball that bounces: Fire changes a state.
func TestFireChangesState(t *testing.T) {
	const g, e = 10.0, 0.5
	bounces := 0
	ball := &system{
		expand: func(_ float64, x, y []Series) {
			x[0][1], x[0][2] = x[1][0], -g/2
			x[1][1] = -g
			y[0] = x[0]
		},
		guards: []Guard{{Level: 0, Noise: 1e-12}},
		fire: func(_ float64, _ Guard, x []Series) bool {
			bounces++
			x[0][0], x[1][0] = 0, -e*x[1][0]
			return true
		},
	}
	// From 5 m it lands after 1 s at 10 m/s; flights of 1 s, 0.5 s, 0.25 s follow.
	sol, err := Solve(context.Background(), Problem{
		System: ball, X0: []float64{5, 0}, Breaks: []float64{0, 2.6}, Scale: []float64{1}, Tol: 1e-14, MaxSteps: 100,
	})
	require.NoError(t, err)
	assert.Equal(t, 3, bounces)
	// 0.1 s after the third at 2.5 s, at which it leaves with 1.25 m/s.
	assert.InDelta(t, 0.125-0.05, sol.X[0], 1e-12)

	// It comes to rest after infinitely many bounces at 3 s.
	_, err = Solve(context.Background(), Problem{
		System: ball, X0: []float64{5, 0}, Breaks: []float64{0, 4}, Scale: []float64{1}, Tol: 1e-14, MaxSteps: 500,
	})
	assert.ErrorIs(t, err, ErrBudget)
}

func TestBreaks(t *testing.T) {
	var resumed []float64
	rate := 0.0
	s := &system{
		resume: func(t float64, x []Series) bool {
			resumed = append(resumed, t)
			rate = t + 1 // the forcing jumps
			return t < 3
		},
		expand: func(_ float64, x, y []Series) {
			x[0][1] = rate
			y[0] = x[0]
		},
	}
	sol, err := Solve(context.Background(), Problem{
		System: s, X0: []float64{0}, Breaks: []float64{0, 1, 2, 3, 4}, Scale: []float64{1}, Tol: 1e-14, MaxSteps: 10, Keep: 1,
	})
	require.NoError(t, err)
	assert.Equal(t, []float64{0, 1, 2, 3}, resumed)
	assert.True(t, sol.Stopped)
	assert.Equal(t, []float64{0, 1, 2, 3}, sol.Breaks)
	assert.Equal(t, []float64{1 + 2 + 3}, sol.X)
}

// A forcing whose terms beyond Order are left out is followed in steps no longer
// than it allows.
func TestReach(t *testing.T) {
	s := &system{
		expand: func(_ float64, x, y []Series) { y[0] = Series{} },
		reach:  func(float64) float64 { return 0.125 },
	}
	sol, err := Solve(context.Background(), Problem{
		System: s, X0: []float64{0}, Breaks: []float64{0, 1}, Scale: []float64{1}, Tol: 1e-14, MaxSteps: 10, Keep: 1,
	})
	require.NoError(t, err)
	assert.Equal(t, 8, sol.Steps)
}

func TestErrors(t *testing.T) {
	constant := func(v float64) *system {
		return &system{expand: func(_ float64, x, y []Series) { x[0][1] = v; y[0] = x[0] }}
	}
	problem := func(s *system) Problem {
		return Problem{System: s, X0: []float64{0}, Breaks: []float64{0, 1}, Scale: []float64{1}, Tol: 1e-14, MaxSteps: 100}
	}
	_, err := Solve(context.Background(), problem(constant(math.NaN())))
	assert.ErrorIs(t, err, ErrRange)
	_, err = Solve(context.Background(), problem(constant(math.Inf(1))))
	assert.ErrorIs(t, err, ErrRange)

	// A system that switches back and forth at one instant.
	chatter := constant(0)
	chatter.guards = []Guard{{Level: -1, Rising: true}}
	fired := 0
	chatter.fire = func(float64, Guard, []Series) bool { fired++; return true }
	_, err = Solve(context.Background(), problem(chatter))
	assert.ErrorIs(t, err, ErrBudget)
	assert.Equal(t, 100, fired)
	assert.ErrorContains(t, err, "100")

	// A forcing that no step can follow.
	stiff := constant(0)
	stiff.reach = func(float64) float64 { return 1e-300 }
	p := problem(stiff)
	p.Breaks = []float64{1, 2}
	_, err = Solve(context.Background(), p)
	assert.ErrorIs(t, err, ErrBudget)
}

func TestCancel(t *testing.T) {
	slow := &system{
		expand: func(_ float64, x, y []Series) { x[0][1] = 1; y[0] = x[0] },
		reach:  func(float64) float64 { return 1e-9 },
	}
	p := Problem{System: slow, X0: []float64{0}, Breaks: []float64{0, 1}, Scale: []float64{1}, Tol: 1e-14, MaxSteps: math.MaxInt}

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Solve(ctx, p)
	assert.ErrorIs(t, err, context.Canceled, "cancelled before the start")

	ctx, cancel = context.WithCancel(context.Background())
	defer cancel()
	cancelled := make(chan time.Time, 1)
	go func() {
		time.Sleep(20 * time.Millisecond)
		cancelled <- time.Now()
		cancel()
	}()
	_, err = Solve(ctx, p)
	late := time.Since(<-cancelled)
	assert.ErrorIs(t, err, context.Canceled)
	t.Logf("stopped %v after the context", late)
}

func BenchmarkSolve(b *testing.B) {
	s := &system{expand: func(_ float64, x, y []Series) {
		for k := range Order {
			x[0][k+1] = -ProductCoef(&x[0], &x[0], k) / float64(k+1)
		}
		y[0] = x[0]
	}}
	b.ReportAllocs()
	for b.Loop() {
		_, err := Solve(context.Background(), Problem{
			System: s, X0: []float64{1}, Breaks: []float64{0, 100}, Scale: []float64{1}, Tol: 1e-13, MaxSteps: 1000,
		})
		if err != nil {
			b.Fatal(err)
		}
	}
}
