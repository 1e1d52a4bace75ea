package sizing_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

func assess(t testing.TB, doc string) *sizing.Assessment {
	t.Helper()
	a, err := sizing.Assess(context.Background(), parse(t, doc))
	require.NoError(t, err)
	return a
}

// find returns a check of the report by its section, subject and name.
func find(t testing.TB, a *sizing.Assessment, section, of, name string) sizing.Check {
	t.Helper()
	for _, s := range a.Sections {
		if s.Key != section {
			continue
		}
		for _, c := range s.Checks {
			if c.Of == of && strings.HasPrefix(c.Name, name) {
				return c
			}
		}
	}
	t.Fatalf("no check %s/%s/%s", section, of, name)
	return sizing.Check{}
}

// simple is a machine for which every figure is worked out by hand below.
const simple = `{
  "machine": "by hand", "ambient": { "low": "20 degC", "high": "40 degC" },
  "supply": { "kind": "regulated", "voltage": "100 V", "tolerance": "0 %", "currentLimit": "10 A", "ratedPower": "900 W",
    "efficiency": 0.8, "mains": { "voltage": "230 V", "tolerance": "10 %", "inputLow": "200 V", "inputHigh": "260 V" } },
  "bank": { "capacitance": "10 mF", "toleranceLow": "0 %", "toleranceHigh": "50 %", "ratedVoltage": "150 V" },
  "bleeder": "1 kohm", "dischargeWarning": "11 s",
  "underVoltage": "80 V", "overVoltage": "120 V",
  "motors": { "m": { "rotorInertia": "0 kg m^2",
    "winding": { "torquePerDCAmpere": "1 N m/A", "resistanceLineToLine": "1 ohm", "temperature": "20 degC", "max": "140 degC" },
    "continuousTorque": "2 N m", "peakTorque": "4 N m", "maxSpeed": "100 rad/s", "ratedAmbient": "40 degC" } },
  "drives": { "d": { "standby": "5 W" } },
  "axes": [ { "name": "a", "load": { "mass": "10 kg" },
    "mechanism": { "kind": "belt", "pitchDiameter": "200 mm", "efficiency": 1 },
    "motor": "m", "drive": "d", "limits": { "speed": "1 m/s", "accel": "2 m/s^2" } } ],
  "stations": [ { "name": "s", "axes": ["a"], "strictlyPeriodic": true, "steps": [
    { "to": { "a": "1 m" } }, { "dwell": "0.5 s" }, { "to": { "a": "0 m" } }, { "dwell": "0.5 s" } ] } ]
}`

