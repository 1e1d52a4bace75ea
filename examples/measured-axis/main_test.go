package main

import (
	"bytes"
	"math"
	"strings"
	"testing"
)

// Measured: +84.87 J and -5.53 J over the samples 49 to n-50 of the public EMPS
// record (A. Janot, M. Gautier, M. Brunot, 2019 Workshop on Nonlinear System
// Identification Benchmarks). Status: own calculation on public measured data.
func TestMeasuredEnergies(t *testing.T) {
	out, back, err := predict()
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("predicted %+.3f J %+.3f J", out, back)
	for _, c := range []struct{ got, want float64 }{{out, 84.87}, {back, -5.53}} {
		if !(math.Abs(c.got-c.want) <= 0.015*math.Abs(c.want)) {
			t.Errorf("%.3f J, measured %.3f J: more than 1.5 %% apart", c.got, c.want)
		}
	}
}

// The period of the recorded motion is 6.240 s (same source).
func TestPeriod(t *testing.T) {
	m, err := cycle()
	if err != nil {
		t.Fatal(err)
	}
	if d := m.Duration(); !(math.Abs(d-6.240) <= 0.001) {
		t.Errorf("period %.4f s, want 6.240 s", d)
	}
	if err := m.Closes(); err != nil {
		t.Error(err)
	}
}

func TestReport(t *testing.T) {
	var b bytes.Buffer
	if err := run(&b); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "delivered") {
		t.Error(b.String())
	}
}
