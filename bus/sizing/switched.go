package sizing

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

// SwitchedLoad is a resistance on the bus that the steps of one station switch: a
// solenoid, a heater, a lamp.
type SwitchedLoad struct {
	Name       string
	Resistance float64 // while it is on [ohm], > 0

	// A lamp or a heater may have less resistance at first, for a time.
	InrushResistance float64 // [ohm], below Resistance; 0: none
	InrushTime       float64 // [s], > 0 with InrushResistance
}

func (m Machine) validateSwitched(f *profile.Faults) {
	names := map[string]int{}
	for i, s := range m.Switched {
		path := fmt.Sprintf("switchedLoads[%d]", i)
		if checkName(f, path+".name", s.Name); s.Name == "" {
			f.Add(path+".name", s.Name, "a name")
		} else if k, twice := names[s.Name]; twice {
			f.Add(path+".name", s.Name, fmt.Sprintf("a name other than that of switchedLoads[%d]", k))
		}
		names[s.Name] = i
		f.Positive(path+".resistance", s.Resistance, "ohm")
		switch {
		case s.InrushResistance != 0:
			if f.Positive(path+".inrush.resistance", s.InrushResistance, "ohm") && !(s.InrushResistance < s.Resistance) {
				f.Add(path+".inrush.resistance", s.InrushResistance, fmt.Sprintf("below resistance, %g ohm", s.Resistance))
			}
			f.Positive(path+".inrush.time", s.InrushTime, "s")
		case s.InrushTime != 0:
			f.Add(path+".inrush.time", s.InrushTime, "0 without an inrush.resistance")
		}
	}
	owner := map[string]int{}
	for i, st := range m.Stations {
		for k, step := range st.Steps {
			for key, list := range map[string][]string{"on": step.On, "off": step.Off} {
				for j, name := range list {
					path := fmt.Sprintf("stations[%d].steps[%d].%s[%d]", i, k, key, j)
					if _, known := names[name]; !known {
						f.Add(path, name, "the name of a switched load"+didYouMean(name, sortedKeys(names)))
						continue
					}
					if o, taken := owner[name]; taken && o != i {
						f.Add(path, name, fmt.Sprintf("a load that stations[%d] does not switch", o))
					}
					owner[name] = i
				}
			}
		}
	}
}

// conductance returns what the switched loads of a station put on the bus over its
// cycle [S], in the state into which it settles: each load is at the start as its last
// switching leaves it. It is empty when the station switches nothing.
func (m Machine) conductance(s Station, starts []float64, duration float64) (profile.Curve, error) {
	var all []profile.Curve
	for _, l := range m.Switched {
		c, switched, err := l.over(s, starts, duration)
		if err != nil {
			return profile.Curve{}, err
		}
		if switched {
			all = append(all, c)
		}
	}
	if len(all) == 0 {
		return profile.Curve{}, nil
	}
	return profile.Sum(all...)
}

// over returns the conductance of one load over the cycle of a station.
func (l SwitchedLoad) over(s Station, starts []float64, duration float64) (c profile.Curve, switched bool, err error) {
	var times []float64 // at which it is switched on
	on, last := map[float64]bool{}, false
	for k, step := range s.Steps {
		for _, x := range []struct {
			names []string
			on    bool
		}{{step.Off, false}, {step.On, true}} {
			if slices.Contains(x.names, l.Name) {
				times = append(times, starts[k])
				on[starts[k]] = x.on
				last, switched = x.on, true
			}
		}
	}
	if !switched {
		return profile.Curve{}, false, nil
	}
	sort.Float64s(times)
	times = slices.Compact(times)
	var steps []bus.Step
	add := func(t, g float64) {
		if n := len(steps); n > 0 && steps[n-1].Time == t {
			steps[n-1].Conductance = g
		} else if t < duration {
			steps = append(steps, bus.Step{Time: t, Conductance: g})
		}
	}
	state := last
	add(0, l.steady(state))
	for i, t := range times {
		was := state
		if state = on[t]; state == was {
			continue
		}
		if !state || l.InrushResistance == 0 {
			add(t, l.steady(state))
			continue
		}
		add(t, 1/l.InrushResistance)
		end := duration
		if i+1 < len(times) {
			end = times[i+1]
		}
		// An inrush that would outlast the cycle is taken to its end.
		if over := t + l.InrushTime; over < end {
			add(over, l.steady(true))
		}
	}
	c, err = bus.Switched(steps, duration)
	return c, true, err
}

func (l SwitchedLoad) steady(on bool) float64 {
	if on {
		return 1 / l.Resistance
	}
	return 0
}

// mostSwitched returns the power of switched loads at the highest voltage that the
// supply holds the bus at [W]: while the bus sags they take less.
func (m Machine) mostSwitched(g profile.Curve) profile.Curve {
	v := m.Supply.Source.High().NoLoadVoltage()
	return g.Scale(v * v)
}

func (r *reader) switchedLoads(o *object) []SwitchedLoad {
	var all []SwitchedLoad
	for _, n := range r.list(o, "switchedLoads", optional) {
		so := r.objectOf(n)
		l := SwitchedLoad{Name: r.text(so, "name", required), Resistance: r.quantity(so, "resistance", quantity.Resistance, required)}
		if in := r.object(so, "inrush", optional); in != nil {
			l.InrushResistance = r.quantity(in, "resistance", quantity.Resistance, required)
			l.InrushTime = r.quantity(in, "time", quantity.Time, required)
			in.unread(&r.faults)
		}
		so.unread(&r.faults)
		all = append(all, l)
	}
	return all
}

// names reads a list of names.
func (r *reader) names(o *object, key string) []string {
	var all []string
	for _, n := range r.list(o, key, optional) {
		name, ok := n.value.(string)
		if !ok {
			r.faults.Add(n.path, n.text(), "a name")
		}
		all = append(all, name)
	}
	return all
}

// switchedFigures says what the switched loads take.
func (a *Assessment) switchedFigures(s *Section) {
	mean, peak := 0.0, 0.0
	for _, st := range a.Stations {
		if st.Switched.Pieces() > 0 {
			p := a.Machine.mostSwitched(st.Switched)
			mean += p.Mean()
			peak += math.Max(0, p.Max().V)
		}
	}
	if peak > 0 {
		s.figure(figure("", "switched loads, mean", mean, quantity.Power, "V²/R at the highest no-load voltage of the supply while they are on"))
		s.figure(figure("", "switched loads, peak", peak, quantity.Power, "sum of the stations' highest, inrush included"))
	}
}
