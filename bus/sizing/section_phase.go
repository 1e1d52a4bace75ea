package sizing

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

// phaseSection says what happens when the stations' cycles line up in the worst way.
func (a *Assessment) phaseSection(ctx context.Context) (Section, error) {
	s := Section{Key: "any phase", Question: "What if cycles line up in the worst way, and how many stations does one supply carry?"}
	if !a.exact() {
		var err error
		if a.CommonStart, err = a.together(ctx); err != nil {
			return s, err
		}
		a.bracket(&s, "sag", a.Bus.Guarantee.Sag, a.CommonStart.Lowest)
		a.bracket(&s, "rise", a.Bus.Guarantee.Rise, a.CommonStart.Highest)
		a.worstLineUp(&s)
		s.note("A bound holds for every line-up of the cycles; the worst line-up found is the simulation of one course, so that the worst of all is between the two. The proof is in the documentation of package bus, see Bus.AnyPhase. To let all begin together is the usual check, and no bound of anything.")
	}
	a.averagesFigures(&s)
	return s, nil
}

// asked answers what the document asks besides: how many stations the bus carries, exact
// extremes, start delays and a study of the tolerances.
func (a *Assessment) asked(ctx context.Context) error {
	phase := a.section("any phase")
	if err := a.share(ctx, phase); err != nil {
		return err
	}
	if err := a.exactOverPhases(ctx); err != nil {
		return err
	}
	a.exactFigures(phase)
	if err := a.lock(ctx); err != nil {
		return err
	}
	a.lockedSection(a.section("locked"))
	if err := a.study(ctx); err != nil {
		return err
	}
	a.studySection(a.section("study"))
	if err := a.rank(ctx); err != nil {
		return err
	}
	a.rankSection(a.section("sensitivity"))
	a.Sections = slices.DeleteFunc(a.Sections, func(s Section) bool {
		return slices.Contains(askedSections, s.Key) && len(s.Figures)+len(s.Checks)+len(s.Notes) == 0
	})
	return nil
}

// askedSections are left out of a report that has nothing in them.
var askedSections = []string{"any phase", "locked", "study", "sensitivity"}

func (a *Assessment) section(key string) *Section {
	return &a.Sections[slices.IndexFunc(a.Sections, func(s Section) bool { return s.Key == key })]
}

// share answers how many stations the bus carries, and how they share several supplies.
func (a *Assessment) share(ctx context.Context, s *Section) error {
	m := a.Machine
	for i, q := range m.HowMany {
		c, err := m.Carries(ctx, q)
		if err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			var f profile.Faults
			f.Under(fmt.Sprintf("howMany[%d]", i), err)
			return f.Err()
		}
		a.HowMany = append(a.HowMany, c)
		name := "fit on this bus"
		if c.Most == c.UpTo {
			name = "fit on this bus, more not tried"
		}
		s.figure(figure(c.Station, name, float64(c.Most), quantity.Ratio, fmt.Sprintf("largest number of this station, all else as it is, for which every limit of this assessment is kept in every phase and %d breaks one; looked for up to %d", c.Most+1, c.UpTo)))
		if len(c.Limits) > 0 {
			s.note(fmt.Sprintf("%d of %q break: %s.", c.Most+1, c.Station, limitText(c.Limits)))
		}
	}
	if m.Share {
		var err error
		if a.Split, err = m.split(ctx, a); err != nil {
			return err
		}
		s.note(a.Split.text())
	}
	return nil
}

// bracket shows a bound beside what was found to happen.
func (a *Assessment) bracket(s *Section, of string, b bus.Bound, together float64) {
	if !b.Exists {
		s.note(fmt.Sprintf("There is no bound on the %s: %s.", of, b.Reason))
		if of == "sag" && len(b.Offsets) > 0 {
			s.note("The bus collapses when the stations start with these delays: " + a.delays(b) + ".")
		}
		return
	}
	s.figure(figure(of, "bound", b.Voltage, quantity.Voltage, "not passed in any phase, with any pause that the stations may make; at the distribution point"))
	if b.Witness != nil {
		s.figure(figure(of, "worst line-up found", b.WitnessVoltage, quantity.Voltage, lineUp))
		s.figure(figure(of, "gap between them", b.Gap(), quantity.Voltage, "distance of the bound from what was found to happen"))
	}
	s.figure(figure(of, "all begin together", together, quantity.Voltage, "simulation of four of the longest cycles from the no-load voltage, every station beginning one at time 0 and repeating it without pause"))
}

