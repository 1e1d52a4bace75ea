package bus

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"example.com/headroom/profile"
)

// RailHoldUp is how long a rail survives a dip of the mains, with every consumer
// on and past its pull-in.
type RailHoldUp struct {
	Time     float64 // Supply + Rail [s]; 0 when the lowest voltage of the supply is too low already
	Supply   float64 // for which the supply still holds the rail [s]
	Rail     float64 // from then on, out of the capacitance across the rail [s]
	Lowest   float64 // voltage across the rail at which the first consumer fails [V]; where Time is 0, what it would need at least
	Limiting string  // its name; empty when it is the common feed on which the rail collapses
	Power    float64 // drawn from the supply meanwhile, the most over its tolerance [W]
}

// HoldUp computes how long the rail survives a dip of the mains.
//
// First the store of the supply is used, at constant voltage of the rail:
//
//	t = η ½ C (From² - To²) / P
//
// or, by the hold-up time at rated current, t = HoldUpTime · Vn Irated / P, the
// energy being the same (common practice, no source). Then the capacitance
// across the rail falls from the lowest voltage of the supply until the first
// consumer is at its minimum:
//
//	C dv/dt = -i(v)        t = C ∫ dv/i(v),   without cables i = P/v + I + v/R
//
// A capacitor on the rail is charged by the supply at each start and must not
// overload it then. Nominal capacitance is taken as given: give it at the low end
// of its tolerance and at the end of its life.
func (r Rail) HoldUp() (*RailHoldUp, error) {
	h, perFarad, err := r.holdUp()
	if err != nil {
		return nil, err
	}
	h.Rail = r.Capacitance * perFarad
	h.Time = h.Supply + h.Rail
	var f profile.Faults
	needFinite(&f, "capacitance", r.Capacitance, h.Time)
	if err := f.Err(); err != nil {
		return nil, err
	}
	return h, nil
}

// CapacitanceFor returns the capacitance across the rail that makes it survive a
// dip of so many seconds [F], beside the store of the supply; whatever
// Capacitance is there is not counted.
func (r Rail) CapacitanceFor(dip float64) (float64, error) {
	var f profile.Faults
	f.NonNegative("dip", dip, "s")
	h, perFarad, err := r.holdUp()
	f.Under("", err)
	if err := f.Err(); err != nil {
		return 0, err
	}
	if dip <= h.Supply && perFarad > 0 {
		return 0, nil
	}
	if !(perFarad > 0) {
		f.Add("supply.voltage", r.Supply.Voltage, "a lowest voltage above that at which the first consumer fails")
		return 0, f.Err()
	}
	c := (dip - h.Supply) / perFarad
	if needFinite(&f, "dip", dip, c); f.Err() != nil {
		return 0, f.Err()
	}
	return c, nil
}

// StoreFor returns the capacitance on the primary side of the supply that makes
// it hold the rail through a dip of so many seconds, falling from one voltage to
// another [V]:
//
//	C = 2 P t / (η (from² - to²))  [F]
//
// The capacitance across the rail and the store that is there are not counted.
func (r Rail) StoreFor(dip, from, to float64) (float64, error) {
	var f profile.Faults
	f.NonNegative("dip", dip, "s")
	checkFall(&f, from, to)
	h, _, err := r.holdUp()
	f.Under("", err)
	if err := f.Err(); err != nil {
		return 0, err
	}
	c := 2 * h.Power / r.Supply.Efficiency * dip / ((from - to) * (from + to))
	if needFinite(&f, "dip", dip, c); f.Err() != nil {
		return 0, f.Err()
	}
	return c, nil
}

