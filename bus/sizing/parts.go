package sizing

import (
	"context"
	"fmt"
	"slices"

	"example.com/headroom/profile"
)

// parts splits a machine whose stations are on several buses: each part is a machine of
// its own, with what feeds its bus, and shares the rest. The auxiliary rail goes with the
// first. A part without a cabinet of its own stands in that of the whole machine, if it has one.
func (r *reader) parts(o *object, m *Machine, buses []*node) {
	on := map[string]int{} // bus of each station
	m.Cabinet = r.cabinet(r.object(o, "cabinet", optional))
	for i, n := range buses {
		o := r.objectOf(n)
		part := *m
		part.Parts, part.Axes, part.Stations, part.Note = nil, nil, nil, ""
		part.HowMany, part.Share = nil, false // those of its own stations follow
		part.origin = r.feed(o, &part)
		part.Name = r.text(o, "name", required)
		if part.Cabinet == nil {
			part.Cabinet = m.Cabinet
		} else {
			part.origin = append(part.origin, [2]string{"cabinet", "cabinet"})
		}
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
	r.askedOfParts(m)
	if m.Share {
		r.faults.Add("split", true, "false in a machine on several buses")
	}
	for i, q := range m.HowMany {
		if _, ok := on[q.Station]; !ok {
			r.faults.Add(fmt.Sprintf("howMany[%d].station", i), q.Station, "the name of a station that some bus lists")
		}
	}
	for i, s := range m.Stations {
		if _, ok := on[s.Name]; !ok && s.Name != "" {
			r.faults.Add(fmt.Sprintf("stations[%d].name", i), s.Name, "a station that some bus lists")
		}
	}
}

// askedOfParts leaves what is asked for with the parts that have what it needs, and records
// it where none has.
func (r *reader) askedOfParts(m *Machine) {
	exact, locked := false, false
	for _, p := range m.Parts {
		if x := p.AnyPhase; x != nil && x.Exact != nil {
			if p.notExact() == "" {
				exact = true
			} else {
				p.AnyPhase = &AnyPhase{Windows: x.Windows}
			}
		}
		if p.Lock != nil && p.notLocked() != "" {
			p.Lock = nil
		}
		locked = locked || p.Lock != nil
	}
	if m.AnyPhase != nil && m.AnyPhase.Exact != nil && !exact {
		r.faults.Add("anyPhase.exact", "given", fmt.Sprintf("a bus with 2 to %d stations, all strictlyPeriodic, and no cables", mostExact))
	}
	if m.Lock != nil && !locked {
		r.faults.Add("lock", "given", "a bus with at least two stations, one of them with a startDelay to choose")
	}
}

// take moves station j with its axes to the part.
func (m *Machine) take(whole *Machine, j int) {
	m.origin = append(m.origin, [2]string{fmt.Sprintf("stations[%d]", len(m.Stations)), fmt.Sprintf("stations[%d]", j)})
	m.Stations = append(m.Stations, whole.Stations[j])
	for i, q := range whole.HowMany {
		if q.Station == whole.Stations[j].Name {
			m.origin = append(m.origin, [2]string{fmt.Sprintf("howMany[%d]", len(m.HowMany)), fmt.Sprintf("howMany[%d]", i)})
			m.HowMany = append(m.HowMany, q)
		}
	}
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
		if !slices.Contains([]string{"axes", "stations", "howMany"}, beforeIndex(p[1])) {
			m.origin[k][1] = at + p[1]
		}
	}
	m.origin = append(m.origin, [2]string{"source", at + "supply"})
	for _, field := range []string{"supply", "bank", "bleeder", "bleederTolerance", "dischargeWarning", "clamp", "underVoltage", "overVoltage", "startUp"} {
		m.origin = append(m.origin, [2]string{field, at + field})
	}
}

func beforeIndex(path string) string {
	if i := slices.Index([]byte(path), '['); i >= 0 {
		return path[:i]
	}
	return path
}

// validateParts validates every part, with the paths of the document. What parts share is
// named once.
func (m *Machine) validateParts(from origins) error {
	var f profile.Faults
	seen := map[string]bool{}
	for _, p := range m.Parts {
		if err := p.Validate(); err != nil {
			for _, e := range profile.InputErrors(from.restore(p.origin.restore(err))) {
				if text := e.Error(); !seen[text] {
					seen[text] = true
					f.Add(e.Path, e.Value, e.Want)
				}
			}
		}
	}
	return once(f.Err())
}

// assessParts assesses every part on its own: they share nothing but the mains, and the cabinet
// where several stand in one.
func (a *Assessment) assessParts(ctx context.Context) error {
	for i, p := range a.Machine.Parts {
		part := &Assessment{Machine: p}
		if err := part.loads(ctx); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			var f profile.Faults
			f.Under(fmt.Sprintf("parts[%d]", i), err)
			return f.Err()
		}
		a.Parts = append(a.Parts, part)
	}
	if err := shareCabinets(a.Parts); err != nil {
		return err
	}
	a.Fits = true
	for _, part := range a.Parts {
		if err := part.conclude(ctx); err != nil {
			return err
		}
		a.Fits = a.Fits && part.Fits
	}
	return nil
}

// shareCabinets settles every cabinet in which several parts stand with the heat of all of them.
func shareCabinets(parts []*Assessment) error {
	in := map[*Cabinet][]*Assessment{}
	for _, p := range parts {
		if c := p.Machine.Cabinet; c != nil {
			in[c] = append(in[c], p)
		}
	}
	for _, p := range parts {
		all := in[p.Machine.Cabinet]
		if len(all) < 2 || all[0] != p {
			continue
		}
		var loads []cabinetLoad
		for _, x := range all {
			for _, l := range x.cabinetLoads() {
				l.Name = x.Machine.Name + ": " + l.Name
				loads = append(loads, l)
			}
		}
		r, err := p.Machine.settleCabinet(loads)
		if err != nil {
			return err
		}
		for _, x := range all {
			x.Heat.Cabinet = r
		}
	}
	return nil
}