// A 10 kg load on a 0.1 m pulley radius accelerates with 2 m/s² to 1 m/s in 0.5 s
// over 0.25 m, runs 0.5 m in 0.5 s and brakes in 0.5 s: 1.5 s for 1 m. Torque 10 x 2
// x 0.1 = 2 N·m, motor speed 10 rad/s. The cycle is 2 (1.5 + 0.5) = 4 s. RMS torque
// √(4 N²m² x 2 s / 4 s) = √2 N·m. Copper at Km = 1: 4 W for 2 s of 4 s, mean 2 W at
// 20 °C. Thermal resistance from the rating: (140 - 40)/(4 W x 374.5/254.5) = 16.989
// K/W. Settled: T - 40 = Rth 2 (234.5 + T)/254.5 with g = 16.989 x 2/254.5 = 0.13351:
// T - 40 = g (234.5 + 40)/(1 - g) = 42.296.
func TestByHand(t *testing.T) {
	a := assess(t, simple)
	require.InDelta(t, 4, a.Stations[0].Duration, 1e-12)
	require.InDelta(t, 2, find(t, a, "motors", "a", "peak motor torque").Value, 1e-12)
	require.InDelta(t, math.Sqrt2, find(t, a, "motors", "a", "RMS motor torque").Value, 1e-12)
	require.InDelta(t, 2, find(t, a, "motors", "a", "RMS motor torque").Limit, 1e-12)
	require.InDelta(t, 10, find(t, a, "motors", "a", "motor speed").Value, 1e-12)
	require.InDelta(t, 82.296, find(t, a, "heat", "a", "winding").Value, 1e-3)

	// Lossless but for copper and standby: over a cycle the bus gives the copper at
	// 82.296 °C, 2 W x 316.796/254.5 = 2.48956 W, the standby 5 W and, at 100 V or
	// above, at least 10 W in the bleeder. The resistor is missing: what comes back
	// raises the bank, and the bleeder then takes more.
	mean := find(t, a, "supply", "", "mean power").Value
	require.Greater(t, mean, 17.4895)
	require.Less(t, mean, 17.9)

	// Peak draw is at the end of acceleration: 2 N·m x 10 rad/s + 4 W x 1.24478 + 5 W =
	// 29.979 W, far below the 1 kW of the supply: no sag at all.
	require.InDelta(t, 100, find(t, a, "supply", "", "lowest bus voltage").Value, 1e-9)

	// Braking from 1 m/s with -2 N·m, cold copper 4 W, standby 5 W: the power is -20
	// (1 - t/0.5) + 9 W, negative until t = 0.275 s; with the bleeder's 10 W at 100 V it
	// is -1 + 40 t, so that the bank gains only 0.0125 J in 0.025 s: V = √(100² + 2 x
	// 0.0125/0.01) = 100.0125 V.
	require.InDelta(t, 100.0125, find(t, a, "bank", "", "highest bus voltage").Value, 2e-4)

	// Stored: ½ 0.015 x 120² = 108 J. Discharge: 1000 x 0.015 ln 2 = 10.397 s, within the
	// 11 s of the warning.
	c := find(t, a, "bank", "", "discharge")
	require.InDelta(t, 10.397, c.Value, 1e-3)
	require.Equal(t, 11., c.Limit)
	require.True(t, a.Fits)

	// Mains 230 V plus or minus 10 %.
	require.InDelta(t, 207, find(t, a, "supply", "", "lowest mains").Value, 1e-9)
	require.InDelta(t, 253, find(t, a, "supply", "", "highest mains").Value, 1e-9)
}

// An axis that stands still for the whole cycle has no RMS torque and settles at
// the ambient.
func TestStandingAxis(t *testing.T) {
	doc := strings.Replace(simple, `"steps": [
    { "to": { "a": "1 m" } }, { "dwell": "0.5 s" }, { "to": { "a": "0 m" } }, { "dwell": "0.5 s" } ]`, `"steps": [ { "dwell": "2 s" } ]`, 1)
	a := assess(t, doc)
	require.Zero(t, find(t, a, "motors", "a", "RMS motor torque").Value)
	require.InDelta(t, 40, find(t, a, "heat", "a", "winding").Value, 1e-9)
}

func TestDemoFits(t *testing.T) {
	a := assess(t, plainDemo(t))
	require.True(t, a.Fits)
	require.True(t, a.Bus.Guarantee.Sag.Exists)
	// The witness is what a machine can really do; the bound must lie beyond it.
	require.LessOrEqual(t, a.Bus.Lowest, a.Bus.Guarantee.Sag.WitnessVoltage)
	require.GreaterOrEqual(t, a.Bus.Highest, a.Bus.Guarantee.Rise.WitnessVoltage)
	for _, s := range a.Stations {
		for _, ax := range s.Axes {
			require.LessOrEqual(t, math.Abs(ax.Hot.Book.Residual), 1e-9*ax.Hot.Book.Throughput())
		}
	}
}

