package sizing_test

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

func assessment(t testing.TB, doc string) (*sizing.Assessment, error) {
	t.Helper()
	return sizing.Assess(context.Background(), parse(t, doc))
}

const g = 9.80665

// Magnets are strong when cold and weak when hot. With -0.2 % per kelvin from 20 °C
// the flux at 0 °C is 1.04 of the sheet's: the voltage needed is that with cold
// magnets on hot copper, and what comes back is with both cold.
func TestMagnetCorners(t *testing.T) {
	a := assess(t, replaced(t, `"low": "20 degC"`, `"low": "0 degC"`, `"temperature": "20 degC"`, `"temperature": "20 degC", "magnetCoefficient": "-0.2 %/K", "inductanceLineToLine": "1 uH"`,
		`"standby": "5 W"`, `"standby": "5 W", "modulationLimit": "50 %"`))
	ax := a.Stations[0].Axes[0]
	// 2 N·m: current 2/1.04 A through 1 ohm x 234.5/254.5.
	require.InDelta(t, 4/(1.04*1.04)*234.5/254.5, ax.Cold.CopperLoss.Max().V, 1e-9)

	hot := ax.Winding.Temperature
	flux, r := 1-0.002*(hot-20), (234.5+hot)/254.5
	require.InDelta(t, 4/(flux*flux)*r, ax.Hot.CopperLoss.Max().V, 1e-6)

	// 10 rad/s: back-EMF 10.4 V and the drop of 2/1.04 A, over half of the bus.
	require.InDelta(t, (10.4+2/1.04*r)/0.5, find(t, a, "motors", "a", "bus voltage needed").Value, 1e-3)
	require.Greater(t, 10.4+2/1.04*r, 10*flux+2/flux*r)
}

// Magnets that lose half of their flux before the winding is at its end do not stop
// the assessment: it says that the winding is too hot.
func TestMagnetsBeyondTheirLine(t *testing.T) {
	a := assess(t, replaced(t, `"temperature": "20 degC"`, `"temperature": "20 degC", "magnetCoefficient": "-1 %/K"`, `"continuousTorque": "2 N m"`, `"continuousTorque": "1.2 N m"`))
	require.False(t, find(t, a, "heat", "a", "winding").OK)
}

// The supply gives most at high line, where the bleeder takes more: 110 V on 1 kohm
// is 12.1 W, beside 5 W standby and the copper.
func TestMeanPowerAtHighLine(t *testing.T) {
	a := assess(t, replaced(t, `"tolerance": "0 %"`, `"tolerance": "10 %"`))
	require.Greater(t, find(t, a, "supply", "", "mean power").Value, 12.1+5+2)
}

// What a brake has to hold is the largest pull anywhere on the way, not that at its
// ends: 50 N half-way on a radius of 0.1 m is 5 N·m.
func TestHoldingAnywhere(t *testing.T) {
	pull := func(pairs ...string) float64 { return assess(t, replaced(t, pairs...)).Stations[0].Axes[0].Weight }
	require.InDelta(t, 5, pull(massLoad, `"load": { "mass": "10 kg", "externalByPosition": [ ["0 m", "0 N"], ["500 mm", "50 N"], ["1 m", "0 N"] ] }`), 1e-12)
	require.InDelta(t, 3, pull(`{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "force": { "a": [ ["0 s", "0 N"], ["0.25 s", "30 N"], ["0.5 s", "0 N"] ] } }`), 1e-12)
	// A spring, relaxed at 0.8 m, pulls most at 0: 100 x 0.8 x 0.1.
	require.InDelta(t, 8, pull(massLoad, `"load": { "mass": "10 kg", "counterbalance": { "stiffness": "100 N/m", "relaxed": "0.8 m" } }`), 1e-12)
	// A crank from its dead centre to 1 rad, where the slider moves 0.0478866 m/rad.
	m := parse(t, turned(t, crankKind, massLoad, `"load": { "mass": "10 kg", "incline": "90 deg" }`))
	a, err := sizing.Assess(context.Background(), m)
	require.NoError(t, err)
	require.InDelta(t, 10*g*0.0478866, a.Stations[0].Axes[0].Weight, 1e-4)

	// A load that a counterweight balances exactly does not fall.
	a = assess(t, replaced(t, massLoad, `"load": { "mass": "10 kg", "incline": "30 deg", "counterbalance": { "mass": "5 kg" } }`))
	require.Zero(t, a.Stations[0].Axes[0].Weight)
	require.NotContains(t, strings.Join(a.Cautions, "\n"), "power is lost")
	// A horizontal axis cannot fall, but outside forces can move it.
	a = assess(t, replaced(t, massLoad, `"load": { "mass": "10 kg", "external": "20 N" }`))
	require.Contains(t, strings.Join(a.Cautions, "\n"), `can move axis "a" when power is lost`)
}

