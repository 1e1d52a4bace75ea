package sizing_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
)

func figureOf(t testing.TB, a *sizing.Assessment, section, of, name string) sizing.Figure {
	t.Helper()
	for _, s := range a.Sections {
		for _, f := range s.Figures {
			if s.Key == section && f.Of == of && f.Name == name {
				return f
			}
		}
	}
	t.Fatalf("no figure %s/%s/%s", section, of, name)
	return sizing.Figure{}
}

// Limits of discharge: IEC 60204-1, 6.2.4: at most 60 V within 5 s, except a stored charge
// of 60 µC or less, or with a durable warning of the waiting time where 5 s would
// disturb the function (LOOKED UP-2); NFPA 79-2024, 6.5.1, says the same (LOOKED UP-2).
// The bleeder that would do: 5/(0.015 ln 2) = 481 ohm.
func TestDischargeLimit(t *testing.T) {
	long(t)
	const warning = `, "dischargeWarning": "11 s"`
	a := assess(t, replaced(t, warning, ""))
	c := find(t, a, "bank", "", "discharge")
	require.Equal(t, 5., c.Limit)
	require.False(t, c.OK)
	require.False(t, c.Caution)
	require.False(t, a.Fits)
	require.Contains(t, c.Cure, "481 ohm")

	require.False(t, assess(t, replaced(t, warning, `, "dischargeWarning": "10 s"`)).Fits)
	none := assess(t, replaced(t, `"bleeder": "1 kohm", `, ""))
	require.False(t, none.Fits)
	require.Equal(t, "there is no bleeder", find(t, none, "bank", "", "discharge").Reason)

	// 0.3 µF, 0.45 µF with its tolerance, at 120 V hold 54 µC; 0.36 and 0.54 µF 64.8 µC.
	for capacitance, checked := range map[string]bool{"0.3 uF": false, "0.36 uF": true} {
		found := false
		for _, c := range assess(t, replaced(t, `"bleeder": "1 kohm", "dischargeWarning": "11 s",`, "", `"10 mF"`, `"`+capacitance+`"`)).Sections[5].Checks {
			found = found || strings.HasPrefix(c.Name, "discharge")
		}
		require.Equal(t, checked, found, capacitance)
	}
	require.Equal(t, []string{"dischargeWarning"}, faults(t, replaced(t, warning, `, "dischargeWarning": "2 s"`)))
}

// Tolerances of what drains the bus, each at its bad end, by hand: 80 and 77 V with 2 % are
// 81.6 and 75.46 V, 10 ohm with 5 % are 9.5 and 10.5 ohm, 390 ohm with 10 % are 351 and
// 429 ohm.
func TestDrainCorners(t *testing.T) {
	long(t)
	// The demonstration machine without tolerances.
	edit := func(t testing.TB, pairs ...string) string {
		return edit(t, append([]string{`"bleederTolerance": "5 %",`, ``, "\"tolerance\": \"5 %\",\n    \"thresholdTolerance\": \"1 %\",", ``, `"360 ohm"`, `"390 ohm"`}, pairs...)...)
	}
	plain := assess(t, edit(t))
	a := assess(t, edit(t, `"offVoltage": "77 V",`, `"offVoltage": "77 V", "thresholdTolerance": "2 %", "tolerance": "5 %",`, `"bleeder": "390 ohm"`, `"bleeder": "390 ohm", "bleederTolerance": "10 %"`))
	require.InDelta(t, 81.6, find(t, a, "resistor", "", "on threshold").Value, 1e-9)
	require.InDelta(t, 75.46, find(t, a, "resistor", "", "off threshold").Value, 1e-9)
	require.InDelta(t, 81.6*81.6/9.5, figureOf(t, a, "resistor", "", "power burned at the on threshold, most").Value, 1e-9)
	require.InDelta(t, 81.6*81.6/10.5, figureOf(t, a, "resistor", "", "power burned at the on threshold, least").Value, 1e-9)
	require.InDelta(t, math.Max(81.6, a.Bus.Highest)/9.5, figureOf(t, a, "resistor", "", "current of its switch").Value, 1e-9)
	// ½ 0.03372 F, the capacitors of the drives included: (81.6² - 75.46²) against (80² - 77²).
	burst := find(t, a, "resistor", "", "energy of one burst").Value - find(t, plain, "resistor", "", "energy of one burst").Value
	require.InDelta(t, 0.01686*(81.6*81.6-75.46*75.46-80*80+77*77), burst, 1e-9)
	// R C grows by 1.1, but for the bank's own 12 mohm.
	require.InDelta(t, find(t, plain, "bank", "", "discharge").Value*429.012/390.012, find(t, a, "bank", "", "discharge").Value, 1e-9)
	// The rise is that of a machine all of whose thresholds and resistances are high.
	late := assess(t, edit(t, `"onVoltage": "80 V"`, `"onVoltage": "81.6 V"`, `"offVoltage": "77 V"`, `"offVoltage": "78.54 V"`, `"resistance": "10 ohm"`, `"resistance": "10.5 ohm"`, `"bleeder": "390 ohm"`, `"bleeder": "429 ohm"`))
	// But for what the cables' currents are taken at: the lowest no-load voltage, or the
	// voltages that the sag leaves.
	require.InDelta(t, late.Bus.Highest, a.Bus.Highest, 1e-3)
	require.Greater(t, a.Bus.Highest, plain.Bus.Highest+0.5)
	// The bleeder takes 73.44²/351 for 73.44²/390 W.
	require.InDelta(t, 73.44*73.44*(1/351.-1/390.), a.Bus.MeanPower-plain.Bus.MeanPower, 0.02)
	require.Less(t, a.Bus.Lowest, plain.Bus.Lowest) // the bleeder drains more

	// The supply may hold the resistor on at one end of the tolerance only: 73.44 V.
	heats := assess(t, edit(t, `"offVoltage": "77 V",`, `"offVoltage": "77 V", "thresholdTolerance": "5 %",`))
	require.False(t, heats.Fits)
	require.False(t, find(t, heats, "resistor", "", "off threshold").OK)
	require.False(t, heats.Bus.Guarantee.Rise.Exists)

	for field, path := range map[string]string{`"tolerance": 1`: "brakeResistor.tolerance", `"thresholdTolerance": 2`: "brakeResistor.thresholdTolerance"} {
		require.Equal(t, []string{path}, faults(t, edit(t, `"offVoltage": "77 V",`, `"offVoltage": "77 V", `+field+`,`)))
	}
	require.Equal(t, []string{"bleederTolerance"}, faults(t, replaced(t, `"bleeder": "1 kohm"`, `"bleeder": "1 kohm", "bleederTolerance": 1.5`)))
	require.Equal(t, []string{"bleederTolerance"}, faults(t, replaced(t, `"bleeder": "1 kohm"`, `"bleederTolerance": 0.1`)))
}
