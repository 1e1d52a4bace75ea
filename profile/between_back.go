package profile

import "math"

// cursor appends stretches to a move, in a sense of motion of its own.
type cursor struct {
	m         *Move
	position  float64
	v, a, dir float64 // speed and acceleration in the sense of dir
}

func (k *cursor) mirror() { k.v, k.a, k.dir = -k.v, -k.a, -k.dir }

// add appends a stretch with jerk j that ends at speed v with acceleration a.
func (k *cursor) add(h, j, v, a float64) {
	if h > 0 {
		k.m.add(h, k.position, k.dir*k.v, k.dir*k.a, k.dir*j)
		k.position += k.dir * h * (k.v + h*(k.a/2+h*j/6))
	}
	k.v, k.a = v, a
}

// ease takes the acceleration down to a at jerk j.
func (k *cursor) ease(a, j float64) {
	h := (k.a - a) / j
	k.add(h, -j, k.v+h*(k.a+a)/2, a)
}

// inside leads the state inside the limits.
func (k *cursor) inside(c climb, speed float64) {
	for range 8 { // each stretch below happens at most once or twice
		if c.excess(speed, k.v, k.a) <= 1+outside {
			return
		}
		if k.a < 0 || k.a == 0 && k.v > 0 {
			k.mirror()
		}
		switch {
		case k.v >= 0:
			k.easeAbove(c, speed)
		case k.v < -speed && k.a <= c.below.accel:
			k.slowDown(c, speed)
		default:
			k.easeBelow(c, speed)
		}
	}
}

// easeAbove takes off what there is too much of an acceleration that speeds up.
func (k *cursor) easeAbove(c climb, speed float64) {
	a := 0.0
	if w, _, _ := c.takeOff(k.v, k.a); w <= speed*(1+outside) {
		a = c.above.accel
	}
	k.ease(a, c.above.jerk)
}

// easeBelow takes off what there is too much of an acceleration that slows down:
// too much now, or when the speed passes zero.
func (k *cursor) easeBelow(c climb, speed float64) {
	j := c.below.jerk
	if sq := k.a*k.a + 2*j*k.v; sq > 0 {
		rest := math.Sqrt(sq)
		if rest > min(c.below.accel, c.above.accel) || sq > 2*c.above.jerk*speed {
			k.add(-2*k.v/(k.a+rest), -j, 0, rest)
			return
		}
	}
	k.ease(c.below.accel, j)
}

// slowDown brings the speed up to -speed, as fast as can be.
func (k *cursor) slowDown(c climb, speed float64) {
	b := c.below
	dv := -speed - k.v
	if math.IsInf(b.jerk, 1) {
		k.a = b.accel
		k.add(dv/b.accel, 0, -speed, 0)
		return
	}
	sq := min(c.above.accel*c.above.accel, 2*c.above.jerk*speed) + 2*b.jerk*speed
	sq = min(min(sq, b.accel*b.accel), k.a*k.a+2*b.jerk*dv)
	end := math.Sqrt(max(sq, k.a*k.a-2*b.jerk*dv))
	p := b.pulse(dv, k.a, end)
	k.add(p.up, b.jerk, k.v+p.up*(k.a+p.peak)/2, p.peak)
	k.add(p.hold, 0, k.v+p.hold*p.peak, p.peak)
	k.add(p.down, -b.jerk, -speed, end)
}
