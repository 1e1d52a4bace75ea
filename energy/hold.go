package energy

import (
	"math"
	"slices"

	"example.com/headroom/internal/poly"
)

// standstill is the speed of a load at rest; never written.
var standstill = []float64{0}

// stand holds the load at rest on the stretch at hand with the least torque that does.
func (p *pass) stand() {
	p.sign = 0
	x, k := p.x[0], 1.0
	if p.turns {
		x, k, _ = p.crank.At(x)
	}
	b := p.band(k)
	force := p.resting(x)
	if !p.elapse {
		p.hold(&b, k, []float64{force})
		return
	}
	p.cuts = p.cuts[:0]
	p.timeBreaks(0, p.h)
	p.tidyCuts(0, p.h)
	whole, lo := p.stretch, 0.0
	cuts := slices.Clone(p.cuts)
	for i := 0; i <= len(cuts); i++ {
		hi := whole.h
		if i < len(cuts) {
			hi = cuts[i]
		}
		p.part(whole, lo, hi)
		f := append(p.outside[:0], p.duringStretch(p.h)...)
		if len(f) == 0 {
			f = append(f, 0)
		}
		f[0] += force
		p.hold(&b, k, f)
		lo = hi
	}
	p.take(whole)
}

// hold holds a force, k times which is the torque at the output of the first link, on
// the stretch at hand.
func (p *pass) hold(b *band, k float64, force []float64) {
	if p.taut {
		p.torque[0] = [maxTorque]float64{}
		p.terms = copy(p.torque[0][:], force)
		p.checkTaut(0, p.h)
	}
	p.v = standstill
	f := poly.Scale(p.outside[:0], force, k)
	if len(f) == 1 {
		rated, torque := [1]float64{b.shaft.hold(f[0])}, [1]float64{b.motor.hold(f[0])}
		p.emit(0, p.h, rated[:], torque[:], sign(torque[0]))
		return
	}
	// Cut where the torque sets in or vanishes.
	p.cutsOf(f, b.motor.minus, b.shaft.minus, -b.shaft.plus, -b.motor.plus)
	all, lo := p.cuts, 0.0
	for i := 0; i <= len(all); i++ {
		hi := p.h
		if i < len(all) {
			hi = all[i]
		}
		mid := poly.Eval(f, lo+(hi-lo)/2)
		var r, t [maxTorque]float64
		rated, torque := b.shaft.line(r[:], f, mid), b.motor.line(t[:], f, mid)
		p.emit(lo, hi, rated, torque, sign(b.motor.hold(mid)))
		lo = hi
	}
}

// cutsOf sets cuts to the times in the stretch at hand at which f takes one of the
// levels.
func (p *pass) cutsOf(f []float64, levels ...float64) {
	p.cuts = p.cuts[:0]
	var q, roots [maxTorque]float64
	for _, level := range levels {
		if math.IsInf(level, 0) {
			continue
		}
		g := append(q[:0], f...)
		g[0] -= level
		p.cuts = append(p.cuts, poly.Roots(roots[:0], g, 0, p.h)...)
	}
	p.tidyCuts(0, p.h)
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

// line writes to dst the part of the band that holds for f at mid, applied to the
// polynomial f.
func (d deadBand) line(dst, f []float64, mid float64) []float64 {
	switch {
	case mid > d.minus:
		dst = poly.Scale(dst, f, d.slope)
		dst[0] -= d.slope * d.minus
	case mid < -d.plus:
		dst = poly.Scale(dst, f, d.slope)
		dst[0] += d.slope * d.plus
	default:
		dst = dst[:len(f)]
		clear(dst)
	}
	return dst
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
