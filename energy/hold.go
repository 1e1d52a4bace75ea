package energy

import (
	"math"

	"example.com/headroom/internal/poly"
)

// stand holds the load at rest with the least torque that does.
func (p *pass) stand(at interval) {
	p.sign = 0
	x, k := p.position()[0], 1.0
	if p.turns {
		x, k, _ = p.crank.At(x)
	}
	b := p.band(k)
	force := form{a: p.resting(x)}
	if !p.elapse {
		p.hold(at, &b, k, force)
		return
	}
	p.cuts = p.cuts[:0]
	p.timeBreaks(at.lo, at.hi)
	p.tidyCuts(at.lo, at.hi)
	p.held = append(p.held[:0], p.cuts...)
	lo := at.lo
	for i := 0; i <= len(p.held); i++ {
		hi := at.hi
		if i < len(p.held) {
			hi = p.held[i]
		}
		part := interval{lo, hi}
		p.hold(part, &b, k, force.plus(1, p.during(part)))
		lo = hi
	}
}

// hold holds a force, k times which is the torque at the output of the first link.
func (p *pass) hold(at interval, b *band, k float64, force form) {
	if p.taut {
		p.checkTaut(at, force)
	}
	f, h := force.scale(k), at.length()
	// Cut where the torque sets in or vanishes.
	p.cuts = p.cuts[:0]
	if f.b != 0 || f.c != 0 || f.rest != nil {
		p.cutsOf(f, h, b.motor.minus, b.shaft.minus, -b.shaft.plus, -b.motor.plus)
	}
	lo := 0.0
	for i := 0; i <= len(p.cuts); i++ {
		hi := h
		if i < len(p.cuts) {
			hi = p.cuts[i]
		}
		f, mid := f.from(lo), f.at(lo+(hi-lo)/2)
		p.take(at.part(span{lo: lo, hi: hi}), form{})
		p.emit(form{}, b.shaft.line(f, mid), b.motor.line(f, mid), sign(b.motor.hold(mid)))
		lo = hi
	}
}

// cutsOf sets cuts to the times from 0 to h at which f takes one of the levels.
func (p *pass) cutsOf(f form, h float64, levels ...float64) {
	var buf, roots [maxTorque]float64
	for _, level := range levels {
		if math.IsInf(level, 0) {
			continue
		}
		g := f
		g.a -= level
		p.cuts = append(p.cuts, poly.Roots(roots[:0], g.coefs(&buf), 0, h)...)
	}
	p.tidyCuts(0, h)
}

// band is how a force at rest shows at the motor: at its shaft, and as electromagnetic
// torque, of which the motor's own friction holds a part.
type band struct{ shaft, motor deadBand }

// deadBand is the least torque that holds against a torque at the load that pulls in
// the negative direction, which is positive, or in the positive one:
//
//	slope (f - minus) above minus, slope (f + plus) below -plus, 0 in between
//
// A friction takes away up to its amount, a stage multiplies by eb/N, and one after
// another these are a single such line.
type deadBand struct{ slope, minus, plus float64 }

func (d deadBand) hold(f float64) float64 {
	switch {
	case f > d.minus:
		return d.slope * (f - d.minus)
	case f < -d.plus:
		return d.slope * (f + d.plus)
	}
	return 0
}

// line returns the part of the band that holds for a torque mid, applied to the torque f.
func (d deadBand) line(f form, mid float64) form {
	switch {
	case mid > d.minus:
		f.a -= d.minus
	case mid < -d.plus:
		f.a += d.plus
	default:
		return form{}
	}
	return f.scale(d.slope)
}

// band returns the band of the axis where the travel of the load per travel of the
// axis coordinate is k: 1 but for a crank.
func (p *pass) band(k float64) band {
	slope := 1.0
	minus, plus := math.Abs(k)*p.load.static(-1), math.Abs(k)*p.load.static(1)
	if k < 0 {
		minus, plus = plus, minus
	}
	for i := range p.n {
		l := &p.links[i]
		slope *= math.Max(0, l.BackEfficiency) / l.Ratio
		if slope == 0 {
			none := deadBand{0, math.Inf(1), math.Inf(1)}
			return band{none, none} // self-locking
		}
		minus += l.Drag / slope
		plus += l.Drag / slope
	}
	own := p.motor.DragTorque / slope
	return band{deadBand{slope, minus, plus}, deadBand{slope, minus + own, plus + own}}
}

func sign(x float64) float64 {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}
