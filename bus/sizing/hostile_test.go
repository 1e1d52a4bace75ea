package sizing_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/bus/sizing"
	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// survives assesses a document within a time and checks the answer: an error that
// says something, or a report without NaN. It returns what Assess did.
func survives(t testing.TB, doc string, within time.Duration) (*sizing.Assessment, error) {
	t.Helper()
	m, err := sizing.Parse(strings.NewReader(doc))
	if err != nil {
		require.NotEmpty(t, profile.InputErrors(err), "not an input error: %v", err)
		return nil, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), within)
	defer cancel()
	start := time.Now()
	a, err := sizing.Assess(ctx, m)
	if took := time.Since(start); took > within+10*time.Second {
		t.Fatalf("took %v, %v after the deadline", took, took-within)
	}
	if err != nil {
		require.NotEmpty(t, err.Error())
		return nil, err
	}
	finite := func(f sizing.Figure) {
		if math.IsNaN(f.Value) {
			t.Fatalf("%s %s is NaN", f.Of, f.Name)
		}
	}
	for _, s := range a.Sections {
		for _, f := range s.Figures {
			finite(f)
		}
		for _, c := range s.Checks {
			finite(c.Figure)
			if math.IsNaN(c.Limit) || math.IsNaN(c.Margin) {
				t.Fatalf("%s %s: limit %g, margin %g", c.Of, c.Name, c.Limit, c.Margin)
			}
			if math.IsInf(c.Value, 0) {
				require.NotEmpty(t, c.Reason, "%s %s has no bound, and no reason", c.Of, c.Name)
			}
		}
	}
	var text, out bytes.Buffer
	require.NoError(t, a.WriteText(&text))
	require.NotContains(t, text.String(), "NaN")
	require.NotContains(t, text.String(), "%!")
	require.NoError(t, a.WriteJSON(&out))
	require.True(t, json.Valid(out.Bytes()))
	return a, nil
}

// Documents that try to break it end in an error or in an answer.
func TestHostileDocuments(t *testing.T) {
	long(t)
	const steps = `{ "to": { "a": "1 m" } }, { "dwell": "0.5 s" }, { "to": { "a": "0 m" } }, { "dwell": "0.5 s" }`
	second := func(steps string) string {
		return replaced(t, `"limits": { "speed": "1 m/s", "accel": "2 m/s^2" } } ]`, linear+` }, { "name": "b", "load": { "mass": "10 kg" }, `+beltKind+`, "motor": "m", "drive": "d", `+linear+` } ]`,
			`"stations": [`, `"stations": [ { "name": "other", "axes": ["b"], "steps": [`+steps+`] }, `)
	}
	axes, names := "", ""
	for i := range 300 {
		axes += fmt.Sprintf(`{ "name": "x%d", "load": { "mass": "10 kg" }, %s, "motor": "m", "drive": "d", %s },`, i, beltKind, linear)
		names += fmt.Sprintf(`"x%d", `, i)
	}
	for _, c := range []struct {
		name, doc string
		within    time.Duration
		fails     bool
	}{
		{"deep lists", strings.Repeat("[", 1e6), time.Second, true},
		{"deep objects", strings.Repeat(`{"a":`, 1e6), time.Second, true},
		{"too large", strings.Repeat(" ", 9<<20), time.Second, true},
		{"many keys", `{"machine": "x"` + strings.Repeat(`,"y":1`, 1e5) + `}`, time.Second, true},
		{"huge number", replaced(t, `"mass": "10 kg"`, `"mass": "1e300 kg"`), time.Second, true},
		{"huge torque", replaced(t, `"mass": "10 kg"`, `"mass": "1e12 kg"`), time.Second, false},
		{"tiny acceleration", replaced(t, `"accel": "2 m/s^2"`, `"accel": "1e-12 m/s^2"`), time.Second, false},
		{"huge acceleration", replaced(t, `"accel": "2 m/s^2"`, `"accel": "1e12 m/s^2"`), time.Second, false},
		{"huge dwell", replaced(t, `"dwell": "0.5 s"`, `"dwell": "1e12 s"`), time.Second, false},
		{"tiny move", replaced(t, `"a": "1 m"`, `"a": "1e-200 m"`), time.Second, false},
		{"many steps", replaced(t, steps, strings.TrimSuffix(strings.Repeat(`{"dwell":"1 s"},`, 1e5), ",")), time.Second, false},
		{"many moves", replaced(t, steps, strings.TrimSuffix(strings.Repeat(steps+",", 500), ",")), time.Second, false},
		{"incommensurate periods", second(`{ "by": { "b": "1e-9 m" }, "duration": "1 ms" }, { "to": { "b": "0 m" } }, { "dwell": "1e6 s" }`), time.Second, false},
		{"very short beside very long", strings.Replace(second(`{ "dwell": "1e-6 s" }`), `"dwell": "0.5 s"`, `"dwell": "1e6 s"`, 1), time.Second, false},
		{"steps times axes", replaced(t, `"axes": [ {`, `"axes": [ `+axes+` {`, `"axes": ["a"]`, `"axes": [`+names+` "a"]`, steps, steps+strings.Repeat(`,{"dwell":"1 s"}`, 1e5)), time.Second, true},
		{"steps times axes, as many as may be", replaced(t, `"axes": [ {`, `"axes": [ `+axes+` {`, `"axes": ["a"]`, `"axes": [`+names+` "a"]`, steps, steps+strings.Repeat(`,{"dwell":"1 s"}`, 300)), time.Second, false},
		{"many axes", replaced(t, `"axes": [ {`, `"axes": [ `+axes+` {`, `"axes": ["a"]`, `"axes": [`+names+` "a"]`), 2 * time.Second, false},
		{"control characters", replaced(t, `"name": "s"`, `"name": "s\u001b[31m\n"`), time.Second, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			start := time.Now()
			_, err := survives(t, c.doc, c.within)
			t.Log(time.Since(start).Round(time.Millisecond), err)
			if c.fails {
				require.Error(t, err)
			} else if err != nil && !errors.Is(err, context.DeadlineExceeded) && !errors.Is(err, bus.ErrBudget) && !errors.Is(err, bus.ErrRange) {
				require.NotEmpty(t, profile.InputErrors(err), err)
			}
		})
	}
}

