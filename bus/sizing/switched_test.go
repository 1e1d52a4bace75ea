package sizing_test

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A lamp of 100 ohm, 20 ohm for its first 50 ms, that goes off at the first dwell and on
// at the second: at the start of the cycle it is on already, without inrush. It takes
// 100 W at 100 V, and 500 W at first.
func TestSwitchedLoads(t *testing.T) {
	lamp := `"switchedLoads": [ { "name": "lamp", "resistance": "100 ohm", "inrush": { "resistance": "20 ohm", "time": "50 ms" } } ]`
	doc := replaced(t, `"bleeder": "1 kohm",`, `"bleeder": "1 kohm", `+lamp+`,`,
		`{ "dwell": "0.5 s" } ]`, `{ "dwell": "0.5 s", "on": ["lamp"] } ]`, `{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "off": ["lamp"] }`)
	a := assess(t, doc)
	st := a.Stations[0]
	first, second := st.Starts[1], st.Starts[3]
	for _, x := range [][2]float64{{0, 0.01}, {first - 1e-3, 0.01}, {first + 1e-3, 0}, {second - 1e-3, 0}, {second + 1e-3, 0.05}, {second + 0.049, 0.05}, {second + 0.051, 0.01}, {st.Duration, 0.01}} {
		require.InDelta(t, x[1], st.Switched.At(x[0]), 1e-12, x[0])
	}
	on := first + (st.Duration - second - 0.05) // at 100 W
	mean := (100*on + 500*0.05) / st.Duration
	require.InDelta(t, mean, figureOf(t, a, "supply", "", "switched loads, mean").Value, 1e-9)
	require.InDelta(t, 500, figureOf(t, a, "supply", "", "switched loads, peak").Value, 1e-9)
	// The supply holds 100 V: what the settled cycle takes more is just that.
	plain := assess(t, replaced(t))
	require.InDelta(t, mean, a.Bus.SagCycle.Energies.Switched/a.Bus.SagCycle.Load.Duration(), 0.5)
	require.Greater(t, a.Bus.MeanPower, plain.Bus.MeanPower+0.9*mean)

	require.Equal(t, []string{"stations[0].steps[1].off[0]"}, faults(t, replaced(t, `{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "off": ["lamp"] }`)))
	require.Equal(t, []string{"switchedLoads[0].resistance", "switchedLoads[0].inrush.resistance"},
		faults(t, replaced(t, `"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "switchedLoads": [ { "name": "lamp", "resistance": "0 ohm", "inrush": { "resistance": "20 ohm", "time": "50 ms" } } ],`)))
}
