package thermal

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// FirstOrder is how a body with one temperature moves towards a settled rise
// under constant heat. Its rise over ambient θ [K] follows
//
//	τ dθ/dt = θ∞ - θ
//	θ(t) = θ∞ + (θ(0) - θ∞) e^(-t/τ)
//
// the heat balance of one node with constant heat capacity and thermal
// resistance. A motor that cools itself with its own fan has a longer time
// constant at standstill; use one FirstOrder for each state.
type FirstOrder struct {
	TimeConstant float64 // τ [s], > 0
	Rise         float64 // settled rise over ambient θ∞ [K]
}

// After returns the rise [K] after time t [s], >= 0, from the rise start [K].
func (o FirstOrder) After(start, t float64) (float64, error) {
	var f profile.Faults
	o.check(&f)
	f.Finite("start", start, "K")
	f.NonNegative("t", t, "s")
	if err := f.Err(); err != nil {
		return 0, err
	}
	rise := o.after(start, t/o.TimeConstant)
	needFinite(&f, "start", start, rise)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return rise, nil
}

// after is the rise after x time constants. The sum of two terms of one sign
// each keeps it between start and settled rise, with no difference of large
// numbers.
func (o FirstOrder) after(start, x float64) float64 {
	return start*math.Exp(-x) - o.Rise*math.Expm1(-x)
}

// TimeTo returns the time [s] in which the rise goes from start to target [K].
// reached is false, and the time 0, when it never does: the target does not lie
// between start and the settled rise, or is the settled rise itself.
//
//	t = τ ln( (θ∞ - θ(0)) / (θ∞ - θ) )
func (o FirstOrder) TimeTo(start, target float64) (t float64, reached bool, err error) {
	var f profile.Faults
	o.check(&f)
	f.Finite("start", start, "K")
	f.Finite("target", target, "K")
	if err := f.Err(); err != nil {
		return 0, false, err
	}
	if start == target {
		return 0, true, nil
	}
	if !(start < target && target < o.Rise || start > target && target > o.Rise) {
		return 0, false, nil
	}
	// The quotient is 1 + (θ-θ0)/(θ∞-θ), which stays exact for short times.
	t = o.TimeConstant * math.Log1p((target-start)/(o.Rise-target))
	needFinite(&f, "target", target, t)
	if err := f.Err(); err != nil {
		return 0, false, err
	}
	return t, true, nil
}

// FromReadings returns the response on which three readings of the rise lie that
// were taken interval [s] apart, under constant heat or while cooling. For a
// body that starts cold the first reading is 0.
//
//	q = (θ3-θ2)/(θ2-θ1)
//	τ = interval / ln(1/q)        θ∞ = θ1 + (θ2-θ1)/(1-q)
//
// The readings must approach a settled value: the second step in the direction
// of the first and smaller. Small errors of θ1, θ2, θ3 enter θ∞ multiplied by q²,
// -2q and 1, each over (1-q)², so let the interval be near the time constant or
// longer.
func FromReadings(interval, first, second, third float64) (FirstOrder, error) {
	var f profile.Faults
	f.Positive("interval", interval, "s")
	f.Finite("first", first, "K")
	f.Finite("second", second, "K")
	f.Finite("third", third, "K")
	if err := f.Err(); err != nil {
		return FirstOrder{}, err
	}
	step1, step2 := second-first, third-second
	q := step2 / step1
	if !(q > 0 && q < 1) {
		f.Add("third", third, fmt.Sprintf("a step from second in the direction of that from first to second, which is %g K, and smaller", step1))
		return FirstOrder{}, f.Err()
	}
	o := FirstOrder{
		TimeConstant: -interval / math.Log(q),
		Rise:         first + step1*(step1/(step1-step2)),
	}
	needFinite(&f, "third", third, o.TimeConstant, o.Rise)
	if !(o.TimeConstant > 0) {
		f.Add("interval", interval, "a size that gives a time constant > 0 s")
	}
	if err := f.Err(); err != nil {
		return FirstOrder{}, err
	}
	return o, nil
}

// Validate returns nil, or an error with every field outside its domain.
func (o FirstOrder) Validate() error {
	var f profile.Faults
	o.check(&f)
	return f.Err()
}

func (o FirstOrder) check(f *profile.Faults) {
	f.Positive("timeConstant", o.TimeConstant, "s")
	f.Finite("rise", o.Rise, "K")
}
