package energy

import (
	"math"

	"example.com/headroom/profile"
)

// Coast is what an axis does from the removal of its power until it rests.
type Coast struct {
	Stops bool // whether it comes to rest; if not, all that follows is zero

	Duration  float64 // until it rests for good [s]
	Travel    float64 // where it rests less where it was [m | rad]
	Forward   float64 // farthest in the positive direction from where it was [m | rad], >= 0
	Backward  float64 // farthest in the negative direction [m | rad], >= 0: how far a load drops whose axis points up
	PeakSpeed float64 // highest speed of the load, in magnitude [m/s | rad/s]
	Free      float64 // travel until the brake has its torque, or until rest if that is earlier [m | rad]

	Heat      float64 // friction work in the brake [J]
	PeakPower float64 // highest friction power of the brake [W]
	Angle     float64 // through which the brake slips [rad]; Heat over Angle is its torque

	Kinetic float64 // energy of all that moves when the power is removed [J]
	Offered float64 // what weight, counterbalance and outside forces hand over while they drive [J]

	Slack bool // a rope goes slack: load and drum part, and the figures do not hold
}

// coastLimit is the time [s] after which an axis that still moves is said not to stop.
const coastLimit = 600

// PowerOff follows the axis once power is removed from its motor, as in a stop of
// category 0, from a position [m | rad] and a speed [m/s | rad/s]. Without a brake, nil,
// only friction and drags stop it. A force against time is refused: give the
// constant one that there is.
//
// The motor makes no torque, so that the equations of the package give, for the torque
// that the chain from the load to the rotor needs,
//
//	t(a) = 0
//
// with the brake's torque added as a drag, against the motion, on its shaft from its delay
// on. t rises with the acceleration a in straight pieces, one for each way in which
// the stages may be driven, and its root is exact. The motion follows by an embedded
// Runge-Kutta pair (Dormand and Prince, J. Comput. Appl. Math. 6 (1980) 19; coefficients
// FROM MEMORY) to about 1e-9. Constant forces it follows exactly:
//
//	s = v0 t + a t²/2 while the axis is free, then v²/(2 a) with the brake
//
// where a is the net force over the mass and all that is reflected to it, not g. At speed
// zero the axis rests if neither direction overcomes static friction, drags and, from
// its delay on, the brake; else it moves on: a load that is moving up when power
// goes comes down again before a slow brake closes.
//
// An axis that the brake does not slow down any more, and one that moves after ten
// minutes, is said not to stop. One that only viscous friction slows down rests at 1e-9
// of its highest speed. A gear that locks against its load, so that it would stop the
// load at once and not at any finite deceleration, is an error, and so is a crank
// without any inertia, which its dead centres would stop or hurl.
//
// Currents that the magnets drive through the rectifier or a short-circuited winding
// brake as well; they are left out, which is to the safe side for time and way. See
// [Axis.BackEMF].
func (a Axis) PowerOff(position, speed float64, brake *HoldingBrake) (Coast, error) {
	c, err := newCoaster(a, brake)
	if err != nil {
		return Coast{}, err
	}
	return c.run(position, speed)
}

// coaster is an axis without power. The brake acts at the output of link n - Shaft, which is the shaft of the motor
// where there is no such link.
type coaster struct {
	pass
	brake *HoldingBrake
	grip  [maxStages + 2]float64 // torque of the brake at the output of each link and at the motor
	fixed bool                   // whether forces depend on speed alone
	out   Coast

	t, x, v float64
	offered float64
	dir     float64 // of the motion
	on      bool    // whether the brake has its torque
	locks   bool    // whether a gear was found to lock
	steps   int
	k       [7]coasting // rates within a step
}

