package crosscheck

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Transient is what ngspice computed.
type Transient struct {
	Version  string
	Accepted int     // steps
	Seconds  float64 // of the transient analysis, by ngspice's own account

	Time []float64
	Rows [][]float64 // for every time: bank, ends of feeders [V], source, brake resistors [A]
}

// HaveNgspice returns why ngspice cannot be run, or nil.
func HaveNgspice() error {
	_, err := exec.LookPath("ngspice")
	return err
}

// RunNgspice runs a netlist up to a time.
func RunNgspice(netlist string, end float64) (*Transient, error) {
	dir, err := os.MkdirTemp("", "crosscheck")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if err := os.WriteFile(filepath.Join(dir, "bus.cir"), []byte(netlist), 0o644); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	cmd := exec.CommandContext(ctx, "ngspice", "-b", "bus.cir")
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	text, readErr := os.ReadFile(filepath.Join(dir, "out.txt"))
	if readErr != nil { // the exit status is not reliable
		return nil, fmt.Errorf("ngspice: %v, %w: %s", err, readErr, out)
	}
	t := &Transient{Version: find(out, `ngspice-(\S+)`)}
	t.Accepted, _ = strconv.Atoi(find(out, `(?i)accepted timepoints = (\d+)`))
	t.Seconds, _ = strconv.ParseFloat(find(out, `(?i)transient analysis time = ([-+.\deE]+)`), 64)
	scan := bufio.NewScanner(strings.NewReader(string(text)))
	for scan.Scan() {
		fields := strings.Fields(scan.Text())
		if len(fields) < 2 {
			continue
		}
		row := make([]float64, len(fields))
		for i, f := range fields {
			if row[i], err = strconv.ParseFloat(f, 64); err != nil {
				return nil, fmt.Errorf("ngspice: out.txt: %w", err)
			}
		}
		t.Time = append(t.Time, row[0])
		t.Rows = append(t.Rows, row[1:])
	}
	if n := len(t.Time); n == 0 || t.Time[n-1] < 0.999*end {
		return nil, fmt.Errorf("ngspice did not reach the end: %s", out)
	}
	return t, nil
}

// Thinned returns t with about n of its points, with point also, and with those
// on either side of every switching of a brake resistor, the currents of which
// follow the first columns.
func (t *Transient) Thinned(n, also, columns int) *Transient {
	thin := *t
	thin.Time, thin.Rows = nil, nil
	keep := make([]bool, len(t.Time))
	for k := range keep {
		keep[k] = keep[k] || k%max(1, len(t.Time)/n) == 0 || k == also || k == len(t.Time)-1
		if k > 0 && !slices.Equal(t.on(k-1, columns), t.on(k, columns)) {
			keep[k-1], keep[k] = true, true
		}
	}
	for k := range keep {
		if keep[k] {
			thin.Time = append(thin.Time, t.Time[k])
			thin.Rows = append(thin.Rows, t.Rows[k])
		}
	}
	return &thin
}

// on tells which brake resistors carry current at point k.
func (t *Transient) on(k, columns int) []bool {
	var on []bool
	for _, i := range t.Rows[k][columns:] {
		on = append(on, i > 1e-6)
	}
	return on
}

// Switchings returns between which two instants each brake resistor switched.
func (t *Transient) Switchings(columns int) (between [][2]float64) {
	for k := 1; k < len(t.Time); k++ {
		if !slices.Equal(t.on(k-1, columns), t.on(k, columns)) {
			between = append(between, [2]float64{t.Time[k-1], t.Time[k]})
		}
	}
	return between
}

func find(text []byte, pattern string) string {
	m := regexp.MustCompile(pattern).FindSubmatch(text)
	if m == nil {
		return ""
	}
	return string(m[1])
}
