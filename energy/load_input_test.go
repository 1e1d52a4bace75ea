package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// TestBadLoadsAndMechanisms puts bad numbers into each field that TestBadFields leaves out.
func TestBadLoadsAndMechanisms(t *testing.T) {
	linear := energy.Load{Mass: 12}
	rack := energy.RackPinion{PitchDiameter: 0.05, Efficiency: 0.9}
	rollers := energy.RollerConveyor{Diameter: 0.05, Driven: 3}
	hoist := energy.HoistDrum{Diameter: 0.2, Falls: 2, Efficiency: 0.9}
	crank := energy.CrankSlider{Radius: 0.1, Rod: 2, Efficiency: 0.9}
	with := func(set func(a *energy.Axis, v float64)) func(*energy.Axis, float64) {
		return func(a *energy.Axis, v float64) { a.Load = linear; set(a, v) }
	}
	onRack := func(f func(*energy.RackPinion, float64)) func(*energy.Axis, float64) {
		return with(func(a *energy.Axis, v float64) { m := rack; f(&m, v); a.Mechanism = m })
	}
	onRollers := func(f func(*energy.RollerConveyor, float64)) func(*energy.Axis, float64) {
		return with(func(a *energy.Axis, v float64) { m := rollers; f(&m, v); a.Mechanism = m })
	}
	onHoist := func(f func(*energy.HoistDrum, float64)) func(*energy.Axis, float64) {
		return with(func(a *energy.Axis, v float64) { m := hoist; f(&m, v); a.Mechanism = m })
	}
	onCrank := func(f func(*energy.CrankSlider, float64)) func(*energy.Axis, float64) {
		return with(func(a *energy.Axis, v float64) { m := crank; f(&m, v); a.Mechanism = m })
	}
	const zeroOK, zeroBad, anySign = 0, 1, 2
	for _, tc := range []struct {
		path string
		kind int
		set  func(*energy.Axis, float64)
	}{
		{"load.plus.coulomb", zeroOK, func(a *energy.Axis, v float64) { a.Load.Plus.Coulomb = v }},
		{"load.plus.viscous", zeroOK, func(a *energy.Axis, v float64) { a.Load.Plus.Viscous = v }},
		{"load.minus.coulomb", zeroOK, func(a *energy.Axis, v float64) { a.Load.Minus.Coulomb = v }},
		{"load.minus.viscous", zeroOK, func(a *energy.Axis, v float64) { a.Load.Minus.Viscous = v }},
		{"load.breakaway", zeroOK, func(a *energy.Axis, v float64) { a.Load.Coulomb = 0; a.Load.Breakaway = v }},
		{"load.counterbalance.mass", zeroOK, func(a *energy.Axis, v float64) { a.Load.Counterbalance = energy.Counterbalance{Mass: v, Ratio: 1} }},
		{"load.counterbalance.ratio", zeroBad, func(a *energy.Axis, v float64) { a.Load.Counterbalance = energy.Counterbalance{Mass: 1, Ratio: v} }},
		{"load.counterbalance.ratio", zeroOK, func(a *energy.Axis, v float64) {
			a.Load.Counterbalance = energy.Counterbalance{Force: 1, Ratio: v}
		}},
		{"load.counterbalance.stiffness", zeroOK, func(a *energy.Axis, v float64) { a.Load.Counterbalance.Stiffness = v }},
		{"load.counterbalance.relaxed", anySign, func(a *energy.Axis, v float64) {
			a.Load.Counterbalance = energy.Counterbalance{Stiffness: 1, Relaxed: v}
		}},
		{"load.counterbalance.force", anySign, func(a *energy.Axis, v float64) { a.Load.Counterbalance.Force = v }},
		{"load.externalByPosition.position[1]", anySign, func(a *energy.Axis, v float64) {
			a.Load.ExternalByPosition = energy.ForceTable{Position: []float64{-1, v, 2}, Force: []float64{1, 2, 3}}
		}},
		{"load.externalByPosition.force[1]", anySign, func(a *energy.Axis, v float64) {
			a.Load.ExternalByPosition = energy.ForceTable{Position: []float64{-1, 0, 2}, Force: []float64{1, v, 3}}
		}},
		{"mechanism.pitchDiameter", zeroBad, onRack(func(m *energy.RackPinion, v float64) { m.PitchDiameter = v })},
		{"mechanism.efficiency", zeroBad, onRack(func(m *energy.RackPinion, v float64) { m.Efficiency = v })},
		{"mechanism.backEfficiency", anySign, onRack(func(m *energy.RackPinion, v float64) { m.BackEfficiency = v })},
		{"mechanism.inertia", zeroOK, onRack(func(m *energy.RackPinion, v float64) { m.Inertia = v })},
		{"mechanism.drag", zeroOK, onRack(func(m *energy.RackPinion, v float64) { m.Drag = v })},
		{"mechanism.diameter", zeroBad, onRollers(func(m *energy.RollerConveyor, v float64) { m.Diameter = v })},
		{"mechanism.rollerInertia", zeroOK, onRollers(func(m *energy.RollerConveyor, v float64) { m.RollerInertia = v })},
		{"mechanism.rollerDrag", zeroOK, onRollers(func(m *energy.RollerConveyor, v float64) { m.RollerDrag = v })},
		{"mechanism.diameter", zeroBad, onHoist(func(m *energy.HoistDrum, v float64) { m.Diameter = v })},
		{"mechanism.efficiency", zeroBad, onHoist(func(m *energy.HoistDrum, v float64) { m.Efficiency = v })},
		{"mechanism.backEfficiency", anySign, onHoist(func(m *energy.HoistDrum, v float64) { m.BackEfficiency = v })},
		{"mechanism.inertia", zeroOK, onHoist(func(m *energy.HoistDrum, v float64) { m.Inertia = v })},
		{"mechanism.drag", zeroOK, onHoist(func(m *energy.HoistDrum, v float64) { m.Drag = v })},
		{"mechanism.radius", zeroBad, onCrank(func(m *energy.CrankSlider, v float64) { m.Radius = v })},
		{"mechanism.rod", zeroBad, onCrank(func(m *energy.CrankSlider, v float64) { m.Rod = v })},
		{"mechanism.offset", anySign, onCrank(func(m *energy.CrankSlider, v float64) { m.Offset = v })},
		{"mechanism.efficiency", zeroBad, onCrank(func(m *energy.CrankSlider, v float64) { m.Efficiency = v })},
		{"mechanism.backEfficiency", anySign, onCrank(func(m *energy.CrankSlider, v float64) { m.BackEfficiency = v })},
		{"mechanism.inertia", zeroOK, onCrank(func(m *energy.CrankSlider, v float64) { m.Inertia = v })},
		{"mechanism.drag", zeroOK, onCrank(func(m *energy.CrankSlider, v float64) { m.Drag = v })},
	} {
		t.Run(tc.path, func(t *testing.T) {
			with := func(v float64) error {
				a := beltAxis(t)
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
			if tc.kind == zeroBad {
				requirePaths(t, with(0), tc.path)
			} else {
				require.NoError(t, with(0))
			}
			require.NoError(t, with(0.7))
		})
	}
}

func TestBadCounts(t *testing.T) {
	for _, n := range []int{0, -1, 1 << 40} {
		requirePaths(t, energy.RollerConveyor{Diameter: 1, Driven: n}.Validate(), "driven")
		requirePaths(t, energy.HoistDrum{Diameter: 1, Efficiency: 1, Falls: n}.Validate(), "falls")
		_, _, err := energy.Reeving{Falls: n, Sheave: 0.98}.Efficiency()
		requirePaths(t, err, "falls")
	}
	for _, n := range []int{-1, 1 << 40} {
		requirePaths(t, energy.RollerConveyor{Diameter: 1, Driven: 1, Idle: n}.Validate(), "idle")
		requirePaths(t, energy.Reeving{Falls: 1, Guide: n, Sheave: 0.98}.Validate(), "guide")
	}
	for _, v := range []float64{0, -1, 1.01, 98, math.NaN(), math.Inf(1), 1e-300} {
		requirePaths(t, energy.Reeving{Falls: 1, Sheave: v}.Validate(), "sheave")
	}
	_, _, err := energy.Reeving{Falls: 64, Guide: 64, Sheave: 0.1}.Efficiency()
	requirePaths(t, err, "efficiency", "backEfficiency")
	requirePaths(t, energy.CrankSlider{Radius: 1, Rod: 1.005, Efficiency: 1}.Validate(), "rod")
	requirePaths(t, energy.CrankSlider{Radius: 1, Rod: 1.5, Offset: -0.6, Efficiency: 1}.Validate(), "rod")
}

func TestBadTablesAndCurves(t *testing.T) {
	for name, tc := range map[string]struct {
		table energy.ForceTable
		want  []string
	}{
		"no table":       {energy.ForceTable{}, []string{"position"}},
		"one point":      {energy.ForceTable{[]float64{1}, []float64{1}}, []string{"position"}},
		"missing force":  {energy.ForceTable{[]float64{1, 2}, []float64{1}}, []string{"position"}},
		"forces alone":   {energy.ForceTable{nil, []float64{1, 2}}, []string{"position"}},
		"backwards":      {energy.ForceTable{[]float64{1, 2, 1.5}, []float64{1, 1, 1}}, []string{"position[2]"}},
		"three at one":   {energy.ForceTable{[]float64{1, 1, 1}, []float64{1, 2, 3}}, []string{"position[2]"}},
		"endless slope":  {energy.ForceTable{[]float64{0, 1e-300}, []float64{0, 1}}, []string{"position[1]"}},
		"several faults": {energy.ForceTable{[]float64{math.NaN(), 1, 0}, []float64{1, math.Inf(1), 3}}, []string{"position[0]", "force[1]"}},
	} {
		t.Run(name, func(t *testing.T) { requirePaths(t, tc.table.Validate(), tc.want...) })
	}
	require.NoError(t, energy.ForceTable{[]float64{1, 1}, []float64{1, 2}}.Validate(), "a step alone")

	l := energy.Load{Mass: 1, ExternalByPosition: energy.ForceTable{Force: []float64{1}}}
	requirePaths(t, l.Validate(), "externalByPosition.position")
	l.ExternalByPosition = energy.ForceTable{}
	c := make([]float64, 14)
	c[13] = 1
	curve, err := profile.NewCurve([]float64{0, 1}, [][]float64{c})
	require.NoError(t, err)
	l.ExternalByTime = curve
	requirePaths(t, l.Validate(), "externalByTime")
	curve, err = profile.Constant(1e300, 0, 1)
	require.NoError(t, err)
	l.ExternalByTime = curve
	requirePaths(t, l.Validate(), "externalByTime")
}

func TestZeroMechanisms(t *testing.T) {
	requirePaths(t, energy.RackPinion{}.Validate(), "pitchDiameter", "efficiency")
	requirePaths(t, energy.RollerConveyor{}.Validate(), "diameter", "driven")
	requirePaths(t, energy.HoistDrum{}.Validate(), "diameter", "falls", "efficiency")
	requirePaths(t, energy.CrankSlider{}.Validate(), "radius", "rod", "efficiency")
	requirePaths(t, energy.Reeving{}.Validate(), "falls", "sheave")
	require.NoError(t, energy.Direct{}.Validate())
	require.NoError(t, energy.Counterbalance{}.Validate())
}
