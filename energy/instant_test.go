package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"
)

// instant is what an axis does at one instant, worked out from numbers only: this is
// the plain statement of the model that the curves are held against.
type instant struct {
	speed, torque, rated, shaft, copper, bus        float64
	loadWork, loadFriction, transmission, motorDrag float64
	drive, standby                                  float64
	offered, generated, burned                      float64
}

// forceAt looks a force table up, point by point.
func forceAt(table energy.ForceTable, x float64) float64 {
	n := len(table.Position)
	if n == 0 {
		return 0
	}
	for i := range n - 1 {
		x0, x1 := table.Position[i], table.Position[i+1]
		switch {
		case x <= x0:
			return table.Force[i]
		case x < x1:
			return table.Force[i] + (table.Force[i+1]-table.Force[i])*(x-x0)/(x1-x0)
		}
	}
	return table.Force[n-1]
}

// atInstant is what an axis does in a state, at a time since the motion began.
func atInstant(a energy.Axis, s profile.State, now float64) instant {
	v, acc := s.Speed, s.Accel
	direction := func(v float64) float64 {
		if v > 0 {
			return 1
		} else if v < 0 {
			return -1
		}
		return 0
	}
	dir := direction(v)
	resting := v == 0 && acc == 0

	// Speed and acceleration of the load itself, and what its force is worth at the axis.
	l := a.Load
	x, lever := s.Position, 1.0
	if m, ok := a.Mechanism.(energy.CrankSlider); ok {
		// By the angle φ of the rod: sin φ = (r sin θ - e)/l.
		phi := math.Asin((m.Radius*math.Sin(x) - m.Offset) / m.Rod)
		turn := m.Radius * math.Cos(x) / (m.Rod * math.Cos(phi)) // dφ/dθ
		lever = -m.Radius * math.Sin(x+phi) / math.Cos(phi)
		slope := -m.Radius * ((1+turn)*math.Cos(x+phi)*math.Cos(phi) + turn*math.Sin(x+phi)*math.Sin(phi)) / math.Pow(math.Cos(phi), 2)
		x = m.Radius*math.Cos(x) + m.Rod*math.Cos(phi)
		v, acc = lever*v, lever*acc+slope*v*v
	}
	if _, ok := a.Mechanism.(energy.HoistDrum); ok {
		l.Incline = math.Pi / 2
	}
	extra := l.Plus
	if v < 0 {
		extra = l.Minus
	}
	outside := l.External + forceAt(l.ExternalByPosition, x)
	if c := l.ExternalByTime; now >= c.Start() && now <= c.End() {
		outside += c.At(now)
	}
	cb := l.Counterbalance
	static := outside + l.Mass*9.80665*math.Sin(l.Incline) - cb.Mass*9.80665*cb.Ratio - cb.Stiffness*(cb.Relaxed-x) - cb.Force
	inertia := (l.Mass + l.Inertia + cb.Mass*cb.Ratio*cb.Ratio) * acc
	dry, viscous := l.Coulomb+extra.Coulomb, l.Viscous+extra.Viscous

	var out instant
	out.loadWork = outside * v
	out.loadFriction = dry*math.Abs(v) + viscous*v*v
	t := lever * (inertia + direction(v)*dry + viscous*v + static)
	if resting {
		// Friction holds against the direction in which the load would go.
		held := l.Breakaway
		if held == 0 && static > 0 {
			held = l.Coulomb + l.Minus.Coulomb
		} else if held == 0 {
			held = l.Coulomb + l.Plus.Coulomb
		}
		t = lever * math.Copysign(math.Max(0, math.Abs(static)-held), static)
	}
	stored := lever * (inertia + static) * s.Speed // rate at which energy is stored or done outside

	// One gear after another: travel per radian, efficiencies, inertia, drag.
	w, alpha := s.Speed, s.Accel
	gear := func(ratio, ef, eb, inertia, drag float64) {
		if eb == 0 {
			eb = 2 - 1/ef
		}
		before := t * w
		w *= ratio
		alpha *= ratio
		t /= ratio
		stored += inertia * alpha * w
		switch {
		case resting:
			t *= math.Max(eb, 0)
			t = math.Copysign(math.Max(0, math.Abs(t)-drag), t)
			return
		case t*w > 0:
			t /= ef
		default:
			t *= eb
		}
		out.transmission += t*w - before + drag*math.Abs(w)
		t += inertia*alpha + dir*drag
	}
	switch m := a.Mechanism.(type) {
	case energy.Screw:
		gear(2*math.Pi/m.Lead, m.Efficiency, m.BackEfficiency, m.Inertia, m.Drag)
	case energy.Belt:
		gear(2/m.PitchDiameter, m.Efficiency, m.BackEfficiency, m.Inertia+m.BeltMass*m.PitchDiameter*m.PitchDiameter/4, m.Drag)
	case energy.Rotary:
		gear(1, m.Efficiency, m.BackEfficiency, m.Inertia, m.Drag)
	case energy.RackPinion:
		gear(2/m.PitchDiameter, m.Efficiency, m.BackEfficiency, m.Inertia, m.Drag)
	case energy.RollerConveyor:
		n := float64(m.Driven) + float64(m.Idle)
		gear(2/m.Diameter, 1, 1, m.RollerInertia*n, m.RollerDrag*n)
	case energy.HoistDrum:
		gear(1/(m.Diameter/2/float64(m.Falls)), m.Efficiency, m.BackEfficiency, m.Inertia, m.Drag)
	case energy.CrankSlider:
		gear(1, m.Efficiency, m.BackEfficiency, m.Inertia, m.Drag)
	case energy.Direct:
	}
	for i := len(a.Stages) - 1; i >= 0; i-- {
		s := a.Stages[i]
		gear(s.Ratio, s.Efficiency, s.BackEfficiency, s.Inertia, s.Drag)
	}

	m := a.Motor
	out.speed = w
	out.rated = t + m.RotorInertia*alpha
	drag := dir * (m.DragTorque + m.DragPerSpeed*math.Abs(w) + m.DragPerSpeedSquared*w*w)
	out.torque = out.rated + drag
	if resting {
		out.torque = math.Copysign(math.Max(0, math.Abs(t)-m.DragTorque), t)
	}
	out.motorDrag = drag * w
	out.shaft = out.rated * w
	out.copper = math.Pow(out.torque/m.Winding.Km(), 2)
	i := math.Abs(out.torque) / m.Winding.Kt()
	out.drive = a.Drive.LossPerAmp*i + a.Drive.LossPerAmpSquared*i*i
	out.standby = a.Drive.Standby
	out.bus = out.torque*w + out.copper + out.drive + out.standby
	stored += m.RotorInertia * alpha * w
	out.offered = math.Max(0, -stored)
	out.generated = math.Max(0, -out.torque*w)
	if out.bus >= 0 {
		out.burned = out.generated
	}
	return out
}

