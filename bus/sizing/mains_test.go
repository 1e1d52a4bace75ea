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

	"github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

const (
	// regulatedSupply is what the documents below replace in the machine by hand.
	regulatedSupply = `"kind": "regulated", "voltage": "100 V", "tolerance": "0 %", "currentLimit": "10 A", "ratedPower": "900 W",
    "efficiency": 0.8, "mains": { "voltage": "230 V", "tolerance": "10 %", "inputLow": "200 V", "inputHigh": "260 V" }`
	behindTransformer = `"kind": "rectified", "connection": "single-phase bridge",
    "transformer": { "secondary": "75 V", "rating": "800 VA", "shortCircuit": "5 %", "copperLoss": "25 W", "noLoadLoss": "8 W", "magnetisingCurrent": "0.2 A" },
    "diodeThreshold": "0.9 V", "diodeResistance": "5 mohm", "limiter": "2 ohm", "ratedPower": "900 W",
    "mains": { "voltage": "230 V", "tolerance": "5 %", "frequency": "50 Hz" }`
	atTheMains = `"kind": "rectified", "connection": "three-phase bridge",
    "lineResistance": "50 mohm", "lineInductance": "100 uH",
    "diodeThreshold": "0.9 V", "ratedPower": "900 W",
    "mains": { "voltage": "75 V", "tolerance": "5 %", "frequency": "50 Hz" }`
	limit10A = `"currentLimit": "10 A"`
)

// valueOf returns a figure of the report by its section, subject and name.
func valueOf(t testing.TB, a *sizing.Assessment, section, of, name string) float64 {
	t.Helper()
	for _, s := range a.Sections {
		if s.Key != section {
			continue
		}
		for _, f := range s.Figures {
			if f.Of == of && f.Name == name {
				return f.Value
			}
		}
	}
	t.Fatalf("no figure %s/%s/%s", section, of, name)
	return 0
}

// The axis of 10 kg takes, with the copper c hot, 5 W standby + c + 40 W/s t while it
// speeds up for 0.5 s, 5 W for 0.5 s, 5 W + c - 20 W + 40 W/s t while it brakes for 0.5 s
// and 5 W for 0.5 s; twice in 4 s. The bleeder takes 10 W, so that hardly anything comes
// back. c is (2 N·m)² (1 ohm at 20 °C) over (1 N·m/A)², grown by the 234.5 line.
func TestMainsByHand(t *testing.T) {
	a := assess(t, variants(t)["mains"])
	c := 4 * (234.5 + a.Stations[0].Axes[0].Winding.Temperature) / (234.5 + 20)
	cube := func(x float64) float64 { return x * x * x }
	mean := 15 + c/2
	// ∫ (p + 40 t)² dt from 0 to 0.5 is ((p+20)³ - p³)/120.
	square := ((cube(35+c)-cube(15+c))/120 + (cube(15+c)-cube(c-5))/120 + 225) / 2
	perWatt := 1 / (0.8 * 0.9 * 207)
	near := func(want, got float64) {
		t.Helper()
		require.InEpsilon(t, want, got, 2e-4)
	}
	near(math.Sqrt(square)*perWatt, valueOf(t, a, "mains", "", "line current, at most"))
	near(2*(35+c)*perWatt, valueOf(t, a, "mains", "", "crest of the line current"))
	near(mean/0.8, valueOf(t, a, "mains", "", "real power, at most"))
	near(math.Sqrt(square)*perWatt*207, valueOf(t, a, "mains", "", "apparent power, at most"))
	near(0.9*mean/math.Sqrt(square), valueOf(t, a, "mains", "", "power factor"))
	// √2 253 V/10 ohm; 470 µF (√2 253 V)²/(2 10 ohm); 10 ohm 470 µF ln 20.
	near(35.780, valueOf(t, a, "mains", "cold limiter", "inrush"))
	near(3.0085, valueOf(t, a, "mains", "cold limiter", "inrush I²t"))
	near(14.080e-3, valueOf(t, a, "mains", "cold limiter", "inrush lasts"))
	near(math.Sqrt(square)*perWatt/0.8, valueOf(t, a, "mains", "fuse or breaker", "rated for"))
	near(3.0085, valueOf(t, a, "mains", "fuse or breaker", "melting I²t above"))
	near(25.3, valueOf(t, a, "mains", "fuse or breaker", "trips at once above"))
	near(4*mean/0.8, valueOf(t, a, "mains", "s", "per cycle, at most"))
	near(4*mean/0.8/2.5, valueOf(t, a, "mains", "s", "per part"))
	near(3600*mean/0.8, valueOf(t, a, "mains", "", "energy per hour, at most"))
	near(4000*3600*mean/0.8, valueOf(t, a, "mains", "", "energy per year, at most"))
	require.NotContains(t, strings.Join(a.Unchecked, "\n"), "not given)\nenergy")
}

