package thermal_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// record samples a function with noise whose neighbours correlate by rho.
func record(r *rand.Rand, n int, span, noise, rho float64, f func(t float64) float64) (times, temps []float64) {
	e := 0.0
	for i := range n {
		t := span * float64(i) / float64(n-1)
		e = rho*e + math.Sqrt(1-rho*rho)*r.NormFloat64()
		times, temps = append(times, t), append(temps, f(t)+noise*e)
	}
	return times, temps
}

// Without noise the parameters come back; with it the errors are what the
// standard errors say, correlated noise included: their ratio has an RMS near 1.
func TestFitOneNode(t *testing.T) {
	r := rand.New(rand.NewPCG(91, 1))
	heating := func(t float64) float64 { return 85 - 60*math.Exp(-t/420) }
	times, temps := record(r, 200, 1500, 0, 0, heating)
	f := ok[thermal.StepFit](t)(thermal.FitOneNode(context.Background(), times, temps))
	near(t, "time constant", f.TimeConstants[0].Value, 420, 1e-7)
	near(t, "final", f.Final.Value, 85, 1e-7)
	near(t, "amplitude", f.Amplitudes[0].Value, -60, 1e-7)

	for _, rho := range []float64{0, .9} {
		sum, n := 0.0, 0
		for range 150 {
			times, temps := record(r, 300, 1500, .5, rho, heating)
			f := ok[thermal.StepFit](t)(thermal.FitOneNode(context.Background(), times, temps))
			z := (f.TimeConstants[0].Value - 420) / f.TimeConstants[0].StdErr
			sum += z * z
			n++
			if rho > 0 && math.Abs(f.Lag1-rho) > .15 {
				t.Errorf("lag-1 correlation %g, want %g", f.Lag1, rho)
			}
		}
		// χ² with 150 degrees of freedom: ±6 % in its root; the factor for
		// correlation is an approximation.
		if z := math.Sqrt(sum / float64(n)); !(z > .8 && z < 1.25) {
			t.Errorf("correlation %g: errors are %.2f standard errors", rho, z)
		}
	}
}

func TestFitTwoNodes(t *testing.T) {
	r := rand.New(rand.NewPCG(92, 1))
	// The winding of the invented motor, heated by 60 W from 25 °C by its own
	// network.
	w := ok[thermal.WindingNetwork](t)(invented.In(25))
	constant := ok[profile.Curve](t)(profile.Constant(60, 0, 12000))
	c := ok[*thermal.Course](t)(w.Network.Run(context.Background(), []float64{25, 25}, []profile.Curve{constant, {}})).Temperatures[0]
	taus := ok[[]float64](t)(w.Network.TimeConstants())
	for _, noise := range []float64{0, .2} {
		times, temps := record(r, 3000, 12000, noise, .5, c.At)
		f := ok[thermal.StepFit](t)(thermal.FitTwoNodes(context.Background(), times, temps))
		m := ok[thermal.TwoNodeFit](t)(f.Motor(60))
		for _, tc := range []struct {
			what string
			e    thermal.Estimate
			want float64
		}{
			{"fast", f.TimeConstants[0], taus[1]}, {"slow", f.TimeConstants[1], taus[0]},
			{"winding capacity", m.WindingCapacity, 220}, {"frame capacity", m.FrameCapacity, 1900},
			{"inner", m.Inner, .55}, {"mounting", m.Mounting, .8},
		} {
			if noise == 0 {
				near(t, tc.what, tc.e.Value, tc.want, 1e-5)
			} else if z := math.Abs(tc.e.Value-tc.want) / tc.e.StdErr; !(z < 3.5 && tc.e.StdErr < .2*tc.want) {
				t.Errorf("%s: %g ± %g, want %g", tc.what, tc.e.Value, tc.e.StdErr, tc.want)
			}
		}
	}
}

