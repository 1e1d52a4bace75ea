package main

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// recording returns the recorded trajectory, or skips the test without it.
func recording(t *testing.T) string {
	t.Helper()
	folder := os.Getenv("HEADROOM_DATA")
	if folder == "" {
		t.Skip("HEADROOM_DATA is not set: needs robot6/trajectory_a.csv, a recorded trajectory of repository JonasWeigand/Robot_Identification (MIT licence)")
	}
	return filepath.Join(folder, "robot6", "trajectory_a.csv")
}

// The totals are those of a separate calculation from the same recording: motor
// torque x ratio x joint speed at the recorded instants, its positive and its
// negative part each integrated by the trapezoid rule. Status: own calculation on
// public measured data (JonasWeigand/Robot_Identification,
// data/recorded_trajectories, commit 454c8e6d).
func TestRecordedTotals(t *testing.T) {
	file, err := os.Open(recording(t))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	a, err := readArm(file)
	if err != nil {
		t.Fatal(err)
	}
	var each, exact share
	for _, p := range a.axes {
		s := bySamples(p)
		each.drawn += s.drawn
		each.returned += s.returned
		each.peak += s.peak
		s = shareOf(p)
		exact.drawn += s.drawn
		exact.returned += s.returned
	}
	shared, exactShared := bySamples(a.shared), shareOf(a.shared)
	for _, c := range []struct {
		what             string
		got, exact, want float64
	}{
		{"axes, motoring [J]", each.drawn, exact.drawn, 8941},
		{"axes, returned [J]", each.returned, exact.returned, -2348},
		{"shared bus, drawn [J]", shared.drawn, exactShared.drawn, 6702},
		{"shared bus, returned [J]", shared.returned, exactShared.returned, -110},
		{"shared bus, peak [W]", shared.peak, exactShared.peak, 4114},
		{"axes, sum of peaks [W]", each.peak, each.peak, 5527},
	} {
		t.Logf("%s: %.2f by samples, %.2f exact, want %g", c.what, c.got, c.exact, c.want)
		if !(math.Abs(c.got-c.want) <= 0.005*math.Abs(c.want)) {
			t.Errorf("%s: %.2f, want %g within 0.5 %%", c.what, c.got, c.want)
		}
		// Between samples of opposite sign the trapezoid rule counts both a positive
		// and a negative triangle over the whole interval; the exact integral ends
		// each where the power crosses zero, and is smaller.
		if d := math.Abs(c.got) - math.Abs(c.exact); !(d >= -1e-3*math.Abs(c.got) && d <= 8) {
			t.Errorf("%s: exact %.2f, by samples %.2f", c.what, c.exact, c.got)
		}
	}
	// What is left net does not depend on it.
	if d := shared.drawn + shared.returned - exactShared.drawn - exactShared.returned; !(math.Abs(d) <= 1) {
		t.Errorf("net energy differs by %.3f J", d)
	}
}

func TestRecordedReport(t *testing.T) {
	var out bytes.Buffer
	if err := run(context.Background(), recording(t), &out); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"axis 6", "shared", "lowest voltage"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the report lacks %q:\n%s", want, out.String())
		}
	}
}

const head = "t_s,v1_deg_s,tau1_motor_Nm,v2_deg_s,tau2_motor_Nm,v3_deg_s,tau3_motor_Nm,v4_deg_s,tau4_motor_Nm,v5_deg_s,tau5_motor_Nm,v6_deg_s,tau6_motor_Nm\n"

// Axis 1 turns at 180 deg/s at the joint with 2 N·m at the motor: 2 x 256.857 x π
// = 1613.9 W for 2 s.
func TestOneAxisByHand(t *testing.T) {
	in := head + "0,180,2,0,0,0,0,0,0,0,0,0,0\n2,180,2,0,0,0,0,0,0,0,0,0,0\n"
	a, err := readArm(strings.NewReader(in))
	if err != nil {
		t.Fatal(err)
	}
	if got, want := a.shared.Integral(), 2*2*256.857*math.Pi; !(math.Abs(got-want) <= 1e-9*want) {
		t.Errorf("energy %v J, want %v", got, want)
	}
}

func TestBadRecordings(t *testing.T) {
	row := strings.Repeat(",0", 12)
	for name, in := range map[string]string{
		"empty":      "",
		"no column":  "t_s,v1_deg_s\n0,0\n1,0\n",
		"one row":    head + "0" + row + "\n",
		"unsorted":   head + "1" + row + "\n0" + row + "\n",
		"duplicate":  head + "0" + row + "\n0" + row + "\n",
		"not number": head + "0" + row + "\nx" + row + "\n",
		"NaN":        head + "0" + row + "\nNaN" + row + "\n",
		"ragged":     head + "0" + row + "\n1,0\n",
	} {
		if _, err := readArm(strings.NewReader(in)); err == nil {
			t.Errorf("%s: no error", name)
		} else {
			t.Logf("%s: %v", name, err)
		}
	}
}
