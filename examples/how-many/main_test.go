package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/headroom/bus/sizing"
)

// What is found to happen lies above the bound, the usual check above that, and the limits are
// kept by just the number that is named.
func TestHowMany(t *testing.T) {
	ctx := context.Background()
	m, err := sizing.Parse(strings.NewReader(document))
	if err != nil {
		t.Fatal(err)
	}
	c, err := m.Carries(ctx, sizing.Copies{Station: m.Stations[0].Name, UpTo: upTo})
	if err != nil {
		t.Fatal(err)
	}
	rows, err := table(ctx, m, m.Stations[0].Name, c.Most+1)
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 5 {
		t.Fatalf("%d rows", len(rows))
	}
	last := m.Supply.Source.NoLoadVoltage()
	for _, r := range rows {
		if r.fits != (r.number <= c.Most) {
			t.Errorf("%d stations: fits %v, %d are said to", r.number, r.fits, c.Most)
		}
		if !(r.bound <= last && r.bound <= r.witness && r.witness <= r.together+1e-9) {
			t.Errorf("%d stations: bound %g V after %g V, worst found %g V, all together %g V", r.number, r.bound, last, r.witness, r.together)
		}
		last = r.bound
	}

	folder := t.TempDir()
	var out strings.Builder
	if err := run(ctx, folder, &out); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(out.String(), "keep every limit, however their cycles line up") {
		t.Errorf("not said how many: %s", out.String())
	}
	for line := range strings.Lines(out.String()) {
		if n := len([]rune(line)); n > 111 {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	svg, err := os.ReadFile(filepath.Join(folder, "how-many.svg"))
	if err != nil || !strings.Contains(string(svg), "<svg") {
		t.Errorf("plot: %v", err)
	}
}