// worstLineUp shows how the stations stand to each other in the worst line-ups found.
func (a *Assessment) worstLineUp(s *Section) {
	for _, x := range []struct {
		name string
		b    bus.Bound
	}{{"start delay, worst sag", a.Bus.Guarantee.Sag}, {"start delay, worst rise", a.Bus.Guarantee.Rise}} {
		if x.b.Witness == nil || len(x.b.Offsets) != len(a.Stations) {
			continue
		}
		for i, st := range a.Stations {
			s.figure(figure(st.Name, x.name, x.b.Offsets[i], quantity.Time, "of its cycle in the worst line-up found"+pauseText(x.b, i)))
		}
	}
}

// pauseText says where a station pauses in a line-up.
func pauseText(b bus.Bound, i int) string {
	if i >= len(b.Standstills) || len(b.Standstills[i]) == 0 {
		return ""
	}
	var at []string
	for _, p := range b.Standstills[i] {
		at = append(at, fmt.Sprintf("at %s for %s", show(p.From, quantity.Time), show(p.Length, quantity.Time)))
	}
	return "; it pauses " + strings.Join(at, ", ")
}

// delays lists the start delays of a line-up.
func (a *Assessment) delays(b bus.Bound) string {
	var all []string
	for i, st := range a.Stations {
		if i < len(b.Offsets) {
			all = append(all, fmt.Sprintf("%s %s%s", st.Name, show(b.Offsets[i], quantity.Time), pauseText(b, i)))
		}
	}
	return strings.Join(all, ", ")
}

// CommonStart is the usual check, and no bound of anything: all stations begin a cycle at once,
// again and again without pauses, for four of the longest cycles from the no-load voltage.
type CommonStart struct {
	Lowest  float64 // of the bus where the stations draw most, 0 when it collapses [V]
	Highest float64 // where they return most [V]
}

// together simulates what [CommonStart] says.
func (a *Assessment) together(ctx context.Context) (*CommonStart, error) {
	n, number, err := a.Machine.network(nominal)
	if err != nil {
		return nil, err
	}
	longest := 0.0
	for _, st := range a.Stations {
		longest = math.Max(longest, st.Duration)
	}
	run := func(n bus.Network, stations []bus.Station) (*bus.NetworkResult, error) {
		loads, _, err := n.LineUp(stations, make([]float64, len(stations)), 4*longest)
		if err != nil {
			return nil, err
		}
		return n.Simulate(ctx, loads, bus.State{Voltage: n.Source.NoLoadVoltage()})
	}
	drawing, returning := a.onFeeders(number)
	low, err := run(n.Low(), drawing)
	if err != nil {
		return nil, err
	}
	high, err := run(n.High(), returning)
	if err != nil {
		return nil, err
	}
	t := &CommonStart{Lowest: low.Lowest.V, Highest: high.Highest.V}
	if low.Collapsed {
		t.Lowest = 0
	}
	return t, nil
}

// limitText says which limits are broken, and by what.
func limitText(limits []Limit) string {
	var all []string
	for _, l := range limits {
		word := "at most"
		if l.AtLeast {
			word = "at least"
		}
		all = append(all, fmt.Sprintf("%s %s (%s %s)", l.subject(), l.show(l.Value), word, l.show(l.Limit)))
	}
	return strings.Join(all, "; ")
}

// text says how the stations share supplies.
func (s *Split) text() string {
	switch {
	case len(s.Alone) > 0:
		return fmt.Sprintf("No number of supplies like this one carries the stations: %s on a supply of its own breaks %s.", strings.Join(s.Alone, ", "), limitText(s.Limits))
	case len(s.Buses) == 1:
		return "One supply carries all stations."
	}
	var each []string
	for i, names := range s.Buses {
		each = append(each, fmt.Sprintf("bus %d with %s", i+1, strings.Join(names, ", ")))
	}
	text := fmt.Sprintf("%d supplies like this one, each with its bank and brake resistor, carry the stations: %s.", len(s.Buses), strings.Join(each, "; "))
	if s.Fewest {
		return text + " No fewer were found to do."
	}
	return text + " Fewer might do: not every way to share the stations was tried."
}
