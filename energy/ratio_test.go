package energy_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// shuttle returns a move there and back at constant acceleration, with a wait at
// each end, as accels steps.
func shuttle(accel, ramp, cruise, wait float64) [][2]float64 {
	return [][2]float64{{ramp, accel}, {cruise, 0}, {ramp, -accel}, {wait, 0},
		{ramp, -accel}, {cruise, 0}, {ramp, accel}, {wait, 0}}
}

// TestBestRatioClosedForm: with tL = J alpha + weight before the stage and no loss,
// the torque is Jm N alpha + tL/N, so the mean square Jm² N² <alpha²> + 2 Jm <alpha tL>
// + <tL²>/N² is least at N⁴ = <tL²>/(Jm² <alpha²>). The means are worked out here from
// the steps of the motion.
func TestBestRatioClosedForm(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for range 20 {
		mass, diameter, rotor := 1+20*r.Float64(), 0.02+0.1*r.Float64(), 1e-5*math.Pow(100, r.Float64())
		incline := r.Float64() * math.Pi / 2
		path := shuttle(1+9*r.Float64(), 0.05+0.2*r.Float64(), 0.3*r.Float64()+0.01, 0.2*r.Float64()+0.01)
		a := energy.Axis{
			Load:      energy.Load{Mass: mass, Incline: incline},
			Mechanism: energy.Belt{PitchDiameter: diameter, Efficiency: 1},
			Stages:    []energy.Stage{{Ratio: 1, Efficiency: 1}},
			Motor:     lossless(t),
		}
		a.Motor.RotorInertia = rotor
		m := accels(t, 0, 0, path...)

		var time, aa, at, tt float64
		for _, p := range path {
			alpha := p[1] / (diameter / 2)
			load := mass * (p[1] + 9.80665*math.Sin(incline)) * diameter / 2
			time += p[0]
			aa += p[0] * alpha * alpha
			at += p[0] * alpha * load
			tt += p[0] * load * load
		}
		ratio := math.Pow(tt/(rotor*rotor*aa), 0.25)
		square := rotor*rotor*aa*ratio*ratio + 2*rotor*at + tt/(ratio*ratio)

		best, err := a.BestRatio(m, 0, 0.1, 1000)
		require.NoError(t, err)
		requireNear(t, ratio, best.Ratio, 1e-6, "ratio")
		requireNear(t, math.Sqrt(square/time), best.RMS, 1e-12, "RMS")
		require.Zero(t, best.SpeedEnds)
		a.Stages[0].Ratio = best.Ratio
		tr := trace(t, a, m)
		require.Equal(t, tr.RatedTorque.RMS(), best.RMS)
		require.Equal(t, math.Abs(tr.RatedTorque.AbsMax().V), best.Peak)
		require.Equal(t, math.Abs(tr.Speed.AbsMax().V), best.Fastest)

		// A level axis without weight has the optimum for acceleration.
		a.Load.Incline = 0
		best, err = a.BestRatio(m, 0, 0.1, 1000)
		require.NoError(t, err)
		want, err := energy.OptimumRatio(rotor, mass*diameter*diameter/4)
		require.NoError(t, err)
		requireNear(t, want, best.Ratio, 1e-6, "ratio of a level axis")
	}
}

// TestBestRatioWithLosses: no other ratio of a fine scan needs less, whatever losses
// and stages there are, and the axis that was asked for is not touched.
func TestBestRatioWithLosses(t *testing.T) {
	a := beltAxis(t)
	a.Load.Incline = 0.7
	a.Stages = append(a.Stages, energy.Stage{Ratio: 2, Efficiency: 0.6, Inertia: 1e-5, Drag: 0.05})
	m := sCurve(t, 0.5, 0.03, 0.07, 0.15)
	for stage := range a.Stages {
		before := a.Stages[stage].Ratio
		best, err := a.BestRatio(m, stage, 0.2, 60)
		require.NoError(t, err)
		require.Equal(t, before, a.Stages[stage].Ratio)
		at := func(ratio float64) float64 {
			b := a
			b.Stages = append([]energy.Stage(nil), a.Stages...)
			b.Stages[stage].Ratio = ratio
			return trace(t, b, m).RatedTorque.RMS()
		}
		require.Equal(t, at(best.Ratio), best.RMS)
		for n := 0.2; n < 60; n *= 1.003 {
			require.GreaterOrEqual(t, at(n), best.RMS*(1-1e-12), "ratio %g", n)
		}
		require.Greater(t, at(best.Ratio*1.01), best.RMS)
		require.Greater(t, at(best.Ratio/1.01), best.RMS)
	}
}

