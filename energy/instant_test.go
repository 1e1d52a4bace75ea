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
}

func atInstant(a energy.Axis, s profile.State) instant {
	v, acc := s.Speed, s.Accel
	dir := 0.0
	if v > 0 {
		dir = 1
	} else if v < 0 {
		dir = -1
	}
	resting := v == 0 && acc == 0

	l := a.Load
	static := l.External + l.Mass*9.80665*math.Sin(l.Incline)
	var out instant
	out.loadWork = l.External * v
	out.loadFriction = l.Coulomb*math.Abs(v) + l.Viscous*v*v
	t := l.Mass*acc + l.Inertia*acc + dir*l.Coulomb + l.Viscous*v + static
	if resting {
		t = math.Copysign(math.Max(0, math.Abs(static)-l.Coulomb), static)
	}

	// One gear after another: travel per radian, efficiencies, inertia, drag.
	w, alpha := v, acc
	gear := func(ratio, ef, eb, inertia, drag float64) {
		if eb == 0 {
			eb = 2 - 1/ef
		}
		before := t * w
		w *= ratio
		alpha *= ratio
		t /= ratio
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
				want := quad.Fixed(func(s float64) float64 { return c.at(atInstant(a, m.At(s))) }, t0, t1, 20, quad.Legendre{}, 0)
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
				want += quad.Fixed(func(s float64) float64 { return e.at(atInstant(a, m.At(s))) }, t0, t1, 20, quad.Legendre{}, 0)
			}
			if !(math.Abs(e.got-want) <= tolerance*tr.Book.Throughput()) {
				t.Errorf("seed %d: book has %s = %g, want %g", seed, e.name, e.got, want)
			}
		}
		requireNear(t, tr.BusPower.Positive().Integral(), tr.Book.Drawn, tolerance, "drawn")
		require.InDelta(t, -tr.BusPower.Negative().Integral(), tr.Book.Returned, tolerance*tr.Book.Throughput(), "returned")
	})
}
