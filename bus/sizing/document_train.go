package sizing

import (
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
)

func (r *reader) mechanism(o *object) energy.Mechanism {
	efficiency := func() (forward, back float64) {
		return r.quantity(o, "efficiency", quantity.Fraction, required), r.quantity(o, "backEfficiency", quantity.Fraction, notZero)
	}
	switch r.choice(o, "kind", required, "screw", "belt", "rack", "conveyor", "drum", "rotary", "direct", "crank") {
	case "screw":
		s := energy.Screw{
			Lead:    2 * math.Pi * r.quantity(o, "lead", quantity.Lead, required),
			Inertia: r.inertia(o, "inertia", optional),
			Drag:    r.quantity(o, "drag", quantity.Torque, optional),
		}
		if t := r.object(o, "thread", optional); t != nil {
			s.Efficiency, s.BackEfficiency = r.thread(t, s.Lead)
		} else {
			s.Efficiency, s.BackEfficiency = efficiency()
		}
		return s
	case "belt":
		forward, back := efficiency()
		return energy.Belt{
			PitchDiameter: r.quantity(o, "pitchDiameter", quantity.Length, required),
			Efficiency:    forward, BackEfficiency: back,
			Inertia:  r.inertia(o, "inertia", optional),
			BeltMass: r.quantity(o, "beltMass", quantity.Mass, optional),
			Drag:     r.quantity(o, "drag", quantity.Torque, optional),
		}
	case "rack":
		forward, back := efficiency()
		return energy.RackPinion{
			PitchDiameter: r.quantity(o, "pitchDiameter", quantity.Length, required),
			Efficiency:    forward, BackEfficiency: back,
			Inertia: r.inertia(o, "inertia", optional),
			Drag:    r.quantity(o, "drag", quantity.Torque, optional),
		}
	case "conveyor":
		return energy.RollerConveyor{
			Diameter:      r.quantity(o, "diameter", quantity.Length, required),
			Driven:        r.count(o, "driven", required),
			Idle:          r.count(o, "idle", optional),
			RollerInertia: r.inertia(o, "rollerInertia", optional),
			RollerDrag:    r.quantity(o, "rollerDrag", quantity.Torque, optional),
		}
	case "drum":
		d := energy.HoistDrum{
			Diameter: r.quantity(o, "diameter", quantity.Length, required),
			Inertia:  r.inertia(o, "inertia", optional),
			Drag:     r.quantity(o, "drag", quantity.Torque, optional),
		}
		if ro := r.object(o, "reeving", optional); ro != nil {
			reeving := energy.Reeving{
				Falls:  r.count(ro, "falls", required),
				Guide:  r.count(ro, "guide", optional),
				Sheave: r.quantity(ro, "sheave", quantity.Fraction, required),
			}
			ro.unread(&r.faults)
			var err error
			d.Falls = reeving.Falls
			d.Efficiency, d.BackEfficiency, err = reeving.Efficiency()
			r.faults.Under(ro.path, err)
		} else {
			d.Falls = r.count(o, "falls", required)
			d.Efficiency, d.BackEfficiency = efficiency()
		}
		return d
	case "rotary":
		forward, back := efficiency()
		return energy.Rotary{
			Efficiency: forward, BackEfficiency: back,
			Inertia: r.inertia(o, "inertia", optional),
			Drag:    r.quantity(o, "drag", quantity.Torque, optional),
		}
	case "direct":
		return energy.Direct{}
	case "crank":
		forward, back := efficiency()
		return energy.CrankSlider{
			Radius:     r.quantity(o, "radius", quantity.Length, required),
			Rod:        r.quantity(o, "connectingRod", quantity.Length, required),
			Offset:     r.quantity(o, "offset", quantity.Length, optional),
			Efficiency: forward, BackEfficiency: back,
			Inertia: r.inertia(o, "inertia", optional),
			Drag:    r.quantity(o, "drag", quantity.Torque, optional),
		}
	}
	return nil
}

// thread reads the geometry of a sliding screw, from which its efficiencies
// follow.
func (r *reader) thread(o *object, lead float64) (forward, back float64) {
	t := energy.Thread{
		Lead:           lead,
		MeanDiameter:   r.quantity(o, "meanDiameter", quantity.Length, required),
		FlankAngle:     r.quantity(o, "flankAngle", quantity.Angle, optional),
		Friction:       r.quantity(o, "friction", quantity.Ratio, required),
		CollarDiameter: r.quantity(o, "collarDiameter", quantity.Length, optional),
		CollarFriction: r.quantity(o, "collarFriction", quantity.Ratio, optional),
	}
	o.unread(&r.faults)
	if r.faults.Err() != nil {
		return 1, 1
	}
	forward, back, err := t.Efficiency()
	r.faults.Under(o.path, err)
	return forward, back
}

