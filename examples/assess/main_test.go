package main

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func runWith(t *testing.T, stdin string, args ...string) (status int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	status = run(context.Background(), args, strings.NewReader(stdin), &out, &errs)
	return status, out.String(), errs.String()
}

func TestDemoFits(t *testing.T) {
	status, out, errs := runWith(t, "")
	if status != fits || errs != "" {
		t.Fatalf("status %d, want %d; stderr %q", status, fits, errs)
	}
	for _, want := range []string{"THE MACHINE FITS", "invented", "CAUTIONS", "gantry", "conveyor", "local codes"} {
		if !strings.Contains(out, want) {
			t.Errorf("the report lacks %q", want)
		}
	}
}

func TestJSON(t *testing.T) {
	for _, args := range [][]string{{"-format", "json"}, {"--format=json"}, {"-f", "json"}} {
		status, out, _ := runWith(t, "", args...)
		if status != fits || !json.Valid([]byte(out)) {
			t.Errorf("%v: status %d, valid JSON %v", args, status, json.Valid([]byte(out)))
		}
	}
}

func TestDoesNotFit(t *testing.T) {
	small := strings.Replace(string(transplanter), `"peakTorque": "2.6 N m"`, `"peakTorque": "0.9 N m"`, 1)
	path := filepath.Join(t.TempDir(), "machine.json")
	if err := os.WriteFile(path, []byte(small), 0o644); err != nil {
		t.Fatal(err)
	}
	status, out, _ := runWith(t, "", path)
	if status != doesNotFit || !strings.Contains(out, "DOES NOT FIT") {
		t.Errorf("status %d, want %d:\n%.300s", status, doesNotFit, out)
	}
	if status, _, _ := runWith(t, small, "-"); status != doesNotFit {
		t.Errorf("from standard input: status %d, want %d", status, doesNotFit)
	}
}

func TestBadInput(t *testing.T) {
	for name, c := range map[string]struct {
		stdin string
		args  []string
		says  string
	}{
		"no such file":   {"", []string{"no-such-file.json"}, "no-such-file.json"},
		"not JSON":       {"machine", []string{"-"}, "JSON"},
		"wrong unit":     {strings.Replace(string(transplanter), `"16 kg"`, `"16 N"`, 1), []string{"-"}, `axes[0].load.mass = "16 N": want a mass`},
		"unknown option": {"", []string{"--colour"}, "--colour"},
		"unknown format": {"", []string{"--format=xml"}, "format"},
		"two documents":  {"", []string{"a", "b"}, "b"},
	} {
		status, out, errs := runWith(t, c.stdin, c.args...)
		if status != badInput || out != "" || !strings.Contains(errs, c.says) {
			t.Errorf("%s: status %d, stdout %q, stderr %q; want %d and %q", name, status, out, errs, badInput, c.says)
		}
	}
}

func TestSchema(t *testing.T) {
	for _, option := range []string{"-schema", "--schema"} {
		status, out, errs := runWith(t, "", option)
		if status != 0 || errs != "" || !json.Valid([]byte(out)) || !strings.Contains(out, "thresholdTolerance") {
			t.Errorf("status %d, stderr %q:\n%.200s", status, errs, out)
		}
	}
}

func TestHelp(t *testing.T) {
	status, out, _ := runWith(t, "", "-help")
	if status != 0 || !strings.Contains(out, "FOLDER") {
		t.Errorf("status %d:\n%s", status, out)
	}
}

func TestPlots(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "out")
	if status, _, errs := runWith(t, "", "-o", folder); status != fits {
		t.Fatalf("status %d: %s", status, errs)
	}
	for _, name := range []string{"voltage.svg", "power-1.svg", "torque-1.svg", "power-2.svg", "torque-2.svg"} {
		b, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil {
			t.Error(err)
			continue
		}
		d := xml.NewDecoder(bytes.NewReader(b))
		for {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Errorf("%s: %v", name, err)
				break
			}
		}
		if strings.Contains(string(b), "NaN") {
			t.Errorf("%s contains NaN", name)
		}
	}
}

// Ticks are round and few, and zero has one wherever it is in sight.
func TestRoundTicks(t *testing.T) {
	for _, c := range []struct {
		lowest, highest float64
		want            string
	}{
		{-210, 455, "-200 -100 0 100 200 300 400"},
		{-0.48, 0.8, "-0.4 -0.2 0.0 0.2 0.4 0.6 0.8"},
		{68.9, 88.9, "70 75 80 85"},
		{0, 3.13, "0.0 0.5 1.0 1.5 2.0 2.5 3.0"},
		{0, 8, "0 1 2 3 4 5 6 7 8"},
		{-2.1e-3, 0.3e-3, "-0.0020 -0.0015 -0.0010 -0.0005 0.0000"},
		{0, 3e7, "0 5e+06 1e+07 1.5e+07 2e+07 2.5e+07 3e+07"},
	} {
		var labels []string
		for _, tick := range (roundTicks{}).Ticks(c.lowest, c.highest) {
			labels = append(labels, tick.Label)
		}
		if got := strings.Join(labels, " "); got != c.want {
			t.Errorf("%g to %g: %s, want %s", c.lowest, c.highest, got, c.want)
		}
	}
}
