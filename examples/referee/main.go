// Command referee sets this library beside two general-purpose programs on the
// same second of a bus whose brake resistor switches many times: scipy, which
// integrates the differential equation, and ngspice, which simulates the circuit.
// It prints how far each is from a reference in 80-bit arithmetic, and how long
// each takes on this machine.
//
//	go -C examples run ./referee
//
// It needs the Debian packages ngspice and python3-scipy, and leaves out what is
// missing. The bus is invented.
package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"time"

	"example.com/headroom/bus"
	"example.com/headroom/internal/crosscheck"
)

func main() {
	if err := run(os.Stdout, 40); err != nil {
		fmt.Fprintln(os.Stderr, "referee:", err)
		os.Exit(2)
	}
}

// competitor is one line of the table.
type competitor struct {
	name      string
	volts     float64 // largest difference from the reference, relative
	switching float64 // of the brake resistor [s]
	seconds   float64
	steps     int
	slopes    int // evaluations of the right-hand side; 0: not counted
}

// run prints the table; every time is the least of rounds.
func run(w io.Writer, rounds int) error {
	c := crosscheck.Cycle()
	times := c.Times(301)
	r, err := c.Simulate()
	if err != nil {
		return err
	}
	switchings := len(switched(r))
	fmt.Fprintf(w, "One second of a bus of %g V and %g mF, %d pieces of load, %d switchings of the brake resistor.\n\n",
		c.Start.Voltage, 1e3*c.Network.Bank.Capacitance, c.Loads[0].Pieces(), switchings)

	if err := crosscheck.HaveScipy(); err != nil {
		fmt.Fprintf(w, "Nothing to compare with: %v\n", err)
		return nil
	}
	p, err := c.Plain()
	if err != nil {
		return err
	}
	reference, err := crosscheck.Question{Circuit: p, Times: times, Method: crosscheck.Extended}.Ask()
	if err != nil {
		return err
	}
	library := measure(c, r, times, reference, rounds)
	table := []competitor{library}
	laps, err := scipy(p, times, reference, rounds)
	if err != nil {
		return err
	}
	table = append(table, laps...)
	if err := crosscheck.HaveNgspice(); err != nil {
		fmt.Fprintf(w, "ngspice is left out: %v\n\n", err)
	} else {
		runs, err := ngspice(c, r, (rounds+7)/8)
		if err != nil {
			return err
		}
		table = append(table, runs...)
	}

	fmt.Fprintln(w, "                                  voltage  switching                          slope   time over")
	fmt.Fprintln(w, "                                    error      error         time    steps   evaluations   library's")
	for _, x := range table {
		slopes := "-"
		if x.slopes > 0 {
			slopes = fmt.Sprint(x.slopes)
		}
		fmt.Fprintf(w, "%-32s %8.1e %8.1e s %9.3f ms %8d %13s %11.0f\n", x.name, x.volts, x.switching, 1e3*x.seconds, x.steps, slopes, x.seconds/library.seconds)
	}
	fmt.Fprintf(w, `
Voltage error: the largest of the bus voltage at %d instants, for ngspice at all its own, relative to %g V.
Reference: extrapolated midpoint rule in 80-bit arithmetic; for ngspice the library. Time: the least of several
runs in this process or inside the other program, without starting it. The library's time is for curves of voltage
and currents, extremes, events and energies; scipy's for the voltage alone, with events looked for only between
step ends; ngspice's is its own account of the transient analysis.
`, len(times), c.Start.Voltage)
	return nil
}

func switched(r *bus.NetworkResult) []float64 {
	var t []float64
	for _, e := range r.Events {
		if e.Kind == bus.BrakeOn || e.Kind == bus.BrakeOff {
			t = append(t, e.Time)
		}
	}
	return t
}

func measure(c crosscheck.Circuit, r *bus.NetworkResult, times []float64, reference *crosscheck.Answer, rounds int) competitor {
	x := competitor{name: "this library", steps: r.Steps, seconds: math.Inf(1)}
	volts := make([]float64, len(times))
	for k, at := range times {
		volts[k] = r.Voltage.At(at)
	}
	x.judge(volts, switched(r), reference, c.Start.Voltage)
	for range 50 * rounds {
		began := time.Now()
		if _, err := c.Simulate(); err != nil {
			panic(err) // it passed before
		}
		x.seconds = math.Min(x.seconds, time.Since(began).Seconds())
	}
	return x
}

// judge compares voltages at the instants of the reference, and switchings.
func (x *competitor) judge(volts, switched []float64, reference *crosscheck.Answer, scale float64) {
	for k, v := range reference.Voltages {
		x.volts = math.Max(x.volts, math.Abs(volts[k]-v)/scale)
	}
	n := 0
	for _, e := range reference.Events {
		if e.What != bus.BrakeOn.String() && e.What != bus.BrakeOff.String() {
			continue
		}
		if n < len(switched) {
			x.switching = math.Max(x.switching, math.Abs(switched[n]-e.Time))
		}
		n++
	}
	if n != len(switched) {
		x.switching = math.Inf(1)
	}
}

func scipy(p crosscheck.Plain, times []float64, reference *crosscheck.Answer, rounds int) ([]competitor, error) {
	settings := [][2]any{
		{"RK45", 1e-10}, {crosscheck.DOP853, 1e-10}, {crosscheck.LSODA, 1e-10}, {crosscheck.Radau, 1e-10},
		{crosscheck.DOP853, 1e-8}, {crosscheck.DOP853, 1e-12},
	}
	laps, err := crosscheck.Race{Circuit: p, Times: times, Settings: settings, Repeats: rounds}.Ask()
	if err != nil {
		return nil, err
	}
	var all []competitor
	for i, lap := range laps {
		x := competitor{
			name:  fmt.Sprintf("scipy solve_ivp %s, %.0e", settings[i][0], settings[i][1]),
			steps: lap.Steps, slopes: lap.Slopes, seconds: lap.Seconds,
		}
		x.judge(lap.Voltages, lap.Switched, reference, p.Start)
		all = append(all, x)
	}
	return all, nil
}

func ngspice(c crosscheck.Circuit, r *bus.NetworkResult, rounds int) ([]competitor, error) {
	var all []competitor
	_, end := c.Span()
	mine := switched(r)
	for _, step := range []float64{2e-4, 5e-5, 1.25e-5} {
		netlist, err := c.Netlist(step)
		if err != nil {
			return nil, err
		}
		x := competitor{name: fmt.Sprintf("ngspice, steps to %g µs", 1e6*step), seconds: math.Inf(1)}
		for range rounds {
			t, err := crosscheck.RunNgspice(netlist, end)
			if err != nil {
				return nil, err
			}
			x.seconds = math.Min(x.seconds, t.Seconds)
			x.steps, x.volts, x.switching = t.Accepted, 0, 0
			for k, at := range t.Time {
				if at > 0 && at <= r.Voltage.End() {
					x.volts = math.Max(x.volts, math.Abs(t.Rows[k][0]-r.Voltage.At(at))/c.Start.Voltage)
				}
			}
			between := t.Switchings(2)
			if len(between) != len(mine) {
				x.switching = math.Inf(1)
				continue
			}
			for k, b := range between {
				x.switching = math.Max(x.switching, math.Max(b[0]-mine[k], mine[k]-b[1]))
			}
		}
		all = append(all, x)
	}
	return all, nil
}
