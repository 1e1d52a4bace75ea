package energy_test

import (
	"fmt"
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

const (
	zeroOK  = iota // 0 and more
	zeroBad        // above 0
	share          // 0 to 1
	anySign        // any number of plausible size
)

// badField puts bad numbers in one place and wants each refused by its path.
type badField struct {
	path string
	kind int
	try  func(v float64) error
}

func (b badField) run(t *testing.T) {
	t.Run(b.path, func(t *testing.T) {
		for name, v := range bad {
			requirePaths(t, b.try(v), b.path)
			require.NotEmpty(t, name)
		}
		switch b.kind {
		case zeroBad:
			requirePaths(t, b.try(0), b.path)
			requirePaths(t, b.try(-0.01), b.path)
		case zeroOK:
			require.NoError(t, b.try(0))
			requirePaths(t, b.try(-0.01), b.path)
		case share:
			require.NoError(t, b.try(0))
			require.NoError(t, b.try(1))
			requirePaths(t, b.try(1.01), b.path)
			requirePaths(t, b.try(-0.01), b.path)
		case anySign:
			require.NoError(t, b.try(0))
			require.NoError(t, b.try(-0.01))
		}
		require.NoError(t, b.try(0.01))
	})
}

// shapeField tries a shape with one field set.
func shapeField(set func(v float64) energy.Shape) func(float64) error {
	return func(v float64) error { _, err := set(v).Body(); return err }
}

func TestBadShapes(t *testing.T) {
	cylinder := energy.Cylinder{Diameter: 0.05, Bore: 0.005, Length: 0.1, Density: 7850}
	screw := energy.ScrewShaft{MajorDiameter: 0.016, RootDiameter: 0.0099, Land: 0.5, Length: 1, Density: 7850}
	block := energy.Block{Width: 0.3, Depth: 0.1, Length: 0.02, Density: 2700}
	sphere := energy.Sphere{Diameter: 0.04, Density: 1410}
	rigid := energy.RigidBody{Mass: 1, Inertia: 2, X: 3, Y: 4}
	for _, b := range []badField{
		{"diameter", zeroBad, shapeField(func(v float64) energy.Shape { c := cylinder; c.Diameter = v; return c })},
		{"bore", zeroOK, shapeField(func(v float64) energy.Shape { c := cylinder; c.Bore = v; return c })},
		{"length", zeroBad, shapeField(func(v float64) energy.Shape { c := cylinder; c.Length = v; return c })},
		{"density", zeroBad, shapeField(func(v float64) energy.Shape { c := cylinder; c.Density = v; return c })},
		{"mass", anySign, shapeField(func(v float64) energy.Shape {
			c := cylinder
			c.Density, c.Mass = 0, math.Abs(v)+0.01 // 0 stands for not given
			if v != v || math.Abs(v) > 1 {
				c.Mass = v
			}
			return c
		})},
		{"majorDiameter", zeroBad, shapeField(func(v float64) energy.Shape { c := screw; c.MajorDiameter = v; return c })},
		{"rootDiameter", zeroBad, shapeField(func(v float64) energy.Shape { c := screw; c.RootDiameter = v; return c })},
		{"land", share, shapeField(func(v float64) energy.Shape { c := screw; c.Land = v; return c })},
		{"length", zeroBad, shapeField(func(v float64) energy.Shape { c := screw; c.Length = v; return c })},
		{"density", zeroBad, shapeField(func(v float64) energy.Shape { c := screw; c.Density = v; return c })},
		{"width", zeroBad, shapeField(func(v float64) energy.Shape { c := block; c.Width = v; return c })},
		{"depth", zeroBad, shapeField(func(v float64) energy.Shape { c := block; c.Depth = v; return c })},
		{"length", zeroBad, shapeField(func(v float64) energy.Shape { c := block; c.Length = v; return c })},
		{"density", zeroBad, shapeField(func(v float64) energy.Shape { c := block; c.Density = v; return c })},
		{"diameter", zeroBad, shapeField(func(v float64) energy.Shape { c := sphere; c.Diameter = v; return c })},
		{"density", zeroBad, shapeField(func(v float64) energy.Shape { c := sphere; c.Density = v; return c })},
		{"mass", zeroBad, shapeField(func(v float64) energy.Shape { c := rigid; c.Mass = v; return c })},
		{"inertia", zeroOK, shapeField(func(v float64) energy.Shape { c := rigid; c.Inertia = v; return c })},
		{"x", anySign, shapeField(func(v float64) energy.Shape { c := rigid; c.X = v; return c })},
		{"y", anySign, shapeField(func(v float64) energy.Shape { c := rigid; c.Y = v; return c })},
		{"x", anySign, func(v float64) error { _, err := rigid.InertiaAbout(v, 0); return err }},
		{"y", anySign, func(v float64) error { _, err := rigid.InertiaAbout(0, v); return err }},
		{"parts[1].x", anySign, func(v float64) error {
			_, err := energy.Assemble(energy.Part{Shape: block}, energy.Part{Shape: block, X: v})
			return err
		}},
		{"parts[0].y", anySign, func(v float64) error {
			_, err := energy.Assemble(energy.Part{Shape: block, Y: v}, energy.Part{Shape: block})
			return err
		}},
		{"mass", zeroBad, func(v float64) error { _, err := energy.PitchLineInertia(v, 1); return err }},
		{"pitchDiameter", zeroBad, func(v float64) error { _, err := energy.PitchLineInertia(1, v); return err }},
		{"inertia", zeroOK, func(v float64) error { _, err := energy.InertiaThroughRatio(v, 1); return err }},
		{"ratio", zeroBad, func(v float64) error { _, err := energy.InertiaThroughRatio(1, v); return err }},
	} {
		b.run(t)
	}

	for what, tc := range map[string]struct {
		shape energy.Shape
		want  []string
	}{
		"bore as wide as the cylinder": {energy.Cylinder{Diameter: 0.05, Bore: 0.05, Length: 1, Density: 1}, []string{"bore"}},
		"density and mass":             {energy.Cylinder{Diameter: 0.05, Length: 1, Density: 1, Mass: 1}, []string{"density"}},
		"negative length with a mass":  {energy.Cylinder{Diameter: 0.05, Length: -1, Mass: 1}, []string{"length"}},
		"root above major":             {energy.ScrewShaft{MajorDiameter: 0.01, RootDiameter: 0.02, Length: 1, Density: 1}, []string{"rootDiameter"}},
		"zero cylinder":                {energy.Cylinder{}, []string{"diameter", "density", "length"}},
		"zero screw":                   {energy.ScrewShaft{}, []string{"majorDiameter", "rootDiameter", "density", "length"}},
		"zero block":                   {energy.Block{}, []string{"width", "depth", "density", "length"}},
		"zero sphere":                  {energy.Sphere{}, []string{"diameter", "density"}},
		"zero body":                    {energy.RigidBody{}, []string{"mass"}},
		"too heavy a block":            {energy.Block{Width: 1e6, Depth: 1e6, Length: 1e6, Density: 1e4}, []string{"mass", "inertia"}},
	} {
		_, err := tc.shape.Body()
		requirePaths(t, err, tc.want...)
		require.NotEmpty(t, what)
	}
	for _, s := range []energy.Shape{nil, (*energy.Cylinder)(nil), &cylinder} {
		_, err := energy.Assemble(energy.Part{Shape: s})
		requirePaths(t, err, "parts[0].shape")
	}
	_, err := energy.Assemble()
	requirePaths(t, err, "parts")
	_, err = energy.Assemble(make([]energy.Part, 1e6)...)
	requirePaths(t, err, "parts")
	_, err = energy.Assemble(energy.Part{Shape: energy.Cylinder{}}, energy.Part{Shape: energy.Sphere{}})
	requirePaths(t, err, "parts[0].shape.diameter", "parts[0].shape.density", "parts[0].shape.length",
		"parts[1].shape.diameter", "parts[1].shape.density")
	heavy := energy.Part{Shape: energy.RigidBody{Mass: 1e12}}
	_, err = energy.Assemble(heavy, heavy)
	requirePaths(t, err, "assembly.mass")
}

func TestBadRods(t *testing.T) {
	rod := energy.Rod{Diameter: 0.005, Bore: 0.001, Length: 0.9, Ends: energy.FixedPinned, Elasticity: 206e9}
	both := func(change func(*energy.Rod, float64)) func(float64) error {
		return func(v float64) error {
			r := rod
			change(&r, v)
			_, a := r.CriticalSpeed(7850)
			_, b := r.BucklingLoad(500e6)
			require.Equal(t, fmt.Sprint(a), fmt.Sprint(b))
			return a
		}
	}
	for _, b := range []badField{
		{"diameter", zeroBad, both(func(r *energy.Rod, v float64) { r.Diameter = v })},
		{"bore", zeroOK, both(func(r *energy.Rod, v float64) { r.Diameter, r.Bore = 0.05, v })},
		{"length", zeroBad, both(func(r *energy.Rod, v float64) { r.Length = v })},
		{"elasticity", zeroBad, both(func(r *energy.Rod, v float64) { r.Elasticity = v })},
		{"density", zeroBad, func(v float64) error { _, err := rod.CriticalSpeed(v); return err }},
		{"yield", zeroBad, func(v float64) error { _, err := rod.BucklingLoad(v); return err }},
	} {
		b.run(t)
	}
	for _, ends := range []energy.Ends{0, -1, 5, math.MaxInt} {
		r := rod
		r.Ends = ends
		requirePaths(t, r.Validate(), "ends")
		require.Equal(t, fmt.Sprintf("Ends(%d)", int(ends)), ends.String())
	}
	rod.Length = 0.004
	requirePaths(t, rod.Validate(), "length")
	rod.Bore = rod.Diameter
	requirePaths(t, rod.Validate(), "bore")
	requirePaths(t, energy.Rod{}.Validate(), "diameter", "length", "ends", "elasticity")
}

func TestBadJoints(t *testing.T) {
	key := goodKey()
	clamp := energy.ClampHub{Diameter: 0.014, Length: 0.02, Friction: 0.12, Pressure: 30e6}
	bond := energy.BondedJoint{Diameter: 0.014, Length: 0.02, Shear: 10e6}
	ofJoint := func(set func(v float64) energy.Joint) func(float64) error {
		return func(v float64) error {
			j := set(v)
			_, err := j.Capacity()
			require.Equal(t, fmt.Sprint(j.Validate()), fmt.Sprint(err))
			return err
		}
	}
	wide := key
	wide.ShaftDiameter, wide.Section.Height = 0.05, 0.012
	for _, b := range []badField{
		{"shaftDiameter", zeroBad, ofJoint(func(v float64) energy.Joint { k := key; k.ShaftDiameter = v; return k })},
		{"section.width", zeroBad, ofJoint(func(v float64) energy.Joint { k := wide; k.Section.Width = v; return k })},
		{"section.height", zeroBad, ofJoint(func(v float64) energy.Joint { k := key; k.Section.Height = v; return k })},
		{"section.shaftDepth", zeroBad, ofJoint(func(v float64) energy.Joint { k := wide; k.Section.ShaftDepth = v; return k })},
		{"section.hubDepth", zeroOK, ofJoint(func(v float64) energy.Joint { k := key; k.Section.HubDepth = v; return k })},
		{"effectiveLength", zeroBad, ofJoint(func(v float64) energy.Joint { k := key; k.EffectiveLength = v; return k })},
		{"pressure", zeroBad, ofJoint(func(v float64) energy.Joint { k := key; k.Pressure = v; return k })},
		{"shear", zeroBad, ofJoint(func(v float64) energy.Joint { k := key; k.Shear = v; return k })},
		{"diameter", zeroBad, ofJoint(func(v float64) energy.Joint { c := clamp; c.Diameter = v; return c })},
		{"length", zeroBad, ofJoint(func(v float64) energy.Joint { c := clamp; c.Length = v; return c })},
		{"friction", zeroBad, ofJoint(func(v float64) energy.Joint { c := clamp; c.Friction = v; return c })},
		{"pressure", zeroBad, ofJoint(func(v float64) energy.Joint { c := clamp; c.Pressure = v; return c })},
		{"diameter", zeroBad, ofJoint(func(v float64) energy.Joint { b := bond; b.Diameter = v; return b })},
		{"length", zeroBad, ofJoint(func(v float64) energy.Joint { b := bond; b.Length = v; return b })},
		{"shear", zeroBad, ofJoint(func(v float64) energy.Joint { b := bond; b.Shear = v; return b })},
		{"serviceFactor", zeroBad, func(v float64) error {
			_, err := energy.AssessJoint(key, steps(t, []float64{0, 1}, 1), v)
			return err
		}},
	} {
		b.run(t)
	}
	for _, v := range bad {
		requirePaths(t, energy.ClampHub{Diameter: 1, Length: 1, Friction: 1, Force: v}.Validate(), "force")
	}
	both := clamp
	both.Force = 1
	requirePaths(t, both.Validate(), "force")
	requirePaths(t, energy.ClampHub{}.Validate(), "diameter", "length", "friction", "pressure")
	requirePaths(t, energy.BondedJoint{}.Validate(), "diameter", "length", "shear")
	requirePaths(t, energy.ParallelKey{}.Validate(), "shaftDiameter", "section.width", "section.height",
		"section.shaftDepth", "effectiveLength", "pressure", "shear")

	k := key
	k.Section.Width = k.ShaftDiameter
	requirePaths(t, k.Validate(), "section.width")
	k = key
	k.Section.ShaftDepth = k.Section.Height
	requirePaths(t, k.Validate(), "section.shaftDepth")
	k = key
	k.ShaftDiameter = 2 * k.Section.ShaftDepth
	requirePaths(t, k.Validate(), "section.shaftDepth")

	one := steps(t, []float64{0, 1}, 1)
	for _, j := range []energy.Joint{nil, (*energy.ClampHub)(nil), &clamp} {
		_, err := energy.AssessJoint(j, one, 1)
		requirePaths(t, err, "joint")
	}
	_, err := energy.AssessJoint(energy.BondedJoint{}, profile.Curve{}, 0)
	requirePaths(t, err, "joint.diameter", "joint.length", "joint.shear", "torque", "serviceFactor")
	_, err = energy.AssessJoint(key, steps(t, []float64{0, 1}, 1e13), 1)
	requirePaths(t, err, "torque")
	_, err = energy.AssessJoint(key, steps(t, []float64{0, 1}, 5e-324), 1)
	require.NoError(t, err)
}

func TestBadLoadings(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1} {
		_, err := energy.NewLoading(v, 1, 1)
		requirePaths(t, err, "value")
		_, err = energy.NewLoading(1, v, 1)
		requirePaths(t, err, "capability")
		_, err = energy.NewLoading(1, 1, v)
		requirePaths(t, err, "fraction")
	}
	_, err := energy.NewLoading(0, 0, 0)
	requirePaths(t, err, "capability", "fraction")
	_, err = energy.NewLoading(1, 1, 1.01)
	requirePaths(t, err, "fraction")
	_, err = energy.NewLoading(1e300, 1e-300, 1)
	requirePaths(t, err, "value")
	_, err = energy.NewLoading(1, 5e-324, 0.1)
	requirePaths(t, err, "capability")

	rating := energy.TorqueRating{Mean: 1, Peak: 1, EmergencyStop: 1, ServiceFactor: 1}
	duty := energy.TorqueDuty{Mean: 1, Peak: 1, EmergencyStop: 1}
	of := func(set func(*energy.TorqueRating, *energy.TorqueDuty, float64)) func(float64) error {
		return func(v float64) error {
			r, d := rating, duty
			set(&r, &d, v)
			_, err := r.Loading(d)
			return err
		}
	}
	for _, b := range []badField{
		{"mean", zeroOK, of(func(r *energy.TorqueRating, _ *energy.TorqueDuty, v float64) { r.Mean = v })},
		{"peak", zeroOK, of(func(r *energy.TorqueRating, _ *energy.TorqueDuty, v float64) { r.Peak = v })},
		{"emergencyStop", zeroOK, of(func(r *energy.TorqueRating, _ *energy.TorqueDuty, v float64) { r.EmergencyStop = v })},
		{"serviceFactor", zeroBad, of(func(r *energy.TorqueRating, _ *energy.TorqueDuty, v float64) { r.ServiceFactor = v })},
		{"duty.mean", zeroOK, of(func(_ *energy.TorqueRating, d *energy.TorqueDuty, v float64) { d.Mean = v })},
		{"duty.peak", zeroOK, of(func(_ *energy.TorqueRating, d *energy.TorqueDuty, v float64) { d.Peak = v })},
		{"duty.emergencyStop", zeroOK, of(func(_ *energy.TorqueRating, d *energy.TorqueDuty, v float64) { d.EmergencyStop = v })},
	} {
		b.run(t)
	}
	requirePaths(t, energy.TorqueRating{}.Validate(), "serviceFactor")
	rating.Peak = 5e-324
	_, err = rating.Loading(duty)
	requirePaths(t, err, "duty.peak")
}