func (r *reader) stage(o *object) energy.Stage {
	return energy.Stage{
		Ratio:          r.quantity(o, "ratio", quantity.Ratio, required),
		Efficiency:     r.quantity(o, "efficiency", quantity.Fraction, required),
		BackEfficiency: r.quantity(o, "backEfficiency", quantity.Fraction, notZero),
		Inertia:        r.inertia(o, "inertia", optional),
		Drag:           r.quantity(o, "drag", quantity.Torque, optional),
	}
}

// rating reads what a part of the drive train may carry.
func (r *reader) rating(o *object, key string) *energy.TorqueRating {
	ro := r.object(o, key, optional)
	if ro == nil {
		return nil
	}
	t := &energy.TorqueRating{
		Mean:          r.quantity(ro, "mean", quantity.Torque, notZero),
		Peak:          r.quantity(ro, "peak", quantity.Torque, notZero),
		EmergencyStop: r.quantity(ro, "emergencyStop", quantity.Torque, notZero),
		ServiceFactor: 1,
	}
	if v := r.quantity(ro, "serviceFactor", quantity.Ratio, notZero); v != 0 {
		t.ServiceFactor = v
	}
	ro.unread(&r.faults)
	return t
}

// rod reads a screw's shaft.
func (r *reader) rod(mo *object) *Rod {
	o := r.object(mo, "rod", optional)
	if o == nil {
		return nil
	}
	base := energy.Rod{
		Diameter:   r.quantity(o, "rootDiameter", quantity.Length, required),
		Bore:       r.quantity(o, "bore", quantity.Length, optional),
		Elasticity: r.quantity(o, "elasticity", quantity.Pressure, required),
	}
	rod := &Rod{
		Density: r.quantity(o, "density", quantity.Density, required),
		Yield:   r.quantity(o, "yield", quantity.Pressure, notZero),
	}
	part := func(key string, n need) (energy.Rod, float64) {
		po := r.object(o, key, n)
		b := base
		b.Length = r.quantity(po, "length", quantity.Length, required)
		ends := map[string]energy.Ends{
			"pinned-pinned": energy.PinnedPinned, "fixed-pinned": energy.FixedPinned,
			"fixed-fixed": energy.FixedFixed, "fixed-free": energy.FixedFree,
		}
		if po != nil {
			b.Ends = ends[r.choice(po, "ends", required, sortedKeys(ends)...)]
		}
		share := r.quantity(po, "fraction", quantity.Fraction, required)
		po.unread(&r.faults)
		return b, share
	}
	rod.Whirling, rod.SpeedFraction = part("whirling", required)
	rod.Buckling, rod.BucklingFactor = part("buckling", optional)
	o.unread(&r.faults)
	return rod
}

// joint reads how the first hub is fastened on the motor's shaft.
func (r *reader) joint(o *object) *Joint {
	if o == nil {
		return nil
	}
	defer o.unread(&r.faults)
	j := &Joint{ServiceFactor: r.quantity(o, "serviceFactor", quantity.Ratio, required)}
	sc := r.field(o, "shaftDiameter", required, quantity.Length.String())
	shaft, given := r.read(sc, quantity.Length)
	if given && !(shaft > 0) {
		r.faults.Add(sc.path, shaft, "finite and > 0 m")
	}
	length := r.quantity(o, "length", quantity.Length, required)
	switch r.choice(o, "kind", required, "key", "clamp", "bond") {
	case "key":
		k := energy.ParallelKey{
			ShaftDiameter: shaft, EffectiveLength: length,
			Pressure: r.quantity(o, "pressure", quantity.Pressure, required),
			Shear:    r.quantity(o, "shear", quantity.Pressure, required),
			SetScrew: r.flag(o, "setScrew"),
		}
		var err error
		if k.Section, err = energy.StandardKey(shaft); err != nil && shaft > 0 {
			r.faults.Under(o.path, err)
		}
		j.Joint = k
	case "clamp":
		j.Joint = energy.ClampHub{
			Diameter: shaft, Length: length,
			Friction: r.quantity(o, "friction", quantity.Ratio, required),
			Pressure: r.quantity(o, "pressure", quantity.Pressure, notZero),
			Force:    r.quantity(o, "force", quantity.Force, notZero),
		}
	case "bond":
		j.Joint = energy.BondedJoint{
			Diameter: shaft, Length: length,
			Shear: r.quantity(o, "shear", quantity.Pressure, required),
		}
	}
	return j
}
