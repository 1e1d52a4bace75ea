package main

import (
	"strings"
	"testing"

	"example.com/headroom/internal/crosscheck"
)

// The table has a line for whatever is there; the times in it are not judged.
func TestRun(t *testing.T) {
	var b strings.Builder
	if err := run(&b, 1); err != nil {
		t.Fatal(err)
	}
	want := []string{"22 switchings of the brake resistor"}
	switch {
	case crosscheck.HaveScipy() != nil:
		want = append(want, "Nothing to compare with")
	case crosscheck.HaveNgspice() != nil:
		want = append(want, "this library", "scipy solve_ivp DOP853, 1e-10", "ngspice is left out")
	default:
		want = append(want, "this library", "scipy solve_ivp DOP853, 1e-10", "ngspice, steps to 50 µs")
	}
	for _, s := range want {
		if !strings.Contains(b.String(), s) {
			t.Errorf("no %q in\n%s", s, b.String())
		}
	}
	if strings.Contains(b.String(), "NaN") || strings.Contains(b.String(), "Inf") {
		t.Errorf("a value is missing:\n%s", b.String())
	}
}