// Stations in any phase: the mean of P² is at most highest P times mean P. 6 A at 72 V
// plus 2 % is 440.64 W; efficiency 0.9, power factor 0.95, mains 207 V.
func TestMainsOfTheDemo(t *testing.T) {
	a := assess(t, plainDemo(t))
	mean := a.Bus.MeanPower
	rms := math.Sqrt(mean*440.64) / (0.9 * 0.95 * 207)
	require.InEpsilon(t, rms, valueOf(t, a, "mains", "", "line current, at most"), 1e-9)
	require.InEpsilon(t, 1.6*440.64/(0.9*0.95*207), valueOf(t, a, "mains", "", "crest of the line current"), 1e-9)
	rail := a.Rail.Input / (0.6 * 207)
	require.InEpsilon(t, (rms+rail)/0.8, valueOf(t, a, "mains", "fuse or breaker", "rated for"), 1e-9)
	total := mean/0.9 + a.Rail.Input
	require.InEpsilon(t, 3000*3600*total, valueOf(t, a, "mains", "", "energy per year, at most"), 1e-9)
	head := a.Stations[0]
	require.InEpsilon(t, total*head.Duration/2, valueOf(t, a, "mains", "picking head", "whole machine, per part"), 1e-9)
	require.InEpsilon(t, head.Hot.Positive().Integral()/0.9/2, valueOf(t, a, "mains", "picking head", "per part"), 1e-9)
	require.InEpsilon(t, -head.Cold.Negative().Integral()/head.Hot.Positive().Integral(), valueOf(t, a, "mains", "picking head", "burned of it, at most"), 1e-9)
	require.InEpsilon(t, 3000*3600*a.Bus.ResistorMean/0.9, valueOf(t, a, "mains", "", "burned of that, at most"), 1e-9)

	// Three phases of 400 V between lines draw 1/√3 of 230/400 of that.
	a = assess(t, edit(t, `"voltage": "230 V", "tolerance": "10 %", "phases": 1`, `"voltage": "400 V", "tolerance": "10 %", "phases": 3`, `"264 V"`, `"460 V"`))
	require.InEpsilon(t, rms*230/(400*math.Sqrt(3)), valueOf(t, a, "mains", "", "line current, at most"), 1e-9)
	require.InEpsilon(t, rms*207, valueOf(t, a, "mains", "", "apparent power, at most"), 1e-9)
	require.InEpsilon(t, a.Rail.Input*math.Sqrt(3)/(0.6*360), valueOf(t, a, "mains", "", "line current of the rail, about"), 1e-9) // 360 V/√3 to neutral
}

// What is not given is not computed, and is said by name.
func TestMainsNotGiven(t *testing.T) {
	a := assess(t, simple)
	require.Nil(t, a.Mains.Draw)
	require.Nil(t, a.Mains.Inrush)
	text := strings.Join(a.Unchecked, "\n")
	for _, name := range []string{"phases", "powerFactor", "crestFactor", "inputCapacitance", "inrushLimiter", "hoursPerYear", "partsPerCycle"} {
		require.Contains(t, text, name)
	}
	a = assess(t, strings.Replace(variants(t)["battery"], `, "mains": { "voltage": "230 V", "tolerance": "10 %", "inputLow": "200 V", "inputHigh": "260 V" }`, "", 1))
	require.Nil(t, a.Mains)
}

