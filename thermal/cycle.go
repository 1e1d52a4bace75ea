package thermal

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Phase is a part of a duty cycle with constant heat and constant cooling.
type Phase struct {
	Duration float64    // [s], >= 0
	Response FirstOrder // where the body would settle if the phase lasted, and how fast
}

// Swing is how far the rise over ambient moves in a settled duty cycle.
type Swing struct {
	Start   float64 // at the start of the first phase, and again at the end of the last [K]
	Lowest  float64 // [K]
	Highest float64 // [K]
}

// minCycle is the shortest cycle, in time constants, that is told from none.
const minCycle = 1e-100

// SettleCycle returns the rise over ambient [K] once a cycle of phases has
// repeated so often that it ends where it starts, directly and not by waiting
// for it. Each phase takes the rise from θ to θ e^(-x) + θ∞ (1-e^(-x)) with x its
// duration over its time constant, so a whole cycle takes θ to
// θ e^(-Σx) + A, and
//
//	θ(0) = A / (1 - e^(-Σx))
//
// where A is what a cycle that starts at 0 ends at. Inside a phase the rise is
// monotone: both extremes lie at the ends of phases.
//
// Two phases, loaded and standing, are duty type S3 of IEC 60034-1; loaded and
// idling, S6; more, S8.
func SettleCycle(phases []Phase) (Swing, error) {
	var f profile.Faults
	if len(phases) == 0 {
		f.Add("phases", nil, "at least one phase")
	}
	total, end := 0.0, 0.0
	for i, p := range phases {
		if !(p.Duration >= 0) || math.IsInf(p.Duration, 0) || p.Response.Validate() != nil {
			var g profile.Faults
			g.NonNegative("duration", p.Duration, "s")
			g.Under("response", p.Response.Validate())
			f.Under(fmt.Sprintf("phases[%d]", i), g.Err())
			continue
		}
		x := p.Duration / p.Response.TimeConstant
		total += x
		end = p.Response.after(end, x)
	}
	if err := f.Err(); err != nil {
		return Swing{}, err
	}
	if !(total >= minCycle) {
		f.Add("phases", fmt.Sprintf("%g time constants in all", total), "durations that are not negligible against the time constants")
		return Swing{}, f.Err()
	}
	rise := end / -math.Expm1(-total)
	s := Swing{Start: rise, Lowest: rise, Highest: rise}
	for _, p := range phases {
		rise = p.Response.after(rise, p.Duration/p.Response.TimeConstant)
		s.Lowest, s.Highest = math.Min(s.Lowest, rise), math.Max(s.Highest, rise)
	}
	needFinite(&f, "phases", total, s.Start, s.Lowest, s.Highest)
	if err := f.Err(); err != nil {
		return Swing{}, err
	}
	return s, nil
}