func TestFitRefusals(t *testing.T) {
	r := rand.New(rand.NewPCG(93, 1))
	heating := func(t float64) float64 { return 85 - 60*math.Exp(-t/420) }
	for name, do := range map[string]func() error{
		"short": func() error {
			a, b := record(r, 200, 200, .01, 0, heating)
			return second(thermal.FitOneNode(context.Background(), a, b))
		},
		"noisy": func() error {
			a, b := record(r, 40, 1500, 60, 0, heating)
			return second(thermal.FitOneNode(context.Background(), a, b))
		},
		"constant": func() error {
			a, b := record(r, 200, 1500, 0, 0, func(float64) float64 { return 40 })
			return second(thermal.FitOneNode(context.Background(), a, b))
		},
		"only noise": func() error {
			a, b := record(r, 200, 1500, 1, 0, func(float64) float64 { return 40 })
			return second(thermal.FitOneNode(context.Background(), a, b))
		},
		"one of two": func() error {
			a, b := record(r, 400, 1500, .3, 0, heating)
			return second(thermal.FitTwoNodes(context.Background(), a, b))
		},
		"few": func() error {
			a, b := record(r, 6, 1500, 0, 0, heating)
			return second(thermal.FitOneNode(context.Background(), a, b))
		},
		"a line": func() error {
			a, b := record(r, 200, 100, 0, 0, func(t float64) float64 { return 20 + t })
			return second(thermal.FitOneNode(context.Background(), a, b))
		},
	} {
		var refused *thermal.FitError
		if err := do(); !errors.As(err, &refused) || refused.Reason == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	for path, err := range map[string]error{
		"temperatures":    second(thermal.FitOneNode(context.Background(), []float64{1, 2}, []float64{1})),
		"times[1]":        second(thermal.FitOneNode(context.Background(), []float64{1, 1}, []float64{1, 2})),
		"times":           second(thermal.FitOneNode(context.Background(), nil, nil)),
		"temperatures[1]": second(thermal.FitTwoNodes(context.Background(), []float64{1, 2}, []float64{1, math.NaN()})),
		"fit":             second(thermal.StepFit{}.Motor(1)),
	} {
		if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
}

func TestFitStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	times, temps := record(rand.New(rand.NewPCG(95, 1)), 100, 1500, .1, 0, func(t float64) float64 { return 60 - 20*math.Exp(-t/300) })
	if _, err := thermal.FitTwoNodes(ctx, times, temps); !errors.Is(err, context.Canceled) {
		t.Errorf("step: %v", err)
	}
	if _, err := thermal.FitPair(ctx, pair(t, 400, .1, false)); !errors.Is(err, context.Canceled) {
		t.Errorf("pair: %v", err)
	}
}

// Any record: a finite answer, or an error of a known kind.
func FuzzFit(f *testing.F) {
	f.Add(uint64(1), 60., 30., 400., .1, 1500.)
	f.Add(uint64(2), 60., 1e-9, 400., 0., 1500.)
	f.Add(uint64(3), 1e300, 1e300, 1e-300, 1., 1e300)
	f.Fuzz(func(t *testing.T, seed uint64, final, change, tau, noise, span float64) {
		times, temps := record(rand.New(rand.NewPCG(seed, 1)), 40, span, noise, .3, func(t float64) float64 { return final + change*math.Exp(-t/tau) })
		for _, fit := range []func(context.Context, []float64, []float64) (thermal.StepFit, error){thermal.FitOneNode, thermal.FitTwoNodes} {
			s, err := fit(context.Background(), times, temps)
			var refused *thermal.FitError
			if err != nil {
				if !errors.As(err, &refused) && len(profile.InputErrors(err)) == 0 {
					t.Fatalf("unknown kind: %v", err)
				}
				continue
			}
			all := append(append([]thermal.Estimate{s.Final}, s.TimeConstants...), s.Amplitudes...)
			if m, err := s.Motor(50); err == nil {
				all = append(all, m.WindingCapacity, m.FrameCapacity, m.Inner, m.Mounting)
			}
			for _, e := range all {
				if v := e.Value + e.StdErr; math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%+v", s)
				}
			}
		}
	})
}
