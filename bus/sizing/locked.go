package sizing

import (
	"context"
	"errors"
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// Lock asks for the start delays of stations that a controller locks to each other.
type Lock struct {
	Aim bus.Aim // what the delays are to improve
	// Every is how often all stations begin a cycle [s], at least the longest of their cycles;
	// they stand still in what is left of it. 0: each begins the next cycle when one ends, and
	// their lengths must have a common multiple.
	Every float64
}

// StartDelay is the range from which the start delay of a station may be chosen [s].
type StartDelay struct {
	Earliest, Latest float64 // 0 <= Earliest < Latest
}

func (l *Lock) validate(f *profile.Faults, m Machine) {
	if l == nil {
		return
	}
	if l.Aim < bus.LeastSag || l.Aim > bus.LeastResistor {
		f.Add("lock.aim", int(l.Aim), "one of the aims")
	}
	f.NonNegative("lock.every", l.Every, "s")
	if why := m.notLocked(); why != "" {
		f.Add("lock", "given", why)
	}
	for i, s := range m.Stations {
		if d := s.StartDelay; d != nil {
			path := fmt.Sprintf("stations[%d].startDelay", i)
			if f.NonNegative(path+".earliest", d.Earliest, "s") && f.NonNegative(path+".latest", d.Latest, "s") && !(d.Latest > d.Earliest) {
				f.Add(path+".latest", d.Latest, fmt.Sprintf("after earliest, %g s", d.Earliest))
			}
		}
	}
}

// notLocked says what the search for start delays needs of the machine, "" when it has it.
func (m Machine) notLocked() string {
	if len(m.Stations) < 2 {
		return "at least two stations on the bus"
	}
	for _, s := range m.Stations {
		if s.StartDelay != nil {
			return ""
		}
	}
	return "a station with a startDelay to choose"
}

// LockResult is what the start delays of locked stations bring.
type LockResult struct {
	*bus.Phasing        // nil: none was found
	None         string // why not

	Chosen   Course // with the delays chosen
	Earliest Course // with every station at its earliest
}

// Course is how far the bus goes in the settled course of locked stations, each figure at
// its own unfavourable corner.
type Course struct {
	Lowest   float64 // bus voltage at the distribution point, 0 when it collapses [V]
	Highest  float64 // [V]
	Peak     float64 // power of all axes together [W]
	Resistor float64 // energy into the brake resistors in a common cycle [J]
	Repeats  bool    // false: the bus did not come to repeat, and may go farther than that
}

// lockCorner is the bus at the corner that is unfavourable for an aim, with the stations
// likewise.
type lockCorner struct {
	net      bus.Network
	stations []bus.Station
}

// lock finds the start delays where they are asked for.
func (a *Assessment) lock(ctx context.Context) error {
	m := a.Machine
	if m.Lock == nil {
		return nil
	}
	corners, err := a.lockCorners()
	if err != nil {
		return err
	}
	delays, err := a.delayRanges()
	if err != nil {
		return err
	}
	r := &LockResult{}
	a.Locked = r
	c := corners[m.Lock.Aim]
	var none *bus.NoSettledStateError
	p, err := c.net.Lock(ctx, c.stations, delays, m.Lock.Aim)
	if err == nil {
		if r.Chosen, err = courseAt(ctx, corners, p.Offsets, p.Common); err == nil {
			earliest := make([]float64, len(delays))
			for i, d := range delays {
				earliest[i] = d.Earliest
			}
			r.Earliest, err = courseAt(ctx, corners, earliest, p.Common)
		}
	}
	switch {
	case err == nil:
		r.Phasing = p
		return nil
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.As(err, &none):
		r.None = none.Error()
		return nil
	}
	var f profile.Faults
	for _, e := range profile.InputErrors(err) {
		if e.Path == "stations" {
			f.Add("lock.every", nil, "this field: how often all stations begin a cycle, since their lengths have no common multiple")
		}
	}
	if f.Err() != nil {
		return f.Err()
	}
	return fmt.Errorf("start delays: %w", err)
}

// lockCorners returns the corners, by aim: that of sag, of rise, and for the resistor the
// one at which most comes into it.
func (a *Assessment) lockCorners() ([4]lockCorner, error) {
	var all [4]lockCorner
	for aim, of := range map[bus.Aim]corner{bus.LeastSag: early, bus.LeastRise: late, bus.LeastPeak: early, bus.LeastResistor: early} {
		n, number, err := a.Machine.network(of)
		if err != nil {
			return all, err
		}
		drawing, returning := a.onFeeders(number)
		c := lockCorner{n.Low(), drawing}
		if aim == bus.LeastRise || aim == bus.LeastResistor {
			c = lockCorner{n.High(), returning}
		}
		if every := a.Machine.Lock.Every; every > 0 {
			if err := a.stretch(c.stations, every); err != nil {
				return all, err
			}
		}
		all[aim] = c
	}
	return all, nil
}

// stretch lets the cycles of all stations last a time [s], in what is left of which they
// stand still.
func (a *Assessment) stretch(stations []bus.Station, every float64) error {
	const most = 1000 // times the longest cycle
	var f profile.Faults
	longest := 0.0
	for i, st := range a.Stations {
		longest = math.Max(longest, st.Duration)
		if len(st.Pauses) == 0 && every > st.Duration*(1+1e-9) {
			f.Add(fmt.Sprintf("stations[%d].strictlyPeriodic", i), true, fmt.Sprintf("false where lock.every is longer than the cycle, %.6g s", st.Duration))
		}
	}
	if !(every >= longest*(1-1e-9) && every <= most*longest) {
		f.Add("lock.every", every, fmt.Sprintf("at least the longest cycle, %.6g s, and at most %d times as long", longest, most))
	}
	if err := f.Err(); err != nil {
		return err
	}
	for i := range stations {
		s := &stations[i]
		s.Repeats, s.Waits = bus.Strictly, nil
		for k := range s.Axes {
			ax := &s.Axes[k]
			ax.Waits = nil
			if left := every - ax.Power.Duration(); left > 1e-9*every {
				rest, err := profile.Constant(ax.Idle, ax.Power.End(), ax.Power.End()+left)
				if err != nil {
					return err
				}
				ax.Power = profile.Concat(ax.Power, rest)
			}
		}
	}
	return nil
}

// delayRanges returns the ranges of the start delays; stations without one start at 0.
func (a *Assessment) delayRanges() ([]bus.Delay, error) {
	var f profile.Faults
	all := make([]bus.Delay, len(a.Stations))
	for i, s := range a.Machine.Stations {
		d := s.StartDelay
		if d == nil {
			continue
		}
		period := a.Machine.Lock.Every
		if period == 0 {
			period = a.Stations[i].Duration
		}
		if !(d.Latest <= period*(1+1e-9)) {
			f.Add(fmt.Sprintf("stations[%d].startDelay.latest", i), d.Latest, fmt.Sprintf("at most the time after which the station begins again, %.6g s: beyond it nothing new comes", period))
		}
		all[i] = bus.Delay{Earliest: d.Earliest, Latest: d.Latest}
	}
	return all, f.Err()
}

// courseAt follows the settled course with given start delays over a common cycle [s].
func courseAt(ctx context.Context, corners [4]lockCorner, offsets []float64, common float64) (Course, error) {
	c := Course{Repeats: true}
	for aim, x := range corners {
		loads, sum, err := x.net.LineUp(x.stations, offsets, common)
		if err != nil {
			return c, err
		}
		if bus.Aim(aim) == bus.LeastPeak {
			c.Peak = sum.Max().V
			continue
		}
		s, err := x.net.SettledCycle(ctx, loads)
		if err != nil {
			return c, err
		}
		c.Repeats = c.Repeats && s.Repeats
		switch bus.Aim(aim) {
		case bus.LeastSag:
			if !s.Collapsed {
				c.Lowest = s.Lowest.V
			}
		case bus.LeastRise:
			c.Highest = s.Highest.V
		case bus.LeastResistor:
			c.Resistor = s.Energies.Resistor / float64(s.Periods)
		}
	}
	return c, nil
}
