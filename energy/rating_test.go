package energy_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"
)

func steps(t testing.TB, breaks []float64, values ...float64) profile.Curve {
	t.Helper()
	coefs := make([][]float64, len(values))
	for i, v := range values {
		coefs[i] = []float64{v}
	}
	c, err := profile.NewCurve(breaks, coefs)
	require.NoError(t, err)
	return c
}

func TestLoading(t *testing.T) {
	l, err := energy.NewLoading(60, 100, 0.8)
	require.NoError(t, err)
	require.Equal(t, energy.Loading{Value: 60, Limit: 80, Margin: 20, Ratio: 0.75}, l)
	require.True(t, l.Within())
	l, err = energy.NewLoading(100, 100, 0.8)
	require.NoError(t, err)
	require.Equal(t, -20., l.Margin)
	require.False(t, l.Within())
	require.True(t, energy.Loading{}.Within(), "no limit is given")
}

func TestCubicMean(t *testing.T) {
	mean := func(load, speed profile.Curve) float64 {
		t.Helper()
		m, err := energy.CubicMean(load, speed)
		require.NoError(t, err)
		return m
	}
	// By hand: 30 N·m for 2 s at 10 rad/s, -10 N·m for 3 s at -40 rad/s, 500 N·m at rest:
	// (27000·20 + 1000·120)/(20 + 120) = 660000/140; the cube root of 4714.2857 is 16.7678.
	breaks := []float64{0, 2, 5, 9}
	got := mean(steps(t, breaks, 30, -10, 500), steps(t, breaks, 10, -40, 0))
	requireNear(t, 16.7678, got, 1e-5, "mean of three steps")
	requireNear(t, got, mean(steps(t, breaks, -30, 10, 500), steps(t, breaks, 10, 40, 0)), 1e-14, "signs do not count")

	require.InEpsilon(t, 7e11, mean(steps(t, []float64{0, 1}, 7e11), steps(t, []float64{0, 1}, 1e-3)), 1e-14)
	require.Zero(t, mean(steps(t, []float64{0, 1}, 7), steps(t, []float64{0, 1}, 0)), "no travel")
	require.Zero(t, mean(steps(t, []float64{0, 1}, 0), steps(t, []float64{0, 1}, 7)), "no load")

	// An axis's own curves against quadrature between the cuts.
	a := beltAxis(t)
	torque, speed, err := a.ShaftTorque(sCurve(t, 0.5, 0.03, 0.07, 0.15), 1)
	require.NoError(t, err)
	var above, below float64
	for i := range torque.Pieces() {
		t0, t1, _ := torque.Piece(i)
		above += quad.Fixed(func(x float64) float64 { return math.Abs(speed.At(x) * math.Pow(torque.At(x), 3)) }, t0, t1, 60, nil, 0)
		below += quad.Fixed(func(x float64) float64 { return math.Abs(speed.At(x)) }, t0, t1, 60, nil, 0)
	}
	requireNear(t, math.Cbrt(above/below), mean(torque, speed), 1e-9, "mean of an axis's torque")
}

// TestShaftTorqueByHand takes the vertical screw of TestVerticalScrewByHand behind a
// gear of 2:1, 90 %, 4e-6 kg·m² and 0.01 N·m of drag, on the way up.
//
//	screw shaft  accel  0.1380665/0.8 + 1e-5·2000 + 0.05 = 0.242583125
//	             steady 0.1180665/0.8             + 0.05 = 0.197583125
//	             decel  0.0980665/0.8 - 0.02      + 0.05 = 0.152583125
//	motor shaft  accel  0.242583125/1.8 + 4e-6·4000 + 0.01 = 0.160768403
//	             steady 0.197583125/1.8             + 0.01 = 0.119768403
//	             decel  0.152583125/1.8 - 0.016     + 0.01 = 0.078768403
func TestShaftTorqueByHand(t *testing.T) {
	a := energy.Axis{
		Load:      energy.Load{Mass: 10, Coulomb: 20, Incline: math.Pi / 2},
		Mechanism: energy.Screw{Lead: 2 * math.Pi * 1e-3, Efficiency: 0.8, Inertia: 1e-5, Drag: 0.05},
		Stages:    []energy.Stage{{Ratio: 2, Efficiency: 0.9, Inertia: 4e-6, Drag: 0.01}},
		Motor:     lossless(t),
	}
	a.Motor.RotorInertia, a.Motor.DragTorque = 2e-5, 0.3
	up := accels(t, 0, 0, [2]float64{0.1, 2}, [2]float64{0.1, 0}, [2]float64{0.1, -2})
	for shaft, want := range [][3]float64{{0.160768403, 0.119768403, 0.078768403}, {0.242583125, 0.197583125, 0.152583125}} {
		torque, speed, err := a.ShaftTorque(up, shaft)
		require.NoError(t, err)
		for i, at := range []float64{0.05, 0.15, 0.25} {
			require.InDelta(t, want[i], torque.At(at), 1e-9, "shaft %d at %g s", shaft, at)
		}
		requireNear(t, []float64{400, 200}[shaft], speed.At(0.15), 1e-12, "speed")
	}
	d, err := a.TorqueDuty(up, accels(t, 0, 0.2, [2]float64{0.02, -10}), 1)
	require.NoError(t, err)
	require.InDelta(t, 0.242583125, d.Peak, 1e-9)
	// Stop: F = -100 - up 20 - ... = 10 (-10) + 20 + 98.0665 = 18.0665 N; 0.0180665/0.8 - 0.1 + 0.05.
	require.InDelta(t, 0.027416875, d.EmergencyStop, 1e-9)
	// 10, 20 and 10 mm.
	requireNear(t, math.Cbrt((math.Pow(0.242583125, 3)+2*math.Pow(0.197583125, 3)+math.Pow(0.152583125, 3))/4), d.Mean, 1e-9, "mean")
	none, err := a.TorqueDuty(up, profile.Motion{}, 1)
	require.NoError(t, err)
	require.Zero(t, none.EmergencyStop)
}

