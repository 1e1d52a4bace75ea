package sizing

import (
	"context"
	"fmt"
	"slices"

	"example.com/headroom/profile"
)

// AnyPhase is what else to find of a bus whose stations line up in any way.
type AnyPhase struct {
	// Windows are the lengths over which the powers of supply and brake resistor are
	// averaged [s], each > 0, 20 at the most; none: those that their ratings are for, and 1,
	// 10 and 60 s.
	Windows []float64
	Exact   *Exact // nil: not sought
}

const mostWindows = 20

func (x *AnyPhase) validate(f *profile.Faults, m Machine) {
	if x == nil {
		return
	}
	if n := len(x.Windows); n > mostWindows {
		f.Add("anyPhase.windows", fmt.Sprintf("%d lengths", n), fmt.Sprintf("at most %d", mostWindows))
	}
	for i, w := range x.Windows {
		f.Positive(fmt.Sprintf("anyPhase.windows[%d]", i), w, "s")
	}
	x.Exact.validate(f, m)
}

// WindowAverages bounds powers averaged over any window of a length, in any phase and with
// any pause of the stations.
type WindowAverages struct {
	Source   []WindowLoad // that the supply gives, by rising length; Limit 0: it has no rating for that
	Resistor []WindowLoad // that brake resistors and clamp burn together; Limit is the least of those that each resistor has for that
}

// windows returns the lengths to look at for ratings that are for the given ones.
func (m *Machine) windows(rated []float64) []float64 {
	all := []float64{1, 10, 60}
	if m.AnyPhase != nil && len(m.AnyPhase.Windows) > 0 {
		all, rated = slices.Clone(m.AnyPhase.Windows), nil
	}
	all = append(all, rated...)
	slices.Sort(all)
	return slices.Compact(all)
}

// averages bounds what supply and brake resistors carry on average over windows, and finds
// what their ratings permit.
func (a *Assessment) averages(ctx context.Context) error {
	m := a.Machine
	if a.exact() && (m.AnyPhase == nil || len(m.AnyPhase.Windows) == 0) {
		return nil
	}
	n, number, err := m.network(early)
	if err != nil {
		return err
	}
	drawing, returning := a.onFeeders(number)
	var rated []float64
	for _, p := range m.Supply.Overload {
		rated = append(rated, p.Time)
	}
	source := m.windows(rated)
	rated = nil
	for _, b := range m.Brakes {
		for _, p := range b.Heat.Pulses {
			rated = append(rated, p.Duration)
		}
	}
	resistor := m.windows(rated)
	x, err := n.Averages(ctx, drawing, returning, a.Bus.Guarantee, append(slices.Clone(source), resistor...))
	if err != nil {
		return err
	}
	a.Averages = &WindowAverages{}
	for i, t := range source {
		a.Averages.Source = append(a.Averages.Source, WindowLoad{t, x.Source[i], a.supplyPermits(t)})
	}
	if len(m.Brakes) == 0 && m.Clamp == nil {
		return nil
	}
	for i, t := range resistor {
		a.Averages.Resistor = append(a.Averages.Resistor, WindowLoad{t, x.Resistor[len(source)+i], a.resistorsPermit(t)})
	}
	return nil
}

// supplyPermits returns the mean over a time [s] that the overload rating of the supply
// permits in the temperature around it [W]; 0: it says nothing of that time.
func (a *Assessment) supplyPermits(time float64) float64 {
	s := a.Machine.Supply
	share := s.Ambient.share(a.around(a.Machine.inside().Supply))
	if len(s.Overload) == 0 || time < s.Overload[0].Time || !(share > 0) {
		return 0
	}
	p, err := s.overload(share).Permitted(time)
	if err != nil {
		return 0
	}
	return p
}

// resistorsPermit does the same for the pulse ratings of the brake resistors, the least of
// those that have one: any may burn all.
func (a *Assessment) resistorsPermit(time float64) float64 {
	least := 0.0
	for _, b := range a.Machine.Brakes {
		share := b.share(a.around(a.Machine.inside().Resistor))
		if len(b.Heat.Pulses) == 0 || time < b.Heat.Pulses[0].Duration || !(share > 0) {
			continue
		}
		e, err := b.pulses(share).Energy(time)
		if p := e / time; err == nil && (least == 0 || p < least) {
			least = p
		}
	}
	return least
}

// averaged reports whether the mean power of the supply over a time [s] is bounded already.
func (a *Assessment) averaged(time float64) bool {
	return a.Averages != nil && slices.ContainsFunc(a.Averages.Source, func(w WindowLoad) bool { return w.Time == time })
}
