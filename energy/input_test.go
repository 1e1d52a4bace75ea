package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

var bad = map[string]float64{"NaN": math.NaN(), "+Inf": math.Inf(1), "-Inf": math.Inf(-1), "huge": 1e300, "huge negative": -1e300}

// paths returns the paths of the input errors in err.
func paths(err error) []string {
	var out []string
	for _, e := range profile.InputErrors(err) {
		out = append(out, e.Path)
	}
	return out
}

// requirePaths fails unless err consists of input errors with just these paths.
func requirePaths(t *testing.T, err error, want ...string) {
	t.Helper()
	require.Error(t, err)
	require.Equal(t, want, paths(err), err.Error())
}

// TestBadFields puts bad numbers into each field of a valid axis.
func TestBadFields(t *testing.T) {
	screw := energy.Screw{Lead: 0.01, Efficiency: 0.9}
	belt := energy.Belt{PitchDiameter: 0.05, Efficiency: 0.9}
	rotary := energy.Rotary{Efficiency: 0.9}
	setScrew := func(f func(*energy.Screw, float64)) func(*energy.Axis, float64) {
		return func(a *energy.Axis, v float64) { s := screw; f(&s, v); a.Mechanism = s }
	}
	setBelt := func(f func(*energy.Belt, float64)) func(*energy.Axis, float64) {
		return func(a *energy.Axis, v float64) { s := belt; f(&s, v); a.Mechanism = s }
	}
	setRotary := func(f func(*energy.Rotary, float64)) func(*energy.Axis, float64) {
		return func(a *energy.Axis, v float64) {
			s := rotary
			f(&s, v)
			a.Mechanism, a.Load = s, energy.Load{Inertia: 1}
		}
	}
	const zeroOK, zeroBad, anySign = 0, 1, 2
	for _, tc := range []struct {
		path string
		kind int
		set  func(*energy.Axis, float64)
	}{
		{"load.mass", zeroBad, func(a *energy.Axis, v float64) { a.Load.Mass = v }},
		{"load.inertia", zeroBad, func(a *energy.Axis, v float64) {
			a.Load = energy.Load{Inertia: v}
			a.Mechanism = rotary
		}},
		{"load.coulomb", zeroOK, func(a *energy.Axis, v float64) { a.Load.Coulomb = v }},
		{"load.viscous", zeroOK, func(a *energy.Axis, v float64) { a.Load.Viscous = v }},
		{"load.incline", anySign, func(a *energy.Axis, v float64) { a.Load.Incline = v }},
		{"load.external", anySign, func(a *energy.Axis, v float64) { a.Load.External = v }},
		{"mechanism.lead", zeroBad, setScrew(func(s *energy.Screw, v float64) { s.Lead = v })},
		{"mechanism.efficiency", zeroBad, setScrew(func(s *energy.Screw, v float64) { s.Efficiency = v })},
		{"mechanism.backEfficiency", anySign, setScrew(func(s *energy.Screw, v float64) { s.BackEfficiency = v })},
		{"mechanism.inertia", zeroOK, setScrew(func(s *energy.Screw, v float64) { s.Inertia = v })},
		{"mechanism.drag", zeroOK, setScrew(func(s *energy.Screw, v float64) { s.Drag = v })},
		{"mechanism.pitchDiameter", zeroBad, setBelt(func(s *energy.Belt, v float64) { s.PitchDiameter = v })},
		{"mechanism.efficiency", zeroBad, setBelt(func(s *energy.Belt, v float64) { s.Efficiency = v })},
		{"mechanism.backEfficiency", anySign, setBelt(func(s *energy.Belt, v float64) { s.BackEfficiency = v })},
		{"mechanism.inertia", zeroOK, setBelt(func(s *energy.Belt, v float64) { s.Inertia = v })},
		{"mechanism.beltMass", zeroOK, setBelt(func(s *energy.Belt, v float64) { s.BeltMass = v })},
		{"mechanism.drag", zeroOK, setBelt(func(s *energy.Belt, v float64) { s.Drag = v })},
		{"mechanism.efficiency", zeroBad, setRotary(func(s *energy.Rotary, v float64) { s.Efficiency = v })},
		{"mechanism.backEfficiency", anySign, setRotary(func(s *energy.Rotary, v float64) { s.BackEfficiency = v })},
		{"mechanism.inertia", zeroOK, setRotary(func(s *energy.Rotary, v float64) { s.Inertia = v })},
		{"mechanism.drag", zeroOK, setRotary(func(s *energy.Rotary, v float64) { s.Drag = v })},
		{"stages[1].ratio", zeroBad, func(a *energy.Axis, v float64) { a.Stages[1].Ratio = v }},
		{"stages[1].efficiency", zeroBad, func(a *energy.Axis, v float64) { a.Stages[1].Efficiency = v }},
		{"stages[1].backEfficiency", anySign, func(a *energy.Axis, v float64) { a.Stages[1].BackEfficiency = v }},
		{"stages[1].inertia", zeroOK, func(a *energy.Axis, v float64) { a.Stages[1].Inertia = v }},
		{"stages[1].drag", zeroOK, func(a *energy.Axis, v float64) { a.Stages[1].Drag = v }},
		{"motor.rotorInertia", zeroOK, func(a *energy.Axis, v float64) { a.Motor.RotorInertia = v }},
		{"motor.dragTorque", zeroOK, func(a *energy.Axis, v float64) { a.Motor.DragTorque = v }},
		{"motor.dragPerSpeed", zeroOK, func(a *energy.Axis, v float64) { a.Motor.DragPerSpeed = v }},
		{"motor.dragPerSpeedSquared", zeroOK, func(a *energy.Axis, v float64) { a.Motor.DragPerSpeedSquared = v }},
		{"motor.continuousTorque", zeroOK, func(a *energy.Axis, v float64) { a.Motor.ContinuousTorque = v }},
		{"motor.peakTorque", zeroOK, func(a *energy.Axis, v float64) { a.Motor.PeakTorque = v }},
		{"motor.maxSpeed", zeroOK, func(a *energy.Axis, v float64) { a.Motor.MaxSpeed = v }},
		{"drive.standby", zeroOK, func(a *energy.Axis, v float64) { a.Drive.Standby = v }},
		{"drive.lossPerAmp", zeroOK, func(a *energy.Axis, v float64) { a.Drive.LossPerAmp = v }},
		{"drive.lossPerAmpSquared", zeroOK, func(a *energy.Axis, v float64) { a.Drive.LossPerAmpSquared = v }},
	} {
		t.Run(tc.path, func(t *testing.T) {
			with := func(v float64) error {
				a := beltAxis(t)
				a.Stages = append(a.Stages, energy.Stage{Ratio: 2, Efficiency: 0.9})
				tc.set(&a, v)
				_, err := a.Trace(sCurve(t, 0.1, 0.03, 0.07, 0.15))
				require.Equal(t, a.Validate() == nil, err == nil)
				return err
			}
			for _, v := range bad {
				requirePaths(t, with(v), tc.path)
			}
			if tc.kind != anySign {
				requirePaths(t, with(-1), tc.path)
			} else {
				require.NoError(t, with(-0.5))
			}
			if tc.path == "load.inertia" {
				requirePaths(t, with(0), "load.mass") // then neither is given
			} else if tc.kind == zeroBad {
				requirePaths(t, with(0), tc.path)
			} else {
				require.NoError(t, with(0))
			}
			require.NoError(t, with(0.7))
		})
	}
}