// Forces and payloads of single steps load the parts of the drive train as well. On a
// motor without rotor inertia and drag the coupling carries what the motor gives.
func TestPartsCarryEveryStep(t *testing.T) {
	const coupling = linear + `, "coupling": { "peak": "50 N m" }, "joint": { "kind": "bond", "shear": "15 MPa", "shaftDiameter": "20 mm", "length": "20 mm", "serviceFactor": 1 }`
	for name, doc := range map[string]string{
		"force": replaced(t, linear, coupling, `{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "force": { "a": [ ["0 s", "0 N"], ["0.25 s", "60 N"], ["0.5 s", "0 N"] ] } }`),
		// Balanced with its payload of 5 kg, and heaviest for the motor without.
		"empty": replaced(t, linear, coupling, massLoad, `"load": { "mass": "10 kg", "incline": "90 deg", "counterbalance": { "force": "147.09975 N" } }`,
			`{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "payload": { "a": "5 kg" } }`, `{ "dwell": "0.5 s" } ]`, `{ "dwell": "0.5 s", "payload": { "a": "0 kg" } } ]`),
	} {
		a := assess(t, doc)
		motor := find(t, a, "motors", "a", "peak motor torque").Value
		require.Greater(t, motor, 5.9, name)
		require.InDelta(t, motor, find(t, a, "mechanics", "a", "coupling peak").Value, 1e-9, name)
		require.InDelta(t, motor, find(t, a, "mechanics", "a", "joint torque").Value, 1e-9, name)
	}
}

// An emergency stop is held against the motor's peak torque: 10 kg at 8 m/s² on 0.1 m.
func TestStopTorque(t *testing.T) {
	a := assess(t, replaced(t, linear, linear+`, "stopDecel": "8 m/s^2"`))
	c := find(t, a, "motors", "a", "stop motor torque")
	require.InDelta(t, 8, c.Value, 1e-12)
	require.InDelta(t, 4, c.Limit, 1e-12)
	require.False(t, a.Fits)
	// Against a spring that is 50 N strong where the speed is gone it takes 5 N·m more
	// or less, depending on the place: relaxed at 0, a stop on the way out is helped, and
	// one on the way back is not.
	a = assess(t, replaced(t, linear, linear+`, "stopDecel": "8 m/s^2"`, massLoad, `"load": { "mass": "10 kg", "counterbalance": { "stiffness": "50 N/m" } }`))
	require.Greater(t, find(t, a, "motors", "a", "stop motor torque").Value, 8+2.)
	// A rope cannot brake a rising load faster than it falls by itself.
	_, err := assessment(t, replaced(t, linear, linear+`, "stopDecel": "12 m/s^2"`, beltKind, `"mechanism": { "kind": "drum", "diameter": "200 mm", "falls": 1, "efficiency": 0.9 }`))
	in := profile.InputErrors(err)
	require.NotEmpty(t, in)
	require.Equal(t, "stations[0].axes[0].stopDecel", in[0].Path)
}

