package sizing_test

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

// stationsOf is the machine by hand with its station several times, under other names.
func stationsOf(t testing.TB, names ...string) string {
	t.Helper()
	var doc map[string]any
	require.NoError(t, json.Unmarshal([]byte(simple), &doc))
	axis, station := doc["axes"].([]any)[0], doc["stations"].([]any)[0]
	copyOf := func(v any, from, to string) any {
		b, err := json.Marshal(v)
		require.NoError(t, err)
		var out any
		require.NoError(t, json.Unmarshal([]byte(strings.ReplaceAll(string(b), from, to)), &out))
		return out
	}
	var axes, stations []any
	for _, n := range names {
		axes = append(axes, copyOf(axis, `"name":"a"`, `"name":"a `+n+`"`))
		s := copyOf(station, `"a"`, `"a `+n+`"`).(map[string]any)
		s["name"] = n
		stations = append(stations, s)
	}
	doc["axes"], doc["stations"] = axes, stations
	b, err := json.Marshal(doc)
	require.NoError(t, err)
	return string(b)
}

// Every number of copies is a machine like one that is written down in full.
func TestCopiesAreMachines(t *testing.T) {
	m := parse(t, stationsOf(t, "s"))
	three, err := m.WithCopies("s", 3)
	require.NoError(t, err)
	a, err := sizing.Assess(context.Background(), three)
	require.NoError(t, err)
	b := assess(t, stationsOf(t, "s", "s (2)", "s (3)"))
	require.Equal(t, b.Bus.Lowest, a.Bus.Lowest)
	require.Equal(t, b.Bus.Highest, a.Bus.Highest)
	require.Equal(t, b.Bus.MeanPower, a.Bus.MeanPower)
	require.Len(t, m.Axes, 1, "the machine itself stays")

	demo := parse(t, demo(t))
	two, err := demo.WithCopies(demo.Stations[0].Name, 2)
	require.NoError(t, err)
	require.NoError(t, two.Validate())
	require.Len(t, two.Stations, len(demo.Stations)+1)
	require.Greater(t, len(two.Switched), len(demo.Switched), "a copy has its own switched loads")
	_, err = demo.WithCopies("nobody", 2)
	require.Equal(t, "station", profile.InputErrors(err)[0].Path)
	_, err = demo.WithCopies(demo.Stations[0].Name, 0)
	require.Equal(t, "n", profile.InputErrors(err)[0].Path)
}

// The number found fits and one more does not, by assessments of their own.
func TestHowMany(t *testing.T) {
	long(t)
	ctx := context.Background()
	m := parse(t, stationsOf(t, "s"))
	c, err := m.Carries(ctx, sizing.Copies{Station: "s", UpTo: 60})
	require.NoError(t, err)
	require.Greater(t, c.Most, 1)
	require.Less(t, c.Most, 60)
	require.NotEmpty(t, c.Limits)
	for _, k := range []int{c.Most, c.Most + 1} {
		with, err := m.WithCopies("s", k)
		require.NoError(t, err)
		a, err := sizing.Assess(ctx, with)
		require.NoError(t, err)
		require.Equal(t, k == c.Most, a.Fits, "%d stations", k)
	}
	for i := 1; i < len(c.Steps); i++ {
		p, q := c.Steps[i-1], c.Steps[i]
		require.Less(t, p.Number, q.Number)
		require.GreaterOrEqual(t, p.Lowest, q.Lowest, "more stations never let the bus sag less here")
		require.Less(t, p.MeanPower, q.MeanPower)
		require.True(t, p.Fits || !q.Fits)
	}

	// One too few for the limit is all that was asked for; none fits a supply that is too small.
	few, err := m.Carries(ctx, sizing.Copies{Station: "s", UpTo: c.Most - 1})
	require.NoError(t, err)
	require.Equal(t, c.Most-1, few.Most)
	require.Empty(t, few.Limits)
	m.Supply.RatedPower = 1
	none, err := m.Carries(ctx, sizing.Copies{Station: "s", UpTo: 5})
	require.NoError(t, err)
	require.Zero(t, none.Most)
	require.NotEmpty(t, none.Limits)

	stopped, cancel := context.WithCancel(ctx)
	cancel()
	_, err = m.Carries(stopped, sizing.Copies{Station: "s", UpTo: 5})
	require.ErrorIs(t, err, context.Canceled)
	_, err = m.Carries(ctx, sizing.Copies{Station: "s", UpTo: 0})
	require.Equal(t, "upTo", profile.InputErrors(err)[0].Path)
}

