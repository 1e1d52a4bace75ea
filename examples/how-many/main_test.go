package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
)

// What is found to happen lies above the bound, the usual check above that, and the limits are
// kept by just the number that is named.
func TestHowMany(t *testing.T) {
	ctx := context.Background()
	m, err := sizing.Parse(strings.NewReader(document))
	require.NoError(t, err)
	c, err := m.Carries(ctx, sizing.Copies{Station: m.Stations[0].Name, UpTo: upTo})
	require.NoError(t, err)
	rows, err := table(ctx, m, m.Stations[0].Name, c.Most+1)
	require.NoError(t, err)
	require.Greater(t, len(rows), 4)
	last := m.Supply.Source.NoLoadVoltage()
	for _, r := range rows {
		require.Equal(t, r.number <= c.Most, r.fits)
		require.LessOrEqual(t, r.bound, last)
		require.LessOrEqual(t, r.bound, r.witness)
		require.LessOrEqual(t, r.witness, r.together+1e-9)
		last = r.bound
	}

	folder := t.TempDir()
	var out strings.Builder
	require.NoError(t, run(ctx, folder, &out))
	require.Contains(t, out.String(), "keep every limit, however their cycles line up")
	for line := range strings.Lines(out.String()) {
		require.LessOrEqual(t, len([]rune(line)), 111)
	}
	svg, err := os.ReadFile(filepath.Join(folder, "how-many.svg"))
	require.NoError(t, err)
	require.Contains(t, string(svg), "<svg")
}
