package sizing_test

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

// asked is the machine by hand with two stations alike, of which something is asked besides,
// with further replacements.
func asked(t testing.TB, what string, pairs ...string) string {
	t.Helper()
	doc := strings.Replace(stationsOf(t, "p", "q"), `"bleeder":`, what+`, "bleeder":`, 1)
	for i := 0; i < len(pairs); i += 2 {
		require.Contains(t, doc, pairs[i])
		doc = strings.ReplaceAll(doc, pairs[i], pairs[i+1])
	}
	return doc
}

const (
	strictStation = `"strictlyPeriodic":true`
	withDelay     = `"startDelay": { "earliest": "0 s", "latest": "4 s" }`
)

// text returns the report.
func text(t testing.TB, a *sizing.Assessment) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, a.WriteText(&b))
	return b.String()
}

// Each station draws, with hot copper 4.97912 W while a torque of 2 N·m acts and 5 W of
// standby always: speeding up for 0.5 s to 10 rad/s 9.97912 W x 0.5 s + 10 J/2 of motion =
// 9.98956 J; running for 0.5 s 2.5 J; braking from 20 W returned to none in 0.5 s, positive below
// 9.97912 W: (9.97912 W)²/(2 x 40 W/s) = 1.24479 J; at rest 2.5 J. Twice in 4 s, 32.4687 J. The bus
// does not sag below 100 V, and the bleeder takes 10 W there: (2 x 32.4687 J)/4 s + 10 W.
func TestAveragesInTheReport(t *testing.T) {
	rated := []string{`"ratedPower":"900 W"`, `"ratedPower":"900 W", "thermal": { "max": "60 degC", "overload": [ ["1 s", "1000 W"], ["16 s", "900 W"] ] }`}
	a := assess(t, asked(t, `"anyPhase": { "windows": ["4 s", "0.5 s"] }`, rated...))
	c := find(t, a, "any phase", "supply", "highest mean / over 4.00 s")
	require.InDelta(t, 26.2343, c.Value, 2e-3)
	require.InDelta(t, math.Sqrt(1000*900), c.Limit, 1e-6, "half way between the points on logarithmic scales")
	require.True(t, c.OK)
	// Both speed up at once; 0.5 s are less than the rating says anything of.
	require.InDelta(t, 2*9.98956/0.5+10, figureOf(t, a, "any phase", "supply", "highest mean / over 500 ms").Value, 2e-3)
	// A bleeder 10 % lower takes 11.11 W.
	low := assess(t, asked(t, `"anyPhase": { "windows": ["4 s"] }, "bleederTolerance": "10 %"`))
	require.InDelta(t, 26.2343-10+100./9, low.Averages.Source[0].Mean, 2e-3)
	require.Len(t, a.Averages.Source, 2, "those asked for and no more")
	require.Empty(t, a.Averages.Resistor, "there is none")
	for _, s := range a.Sections {
		if s.Key == "heat" {
			require.True(t, slices.ContainsFunc(s.Checks, func(c sizing.Check) bool { return c.Name == "mean over 1.00 s" }), "not averaged over that")
		}
	}

	// Of its own the report takes the times of the ratings; each is held against it once.
	a = assess(t, asked(t, `"split": false`, rated...))
	var times []float64
	for _, w := range a.Averages.Source {
		times = append(times, w.Time)
	}
	require.Equal(t, []float64{1, 10, 16, 60}, times)
	require.InDelta(t, 900, find(t, a, "any phase", "supply", "highest mean / over 60.0 s").Limit, 1e-9, "continuous beyond the last point")
	require.NotContains(t, text(t, a), "supply: mean over 1.00 s")

	// A limit that is broken here breaks the machine.
	a = assess(t, asked(t, `"anyPhase": { "windows": ["0.5 s"] }`, rated[0], `"ratedPower":"30 W", "thermal": { "max": "60 degC", "overload": [ ["0.5 s", "40 W"] ] }`))
	require.False(t, find(t, a, "any phase", "supply", "highest mean / over 500 ms").OK)
	require.False(t, a.Fits)
}

