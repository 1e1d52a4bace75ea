package sizing_test

import (
	"context"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// replaced returns the machine worked out by hand with pieces of its document
// replaced.
func replaced(t testing.TB, pairs ...string) string {
	t.Helper()
	doc := simple
	for i := 0; i < len(pairs); i += 2 {
		require.Contains(t, doc, pairs[i])
		doc = strings.Replace(doc, pairs[i], pairs[i+1], 1)
	}
	return doc
}

const (
	beltKind = `"mechanism": { "kind": "belt", "pitchDiameter": "200 mm", "efficiency": 1 }`
	massLoad = `"load": { "mass": "10 kg" }`
	linear   = `"limits": { "speed": "1 m/s", "accel": "2 m/s^2" }`
)

var close15 = cmpopts.EquateApprox(1e-14, 1e-18)

// Every mechanism can be written, and reaches the library in SI units.
func TestMechanisms(t *testing.T) {
	angular := []string{linear, `"limits": { "speed": "1 rad/s", "accel": "2 rad/s^2" }`, `"to": { "a": "1 m" }`, `"to": { "a": "1 rad" }`, `"to": { "a": "0 m" }`, `"to": { "a": "0 rad" }`}
	for _, c := range []struct {
		text  string
		want  energy.Mechanism
		pairs []string
	}{
		{`"kind": "screw", "lead": "5 mm/rev", "efficiency": "90 %", "backEfficiency": "85 %", "inertia": "0.2 kg cm^2", "drag": "20 mN m"`,
			energy.Screw{Lead: 0.005, Efficiency: 0.9, BackEfficiency: 0.85, Inertia: 0.2e-4, Drag: 0.02}, nil},
		{`"kind": "belt", "pitchDiameter": "50 mm", "efficiency": 0.95, "beltMass": "200 g"`,
			energy.Belt{PitchDiameter: 0.05, Efficiency: 0.95, BeltMass: 0.2}, nil},
		{`"kind": "rack", "pitchDiameter": "80 mm", "efficiency": 0.95, "inertia": "3 kg cm^2"`,
			energy.RackPinion{PitchDiameter: 0.08, Efficiency: 0.95, Inertia: 3e-4}, nil},
		{`"kind": "conveyor", "diameter": "60 mm", "driven": 6, "idle": 3, "rollerInertia": "1 kg cm^2", "rollerDrag": "5 mN m"`,
			energy.RollerConveyor{Diameter: 0.06, Driven: 6, Idle: 3, RollerInertia: 1e-4, RollerDrag: 0.005}, nil},
		{`"kind": "drum", "diameter": "200 mm", "falls": 2, "efficiency": 0.9`,
			energy.HoistDrum{Diameter: 0.2, Falls: 2, Efficiency: 0.9}, nil},
		{`"kind": "rotary", "efficiency": 1, "drag": "0.1 N m"`,
			energy.Rotary{Efficiency: 1, Drag: 0.1}, append([]string{massLoad, `"load": { "inertia": "0.1 kg m^2" }`}, angular...)},
		{`"kind": "crank", "radius": "50 mm", "connectingRod": "200 mm", "offset": "10 mm", "efficiency": 0.95`,
			energy.CrankSlider{Radius: 0.05, Rod: 0.2, Offset: 0.01, Efficiency: 0.95}, angular},
	} {
		t.Run(c.text[:20], func(t *testing.T) {
			m := parse(t, replaced(t, append([]string{beltKind, `"mechanism": { ` + c.text + ` }`}, c.pairs...)...))
			if d := cmp.Diff(c.want, m.Axes[0].Drive.Mechanism, close15); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			a, err := sizing.Assess(context.Background(), m)
			require.NoError(t, err)
			require.Positive(t, find(t, a, "motors", "a", "peak motor torque").Value)
		})
	}
}

// A thread gives the efficiencies of a sliding screw: with a lead angle of tan λ =
// 8/(30 π) = 0.08488 and friction 0.08, forward tan λ (1 - f tan λ)/(tan λ + f) =
// 0.08488 x 0.99321/0.16488 = 0.51132.
func TestThread(t *testing.T) {
	m := parse(t, replaced(t, beltKind, `"mechanism": { "kind": "screw", "lead": "8 mm/rev", "thread": { "meanDiameter": "30 mm", "friction": 0.08 } }`))
	require.InDelta(t, 0.51132, m.Axes[0].Drive.Mechanism.(energy.Screw).Efficiency, 1e-5)
}

// The reeving of a hoist gives its efficiencies: two falls on sheaves of 0.98 with
// one guide sheave, 0.98 (1 + 0.98)/2 = 0.9702.
func TestReeving(t *testing.T) {
	m := parse(t, replaced(t, beltKind, `"mechanism": { "kind": "drum", "diameter": "200 mm", "reeving": { "falls": 2, "guide": 1, "sheave": "98 %" } }`))
	d := m.Axes[0].Drive.Mechanism.(energy.HoistDrum)
	require.InDelta(t, 0.9702, d.Efficiency, 1e-12)
	require.Equal(t, 2, d.Falls)
}

// Every field of a load can be written and reaches the library in SI units.
func TestLoadFields(t *testing.T) {
	m := parse(t, replaced(t, massLoad, `"load": {
		"mass": "10 kg", "coulomb": "5 N", "viscous": "2 N s/m", "plus": { "coulomb": "1 N" }, "minus": { "viscous": "3 N s/m" },
		"breakaway": "9 N", "external": "4 N", "incline": "30 deg",
		"externalByPosition": [ ["0 mm", "0 N"], ["500 mm", "20 N"] ],
		"counterbalance": { "mass": "2 kg", "stiffness": "100 N/m", "relaxed": "200 mm", "force": "6 N" } }`))
	want := energy.Load{
		Mass: 10, Coulomb: 5, Viscous: 2, Plus: energy.Friction{Coulomb: 1}, Minus: energy.Friction{Viscous: 3},
		Breakaway: 9, External: 4, Incline: math.Pi / 6,
		ExternalByPosition: energy.ForceTable{Position: []float64{0, 0.5}, Force: []float64{0, 20}},
		Counterbalance:     energy.Counterbalance{Mass: 2, Ratio: 1, Stiffness: 100, Relaxed: 0.2, Force: 6},
	}
	if d := cmp.Diff(want, m.Axes[0].Drive.Load, close15, cmp.AllowUnexported(profile.Curve{})); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	_, err := sizing.Assess(context.Background(), m)
	require.NoError(t, err)
}

// Payload and forces change from step to step. Out with 10 kg, back with 15 kg: the
// peak torque is 15 x 2 x 0.1 = 3 N·m. A push of 30 N while it stands costs 3 N·m
// too.
func TestPayloadAndForce(t *testing.T) {
	const back = `{ "to": { "a": "0 m" } }, { "dwell": "0.5 s" }`
	loaded := assess(t, replaced(t, `{ "dwell": "0.5 s" }, `+back, `{ "dwell": "0.5 s", "payload": { "a": "5 kg" } }, { "to": { "a": "0 m" } }, { "dwell": "0.5 s", "payload": { "a": "0 kg" } }`))
	require.InDelta(t, 3, find(t, loaded, "motors", "a", "peak motor torque").Value, 1e-12)
	pushed := assess(t, replaced(t, `{ "dwell": "0.5 s" }, `+back, `{ "dwell": "0.5 s", "force": { "a": [ ["0 s", "0 N"], ["0.1 s", "30 N"], ["0.5 s", "30 N"] ] } }, `+back))
	require.InDelta(t, 3, find(t, pushed, "motors", "a", "peak motor torque").Value, 1e-12)

	// A payload that is never put down does not repeat.
	_, err := sizing.Assess(context.Background(), parse(t, replaced(t, `{ "dwell": "0.5 s" }, `+back, `{ "dwell": "0.5 s", "payload": { "a": "5 kg" } }, `+back)))
	require.Error(t, err)
	require.Equal(t, "stations[0].steps[1].payload.a", profile.InputErrors(err)[0].Path)
}

// Every law can be written. Over 1 m within 1 m/s and 2 m/s² the shortest times are
// the larger of Cv s/v and √(Ca s/a), with the factors of the laws.
func TestLaws(t *testing.T) {
	for _, c := range []struct {
		law  string
		want float64
	}{
		{`"kind": "fastest"`, 1.5},
		{`"kind": "shares", "accel": "25 %", "decel": "25 %"`, math.Max(4./3, math.Sqrt(16./3/2))}, // Cv 1/(1-p), Ca 1/(p (1-p))
		{`"kind": "least loss"`, math.Max(1.5, math.Sqrt(3))},
		{`"kind": "3-4-5"`, math.Max(1.875, math.Sqrt(10/math.Sqrt(3)/2))},
		{`"kind": "4-5-6-7"`, math.Max(2.1875, math.Sqrt(84*math.Sqrt(5)/25/2))},
		{`"kind": "harmonic"`, math.Max(math.Pi/2, math.Pi/2)},
		{`"kind": "cycloidal"`, math.Max(2, math.Sqrt(math.Pi))},
	} {
		t.Run(c.law, func(t *testing.T) {
			a := assess(t, replaced(t, linear, linear+`, "law": { `+c.law+` }`))
			require.InDelta(t, 2*(c.want+0.5), a.Stations[0].Duration, 1e-9)
		})
	}
}

// A step's duration is kept, and one that is too short says the shortest.
func TestStepDuration(t *testing.T) {
	a := assess(t, replaced(t, `{ "to": { "a": "1 m" } }`, `{ "to": { "a": "1 m" }, "duration": "2.5 s" }`))
	require.InDelta(t, 2.5+1.5+1, a.Stations[0].Duration, 1e-12)
	_, err := sizing.Assess(context.Background(), parse(t, replaced(t, `{ "to": { "a": "1 m" } }`, `{ "to": { "a": "1 m" }, "duration": "1.2 s" }`)))
	in := profile.InputErrors(err)
	require.Len(t, in, 1)
	require.Equal(t, "stations[0].steps[0].duration", in[0].Path)
	require.Contains(t, in[0].Want, "at least 1.5 s")
}

// Two axes that move together end together; on a straight line their positions keep
// the ratio of their ways at every instant.
func TestPaths(t *testing.T) {
	for _, path := range []string{"together", "straight"} {
		doc := edit(t, `"path": "together"`, `"path": "`+path+`"`, `"gantry": "850 mm", "carriage": "320 mm", "head": "90 deg" }`, `"gantry": "850 mm", "carriage": "320 mm" }`, `, "head": "0 deg" }`, ` }`)
		a := assess(t, doc)
		st := a.Stations[0]
		start, end := st.Starts[3], st.Starts[4]
		gantry, carriage := st.Axes[0].Motion, st.Axes[1].Motion
		require.NotZero(t, gantry.At(end-1e-3).Speed)
		require.NotZero(t, carriage.At(end-1e-3).Speed)
		for _, k := range []float64{0.2, 0.5, 0.8} {
			at := start + k*(end-start)
			off := gantry.At(at).Position/0.85 - carriage.At(at).Position/0.32
			if path == "straight" {
				require.InDelta(t, 0, off, 1e-9)
			}
		}
	}
}

// Bodies of simple geometry give the inertia of a load: a disc of 2 kg and 200 mm
// has 2 x 0.2²/8 = 0.01 kg·m², a point of 1 kg at 100 mm adds 0.01.
func TestBodies(t *testing.T) {
	m := parse(t, replaced(t, beltKind, `"mechanism": { "kind": "rotary", "efficiency": 1 }`,
		massLoad, `"load": { "inertia": [ { "shape": "cylinder", "diameter": "200 mm", "mass": "2 kg" }, { "shape": "point", "mass": "1 kg", "x": "100 mm" } ] }`,
		linear, `"limits": { "speed": "1 rad/s", "accel": "2 rad/s^2" }`, `"to": { "a": "1 m" }`, `"to": { "a": "1 rad" }`, `"to": { "a": "0 m" }`, `"to": { "a": "0 rad" }`))
	require.InDelta(t, 0.02, m.Axes[0].Drive.Load.Inertia, 1e-12)
}

// Ratings of the drive train, by hand: the pulley carries 2 N·m at its peak, and an
// emergency stop with 8 m/s² takes 10 x 8 x 0.1 = 8 N·m.
func TestRatings(t *testing.T) {
	a := assess(t, replaced(t, `"efficiency": 1 }`, `"efficiency": 1, "rating": { "mean": "3 N m", "peak": "3 N m", "emergencyStop": "6 N m" } }`,
		linear, linear+`, "stopDecel": "8 m/s^2", "coupling": { "peak": "5 N m", "serviceFactor": 1.5 }`))
	require.InDelta(t, 2, find(t, a, "mechanics", "a", "mechanism peak").Value, 1e-12)
	require.InDelta(t, 3, find(t, a, "mechanics", "a", "coupling peak").Value, 1e-12)
	stop := find(t, a, "mechanics", "a", "mechanism stop")
	require.InDelta(t, 8, stop.Value, 1e-12)
	require.False(t, stop.OK)
	require.False(t, a.Fits)
	// The cubic mean over the way turned: 2 N·m over half of the way, 0 over the rest.
	require.InDelta(t, 2*math.Cbrt(0.5), find(t, a, "mechanics", "a", "mechanism mean").Value, 1e-9)
}

// Joints: a key with a set screw under the reversing torque of a carriage is a
// caution; a clamp is not. The capacities by hand: clamp
// π/2 x 0.12 x 50e6 x 0.02² x 0.02 = 75.4 N·m, bond π x 0.02² x 0.02 x 15e6/2 =
// 188.5 N·m.
func TestJoints(t *testing.T) {
	joint := func(text string) *sizing.Assessment {
		return assess(t, replaced(t, linear, linear+`, "joint": { `+text+`, "serviceFactor": 2 }`))
	}
	key := joint(`"kind": "key", "shaftDiameter": "25 mm", "length": "32 mm", "pressure": "100 MPa", "shear": "60 MPa", "setScrew": true`)
	require.InDelta(t, 120, find(t, key, "mechanics", "a", "joint torque").Limit, 1e-9)
	require.InDelta(t, 4, find(t, key, "mechanics", "a", "joint torque").Value, 1e-12)
	c := find(t, key, "mechanics", "a", "joint reversals")
	require.True(t, c.Caution)
	require.False(t, c.OK)
	require.True(t, key.Fits)
	clamp := joint(`"kind": "clamp", "shaftDiameter": "20 mm", "length": "20 mm", "friction": 0.12, "pressure": "50 MPa"`)
	require.InDelta(t, 75.398, find(t, clamp, "mechanics", "a", "joint torque").Limit, 1e-3)
	bond := joint(`"kind": "bond", "shaftDiameter": "20 mm", "length": "20 mm", "shear": "15 MPa"`)
	require.InDelta(t, 188.496, find(t, bond, "mechanics", "a", "joint torque").Limit, 1e-3)
	for _, s := range bond.Sections {
		for _, c := range s.Checks {
			require.NotContains(t, c.Name, "reversals")
		}
	}
}

// A screw faster than its critical speed fails: a slender one of 8 mm root over 1.5 m,
// fixed-pinned, whirls at (3.927/1.5)² √(206e9/7850) 0.008/4 = 70.2 rad/s, at 80 % 56
// rad/s; 1 m/s on 10 mm/rev is 628 rad/s.
func TestScrewRod(t *testing.T) {
	a := assess(t, replaced(t, beltKind, `"mechanism": { "kind": "screw", "lead": "10 mm/rev", "efficiency": 0.9,
		"rod": { "rootDiameter": "8 mm", "density": "7850 kg/m^3", "elasticity": "206 GPa", "yield": "350 MPa",
			"whirling": { "length": "1.5 m", "ends": "fixed-pinned", "fraction": "80 %" },
			"buckling": { "length": "1.5 m", "ends": "fixed-free", "fraction": "50 %" } } }`))
	c := find(t, a, "mechanics", "a", "screw speed")
	require.InDelta(t, 628.32, c.Value, 0.01)
	require.InDelta(t, 56.2, c.Limit, 0.1)
	require.False(t, c.OK)
	// Euler, K = 2: π² E I/(2 L)² = π² 206e9 (π/64) 0.008⁴/9 = 45.4 N, half of it usable;
	// the force is 10 x 2 N, whatever the efficiency.
	force := find(t, a, "mechanics", "a", "screw force")
	require.InDelta(t, 22.71, force.Limit, 0.05)
	require.InDelta(t, 20, force.Value, 1e-9)
}

// The voltage that a motor needs is held against the lowest bus voltage, with the
// instant and the speed: Ke = 1 V·s/rad at 10 rad/s is 10 V, the current of 2 A, in
// copper of 82.3 °C, adds 2 x 1.2448 V; direct current without inductance.
func TestVoltage(t *testing.T) {
	pairs := []string{`"standby": "5 W"`, `"standby": "5 W", "modulationLimit": "50 %", "peakCurrent": "1.5 A", "continuousCurrent": "1.45 A"`,
		`"resistanceLineToLine": "1 ohm"`, `"resistanceLineToLine": "1 ohm", "inductanceLineToLine": "1 uH"`}
	a := assess(t, replaced(t, pairs...))
	c := find(t, a, "motors", "a", "bus voltage needed")
	require.InDelta(t, (10+2*1.24478)/0.5, c.Value, 1e-3)
	require.InDelta(t, 100, c.Limit, 1e-9)
	require.False(t, find(t, a, "motors", "a", "peak current").OK) // 2 A against 1.5 A
	require.InDelta(t, math.Sqrt2, find(t, a, "motors", "a", "RMS current").Value, 1e-12)

	low := assess(t, replaced(t, append(pairs, `"voltage": "100 V"`, `"voltage": "20 V"`, `"underVoltage": "80 V", "overVoltage": "120 V"`, `"underVoltage": "10 V", "overVoltage": "40 V"`)...))
	c = find(t, low, "motors", "a", "bus voltage needed")
	require.False(t, c.OK)
	require.Contains(t, c.Cure, "0.500 s")
	require.Contains(t, c.Cure, "95.5 rpm")
}

// A linear motor has forces where others have torques: 10 kg at 2 m/s² is 20 N, in the
// report as well. Its motor cannot stand on another mechanism, nor another on it.
func TestLinearMotor(t *testing.T) {
	const turning = `"rotorInertia": "0 kg m^2",
    "winding": { "torquePerDCAmpere": "1 N m/A", "resistanceLineToLine": "1 ohm", "temperature": "20 degC", "max": "140 degC" },
    "continuousTorque": "2 N m", "peakTorque": "4 N m", "maxSpeed": "100 rad/s"`
	const sliding = `"linear": true,
    "winding": { "forcePerRMSAmpere": "30 N/A", "resistanceLineToLine": "2 ohm", "inductanceLineToLine": "5 mH", "polePitch": "16 mm", "temperature": "20 degC", "max": "140 degC" },
    "continuousForce": "60 N", "peakForce": "150 N", "maxSpeed": "3 m/s"`
	const direct = `"mechanism": { "kind": "direct" }`
	a := assess(t, replaced(t, turning, sliding, beltKind, direct, `"standby": "5 W"`, `"standby": "5 W", "modulationLimit": 1`))
	c := find(t, a, "motors", "a", "peak motor force")
	require.InDelta(t, 20, c.Value, 1e-12)
	require.Equal(t, "N", c.Unit)
	require.InDelta(t, 1, find(t, a, "motors", "a", "motor speed").Value, 1e-12)
	require.Equal(t, "m/s", find(t, a, "motors", "a", "motor speed").Unit)
	require.Positive(t, find(t, a, "motors", "a", "bus voltage needed").Value)

	for _, doc := range []string{replaced(t, turning, sliding), replaced(t, beltKind, direct)} {
		_, err := sizing.Parse(strings.NewReader(doc))
		in := profile.InputErrors(err)
		require.NotEmpty(t, in)
		require.Equal(t, "axes[0].mechanism", in[0].Path)
	}
}