func newCoaster(a Axis, brake *HoldingBrake) (*coaster, error) {
	var f profile.Faults
	f.Under("", a.Validate())
	if a.Load.ExternalByTime.Pieces() > 0 {
		f.Add("load.externalByTime", "a force against time", "none once power is removed; give its value then as the external force")
	}
	if brake != nil {
		brake.validate(&f, len(a.Stages))
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	c := &coaster{brake: brake}
	c.setUp(&a, 1, 0)
	if c.turns && c.inert == 0 {
		f.Add("mechanism.inertia", 0., "> 0 kg·m², or a rotor with inertia, to take the crank through its dead centres")
		return nil, f.Err()
	}
	c.fixed = !c.turns && !c.varies
	return c, nil
}

// slipRatio is the speed of the brake's shaft over that of the load.
func (c *coaster) slipRatio() float64 { return c.ratio[c.n-c.brake.Shaft] }

// close gives the brake its torque.
func (c *coaster) close() {
	c.on = true
	c.grip[c.n-c.brake.Shaft] = c.brake.Torque
}

func (c *coaster) run(position, speed float64) (Coast, error) {
	var f profile.Faults
	checkFinite(&f, "position", position, "m or rad")
	checkFinite(&f, "speed", speed, "m/s or rad/s")
	if err := f.Err(); err != nil {
		return Coast{}, err
	}
	c.out, c.grip, c.on, c.locks, c.steps = Coast{}, [maxStages + 2]float64{}, false, false, 0
	c.t, c.x, c.v, c.offered = 0, position, speed, 0
	c.out.Kinetic = c.kinetic(position, speed)
	c.out.PeakSpeed = math.Abs(speed)
	rests, err := c.follow(position)
	if err == nil && c.locks {
		f.Add("mechanism", "a drive train that locks when its load drives it", "one that the load can turn: it stops the load at once, which its parts hardly bear")
		err = f.Err()
	}
	if err != nil {
		return Coast{}, err
	}
	if !rests {
		return Coast{Slack: c.out.Slack}, nil
	}
	c.out.Stops, c.out.Duration, c.out.Travel, c.out.Offered = true, c.t, c.x-position, c.offered
	if sum := c.out.Duration + math.Abs(c.x) + c.out.PeakSpeed + c.out.Heat + c.out.PeakPower + c.out.Angle + c.out.Kinetic + c.offered; math.IsNaN(sum) || math.IsInf(sum, 0) {
		return Coast{}, overflow()
	}
	return c.out, nil
}

// follow moves the axis until it rests, and reports whether it does.
func (c *coaster) follow(start float64) (bool, error) {
	for {
		if !c.on && c.brake != nil && c.t >= c.brake.Delay {
			c.out.Free = c.x - start
			c.close()
		}
		c.dir = sign(c.v)
		if c.v == 0 {
			if c.dir = c.starts(); c.dir == 0 {
				if !c.on {
					c.out.Free = c.x - start
				}
				return true, nil
			}
		}
		a, ok := c.acceleration(c.x, c.v, false)
		if !ok {
			c.locks = true
			return false, nil
		}
		left := coastLimit - c.t
		if c.on || c.brake == nil {
			if c.fixed && a*c.dir >= 0 {
				return false, nil // and never will be slower
			}
		} else {
			left = c.brake.Delay - c.t
		}
		if !c.phase(left, a, start) {
			return false, nil
		}
	}
}

// kinetic returns the energy of all that moves [J].
func (c *coaster) kinetic(x, v float64) float64 {
	m := c.inert
	if c.turns {
		_, k, _ := c.crank.At(x)
		m += c.mass * k * k
	}
	return m / 2 * v * v
}

// starts returns the direction in which the axis starts from rest, 0 if it stays.
func (c *coaster) starts() float64 {
	for _, d := range [2]float64{1, -1} {
		c.dir = d
		if a, ok := c.acceleration(c.x, 0, true); ok && a*d > 0 {
			return d
		}
	}
	return 0
}

// balance returns the force [N | N·m] against positive motion, at the output of the first
// link, of all but inertia and friction, and what converts forces and masses of the load
// to there.
func (c *coaster) balance(x float64) (force, k, dk float64) {
	k = 1
	if c.turns {
		x, k, dk = c.crank.At(x)
	}
	return c.resting(x), k, dk
}

// acceleration returns that of the load while it moves in the direction dir, or starts
// to, without torque of the motor.
func (c *coaster) acceleration(x, v float64, static bool) (float64, bool) {
	force, k, dk := c.balance(x)
	along := c.dir
	if k < 0 {
		along = -along
	}
	dry, viscous := c.load.friction(along)
	if static {
		dry = c.load.static(along)
	}
	mass := c.mass * k * k
	rest := k*force + c.dir*math.Abs(k)*dry + k*k*viscous*v + c.mass*k*dk*v*v
	r := c.ratio[c.n]
	w := math.Max(0, c.dir*v) * r
	m := &c.motor
	drag := m.DragTorque + w*(m.DragPerSpeed+w*m.DragPerSpeedSquared)
	a := 0.0
	for range 4 * (maxStages + 2) { // one straight piece of t after another
		t, slope := rest+mass*a, mass
		for i := range c.n {
			t += c.dir * c.grip[i]
			l := &c.links[i]
			q := l.BackEfficiency / l.Ratio
			if t*c.dir > 0 {
				q = 1 / (l.Ratio * l.Efficiency)
			}
			j := l.Inertia * c.ratio[i+1]
			t, slope = q*t+j*a+c.dir*l.Drag, q*slope+j
		}
		j := m.RotorInertia * r
		t += c.dir*(c.grip[c.n]+drag) + j*a
		slope += j
		if !(slope > 0) {
			return 0, false
		}
		next := a - t/slope
		if math.Abs(next-a) <= 1e-14*math.Abs(a) {
			return next, true
		}
		a = next
	}
	return a, true
}
