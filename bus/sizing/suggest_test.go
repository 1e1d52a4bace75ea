package sizing_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

// A misspelt name is reported once, with the nearest name that there is and how often it
// comes again.
func TestMisspelt(t *testing.T) {
	for _, c := range []struct {
		doc, path string
		want      []string
	}{
		{edit(t, `"axes": ["conveyor"]`, `"axes": ["conveyer"]`), "stations[1].axes[0]", []string{`did you mean "conveyor"?`}},
		{edit(t, `"bleeder":`, `"bleader":`), "bleader", []string{`did you mean "bleeder"?`, "one of"}},
		{edit(t, `"motor": "large"`, `"motor": "lagre"`, `"motor": "large"`, `"motor": "lagre"`), "axes[0].motor", []string{`did you mean "large"?`, "and 1 more like it"}},
		{edit(t, `"to": { "lift": "20 mm" }`, `"to": { "lit": "20 mm" }`, `"to": { "lift": "180 mm" }`, `"to": { "lit": "180 mm" }`, `"to": { "lift": "40 mm" }`, `"to": { "lit": "40 mm" }`),
			"stations[0].steps[0].to.lit", []string{`did you mean "lift"?`, "and 2 more like it"}},
		{edit(t, `"viscous": "12 N s/m"`, `"viscos": "12 N s/m"`, `"viscous": "5 N s/m"`, `"viscos": "5 N s/m"`), "axes[0].load.viscos", []string{`did you mean "viscous"?`, "and 1 more like it"}},
		{edit(t, `"kind": "screw"`, `"kind": "skrew"`), "axes[2].mechanism.kind", []string{`did you mean "screw"?`}},
		{edit(t, `"kind": "screw"`, `"kind": "hydraulic"`), "axes[2].mechanism.kind", []string{"one of"}},
	} {
		_, err := sizing.Parse(strings.NewReader(c.doc))
		in := profile.InputErrors(err)
		require.Len(t, in, 1, "%v", err)
		require.Equal(t, c.path, in[0].Path)
		for _, w := range c.want {
			require.Contains(t, in[0].Want, w)
		}
		require.Equal(t, c.want[0] != "one of", strings.Contains(in[0].Want, "did you mean"))
	}
}