func TestBestRatioBounds(t *testing.T) {
	a := beltAxis(t)
	m := sCurve(t, 0.5, 0.03, 0.07, 0.15)
	best, err := a.BestRatio(m, 0, 0.1, 100)
	require.NoError(t, err)

	// The best outside the range: its nearer end.
	low, err := a.BestRatio(m, 0, 0.1, best.Ratio/2)
	require.NoError(t, err)
	require.Equal(t, best.Ratio/2, low.Ratio)
	high, err := a.BestRatio(m, 0, best.Ratio*2, 100)
	require.NoError(t, err)
	require.Equal(t, best.Ratio*2, high.Ratio)
	one, err := a.BestRatio(m, 0, 3, 3)
	require.NoError(t, err)
	require.Equal(t, 3., one.Ratio)

	// Speed of the pulley: 0.5 m in 0.06 + 0.07 + 0.15 s, over 0.03 m.
	fastest := 0.5 / 0.28 / 0.03
	a.Motor.MaxSpeed = 30 * fastest
	free, err := a.BestRatio(m, 0, 0.1, 100)
	require.NoError(t, err)
	requireNear(t, 30, free.SpeedEnds, 1e-11, "bound")
	require.Equal(t, best.Ratio, math.Min(best.Ratio, 30), "the test's bound is above the optimum")
	requireNear(t, best.Ratio, free.Ratio, 1e-6, "a bound beyond the optimum does not matter")

	a.Motor.MaxSpeed = best.Ratio / 3 * fastest
	bound, err := a.BestRatio(m, 0, 0.1, 100)
	require.NoError(t, err)
	requireNear(t, best.Ratio/3, bound.SpeedEnds, 1e-11, "bound")
	require.Equal(t, bound.SpeedEnds, bound.Ratio)
	require.LessOrEqual(t, bound.Fastest, a.Motor.MaxSpeed)
	require.Greater(t, bound.RMS, best.RMS)

	_, err = a.BestRatio(m, 0, best.Ratio/2, 100)
	requirePaths(t, err, "lowest")

	// At rest no ratio is too fast.
	rest, err := profile.Dwell(0, 1)
	require.NoError(t, err)
	still, err := a.BestRatio(rest, 0, 1, 10)
	require.NoError(t, err)
	require.Zero(t, still.SpeedEnds)
	require.Zero(t, still.Fastest)
}

func TestReflectedInertia(t *testing.T) {
	// By hand: 12 kg and 0.4 kg of belt at 30 mm: 0.01116; pulleys 2e-4; over 25; stage 3e-5.
	a := beltAxis(t)
	j, err := a.ReflectedInertia()
	require.NoError(t, err)
	requireNear(t, (12.4*0.0009+2e-4)/25+3e-5, j, 1e-14, "belt axis")
	ratio, err := a.InertiaRatio()
	require.NoError(t, err)
	requireNear(t, j/6e-5, ratio, 1e-14, "inertia ratio")

	// By the kinetic energy that the trace books.
	a.Mechanism = energy.Screw{Lead: 0.02, Efficiency: 0.9, Inertia: 3e-4}
	a.Stages = append(a.Stages, energy.Stage{Ratio: 0.4, Efficiency: 0.9, Inertia: 7e-4})
	j, err = a.ReflectedInertia()
	require.NoError(t, err)
	tr := trace(t, a, accels(t, 0, 0, [2]float64{1, 0.1}))
	w := tr.Speed.At(1)
	requireNear(t, 2*tr.Book.Kinetic/(w*w)-6e-5, j, 1e-12, "screw axis")
}

func BenchmarkBestRatio(b *testing.B) {
	a := beltAxis(b)
	m := sCurve(b, 0.5, 0.03, 0.07, 0.15)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := a.BestRatio(m, 0, 0.1, 100); err != nil {
			b.Fatal(err)
		}
	}
}
