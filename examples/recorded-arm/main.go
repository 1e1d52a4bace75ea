// Command recorded-arm puts the six axes of a recorded robot arm on one shared
// DC bus: it reads a log of torque and speed, prints what each axis draws and
// returns, what is left on the shared bus, and how far the bus moves behind an
// invented supply and bank.
//
//	go -C examples run ./recorded-arm /path/to/trajectory.csv
//
// The file has a header; the columns used are t_s, v1_deg_s … v6_deg_s (joint
// speed) and tau1_motor_Nm … tau6_motor_Nm (motor torque). Public recordings in
// this form: repository JonasWeigand/Robot_Identification, folder
// data/recorded_trajectories (MIT licence). The gear ratios are those published
// with the data.
//
// Only mechanical power is recorded: the copper and drive losses, which lower
// what comes back and raise what is drawn, are not in the figures.
package main

import (
	"context"
	"fmt"
	"io"
	"os"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: recorded-arm FILE.csv")
		os.Exit(2)
	}
	if err := run(context.Background(), os.Args[1], os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "recorded-arm:", err)
		os.Exit(2)
	}
}

func run(ctx context.Context, path string, w io.Writer) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	arm, err := readArm(file)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "Recorded six-axis arm, %.3g s\n\n", arm.shared.Duration())
	fmt.Fprintln(w, "              motoring    returned        peak")
	var total share
	for i, p := range arm.axes {
		s := shareOf(p)
		total.drawn += s.drawn
		total.returned += s.returned
		total.peak += s.peak
		fmt.Fprintf(w, "  axis %d    %8.1f J  %8.1f J  %8.1f W\n", i+1, s.drawn, s.returned, s.peak)
	}
	shared := shareOf(arm.shared)
	fmt.Fprintf(w, "  all, each %8.1f J  %8.1f J  %8.1f W   every axis on a bus of its own\n", total.drawn, total.returned, total.peak)
	fmt.Fprintf(w, "  shared    %8.1f J  %8.1f J  %8.1f W   all axes on one bus\n", shared.drawn, shared.returned, shared.peak)
	s := bySamples(arm.shared)
	fmt.Fprintf(w, "  shared    %8.1f J  %8.1f J  %8.1f W   the same by the trapezoid rule over the samples,\n", s.drawn, s.returned, s.peak)
	fmt.Fprintf(w, "%49s which counts too much where the power changes sign\n\n", "")

	b := inventedBus()
	start := bus.State{Voltage: b.Source.NoLoadVoltage()}
	r, err := b.Simulate(ctx, arm.shared, start)
	if err != nil {
		return err
	}
	fmt.Fprintln(w, "On an invented bus: regulated supply of 320 V and 11 A, bank of 22 mF, brake resistor of 47 ohm")
	fmt.Fprintf(w, "switched on at 330 V and off at 325 V.\n\n")
	if r.Collapsed {
		fmt.Fprintf(w, "  The bus collapses at %.3f s: neither supply nor bank can carry the arm.\n", r.Voltage.End())
	}
	fmt.Fprintf(w, "  lowest voltage   %6.1f V at %.3f s\n", r.Lowest.V, r.Lowest.T)
	fmt.Fprintf(w, "  highest voltage  %6.1f V at %.3f s\n", r.Highest.V, r.Highest.T)
	fmt.Fprintf(w, "  from the supply  %6.1f J\n", r.Energies.Source)
	fmt.Fprintf(w, "  in the resistor  %6.1f J\n", r.Energies.Resistor)
	fmt.Fprintln(w, "\nCaution: a bus at this voltage kills and stays charged after power is removed. Local codes and")
	fmt.Fprintln(w, "licensed practice decide how it is discharged and guarded.")
	return nil
}

// inventedBus is a supply and bank of the size that the arm calls for; its
// figures are invented.
func inventedBus() bus.Bus {
	return bus.Bus{
		Bank:   bus.Bank{Capacitance: 22e-3, SeriesResistance: 0.02, RatedVoltage: 450},
		Source: bus.SwitchMode{Voltage: 320, CurrentLimit: 11},
		Brakes: []bus.BrakeResistor{{Resistance: 47, OnVoltage: 330, OffVoltage: 325}},
	}
}

// share is what a power curve draws and returns [J] and its peak [W].
type share struct{ drawn, returned, peak float64 }

// shareOf integrates the power exactly, torque and speed running straight
// between the samples.
func shareOf(p profile.Curve) share {
	return share{p.Positive().Integral(), p.Negative().Integral(), p.Max().V}
}

// bySamples integrates the positive and the negative part of the power at the
// samples by the trapezoid rule, the usual way to book a log.
func bySamples(p profile.Curve) share {
	var s share
	for i := range p.Pieces() {
		t0, t1, _ := p.Piece(i)
		a, b := p.At(t0), p.At(t1)
		s.drawn += (max(a, 0) + max(b, 0)) / 2 * (t1 - t0)
		s.returned += (min(a, 0) + min(b, 0)) / 2 * (t1 - t0)
		s.peak = max(s.peak, a, b)
	}
	return s
}