// The axial force of a screw is that of its load, whatever its efficiency and its own
// inertia are: 10 (g + 2) N upwards. A self-locking screw at rest takes no torque,
// and still carries the weight.
func TestScrewForce(t *testing.T) {
	const rod = `"rod": { "rootDiameter": "30 mm", "density": "7850 kg/m^3", "elasticity": "206 GPa", "yield": "350 MPa",
		"whirling": { "length": "1 m", "ends": "fixed-pinned", "fraction": "80 %" }, "buckling": { "length": "1 m", "ends": "fixed-free", "fraction": "50 %" } }`
	const up = `"load": { "mass": "10 kg", "incline": "90 deg" }`
	for _, screw := range []string{
		`"kind": "screw", "lead": "10 mm/rev", "efficiency": 1, `,
		`"kind": "screw", "lead": "10 mm/rev", "efficiency": 0.3, "inertia": "9 kg cm^2", "drag": "1 N m", `,
	} {
		a := assess(t, replaced(t, massLoad, up, beltKind, `"mechanism": { `+screw+rod+` }`))
		require.InDelta(t, 10*(g+2), find(t, a, "mechanics", "a", "screw force").Value, 1e-6)
	}
	rests := assess(t, replaced(t, massLoad, up, beltKind, `"mechanism": { "kind": "screw", "lead": "10 mm/rev", "efficiency": 0.3, `+rod+` }`, `"to": { "a": "1 m" }`, `"dwell": "1 s"`))
	require.InDelta(t, 10*g, find(t, rests, "mechanics", "a", "screw force").Value, 1e-9)
	stops := assess(t, replaced(t, massLoad, up, beltKind, `"mechanism": { "kind": "screw", "lead": "10 mm/rev", "efficiency": 0.9, `+rod+` }`, linear, linear+`, "stopDecel": "8 m/s^2"`))
	require.InDelta(t, 10*(g+8), find(t, stops, "mechanics", "a", "screw force").Value, 1e-6)
}

// Distances that add up to nothing but for rounding close the cycle, and the rest of
// 5e-17 m is no move.
func TestRoundingClosesTheCycle(t *testing.T) {
	for _, steps := range []string{
		`{ "by": { "a": "0.1 m" } }, { "by": { "a": "0.2 m" } }, { "by": { "a": "-0.3 m" } }`,
		`{ "by": { "a": "0.1 m" } }, { "by": { "a": "0.2 m" } }, { "to": { "a": "0.3 m" } }, { "to": { "a": "0 m" } }`,
	} {
		a := assess(t, replaced(t, `{ "to": { "a": "1 m" } }, { "dwell": "0.5 s" }, { "to": { "a": "0 m" } }, { "dwell": "0.5 s" }`, steps))
		st := a.Stations[0]
		if len(st.Starts) == 4 {
			require.Equal(t, st.Starts[2], st.Starts[3], "no move at all")
		}
	}
}

// An endless crank repeats after whole turns only; an endless axis with a spring does
// not repeat at all when it moves on.
func TestEndlessAxes(t *testing.T) {
	const out, back = `{ "to": { "a": "1 rad" } }`, `{ "to": { "a": "0 rad" } }`
	crank := func(by string) string {
		return strings.Replace(turned(t, crankKind, out, `{ "by": { "a": "`+by+`" } }`, back, `{ "dwell": "1 s" }`), `"name": "a",`, `"name": "a", "endless": true,`, 1)
	}
	assess(t, crank("2 rev"))
	for _, doc := range []string{
		crank("1.5 rev"),
		replaced(t, `"name": "a",`, `"name": "a", "endless": true,`, massLoad, `"load": { "mass": "10 kg", "counterbalance": { "stiffness": "100 N/m" } }`, `{ "to": { "a": "0 m" } }`, `{ "dwell": "1 s" }`),
	} {
		_, err := assessment(t, doc)
		in := profile.InputErrors(err)
		require.Len(t, in, 1)
		require.Contains(t, []string{"stations[0].steps[0].by.a", "stations[0].steps[0].to.a"}, in[0].Path)
	}
}
