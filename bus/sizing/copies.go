package sizing

import (
	"fmt"
	"maps"
	"slices"

	"example.com/headroom/profile"
)

// WithCopies returns the machine with n of one of its stations on the bus, n >= 1. Each copy
// has all of its own: axes with motors, drives, cables and the capacitors of the drives, and
// switched loads. What belongs to the whole machine stays as it is: the supply, the bank and
// the auxiliary rail.
func (m *Machine) WithCopies(station string, n int) (*Machine, error) {
	var f profile.Faults
	if len(m.Parts) > 0 {
		f.Add("machine", fmt.Sprintf("%d buses", len(m.Parts)), "a machine with one bus; ask one of its parts")
	}
	k := slices.IndexFunc(m.Stations, func(s Station) bool { return s.Name == station })
	if k < 0 && len(m.Parts) == 0 {
		f.Add("station", station, "the name of a station")
	}
	if n < 1 || n > maxAxes {
		f.Add("n", n, fmt.Sprintf("from 1 to %d", maxAxes))
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	out := *m
	out.asksNothing()
	out.Axes, out.Stations, out.Switched = slices.Clone(m.Axes), slices.Clone(m.Stations), slices.Clone(m.Switched)
	for i := 2; i <= n; i++ {
		out.copyStation(m, m.Stations[k], func(name string) string { return fmt.Sprintf("%s (%d)", name, i) })
	}
	return &out, nil
}

// copyStation adds a copy of a station of the original machine, with all that it has.
func (m *Machine) copyStation(original *Machine, s Station, rename func(string) string) {
	own := map[string]bool{}
	for _, name := range s.Axes {
		own[name] = true
	}
	for _, a := range original.Axes {
		if !own[a.Name] {
			continue
		}
		a.Name = rename(a.Name)
		if c := a.Cable; c != nil && own[c.From] {
			copied := *c
			copied.From = rename(c.From)
			a.Cable = &copied
		}
		m.Axes = append(m.Axes, a)
	}
	for _, l := range original.Switched {
		if s.switches(l.Name) {
			l.Name = rename(l.Name)
			m.Switched = append(m.Switched, l)
		}
	}
	m.Stations = append(m.Stations, s.renamed(rename))
}

// switches reports whether a step of the station switches a load.
func (s Station) switches(load string) bool {
	return slices.ContainsFunc(s.Steps, func(step Step) bool {
		return slices.Contains(step.On, load) || slices.Contains(step.Off, load)
	})
}

// renamed returns the station with other names for itself, its axes and its loads.
func (s Station) renamed(rename func(string) string) Station {
	all := func(names []string) []string {
		var out []string
		for _, n := range names {
			out = append(out, rename(n))
		}
		return out
	}
	s.Name, s.Axes = rename(s.Name), all(s.Axes)
	steps := make([]Step, len(s.Steps))
	for i, step := range s.Steps {
		step.To, step.By, step.Payload = renamedKeys(step.To, rename), renamedKeys(step.By, rename), renamedKeys(step.Payload, rename)
		step.Force = renamedKeys(step.Force, rename)
		step.On, step.Off = all(step.On), all(step.Off)
		steps[i] = step
	}
	s.Steps = steps
	return s
}

func renamedKeys[V any](m map[string]V, rename func(string) string) map[string]V {
	out := make(map[string]V, len(m))
	for k, v := range maps.All(m) {
		out[rename(k)] = v
	}
	return out
}