func TestBadCurves(t *testing.T) {
	one := steps(t, []float64{0, 1}, 1)
	_, err := energy.CubicMean(profile.Curve{}, profile.Curve{})
	requirePaths(t, err, "load", "speed")
	_, err = energy.CubicMean(steps(t, []float64{0, 1}, 1e13), steps(t, []float64{0, 1}, -1e13))
	requirePaths(t, err, "load", "speed")
	_, err = energy.CubicMean(one, steps(t, []float64{0, 2}, 1))
	require.NotEmpty(t, paths(err), "curves over different times")

	a := beltAxis(t)
	m := sCurve(t, 0.5, 0.03, 0.07, 0.15)
	for _, shaft := range []int{-1, 2, math.MaxInt, math.MinInt} {
		_, _, err = a.ShaftTorque(m, shaft)
		requirePaths(t, err, "shaft")
		_, err = a.TorqueDuty(m, m, shaft)
		requirePaths(t, err, "shaft")
	}
	_, _, err = energy.Axis{}.ShaftTorque(m, 0)
	requirePaths(t, err, "load.mass", "mechanism", "motor.winding")
	_, err = a.TorqueDuty(profile.Motion{}, m, 0)
	requirePaths(t, err, "cycle")
	_, err = a.TorqueDuty(m, steady(t, 1e300, 1), 0)
	requirePaths(t, err, "stop.motion")

	_, err = energy.Motor{}.Loading(energy.Trace{})
	requirePaths(t, err, "motor.winding", "trace")
	_, err = a.Motor.Loading(energy.Trace{})
	requirePaths(t, err, "trace")
	a.Motor.ContinuousTorque = 1e-320
	_, err = a.Motor.Loading(trace(t, a, m))
	requirePaths(t, err, "trace.ratedTorque")
}