// holdUp computes all but the time out of the capacitance, for which it returns
// the time per capacitance [s/F]; 0 when the rail is too low from the beginning.
func (r Rail) holdUp() (*RailHoldUp, float64, error) {
	m, err := newRailModel(r)
	if err != nil {
		return nil, 0, err
	}
	h := &RailHoldUp{}
	// Where the first consumer fails, as voltage of the distribution point.
	var all []branch
	failing := 0.0
	for k, c := range r.Consumers {
		b := m.branch(k, float64(c.Count), c.Holding)
		all = append(all, b)
		if u := b.least(c.MinVoltage); u > failing {
			failing, h.Limiting = u, c.Name
		}
	}
	low := r.Supply.Low()
	u0, i0, ok := railNode(all, low, m.feed)
	var f profile.Faults
	if ok && !(i0 > 0) {
		f.Add("consumers", len(all), "some draw to hold up against")
	}
	if !(failing > 0) {
		f.Add("consumers", len(all), "a minimum voltage of at least one")
	}
	if err := f.Err(); err != nil {
		return nil, 0, err
	}
	if !ok || u0 < failing {
		h.Lowest = failing
		if i, _, ok := total(all, failing); ok {
			h.Lowest += m.feed * i
		}
		if !ok {
			h.Limiting = ""
		}
		needFinite(&f, "consumers", failing, h.Lowest)
		if err := f.Err(); err != nil {
			return nil, 0, err
		}
		return h, 0, nil
	}
	// With a common feed the rail may collapse before: where the voltage needed
	// across the rail, u + feed Σ i(u), is least.
	if _, slope, ok := total(all, failing); m.feed > 0 && !(ok && 1+m.feed*slope > 0) {
		lo, hi := failing, u0
		for range 200 {
			mid := lo + (hi-lo)/2
			if _, slope, ok := total(all, mid); ok && 1+m.feed*slope > 0 {
				hi = mid
			} else {
				lo = mid
			}
		}
		failing, h.Limiting = hi, ""
	}
	i1, _, ok := total(all, failing)
	if !ok { // on the edge, by rounding
		failing = math.Min(u0, failing*(1+1e-12))
		if i1, _, ok = total(all, failing); !ok {
			f.Add("consumers", len(all), "draws that leave an operating point")
			return nil, 0, f.Err()
		}
	}
	h.Lowest = failing + m.feed*i1

	for _, vs := range []float64{low, r.Supply.High()} {
		if _, i, ok := railNode(all, vs, m.feed); ok {
			h.Power = math.Max(h.Power, i*vs)
		}
	}
	switch s := r.Supply; {
	case s.Store != nil:
		h.Supply = s.Efficiency * s.Store.Capacitance / 2 * (s.Store.From - s.Store.To) * (s.Store.From + s.Store.To) / h.Power
	case s.HoldUpTime > 0:
		h.Supply = s.HoldUpTime * (s.RatedCurrent * s.Voltage / h.Power)
	}
	// C dv with v = u + feed i(u) is C (1 + feed i'(u)) du.
	perFarad := overCurrent(all, failing, u0) + m.feed*math.Log(i0/i1)
	needFinite(&f, "consumers", h.Power, h.Power, h.Supply, h.Lowest, perFarad)
	if err := f.Err(); err != nil {
		return nil, 0, err
	}
	return h, math.Max(0, perFarad), nil
}

// overCurrent returns ∫ du/i(u) from u1 to u0: in panels that double, so that the
// poles of 1/i, none of which has a positive real part, are far from each; near
// the edge of an operating range, where i has a root's slope, in halves of them.
func overCurrent(branches []branch, u1, u0 float64) float64 {
	f := func(u float64) float64 {
		i, _, ok := total(branches, u)
		if !ok || !(i > 0) {
			return 0 // at the edge, by rounding
		}
		return 1 / i
	}
	sum := 0.0
	for lo := u1; lo < u0; {
		hi := math.Min(2*lo, u0)
		whole := quad.Fixed(f, lo, hi, quadPoints, nil, 0)
		splits := quadSplits
		sum += adaptive(f, lo, hi, whole, quadTolerance*whole, &splits)
		lo = hi
	}
	return sum
}

const (
	quadPoints    = 12
	quadTolerance = 1e-13 // of a panel
	quadSplits    = 500   // of a panel; the edge of a range needs 50
)

// adaptive returns ∫ f from a to b, of which whole is a first value, in halves until
// those agree with it within the tolerance or no splits are left.
func adaptive(f func(float64) float64, a, b, whole, tolerance float64, splits *int) float64 {
	mid := a + (b-a)/2
	left := quad.Fixed(f, a, mid, quadPoints, nil, 0)
	right := quad.Fixed(f, mid, b, quadPoints, nil, 0)
	*splits--
	if *splits < 0 || !(math.Abs(left+right-whole) > tolerance) {
		return left + right
	}
	return adaptive(f, a, mid, left, tolerance, splits) + adaptive(f, mid, b, right, tolerance, splits)
}

// RideThrough returns how long the bank alone carries a power [W] while its
// voltage falls from one value, without load, to another, with it [V]: how long
// a converter on the bus keeps the rail when the mains dips.
//
//	C dVc/dt = -P/V,  Vc = V + Rs P/V        t = C ( (V1² - to²)/2P - Rs ln(V1/to) )
//
// V1 is the voltage under load at the start, the larger root of V1² - from V1 +
// Rs P = 0. The power is the mean of all that hangs on the bus: the input of the
// rail ([RailResult].Input) and what the axes draw, less what they return while
// they brake. Use it on [Bank.Low]; to is the under-voltage limit of the converter,
// and of the drives as long as they have to run.
//
// With nothing drawn or more returned than drawn the bus does not fall, and the
// time is +Inf. It is 0 when the bank cannot deliver the power above to even at
// the start.
func (b Bank) RideThrough(from, to, power float64) (float64, error) {
	var f profile.Faults
	f.Under("bank", b.Validate())
	checkFall(&f, from, to)
	f.Finite("power", power, "W")
	if err := f.Err(); err != nil {
		return 0, err
	}
	if power <= 0 {
		return math.Inf(1), nil
	}
	rs := b.SeriesResistance
	v1, _, _, ok := branch{1, PowerDraw, power, rs}.at(from)
	if !ok || v1 <= to {
		return 0, nil
	}
	// Below √(Rs P) no voltage is left that holds.
	to = math.Max(to, math.Sqrt(rs)*math.Sqrt(power))
	if v1 <= to {
		return 0, nil
	}
	t := b.Capacitance * ((v1-to)*(v1+to)/2/power - rs*math.Log(v1/to))
	if needFinite(&f, "power", power, t); f.Err() != nil {
		return 0, f.Err()
	}
	return math.Max(0, t), nil
}