// With cold copper, 4 W, braking returns (20 W - 9 W)²/(2 x 40 W/s) = 1.5125 J, four times in
// 4 s on two stations; the bank, 15 mF at most, gives once what it holds between the highest
// voltage and 100.2 V. The rating is half way between its points.
func TestResistorAveragesInTheReport(t *testing.T) {
	a := assess(t, asked(t, `"anyPhase": { "windows": ["4 s"] }, "brakeResistor": { "resistance": "100 ohm", "onVoltage": "100.4 V", "offVoltage": "100.2 V", "continuous": "60 W", "pulse": "400 J",
		"thermal": { "pulses": [ ["1 s", "200 J"], ["16 s", "1600 J"] ] } }`))
	top := a.Bus.Highest
	require.GreaterOrEqual(t, top, 100.4)
	c := find(t, a, "any phase", "brake resistor", "highest mean / over 4.00 s")
	require.InDelta(t, (4*1.5125+0.0075*(top*top-100.2*100.2))/4, c.Value, 1e-3)
	require.InDelta(t, math.Sqrt(200*100), c.Limit, 1e-6)
}

// Two stations alike of one period sag most in phase: what all beginning together reaches is
// the exact extreme, and the bound is not nearer.
func TestExactInTheReport(t *testing.T) {
	weak := []string{`"currentLimit":"10 A"`, `"currentLimit":"0.3 A"`}
	a := assess(t, asked(t, `"anyPhase": { "exact": { "horizon": "16 s", "tolerance": "20 mV" } }`, weak...))
	require.NotNil(t, a.Exact)
	x := a.Exact.Lowest
	require.InDelta(t, a.CommonStart.Lowest, x.Attained, 0.02)
	require.LessOrEqual(t, x.Bound, x.Attained)
	require.InDelta(t, x.Attained, x.Bound, 0.02+1e-9)
	require.GreaterOrEqual(t, x.Bound, a.Bus.Guarantee.Sag.Voltage-1e-9)
	require.Less(t, x.Attained, 99.9)
	x = a.Exact.Highest
	require.Greater(t, x.Attained, a.CommonStart.Highest, "together they sag first, and what comes back fills the bank up")
	require.InDelta(t, x.Attained, x.Bound, 0.02+1e-9)
	require.LessOrEqual(t, x.Bound, a.Bus.Guarantee.Rise.Voltage+1e-9)
	require.Equal(t, a.Exact.Lowest.Bound, figureOf(t, a, "any phase", "sag, exact", "not passed").Value)
	require.Equal(t, x.Attained, figureOf(t, a, "any phase", "rise, exact", "attained").Value)

	// A horizon of four cycles and a thousandth of the voltage where nothing is said.
	a = assess(t, asked(t, `"anyPhase": { "exact": {} }`, weak...))
	require.Equal(t, []float64{16, 0.1}, []float64{a.Exact.Horizon, a.Exact.Tolerance})

	// Coarser than the bound for any phase, that is what is not passed.
	a = assess(t, asked(t, `"anyPhase": { "exact": { "tolerance": "20 V" } }`, weak...))
	require.Less(t, a.Exact.Lowest.Bound, a.Bus.Guarantee.Sag.Voltage-1)
	require.Equal(t, a.Bus.Guarantee.Sag.Voltage, figureOf(t, a, "any phase", "sag, exact", "not passed").Value)

	// What comes on or off, or folds back, is memory.
	a = assess(t, asked(t, `"anyPhase": { "exact": {} }, "brakeResistor": { "resistance": "10 ohm", "onVoltage": "101 V", "offVoltage": "100.5 V", "continuous": "60 W", "pulse": "400 J" }`, weak...))
	require.NotNil(t, a.Exact.Lowest)
	require.Nil(t, a.Exact.Highest)
	require.Contains(t, text(t, a), "a brake resistor may come on")
	a = assess(t, asked(t, `"anyPhase": { "exact": {} }`, weak[0], weak[1]+`,"overload":"foldback","foldbackCurrent":"0.2 A"`))
	require.Nil(t, a.Exact.Lowest)
	require.Contains(t, text(t, a), "without foldback")
}