// The waveform of the rectifier through whole cycles stays above the lowest voltage of
// the report, and draws no more than it says: one station, and loads that the rectifier
// carries or, held by the bank, does not.
func TestRectifiedAgainstItsWaveform(t *testing.T) {
	long(t)
	for _, c := range []struct {
		name, supply, mass, bank string
		held                     bool
	}{
		{"behind a transformer", behindTransformer, "10 kg", "10 mF", false},
		{"loaded", behindTransformer, "40 kg", "10 mF", false},
		{"three phases", atTheMains, "40 kg", "10 mF", false},
		{"too weak for the peak", strings.NewReplacer(`"800 VA", "shortCircuit": "5 %", "copperLoss": "25 W"`, `"200 VA", "shortCircuit": "22 %", "copperLoss": "20 W"`).Replace(behindTransformer), "62 kg", "80 mF", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			doc := replaced(t, regulatedSupply, c.supply, `"mass": "10 kg"`, `"mass": "`+c.mass+`"`, `"capacitance": "10 mF"`, `"capacitance": "`+c.bank+`"`)
			a := assess(t, doc)
			m := a.Machine
			w := a.Bus.Ripple
			require.Equal(t, c.held, w.Held)
			require.Positive(t, w.Dip)
			rect := m.Supply.Source.(bus.AveragedRectifier).Rectifier.Low()
			// All of the charge between crests from the bank: more than the dip.
			require.Less(t, w.Dip-1e-3*rect.NoLoadVoltage(), rect.SmallRipple(m.Bank.Capacitance, w.Top.RectifiedMean))

			b := bus.Bus{Bank: m.Bank, Bleeder: m.Bleeder}
			load := bus.RippleLoad{Power: a.Stations[0].Hot.Repeat(2)}
			first, err := b.SimulateRipple(context.Background(), rect, load, bus.RippleState{Voltage: rect.NoLoadVoltage()})
			require.NoError(t, err)
			r, err := b.SimulateRipple(context.Background(), rect, load, first.End)
			require.NoError(t, err)
			require.False(t, r.Collapsed)
			t.Logf("lowest %.3f V, reported %.3f V (dip %.3f V); RMS %.3f A, reported %.3f A; real %.1f W, reported %.1f W",
				r.Lowest.V, a.Bus.Lowest, w.Dip, r.Mains.RMS, a.Mains.Secondary.RMS, r.Mains.Real, a.Mains.Secondary.Real)
			require.GreaterOrEqual(t, r.Lowest.V, a.Bus.Lowest)
			require.LessOrEqual(t, r.Mains.RMS, a.Mains.Secondary.RMS*(1+1e-9))
			require.LessOrEqual(t, r.Mains.Peak, a.Mains.Secondary.Peak*(1+1e-3))
			require.LessOrEqual(t, r.Mains.Real, a.Mains.Secondary.Real*(1+1e-3))
			// The chord: real power over delivered power of the most that is given.
			top := w.Top.Secondary.Real
			require.InEpsilon(t, a.Bus.MeanPower*top/(top-w.Top.DiodeHeat-w.Top.SourceHeat), a.Mains.Secondary.Real, 1e-9)
			require.GreaterOrEqual(t, valueOf(t, a, "bank", "", "ripple current of the bank"), w.Top.BankRMS)
			// And it is no empty bound.
			require.Less(t, a.Mains.Secondary.RMS, 2*r.Mains.RMS)
			require.Less(t, r.Lowest.V-a.Bus.Lowest, 0.05*r.Lowest.V)
		})
	}
}

// A rectifier that carries neither peak nor mean leaves no figures, and says so.
func TestOverloadedRectifier(t *testing.T) {
	long(t)
	doc := replaced(t, regulatedSupply, strings.Replace(behindTransformer, `"800 VA"`, `"40 VA"`, 1), `"mass": "10 kg"`, `"mass": "62 kg"`)
	doc = strings.Replace(doc, `"copperLoss": "25 W"`, `"copperLoss": "2 W"`, 1)
	doc = strings.Replace(doc, `"shortCircuit": "5 %"`, `"shortCircuit": "30 %"`, 1)
	a, err := survives(t, doc, 10*time.Second)
	require.NoError(t, err)
	require.False(t, a.Fits)
	require.Nil(t, a.Bus.Ripple.Top)
	require.Nil(t, a.Mains.Draw)
	require.NotNil(t, a.Mains.Inrush)
	var b bytes.Buffer
	require.NoError(t, a.WriteText(&b))
	require.Contains(t, strings.Join(strings.Fields(b.String()), " "), "The rectifier cannot carry the peak demand for long")
}

