package sizing_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

// faults returns the paths of the faults of a document.
func faults(t testing.TB, doc string) []string {
	t.Helper()
	_, err := sizing.Parse(strings.NewReader(doc))
	var paths []string
	for _, e := range profile.InputErrors(err) {
		paths = append(paths, e.Path)
		t.Log(e)
	}
	return paths
}

// turned returns the machine worked out by hand with its axis written in angles.
func turned(t testing.TB, mechanism string, pairs ...string) string {
	return replaced(t, append([]string{beltKind, `"mechanism": { ` + mechanism + ` }`, linear, `"limits": { "speed": "1 rad/s", "accel": "2 rad/s^2" }`,
		`"to": { "a": "1 m" }`, `"to": { "a": "1 rad" }`, `"to": { "a": "0 m" }`, `"to": { "a": "0 rad" }`}, pairs...)...)
}

const crankKind = `"kind": "crank", "radius": "50 mm", "connectingRod": "200 mm", "efficiency": 1`

// Units of the right dimensions that stand for something else are refused.
func TestNamesakes(t *testing.T) {
	for _, c := range []struct{ from, to, path string }{
		{`"peakTorque": "4 N m"`, `"peakTorque": "4 J"`, "motors.m.peakTorque"},
		{`"peakTorque": "4 N m"`, `"peakTorque": "4 W s"`, "motors.m.peakTorque"},
		{`"torquePerDCAmpere": "1 N m/A"`, `"torquePerDCAmpere": "1 V s"`, "motors.m.winding.torquePerDCAmpere"},
		{`"ratedPower": "900 W"`, `"ratedPower": "900 VA"`, "supply.ratedPower"},
		{`"bleeder": "1 kohm"`, `"bleeder": "1 kohm", "brakeResistor": { "resistance": "10 ohm", "onVoltage": "115 V", "offVoltage": "112 V", "continuous": "60 W", "pulse": "400 N m" }`, "brakeResistor.pulse"},
	} {
		require.Equal(t, []string{c.path}, faults(t, replaced(t, c.from, c.to)), c.to)
	}
	require.Empty(t, faults(t, replaced(t, `"peakTorque": "4 N m"`, `"peakTorque": "400 Nm"`)))
}

// A zero that would be read as "not given" is refused where it says something else:
// a bleeder of no resistance is a short and not the lack of a bleeder.
func TestZeroIsNotNothing(t *testing.T) {
	rating := `"mechanism": { "kind": "belt", "pitchDiameter": "200 mm", "efficiency": 1, "rating": { "peak": "9 N m", "mean": "0 N m" } }`
	for _, c := range []struct{ from, to, path string }{
		{`"bleeder": "1 kohm"`, `"bleeder": "0 ohm"`, "bleeder"},
		{`"efficiency": 1 }`, `"efficiency": 1, "backEfficiency": 0 }`, "axes[0].mechanism.backEfficiency"},
		{massLoad, `"load": { "mass": "10 kg", "counterbalance": { "mass": "1 kg", "ratio": 0 } }`, "axes[0].load.counterbalance.ratio"},
		{massLoad, `"load": { "mass": "10 kg", "coulomb": "3 N", "breakaway": "0 N" }`, "axes[0].load.breakaway"},
		{linear, `"limits": { "speed": "1 m/s", "accel": "2 m/s^2", "jerk": "0 m/s^3" }`, "axes[0].limits.jerk"},
		{linear, linear + `, "stopDecel": "0 m/s^2"`, "axes[0].stopDecel"},
		{`"standby": "5 W"`, `"standby": "5 W", "peakCurrent": "0 A"`, "drives.d.peakCurrent"},
		{`"standby": "5 W"`, `"standby": "5 W", "modulationLimit": 0`, "drives.d.modulationLimit"},
		{`"temperature": "20 degC"`, `"temperature": "20 degC", "polePairs": 0`, "motors.m.winding.polePairs"},
		{`"temperature": "20 degC"`, `"temperature": "20 degC", "inductanceLineToLine": "0 H"`, "motors.m.winding.inductanceLineToLine"},
		{`{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "duration": "0 s" }`, "stations[0].steps[1].duration"},
		{beltKind, rating, "axes[0].mechanism.rating.mean"},
	} {
		require.Equal(t, []string{c.path}, faults(t, replaced(t, c.from, c.to)), c.to)
	}
}

// A share above 1, as from a percentage without its sign, is refused.
func TestSharesAboveOne(t *testing.T) {
	for _, c := range []struct{ from, to, path string }{
		{`"efficiency": 1 }`, `"efficiency": 94 }`, "axes[0].mechanism.efficiency"},
		{`"tolerance": "0 %"`, `"tolerance": 2`, "supply.tolerance"},
		{`"efficiency": 0.8`, `"efficiency": 80`, "supply.efficiency"},
		{`"toleranceLow": "0 %"`, `"toleranceLow": 20`, "bank.toleranceLow"},
		{`"toleranceHigh": "50 %"`, `"toleranceHigh": 50`, "bank.toleranceHigh"},
		{`"standby": "5 W"`, `"standby": "5 W", "modulationLimit": 95`, "drives.d.modulationLimit"},
		{linear, linear + `, "law": { "kind": "shares", "accel": 25, "decel": 0.25 }`, "axes[0].law.accel"},
	} {
		require.Contains(t, faults(t, replaced(t, c.from, c.to)), c.path, c.to)
	}
}

