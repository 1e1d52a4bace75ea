package energy

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Joint fastens a hub on a shaft. It is one of [ParallelKey], [ClampHub] and
// [BondedJoint].
type Joint interface {
	Validate() error

	// Capacity returns the torque that the joint transmits [N·m].
	Capacity() (float64, error)
}

// checkJoint names the joints one by one, because a nil pointer to one of them would
// also satisfy the interface.
func checkJoint(j Joint) error {
	switch j.(type) {
	case ParallelKey, ClampHub, BondedJoint:
		return j.Validate()
	}
	var f profile.Faults
	f.Add("", nil, "a ParallelKey, ClampHub or BondedJoint")
	return f.Err()
}

// What counts as a reversal and as a fast load; own choice, no source. A servo axis
// that shuttles reverses its torque in full several times a second.
const (
	reversingShare = 0.2 // torque either way, of the peak, between which a reversal takes place
	fastReversals  = 0.1 // reversals [1/s]
)

// JointAssessment is what [AssessJoint] finds.
type JointAssessment struct {
	Loading        Loading  // peak torque times service factor, against the capacity [N·m]
	OppositeShare  float64  // highest torque in the lesser direction over that in the greater, 0 to 1
	ReversalRate   float64  // reversals of the torque [1/s]
	ReversingFast  bool     // ReversalRate is at least 0.1/s
	MarginalDesign bool     // a key with a set screw under a load that reverses fast
	Advice         []string // in words, what to do about it; empty when all is well
}

// AssessJoint holds a joint against the torque [N·m] that it carries over one cycle
// that repeats, see [Axis.ShaftTorque].
//
// serviceFactor, > 0, multiplies the peak torque. Usual orders (common practice, no
// source): 1 to 1.25 for steady torque in one direction, 1.5 with frequent starts,
// 2 to 3 for a key under reversing torque, 1.5 to 2 for a joint without play under
// reversing torque.
//
// A key transmits by its flanks and needs some play to be fitted. When the torque
// changes its direction the hub crosses that play, and a set screw does not stop it:
// the flanks are hammered, the fit frets, the screw works loose. So a key with a set
// screw under a load that reverses fast is called marginal whatever its capacity;
// a clamp hub or a bonded joint, which have no play, is preferred (common practice,
// no source). A reversal is a change from more than a fifth of the peak torque one
// way to more than a fifth the other way, the step from the end of the cycle to its
// start included.
//
// A joint that holds a hanging load or that a brake acts through is a matter of
// safety: such parts belong to a risk assessment under the local codes, by a
// licensed practitioner.
func AssessJoint(j Joint, torque profile.Curve, serviceFactor float64) (JointAssessment, error) {
	var f profile.Faults
	f.Under("joint", checkJoint(j))
	peak := math.Abs(torque.AbsMax().V)
	if !(torque.Duration() > 0) {
		f.Add("torque", nil, "a curve over one cycle")
	}
	checkMagnitude(&f, "torque", peak)
	checkPositive(&f, "serviceFactor", serviceFactor, "")
	if err := f.Err(); err != nil {
		return JointAssessment{}, err
	}
	capacity, err := j.Capacity()
	if err != nil {
		return JointAssessment{}, err
	}
	var a JointAssessment
	a.Loading, err = NewLoading(serviceFactor*peak, capacity, 1)
	if err != nil {
		f.Under("loading", err)
		return JointAssessment{}, f.Err()
	}
	if peak > 0 {
		low, high := torque.Extrema()
		a.OppositeShare = math.Max(0, math.Min(high.V, -low.V)) / peak
		a.ReversalRate = float64(reversals(torque, reversingShare*peak)) / torque.Duration()
	}
	a.ReversingFast = a.ReversalRate >= fastReversals
	key, keyed := j.(ParallelKey)
	a.MarginalDesign = keyed && key.SetScrew && a.ReversingFast
	if a.MarginalDesign {
		a.Advice = append(a.Advice, fmt.Sprintf("a key with a set screw is marginal where the torque reverses %.2g times a second: "+
			"it works loose; prefer a clamp hub or a bonded joint (common practice, no source)", a.ReversalRate))
	}
	if !a.Loading.Within() {
		a.Advice = append(a.Advice, fmt.Sprintf("%.3g N·m with the service factor are more than the %.3g N·m of the joint: "+
			"a larger shaft, a longer joint or a stronger material, or less acceleration", a.Loading.Value, a.Loading.Limit))
	}
	return a, nil
}

// reversals counts how often the curve, repeated, changes between above level and
// below -level, level > 0.
func reversals(c profile.Curve, level float64) int {
	up, down := c.Crossings(nil, level), c.Crossings(nil, -level)
	first, last, count := 0.0, 0.0, 0
	for i := range c.Pieces() {
		from, end, _ := c.Piece(i)
		for from < end {
			// Up to the next cut the curve keeps to one side of each level.
			to := math.Min(end, math.Min(next(&up, from, end), next(&down, from, end)))
			if v := c.At(from + (to-from)/2); math.Abs(v) > level {
				s := sign(v)
				if last == 0 {
					first = s
				} else if s != last {
					count++
				}
				last = s
			}
			from = to
		}
	}
	if first != last {
		count++ // from the end of the cycle to its start
	}
	return count
}

// next drops the cuts up to t and returns the first one after it, end without one.
func next(cuts *[]float64, t, end float64) float64 {
	for len(*cuts) > 0 && (*cuts)[0] <= t {
		*cuts = (*cuts)[1:]
	}
	if len(*cuts) == 0 {
		return end
	}
	return (*cuts)[0]
}
