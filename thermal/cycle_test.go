package thermal_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/thermal"
)

// Cycles of several phases against repeating them by integration until they
// settle.
func TestSettleCycleAgainstIntegration(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 1))
	for range 20 {
		phases := make([]thermal.Phase, 1+r.IntN(4))
		for i := range phases {
			phases[i] = thermal.Phase{
				Duration: 5 + 60*r.Float64(),
				Response: thermal.FirstOrder{TimeConstant: 30 + 100*r.Float64(), Rise: 100 * r.Float64()},
			}
		}
		y := 50.
		var start, lowest, highest float64
		for range 800 { // a cycle is at least 5 s of a time constant of at most 130 s: e^-30 of the start is left
			start, lowest, highest = y, y, y
			for _, p := range phases {
				y = integrate(y, p.Duration, 60, func(y float64) float64 { return (p.Response.Rise - y) / p.Response.TimeConstant })
				lowest, highest = math.Min(lowest, y), math.Max(highest, y)
			}
		}
		s := ok[thermal.Swing](t)(thermal.SettleCycle(phases))
		near(t, "start", s.Start, start, 1e-7) // error of the integration
		near(t, "lowest", s.Lowest, lowest, 1e-7)
		near(t, "highest", s.Highest, highest, 1e-7)
	}
}

func TestSettleCycleLimits(t *testing.T) {
	on := thermal.FirstOrder{TimeConstant: 60, Rise: 90}
	off := thermal.FirstOrder{TimeConstant: 60, Rise: 30}
	swing := func(onTime, offTime float64) thermal.Swing {
		return ok[thermal.Swing](t)(thermal.SettleCycle([]thermal.Phase{{Duration: onTime, Response: on}, {Duration: offTime, Response: off}}))
	}
	// A cycle that is short against the time constant settles at the mean.
	s := swing(1e-9, 2e-9)
	near(t, "mean", s.Start, 50, 1e-9)
	near(t, "mean, highest", s.Highest, 50, 1e-9)
	// A long one reaches both settled rises.
	if s = swing(1e5, 1e5); s.Highest != 90 || s.Lowest != 30 || s.Start != 30 {
		t.Errorf("long cycle %+v, want from 30 to 90 K", s)
	}
	// A single phase is continuous duty.
	s = swing(10, 0)
	near(t, "continuous", s.Highest, 90, 1e-14)
	near(t, "continuous, lowest", s.Lowest, 90, 1e-14)
}

// At the permitted torque the settled duty peaks at the rise of the continuous
// rating, by integration: loss 1+α at the rating makes a rise of 1.
func TestTorqueFactorAgainstIntegration(t *testing.T) {
	r := rand.New(rand.NewPCG(22, 1))
	for i := range 20 {
		d := thermal.Intermittent{On: 5 + 60*r.Float64(), Off: 100 * r.Float64(), Heating: 30 + 100*r.Float64(), Cooling: 40 + 100*r.Float64(), ConstantLoss: r.Float64()}
		cycles := 800 // as above
		if i%4 == 0 {
			d.Off, cycles = math.Inf(1), 1
		}
		k := ok[float64](t)(d.TorqueFactor())
		loss := (k*k + d.ConstantLoss) / (1 + d.ConstantLoss)
		peak, y := 0., 0.
		for range cycles {
			peak = integrate(y, d.On, 100, func(y float64) float64 { return (loss - y) / d.Heating })
			if cycles > 1 {
				y = integrate(peak, d.Off, 100, func(y float64) float64 { return -y / d.Cooling })
			}
		}
		near(t, "peak", peak, 1, 1e-7)
	}
}

// With the resistance of copper following its temperature, the permitted duty
// stays below the permitted temperature when the time constants are R C.
func TestTorqueFactorIsSafeWithFeedback(t *testing.T) {
	w := ok[thermal.Winding](t)(thermal.FromRating(thermal.Rating{
		Torque: 3, Constant: thermal.MotorConstant{Km: .5, At: 20}, Max: 130, Ambient: 40}))
	const tau = 50.
	for _, off := range []float64{10, 40, 200} {
		d := thermal.Intermittent{On: 20, Off: off, Heating: tau, Cooling: tau}
		k := 3 * ok[float64](t)(d.TorqueFactor()) / .5
		peak, y := 0., 40.
		for range 100 {
			peak = integrate(y, d.On, 100, func(y float64) float64 {
				return (w.ThermalResistance*k*k*(234.5+y)/254.5 - (y - 40)) / tau
			})
			y = integrate(peak, d.Off, 100, func(y float64) float64 { return -(y - 40) / tau })
		}
		if !(peak <= 130 && peak > 90) {
			t.Errorf("off %g s: peak %g °C, want below 130 °C and not far below", off, peak)
		}
	}
}

func TestTorqueFactorLimits(t *testing.T) {
	// No rest: the continuous torque.
	d := thermal.Intermittent{On: 10, Off: 0, Heating: 60, Cooling: 60, ConstantLoss: .7}
	near(t, "no rest", ok[float64](t)(d.TorqueFactor()), 1, 1e-15)
	// Cycle short against the time constant: the RMS rule, √(cycle/on).
	d = thermal.Intermittent{On: 1e-9, Off: 3e-9, Heating: 60, Cooling: 60}
	near(t, "short cycle", ok[float64](t)(d.TorqueFactor()), 2, 1e-9)
	// Long on: the continuous torque.
	d = thermal.Intermittent{On: 1e6, Off: 1e6, Heating: 60, Cooling: 60}
	near(t, "long", ok[float64](t)(d.TorqueFactor()), 1, 1e-15)
}

func BenchmarkSettleCycle(b *testing.B) {
	phases := []thermal.Phase{
		{Duration: 10, Response: thermal.FirstOrder{TimeConstant: 60, Rise: 104.4}},
		{Duration: 20, Response: thermal.FirstOrder{TimeConstant: 60, Rise: 15}},
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := thermal.SettleCycle(phases); err != nil {
			b.Fatal(err)
		}
	}
}
