package energy

import (
	"math"

	"example.com/headroom/profile"
)

// StoppingTorque returns the torque [N·m] that a brake must have to stop the axis within a
// distance [m | rad], > 0, of where it was when its power was removed, in whichever
// direction, and what then happens. Of the brake its shaft and delay count. It is the mean
// torque over the angle that the brake slips, since that is constant:
//
//	T = (kinetic + handed over - friction)/angle
//
// found by bisection to 1e-12. Where the delay alone takes more than the distance no torque
// is enough, which is an error, as is an axis that stops without any. More torque than
// the rating of gears and couplings in between bears is no solution.
func (a Axis) StoppingTorque(position, speed, distance float64, brake HoldingBrake) (float64, Coast, error) {
	var f profile.Faults
	checkPositive(&f, "distance", distance, "m or rad")
	brake.Torque = 1
	c, err := newCoaster(a, &brake)
	f.Under("", err)
	if err := f.Err(); err != nil {
		return 0, Coast{}, err
	}
	try := func(torque float64) (Coast, bool, error) {
		brake.Torque = torque
		out, err := c.run(position, speed)
		return out, out.Stops && math.Max(out.Forward, out.Backward) <= distance, err
	}
	lo, hi := smallest, largest
	best, enough, err := try(hi)
	if err != nil {
		return 0, Coast{}, err
	}
	if !enough {
		f.Add("distance", distance, "more than the way until the brake has its torque")
		return 0, Coast{}, f.Err()
	}
	if _, enough, err := try(lo); err != nil || enough {
		f.Under("", err)
		if enough {
			f.Add("distance", distance, "less than the axis needs without a brake")
		}
		return 0, Coast{}, f.Err()
	}
	for range 200 {
		if !(hi > lo*(1+1e-12)) {
			break
		}
		mid := math.Sqrt(lo * hi)
		out, enough, err := try(mid)
		if err != nil {
			return 0, Coast{}, err
		}
		if enough {
			hi, best = mid, out
		} else {
			lo = mid
		}
	}
	return hi, best, nil
}