// Machines that clearly do not fit say so, say what, and by how much.
func TestDoesNotFit(t *testing.T) {
	long(t)
	for _, c := range []struct {
		name              string
		doc               string
		section, of, what string
		saying            []string // in the verdict of the text
	}{
		{"motor too small", edit(t, `"peakTorque": "0.72 N m"`, `"peakTorque": "0.4 N m"`),
			"motors", "carriage", "peak motor torque", []string{"carriage: peak motor torque [F+] of", "above the limit of 0.400 N m", "Cure: lower the acceleration"}},
		{"motor too hot", edit(t, `"continuousTorque": "0.86 N m"`, `"continuousTorque": "0.5 N m"`),
			"heat", "gantry", "winding", []string{"gantry: winding, peak [F+ P+] of", "above the limit of 130 °C"}},
		{"motor too slow", edit(t, `"maxSpeed": "4500 rpm"`, `"maxSpeed": "2500 rpm"`),
			"motors", "gantry", "motor speed", []string{"gantry: motor speed of"}},
		{"supply too small", edit(t, `"currentLimit": "6 A"`, `"currentLimit": "2 A"`),
			"supply", "", "lowest bus voltage", []string{"lowest bus voltage"}},
		{"supply far too small", edit(t, `"currentLimit": "6 A"`, `"currentLimit": "0.5 A"`),
			"supply", "", "lowest bus voltage", []string{"lowest bus voltage has no bound", "the stations draw"}},
		{"supply overloaded", edit(t, `"ratedPower": "400 W"`, `"ratedPower": "50 W"`),
			"supply", "", "mean power", []string{"mean power of", "above the limit of 50.0 W"}},
		{"mains", edit(t, `"inputHigh": "264 V"`, `"inputHigh": "240 V"`),
			"supply", "", "highest mains", []string{"highest mains of 253.0 V is 13.0 V (5 %) above the limit of 240.0 V"}},
		{"bank too small", edit(t, `"capacitance": "27 mF"`, `"capacitance": "2 mF"`, `"resistance": "10 ohm"`, `"resistance": "60 ohm"`),
			"bank", "", "highest bus voltage", []string{"highest bus voltage / over-voltage trip of", "Cure: a bank of"}},
		{"resistor heated by the supply", edit(t, `"offVoltage": "77 V"`, `"offVoltage": "73 V"`),
			"resistor", "", "off threshold", []string{"off threshold of 72.3 V"}},
		{"resistor too weak", edit(t, `"continuous": "60 W"`, `"continuous": "3 W"`),
			"resistor", "", "mean power", []string{"above the limit of 3.00 W"}},
		{"resistor pulse", edit(t, `"pulse": "400 J"`, `"pulse": "2 J"`),
			"resistor", "", "energy of one burst", []string{"energy of one burst of"}},
		{"brake too weak", edit(t, `"torque": "0.4 N m"`, `"torque": "0.05 N m"`),
			"motors", "lift", "holding brake", []string{"lift: holding brake [P+] of 50.0 mN m is"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := assess(t, c.doc)
			require.False(t, a.Fits)
			check := find(t, a, c.section, c.of, c.what)
			require.False(t, check.OK)
			require.LessOrEqual(t, check.Margin, 0.0)
			require.NotEmpty(t, check.Cure)
			var b bytes.Buffer
			require.NoError(t, a.WriteText(&b))
			verdict, _, _ := strings.Cut(b.String(), "\nMOTION")
			flat := strings.Join(strings.Fields(verdict), " ")
			require.Contains(t, flat, "DOES NOT FIT")
			for _, s := range c.saying {
				require.Contains(t, flat, s)
			}
			t.Log(flat)
		})
	}
}

// A cure that names a bank is one: with that capacitance the limit is kept, and
// with a tenth less it is not.
func TestBankCure(t *testing.T) {
	long(t)
	for _, c := range []struct {
		section, name string
		weak          []string
	}{
		{"bank", "highest bus voltage / over", []string{`"resistance": "10 ohm"`, `"resistance": "60 ohm"`, `"capacitance": "27 mF"`, `"capacitance": "2 mF"`}},
		{"supply", "lowest bus voltage", []string{`"currentLimit": "6 A"`, `"currentLimit": "4 A"`}},
	} {
		a := assess(t, edit(t, c.weak...))
		cure := find(t, a, c.section, "", c.name).Cure
		require.Contains(t, cure, "a bank of ")
		need := a.Bus.BankForSag
		if c.section == "bank" {
			need = a.Bus.BankForRise
		}
		require.Positive(t, need)
		for _, k := range []float64{1, 0.9} {
			m := parse(t, edit(t, c.weak...))
			m.Bank.Capacitance = k * need
			b, err := sizing.Assess(context.Background(), m)
			require.NoError(t, err)
			check := find(t, b, c.section, "", c.name)
			require.Equal(t, k == 1, check.OK, "%s: %g of the bank gives %g, limit %g", c.name, k, check.Value, check.Limit)
		}
	}
}

// A vertical axis without a brake is a caution and not a failure.
func TestNoHoldingBrake(t *testing.T) {
	a := assess(t, edit(t, `"start": "180 mm",
      "holdingBrake": { "torque": "0.4 N m", "delay": "25 ms", "energyPerStop": "8 J", "totalEnergy": "20 kJ", "drop": "60 mm" }`, `"start": "180 mm"`))
	require.True(t, a.Fits)
	c := find(t, a, "motors", "lift", "holding brake")
	require.False(t, c.OK)
	require.True(t, c.Caution)
	require.Contains(t, strings.Join(a.Cautions, "\n"), `axis "lift" can fall when power is lost; it has no holding brake`)
}