// TestCurvesAgainstQuadrature integrates every curve and every entry of the book
// by Gauss-Legendre quadrature of the plain model, piece by piece: a missing or a
// misplaced cut would show, since quadrature across a kink is not exact.
func TestCurvesAgainstQuadrature(t *testing.T) {
	const tolerance = 1e-10
	eachRandom(t, 300, func(t *testing.T, seed uint64, a energy.Axis, m profile.Motion) {
		tr := trace(t, a, m)
		curves := []struct {
			name  string
			curve profile.Curve
			at    func(instant) float64
		}{
			{"speed", tr.Speed, func(i instant) float64 { return i.speed }},
			{"torque", tr.Torque, func(i instant) float64 { return i.torque }},
			{"rated torque", tr.RatedTorque, func(i instant) float64 { return i.rated }},
			{"shaft power", tr.ShaftPower, func(i instant) float64 { return i.shaft }},
			{"copper loss", tr.CopperLoss, func(i instant) float64 { return i.copper }},
			{"bus power", tr.BusPower, func(i instant) float64 { return i.bus }},
		}
		for _, c := range curves {
			require.Zero(t, c.curve.Start(), c.name)
			require.Equal(t, m.Duration(), c.curve.End(), c.name)
			scale := 0.0
			for i := range c.curve.Pieces() {
				_, _, p := c.curve.Piece(i)
				scale = math.Max(scale, math.Abs(p[0]))
			}
			scale = math.Max(scale, math.Abs(c.curve.AbsMax().V))
			for i := range c.curve.Pieces() {
				t0, t1, _ := c.curve.Piece(i)
				want := quad.Fixed(func(s float64) float64 { return c.at(atInstant(a, m.At(s), s)) }, t0, t1, 20, quad.Legendre{}, 0)
				got := c.curve.IntegralBetween(t0, t1)
				if !(math.Abs(got-want) <= tolerance*scale*(t1-t0)) {
					t.Errorf("seed %d: %s integrates to %g from %g s to %g s, want %g", seed, c.name, got, t0, t1, want)
				}
			}
		}

		entries := []struct {
			name string
			got  float64
			at   func(instant) float64
		}{
			{"load work", tr.Book.LoadWork, func(i instant) float64 { return i.loadWork }},
			{"load friction", tr.Book.LoadFriction, func(i instant) float64 { return i.loadFriction }},
			{"transmission", tr.Book.Transmission, func(i instant) float64 { return i.transmission }},
			{"motor drag", tr.Book.MotorDrag, func(i instant) float64 { return i.motorDrag }},
			{"copper", tr.Book.Copper, func(i instant) float64 { return i.copper }},
			{"drive", tr.Book.Drive, func(i instant) float64 { return i.drive }},
			{"standby", tr.Book.Standby, func(i instant) float64 { return i.standby }},
		}
		for _, e := range entries {
			want := 0.0
			for i := range tr.BusPower.Pieces() {
				t0, t1, _ := tr.BusPower.Piece(i)
				want += quad.Fixed(func(s float64) float64 { return e.at(atInstant(a, m.At(s), s)) }, t0, t1, 20, quad.Legendre{}, 0)
			}
			if !(math.Abs(e.got-want) <= tolerance*tr.Book.Throughput()) {
				t.Errorf("seed %d: book has %s = %g, want %g", seed, e.name, e.got, want)
			}
		}
		requireNear(t, tr.BusPower.Positive().Integral(), tr.Book.Drawn, tolerance, "drawn")
		require.InDelta(t, -tr.BusPower.Negative().Integral(), tr.Book.Returned, tolerance*tr.Book.Throughput(), "returned")
	})
}
