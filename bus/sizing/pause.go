package sizing

import (
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// Pause is a standstill of a station: between two cycles, or where a step lets it wait.
type Pause struct {
	At        float64 // in the cycle [s]; 0 for the pause between two cycles
	Hot, Cold float64 // power taken from the bus meanwhile, as Hot and Cold of the station [W]
}

// pauses finds what the axes and switched loads of a station take while it stands still: at
// rest where they are, with the load of the step before and no force of it, for any time. The
// first is the pause between two cycles, with the loads as the cycle starts. A station that is
// strict has none.
func (m *Machine) pauses(s Station, c cycle, r *StationResult) error {
	if s.Strict {
		return nil
	}
	at := []float64{0}
	after := []int{-1} // the step before
	for k, step := range s.Steps {
		if step.MayWait && k+1 < len(s.Steps) { // after the last it stands idle anyway
			at, after = append(at, c.starts[k+1]), append(after, k)
		}
	}
	r.Pauses = make([]Pause, len(at))
	for i, t := range at {
		r.Pauses[i].At = t
		for k := range r.Axes {
			ax := &r.Axes[k]
			load := m.axis(ax.Name).Drive.Load
			if after[i] >= 0 {
				load = c.steps[k][after[i]].Load
			}
			hot, cold, err := ax.resting(m.axis(ax.Name), c.motions[k].At(t).Position, load)
			if err != nil {
				return err
			}
			ax.pauses = append(ax.pauses, Pause{t, hot, cold})
			r.Pauses[i].Hot += hot
			r.Pauses[i].Cold += cold
		}
		r.Pauses[i].Hot += m.switchedAt(r.Switched, t)
	}
	return nil
}

// resting returns the most that an axis at rest at a position takes with hot copper, and the
// least with cold, over the spread of its load [W].
func (r *AxisResult) resting(a Axis, position float64, load energy.Load) (hot, cold float64, err error) {
	rest, err := profile.Dwell(position, 1)
	if err != nil {
		return 0, 0, err
	}
	load.ExternalByTime = profile.Curve{}
	hot, cold = math.Inf(-1), math.Inf(1)
	for _, l := range r.all() {
		steps := l.corner.applied(a, []energy.Step{{Motion: rest, Load: load}})
		h, _, err := r.hotAxis.TraceSteps(steps)
		if err != nil {
			return 0, 0, err
		}
		c, _, err := r.coldAxis.TraceSteps(steps)
		if err != nil {
			return 0, 0, err
		}
		hot, cold = math.Max(hot, h.BusPower.Max().V), math.Min(cold, c.BusPower.Min().V)
	}
	return hot, cold, nil
}

// switchedAt returns what switched loads take as a pause begins at time t of the cycle, as
// [Machine.mostSwitched] [W].
func (m *Machine) switchedAt(g profile.Curve, t float64) float64 {
	if g.Pieces() == 0 {
		return 0
	}
	if t == 0 {
		t = g.End()
	}
	for i := g.Pieces() - 1; i >= 0; i-- {
		if t0, _, c := g.Piece(i); t0 < t {
			v := m.Supply.Source.High().NoLoadVoltage()
			return c[0] * v * v // conductances are constant over their pieces
		}
	}
	return 0
}

// repeats returns how a station goes on after its cycle.
func (r *StationResult) repeats() bus.Repeats {
	if len(r.Pauses) == 0 {
		return bus.Strictly
	}
	return bus.Pausing
}

// cycles returns what the stations take from the bus where they draw most, and where they
// return most.
func (a *Assessment) cycles() (drawing, returning []bus.Cycle) {
	for i := range a.Stations {
		st := &a.Stations[i]
		d, r := bus.Cycle{Power: st.Hot, Repeats: st.repeats()}, bus.Cycle{Power: st.Cold, Repeats: st.repeats()}
		for k, p := range st.Pauses {
			if k == 0 {
				d.Idle, r.Idle = p.Hot, p.Cold
				continue
			}
			d.Waits = append(d.Waits, bus.Wait{At: p.At, Power: p.Hot})
			r.Waits = append(r.Waits, bus.Wait{At: p.At, Power: p.Cold})
		}
		drawing, returning = append(drawing, d), append(returning, r)
	}
	return drawing, returning
}

// onFeeders returns the stations with each axis at its feeder, as they draw most and as they
// return most.
func (a *Assessment) onFeeders(number map[string]int) (drawing, returning []bus.Station) {
	for i := range a.Stations {
		st := &a.Stations[i]
		d, r := bus.Station{Repeats: st.repeats()}, bus.Station{Repeats: st.repeats()}
		for k, p := range st.Pauses {
			if k > 0 {
				d.Waits, r.Waits = append(d.Waits, p.At), append(r.Waits, p.At)
			}
		}
		add := func(feeder int, hot, cold profile.Curve, pauses []Pause) {
			x, y := bus.AxisCycle{Feeder: feeder, Power: hot}, bus.AxisCycle{Feeder: feeder, Power: cold}
			for k, p := range pauses {
				if k == 0 {
					x.Idle, y.Idle = p.Hot, p.Cold
					continue
				}
				x.Waits, y.Waits = append(x.Waits, p.Hot), append(y.Waits, p.Cold)
			}
			d.Axes, r.Axes = append(d.Axes, x), append(r.Axes, y)
		}
		for _, ax := range st.Axes {
			add(number[ax.Name], ax.hotPower, ax.coldPower, ax.pauses)
		}
		if st.Switched.Pieces() > 0 {
			at := make([]Pause, len(st.Pauses))
			for k, p := range st.Pauses {
				at[k].Hot = a.Machine.switchedAt(st.Switched, p.At)
			}
			add(0, a.Machine.mostSwitched(st.Switched), st.Switched.Scale(0), at)
		}
		drawing, returning = append(drawing, d), append(returning, r)
	}
	return drawing, returning
}