// A crank is driven in angles, and its slider carries kilograms and feels newtons.
func TestCrankUnits(t *testing.T) {
	stands := `{ "dwell": "0.5 s", "payload": { "a": "30 kg" }, "force": { "a": [ ["0 s", "0 N"], ["0.1 s", "30 N"], ["0.5 s", "0 N"] ] } }`
	puts := `{ "dwell": "0.5 s", "payload": { "a": "0 kg" } } ]`
	doc := turned(t, crankKind, `{ "dwell": "0.5 s" }`, stands, `{ "dwell": "0.5 s" } ]`, puts)
	a := assess(t, doc)
	plain := assess(t, turned(t, crankKind))
	// At 1 rad the slider moves k = -r sin θ (1 + r cos θ/√(l² - r² sin² θ)) m/rad; the
	// force of 30 N takes 30 |k| at rest: 0.05 x 0.841471 (1 + 0.0270151/0.195525) =
	// 0.0478866 m/rad, 1.436599 N·m.
	require.InDelta(t, 1.436599, a.Stations[0].Axes[0].Weight, 1e-5)
	require.Greater(t, find(t, a, "motors", "a", "peak motor torque").Value, find(t, plain, "motors", "a", "peak motor torque").Value)
	for _, f := range a.Sections[0].Figures {
		if f.Name == "travel" {
			require.Equal(t, "rad", f.Unit)
			require.InDelta(t, 1, f.Value, 1e-12)
		}
	}
	for _, c := range []struct{ from, to, path string }{
		{`"30 kg"`, `"30 kg m^2"`, "stations[0].steps[1].payload.a"},
		{`"30 N"`, `"30 N m"`, "stations[0].steps[1].force.a[1][1]"},
	} {
		require.Equal(t, []string{c.path}, faults(t, strings.Replace(doc, c.from, c.to, 1)))
	}
}

// A linear motor has forces everywhere, the holding brake included, and nothing that
// turns can be rated on its axis.
func TestLinearMotorUnits(t *testing.T) {
	doc := variants(t)["linear motor"]
	up := strings.Replace(strings.Replace(doc, massLoad, `"load": { "mass": "5 kg", "incline": "90 deg" }`, 1), linear, linear+`, "holdingBrake": "40 N"`, 1)
	c := find(t, assess(t, up), "motors", "a", "holding brake")
	require.Equal(t, "N", c.Unit)
	require.InDelta(t, 5*9.80665, c.Limit, 1e-9)
	require.False(t, c.OK)
	for _, c := range []struct{ from, to, path string }{
		{`"holdingBrake": "40 N"`, `"holdingBrake": "40 N m"`, "axes[0].holdingBrake"},
		{`"holdingBrake": "40 N"`, `"coupling": { "peak": "5 N m" }`, "axes[0].coupling"},
		{`"holdingBrake": "40 N"`, `"joint": { "kind": "bond", "shear": "15 MPa", "shaftDiameter": "20 mm", "length": "20 mm", "serviceFactor": 2 }`, "axes[0].joint"},
		{`"kind": "direct"`, `"kind": "direct", "rating": { "peak": "5 N m" }`, "axes[0].mechanism.rating"},
		{`"peakForce": "150 N"`, `"peakForce": "15 N"`, "motors.m.peakForce"},
		{`"forcePerRMSAmpere": "30 N/A"`, `"forcePerRMSAmpere": "30 N m/A"`, "motors.m.winding.forcePerRMSAmpere"},
		{`"voltagePhasePeak": "14.14 V s/m"`, `"voltagePhasePeak": "30 V s/m"`, "motors.m.winding.voltagePhasePeak"},
	} {
		require.Equal(t, []string{c.path}, faults(t, strings.Replace(up, c.from, c.to, 1)), c.to)
	}
}

