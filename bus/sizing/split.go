package sizing

import (
	"context"
	"fmt"
	"math"
	"slices"

	"example.com/headroom/profile"
)

// Split is how the stations of a machine share several supplies like its own.
type Split struct {
	// Buses holds the names of the stations on each, the station that draws most first; nil
	// where there is no way to share them, see Alone.
	Buses [][]string
	// Fewest is whether no smaller number of such supplies does: every way to share them was
	// ruled out, or their rated power alone does it.
	Fewest bool
	Alone  []string // stations that break a limit even with a supply of their own
	Limits []Limit  // that they break
}

// Split shares the stations of the machine among supplies like its own, each with a bank, a
// bleeder and a brake resistor like its own, so that every limit of the assessment is kept on
// each bus. Stations whose cables are chained to one another stay together.
//
// The station that draws most on average is placed first, on the first bus that carries it
// besides those already there; up to eight of them are then tried in every way that could do
// with fewer buses, as far as a bus that does not carry some stations does not carry them and
// one more.
func (m *Machine) Split(ctx context.Context) (*Split, error) {
	if len(m.Parts) > 0 {
		var f profile.Faults
		f.Add("machine", fmt.Sprintf("%d buses", len(m.Parts)), "a machine with one bus, whose stations are to be shared out")
		return nil, f.Err()
	}
	a, err := Assess(ctx, m.with(m.stationNames()))
	if err != nil {
		return nil, err
	}
	return m.split(ctx, a)
}

// split is Split for what the machine is as a whole.
func (m *Machine) split(ctx context.Context, a *Assessment) (*Split, error) {
	if a.Fits {
		return &Split{Buses: [][]string{m.stationNames()}, Fewest: true}, nil
	}
	s := splitter{machine: m, ctx: ctx, known: map[string]*Assessment{}}
	s.units(a)
	out := &Split{}
	for i, u := range s.unit {
		alone, err := s.assess([]int{i})
		if err != nil {
			return nil, err
		}
		if !alone.Fits {
			out.Alone = append(out.Alone, u.stations...)
			out.Limits = append(out.Limits, alone.broken()...)
		}
	}
	if out.Alone != nil {
		return out, nil
	}
	first, err := s.place(nil, 0, len(s.unit), true)
	if err != nil {
		return nil, err
	}
	least := max(2, int(math.Ceil(s.total()/m.Supply.RatedPower*(1-1e-12))))
	for k := least; k < len(first) && len(s.unit) <= mostTried; k++ {
		fewer, err := s.place(nil, 0, k, false)
		if err != nil {
			return nil, err
		}
		if fewer != nil {
			first, least = fewer, k
			break
		}
	}
	out.Fewest = len(first) == least || len(s.unit) <= mostTried
	for _, b := range first {
		var names []string
		for _, i := range b {
			names = append(names, s.unit[i].stations...)
		}
		out.Buses = append(out.Buses, names)
	}
	return out, nil
}

// mostTried bounds the units that are tried in every way.
const mostTried = 8

// unit is a set of stations that stay together.
type unit struct {
	stations []string
	mean     float64 // of what they draw [W]
}

type splitter struct {
	machine *Machine
	ctx     context.Context
	unit    []unit // by falling mean
	known   map[string]*Assessment
}

func (m *Machine) stationNames() []string {
	var names []string
	for _, s := range m.Stations {
		names = append(names, s.Name)
	}
	return names
}

// units puts the stations together whose cables are chained to one another.
func (s *splitter) units(a *Assessment) {
	group := map[string]int{} // of every axis, the least number of a station chained to it
	for i, st := range s.machine.Stations {
		for _, name := range st.Axes {
			group[name] = i
		}
	}
	with := make([]int, len(s.machine.Stations))
	for i := range with {
		with[i] = i
	}
	for range with { // until nothing moves any more
		for _, ax := range s.machine.Axes {
			if c := ax.Cable; c != nil && c.From != "" {
				p, q := group[ax.Name], group[c.From]
				with[p], with[q] = min(with[p], with[q]), min(with[p], with[q])
			}
		}
	}
	at := map[int]int{}
	for i, st := range s.machine.Stations {
		k, ok := at[with[i]]
		if !ok {
			k = len(s.unit)
			at[with[i]] = k
			s.unit = append(s.unit, unit{})
		}
		s.unit[k].stations = append(s.unit[k].stations, st.Name)
		s.unit[k].mean += math.Max(0, a.Stations[i].Hot.Mean())
	}
	slices.SortStableFunc(s.unit, func(p, q unit) int {
		switch {
		case p.mean > q.mean:
			return -1
		case p.mean < q.mean:
			return 1
		}
		return 0
	})
}

func (s *splitter) total() (mean float64) {
	for _, u := range s.unit {
		mean += u.mean
	}
	return mean
}

// assess returns the assessment of some units on a bus of their own.
func (s *splitter) assess(units []int) (*Assessment, error) {
	units = slices.Sorted(slices.Values(units))
	key := fmt.Sprint(units)
	if a, ok := s.known[key]; ok {
		return a, nil
	}
	var names []string
	for _, i := range units {
		names = append(names, s.unit[i].stations...)
	}
	a, err := Assess(s.ctx, s.machine.with(names))
	if err == nil {
		s.known[key] = a
	}
	return a, err
}

// with returns the machine with some of its stations only, and what belongs to them.
func (m *Machine) with(stations []string) *Machine {
	out := *m
	out.Axes, out.Stations, out.Switched = nil, nil, nil
	out.asksNothing()
	own := map[string]bool{}
	for _, s := range m.Stations {
		if !slices.Contains(stations, s.Name) {
			continue
		}
		out.Stations = append(out.Stations, s)
		for _, name := range s.Axes {
			own[name] = true
		}
		for _, l := range m.Switched {
			if s.switches(l.Name) {
				out.Switched = append(out.Switched, l)
			}
		}
	}
	for _, a := range m.Axes {
		if own[a.Name] {
			out.Axes = append(out.Axes, a)
		}
	}
	return &out
}

// place puts the units from next on onto buses, most at the most; nil where there is no way,
// or with first set the first way that comes.
func (s *splitter) place(buses [][]int, next, most int, first bool) ([][]int, error) {
	if next == len(s.unit) {
		return buses, nil
	}
	for i := 0; i <= len(buses) && i < most; i++ {
		var on []int
		if i < len(buses) {
			on = buses[i]
		}
		on = append(slices.Clone(on), next)
		a, err := s.assess(on)
		if err != nil {
			return nil, err
		}
		if !a.Fits {
			continue
		}
		with := slices.Clone(buses)
		if i < len(buses) {
			with[i] = on
		} else {
			with = append(with, on)
		}
		found, err := s.place(with, next+1, most, first)
		if found != nil || err != nil || first {
			return found, err
		}
	}
	return nil, nil
}
