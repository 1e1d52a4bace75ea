package sizing_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The drive at the end of a cable of r has just what its motor needs when the larger root of
// u² - V u + r P = 0 is that, with P = 20 + 5 + 4 R W. In a chain the resting drive behind,
// of 5 W, counts at its under-voltage limit of 80 V.
func TestLowestBusForAllMoves(t *testing.T) {
	const (
		name      = "lowest bus voltage for all moves"
		cable     = `, "cable": { "section": "2.5 mm^2", "length": "40 m", "temperature": "50 degC" }`
		inductive = `"resistanceLineToLine": "1 ohm", "inductanceLineToLine": "1 uH", "polePairs": 4`
	)
	pairs := []string{`"resistanceLineToLine": "1 ohm"`, inductive, `"standby": "5 W"`, `"standby": "5 W", "modulationLimit": "13 %"`}
	at := assess(t, replaced(t, pairs...))
	need := find(t, at, "motors", "a", "bus voltage needed").Value
	require.Greater(t, need, 85.)
	f := figureOf(t, at, "supply", "", name)
	require.Equal(t, need, f.Value)
	require.Contains(t, f.How, "decides: a, motor")

	one := replaced(t, append(pairs, linear, linear+cable)...)
	a := assess(t, one)
	ohm, power := figureOf(t, a, "cables", "a", "resistance").Value, 25+4*hotResistance(a)
	v := figureOf(t, a, "supply", "", name).Value
	require.InDelta(t, need, (v+math.Sqrt(v*v-4*ohm*power))/2, 1e-9)

	two := strings.Replace(one, `"axes": ["a"]`, `"axes": ["a", "b"]`, 1)
	two = strings.Replace(two, `"axes": [ {`, `"axes": [ { "name": "b", "load": { "mass": "10 kg" }, `+beltKind+`, "motor": "m", "drive": "d", `+linear+
		strings.Replace(cable, `{ `, `{ "from": "a", `, 1)+` }, {`, 1)
	require.InDelta(t, v+ohm*5/80, figureOf(t, assess(t, two), "supply", "", name).Value, 1e-9)

	// 50 % need a quarter of that: the drives trip first, that behind at 80 V and both drops.
	two = strings.Replace(two, `"13 %"`, `"50 %"`, 1)
	b := assess(t, two)
	f = figureOf(t, b, "supply", "", name)
	require.InDelta(t, 80+ohm*(power+2*5)/80, f.Value, 1e-9)
	require.Contains(t, f.How, "decides: b, under-voltage limit")
}