// 75 V no load times the current of the secondary; the primary has 75/230 of it, with
// 0.2 A at right angles, and the losses in the iron.
func TestTransformerByHand(t *testing.T) {
	long(t)
	a := assess(t, variants(t)["rectified"])
	second := a.Mains.Secondary
	c := find(t, a, "mains", "", "transformer rating needed")
	require.InEpsilon(t, 75*second.RMS, c.Value, 1e-12)
	require.InDelta(t, 800, c.Limit, 1e-9)
	require.InEpsilon(t, math.Hypot(second.RMS*75/230, 0.2), a.Mains.Draw.RMS, 1e-12)
	require.InEpsilon(t, second.Real+8, a.Mains.Draw.Real, 1e-12)
	require.InEpsilon(t, 230*0.95*a.Mains.Draw.RMS, a.Mains.Draw.Apparent, 1e-12)
	require.InEpsilon(t, 25*math.Pow(75*second.RMS/800, 2), valueOf(t, a, "mains", "", "loss in the transformer's copper"), 1e-12)
	// Behind 2 ohm the inrush is below √2 75 V 1.05/2 ohm at the secondary, 75/230 of it at
	// the primary, and far above half of that.
	most := math.Sqrt2 * 75 * 1.05 / 2 * 75 / 230
	in := valueOf(t, a, "mains", "cold limiter", "inrush")
	require.Less(t, in, most)
	require.Greater(t, in, most/2)
	require.Greater(t, valueOf(t, a, "mains", "without it", "inrush"), 2*in)
	// Cold: (75 V)²/800 VA 25/800 less a fifth.
	rect := a.Machine.Supply.Source.(bus.AveragedRectifier).Rectifier
	rect.Resistance = 0.8 * 75 * 75 / 800 * 25 / 800
	cold, err := rect.Inrush(context.Background(), a.Machine.Bank, 0)
	require.NoError(t, err)
	require.InEpsilon(t, cold.Peak*75/230, valueOf(t, a, "mains", "without it", "inrush"), 1e-9)

	small := assess(t, strings.Replace(variants(t)["rectified"], `"800 VA", "shortCircuit": "5 %", "copperLoss": "25 W"`, `"30 VA", "shortCircuit": "9 %", "copperLoss": "2 W"`, 1))
	c = find(t, small, "mains", "", "transformer rating needed")
	require.False(t, c.OK)
	require.Contains(t, c.Cure, "VA or more")
}

// The dip of the ripple is in what drives behind cables have, and in the bank that would
// do.
func TestRippleReachesDrives(t *testing.T) {
	long(t)
	cable := linear + `, "cable": { "section": "10 mm^2", "length": "0.1 m", "temperature": "50 degC" }`
	doc := replaced(t, regulatedSupply, behindTransformer, `"mass": "10 kg"`, `"mass": "40 kg"`, linear, cable)
	a := assess(t, doc)
	require.Less(t, a.Bus.AtDrives["a"].Lowest, a.Bus.Lowest)
	require.Equal(t, a.Bus.AtDrives["a"].Lowest, find(t, a, "cables", "a", "lowest voltage at the drive").Value)

	doc = strings.Replace(replaced(t, regulatedSupply, behindTransformer, `"mass": "10 kg"`, `"mass": "40 kg"`), `"underVoltage": "80 V"`, `"underVoltage": "93.5 V"`, 1)
	a = assess(t, doc)
	require.False(t, find(t, a, "supply", "", "lowest bus voltage").OK)
	require.Positive(t, a.Bus.BankForSag)
	m := parse(t, doc)
	m.Bank.Capacitance = a.Bus.BankForSag
	b, err := sizing.Assess(context.Background(), m)
	require.NoError(t, err)
	require.True(t, find(t, b, "supply", "", "lowest bus voltage").OK)
}

