package sizing_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// feed is what feeds the simple machine.
var feed = simple[strings.Index(simple, `"supply"`):strings.Index(simple, `"motors"`)]

// twoBuses is the simple machine twice, on a bus each; the second one has a smaller bank.
func twoBuses(t testing.TB) string {
	t.Helper()
	one := strings.TrimRight(strings.TrimSpace(feed), ",")
	axis := simple[strings.Index(simple, `{ "name": "a"`):strings.Index(simple, ` ],
  "stations"`)]
	station := simple[strings.Index(simple, `{ "name": "s"`):strings.LastIndex(simple, ` ]`)]
	other := strings.NewReplacer(`"a"`, `"b"`, `"s"`, `"z"`)
	return strings.NewReplacer(
		feed, `"buses": [ { "name": "left", "stations": ["s"], `+one+` },
			{ "name": "right", "stations": ["z"], `+strings.Replace(one, "10 mF", "2 mF", 1)+`, "startUp": { "turnOn": "90 V", "within": "1 s" } } ],
  `,
		axis, axis+", "+other.Replace(axis), station, station+", "+other.Replace(station),
	).Replace(simple)
}

// A machine on two buses is assessed bus by bus, each as if it were alone.
func TestSeveralBuses(t *testing.T) {
	a := assess(t, twoBuses(t))
	require.Len(t, a.Parts, 2)
	left, right := a.Parts[0], a.Parts[1]
	require.Equal(t, "left", left.Machine.Name)
	require.InDelta(t, assess(t, simple).Bus.Highest, left.Bus.Highest, 1e-12)
	require.InDelta(t, assess(t, replaced(t, "10 mF", "2 mF")).Bus.Highest, right.Bus.Highest, 1e-12)
	require.Greater(t, right.Bus.Highest, left.Bus.Highest)
	require.Equal(t, left.Fits && right.Fits, a.Fits)
	require.Equal(t, "b", right.Stations[0].Axes[0].Name)

	var text, js bytes.Buffer
	require.NoError(t, a.WriteText(&text))
	require.Contains(t, text.String(), "2 buses with a supply each")
	require.Equal(t, 2, strings.Count(text.String(), "\nSUPPLY:"))
	require.NoError(t, a.WriteJSON(&js))
	var r struct {
		Fits  bool
		Parts []struct{ Machine string }
	}
	require.NoError(t, json.Unmarshal(js.Bytes(), &r))
	require.Len(t, r.Parts, 2)

	// Faults name the place in the document.
	for _, c := range []struct {
		from, to string
		paths    []string
	}{
		{`"bank": { "capacitance": "2 mF"`, `"bank": { "capacitance": "0 mF"`, []string{"buses[1].bank.capacitance"}},
		{`"stations": ["z"]`, `"stations": ["y"]`, []string{"buses[1].stations[0]", "stations[1].name"}},
		{`"stations": ["z"]`, `"stations": ["s"]`, []string{"buses[1].stations[0]", "stations[1].name"}},
		{`"turnOn": "90 V"`, `"turnOn": "10 V"`, []string{"buses[1].startUp.turnOn"}},
		{`"name": "b", "load": { "mass": "10 kg" }`, `"name": "b", "load": { "mass": "-10 kg" }`, []string{"axes[1].load.mass"}},
		{`"machine": "by hand",`, `"machine": "by hand", "bleeder": "1 ohm",`, []string{"bleeder"}},
	} {
		require.Contains(t, twoBuses(t), c.from)
		require.Equal(t, c.paths, faults(t, strings.Replace(twoBuses(t), c.from, c.to, 1)))
	}
}

// busesOfAll has every field that a bus may have.
func busesOfAll(t testing.TB) string {
	brake := `{ "resistance": "10 ohm", "onVoltage": "115 V", "offVoltage": "112 V", "continuous": "60 W", "pulse": "400 J" }`
	clamp := `"clamp": { "voltage": "116 V", "resistance": "1 ohm", "continuous": "90 W", "pulse": "1 kJ" }, `
	return strings.NewReplacer(`"name": "left",`, `"name": "left", "brakeResistor": `+brake+`, `+clamp,
		`"name": "right",`, `"name": "right", "bleederTolerance": "1 %", "brakeResistors": [ `+brake+` ], `).Replace(twoBuses(t))
}

// Both buses in one cabinet of 1 m², 5.5 W/K: the standby of both drives, 5 W each, and 12 W
// besides, once. With a cabinet of its own each bus has its 5 W alone.
func TestSeveralBusesInOneCabinet(t *testing.T) {
	shared := func(more string) string {
		return strings.Replace(twoBuses(t), `"machine": "by hand",`, `"machine": "by hand", "cabinet": { "surface": "1 m^2", "otherHeat": "12 W", "max": "50 degC", "inside": ["drives"] }`+more+`,`, 1)
	}
	a := assess(t, shared(""))
	for _, p := range a.Parts {
		require.InDelta(t, 44, p.Heat.Cabinet.Inside, 1e-9)
		require.InDelta(t, 44, find(t, p, "heat", "cabinet", "air inside").Value, 1e-9)
		require.InDelta(t, 5, figureOf(t, p, "heat", "", "heat in the cabinet: right: drives").Value, 1e-9)
		require.InDelta(t, 12, figureOf(t, p, "heat", "", "heat in the cabinet: other").Value, 1e-9)
	}
	own := strings.Replace(shared(""), `"name": "right",`, `"name": "right", "cabinet": { "surface": "1 m^2", "inside": ["drives"] },`, 1)
	a = assess(t, own)
	require.InDelta(t, 40+17/5.5, a.Parts[0].Heat.Cabinet.Inside, 1e-9)
	require.InDelta(t, 40+5/5.5, a.Parts[1].Heat.Cabinet.Inside, 1e-9)
	require.Equal(t, []string{"cabinet.surface"}, faults(t, strings.Replace(shared(""), `"1 m^2"`, `"-1 m^2"`, 1)))
	require.Equal(t, []string{"buses[1].cabinet.otherHeat"}, faults(t, strings.Replace(own, `"surface": "1 m^2", "inside"`, `"surface": "1 m^2", "otherHeat": "-1 W", "inside"`, 1)))
}
