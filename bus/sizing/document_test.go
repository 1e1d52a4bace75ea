package sizing_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/bus/sizing"
	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// demo returns the document of the demonstration machine.
func demo(t testing.TB) string {
	t.Helper()
	b, err := os.ReadFile("../../examples/assess/transplanter.json")
	require.NoError(t, err)
	return string(b)
}

func parse(t testing.TB, doc string) *sizing.Machine {
	t.Helper()
	m, err := sizing.Parse(strings.NewReader(doc))
	require.NoError(t, err)
	return m
}

func TestParseDemo(t *testing.T) {
	m := parse(t, demo(t))
	require.Equal(t, "Greenhouse seedling transplanter", m.Name)
	require.Len(t, m.Axes, 5)
	// By hand: 16 mm/rev; 90 degrees upright; 0.62 kg cm^2; 4500 rpm = 471.24 rad/s;
	// 27 mF; the small motor's 0.061 N m/A of crest is 0.061 √2 per ampere RMS.
	lift := m.Axes[2]
	require.InDelta(t, 0.016, lift.Drive.Mechanism.(energy.Screw).Lead, 1e-15)
	require.InDelta(t, math.Pi/2, lift.Drive.Load.Incline, 1e-15)
	require.InDelta(t, 0.061*math.Sqrt2, lift.Drive.Motor.Winding.Kt(), 1e-15)
	require.InDelta(t, 0.62e-4, m.Axes[0].Drive.Motor.RotorInertia, 1e-18)
	require.InDelta(t, 471.2389, m.Axes[0].Drive.Motor.MaxSpeed, 1e-4)
	require.InDelta(t, 0.027, m.Bank.Capacitance, 1e-18)
	require.InDelta(t, 72, m.Supply.Source.(bus.SwitchMode).Voltage, 0)
	require.InDelta(t, math.Pi/2, m.Stations[0].Steps[3].To["head"], 1e-15)
	require.True(t, m.Axes[4].Endless)
}

// questions are what the demo asks for besides its assessment, which takes longer than that.
var questions = regexp.MustCompile(`(?m)^ *"(lock|study|sensitivities|startDelay)": .*\n`)

// plainDemo returns the demo without its questions.
func plainDemo(t testing.TB) string {
	t.Helper()
	doc := demo(t)
	require.Len(t, questions.FindAllString(doc, -1), 4)
	return questions.ReplaceAllString(doc, "")
}

// edit returns the demo without its questions, with one piece of text replaced, which must
// occur.
func edit(t testing.TB, pairs ...string) string {
	t.Helper()
	doc := plainDemo(t)
	for i := 0; i < len(pairs); i += 2 {
		require.Contains(t, doc, pairs[i])
		doc = strings.Replace(doc, pairs[i], pairs[i+1], 1)
	}
	return doc
}

func TestDocumentFaults(t *testing.T) {
	for _, c := range []struct {
		name, from, to string
		paths          []string
	}{
		{"unknown field", `"bleeder": "360 ohm"`, `"bleder": "390 ohm"`, []string{"bleder"}},
		{"unknown field inside", `"incline": "90 deg"`, `"slope": "90 deg"`, []string{"axes[2].load.slope"}},
		{"missing", `"underVoltage": "50 V",`, ``, []string{"underVoltage"}},
		{"missing inside", `"temperature": "25 degC",`, ``, []string{"motors.large.winding.temperature"}},
		{"wrong unit", `"mass": "16 kg"`, `"mass": "16 N"`, []string{"axes[0].load.mass"}},
		{"no unit", `"mass": "16 kg"`, `"mass": "16"`, []string{"axes[0].load.mass"}},
		{"number for a quantity", `"mass": "16 kg"`, `"mass": 16`, []string{"axes[0].load.mass"}},
		{"negative", `"mass": "16 kg"`, `"mass": "-16 kg"`, []string{"axes[0].load.mass"}},
		{"zero", `"capacitance": "27 mF"`, `"capacitance": "0 mF"`, []string{"bank.capacitance"}},
		{"absurd", `"capacitance": "27 mF"`, `"capacitance": "1e400 F"`, []string{"bank.capacitance"}},
		{"tolerance", `"toleranceLow": "20 %"`, `"toleranceLow": "100 %"`, []string{"bank.toleranceLow"}},
		{"thresholds", `"offVoltage": "77 V"`, `"offVoltage": "81 V"`, []string{"brakeResistor.offVoltage"}},
		{"limits crossed", `"overVoltage": "88 V"`, `"overVoltage": "50 V"`, []string{"overVoltage"}},
		{"kind", `"kind": "regulated"`, `"kind": "magic"`, []string{"supply.kind"}},
		{"two conventions", `"torquePerRMSAmpere": "0.142 N m/A"`, `"torquePerRMSAmpere": "0.142 N m/A", "torquePerPeakAmpere": "0.142 N m/A"`, []string{"motors.large.winding.torquePerPeakAmpere"}},
		{"contradicting constants", `"voltageLineToLineRMS": "8.6 V/krpm"`, `"voltageLineToLineRMS": "12.2 V/krpm"`, []string{"motors.large.winding.voltageLineToLineRMS"}},
		{"no convention", `"torquePerPeakAmpere": "0.061 N m/A",`, ``, []string{"motors.small.winding.torquePerRMSAmpere"}},
		{"motor name", `"motor": "large"`, `"motor": "huge"`, []string{"axes[0].motor"}},
		{"motor value", `"rotorInertia": "0.62 kg cm^2"`, `"rotorInertia": "-1 kg cm^2"`, []string{"motors.large.rotorInertia"}},
		{"rotary length", `"start": "0 deg"`, `"start": "0 mm"`, []string{"axes[3].start"}},
		{"axis unknown to station", `"axes": ["conveyor"]`, `"axes": ["conveyer"]`, []string{"stations[1].axes[0]"}},
		{"axis of another station", `"by": { "conveyor": "150 mm" }`, `"by": { "gantry": "150 mm" }`, []string{"stations[1].steps[0].by.gantry"}},
		{"same name misspelt often", `"to": { "gantry": "850 mm", "carriage": "320 mm", "head": "90 deg" }, "path": "together" },`, `"to": { "gantri": "850 mm" }, "by": { "gantri": "1 mm" } },`, []string{"stations[0].steps[3].to.gantri"}},
		{"given twice", `"underVoltage": "50 V",`, `"underVoltage": "56 V", "underVoltage": "57 V",`, []string{"underVoltage"}},
		{"not JSON", `"ambient"`, `ambient`, []string{""}},
		{"negative dwell", `"dwell": "0.12 s"`, `"dwell": "-0.12 s"`, []string{"stations[0].steps[1].dwell"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := sizing.Parse(strings.NewReader(edit(t, c.from, c.to)))
			require.Error(t, err)
			t.Log(err)
			var paths []string
			for _, e := range profile.InputErrors(err) {
				paths = append(paths, e.Path)
				require.NotEmpty(t, e.Want)
			}
			if d := cmp.Diff(c.paths, paths); d != "" {
				t.Errorf("paths (-want +got):\n%s", d)
			}
		})
	}
}

