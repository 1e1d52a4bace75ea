package sizing_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Friction and payload with a spread, by hand on a radius of 0.1 m. Out with 10 kg, back
// with 15 kg, and 20 N of friction: accelerating takes (15 x 2 + 20) x 0.1 = 5 N·m; with
// 30 % more friction and 20 % more payload (16 x 2 + 26) x 0.1 = 5.8 N·m. Braking takes
// most where friction is least and the payload greatest: an emergency stop with 8 m/s²
// (16 x 8 - 14) x 0.1 = 11.4 N·m.
func TestSpread(t *testing.T) {
	const load = `"load": { "mass": "10 kg", "coulomb": "20 N" }`
	const ends = `"load": { "mass": "10 kg", "coulomb": "20 N", "frictionSpread": "30 %", "payloadSpread": 0.2 }`
	pairs := func(load string) []string {
		return []string{massLoad, load, `{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "payload": { "a": "5 kg" } }`, `{ "dwell": "0.5 s" } ]`, `{ "dwell": "0.5 s", "payload": { "a": "0 kg" } } ]`,
			linear, linear + `, "stopDecel": "8 m/s^2", "coupling": { "peak": "50 N m" }`, `"peakTorque": "4 N m"`, `"peakTorque": "40 N m"`, `"continuousTorque": "2 N m"`, `"continuousTorque": "8 N m"`}
	}
	plain, a := assess(t, replaced(t, pairs(load)...)), assess(t, replaced(t, pairs(ends)...))
	require.InDelta(t, 5, find(t, plain, "motors", "a", "peak motor torque").Value, 1e-12)
	require.Empty(t, find(t, plain, "motors", "a", "peak motor torque").Corner)
	require.Empty(t, plain.Stations[0].Axes[0].Ends)

	peak := find(t, a, "motors", "a", "peak motor torque")
	require.InDelta(t, 5.8, peak.Value, 1e-12)
	require.Equal(t, "F+ P+", peak.Corner)
	stop := find(t, a, "motors", "a", "stop motor torque")
	require.InDelta(t, 11.4, stop.Value, 1e-12)
	require.Equal(t, "F- P+", stop.Corner)
	require.InDelta(t, 5.8, find(t, a, "mechanics", "a", "coupling peak").Value, 1e-12)
	require.Len(t, a.Stations[0].Axes[0].Ends, 4)

	// The station's powers lie beyond those of every end, and reach them at every instant.
	st := a.Stations[0]
	for k := range 200 {
		at := st.Duration * (float64(k) + 0.37) / 200
		most, least := math.Inf(-1), math.Inf(1)
		ax := st.Axes[0]
		for _, l := range append(ax.Ends, ax.LoadResult) {
			most = math.Max(most, l.Hot.BusPower.At(at))
			least = math.Min(least, l.Cold.BusPower.At(at))
		}
		require.InDelta(t, most, st.Hot.At(at), 1e-9)
		require.InDelta(t, least, st.Cold.At(at), 1e-9)
	}
	require.GreaterOrEqual(t, a.Bus.Highest, plain.Bus.Highest)
	require.NotNil(t, plain.Bus.RiseCycle)
	require.Nil(t, a.Bus.RiseCycle, "no single course with a spread")
	require.Greater(t, a.Bus.MeanPower, plain.Bus.MeanPower)
	require.Greater(t, st.Axes[0].Winding.Temperature, plain.Stations[0].Axes[0].Winding.Temperature)

	var b bytes.Buffer
	require.NoError(t, a.WriteText(&b))
	require.Contains(t, b.String(), "a: peak motor torque [F+ P+]")
	require.Contains(t, b.String(), "F- at its lower")
	for _, c := range []struct{ load, path string }{
		{`"load": { "mass": "10 kg", "frictionSpread": 0.2 }`, "axes[0].load.frictionSpread"},
		{`"load": { "mass": "10 kg", "coulomb": "1 N", "frictionSpread": 1 }`, "axes[0].load.frictionSpread"},
		{`"load": { "mass": "10 kg", "payloadSpread": 0.2 }`, "axes[0].load.payloadSpread"},
	} {
		require.Equal(t, []string{c.path}, faults(t, replaced(t, massLoad, c.load)))
	}
}

