package profile_test

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// flaw steps through a move piece by piece and returns an error for what is
// wrong with it: a gap, an end other than the one asked for, or, from the first
// instant inside the limits on, a limit that does not hold.
func flaw(m profile.Move, from, to profile.State, lim profile.Limits, tol float64) error {
	l := filled(lim)
	// steps reports whether the acceleration may step from a0 to a1 at speed v.
	steps := func(v, a0, a1, grainV, grainA float64) bool {
		free := func(v, a float64) bool {
			return v*a <= 0 && math.IsInf(l.DecelJerk, 1) || v*a >= 0 && math.IsInf(l.Jerk, 1)
		}
		for k := range 33 {
			a := a0 + (a1-a0)*(float64(k)+0.5)/33
			if math.Abs(a1-a0) > grainA && !free(v, a) && !(math.Abs(v) <= grainV && (free(1, a) || free(-1, a))) {
				return false
			}
		}
		return true
	}
	d := m.Duration()
	if !(d >= 0) || math.IsInf(d, 1) {
		return fmt.Errorf("duration %g", d)
	}
	motion := m.Motion()
	p, v, a := motion.Position(), motion.Speed(), motion.Accel()
	top, strongest := math.Max(math.Abs(from.Speed), math.Abs(to.Speed)), math.Max(math.Abs(from.Accel), math.Abs(to.Accel))
	way := math.Abs(to.Position - from.Position)
	if p.Pieces() > 0 {
		top, strongest = math.Max(top, math.Abs(v.AbsMax().V)), math.Max(strongest, math.Abs(a.AbsMax().V))
		low, high := p.Extrema()
		way = math.Max(way, high.V-low.V)
	}
	grainP := tol*way + 4e-15*math.Max(math.Abs(from.Position), math.Abs(to.Position))
	grainV, grainA := tol*top, tol*strongest
	// Times are resolved no better than float64 resolves the duration.
	tick, steepest := 4e-16*d, 0.0
	for i := range a.Pieces() {
		_, _, c := a.Piece(i)
		steepest = math.Max(steepest, math.Abs(at(c, 1)))
	}
	grainP, grainV, grainA = grainP+tick*top, grainV+tick*strongest, grainA+tick*steepest
	same := func(what string, x, y, grain float64) error {
		if !(math.Abs(x-y) <= grain) {
			return fmt.Errorf("%s: %.17g and %.17g, off by %.3g of %.3g", what, x, y, x-y, grain)
		}
		return nil
	}
	s, e := m.At(0), m.At(d)
	if e.Position != to.Position || e.Speed != to.Speed {
		return fmt.Errorf("end %+v", e)
	}
	if err := same("start position", s.Position, from.Position, grainP); err != nil {
		return err
	}
	if err := same("start speed", s.Speed, from.Speed, grainV); err != nil {
		return err
	}
	if d > 0 && !steps(from.Speed, from.Accel, s.Accel, grainV, grainA) {
		return fmt.Errorf("start acceleration %g", s.Accel)
	}
	if d > 0 && !steps(to.Speed, e.Accel, to.Accel, grainV, grainA) {
		return fmt.Errorf("end acceleration %g", e.Accel)
	}
	inside := func(v, a float64) bool { // whether the limits hold now
		most := l.Accel
		if v*a < 0 {
			most = l.Decel
		}
		return math.Abs(v) <= l.Speed*(1+tol)+tick*strongest && math.Abs(a) <= most*(1+tol)+tick*steepest+1e-15*strongest
	}
	entered := false
	p0, v0, a0 := from.Position, from.Speed, s.Accel
	for i := range p.Pieces() {
		t0, t1, c := p.Piece(i)
		h := t1 - t0
		j := 6 * at(c, 3)
		x := profile.State{Position: at(c, 0), Speed: at(c, 1), Accel: 2 * at(c, 2)}
		if err := same(fmt.Sprintf("position at %g", t0), x.Position, p0, grainP); err != nil {
			return err
		}
		if err := same(fmt.Sprintf("speed at %g", t0), x.Speed, v0, grainV); err != nil {
			return err
		}
		if !steps(v0, a0, x.Accel, grainV, grainA) {
			return fmt.Errorf("acceleration steps from %g to %g at %g, speed %g", a0, x.Accel, t0, v0)
		}
		const n = 24
		for k := range n + 1 {
			dt := h * float64(k) / n
			vv, aa := x.Speed+dt*(x.Accel+dt*j/2), x.Accel+dt*j
			if math.Abs(vv) <= grainV {
				continue // either side
			}
			in := inside(vv, aa)
			entered = entered || in && k > 0 && k < n && insideForGood(vv, aa, l)
			if entered && !in {
				return fmt.Errorf("piece %d: at %g speed %.12g, acceleration %.12g outside %+v", i, t0+dt, vv, aa, l)
			}
			if math.Abs(aa) <= grainA || k == 0 || k == n {
				continue
			}
			most := l.Jerk
			if vv*aa < 0 {
				most = l.DecelJerk
			}
			if !(math.Abs(j) <= most*(1+tol)) {
				return fmt.Errorf("piece %d: at %g jerk %g with speed %g, acceleration %g, limits %+v", i, t0+dt, j, vv, aa, l)
			}
		}
		p0 = x.Position + h*(x.Speed+h*(x.Accel/2+h*j/6))
		v0, a0 = x.Speed+h*(x.Accel+h*j/2), x.Accel+h*j
	}
	if p.Pieces() == 0 {
		p0, v0 = from.Position, from.Speed
	}
	if err := same("end position", p0, to.Position, grainP); err != nil {
		return err
	}
	return same("end speed", v0, to.Speed, grainV)
}

func at(c []float64, k int) float64 {
	if k < len(c) {
		return c[k]
	}
	return 0
}

// insideForGood reports whether taking the acceleration off at once keeps the
// limits, by stepping through it.
func insideForGood(v, a float64, l profile.Limits) bool {
	if a < 0 {
		v, a = -v, -a
	}
	in := func() bool {
		most := l.Accel
		if v < 0 {
			most = l.Decel
		}
		return math.Abs(v) <= l.Speed && a <= most
	}
	if v < 0 && a > 0 {
		if !in() {
			return false
		}
		if sq := a*a + 2*l.DecelJerk*v; sq > 0 {
			v, a = 0, math.Sqrt(sq)
		} else {
			return true
		}
	}
	return in() && v+a*a/2/l.Jerk <= l.Speed
}
