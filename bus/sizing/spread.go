package sizing

import (
	"math"
	"strings"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// loadCorner is an end of the spread of an axis's load: factors on its friction and on
// what it carries.
type loadCorner struct{ friction, payload float64 }

// loadCorners returns the load as entered and, where friction or payload have a
// spread, every combination of their ends.
func (a Axis) loadCorners() []loadCorner {
	corners := []loadCorner{{1, 1}}
	if a.FrictionSpread == 0 && a.PayloadSpread == 0 {
		return corners
	}
	ends := func(spread float64) []float64 {
		if spread == 0 {
			return []float64{1}
		}
		return []float64{1 - spread, 1 + spread}
	}
	for _, f := range ends(a.FrictionSpread) {
		for _, p := range ends(a.PayloadSpread) {
			corners = append(corners, loadCorner{f, p})
		}
	}
	return corners
}

// cornerKey explains what loadCorner.String returns.
const cornerKey = "Worst of the spread of the load: F+ friction at its upper end, F- at its lower; P+ payload at its upper end, P- at its lower; without a mark, as entered."

// String returns the mark of the corner in the report, "" as entered.
func (c loadCorner) String() string {
	var marks []string
	for _, x := range []struct {
		factor float64
		name   string
	}{{c.friction, "F"}, {c.payload, "P"}} {
		if x.factor > 1 {
			marks = append(marks, x.name+"+")
		} else if x.factor < 1 {
			marks = append(marks, x.name+"-")
		}
	}
	return strings.Join(marks, " ")
}

// applied returns the steps of an axis with their loads at the corner.
func (c loadCorner) applied(a Axis, steps []energy.Step) []energy.Step {
	if c.friction == 1 && c.payload == 1 {
		return steps
	}
	out := append([]energy.Step(nil), steps...)
	for i := range out {
		out[i].Load = c.load(a, out[i].Load)
	}
	return out
}

// load returns the load of a step at the corner.
func (c loadCorner) load(a Axis, l energy.Load) energy.Load {
	if c.friction == 1 && c.payload == 1 {
		return l
	}
	base := &a.Drive.Load
	for _, f := range [...]*float64{&l.Coulomb, &l.Viscous, &l.Plus.Coulomb, &l.Plus.Viscous, &l.Minus.Coulomb, &l.Minus.Viscous, &l.Breakaway} {
		*f *= c.friction
	}
	l.Mass = base.Mass + c.payload*(l.Mass-base.Mass)
	l.Inertia = base.Inertia + c.payload*(l.Inertia-base.Inertia)
	return l
}

// validateSpread records a spread out of range, or one of nothing.
func (a Axis) validateSpread(f *profile.Faults, path string) {
	l := a.Drive.Load
	checkTolerance(f, path+".load.frictionSpread", a.FrictionSpread)
	checkTolerance(f, path+".load.payloadSpread", a.PayloadSpread)
	none := l.Coulomb == 0 && l.Viscous == 0 && l.Plus == (energy.Friction{}) && l.Minus == (energy.Friction{}) && l.Breakaway == 0
	if a.FrictionSpread > 0 && none {
		f.Add(path+".load.frictionSpread", a.FrictionSpread, "none on a load without friction")
	}
}

// all lists the axis with its load as entered and at the ends of its spread.
func (r AxisResult) all() []LoadResult { return append([]LoadResult{r.LoadResult}, r.Ends...) }

// worst returns the end of the load's spread at which a value is highest, and the value.
// Its mark leaves out what is of no influence.
func (r AxisResult) worst(of func(LoadResult) float64) (LoadResult, float64) {
	all := r.all()
	values := make([]float64, len(all))
	at := 0
	for i, l := range all {
		if values[i] = of(l); values[i] > values[at] {
			at = i
		}
	}
	worst := all[at]
	common := worst.corner
	for i, l := range all {
		if math.Abs(values[i]-values[at]) <= 1e-9*math.Abs(values[at]) {
			if l.corner.friction != common.friction {
				common.friction = 1
			}
			if l.corner.payload != common.payload {
				common.payload = 1
			}
		}
	}
	worst.Corner = common.String()
	return worst, values[at]
}

// powers returns the most power that the axis takes from the bus at every instant with
// hot copper, and the least that it takes with cold copper, over the spread of its load
// [W]. What draws more at every instant lowers the bus at least as far, so that figures
// that follow from these hold for any mix of the ends.
func (r AxisResult) powers() (hot, cold profile.Curve, err error) {
	hot, cold = r.Hot.BusPower, r.Cold.BusPower
	for _, l := range r.Ends {
		if hot, err = greatest(hot, l.Hot.BusPower); err != nil {
			return hot, cold, err
		}
		least, err := greatest(cold.Scale(-1), l.Cold.BusPower.Scale(-1))
		if err != nil {
			return hot, cold, err
		}
		cold = least.Scale(-1)
	}
	return hot, cold, nil
}

// greatest returns the higher of two curves at every instant: a + max(b - a, 0). The cuts
// of both that no longer matter are taken out, since the bounds cost time for each piece.
func greatest(a, b profile.Curve) (profile.Curve, error) {
	above, err := profile.Sum(b, a.Scale(-1))
	if err != nil {
		return profile.Curve{}, err
	}
	higher, err := profile.Sum(a, above.Positive())
	return higher.Simplify(), err
}

// weight returns the largest torque with which the load pulls at the motor, over the
// spread of the payload [N·m].
func (r AxisResult) weight() float64 {
	_, w := r.worst(func(l LoadResult) float64 { return math.Abs(l.Weight) })
	return w
}