// Together both stations draw 2 x (9.97912 W + 20 W) at the end of speeding up; apart that
// meets 5 W of the other at the most. With every 5 s they stand still for one of them.
func TestLockInTheReport(t *testing.T) {
	a := assess(t, asked(t, `"lock": { "aim": "least peak power", "every": "5 s" }`, strictStation, withDelay))
	r := a.Locked
	require.NotNil(t, r.Phasing)
	require.InDelta(t, 5, r.Common, 1e-12)
	require.InDelta(t, 59.95824, r.Together, 1e-3)
	require.InDelta(t, 59.95824, r.Worst, 1e-3)
	require.Less(t, r.Value, 29.97912+5+1e-3)
	require.Equal(t, r.Value, r.Chosen.Peak)
	require.Equal(t, r.Together, r.Earliest.Peak)
	require.InDelta(t, r.Worst-r.Value, figureOf(t, a, "locked", "peak power of the axes", "gain on worst").Value, 1e-12)
	require.InDelta(t, r.Offsets[1], figureOf(t, a, "locked", "q", "start delay").Value, 1e-12)

	// One that runs in the pause of the other meets its standby of 5 W.
	doc := strings.Replace(asked(t, `"lock": { "aim": "least peak power", "every": "10 s" }`, strictStation, `"strictlyPeriodic":false`),
		`"strictlyPeriodic":false`, `"startDelay": { "earliest": "4.5 s", "latest": "5.5 s" }`, 1)
	r = assess(t, doc).Locked
	require.InDelta(t, 29.97912+5, r.Value, 1e-3)
	require.InDelta(t, 29.97912+5, r.Worst, 1e-3)
	require.Zero(t, r.Offsets[1])

	// Braking together they lift the bus to the threshold at its latest, above which 101 W are
	// burned.
	a = assess(t, asked(t, `"lock": { "aim": "least rise" }, "brakeResistor": { "resistance": "100 ohm", "onVoltage": "100.4 V", "offVoltage": "100.2 V", "thresholdTolerance": "0.1 %", "continuous": "60 W", "pulse": "400 J" }`, strictStation, withDelay))
	require.InDelta(t, 100.4*1.001, a.Locked.Together, 1e-6)
	require.Less(t, a.Locked.Value, 100.4)
	require.Positive(t, a.Locked.Earliest.Resistor)
	require.Zero(t, a.Locked.Chosen.Resistor)

	// The lowest voltage is that of the least favourable corner, and the gain is positive.
	a = assess(t, asked(t, `"lock": { "aim": "least sag" }`, strictStation, withDelay, `"currentLimit":"10 A"`, `"currentLimit":"0.3 A"`))
	r = a.Locked
	require.Equal(t, []float64{r.Value, r.Together}, []float64{r.Chosen.Lowest, r.Earliest.Lowest})
	require.Greater(t, r.Value, r.Together)
	require.Greater(t, figureOf(t, a, "locked", "lowest bus voltage", "gain on earliest").Value, 0.)
	require.GreaterOrEqual(t, r.Worst, a.Bus.Guarantee.Sag.Voltage)
	require.LessOrEqual(t, r.Worst, r.Together)

	// Conveyors that are pulled along return 20 N x 0.5 m/s = 10 W, more than the 5 W of
	// standby and what little their copper takes, and nothing drains the bus.
	a = assess(t, asked(t, `"lock": { "aim": "least rise" }`, strictStation, withDelay, `"mass":"10 kg"`, `"mass":"10 kg","external":"-20 N"`, `"bleeder":"1 kohm",`, "",
		`"torquePerDCAmpere":"1 N m/A"`, `"torquePerDCAmpere":"9 N m/A"`, `"drive":"d"`, `"drive":"d","endless":true`, `"0 m"`, `"2 m"`))
	require.Nil(t, a.Locked.Phasing)
	require.Contains(t, text(t, a), "No start delays were found: the cycle has no settled state")
}

// The study in the report is the study that the library makes, and no sample of 400 beyond a
// limit leaves 1 - 0.05^(1/400) = 0.7461 % at a confidence of 95 %.
func TestStudyInTheReport(t *testing.T) {
	a := assess(t, asked(t, `"study": { "samples": 400, "seed": 7 }`))
	s, err := a.Machine.Sample(context.Background(), sizing.Study{Seed: 7, Count: 400})
	require.NoError(t, err)
	require.Equal(t, s.Outcomes, a.Study.Outcomes)
	q, err := s.Quantiles(func(o sizing.Outcome) float64 { return o.Highest }, 0.01, 0.5, 0.99)
	require.NoError(t, err)
	require.Equal(t, q, a.Study.Highest)
	require.Equal(t, q[2].High, figureOf(t, a, "study", "highest bus voltage", "99 % to").Value)
	require.False(t, math.IsInf(q[2].High, 0) || math.IsInf(q[0].Low, 0), "400 are enough for a range")
	require.Equal(t, 0., a.Study.TooLow.Of)
	require.InDelta(t, 0.0074613, a.Study.TooLow.Most, 1e-6)
	require.Contains(t, text(t, a), "STUDY OF TOLERANCES")

	// All too hot: nothing is left to say of the share.
	a = assess(t, asked(t, `"study": { "samples": 400, "seed": 7 }`, `"continuousTorque":"2 N m"`, `"continuousTorque":"0.5 N m"`))
	require.Equal(t, sizing.Share{Of: 1, Most: 1}, a.Study.TooHot)
}

