package bus_test

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"example.com/headroom/bus"
	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

func Example() {
	move, err := profile.Plan(0, 0.8, profile.Limits{Speed: 1.5, Accel: 8, Jerk: 120})
	check(err)
	winding, err := energy.SinusoidalRMS(0.14, energy.LineToLine(0.5), 25)
	check(err)
	axis := energy.Axis{
		Load:      energy.Load{Mass: 16, Coulomb: 12},
		Mechanism: energy.Belt{PitchDiameter: 0.05, Efficiency: 0.94},
		Stages:    []energy.Stage{{Ratio: 5, Efficiency: 0.95}},
		Motor:     energy.Motor{RotorInertia: 6e-5, Winding: winding},
	}
	trace, err := axis.Trace(move.Motion())
	check(err)
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.01, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
	}
	result, err := b.Simulate(context.Background(), trace.BusPower, bus.State{Voltage: 72})
	check(err)
	fmt.Printf("returned %.1f J, the bus rises to %.1f V\n", trace.Book.Returned, result.Highest.V)
	// Output: returned 14.4 J, the bus rises to 89.8 V
}

func check(err error) {
	if err != nil {
		panic(err)
	}
}

// The program in README is this file's example.
func TestReadmeExample(t *testing.T) {
	readme, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	self, err := os.ReadFile("readme_test.go")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(readme), "```go\n")
	if !ok {
		t.Fatal("README has no Go example")
	}
	code, _, _ := strings.Cut(rest, "```")
	if !strings.Contains(string(self), code) {
		t.Errorf("README's example differs from the one that is tested:\n%s", code)
	}
	if n := strings.Count(code, "\n"); n > 25 {
		t.Errorf("README's example has %d lines, want at most 25", n)
	}
}