// Stations that are too many for one supply are shared so that each bus keeps its limits, by
// as few as the rated power lets.
func TestSplit(t *testing.T) {
	long(t)
	ctx := context.Background()
	// A rated power between what two and three stations take: five take three supplies.
	one, two, three := assess(t, stationsOf(t, "p")), assess(t, stationsOf(t, "p", "q")), assess(t, stationsOf(t, "p", "q", "r"))
	m := parse(t, stationsOf(t, "p", "q", "r", "s", "t"))
	m.Supply.RatedPower = (two.Bus.MeanPower + three.Bus.MeanPower) / 2
	s, err := m.Split(ctx)
	require.NoError(t, err)
	require.Len(t, s.Buses, 3)
	require.True(t, s.Fewest)
	seen := map[string]bool{}
	for _, b := range s.Buses {
		require.LessOrEqual(t, len(b), 2)
		for _, name := range b {
			require.False(t, seen[name])
			seen[name] = true
		}
	}
	require.Len(t, seen, 5)

	m.Supply.RatedPower = 0.5 * one.Bus.MeanPower
	s, err = m.Split(ctx)
	require.NoError(t, err)
	require.Empty(t, s.Buses)
	require.Len(t, s.Alone, 5)
	require.NotEmpty(t, s.Limits)

	m.Supply.RatedPower = 10 * three.Bus.MeanPower
	s, err = m.Split(ctx)
	require.NoError(t, err)
	require.Equal(t, [][]string{{"p", "q", "r", "s", "t"}}, s.Buses)
}

// What the document asks is answered in the report.
func TestHowManyInTheReport(t *testing.T) {
	doc := strings.Replace(stationsOf(t, "p", "q"), `"bleeder":`, `"howMany": [ { "station": "q", "upTo": 3 } ], "split": true, "bleeder":`, 1)
	a := assess(t, doc)
	require.Len(t, a.HowMany, 1)
	require.NotNil(t, a.Split)
	var b strings.Builder
	require.NoError(t, a.WriteText(&b))
	text := b.String()
	require.Contains(t, text, "ANY PHASE:")
	require.Contains(t, text, "fit on this bus")
	require.Contains(t, text, "One supply carries all stations.")
	require.Contains(t, text, "all begin together")
	for old, path := range map[string]string{`"station": "q"`: "howMany[0].station", `"upTo": 3`: "howMany[0].upTo"} {
		bad := strings.Replace(doc, old, map[string]string{`"station": "q"`: `"station": "x"`, `"upTo": 3`: `"upTo": 0`}[old], 1)
		_, err := sizing.Parse(strings.NewReader(bad))
		require.Equal(t, path, profile.InputErrors(err)[0].Path)
	}
}

// A pause takes what the axes take at rest: 5 W of standby here, nothing held. A station that
// is said to be strictly periodic has none, and may not wait.
func TestPausesByHand(t *testing.T) {
	doc := strings.Replace(simple, `"strictlyPeriodic": true, `, ``, 1)
	doc = strings.Replace(doc, `{ "to": { "a": "1 m" } }`, `{ "to": { "a": "1 m" }, "mayWait": true }`, 1)
	a := assess(t, doc)
	p := a.Stations[0].Pauses
	require.Len(t, p, 2)
	require.Equal(t, 0.0, p[0].At)
	require.InDelta(t, 1.5, p[1].At, 1e-12, "1 m at 1 m/s and 2 m/s²")
	for _, x := range p {
		require.InDelta(t, 5, x.Hot, 1e-9)
		require.InDelta(t, 5, x.Cold, 1e-9)
	}
	b := assess(t, simple)
	require.Empty(t, b.Stations[0].Pauses)
	require.LessOrEqual(t, a.Bus.Lowest, b.Bus.Lowest)
	require.GreaterOrEqual(t, a.Bus.Highest, b.Bus.Highest)
	_, err := sizing.Parse(strings.NewReader(strings.Replace(simple, `{ "to": { "a": "1 m" } }`, `{ "to": { "a": "1 m" }, "mayWait": true }`, 1)))
	require.Equal(t, "stations[0].steps[0].mayWait", profile.InputErrors(err)[0].Path)

	// Held up at 1 m, a load of 10 kg takes torque: m g r = 9.80665 N m, which heats 1 ohm
	// between lines; the pause below takes as much.
	up := strings.Replace(doc, `"load": { "mass": "10 kg" }`, `"load": { "mass": "10 kg", "incline": "90 deg" }`, 1)
	m := parse(t, up)
	m.Axes[0].Drive.Motor.ContinuousTorque, m.Axes[0].Drive.Motor.PeakTorque = 20, 60
	held, err := sizing.Assess(context.Background(), m)
	require.NoError(t, err)
	q := held.Stations[0].Pauses
	require.InDelta(t, q[0].Hot, q[1].Hot, 1e-6)
	require.Greater(t, q[1].Hot, 5+9.80665*9.80665*0.5, "the copper of a torque of 1 N m/A and half the resistance between lines, at least")
	require.Greater(t, q[1].Hot, q[1].Cold)
}
