package energy_test

import (
	"fmt"
	"math"
	"testing"

	"example.com/headroom/energy"
	"github.com/stretchr/testify/require"
)

// TestPublishedReeving: DIN 15020 part 1, efficiency of rope drives with one drum, printed to two
// digits for sheaves on rolling (0.98) and plain bearings (0.96). FROM MEMORY.
func TestPublishedReeving(t *testing.T) {
	for _, tc := range []struct {
		falls          int
		rolling, plain float64
	}{{2, 0.99, 0.98}, {3, 0.98, 0.96}, {4, 0.97, 0.94}, {6, 0.95, 0.91}, {8, 0.93, 0.87}, {10, 0.91, 0.84}} {
		t.Run(fmt.Sprint(tc.falls), func(t *testing.T) {
			rolling, _, err := energy.Reeving{Falls: tc.falls, Sheave: 0.98}.Efficiency()
			require.NoError(t, err)
			require.InDelta(t, tc.rolling, rolling, 0.005+1e-9)
			plain, _, err := energy.Reeving{Falls: tc.falls, Sheave: 0.96}.Efficiency()
			require.NoError(t, err)
			require.InDelta(t, tc.plain, plain, 0.005+1e-9)
		})
	}
}

// TestPublishedPistonSpeed: Khurmi and Gupta, Theory of Machines, ch. 15: crank 300 mm, rod 1 m,
// 200 rpm; the piston is fastest at 75°, 6.54 m/s. FROM MEMORY. The book is of the first order in r/l:
// the exact greatest speed is 0.4 % higher.
func TestPublishedPistonSpeed(t *testing.T) {
	c := energy.CrankSlider{Radius: 0.3, Rod: 1, Efficiency: 1}
	_, k, _ := c.At(75 * math.Pi / 180)
	requireNear(t, 6.54, math.Abs(k)*200*rpm, 5e-3, "piston speed")
	a := energy.Axis{Load: energy.Load{Mass: 1}, Mechanism: c, Motor: lossless(t)}
	j, err := a.ReflectedInertia()
	require.NoError(t, err)
	requireNear(t, 6.54, math.Sqrt(j)*200*rpm, 5e-3, "greatest piston speed")
}

// TestPublishedPistonEffort: Khurmi and Gupta, Theory of Machines, ch. 15: crank 300 mm, rod 1.2 m,
// 250 kg of reciprocating mass, bore 0.5 m, 0.35 N/mm² at 60° from the inner dead centre, which there is the
// far one, at 250 rpm. Force on the piston 68 730 N, of inertia 19 306 N, effort 49 424 N.
// FROM MEMORY; again of the first order in r/l.
func TestPublishedPistonEffort(t *testing.T) {
	const gas = 68730
	a := energy.Axis{
		// The gas pushes towards the crank, against the positive direction.
		Load:      energy.Load{Mass: 250, External: gas},
		Mechanism: energy.CrankSlider{Radius: 0.3, Rod: 1.2, Efficiency: 1},
		Motor:     lossless(t),
	}
	requireNear(t, gas, 0.35e6*math.Pi/4*0.5*0.5, 2e-4, "force on the piston, of which the book rounds the area")
	w := 250 * rpm
	m := accels(t, math.Pi/3-w*0.01, w, [2]float64{0.02, 0})
	_, k, _ := a.Mechanism.(energy.CrankSlider).At(math.Pi / 3)
	torque := trace(t, a, m).Torque.At(0.01)
	require.Negative(t, torque, "the engine drives")
	requireNear(t, 49424, torque/k, 5e-3, "effort on the piston")
	requireNear(t, 19306, gas-torque/k, 1e-2, "force of inertia")
}

// TestPublishedAtwood: two masses on a rope over a sheave fall with g (m1 - m2)/(m1 + m2) (Halliday,
// Resnick and Walker, Fundamentals of Physics, ch. 5, FROM MEMORY): at that acceleration
// the motor has nothing to do.
func TestPublishedAtwood(t *testing.T) {
	a := direct(t, energy.Load{Mass: 2.8, Incline: math.Pi / 2, Counterbalance: energy.Counterbalance{Mass: 1.3, Ratio: 1}})
	fall := energy.StandardGravity * (2.8 - 1.3) / (2.8 + 1.3)
	tr := trace(t, a, accels(t, 0, 0, [2]float64{0.5, -fall}))
	require.InDelta(t, 0, tr.Torque.AbsMax().V, 1e-12)
	require.InDelta(t, 0, tr.Book.Kinetic+tr.Book.Potential+tr.Book.Counterbalance, 1e-12)
}

// TestPublishedCrate: OpenStax College Physics, §5.1: a crate of 100 kg on a floor with coefficients of
// friction 0.45 and 0.30 is set in motion by 440 N and kept there by 290 N (two digits, with the weight 980 N).
// FROM MEMORY.
func TestPublishedCrate(t *testing.T) {
	const weight = 100 * 9.80
	a := direct(t, energy.Load{Mass: 100, Coulomb: 0.30 * weight, Breakaway: 0.45 * weight})
	h := holding(t, a, 0, 0)
	requireNear(t, 440, h.BreakPlus, 1.2e-2, "force to start")
	requireNear(t, -440, h.BreakMinus, 1.2e-2, "force to start backwards")
	require.Zero(t, h.Least)
	requireNear(t, 290, trace(t, a, steady(t, 1, 1)).Torque.At(0.5), 1.8e-2, "force to keep moving")
}

// TestPublishedSpringCar: OpenStax College Physics, Ex. 7.8: a car of 0.100 kg is shot off by a spring of
// 250 N/m compressed by 4.00 cm. It reaches 2.00 m/s, and 0.687 m/s after a slope of 0.180 m. FROM MEMORY.
// The motor follows without doing anything on the whole.
func TestPublishedSpringCar(t *testing.T) {
	a := direct(t, energy.Load{Mass: 0.1, Counterbalance: energy.Counterbalance{Stiffness: 250}})
	b := trace(t, a, accels(t, -0.04, 0, [2]float64{0.04, 50})).Book // to 2.00 m/s in 0.04 m
	require.InDelta(t, 0.2, b.Kinetic, 1e-12)
	require.InDelta(t, 0, b.Drawn-b.Returned, 1e-9)

	slope := direct(t, energy.Load{Mass: 0.1, Incline: math.Pi / 2})
	b = trace(t, slope, accels(t, 0, 2.00, [2]float64{0.18 / ((2 + 0.687) / 2), (0.687*0.687 - 4) / 0.36})).Book
	require.InDelta(t, 0.18*0.1*energy.StandardGravity, b.Potential, 1e-9)
	require.InDelta(t, 0, b.Drawn-b.Returned, 2e-4, "three digits and g = 9.80")
}