func TestUnregulatedSupply(t *testing.T) {
	doc := edit(t, `"kind": "regulated",
    "voltage": "72 V",
    "tolerance": "2 %",
    "currentLimit": "6 A"`, `"kind": "unregulated", "openCircuit": "68 V", "resistance": "0.4 ohm", "lineTolerance": "10 %"`,
		`"inputCapacitance": "330 uF",`, ``, `"inrushLimiter": "5 ohm",`, ``)
	a := assess(t, doc)
	require.InDelta(t, 61.2, find(t, a, "supply", "", "lowest bus voltage").Value, 5)
	require.InDelta(t, 74.8, find(t, a, "resistor", "", "off threshold").Limit, 1e-9)
}

// A winding whose copper loss runs away is reported as such.
func TestRunaway(t *testing.T) {
	a := assess(t, edit(t, `"continuousTorque": "0.86 N m"`, `"continuousTorque": "0.12 N m"`))
	c := find(t, a, "heat", "gantry", "winding")
	require.True(t, math.IsInf(c.Value, 1))
	require.NotEmpty(t, c.Reason)
	require.False(t, a.Fits)
}

func TestCycleFaults(t *testing.T) {
	for _, c := range []struct{ name, doc, path string }{
		{"does not close", edit(t, `"back", "to": { "gantry": "0 mm"`, `"back", "to": { "gantry": "10 mm"`), "stations[0].steps[7].to.gantry"},
		{"takes no time", edit(t, `{ "name": "index", "by": { "conveyor": "150 mm" } },
        { "name": "wait for the head", "dwell": "0.9 s" }`, `{ "name": "nothing" }`), "stations[1].steps"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := sizing.Assess(context.Background(), parse(t, c.doc))
			in := profile.InputErrors(err)
			require.NotEmpty(t, in)
			require.Equal(t, c.path, in[0].Path)
			t.Log(err)
		})
	}
	_, err := sizing.Assess(context.Background(), nil)
	require.NotEmpty(t, profile.InputErrors(err))
	_, err = sizing.Assess(context.Background(), &sizing.Machine{})
	require.NotEmpty(t, profile.InputErrors(err))
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithDeadline(context.Background(), time.Now().Add(-time.Second))
	defer cancel()
	_, err := sizing.Assess(ctx, parse(t, demo(t)))
	require.True(t, errors.Is(err, context.DeadlineExceeded), err)
}

func TestTextReport(t *testing.T) {
	for name, doc := range map[string]string{
		"fits": demo(t), "one station": simple,
		"fails": edit(t, `"currentLimit": "6 A"`, `"currentLimit": "0.5 A"`, `"peakTorque": "0.72 N m"`, `"peakTorque": "0.3 N m"`),
	} {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			require.NoError(t, assess(t, doc).WriteText(&b))
			last := -1
			for _, head := range []string{"\nMOTION", "\nMOTORS", "\nSUPPLY", "\nBANK", "\nRESISTOR", "\nCABLES", "\nMAINS", "\nSTART-UP", "\nSTOPS", "\nRAIL", "\nTEMPERATURES", "\nCAUTIONS", "are matters of local codes"} {
				at := strings.Index(b.String(), head)
				require.Greater(t, at, last, head)
				last = at
			}
			for _, line := range strings.Split(b.String(), "\n") {
				require.LessOrEqual(t, utf8.RuneCountInString(line), 100, line)
			}
			require.NotContains(t, b.String(), "NaN")
			require.NotContains(t, b.String(), "%!")
		})
	}
}