func TestContradictions(t *testing.T) {
	for name, tc := range map[string]struct {
		change func(a *energy.Axis)
		want   []string
	}{
		"mass and inertia":              {func(a *energy.Axis) { a.Load.Inertia = 1 }, []string{"load.inertia"}},
		"inertia on a linear mechanism": {func(a *energy.Axis) { a.Load = energy.Load{Inertia: 1} }, []string{"load.inertia"}},
		"mass on a rotary mechanism":    {func(a *energy.Axis) { a.Mechanism = energy.Rotary{Efficiency: 1} }, []string{"load.mass"}},
		"incline of a rotary load": {func(a *energy.Axis) {
			a.Load = energy.Load{Inertia: 1, Incline: 1}
			a.Mechanism = energy.Rotary{Efficiency: 1}
		}, []string{"load.incline"}},
		"steeper than straight up":       {func(a *energy.Axis) { a.Load.Incline = 90 }, []string{"load.incline"}},
		"efficiency in percent":          {func(a *energy.Axis) { a.Stages[0].Efficiency = 95 }, []string{"stages[0].efficiency"}},
		"back efficiency above 1":        {func(a *energy.Axis) { a.Stages[0].BackEfficiency = 1.01 }, []string{"stages[0].backEfficiency"}},
		"peak below continuous":          {func(a *energy.Axis) { a.Motor.ContinuousTorque, a.Motor.PeakTorque = 2, 1 }, []string{"motor.peakTorque"}},
		"no mechanism":                   {func(a *energy.Axis) { a.Mechanism = nil }, []string{"mechanism"}},
		"nil mechanism":                  {func(a *energy.Axis) { a.Mechanism = (*energy.Screw)(nil) }, []string{"mechanism"}},
		"mechanism by reference":         {func(a *energy.Axis) { a.Mechanism = &energy.Belt{PitchDiameter: 1, Efficiency: 1} }, []string{"mechanism"}},
		"no winding":                     {func(a *energy.Axis) { a.Motor.Winding = energy.Winding{} }, []string{"motor.winding"}},
		"more stages than there are":     {func(a *energy.Axis) { a.Stages = make([]energy.Stage, 1e6) }, nil},
		"faults of all parts in one run": {func(a *energy.Axis) { a.Load.Mass, a.Stages[0].Ratio, a.Drive.Standby = -1, 0, -1 }, []string{"load.mass", "stages[0].ratio", "drive.standby"}},
	} {
		t.Run(name, func(t *testing.T) {
			a := beltAxis(t)
			tc.change(&a)
			_, err := a.Trace(sCurve(t, 0.1, 0.03, 0.07, 0.15))
			if tc.want == nil {
				require.Contains(t, paths(err), "stages")
				return
			}
			requirePaths(t, err, tc.want...)
		})
	}
}

