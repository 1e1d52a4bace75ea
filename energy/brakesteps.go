package energy

import "math"

const (
	coastTolerance = 1e-11  // error of one step, relative
	coastSteps     = 200000 // for one axis
	coastRest      = 1e-9   // speed that counts as rest, of the highest
)

// coasting is position, speed and offered energy of an axis without power.
type coasting [3]float64

// rate returns the rate of change of a state.
func (c *coaster) rate(y coasting) coasting {
	a, ok := c.acceleration(y[0], y[1], false)
	c.locks = c.locks || !ok
	force, k, _ := c.balance(y[0])
	return coasting{y[1], a, math.Max(0, -force*k*y[1])}
}

// step takes a step of length h [s] from y with the rate k1 there, and returns the error
// that it estimates.
func (c *coaster) step(y, k1 coasting, h float64) (next, fault coasting) {
	k := &c.k
	k[0] = k1
	at := func(w ...float64) coasting {
		s := y
		for j := range s {
			for i := range w {
				s[j] += h * w[i] * k[i][j]
			}
		}
		return s
	}
	k[1] = c.rate(at(1. / 5))
	k[2] = c.rate(at(3./40, 9./40))
	k[3] = c.rate(at(44./45, -56./15, 32./9))
	k[4] = c.rate(at(19372./6561, -25360./2187, 64448./6561, -212./729))
	k[5] = c.rate(at(9017./3168, -355./33, 46732./5247, 49./176, -5103./18656))
	next = at(35./384, 0, 500./1113, 125./192, -2187./6784, 11./84)
	k[6] = c.rate(next)
	for i, w := range [...]float64{71. / 57600, 0, -71. / 16695, 71. / 1920, -17253. / 339200, 22. / 525, -1. / 40} {
		for j := range fault {
			fault[j] += h * w * k[i][j]
		}
	}
	return next, fault
}

// phase moves the axis on in the direction dir until its speed is zero or left [s] is over,
// a being its acceleration now. It reports false when the axis is seen not to stop.
func (c *coaster) phase(left, a, start float64) bool {
	h := left
	if a*c.v < 0 {
		h = math.Min(h, 1.01*math.Abs(c.v/a))
	} else {
		h = math.Min(h, 0.1)
	}
	end := c.t + left
	y := coasting{c.x, c.v, c.offered}
	for left = end - c.t; left > 0; left = end - c.t {
		if c.steps++; c.steps > coastSteps || c.t >= coastLimit {
			return false
		}
		last := h >= left
		if last {
			h = left
		}
		k1 := c.rate(y)
		next, fault := c.step(y, k1, h)
		speed := math.Max(c.out.PeakSpeed, math.Abs(next[1]))
		worst := math.Max(math.Abs(fault[1])/speed, math.Abs(fault[0])/(speed*h+math.Abs(next[0]-start)))
		if e := math.Abs(fault[2]); e > 0 {
			worst = math.Max(worst, e/(c.out.Kinetic+next[2]))
		}
		if !(worst <= coastTolerance) && h > 1e-12*(c.t+h) && h > 1e-12 {
			if math.IsNaN(worst) {
				return false
			}
			h *= math.Max(0.1, 0.9*math.Pow(coastTolerance/worst, 0.2))
			continue
		}
		stopped := false
		if next[1]*c.dir <= 0 {
			h, next = c.standstill(y, k1, h, next)
			stopped, last = true, false
		} else if math.Abs(next[1]) <= coastRest*c.out.PeakSpeed {
			stopped = true
		}
		if stopped {
			next[1] = 0
		}
		c.t += h
		if last && !stopped {
			c.t = end
		}
		c.record(y, next, start)
		c.checkRope(y, k1[1])
		if !stopped {
			c.checkRope(next, c.k[6][1])
		}
		y = next
		if stopped {
			return true
		}
		if worst < coastTolerance {
			h *= math.Min(5, math.Max(1, 0.9*math.Pow(coastTolerance/math.Max(worst, 1e-300), 0.2)))
		}
	}
	return c.t < coastLimit
}

// standstill shortens a step of length h beyond standstill to one that ends there, by the
// secant through both ends, of which one that stays is given half its weight.
func (c *coaster) standstill(y, k1 coasting, h float64, beyond coasting) (float64, coasting) {
	lo, hi := 0.0, h
	vlo, vhi := y[1], beyond[1]
	for range 100 {
		if beyond[1] == 0 || !(hi-lo > 1e-15*hi) {
			break
		}
		mid := lo + (hi-lo)*vlo/(vlo-vhi)
		if !(mid > lo && mid < hi) {
			mid = lo + (hi-lo)/2
		}
		next, _ := c.step(y, k1, mid)
		if next[1]*c.dir > 0 {
			lo, vlo = mid, next[1]
			vhi /= 2
		} else {
			hi, beyond, vhi = mid, next, next[1]
			vlo /= 2
		}
	}
	return hi, beyond
}

// record takes a step into the result.
func (c *coaster) record(from, to coasting, start float64) {
	o := &c.out
	c.x, c.v, c.offered = to[0], to[1], to[2]
	o.PeakSpeed = math.Max(o.PeakSpeed, math.Abs(to[1]))
	o.Forward = math.Max(o.Forward, to[0]-start)
	o.Backward = math.Max(o.Backward, start-to[0])
	if c.on {
		r := c.slipRatio()
		o.Angle += r * math.Abs(to[0]-from[0])
		o.Heat = c.brake.Torque * o.Angle
		o.PeakPower = math.Max(o.PeakPower, c.brake.Torque*r*math.Max(math.Abs(from[1]), math.Abs(to[1])))
	}
}

// checkRope notes when the force on a load that hangs on a rope is below zero.
func (c *coaster) checkRope(y coasting, acceleration float64) {
	if !c.taut {
		return
	}
	dry, viscous := c.load.friction(c.dir)
	force := c.resting(y[0]) + c.dir*dry + viscous*y[1] + c.mass*acceleration
	c.out.Slack = c.out.Slack || force < -1e-9*c.weight
}
