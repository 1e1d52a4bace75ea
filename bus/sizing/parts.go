package sizing

import (
	"context"
	"fmt"
	"slices"

	"example.com/headroom/profile"
)

// parts splits a machine whose stations are on several buses: each part is a machine of
// its own, with what feeds its bus, and shares the rest. The auxiliary rail goes with the
// first.
func (r *reader) parts(m *Machine, buses []*node) {
	on := map[string]int{} // bus of each station
	for i, n := range buses {
		o := r.objectOf(n)
		part := *m
		part.Parts, part.Axes, part.Stations, part.Note = nil, nil, nil, ""
		part.origin = r.feed(o, &part)
		part.Name = r.text(o, "name", required)
		if i > 0 {
			part.Rail = nil
		}
		for k, name := range r.names(o, "stations") {
			j := slices.IndexFunc(m.Stations, func(s Station) bool { return s.Name == name })
			path := fmt.Sprintf("buses[%d].stations[%d]", i, k)
			if j < 0 {
				r.faults.Add(path, name, "the name of a station")
				continue
			}
			if other, taken := on[name]; taken {
				r.faults.Add(path, name, fmt.Sprintf("a station that is not listed already, in buses[%d]", other))
				continue
			}
			on[name] = i
			part.take(m, j)
		}
		part.place(i)
		o.unread(&r.faults)
		m.Parts = append(m.Parts, &part)
	}
	for i, s := range m.Stations {
		if _, ok := on[s.Name]; !ok && s.Name != "" {
			r.faults.Add(fmt.Sprintf("stations[%d].name", i), s.Name, "a station that some bus lists")
		}
	}
}

// take moves station j with its axes to the part.
func (m *Machine) take(whole *Machine, j int) {
	m.origin = append(m.origin, [2]string{fmt.Sprintf("stations[%d]", len(m.Stations)), fmt.Sprintf("stations[%d]", j)})
	m.Stations = append(m.Stations, whole.Stations[j])
	for i, a := range whole.Axes {
		if slices.Contains(whole.Stations[j].Axes, a.Name) {
			m.origin = append(m.origin, [2]string{fmt.Sprintf("axes[%d]", len(m.Axes)), fmt.Sprintf("axes[%d]", i)})
			m.Axes = append(m.Axes, a)
		}
	}
}

// place puts the paths of what feeds the bus where the document has them.
func (m *Machine) place(i int) {
	at := fmt.Sprintf("buses[%d].", i)
	for k, p := range m.origin {
		if !slices.Contains([]string{"axes", "stations"}, beforeIndex(p[1])) {
			m.origin[k][1] = at + p[1]
		}
	}
	m.origin = append(m.origin, [2]string{"source", at + "supply"})
	for _, field := range []string{"supply", "bank", "bleeder", "bleederTolerance", "dischargeWarning", "clamp", "underVoltage", "overVoltage", "startUp", "cabinet"} {
		m.origin = append(m.origin, [2]string{field, at + field})
	}
}

func beforeIndex(path string) string {
	if i := slices.Index([]byte(path), '['); i >= 0 {
		return path[:i]
	}
	return path
}

// validateParts validates every part, with the paths of the document.
func (m *Machine) validateParts(from origins) error {
	var f profile.Faults
	for _, p := range m.Parts {
		if err := p.Validate(); err != nil {
			f.Under("", from.restore(p.origin.restore(err)))
		}
	}
	return once(f.Err())
}

// assessParts assesses every part on its own: they share nothing but the mains.
func (a *Assessment) assessParts(ctx context.Context) error {
	a.Fits = true
	for i, p := range a.Machine.Parts {
		part, err := Assess(ctx, p)
		if err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			var f profile.Faults
			f.Under(fmt.Sprintf("parts[%d]", i), err)
			return f.Err()
		}
		a.Fits = a.Fits && part.Fits
		a.Parts = append(a.Parts, part)
	}
	return nil
}