// A spread of the demonstration machine makes no figure better, and what it is bounded by
// lies beyond the machine built with each end: on a bank without series resistance, where
// the bounds know no currents but only energies.
func TestSpreadBoundsItsEnds(t *testing.T) {
	const bank, ideal = `"seriesResistance": "12 mohm",`, ``
	a := assess(t, edit(t, bank, ideal))
	for _, end := range [][2]string{{"9.8 N", "8.4 N s/m"}, {"18.2 N", "15.6 N s/m"}} {
		b := assess(t, edit(t, bank, ideal, `"coulomb": "14 N", "viscous": "12 N s/m", "frictionSpread": "30 %"`, `"coulomb": "`+end[0]+`", "viscous": "`+end[1]+`"`))
		// The voltages at the drives, on which cable losses rest, are found in steps of a
		// thousandth of the voltage, so that of two bounds either may be the closer one.
		require.LessOrEqual(t, a.Bus.Lowest, b.Bus.Lowest+1e-3)
		require.GreaterOrEqual(t, a.Bus.Highest, b.Bus.Highest)
		require.GreaterOrEqual(t, a.Bus.MeanPower, b.Bus.MeanPower)
	}
}

// The joint carries an emergency stop as well: 10 kg at 8 m/s² on 0.1 m with a factor of 2.
func TestJointInAStop(t *testing.T) {
	a := assess(t, replaced(t, linear, linear+`, "stopDecel": "8 m/s^2", "joint": { "kind": "bond", "shear": "15 MPa", "shaftDiameter": "20 mm", "length": "20 mm", "serviceFactor": 2 }`))
	require.InDelta(t, 16, find(t, a, "mechanics", "a", "joint torque").Value, 1e-12)
}

// A load of 10 kg on an incline of 30 degrees pulls with 49.03 N, friction of 30 N holds
// the rest: at standstill the motor gives 1.903 N·m, and 4.903 N·m without its help.
func TestFrictionHelpsAtRest(t *testing.T) {
	a := assess(t, replaced(t, massLoad, `"load": { "mass": "10 kg", "incline": "30 deg", "coulomb": "30 N" }`,
		`{ "to": { "a": "1 m" } }, { "dwell": "0.5 s" }, { "to": { "a": "0 m" } }, { "dwell": "0.5 s" }`, `{ "dwell": "2 s" }`))
	require.InDelta(t, 10*g/2*0.1-3, find(t, a, "motors", "a", "RMS motor torque").Value, 1e-12)
	require.InDelta(t, 10*g/2*0.1, a.Stations[0].Axes[0].UnaidedRMS, 1e-12)
	require.Contains(t, strings.Join(a.Assumptions, "\n"), `RMS motor torque of "a" would be 4.90 N m instead of 1.90 N m (+158 %)`)

	// With moves the rest is half a second twice: the squares of the whole differ by its share.
	a = assess(t, replaced(t, massLoad, `"load": { "mass": "10 kg", "incline": "30 deg", "coulomb": "30 N" }`))
	ax := a.Stations[0].Axes[0]
	with := ax.Hot.RatedTorque.RMS()
	require.InDelta(t, (4.903325*4.903325-1.903325*1.903325)/4, ax.UnaidedRMS*ax.UnaidedRMS-with*with, 1e-6)
}

// Halves are rounded away from zero, whatever binary makes of them.
func TestHalvesRoundUp(t *testing.T) {
	a := assess(t, replaced(t, `{ "to": { "a": "1 m" } }, { "dwell": "0.5 s" }, { "to": { "a": "0 m" } }, { "dwell": "0.5 s" }`, `{ "dwell": "1.275 s" }`))
	var b bytes.Buffer
	require.NoError(t, a.WriteText(&b))
	require.Contains(t, b.String(), "1.28 s")
}

// A reader sees what was not looked at: no limit of current and no inductance take four
// checks from the axis, and a supply that cannot carry the axes two more.
func TestUnchecked(t *testing.T) {
	text := func(doc string) string {
		var b bytes.Buffer
		require.NoError(t, assess(t, doc).WriteText(&b))
		head, _, _ := strings.Cut(b.String(), "\nMOTION")
		return strings.Join(strings.Fields(head), " ")
	}
	plain := text(simple)
	for _, want := range []string{"limits that were checked are kept", "CAUTIONS", "Not checked:", "peak current (the drive's peakCurrent not given): a", "voltage for the speed (inductance",
		"emergency stop (stopDecel not given): a", "joint of the first hub (not given): a", "brake resistor (there is none)"} {
		require.Contains(t, plain, want)
	}
	require.Contains(t, text(edit(t, `"currentLimit": "6 A"`, `"currentLimit": "0.5 A"`)), "voltage for the speed (the bus has no lowest voltage): every axis")
	require.NotContains(t, text(plainDemo(t)), "peakCurrent")
}

// The entries of an energy row add up to what was drawn less what was returned.
func TestEnergyRowsClose(t *testing.T) {
	a := assess(t, plainDemo(t))
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			rest := figureOf(t, a, "energy", ax.Name, "drawn").Value - figureOf(t, a, "energy", ax.Name, "returned").Value
			for _, name := range []string{"load work", "raised", "friction", "gears", "copper", "drive"} {
				rest -= figureOf(t, a, "energy", ax.Name, name).Value
			}
			require.InDelta(t, 0, rest, 1e-9)
		}
	}
}
