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

// turn follows an interval on which the crank turns one way, with speed v. It is
// cut where the slider turns, at breaks of its forces, and then as the interpolation
// needs it.
func (p *pass) turn(at interval, v form) {
	p.cuts = p.cuts[:0]
	p.timeBreaks(at.lo, at.hi)
	x := p.position()
	from, to := poly.Eval(x, at.lo), poly.Eval(x, at.hi)
	lowest, highest := min(from, to), max(from, to)
	for _, angle := range p.breakAngles() {
		for n := math.Ceil((lowest - angle) / (2 * math.Pi)); ; n++ {
			a := angle + 2*math.Pi*n
			if a >= highest {
				break
			}
			if p.crowded = p.crowded || len(p.cuts) > maxCrankPieces; p.crowded {
				return
			}
			p.reach(a, at.lo, at.hi)
		}
	}
	p.tidyCuts(at.lo, at.hi)
	lo := at.lo
	for i := 0; i <= len(p.cuts); i++ {
		hi := at.hi
		if i < len(p.cuts) {
			hi = p.cuts[i]
		}
		p.smooth(interval{lo, hi}, v.from(lo-at.lo))
		lo = hi
	}
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

// smooth follows an interval on which the forces are smooth, halving it until polynomials
// represent them.
func (p *pass) smooth(at interval, v form) {
	if p.crowded = p.crowded || len(p.breaks) > maxCrankPieces; p.crowded {
		return
	}
	defer p.tails.release(p.tails.mark())
	c := p.sample(at, v)
	torque, friction, outside, offer := &c[0], &c[1], &c[2], &c[3]
	h := at.length()
	if !(torque.ready() && friction.ready() && outside.ready() && offer.ready()) && h > 2*p.sliver {
		mid := at.lo + h/2
		p.smooth(interval{at.lo, mid}, v)
		p.smooth(interval{mid, at.hi}, v.from(mid-at.lo))
		return
	}
	var buf [samples]float64
	p.take(at, v)
	p.drags(p.sign * v.integral(h))
	p.book.LoadFriction += integral(friction.polynomial(buf[:], h), h)
	p.book.LoadWork += integral(outside.polynomial(buf[:], h), h)
	p.offered(p.tails.form(offer.polynomial(buf[:], h)))
	p.chain(0, p.tails.form(torque.polynomial(buf[:], h)))
}

// sample returns the torque at the crank [N·m], the power of the slider's friction [W], that
// against the force from outside [W], and what inertia, weight and outside forces
// put on the crank together [N·m].
func (p *pass) sample(at interval, v form) (c [4]interpolant) {
	var xb [maxPosition]float64
	var vb, fb [maxTorque]float64
	path := p.position()
	angle, speed, timed := poly.Shift(xb[:0], path[:degree(path)+1], at.lo), v.coefs(&vb), p.during(at).coefs(&fb)
	angle[0] = math.Mod(angle[0], 2*math.Pi) // the rounding of a large angle would look like noise
	h := at.length()
	x, k, _ := p.crank.At(poly.Eval(angle, h/2))
	direction := sign(k) * p.sign
	dry, viscous := p.load.friction(direction)
	table := p.load.ExternalByPosition.segment(x)
	spring := &p.load.Counterbalance
	r := p.crank.Radius
	for i := range samples {
		t := h * (1 - node[i]) / 2
		w, alpha := poly.EvalBoth(speed, t)
		x, k, dk := p.crank.At(poly.Eval(angle, t))
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
