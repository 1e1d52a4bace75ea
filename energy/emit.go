package energy

import "math"

// emit writes all curves from lo to hi and books what depends on torque. sgn is the
// sign of the torque, 0 if it is not known or changes, which it may only where no loss
// of the drive depends on it.
func (p *pass) emit(lo, hi float64, rated, torque []float64, sgn float64) {
	if len(p.breaks) == cap(p.breaks) {
		p.grow(2 * len(p.breaks))
	}
	nv, nr, nt := len(p.v), len(rated), len(torque)
	w := p.next(speedOut, nv)
	for i, v := range p.v {
		w[i] = v * p.ratio[p.n]
	}
	copy(p.next(ratedOut, nr), rated)
	copy(p.next(torqueOut, nt), torque)
	rated, torque = p.next(ratedOut, nr), p.next(torqueOut, nt)
	if lo != 0 {
		shift(w, lo)
		shift(rated, lo)
		shift(torque, lo)
	}
	shaft, square, bus := p.next(shaftOut, nr+nv-1), p.next(copperOut, 2*nt-1), p.next(busOut, 2*nt-1)
	multiply(shaft, rated, w)
	multiply(square, torque, torque)
	var mb [maxTorque + maxSpeed]float64
	gap := multiply(mb[:nt+nv-1], torque, w)
	heating, conducting := p.copper+p.square, p.linear*sgn
	if len(gap) == 5 && len(square) == 5 && len(bus) == 5 && nt == 3 {
		bus[0] = gap[0] + heating*square[0] + conducting*torque[0] + p.idle
		bus[1] = gap[1] + heating*square[1] + conducting*torque[1]
		bus[2] = gap[2] + heating*square[2] + conducting*torque[2]
		bus[3] = gap[3] + heating*square[3]
		bus[4] = gap[4] + heating*square[4]
	} else {
		for i, v := range square {
			bus[i] = heating * v
		}
		for i, v := range gap {
			bus[i] += v
		}
		for i, v := range torque {
			bus[i] += conducting * v
		}
		bus[0] += p.idle
	}

	h := hi - lo
	heat := integral(square, 0, h)
	p.book.Copper += p.copper * heat
	p.book.Drive += p.square * heat
	if p.linear > 0 {
		p.book.Drive += p.linear * math.Abs(integral(torque, 0, h))
	}
	for i := range square {
		square[i] *= p.copper
	}
	if p.sign == 0 || sgn*p.sign > 0 {
		p.book.Drawn += integral(bus, 0, h) // the motor drives, or stands
	} else {
		p.brake(torque, gap, bus, h, sgn)
	}

	end := p.t0 + hi
	if hi == p.h {
		end = p.t1
	}
	p.breaks = append(p.breaks, end)
	for k, w := range p.width {
		p.out[k] = p.out[k][:len(p.out[k])+w]
	}
}

// brake books drawn, returned and generated energy on [0, h], where the motor may
// brake: torque, mechanical power and bus power in local time.
func (p *pass) brake(torque, power, bus []float64, h, sgn float64) {
	if sgn != 0 {
		p.book.Recovery.Generated += math.Abs(integral(power, 0, h))
	} else {
		var buf [maxTorque]span
		for _, s := range spans(buf[:0], torque, 0, h, 0, p.sliver) {
			if s.sign*p.sign < 0 {
				p.book.Recovery.Generated += math.Abs(integral(power, s.lo, s.hi))
			}
		}
	}
	if s, ok := oneSign(bus, 0, h); ok {
		p.bookBus(power, bus, span{0, h, s})
		return
	}
	var buf [maxRoots + 1]span
	for _, s := range spans(buf[:0], bus, 0, h, 0, p.sliver) {
		p.bookBus(power, bus, s)
	}
}

func (p *pass) bookBus(power, bus []float64, s span) {
	e := integral(bus, s.lo, s.hi)
	if e > 0 {
		p.book.Drawn += e
		return
	}
	p.book.Returned -= e
	p.back += math.Abs(integral(power, s.lo, s.hi))
}

// next returns the room, all zero, for the first n coefficients of the next piece of
// an output.
func (p *pass) next(k, n int) []float64 {
	at := len(p.out[k])
	return p.out[k][at : at+n : at+n]
}