// 20 kg brake with 40 N: cold, -40 W + 80 W/s t mechanical, 16 W copper and 5 W standby:
// 19²/(2 80) = 2.256 J come back, and lift 10 mF from 100 V to 102.23 V. For 0.1 % below
// 102 V it takes 2 2.256 J/(101.898² - 100²) V² = 11.77 mF.
func TestOverVoltageShutdown(t *testing.T) {
	doc := func(limit string) string {
		return replaced(t, `"mass": "10 kg"`, `"mass": "20 kg"`, `"bleeder": "1 kohm", "dischargeWarning": "11 s"`, `"bleeder": "1 Mohm", "dischargeWarning": "20000 s"`,
			limit10A, limit10A+`, "overVoltage": "`+limit+`", "overVoltagePause": "2 s"`)
	}
	a := assess(t, doc("102 V"))
	c := find(t, a, "supply", "", "returned energy at its output")
	require.False(t, c.OK)
	require.InDelta(t, 102.23, c.Value, 0.01)
	require.Contains(t, c.Reason, "goes off")
	require.Contains(t, c.Reason, "2.00 s")
	require.Contains(t, c.Cure, "11.8 mF or more")
	require.Contains(t, c.Cure, "blocking diode")
	require.InEpsilon(t, 11.77e-3, a.Bus.Memory[0].Bank, 0.01)
	require.InEpsilon(t, 0.7*a.Bus.MeanPower/100, a.Bus.Memory[0].DiodeHeat, 1e-9) // hot, it stays at 100 V
	require.True(t, find(t, assess(t, doc("103 V")), "supply", "", "returned energy at its output").OK)
}

// Two such axes in any phase return 4.512 J together at worst: 10 mF rise to 104.41 V. A
// supply that may be missing when they draw again leaves no bound on the sag.
func TestShutdownInAnyPhase(t *testing.T) {
	doc := func(supply, bank string) string {
		const axis = `"load": { "mass": "20 kg" }, ` + beltKind + `, "motor": "m", "drive": "d", ` + linear + ` }`
		return replaced(t, `"mass": "10 kg"`, `"mass": "20 kg"`, `"bleeder": "1 kohm", "dischargeWarning": "11 s"`, `"bleeder": "1 Mohm", "dischargeWarning": "90000 s"`,
			linear+` } ]`, linear+` }, { "name": "b", `+axis+` ]`, `"capacitance": "10 mF"`, `"capacitance": "`+bank+`"`, limit10A, supply,
			`"stations": [`, `"stations": [ { "name": "other", "axes": ["b"], "steps": [ { "to": { "b": "1 m" } }, { "to": { "b": "0 m" } }, { "dwell": "1.3 s" } ] }, `)
	}
	a := assess(t, doc(limit10A+`, "overVoltage": "103 V"`, "10 mF"))
	require.False(t, a.Fits)
	c := find(t, a, "supply", "", "returned energy at its output")
	require.InDelta(t, 104.41, c.Value, 0.02)
	require.Contains(t, c.Reason, "until its mains is switched off and on")
	sag := find(t, a, "supply", "", "lowest bus voltage")
	require.False(t, sag.OK)
	require.Equal(t, c.Cure, sag.Cure)
	// 2 4.512 J/(102.897² - 100²) V² = 15.36 mF.
	require.InEpsilon(t, 15.36e-3, a.Bus.Memory[0].Bank, 0.01)
	a = assess(t, doc(limit10A+`, "overVoltage": "103 V"`, "15.6 mF"))
	require.True(t, find(t, a, "supply", "", "returned energy at its output").OK)
	require.True(t, find(t, a, "supply", "", "lowest bus voltage").OK)

	a = assess(t, doc(`"currentLimit": "1 A", "overload": "latch", "endurance": "0.1 s"`, "10 mF"))
	require.Contains(t, find(t, a, "supply", "", "lowest bus voltage").Cure, "stays on at its limit")
}

