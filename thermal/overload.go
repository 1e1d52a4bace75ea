package thermal

import (
	"context"
	"fmt"
	"math"
	"slices"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// OverloadRating is a power or current rating against the time over which the
// load is averaged, as supplies, drives and resistors have it: short loads may
// be higher than the continuous one. Between its points the permitted mean is a
// straight line over logarithmic scales of both, the way such ratings are
// plotted (common practice, no source). Means over less than the first time are
// not rated, so the first point must be as short as a load may be; beyond the
// last, the load of its last point may be followed by pauses down to the
// continuous rating:
//
//	permitted(t) = max( Continuous, Mean[last] Time[last]/t )
//
// The zero value is invalid.
type OverloadRating struct {
	Continuous float64         // permitted for ever [W] or [A], > 0
	Points     []OverloadPoint // at least one, of rising Time; Mean does not rise nor Mean Time fall, and Mean >= Continuous
}

// OverloadPoint is one point of an [OverloadRating].
type OverloadPoint struct {
	Time float64 // over which the load is averaged [s], > 0
	Mean float64 // permitted mean over any such time [W] or [A], > 0
}

// Validate returns nil, or an error with every field outside its domain.
func (r OverloadRating) Validate() error {
	var f profile.Faults
	rated := f.Positive("continuous", r.Continuous, "")
	if len(r.Points) == 0 {
		f.Add("points", nil, "at least one point")
	}
	for i, p := range r.Points {
		path := fmt.Sprintf("points[%d]", i)
		ok := f.Positive(path+".time", p.Time, "s")
		ok = f.Positive(path+".mean", p.Mean, "") && ok
		if !ok {
			continue
		}
		needFinite(&f, path+".mean", p.Mean, p.Mean*p.Time)
		if rated && p.Mean < r.Continuous {
			f.Add(path+".mean", p.Mean, fmt.Sprintf("at least the continuous rating, %g", r.Continuous))
		}
		if i == 0 {
			continue
		}
		last := r.Points[i-1]
		switch {
		case !(p.Time > last.Time):
			f.Add(path+".time", p.Time, fmt.Sprintf("> %g s, that of the point before", last.Time))
		case p.Mean > last.Mean:
			f.Add(path+".mean", p.Mean, fmt.Sprintf("at most %g, which is permitted for a shorter time", last.Mean))
		case p.Mean*p.Time < last.Mean*last.Time*(1-1e-9):
			f.Add(path+".mean", p.Mean, fmt.Sprintf("at least %g: in a longer time no less can be permitted in all", last.Mean*last.Time/p.Time))
		}
	}
	return f.Err()
}

// Permitted returns the mean that is permitted over a time [s], at least that of
// the first point.
func (r OverloadRating) Permitted(time float64) (float64, error) {
	var f profile.Faults
	f.Under("", r.Validate())
	if !(time > 0 && time <= maxFinite) {
		f.Positive("time", time, "s")
	} else if f.Err() == nil && !(time >= r.Points[0].Time) {
		f.Add("time", time, fmt.Sprintf("at least that of the first point, %g s", r.Points[0].Time))
	}
	if err := f.Err(); err != nil {
		return 0, err
	}
	return r.permitted(time), nil
}

func (r OverloadRating) permitted(time float64) float64 {
	for i, p := range r.Points[1:] {
		if time > p.Time {
			continue
		}
		a := r.Points[i]
		x := math.Log(time/a.Time) / math.Log(p.Time/a.Time)
		return a.Mean * math.Pow(p.Mean/a.Mean, x)
	}
	p := r.Points[len(r.Points)-1]
	return math.Max(r.Continuous, p.Mean*(p.Time/time))
}

// Overload is a cycle of load held against an [OverloadRating].
type Overload struct {
	Loading energy.Loading // mean over the worst window against what is permitted over its length
	Window  float64        // length of that window [s]; +Inf: the continuous rating is the tightest
	Start   float64        // when in the cycle that window starts [s]; of several loads 0
	Mean    energy.Loading // of the cycle against the continuous rating
}

// overloadTolerance is how near Hold comes to the worst ratio.
const overloadTolerance = 1e-3

// Hold holds a load >= 0 that repeats for ever against the rating, over windows
// of every length from the first point's on and every place in the cycle. With
// M(t) the most that a window of length t takes in,
//
//	ratio = max over t of M(t) / (t permitted(t))
//
// Numerator and denominator both grow with t, so that their values at the ends
// of an interval of lengths bound the ratio inside; the intervals are halved
// until the ratio found is the highest within 0.1 %.
func (r OverloadRating) Hold(ctx context.Context, load profile.Curve) (Overload, error) {
	o, err := r.HoldFree(ctx, FreeLoads{Cycles: []profile.Curve{load}})
	if err != nil && ctx.Err() == nil {
		err = renamed(err, "loads.cycles[0]", "load")
	}
	return o, err
}

// HoldFree holds loads in any phase to each other against the rating, as
// [OverloadRating.Hold] does one: M(t) is the most that their phases allow.
func (r OverloadRating) HoldFree(ctx context.Context, loads FreeLoads) (Overload, error) {
	var f profile.Faults
	f.Under("", r.Validate())
	loads.check(&f, "loads")
	if err := f.Err(); err != nil {
		return Overload{}, err
	}
	w, err := loads.windows()
	if err != nil {
		return Overload{}, err
	}
	mean, err := newLoading("loads.cycles[0]", w.mean, r.Continuous)
	if err != nil {
		return Overload{}, err
	}
	best := Overload{Loading: mean, Window: math.Inf(1), Mean: mean}
	if len(loads.Cycles) == 1 {
		best.Start = loads.Cycles[0].Start()
	}
	try := func(t float64) (windowEnd, error) {
		if err := ctx.Err(); err != nil {
			return windowEnd{}, err
		}
		e := windowEnd{t: t, allowed: t * r.permitted(t)}
		e.most, e.start, err = w.most(t)
		if err != nil {
			return e, err
		}
		if e.most/e.allowed > best.Loading.Ratio {
			l, err := newLoading("loads.cycles[0]", e.most/t, r.permitted(t))
			if err != nil {
				return e, err
			}
			best.Loading, best.Window, best.Start = l, t, e.start
		}
		return e, nil
	}
	budget := 4000
	var refine func(a, b windowEnd) error
	refine = func(a, b windowEnd) error {
		if !(b.most/a.allowed > best.Loading.Ratio*(1+overloadTolerance)) || b.t-a.t < 1e-9*b.t || budget == 0 {
			return nil
		}
		budget--
		m, err := try(math.Sqrt(a.t * b.t))
		if err != nil {
			return err
		}
		if err := refine(a, m); err != nil {
			return err
		}
		return refine(m, b)
	}
	var ends []windowEnd
	for _, t := range r.lengths(w.cycles) {
		e, err := try(t)
		if err != nil {
			return Overload{}, err
		}
		ends = append(ends, e)
	}
	for i := range len(ends) - 1 {
		if err := refine(ends[i], ends[i+1]); err != nil {
			return Overload{}, err
		}
	}
	if budget == 0 {
		f.Add("loads.cycles[0]", loads.Cycles[0].Duration(), "a cycle and rating times that are not so far apart")
		return Overload{}, f.Err()
	}
	return best, nil
}

// windowEnd is what windows of length t take in at most, and may.
type windowEnd struct{ t, most, allowed, start float64 }

// lengths returns the lengths of windows between which the worst is looked for: the times of
// the points, the cycles between them, and twice the time from which the continuous rating
// permits more than the last point. No longer ones are worse: twice the time takes in no more
// than twice as much, M(2t) <= 2 M(t), and is permitted just that.
func (r OverloadRating) lengths(cycles []float64) []float64 {
	last := r.Points[len(r.Points)-1]
	longest := 2 * math.Max(last.Time, last.Mean*last.Time/r.Continuous)
	var all []float64
	for _, p := range r.Points {
		all = append(all, p.Time)
	}
	for _, c := range cycles {
		if c > all[0] && c < longest {
			all = append(all, c)
		}
	}
	slices.Sort(all)
	return append(slices.Compact(all), longest)
}