// All faults of a document are reported at once, in one error.
func TestAllFaultsTogether(t *testing.T) {
	doc := edit(t, `"mass": "16 kg"`, `"mass": "16 N"`, `"bleeder": "360 ohm"`, `"bleeder": 390`, `"kind": "screw"`, `"kind": "rope"`)
	_, err := sizing.Parse(strings.NewReader(doc))
	var paths []string
	for _, e := range profile.InputErrors(err) {
		paths = append(paths, e.Path)
	}
	require.Subset(t, paths, []string{"axes[0].load.mass", "bleeder", "axes[2].mechanism.kind"})
}

// Every field of the demo, one at a time, is set to nonsense of several sorts: the
// parser must answer with an error, or accept what happens to be valid, and never
// panic. No field may be ignored.
func TestEveryFieldIsRead(t *testing.T) {
	long(t)
	var root any
	require.NoError(t, json.Unmarshal([]byte(demo(t)), &root))
	count := 0
	var walk func(v any, set func(any))
	try := func(set func(any), old, nonsense any) {
		set(nonsense)
		text, err := json.Marshal(root)
		require.NoError(t, err)
		if _, err := sizing.Parse(bytes.NewReader(text)); err == nil {
			if _, free := old.(string); !free || nonsense != "nonsense" {
				t.Errorf("%v in place of %v was accepted", nonsense, old)
			}
		}
		set(old)
		count++
	}
	walk = func(v any, set func(any)) {
		switch v := v.(type) {
		case map[string]any:
			for k, child := range v {
				walk(child, func(x any) { v[k] = x })
			}
		case []any:
			for i, child := range v {
				walk(child, func(x any) { v[i] = x })
			}
		}
		if set != nil {
			for _, nonsense := range []any{nil, 3.5e300, []any{}, map[string]any{"x": 1}, "nonsense"} {
				if _, list := v.([]any); list && nonsense != nil {
					if l, also := nonsense.([]any); also && len(l) == 0 {
						continue // an empty list may be allowed
					}
				}
				try(set, v, nonsense)
			}
		}
	}
	walk(root, nil)
	require.Greater(t, count, 500)
}

func FuzzParse(f *testing.F) {
	f.Add(demo(f))
	f.Add(`{"machine": "x", "stations": [], "axes": [{"name": 1}]}`)
	f.Add(`[[[[[[`)
	f.Add("{\"a\":\"\xff\"}")
	f.Fuzz(func(t *testing.T, doc string) {
		m, err := sizing.Parse(strings.NewReader(doc))
		if (m == nil) == (err == nil) {
			t.Fatalf("machine %v with error %v", m, err)
		}
		if err != nil && len(profile.InputErrors(err)) == 0 {
			t.Fatalf("not an input error: %v", err)
		}
		if m != nil {
			if err := m.Validate(); err != nil {
				t.Fatalf("a parsed machine is invalid: %v", err)
			}
		}
	})
}