// Behind 0.7 V the bus stands at 99.3 V and nothing comes back.
func TestBlockingDiode(t *testing.T) {
	a := assess(t, replaced(t, limit10A, limit10A+`, "diodeDrop": "0.7 V"`))
	sag := a.Bus.SagCycle
	require.InEpsilon(t, 0.7*sag.Energies.Source/4/99.3, valueOf(t, a, "supply", "", "heat of the blocking diode"), 1e-3)
	require.InEpsilon(t, a.Bus.MeanPower*100/99.3/0.8, a.Mains.Real, 1e-9)
}

// Of 15 W + c + 40 W/s t the part above 25 W lasts 0.5 s - (10 W - c)/(40 W/s), about 0.37 s;
// until the next move all of it has come back.
func TestPeakRating(t *testing.T) {
	doc := func(time string) string {
		return replaced(t, limit10A, `"currentLimit": "0.25 A", "peakCurrent": "0.5 A", "peakTime": "`+time+`", "peakRecovery": "2 s"`)
	}
	a := assess(t, doc("1 s"))
	c := find(t, a, "supply", "", "time above its continuous limit")
	copper := 4 * (234.5 + a.Stations[0].Axes[0].Winding.Temperature) / (234.5 + 20)
	require.InDelta(t, 0.5-(10-copper)/40, c.Value, 1e-3)
	require.True(t, c.OK)
	c = find(t, assess(t, doc("0.3 s")), "supply", "", "time above its continuous limit")
	require.False(t, c.OK)
	require.True(t, c.Caution)
	require.Contains(t, c.Reason, "used up")
}

func TestMainsFaults(t *testing.T) {
	all := variants(t)
	for _, c := range []struct{ name, doc, from, to, path string }{
		{"phases", all["mains"], `"phases": 1`, `"phases": 2`, "supply.mains.phases"},
		{"phases alone", all["mains"], `, "frequency": "50 Hz"`, ``, "supply.mains.frequency"},
		{"frequency alone", all["mains"], `"phases": 1, `, ``, "supply.mains.phases"},
		{"power factor", all["mains"], `"powerFactor": 0.9`, `"powerFactor": 1.1`, "supply.powerFactor"},
		{"crest alone", all["mains"], `"powerFactor": 0.9, `, ``, "supply.powerFactor"},
		{"crest", all["mains"], `"crestFactor": 2`, `"crestFactor": 0.9`, "supply.crestFactor"},
		{"limiter alone", all["mains"], `"inputCapacitance": "470 uF", `, ``, "supply.inputCapacitance"},
		{"capacitor alone", all["mains"], `, "inrushLimiter": "10 ohm"`, ``, "supply.inrushLimiter"},
		{"a long year", all["mains"], `"4000 h"`, `"9000 h"`, "hoursPerYear"},
		{"no parts", all["mains"], `"partsPerCycle": 2.5`, `"partsPerCycle": -1`, "stations[0].partsPerCycle"},
		{"connection", all["rectified"], `"single-phase bridge"`, `"half wave"`, "supply.connection"},
		{"no impedance", all["rectified"], `"shortCircuit": "5 %", "copperLoss": "25 W", `, ``, "supply.transformer.shortCircuit"},
		{"too much copper", all["rectified"], `"copperLoss": "25 W"`, `"copperLoss": "41 W"`, "supply.transformer.copperLoss"},
		{"rating in watts", all["rectified"], `"800 VA"`, `"800 V"`, "supply.transformer.rating"},
		{"nothing ahead", all["rectified mains"], `"lineResistance": "50 mohm", "lineInductance": "100 uH",`, ``, "supply.lineResistance"},
		{"both", all["rectified"], `"limiter"`, `"lineResistance": "1 ohm", "limiter"`, "supply.lineResistance"},
		{"diodes", all["rectified"], `"diodeThreshold": "0.9 V"`, `"diodeThreshold": "90 V"`, "supply.diodeThreshold"},
		{"efficiency of a rectifier", all["rectified"], `"ratedPower"`, `"efficiency": 0.9, "ratedPower"`, "supply.efficiency"},
		{"tolerance", all["rectified"], `"5 %", "frequency"`, `"100 %", "frequency"`, "supply.mains.tolerance"},
		{"in parallel", all["parallel"], `{ "kind": "unregulated", "openCircuit": "100 V", "resistance": "0.5 ohm", "lineTolerance": "10 %" }`, `{ "kind": "rectified" }`, "supply.supplies[3].kind"},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, c.doc, c.from)
			_, err := sizing.Parse(strings.NewReader(strings.Replace(c.doc, c.from, c.to, 1)))
			t.Log(err)
			var paths []string
			for _, e := range profile.InputErrors(err) {
				paths = append(paths, e.Path)
			}
			if d := cmp.Diff([]string{c.path}, paths); d != "" {
				t.Errorf("paths (-want +got):\n%s", d)
			}
		})
	}
	// Built in Go.
	for name, spoil := range map[string]func(*sizing.Machine){
		"no Rectified":          func(m *sizing.Machine) { m.Supply.Rectified = nil },
		"no mains":              func(m *sizing.Machine) { m.Supply.Mains = nil },
		"another transformer":   func(m *sizing.Machine) { m.Supply.Rectified.Transformer.Secondary = 60 },
		"regulated":             func(m *sizing.Machine) { m.Supply.Source = bus.SwitchMode{Voltage: 100, CurrentLimit: 1} },
		"average not computed":  func(m *sizing.Machine) { m.Supply.Source = bus.AveragedRectifier{} },
		"negative limiter":      func(m *sizing.Machine) { m.Supply.Rectified.Limiter = -1 },
		"hours that are no sum": func(m *sizing.Machine) { m.HoursPerYear = math.NaN() },
		"parts":                 func(m *sizing.Machine) { m.Stations[0].Parts = math.Inf(1) },
	} {
		m := parse(t, all["rectified"])
		spoil(m)
		_, err := sizing.Assess(context.Background(), m)
		require.NotEmpty(t, profile.InputErrors(err), "%s: %v", name, err)
	}
}