func TestBadRatios(t *testing.T) {
	a := beltAxis(t)
	m := sCurve(t, 0.5, 0.03, 0.07, 0.15)
	for _, b := range []badField{
		{"motorInertia", zeroBad, func(v float64) error { _, err := energy.OptimumRatio(v, 1); return err }},
		{"loadInertia", zeroBad, func(v float64) error { _, err := energy.OptimumRatio(1, v); return err }},
		{"lowest", zeroBad, func(v float64) error { _, err := a.BestRatio(m, 0, v, 100); return err }},
		{"highest", zeroBad, func(v float64) error { _, err := a.BestRatio(m, 0, 0.005, v); return err }},
	} {
		b.run(t)
	}
	for _, stage := range []int{-1, 1, math.MaxInt} {
		_, err := a.BestRatio(m, stage, 1, 10)
		requirePaths(t, err, "stage")
	}
	_, err := a.BestRatio(m, 0, 2, 1)
	requirePaths(t, err, "highest")
	_, err = a.BestRatio(profile.Motion{}, 0, 1, 2)
	requirePaths(t, err, "motion")
	_, err = a.BestRatio(steady(t, 1e300, 1), 0, 1, 2)
	requirePaths(t, err, "motion")
	_, err = energy.Axis{}.BestRatio(m, 0, 1, 2)
	requirePaths(t, err, "load.mass", "mechanism", "motor.winding", "stage")
	_, err = energy.Axis{}.ReflectedInertia()
	requirePaths(t, err, "load.mass", "mechanism", "motor.winding")

	a.Motor.RotorInertia = 0
	_, err = a.InertiaRatio()
	requirePaths(t, err, "motor.rotorInertia")
	// The widest ratios there may be still give a number.
	a.Motor.RotorInertia = 1e-15
	a.Load.Mass = 1e12
	a.Mechanism = energy.Belt{PitchDiameter: 1e12, Efficiency: 1, BeltMass: 1e12}
	a.Stages = nil
	for range 8 {
		a.Stages = append(a.Stages, energy.Stage{Ratio: 1e-15, Efficiency: 1, Inertia: 1e12})
	}
	r, err := a.InertiaRatio()
	require.NoError(t, err)
	require.False(t, math.IsInf(r, 0))
}
