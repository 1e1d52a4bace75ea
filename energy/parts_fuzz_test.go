package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// FuzzParts: whatever the numbers, shapes, rods, joints and loadings are refused with
// input errors or give finite results of the right sign.
func FuzzParts(f *testing.F) {
	f.Add(0.05, 0.01, 0.2, 7850., 0., 1, 0.3)
	f.Add(0.016, 0.0115, 0.8, 206e9, 1e9, 2, -0.4)
	f.Add(1e12, 1e-15, 1e12, 1e12, 1e-15, 3, 1e12)
	f.Add(1e-15, 0., 1e12, 1e-15, 1e12, 4, 1e-15)
	f.Add(math.NaN(), math.Inf(1), -1., 1e300, 5e-324, -7, math.Inf(-1))
	f.Fuzz(func(t *testing.T, a, b, c, d, e float64, n int, x float64) {
		check := func(what string, err error, results ...float64) {
			if err != nil {
				if len(profile.InputErrors(err)) == 0 {
					t.Fatalf("%s: not an input error: %v", what, err)
				}
				return
			}
			for _, v := range results {
				if !(v >= 0) || math.IsInf(v, 0) {
					t.Fatalf("%s gives %g", what, v)
				}
			}
		}
		shapes := []energy.Shape{
			energy.Cylinder{Diameter: a, Bore: b, Length: c, Density: d, Mass: e},
			energy.Cylinder{Diameter: a, Bore: b, Length: c, Density: d},
			energy.ScrewShaft{MajorDiameter: a, RootDiameter: b, Land: x, Length: c, Density: d, Mass: e},
			energy.Block{Width: a, Depth: b, Length: c, Density: d},
			energy.Sphere{Diameter: a, Mass: e},
			energy.RigidBody{Mass: a, Inertia: b, X: c, Y: x},
		}
		var parts []energy.Part
		for _, s := range shapes {
			body, err := s.Body()
			check("shape", err, body.Mass, body.Inertia)
			j, err := body.InertiaAbout(x, c)
			check("inertia about", err, j)
			parts = append(parts, energy.Part{Shape: s, X: x, Y: e})
			whole, err := energy.Assemble(parts...)
			check("assembly", err, whole.Mass, whole.Inertia, math.Abs(whole.X), math.Abs(whole.Y))
		}
		v, err := energy.PitchLineInertia(a, b)
		check("pitch line", err, v)
		v, err = energy.InertiaThroughRatio(a, b)
		check("through ratio", err, v)
		v, err = energy.OptimumRatio(a, b)
		check("optimum ratio", err, v)

		rod := energy.Rod{Diameter: a, Bore: b, Length: c, Ends: energy.Ends(n), Elasticity: d}
		v, err = rod.CriticalSpeed(e)
		check("critical speed", err, v)
		buckling, err := rod.BucklingLoad(e)
		check("buckling", err, buckling.Load, buckling.Slenderness, buckling.TransitionAt)
		l, err := energy.NewLoading(a, b, x)
		check("loading", err, l.Value, l.Limit, l.Ratio)
		tl, err := energy.TorqueRating{Mean: a, Peak: b, EmergencyStop: c, ServiceFactor: x}.Loading(energy.TorqueDuty{Mean: d, Peak: e, EmergencyStop: a})
		check("torque loading", err, tl.Mean.Ratio, tl.Peak.Ratio, tl.EmergencyStop.Ratio)

		section, err := energy.StandardKey(a)
		check("key", err, section.Width)
		torque, curveErr := profile.NewCurve([]float64{0, 1, 2}, [][]float64{{x, a}, {e, b}})
		for _, j := range []energy.Joint{
			energy.ParallelKey{ShaftDiameter: a, Section: energy.KeySection{Width: b, Height: c, ShaftDepth: d}, EffectiveLength: e, Pressure: x, Shear: a, SetScrew: n%2 == 0},
			energy.ParallelKey{ShaftDiameter: a, Section: section, EffectiveLength: b, Pressure: c, Shear: d},
			energy.ClampHub{Diameter: a, Length: b, Friction: c, Pressure: d, Force: e},
			energy.ClampHub{Diameter: a, Length: b, Friction: c, Force: e},
			energy.BondedJoint{Diameter: a, Length: b, Shear: c},
		} {
			v, err := j.Capacity()
			check("capacity", err, v)
			if curveErr != nil {
				continue
			}
			got, err := energy.AssessJoint(j, torque, 1)
			check("joint", err, got.Loading.Ratio, got.OppositeShare, got.ReversalRate)
		}
		if curveErr == nil {
			speed, err := profile.NewCurve([]float64{0, 2}, [][]float64{{c, d}})
			if err != nil {
				return
			}
			v, err = energy.CubicMean(torque, speed)
			check("cubic mean", err, v)
			if err == nil && v > math.Abs(torque.AbsMax().V)*(1+1e-12) {
				t.Fatalf("mean %g above the peak %g", v, torque.AbsMax().V)
			}
		}
	})
}

// FuzzBestRatio: whatever the numbers, the search ends with an input error or a ratio
// in the range that the motor's speed allows.
func FuzzBestRatio(f *testing.F) {
	f.Add(10., 0.05, 1e-4, 0.9, 300., 0.1, 100., 5., 0.2)
	f.Add(1e12, 1e-15, 1e12, 1e-15, 1e-15, 1e-15, 1e12, 1e9, 1e-6)
	f.Add(1e-15, 1e12, 0., 1., 1e12, 1e-15, 1e12, -1e-9, 1e6)
	f.Fuzz(func(t *testing.T, mass, diameter, inertia, efficiency, maxSpeed, lowest, highest, accel, duration float64) {
		a := beltAxis(t)
		a.Load = energy.Load{Mass: mass, Coulomb: 1, Incline: 0.5}
		a.Mechanism = energy.Belt{PitchDiameter: diameter, Efficiency: efficiency}
		a.Stages = []energy.Stage{{Ratio: 1, Efficiency: efficiency, Inertia: inertia}}
		a.Motor.MaxSpeed = maxSpeed
		c, err := profile.NewCurve([]float64{0, duration, 2 * duration}, [][]float64{{0, 0, accel / 2},
			{accel * duration * duration / 2, accel * duration, -accel / 2}})
		if err != nil {
			return
		}
		m, err := profile.NewMotion(c)
		if err != nil {
			return
		}
		r, err := a.BestRatio(m, 0, lowest, highest)
		if err != nil {
			if len(profile.InputErrors(err)) == 0 {
				t.Fatalf("not an input error: %v", err)
			}
			return
		}
		for _, v := range []float64{r.Ratio, r.RMS, r.Peak, r.Fastest, r.SpeedEnds} {
			if !(v >= 0) || math.IsInf(v, 0) {
				t.Fatalf("%+v", r)
			}
		}
		if !(r.Ratio >= lowest && r.Ratio <= highest) || maxSpeed > 0 && r.Fastest > maxSpeed {
			t.Fatalf("%+v out of %g to %g, %g rad/s", r, lowest, highest, maxSpeed)
		}
	})
}