// Whatever number of the supply is spoilt, there is an error or a report of numbers.
func TestSpoiltSupply(t *testing.T) {
	long(t)
	for _, name := range []string{"mains", "rectified", "rectified mains"} {
		var root map[string]any
		require.NoError(t, json.Unmarshal([]byte(variants(t)[name]), &root))
		var walk func(v map[string]any)
		walk = func(v map[string]any) {
			for k, old := range v {
				if child, ok := old.(map[string]any); ok {
					walk(child)
					continue
				}
				for _, x := range append(spoilt(old), small(old)...) {
					v[k] = x
					text, err := json.Marshal(root)
					require.NoError(t, err)
					if _, err := survives(t, string(text), 300*time.Millisecond); err != nil && !errors.Is(err, context.DeadlineExceeded) && len(profile.InputErrors(err)) == 0 &&
						!errors.Is(err, bus.ErrBudget) && !errors.Is(err, bus.ErrRange) {
						t.Errorf("%s: %v in place of %v: %v", name, x, old, err)
					}
				}
				v[k] = old
			}
		}
		walk(root["supply"].(map[string]any))
	}
}

// small returns a value of the right form that is tiny.
func small(v any) []any {
	if s, ok := v.(string); ok {
		if _, unit, ok := strings.Cut(s, " "); ok && strings.ContainsAny(s[:1], "0123456789") {
			return []any{"1e-9 " + unit}
		}
	}
	return nil
}

func TestMainsText(t *testing.T) {
	for _, name := range []string{"mains", "rectified", "rectified mains", "mains of several supplies", "mains of an unregulated supply"} {
		var b bytes.Buffer
		a, err := survives(t, variants(t)[name], 10*time.Second)
		require.NoError(t, err)
		require.NoError(t, a.WriteText(&b))
		require.Contains(t, b.String(), "\nMAINS: ")
		require.Contains(t, b.String(), "local codes")
		for _, line := range strings.Split(b.String(), "\n") {
			require.LessOrEqual(t, utf8.RuneCountInString(line), 100, line)
		}
	}
}
