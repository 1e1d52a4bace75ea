package energy

import (
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// maxTurns bounds how often a motion may turn a crank.
const maxTurns = 1000

// maxCrankPieces bounds the pieces of a trace through a crank, some 80 MB of them.
const maxCrankPieces = 100000

// crankTolerance is what the interpolation of the crank's torque may leave out,
// relative to the radius times the sum of the magnitudes of all forces.
const crankTolerance = 1e-11

// checkTurns refuses a motion that turns the crank too often to be followed.
func (p *pass) checkTurns(position profile.Curve) error {
	turns := 0.0
	for i := range position.Pieces() {
		t0, t1, x := position.Piece(i)
		turns += (poly.EvalAbs(x, t1-t0) - math.Abs(x[0])) / (2 * math.Pi)
	}
	if low, high := position.Extrema(); !(turns <= maxTurns && math.Max(-low.V, high.V) <= 2*math.Pi*maxTurns) {
		return motionFault(fmt.Sprintf("up to %g turns of the crank", turns), fmt.Sprintf("%d turns at most, at angles no larger than they make", maxTurns))
	}
	return nil
}

// turn follows a span of the stretch at hand on which the crank turns one way. It is
// cut where the slider turns, at breaks of its forces, and then as the interpolation
// needs it.
func (p *pass) turn(s span) {
	whole := p.stretch
	p.cuts = p.cuts[:0]
	p.timeBreaks(s.lo, s.hi)
	from, to := poly.Eval(p.x, s.lo), poly.Eval(p.x, s.hi)
	lowest, highest := min(from, to), max(from, to)
	for _, angle := range p.breakAngles() {
		for n := math.Ceil((lowest - angle) / (2 * math.Pi)); ; n++ {
			at := angle + 2*math.Pi*n
			if at >= highest {
				break
			}
			if p.crowded = p.crowded || len(p.cuts) > maxCrankPieces; p.crowded {
				return
			}
			p.reach(at, s.lo, s.hi)
		}
	}
	p.tidyCuts(s.lo, s.hi)
	cuts := append([]float64(nil), p.cuts...)
	lo := s.lo
	for i := 0; i <= len(cuts); i++ {
		hi := s.hi
		if i < len(cuts) {
			hi = cuts[i]
		}
		p.smooth(whole, lo, hi)
		lo = hi
	}
	p.take(whole)
}

// breakAngles returns the angles, from 0 to below 2π, at which the forces on the crank
// are not smooth.
func (p *pass) breakAngles() []float64 {
	if len(p.angles) > 0 {
		return p.angles
	}
	outer, inner := p.crank.deadCentres()
	p.angles = append(p.angles, wrap(outer), wrap(inner))
	for _, x := range p.load.ExternalByPosition.Position {
		p.angles = p.crank.anglesAt(p.angles, x)
	}
	return p.angles
}

// smooth follows the part of whole from lo to hi, on which the forces are smooth,
// halving it until polynomials represent them.
func (p *pass) smooth(whole stretch, lo, hi float64) {
	if p.crowded = p.crowded || len(p.breaks) > maxCrankPieces; p.crowded {
		return
	}
	p.part(whole, lo, hi)
	p.x[0] = math.Mod(p.x[0], 2*math.Pi) // the rounding of a large angle would look like noise
	c := p.sample()
	torque, friction, outside, offer := &c[0], &c[1], &c[2], &c[3]
	if !(torque.ready() && friction.ready() && outside.ready() && offer.ready()) && hi-lo > 2*p.sliver {
		mid := lo + (hi-lo)/2
		p.smooth(whole, lo, mid)
		p.smooth(whole, mid, hi)
		return
	}
	var buf [samples]float64
	p.drags(0, p.h, p.sign*integral(p.v, 0, p.h), false)
	p.book.LoadFriction += integral(friction.polynomial(buf[:], p.h), 0, p.h)
	p.book.LoadWork += integral(outside.polynomial(buf[:], p.h), 0, p.h)
	p.offered(offer.polynomial(buf[:], p.h), 0, p.h)
	p.terms = len(torque.polynomial(p.torque[0][:], p.h))
	for p.terms < len(p.v) {
		p.torque[0][p.terms] = 0
		p.terms++
	}
	p.chain(0, 0, p.h)
}

// sample returns the torque at the crank [N·m], the power of the slider's friction [W], that
// against the force from outside [W], and what inertia, weight and outside forces
// put on the crank together [N·m], on the stretch at hand.
func (p *pass) sample() (c [4]interpolant) {
	_, k, _ := p.crank.At(poly.Eval(p.x, p.h/2))
	direction := sign(k) * p.sign
	dry, viscous := p.load.friction(direction)
	x, _, _ := p.crank.At(poly.Eval(p.x, p.h/2))
	table := p.load.ExternalByPosition.segment(x)
	timed := p.duringStretch(p.h)
	spring := &p.load.Counterbalance
	r := p.crank.Radius
	for i := range samples {
		t := p.h * (1 - node[i]) / 2
		w, alpha := poly.EvalBoth(p.v, t)
		x, k, dk := p.crank.At(poly.Eval(p.x, t))
		outside := p.load.External + table.value(x) + poly.Eval(timed, t)
		passive := p.steady - p.load.External + spring.Stiffness*(x-spring.Relaxed) + outside
		inertia := p.mass * (k*alpha + dk*w*w)
		friction := direction*dry + viscous*k*w
		c[0].values[i] = k * (inertia + passive + friction)
		c[1].values[i] = friction * k * w
		c[2].values[i] = outside * k * w
		c[3].values[i] = k*(inertia+passive) + p.inert*alpha

		force := p.mass*r*(math.Abs(alpha)+w*w) + math.Abs(p.steady) + math.Abs(outside) +
			spring.Stiffness*(math.Abs(x)+math.Abs(spring.Relaxed)) + dry + viscous*r*math.Abs(w)
		power := force * math.Abs(w)
		c[0].scale = math.Max(c[0].scale, r*force)
		c[1].scale = math.Max(c[1].scale, r*power)
		c[2].scale = math.Max(c[2].scale, r*power)
		c[3].scale = math.Max(c[3].scale, r*force+p.inert*math.Abs(alpha))
	}
	return c
}
