package thermal

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// FreeLoads are loads that each repeat for ever, in any phase to each other. The
// most that a window of length t takes in of them is
//
//	M(t) = min( Highest t, Once + sum of the most of each within t )
//
// and is reached only if all phases fit: a bound.
type FreeLoads struct {
	Cycles  []profile.Curve // at least one, each >= 0 [W] or [A]
	Once    float64         // what may come in one window besides, at any time [J] or [A·s], >= 0
	Highest float64         // that all together do not exceed, >= their mean [W] or [A]; 0: no limit
}

// Most returns the most that a window of length t [s] takes in [J] or [A·s].
func (l FreeLoads) Most(t float64) (float64, error) {
	var f profile.Faults
	l.check(&f, "loads")
	f.Positive("t", t, "s")
	if err := f.Err(); err != nil {
		return 0, err
	}
	w, err := l.windows()
	if err != nil {
		return 0, err
	}
	sum, _, err := w.most(t)
	if err != nil || !(sum <= math.MaxFloat64) {
		f.Add("t", t, "a length that takes in a finite sum")
		return 0, f.Err()
	}
	return sum, nil
}

func (l FreeLoads) check(f *profile.Faults, path string) {
	if len(l.Cycles) == 0 {
		f.Add(path+".cycles", nil, "at least one load")
	}
	for i, c := range l.Cycles {
		at := fmt.Sprintf("%s.cycles[%d]", path, i)
		if checkCurve(f, at, c); c.Duration() > 0 {
			checkNotNegative(f, at, c)
		}
	}
	f.NonNegative(path+".once", l.Once, "")
	f.NonNegative(path+".highest", l.Highest, "")
}

// freeWindows finds what windows of [FreeLoads] take in.
type freeWindows struct {
	single        bool
	from          float64 // start of the single load
	cycles        []float64
	each          []profile.Windows
	once, highest float64
	mean          float64 // of all together
	swing         float64 // the most that windows of any length take in above it
}

func (l FreeLoads) windows() (freeWindows, error) {
	w := freeWindows{single: len(l.Cycles) == 1, from: l.Cycles[0].Start(), once: l.Once, highest: math.Inf(1), swing: l.Once}
	if l.Highest > 0 {
		w.highest = l.Highest
	}
	for _, c := range l.Cycles {
		x, err := profile.NewWindows(c)
		if err != nil {
			return w, err
		}
		mean := math.Max(0, c.Mean())
		swing, err := swing(c)
		if err != nil {
			return w, err
		}
		w.each, w.cycles = append(w.each, x), append(w.cycles, c.Duration())
		w.mean, w.swing = w.mean+mean, w.swing+swing
	}
	w.mean = math.Min(w.mean, w.highest)
	return w, nil
}

// most returns M(t), and where the window starts if there is a single load.
func (w freeWindows) most(t float64) (sum, start float64, err error) {
	sum = w.once
	for _, x := range w.each {
		most, at, err := x.Most(t)
		if err != nil {
			return 0, 0, err
		}
		sum += most
		if w.single {
			start = w.from + at
		}
	}
	return math.Min(sum, w.highest*t), start, nil
}

// swing returns by how much the integral of a curve goes up and down over a cycle while its
// mean is taken off: the most that any window takes in above the mean.
func swing(c profile.Curve) (float64, error) {
	mean, err := profile.Constant(-c.Mean(), c.Start(), c.End())
	if err != nil {
		return 0, err
	}
	rest, err := profile.Sum(c, mean)
	if err != nil {
		return 0, err
	}
	low, high := rest.Antiderivative(0).Extrema()
	return high.V - low.V, nil
}

// renamed returns the faults of err with what lies at from, or below, put to the path to.
func renamed(err error, from, to string) error {
	var f profile.Faults
	for _, e := range profile.InputErrors(err) {
		path := e.Path
		if path == from {
			path = to
		}
		f.Add(path, e.Value, e.Want)
	}
	if f.Err() == nil {
		return err
	}
	return f.Err()
}