func TestJSONReport(t *testing.T) {
	a := assess(t, edit(t, `"currentLimit": "6 A"`, `"currentLimit": "0.5 A"`))
	var b bytes.Buffer
	require.NoError(t, a.WriteJSON(&b))
	var r struct {
		Fits     bool
		Sections []struct {
			Section string
			Figures []struct{ Name, How string }
			Checks  []struct {
				Name, Result, Reason, Cure, How string
				Value, Limit                    *float64
			}
		}
		Cautions []string
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &r))
	require.False(t, r.Fits)
	require.Len(t, r.Sections, len(a.Sections))
	require.NotEmpty(t, r.Cautions)
	found := false
	for _, s := range r.Sections {
		for _, f := range s.Figures {
			require.NotEmpty(t, f.How, f.Name)
		}
		for _, c := range s.Checks {
			require.NotEmpty(t, c.How, c.Name)
			require.NotNil(t, c.Limit)
			if c.Name == "lowest bus voltage" {
				found = true
				require.Nil(t, c.Value) // no bound
				require.NotEmpty(t, c.Reason)
				require.Equal(t, "fails", c.Result)
			}
		}
	}
	require.True(t, found)
}

// The books of the moves add up: over the cycle of each axis they give the book of
// its trace, and each move's own entries give what it took from the bus.
func TestMovesInJSON(t *testing.T) {
	a := assess(t, plainDemo(t))
	var b bytes.Buffer
	require.NoError(t, a.WriteJSON(&b))
	var r struct {
		Moves []map[string]any
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &r))
	require.Len(t, r.Moves, 8*4+2)
	drawn := map[string]float64{}
	for _, m := range r.Moves {
		rest := 0.0
		for k, v := range m {
			if x, ok := v.(float64); ok && k != "start" && k != "drawn" && k != "returned" {
				rest += x
			}
		}
		require.InDelta(t, m["drawn"].(float64)-m["returned"].(float64), rest, 1e-9)
		drawn[m["axis"].(string)] += m["drawn"].(float64)
	}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			require.InDelta(t, ax.Hot.Book.Drawn, drawn[ax.Name], 1e-9)
		}
	}
}

// The same document gives the same report, to the last bit.
func TestDeterministic(t *testing.T) {
	var first, second bytes.Buffer
	require.NoError(t, assess(t, demo(t)).WriteJSON(&first))
	require.NoError(t, assess(t, demo(t)).WriteJSON(&second))
	require.Equal(t, first.String(), second.String())
}

func BenchmarkAssess(b *testing.B) {
	m := parse(b, demo(b))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := sizing.Assess(context.Background(), m); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkParse(b *testing.B) {
	doc := demo(b)
	b.ReportAllocs()
	for b.Loop() {
		parse(b, doc)
	}
}

// A bank that keeps 80 % of its capacitance, behind twice its series resistance, by hand: with what
// comes back, E, it rises to √(V² + 2E/C) at most. The bus with the new bank is that of a machine
// whose bank does not age.
func TestBankWhenYoung(t *testing.T) {
	const bank = `"ratedVoltage": "150 V" }`
	aged := `"ratedVoltage": "150 V", "seriesResistance": "20 mohm", "endOfLife": { "capacitance": "80 %", "seriesResistance": 2 } }`
	heavy := []string{`"mass": "10 kg"`, `"mass": "20 kg"`, `"bleeder": "1 kohm",`, `"bleeder": "100 kohm",`, `"dischargeWarning": "11 s"`, `"dischargeWarning": "2000 s"`,
		`"capacitance": "10 mF"`, `"capacitance": "2 mF"`, `"resistanceLineToLine": "1 ohm"`, `"resistanceLineToLine": "0.1 ohm"`, `"currentLimit": "10 A"`, `"currentLimit": "0.3 A"`}
	a := assess(t, replaced(t, append(heavy, bank, aged)...))
	young := assess(t, replaced(t, append(heavy, bank, `"ratedVoltage": "150 V", "seriesResistance": "20 mohm" }`)...))
	require.Nil(t, young.Bus.Young)
	require.Equal(t, young.Bus.Lowest, figureOf(t, a, "bank", "", "lowest bus voltage, bank new").Value)
	require.Equal(t, young.Bus.Highest, figureOf(t, a, "bank", "", "highest bus voltage, bank new").Value)
	require.Less(t, a.Bus.Lowest, young.Bus.Lowest)
	// Both start from 100 V with the same energy: (V² - 100²) goes with 1/C, but for the drop of some
	// 10 mV at the series resistance.
	rise := func(v float64) float64 { return v*v - 100*100 }
	require.InEpsilon(t, rise(young.Bus.Highest)/0.8, rise(a.Bus.Highest), 0.01)
}
