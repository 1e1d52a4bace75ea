package energy_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// anyAxis returns an axis of any mechanism whose load has any of the forces that a
// load can have.
func anyAxis(t testing.TB, r *rand.Rand) energy.Axis {
	t.Helper()
	a := randomAxis(t, r)
	ef, eb := randomEfficiency(r), randomBack(r)
	inertia, drag := maybe(r, between(r, 1e-6, 1e-3)), maybe(r, between(r, 0.01, 0.2))
	toLinear := func() {
		if a.Load.Mass == 0 {
			a.Load.Mass, a.Load.Inertia = between(r, 1, 100), 0
			a.Load.Incline = maybe(r, math.Pi*(r.Float64()-0.5))
		}
	}
	switch r.IntN(8) {
	case 0:
		toLinear()
		a.Mechanism = energy.RackPinion{PitchDiameter: between(r, 0.02, 0.2), Efficiency: ef, BackEfficiency: eb, Inertia: inertia, Drag: drag}
	case 1:
		toLinear()
		a.Mechanism = energy.RollerConveyor{Diameter: between(r, 0.02, 0.1), Driven: 1 + r.IntN(20), Idle: r.IntN(10),
			RollerInertia: inertia, RollerDrag: drag}
	case 2:
		toLinear()
		a.Mechanism, a.Stages, a.Motor.RotorInertia = energy.Direct{}, nil, 0
	case 3:
		toLinear()
		a.Mechanism = energy.HoistDrum{Diameter: between(r, 0.05, 0.5), Falls: 1 + r.IntN(4), Efficiency: ef, BackEfficiency: eb, Inertia: inertia, Drag: drag}
	case 4, 5:
		toLinear()
		radius, offset := between(r, 0.02, 0.3), 0.0
		if r.IntN(2) == 0 {
			offset = radius * (r.Float64() - 0.5)
		}
		a.Mechanism = energy.CrankSlider{Radius: radius, Rod: (radius + math.Abs(offset)) * between(r, 1.05, 6), Offset: offset,
			Efficiency: ef, BackEfficiency: eb, Inertia: inertia, Drag: drag}
	}
	anyForces(t, r, &a)
	return a
}

// anyForces adds any of the forces that a load can have.
func anyForces(t testing.TB, r *rand.Rand, a *energy.Axis) {
	t.Helper()
	l := &a.Load
	some := func() bool { return r.IntN(3) == 0 }
	if some() {
		l.Plus = energy.Friction{Coulomb: maybe(r, between(r, 1, 30)), Viscous: maybe(r, between(r, 1, 30))}
	}
	if some() {
		l.Minus = energy.Friction{Coulomb: maybe(r, between(r, 1, 30)), Viscous: maybe(r, between(r, 1, 30))}
	}
	if some() {
		l.Breakaway = (l.Coulomb + math.Max(l.Plus.Coulomb, l.Minus.Coulomb)) * (1 + r.Float64())
	}
	if some() {
		at, size := 0.0, 1.0
		if m, ok := a.Mechanism.(energy.CrankSlider); ok {
			at, size = m.Rod, m.Radius
		}
		var table energy.ForceTable
		for range 2 + r.IntN(5) {
			table.Position = append(table.Position, at+size*r.NormFloat64())
		}
		slices.Sort(table.Position)
		for range table.Position {
			table.Force = append(table.Force, 50*r.NormFloat64())
		}
		if n := len(table.Position); some() {
			table.Position[n-1] = table.Position[n-2] // a step
		}
		l.ExternalByPosition = table
	}
	if some() {
		var breaks []float64
		var coefs [][]float64
		for i := range 2 + r.IntN(3) {
			breaks = append(breaks, 0.2*(float64(i)+0.8*r.Float64())-0.05)
			c := make([]float64, 1+r.IntN(5))
			for k := range c {
				c[k] = 50 * r.NormFloat64()
			}
			coefs = append(coefs, c)
		}
		curve, err := profile.NewCurve(breaks, coefs[1:])
		require.NoError(t, err)
		l.ExternalByTime = curve
	}
	if some() {
		l.Counterbalance = energy.Counterbalance{Mass: maybe(r, between(r, 0.1, 50)), Ratio: between(r, 0.3, 2),
			Stiffness: maybe(r, between(r, 1, 500)), Relaxed: r.NormFloat64(), Force: maybe(r, 100*r.NormFloat64())}
	}
	if _, ok := a.Mechanism.(energy.HoistDrum); ok {
		// A rope has to stay taut at accelerations up to 5 m/s².
		*l = energy.Load{Mass: l.Mass, Coulomb: math.Min(l.Coulomb, 0.5*l.Mass), Plus: energy.Friction{Coulomb: maybe(r, 0.2*l.Mass)},
			External: math.Abs(l.External), Counterbalance: energy.Counterbalance{Force: maybe(r, l.Mass)}}
	}
}

// suited returns the motion scaled to what the axis can follow: gently on a hoist, and
// through some turns of a crank.
func suited(t testing.TB, a energy.Axis, m profile.Motion) profile.Motion {
	t.Helper()
	scale := 1.0
	switch a.Mechanism.(type) {
	case energy.HoistDrum:
		if top := math.Abs(m.Accel().AbsMax().V); top > 5 {
			scale = 5 / top
		}
	case energy.CrankSlider:
		scale = 3
	}
	if scale == 1 {
		return m
	}
	m, err := profile.NewMotion(m.Position().Scale(scale))
	require.NoError(t, err)
	return m
}

// withoutLoss returns the axis with all of its losses and outside forces taken away.
func withoutLoss(t testing.TB, a energy.Axis) energy.Axis {
	t.Helper()
	a.Load.Coulomb, a.Load.Viscous, a.Load.External, a.Load.Breakaway = 0, 0, 0, 0
	a.Load.Plus, a.Load.Minus = energy.Friction{}, energy.Friction{}
	a.Load.ExternalByPosition, a.Load.ExternalByTime = energy.ForceTable{}, profile.Curve{}
	a.Drive = energy.Drive{}
	rotor := a.Motor.RotorInertia
	a.Motor = lossless(t)
	a.Motor.RotorInertia = rotor
	stages := slices.Clone(a.Stages)
	for i := range stages {
		stages[i].Efficiency, stages[i].BackEfficiency, stages[i].Drag = 1, 0, 0
	}
	a.Stages = stages
	switch m := a.Mechanism.(type) {
	case energy.Screw:
		m.Efficiency, m.BackEfficiency, m.Drag = 1, 0, 0
		a.Mechanism = m
	case energy.Belt:
		m.Efficiency, m.BackEfficiency, m.Drag = 1, 0, 0
		a.Mechanism = m
	case energy.Rotary:
		m.Efficiency, m.BackEfficiency, m.Drag = 1, 0, 0
		a.Mechanism = m
	case energy.RackPinion:
		m.Efficiency, m.BackEfficiency, m.Drag = 1, 0, 0
		a.Mechanism = m
	case energy.RollerConveyor:
		m.RollerDrag = 0
		a.Mechanism = m
	case energy.HoistDrum:
		m.Efficiency, m.BackEfficiency, m.Drag = 1, 0, 0
		a.Mechanism = m
	case energy.CrankSlider:
		m.Efficiency, m.BackEfficiency, m.Drag = 1, 0, 0
		a.Mechanism = m
	}
	return a
}