// TestShaftTorqueAndTrace: what the motor's shaft passes on and what the rotor takes
// is the shaft torque of the trace.
func TestShaftTorqueAndTrace(t *testing.T) {
	a := beltAxis(t)
	m := sCurve(t, 0.5, 0.03, 0.07, 0.15)
	tr := trace(t, a, m)
	torque, _, err := a.ShaftTorque(m, 0)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(3, 4))
	perTravel := a.Stages[0].Ratio / 0.03 // [rad/m]
	for range 500 {
		at := r.Float64() * m.Duration()
		rotor := a.Motor.RotorInertia * perTravel * m.At(at).Accel
		require.InDelta(t, tr.RatedTorque.At(at), torque.At(at)+rotor, 1e-10, "at %g s", at)
	}
}

func TestTorqueRating(t *testing.T) {
	d := energy.TorqueDuty{Mean: 10, Peak: 30, EmergencyStop: 70}
	l, err := energy.TorqueRating{Mean: 20, Peak: 40, EmergencyStop: 100, ServiceFactor: 1.5}.Loading(d)
	require.NoError(t, err)
	require.Equal(t, energy.TorqueLoading{
		Mean:          energy.Loading{Value: 15, Limit: 20, Margin: 5, Ratio: 0.75},
		Peak:          energy.Loading{Value: 45, Limit: 40, Margin: -5, Ratio: 1.125},
		EmergencyStop: energy.Loading{Value: 105, Limit: 100, Margin: -5, Ratio: 1.05},
	}, l)
	require.False(t, l.Within())
	for _, r := range []energy.TorqueRating{{Mean: 9}, {Peak: 29}, {EmergencyStop: 69}} {
		r.ServiceFactor = 1
		l, err = r.Loading(d)
		require.NoError(t, err)
		require.False(t, l.Within(), "%+v", r)
		r.Mean, r.Peak, r.EmergencyStop = 1.2*r.Mean, 1.2*r.Peak, 1.2*r.EmergencyStop
		l, err = r.Loading(d)
		require.NoError(t, err)
		require.True(t, l.Within(), "%+v", r)
	}
}

func TestMotorLoading(t *testing.T) {
	// By hand: 2 kg·m² to 10 rad/s in 1 s, 1 s steady, to rest in 1 s, 1 s of wait: 20, 0, -20, 0 N·m.
	a := energy.Axis{
		Load:      energy.Load{Inertia: 1.5},
		Mechanism: energy.Rotary{Efficiency: 1},
		Motor:     lossless(t),
	}
	a.Motor.RotorInertia, a.Motor.DragTorque = 0.5, 100 // the drag is in no rating
	a.Motor.ContinuousTorque, a.Motor.PeakTorque, a.Motor.MaxSpeed = 16, 19, 12.5
	tr := trace(t, a, accels(t, 0, 0, [2]float64{1, 10}, [2]float64{1, 0}, [2]float64{1, -10}, [2]float64{1, 0}))
	l, err := a.Motor.Loading(tr)
	require.NoError(t, err)
	for _, tc := range []struct {
		what         string
		got          energy.Loading
		value, ratio float64
	}{
		{"continuous", l.Continuous, math.Sqrt(200), math.Sqrt(200) / 16},
		{"peak", l.Peak, 20, 20. / 19},
		{"speed", l.Speed, 10, 0.8},
	} {
		requireNear(t, tc.value, tc.got.Value, 1e-12, tc.what)
		requireNear(t, tc.ratio, tc.got.Ratio, 1e-12, tc.what)
		requireNear(t, tc.got.Limit-tc.got.Value, tc.got.Margin, 1e-15, tc.what)
	}
	require.False(t, l.Within())
	a.Motor.PeakTorque = 20.001
	l, err = a.Motor.Loading(tr)
	require.NoError(t, err)
	require.True(t, l.Within())
	l, err = energy.Motor{Winding: a.Motor.Winding}.Loading(tr)
	require.NoError(t, err)
	require.Equal(t, energy.MotorLoading{}, l, "no limit given")
	require.Equal(t, "fixed-free", fmt.Sprint(energy.FixedFree))
}