// A sheet may be written in any convention: all of these say 1 N·m/A RMS and a phase
// of 0.5 ohm.
func TestSheetConventions(t *testing.T) {
	const from = `"torquePerDCAmpere": "1 N m/A", "resistanceLineToLine": "1 ohm"`
	for _, text := range []string{
		`"torquePerRMSAmpere": "1 N m/A", "resistanceLineToLine": "1 ohm"`,
		`"torquePerPeakAmpere": "0.70710678118654752 N m/A", "resistancePerPhase": "0.5 ohm"`,
		`"voltageLineToLineRMS": "0.57735026918962576 V s/rad", "resistancePerPhase": "0.5 ohm"`, // 1/√3
		`"voltageLineToLinePeak": "0.81649658092772603 V s/rad", "resistancePerPhase": "0.5 ohm"`,
		`"voltagePhaseRMS": "0.33333333333333333 V s/rad", "resistancePerPhase": "0.5 ohm"`,
		`"voltagePhasePeak": "0.47140452079103168 V s/rad", "resistancePerPhase": "0.5 ohm"`,
		`"stallTorque": "2 N m", "stallCurrentRMS": "2 A", "resistancePerPhase": "0.5 ohm"`,
		`"stallTorque": "2 N m", "stallCurrentPeak": "2.8284271247461901 A", "resistancePerPhase": "0.5 ohm"`,
		`"torquePerRMSAmpere": "1 N m/A", "motorConstant": "0.81649658092772603 N m/sqrt(W)"`, // √(2/3)
	} {
		w := parse(t, replaced(t, from, text)).Axes[0].Drive.Motor.Winding
		got := []float64{w.Kt(), w.Km(), w.ResistanceLineToLine(), w.VoltageConstant()}
		want := []float64{1, 0.81649658092772603, 1, 0.57735026918962576}
		if d := cmp.Diff(want, got, close15); d != "" {
			t.Errorf("%s (-want +got):\n%s", text, d)
		}
	}
	for _, text := range []string{
		`"torquePerDCAmpere": "1 N m/A", "resistanceLineToLine": "1 ohm"`,
		`"voltageDC": "1 V s/rad", "resistanceLineToLine": "1 ohm"`,
		`"stallTorque": "2 N m", "stallCurrentDC": "2 A", "resistanceLineToLine": "1 ohm"`,
	} {
		w := parse(t, replaced(t, from, text)).Axes[0].Drive.Motor.Winding
		require.InDelta(t, 1, w.Kt(), 1e-15, text)
		require.InDelta(t, 1, w.Km(), 1e-15, text)
	}
	for _, c := range []struct{ text, path string }{
		{`"torquePerRMSAmpere": "1 N m/A", "torquePerPeakAmpere": "1 N m/A", "resistanceLineToLine": "1 ohm"`, "motors.m.winding.torquePerPeakAmpere"},
		{`"torquePerRMSAmpere": "1 N m/A", "voltageLineToLineRMS": "1 V s/rad", "resistanceLineToLine": "1 ohm"`, "motors.m.winding.voltageLineToLineRMS"},
		{`"torquePerRMSAmpere": "1 N m/A", "resistancePerPhase": "1 ohm", "resistanceLineToLine": "1 ohm"`, "motors.m.winding.resistancePerPhase"},
		{`"torquePerRMSAmpere": "1 N m/A", "stallTorque": "2 N m", "stallCurrentPeak": "2 A", "resistanceLineToLine": "1 ohm"`, "motors.m.winding.stallCurrentPeak"},
		{`"torquePerRMSAmpere": "1 N m/A", "motorConstant": "1.15 N m/sqrt(W)", "resistanceLineToLine": "1 ohm"`, "motors.m.winding.motorConstant"},
	} {
		require.Len(t, faults(t, replaced(t, from, c.text)), 1, c.text)
		require.True(t, strings.HasPrefix(faults(t, replaced(t, from, c.text))[0], "motors.m.winding."), c.text)
	}
}

// What is given and would change nothing is refused.
func TestNothingIsIgnored(t *testing.T) {
	for _, c := range []struct{ from, to, path string }{
		{linear, linear + `, "coupling": {}`, "axes[0].coupling"},
		{linear, linear + `, "coupling": { "peak": "5 N m", "emergencyStop": "9 N m" }`, "axes[0].stopDecel"},
		{`"to": { "a": "1 m" } }`, `"to": { "a": "1 m" }, "path": "round" }`, "stations[0].steps[0].path"},
		{`"kind": "regulated", `, ``, "supply.kind"},
	} {
		require.Equal(t, c.path, faults(t, replaced(t, c.from, c.to))[0], c.to)
	}
	// A law whose acceleration steps keeps no limit of jerk.
	require.Contains(t, faults(t, replaced(t, linear, `"limits": { "speed": "1 m/s", "accel": "2 m/s^2", "jerk": "30 m/s^3" }, "law": { "kind": "harmonic" }`)), "axes[0].limits.jerk")
	for _, c := range []struct {
		pairs []string
		path  string
	}{
		{[]string{`{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "duration": "2 s" }`}, "stations[0].steps[1].duration"},
		{[]string{`"to": { "a": "1 m" } }`, `"to": { "a": "1 m" }, "path": "straight" }`}, "stations[0].steps[0].path"},
		{[]string{`{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "force": { "a": [ ["0.6 s", "0 N"], ["0.7 s", "30 N"] ] } }`}, "stations[0].steps[1].force.a"},
	} {
		_, err := assessment(t, replaced(t, c.pairs...))
		in := profile.InputErrors(err)
		require.Len(t, in, 1, c.pairs)
		require.Equal(t, c.path, in[0].Path)
	}
	law := edit(t, `"path": "together"`, `"path": "straight"`)
	_, err := assessment(t, law)
	require.Equal(t, "stations[0].steps[3].path", profile.InputErrors(err)[0].Path)
	require.Contains(t, err.Error(), `"head"`)
}