func TestZeroValues(t *testing.T) {
	requirePaths(t, energy.Axis{}.Validate(), "load.mass", "mechanism", "motor.winding")
	requirePaths(t, energy.Load{}.Validate(), "mass")
	requirePaths(t, energy.Screw{}.Validate(), "lead", "efficiency")
	requirePaths(t, energy.Belt{}.Validate(), "pitchDiameter", "efficiency")
	requirePaths(t, energy.Rotary{}.Validate(), "efficiency")
	requirePaths(t, energy.Stage{}.Validate(), "ratio", "efficiency")
	requirePaths(t, energy.Motor{}.Validate(), "winding")
	requirePaths(t, energy.Thread{}.Validate(), "lead", "meanDiameter")
	requirePaths(t, energy.Winding{}.Validate(), "")
	requirePaths(t, energy.Log{}.Validate(), "time", "ratio")
	require.NoError(t, energy.Drive{}.Validate(), "a drive without loss")
}

func TestBadWindings(t *testing.T) {
	makers := map[string]func(float64, energy.Copper, float64) (energy.Winding, error){
		"RMS": energy.SinusoidalRMS, "crest": energy.SinusoidalPeak, "direct current": energy.DirectCurrent}
	coppers := map[string]func(float64) energy.Copper{
		"lineToLine": energy.LineToLine, "perPhase": energy.PerPhase, "motorConstant": energy.MotorConstant}
	values := map[string]float64{"zero": 0, "negative": -1}
	for k, v := range bad {
		values[k] = v
	}
	for name, make := range makers {
		for what, v := range values {
			_, err := make(v, energy.LineToLine(1), 25)
			requirePaths(t, err, "torqueConstant")
			for path, copper := range coppers {
				_, err = make(1, copper(v), 25)
				requirePaths(t, err, path)
			}
			if what == "zero" || what == "negative" {
				continue // fine for a temperature
			}
			_, err = make(1, energy.LineToLine(1), v)
			requirePaths(t, err, "temperature")
			w, err := make(1, energy.LineToLine(1), 25)
			require.NoError(t, err, name)
			_, err = w.At(v)
			requirePaths(t, err, "temperature")
			a := beltAxis(t)
			_, err = a.AtWinding(v)
			requirePaths(t, err, "motor.winding.temperature")
		}
		_, err := make(1, energy.Copper{}, 25)
		requirePaths(t, err, "copper")
		_, err = make(0, energy.Copper{}, -240)
		requirePaths(t, err, "torqueConstant", "copper", "temperature")
	}
	_, err := energy.Axis{}.AtWinding(20)
	requirePaths(t, err, "motor.winding")
}

func TestBadThreads(t *testing.T) {
	good := energy.Thread{Lead: 0.006, MeanDiameter: 0.027, Friction: 0.2, CollarDiameter: 0.024, CollarFriction: 0.15}
	require.NoError(t, good.Validate())
	for path, set := range map[string]func(*energy.Thread, float64){
		"lead":           func(th *energy.Thread, v float64) { th.Lead = v },
		"meanDiameter":   func(th *energy.Thread, v float64) { th.MeanDiameter = v },
		"flankAngle":     func(th *energy.Thread, v float64) { th.FlankAngle = v },
		"friction":       func(th *energy.Thread, v float64) { th.Friction = v },
		"collarDiameter": func(th *energy.Thread, v float64) { th.CollarDiameter = v },
		"collarFriction": func(th *energy.Thread, v float64) { th.CollarFriction = v },
	} {
		for _, v := range bad {
			th := good
			set(&th, v)
			_, _, err := th.Efficiency()
			requirePaths(t, err, path)
		}
		th := good
		set(&th, -0.1)
		requirePaths(t, th.Validate(), path)
	}
	// Lead as large as the circumference: 45°, where friction 1 jams.
	th := energy.Thread{Lead: math.Pi * 0.02, MeanDiameter: 0.02, Friction: 1}
	requirePaths(t, th.Validate(), "friction")
	th.Friction = 0
	forward, back, err := th.Efficiency()
	require.NoError(t, err)
	require.Equal(t, [2]float64{1, 1}, [2]float64{forward, back}, "no friction, no loss")
}

func TestBadMotions(t *testing.T) {
	a := beltAxis(t)
	c := make([]float64, 9)
	c[8] = 1
	curve, err := profile.NewCurve([]float64{0, 1}, [][]float64{c})
	require.NoError(t, err)
	m, err := profile.NewMotion(curve)
	require.NoError(t, err)
	_, err = a.Trace(m)
	requirePaths(t, err, "motion")

	// A degree that is only written down is none.
	c[8], c[1] = 0, 1
	curve, err = profile.NewCurve([]float64{0, 1}, [][]float64{c})
	require.NoError(t, err)
	m, err = profile.NewMotion(curve)
	require.NoError(t, err)
	_, err = a.Trace(m)
	require.NoError(t, err)

	for _, speed := range []float64{1e160, 1e300} {
		_, err = a.Trace(steady(t, speed, 1))
		requirePaths(t, err, "motion")
	}
}
