package energy

import "math"

// emit writes all curves on the interval at hand and books what depends on torque; w is the
// speed of the motor. sgn is the sign of the torque, 0 if it is not known or changes, which it may
// only where no loss of the drive depends on it.
func (p *pass) emit(w, rated, torque form, sgn float64) {
	if len(p.breaks) == cap(p.breaks) {
		p.grow()
	}
	w.put(p.next(speedOut))
	rated.put(p.next(ratedOut))
	t := p.next(torqueOut)
	torque.put(t)
	rated.times(p.next(shaftOut), w)
	square, bus := torque.times(p.next(copperOut), torque), p.next(busOut)
	gap := torque.times(p.gap[:len(bus)], w)
	heating, conducting := p.copper+p.square, p.linear*sgn

	h := p.h
	heat := integral(square, h)
	p.book.Copper += p.copper * heat
	p.book.Drive += p.square * heat
	if p.linear > 0 {
		p.book.Drive += p.linear * math.Abs(torque.integral(h))
	}
	if len(square) == 5 { // nearly always, and without a loop much faster
		b, g, s := (*[5]float64)(bus), (*[5]float64)(gap), (*[5]float64)(square)
		s0, s1, s2, s3, s4 := s[0], s[1], s[2], s[3], s[4]
		b[0], b[1], b[2], b[3], b[4] = g[0]+heating*s0, g[1]+heating*s1, g[2]+heating*s2, g[3]+heating*s3, g[4]+heating*s4
		s[0], s[1], s[2], s[3], s[4] = p.copper*s0, p.copper*s1, p.copper*s2, p.copper*s3, p.copper*s4
	} else {
		for i, v := range square {
			bus[i] = gap[i] + heating*v
			square[i] = p.copper * v
		}
	}
	if conducting != 0 {
		for i, v := range t {
			bus[i] += conducting * v
		}
	}
	bus[0] += p.idle
	if p.sign == 0 || sgn*p.sign > 0 {
		p.book.Drawn += integral(bus, h) // the motor drives, or stands
	} else {
		p.brake(t, gap, bus, h, sgn)
	}

	end := p.t0 + p.at.hi
	if p.at.hi == p.t1-p.t0 {
		end = p.t1
	}
	p.breaks = append(p.breaks, end)
}

// brake books drawn, returned and generated energy on [0, h], where the motor may
// brake: torque, mechanical power and bus power in local time.
func (p *pass) brake(torque, power, bus []float64, h, sgn float64) {
	whole := math.Abs(integral(power, h))
	if sgn != 0 {
		p.book.Recovery.Generated += whole
	} else {
		var buf [maxTorque]span
		for _, s := range spans(buf[:0], torque, h, 0, p.sliver) {
			if s.sign*p.sign < 0 {
				p.book.Recovery.Generated += math.Abs(integralOf(power, s))
			}
		}
	}
	var buf [8]span // more are rare enough to be worth an allocation
	for _, s := range spans(buf[:0], bus, h, 0, p.sliver) {
		switch e := integralOf(bus, s); {
		case e > 0:
			p.book.Drawn += e
		case s.lo == 0 && s.hi == h:
			p.book.Returned -= e
			p.back += whole
		default:
			p.book.Returned -= e
			p.back += math.Abs(integralOf(power, s))
		}
	}
}
