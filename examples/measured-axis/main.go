// Command measured-axis predicts the mechanical energy of a measured positioning
// axis from its published parameters and its programmed stops, and prints it
// beside what was measured.
//
//	go -C examples run ./measured-axis
//
// The axis is that of A. Janot, M. Gautier, M. Brunot, "Data Set and Reference
// Models of EMPS", 2019 Workshop on Nonlinear System Identification Benchmarks,
// Eindhoven: a ball-screw axis, recorded in closed loop at 1 kHz over 24.8 s. The
// parameters are the published identification: mass 95.1089 kg, viscous friction
// 203.5034 N·s/m, Coulomb friction 20.3935 N, offset -3.1648 N.
package main

import (
	"fmt"
	"io"
	"os"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// The measured mechanical energy over the samples 49 to n-50 of the record: the
// force behind the controller output times the speed from the filtered position.
const (
	measuredOut  = 84.866 // delivered to the axis [J]
	measuredBack = -5.529 // returned by it [J]
)

// The record's clock: 24841 samples of 1 ms, of which the first 49 and the last
// 50 are left out.
const (
	from = 0.049
	to   = 24.790
)

// stop is a position [m] and the speed limit on the way to it [m/s].
type stop struct{ position, speed float64 }

// stops are those of one period of the motion, which starts at 0.
var stops = []stop{
	{0.016932, 0.042118}, {0.081817, 0.082551}, {0.229426, 0.124669}, {0.246360, 0.042118},
	{0.229426, 0.042118}, {0.164540, 0.082551}, {0.016931, 0.124669}, {0, 0.042118},
}

const acceleration = 0.84236 // [m/s²]

func main() {
	if err := run(os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "measured-axis:", err)
		os.Exit(2)
	}
}

func run(w io.Writer) error {
	out, back, err := predict()
	if err != nil {
		return err
	}
	fmt.Fprintf(w, `Measured ball-screw axis: mechanical energy over %.1f s

               measured  predicted  difference
  delivered    %7.3f J  %7.3f J      %+5.2f %%
  returned     %7.3f J  %7.3f J      %+5.2f %%

Predicted from the published mass and friction and the programmed stops alone; nothing was fitted
to the energies.
`, to-from, measuredOut, out, 100*(out/measuredOut-1), measuredBack, back, 100*(back/measuredBack-1))
	return nil
}

// predict returns the energy delivered and returned at the mechanical port [J].
func predict() (out, back float64, err error) {
	motion, err := cycle()
	if err != nil {
		return 0, 0, err
	}
	trace, err := axis().Trace(motion)
	if err != nil {
		return 0, 0, err
	}
	power := trace.ShaftPower.Repeat(4)
	if power, err = power.Slice(from, to); err != nil {
		return 0, 0, err
	}
	return power.Positive().Integral(), power.Negative().Integral(), nil
}

// cycle returns one period of the motion.
func cycle() (profile.Motion, error) {
	var moves []profile.Motion
	at := 0.0
	for _, s := range stops {
		m, err := profile.Plan(at, s.position, profile.Limits{Speed: s.speed, Accel: acceleration})
		if err != nil {
			return profile.Motion{}, err
		}
		moves = append(moves, m.Motion())
		at = s.position
	}
	return profile.Sequence(moves...)
}

// axis returns the axis at its mechanical port: the published mass includes all
// that turns, and force times speed is torque times speed, so that the motor is
// without inertia and the screw without loss. The lead and the motor's winding do
// not enter the mechanical power.
func axis() energy.Axis {
	winding, err := energy.SinusoidalRMS(1, energy.LineToLine(1), 25)
	if err != nil {
		panic(err) // constants
	}
	return energy.Axis{
		Load:      energy.Load{Mass: 95.1089, Viscous: 203.5034, Coulomb: 20.3935, External: -3.1648},
		Mechanism: energy.Screw{Lead: 0.01, Efficiency: 1},
		Motor:     energy.Motor{Winding: winding},
	}
}
