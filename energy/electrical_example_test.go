package energy_test

import (
	"fmt"
	"log"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// gantry is the long axis of an invented seedling transplanter, from an invented motor sheet.
func gantry() (energy.Axis, energy.Trace) {
	winding, err := energy.Sheet{
		TorquePerRMSAmpere:   0.142,
		VoltageLineToLineRMS: 8.6 * energy.PerThousandRPM,
		ResistanceLineToLine: 0.46,
		InductanceLineToLine: 0.9e-3,
		PolePairs:            5,
		Temperature:          25,
		MagnetCoefficient:    -0.0011,
	}.Winding()
	if err != nil {
		log.Fatal(err)
	}
	hot, err := winding.At(110)
	if err != nil {
		log.Fatal(err)
	}
	axis := energy.Axis{
		Load:      energy.Load{Mass: 16, Coulomb: 14, Viscous: 12},
		Mechanism: energy.Belt{PitchDiameter: 0.05, Efficiency: 0.94, Inertia: 1.6e-4},
		Stages:    []energy.Stage{{Ratio: 5, Efficiency: 0.95, Inertia: 1.2e-5}},
		Motor: energy.Motor{RotorInertia: 6.2e-5, DragTorque: 0.012, DragPerSpeed: 2.5e-5, Winding: hot,
			ContinuousTorque: 0.86, PeakTorque: 2.6},
		Drive: energy.Drive{ModulationLimit: 0.95, ContinuousCurrent: 7, PeakCurrent: 14},
	}
	move, err := profile.Plan(0, 0.85, profile.Limits{Speed: 1.6, Accel: 9, Jerk: 180})
	if err != nil {
		log.Fatal(err)
	}
	trace, err := axis.Trace(move.Motion())
	if err != nil {
		log.Fatal(err)
	}
	return axis, trace
}

// Is the voltage enough while the bus sags from 48 to 40 V and recovers?
func ExampleMotor_Voltage() {
	axis, trace := gantry()
	v, err := axis.Motor.Voltage(trace)
	if err != nil {
		log.Fatal(err)
	}
	low, err := v.LowestBus(axis.Drive)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("crest of the phase voltage %.1f V, lowest bus voltage %.1f V at %.3f s\n", v.Peak().V, low.V, low.T)

	end := trace.Speed.End()
	bus, err := profile.Samples([]float64{0, 0.18, end}, []float64{48, 40, 48})
	if err != nil {
		log.Fatal(err)
	}
	m, err := v.Margin(bus, axis.Drive)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("margin %.1f V at %.3f s and %.0f rad/s\n", m.Margin, m.At, m.Speed)
	for _, s := range m.Shortfalls {
		fmt.Printf("from %.3f to %.3f s up to %.1f V are missing\n", s.From, s.To, s.Missing)
	}
	// Output:
	// crest of the phase voltage 23.3 V, lowest bus voltage 42.4 V at 0.194 s
	// margin -2.2 V at 0.191 s and 295 rad/s
	// from 0.171 to 0.224 s up to 2.2 V are missing
}

// What the motor can give at some speeds on 48 V, and how near the move comes to it.
func ExampleTorqueLimit() {
	axis, trace := gantry()
	l, err := energy.NewTorqueLimit(axis.Motor, axis.Drive, 48)
	if err != nil {
		log.Fatal(err)
	}
	free, _ := l.SpeedAt(0)
	fmt.Printf("corner %.0f rad/s, no load %.0f rad/s\n", l.CornerSpeed(), free)
	for _, w := range []float64{0, 150, 300} {
		peak, _ := l.Peak(w)
		lasting, _ := l.Continuous(w)
		fmt.Printf("%3.0f rad/s: peak %.2f to %.2f N·m, continuous up to %.2f N·m\n", w, peak.Lowest, peak.Highest, lasting.Highest)
	}
	m, err := l.Margin(trace)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("nearest at %.3f s: %.2f N·m at %.0f rad/s, %.2f N·m below the limit by %s\n", m.At, m.Torque, m.Speed, m.Margin, m.Bound)
	// Output:
	// corner 262 rad/s, no load 392 rad/s
	//   0 rad/s: peak -1.98 to 1.98 N·m, continuous up to 0.86 N·m
	// 150 rad/s: peak -2.00 to 1.97 N·m, continuous up to 0.83 N·m
	// 300 rad/s: peak -2.01 to 1.42 N·m, continuous up to 0.78 N·m
	// nearest at 0.191 s: 0.88 N·m at 296 rad/s, 0.60 N·m below the limit by bus voltage
}

// A sheet whose torque constant is per ampere of the crest, entered as per ampere RMS.
func ExampleSheet_Winding() {
	_, err := energy.Sheet{
		TorquePerRMSAmpere:   0.1,
		VoltageLineToLineRMS: 8.6 * energy.PerThousandRPM,
		ResistanceLineToLine: 0.46,
		Temperature:          25,
	}.Winding()
	for _, e := range profile.InputErrors(err) {
		fmt.Println(e.Path)
		fmt.Println(e.Want)
	}
	// Output:
	// voltageLineToLineRMS
	// agreement within 10 % with torquePerRMSAmpere = 0.1: as torque per ampere they differ by a factor of 1.42, and would agree if voltageLineToLineRMS is the crest line to line, or if torquePerRMSAmpere is per ampere crest
}
