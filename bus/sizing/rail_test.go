package sizing_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/profile"
)

// A lamp without a lowest voltage gives nothing to hold up: the fault points into the document.
func TestRailFaultsPointIntoTheDocument(t *testing.T) {
	_, err := assessment(t, replaced(t, `"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "rail": { "supply": { "voltage": "24 V", "tolerance": "0 %", "efficiency": 0.9 },
		"consumers": [ { "name": "lamp", "kind": "resistance", "holding": "5 W" } ] },`))
	in := profile.InputErrors(err)
	require.Len(t, in, 1, "%v", err)
	require.Equal(t, "rail.consumers", in[0].Path)
}