// The capacitance of the bank and the ambient are all that varies: the ambient alone moves the
// winding, by its range of 20 K and more, and the capacitance the voltages.
func TestRankingInTheReport(t *testing.T) {
	a := assess(t, asked(t, `"sensitivities": true`))
	r := a.Ranking
	var inputs []string
	for i, x := range r.Inputs {
		inputs = append(inputs, x.Input)
		if i > 0 {
			require.LessOrEqual(t, math.Abs(x.Hottest), math.Abs(r.Inputs[i-1].Hottest))
		}
	}
	require.Equal(t, []string{"ambient temperature", "capacitance of the bank"}, inputs)
	require.Equal(t, "hottest winding", r.Figure)
	require.InDelta(t, 42.296/100, r.Room, 1e-3, "of 100 K from 40 °C to 140 °C")
	require.Greater(t, r.Inputs[0].Hottest, 20.)
	require.Zero(t, r.Inputs[1].Hottest)
	require.Negative(t, r.Inputs[1].Highest, "a larger bank rises less")

	// A bus that comes nearer to its limit of 80 V than the winding to its own.
	a = assess(t, asked(t, `"sensitivities": true`, `"currentLimit":"10 A"`, `"currentLimit":"0.3 A"`))
	require.Equal(t, "lowest bus voltage", a.Ranking.Figure)
	require.InDelta(t, (100-a.Bus.Lowest)/20, a.Ranking.Room, 1e-12)
	require.Equal(t, "capacitance of the bank", a.Ranking.Inputs[0].Input)
	require.Positive(t, a.Ranking.Inputs[0].Lowest, "a larger bank sags less")

	// The highest voltage is that of the worst line-up for the rise, the lowest of that for the sag,
	// which differ with stations that differ.
	unlike := asked(t, `"sensitivities": true`, `"currentLimit":"10 A"`, `"currentLimit":"0.3 A"`)
	a = assess(t, strings.Replace(unlike, `"dwell":"0.5 s"`, `"dwell":"0.9 s"`, 1))
	for _, x := range []struct {
		offsets []float64
		of      func(sizing.Sensitivity) float64
	}{
		{a.Bus.Guarantee.Sag.Offsets, func(s sizing.Sensitivity) float64 { return s.Lowest }},
		{a.Bus.Guarantee.Rise.Offsets, func(s sizing.Sensitivity) float64 { return s.Highest }},
	} {
		own, err := a.Machine.Sensitivities(context.Background(), x.offsets)
		require.NoError(t, err)
		require.Equal(t, "capacitance of the bank", own[0].Input)
		require.Equal(t, x.of(own[0]), x.of(a.Ranking.Inputs[0]))
	}
}

// Without the fields nothing is computed, and what is made of a machine does not ask again.
func TestNothingAsked(t *testing.T) {
	a := assess(t, stationsOf(t, "p", "q"))
	require.True(t, a.Exact == nil && a.Locked == nil && a.Study == nil && a.Ranking == nil)
	for _, s := range a.Sections {
		require.NotContains(t, []string{"locked", "study", "sensitivity"}, s.Key)
	}
	m := parse(t, asked(t, `"anyPhase": { "windows": ["2 s"], "exact": {} }, "study": { "samples": 400, "seed": 1 }, "sensitivities": true`))
	five, err := m.WithCopies("p", 5)
	require.NoError(t, err)
	require.True(t, five.AnyPhase.Exact == nil && five.Study == nil && !five.Rank)
	require.Equal(t, []float64{2}, five.AnyPhase.Windows)
	require.NoError(t, five.Validate())
	require.NotNil(t, m.AnyPhase.Exact, "the machine itself stays")
}