// Every number of every field, negative, zero or huge, ends in an error or in a
// report whose figures are numbers.
func TestSpoiltFigures(t *testing.T) {
	long(t)
	for _, name := range []string{"load", "screw", "crank", "linear motor", "unregulated", "drive", "ratings", "sheet", "brake resistor", "payload", "rotary load", "stops", "stops, turning", "stops, brake on the load", "temperatures", "temperatures, by time constants", "asked", "locked", "locked, resistor"} {
		doc := variants(t)[name]
		var root any
		require.NoError(t, json.Unmarshal([]byte(doc), &root))
		var walk func(v any, set func(any))
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
			default:
				for _, x := range spoilt(v) {
					set(x)
					text, err := json.Marshal(root)
					require.NoError(t, err)
					if _, err := survives(t, string(text), 300*time.Millisecond); err != nil && !errors.Is(err, context.DeadlineExceeded) && len(profile.InputErrors(err)) == 0 &&
						!errors.Is(err, bus.ErrBudget) && !errors.Is(err, bus.ErrRange) {
						t.Errorf("%s: %v in place of %v: %v", name, x, v, err)
					}
				}
				set(v)
			}
		}
		walk(root, nil)
	}
}

// Machines built in Go have holes that a document cannot have.
func TestMachinesBuiltInGo(t *testing.T) {
	nan := math.NaN()
	for name, spoil := range map[string]func(*sizing.Machine){
		"no source":           func(m *sizing.Machine) { m.Supply.Source = nil },
		"nil source":          func(m *sizing.Machine) { m.Supply.Source = (*bus.SwitchMode)(nil) },
		"no mechanism":        func(m *sizing.Machine) { m.Axes[0].Drive.Mechanism = nil },
		"nil mechanism":       func(m *sizing.Machine) { m.Axes[0].Drive.Mechanism = (*energy.Belt)(nil) },
		"no joint":            func(m *sizing.Machine) { m.Axes[0].Joint = &sizing.Joint{ServiceFactor: 1} },
		"nil joint":           func(m *sizing.Machine) { m.Axes[0].Joint = &sizing.Joint{(*energy.ParallelKey)(nil), 1} },
		"zero joint":          func(m *sizing.Machine) { m.Axes[0].Joint = &sizing.Joint{energy.ClampHub{}, nan} },
		"zero law":            func(m *sizing.Machine) { m.Axes[0].Law = new(profile.Law) },
		"zero winding":        func(m *sizing.Machine) { m.Axes[0].Drive.Motor.Winding = energy.Winding{} },
		"zero rod":            func(m *sizing.Machine) { m.Axes[0].Rod = new(sizing.Rod) },
		"rating too many":     func(m *sizing.Machine) { m.Axes[0].Ratings.Stages = make([]*energy.TorqueRating, 3) },
		"empty rating":        func(m *sizing.Machine) { m.Axes[0].Ratings.Coupling = new(energy.TorqueRating) },
		"NaN target":          func(m *sizing.Machine) { m.Stations[0].Steps[0].To["a"] = nan },
		"NaN distance":        func(m *sizing.Machine) { m.Stations[0].Steps[1].By = map[string]float64{"a": nan} },
		"NaN payload":         func(m *sizing.Machine) { m.Stations[0].Steps[1].Payload = map[string]float64{"a": nan} },
		"NaN dwell":           func(m *sizing.Machine) { m.Stations[0].Steps[1].Dwell = nan },
		"NaN ambient":         func(m *sizing.Machine) { m.AmbientHigh = nan },
		"infinite start":      func(m *sizing.Machine) { m.Axes[0].Start = math.Inf(1) },
		"path":                func(m *sizing.Machine) { m.Stations[0].Steps[0].Path = 9 },
		"winding too hot":     func(m *sizing.Machine) { m.Axes[0].Winding.Max = 1e6 },
		"no brake rating":     func(m *sizing.Machine) { m.Brakes = []sizing.Brake{{}} },
		"same station twice":  func(m *sizing.Machine) { m.Stations = append(m.Stations, m.Stations[0]) },
		"same axis twice":     func(m *sizing.Machine) { m.Axes = append(m.Axes, m.Axes[0]) },
		"name with a newline": func(m *sizing.Machine) { m.Name = "a\nb" },
		"force too curved": func(m *sizing.Machine) {
			c, _ := profile.NewCurve([]float64{0, 1}, [][]float64{append(make([]float64, 29), 1)})
			m.Stations[0].Steps[1].Force = map[string]profile.Curve{"a": c}
		},
	} {
		t.Run(name, func(t *testing.T) {
			m := parse(t, simple)
			spoil(m)
			_, err := sizing.Assess(context.Background(), m)
			require.NotEmpty(t, profile.InputErrors(err), "%v", err)
			t.Log(err)
		})
	}
}

func FuzzAssess(f *testing.F) {
	f.Add(simple)
	for _, doc := range variants(f) {
		f.Add(doc)
	}
	f.Fuzz(func(t *testing.T, doc string) {
		survives(t, doc, 100*time.Millisecond)
	})
}