// Faults name the field, before and after the cycles are known.
func TestAskedFaults(t *testing.T) {
	const delay = `"startDelay": { "earliest": "1 s", "latest": "3 s" }`
	for _, c := range []struct {
		what  string
		pairs []string
		paths []string
	}{
		{`"anyPhase": { "windows": ["0 s", "-1 s"] }`, nil, []string{"anyPhase.windows[0]", "anyPhase.windows[1]"}},
		{`"anyPhase": { "windows": ["NaN s"] }`, nil, []string{"anyPhase.windows[0]"}},
		{`"anyPhase": { "windows": [` + strings.TrimSuffix(strings.Repeat(`"1 s",`, 21), ",") + `] }`, nil, []string{"anyPhase.windows"}},
		{`"anyPhase": { "exact": { "horizon": "-1 s", "tolerance": "-1 V" } }`, nil, []string{"anyPhase.exact.horizon", "anyPhase.exact.tolerance"}},
		{`"anyPhase": { "exact": { "tolerance": "0 V" } }`, nil, []string{"anyPhase.exact.tolerance"}},
		{`"anyPhase": { "exact": {} }`, []string{strictStation, `"strictlyPeriodic":false`}, []string{"anyPhase.exact"}},
		{`"anyPhase": { "exakt": {} }`, nil, []string{"anyPhase.exakt"}},
		{`"lock": { "aim": "least noise" }`, []string{strictStation, delay}, []string{"lock.aim"}},
		{`"lock": { "aim": "least sag" }`, nil, []string{"lock"}},
		{`"lock": { "aim": "least sag", "every": "-4 s" }`, []string{strictStation, delay}, []string{"lock.every"}},
		{`"lock": { "aim": "least sag" }`, []string{strictStation, `"startDelay": { "earliest": "3 s", "latest": "3 s" }`}, []string{"stations[0].startDelay.latest", "stations[1].startDelay.latest"}},
		{`"lock": { "aim": "least sag" }`, []string{strictStation, `"startDelay": { "earliest": "-1 s", "latest": "3 s" }`}, []string{"stations[0].startDelay.earliest", "stations[1].startDelay.earliest"}},
		{`"split": false`, []string{strictStation, delay}, []string{"stations[0].startDelay", "stations[1].startDelay"}},
		{`"study": { "samples": 399, "seed": 1 }`, nil, []string{"study.samples"}},
		{`"study": { "samples": 10000001, "seed": 1 }`, nil, []string{"study.samples"}},
		{`"study": { "samples": 400, "seed": -1 }`, nil, []string{"study.seed"}},
		{`"study": { "samples": 1e300 }`, nil, []string{"study.samples", "study.seed"}},
		{`"sensitivities": "yes"`, nil, []string{"sensitivities"}},
	} {
		require.ElementsMatch(t, c.paths, faults(t, asked(t, c.what, c.pairs...)), c.what)
	}
	for _, c := range []struct {
		what  string
		pairs []string
		paths []string
	}{
		{`"lock": { "aim": "least sag", "every": "3 s" }`, []string{strictStation, delay}, []string{"lock.every"}},
		{`"lock": { "aim": "least sag", "every": "1e300 s" }`, []string{strictStation, delay}, []string{"lock.every"}},
		{`"lock": { "aim": "least sag", "every": "5 s" }`, []string{strictStation, strictStation + "," + delay}, []string{"stations[0].strictlyPeriodic", "stations[1].strictlyPeriodic"}},
		{`"lock": { "aim": "least sag" }`, []string{strictStation, `"startDelay": { "latest": "1e300 s" }`}, []string{"stations[0].startDelay.latest", "stations[1].startDelay.latest"}},
		{`"anyPhase": { "exact": { "horizon": "1e300 s" } }`, nil, []string{"anyPhase.exact.horizon"}},
	} {
		_, err := assessment(t, asked(t, c.what, c.pairs...))
		var paths []string
		for _, e := range profile.InputErrors(err) {
			paths = append(paths, e.Path)
		}
		require.ElementsMatch(t, c.paths, paths, c.what)
	}
	// Cycles without a common multiple: one stands still for longer than the other.
	doc := asked(t, `"lock": { "aim": "least sag" }`, strictStation, delay)
	doc = strings.Replace(doc, `"dwell":"0.5 s"`, `"dwell":"0.7182818 s"`, 1)
	_, err := assessment(t, doc)
	require.Equal(t, "lock.every", profile.InputErrors(err)[0].Path)
}

// On several buses each answers for its own stations, and what none can answer is a fault.
func TestAskedOfParts(t *testing.T) {
	with := func(what string, pairs ...string) string {
		return strings.NewReplacer(pairs...).Replace(strings.Replace(twoBuses(t), `"buses":`, what+`, "buses":`, 1))
	}
	a := assess(t, with(`"study": { "samples": 400, "seed": 1 }, "sensitivities": true, "anyPhase": { "windows": ["2 s"] }`))
	require.Len(t, a.Parts, 2)
	for _, p := range a.Parts {
		require.NotNil(t, p.Study)
		require.NotNil(t, p.Ranking)
		require.Len(t, p.Averages.Source, 1)
	}
	require.Equal(t, []string{"anyPhase.exact"}, faults(t, with(`"anyPhase": { "exact": {} }`)))
	require.Equal(t, []string{"lock"}, faults(t, with(`"lock": { "aim": "least sag" }`)))
}
