package sizing

import (
	"context"
	"fmt"
	"math"
	"strings"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

// Rail is the auxiliary low-voltage rail with what it has to survive.
type Rail struct {
	bus.Rail
	Dip     float64 // of the mains that it has to survive [s], 0: not examined
	FromBus bool    // it is fed from the bus and not from the mains
}

func (r *Rail) validate(f *profile.Faults) {
	if r == nil {
		return
	}
	f.Under("rail", r.Rail.Validate())
	names := map[string]int{}
	for i, c := range r.Consumers {
		path := fmt.Sprintf("rail.consumers[%d].name", i)
		if checkName(f, path, c.Name); c.Name == "" {
			f.Add(path, c.Name, "a name")
		} else if k, twice := names[c.Name]; twice {
			f.Add(path, c.Name, fmt.Sprintf("a name other than that of consumers[%d]", k))
		}
		names[c.Name] = i
	}
	f.NonNegative("rail.mainsDip", r.Dip, "s")
}

// RailResult is what the rail asks of its supply and leaves its consumers.
type RailResult struct {
	*bus.RailResult
	HoldUp *bus.RailHoldUp
	// RideThrough is how long the bank keeps a rail that is fed from the bus, together with
	// the mean of what the axes draw [s]; +Inf: longer than any dip.
	RideThrough float64
}

func (a *Assessment) rail(ctx context.Context) error {
	rail := a.Machine.Rail
	if rail == nil {
		return nil
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	r := &RailResult{}
	var err error
	if r.RailResult, err = rail.Assess(); err == nil {
		r.HoldUp, err = rail.HoldUp()
	}
	if err != nil {
		var f profile.Faults
		f.Under("rail", err)
		return f.Err()
	}
	if rail.FromBus && a.Bus.Lowest > a.Machine.UnderVoltage {
		drawn := r.Input
		for _, st := range a.Stations {
			drawn += st.Hot.Positive().Mean()
		}
		m := a.Machine
		if r.RideThrough, err = m.Ageing.worn(m.allLinks()).Low().RideThrough(a.Bus.Lowest, m.UnderVoltage, drawn); err != nil {
			return err
		}
	}
	a.Rail = r
	return nil
}

func (a *Assessment) railSection() Section {
	s := Section{Key: "rail", Question: "Does the auxiliary rail carry its consumers, and how long does logic survive?"}
	m, r := a.Machine.Rail, a.Rail
	if m == nil {
		s.note("Not examined: no rail is given.")
		return s
	}
	s.figure(figure("", "mean current", r.Mean, quantity.Current, "of the supply over time, at nominal voltage"))
	s.figure(figure("", "power into the supply, mean", r.Input, quantity.Power, "mean power of all consumers and cables over the supply's efficiency"))
	s.figure(figure("", "lost in cables", r.CableLoss, quantity.Power, "mean, in feed and cables"))
	sustained := figure("", "highest lasting current", r.Sustained, quantity.Current, "all that may be on at once on, and past pull-in, at the lowest or the highest voltage of the supply, whichever draws more: the continuous rating that the supply needs")
	if l := r.Continuous; l.Limit > 0 {
		s.check(atMost(sustained, l.Limit, fmt.Sprintf("a supply rated for %s or more", show(r.Sustained, quantity.Current))))
	} else {
		s.figure(sustained)
	}
	peak := figure("", "peak current", r.Peak, quantity.Current, "highest, with those that may pull in together pulling in: "+list(r.PullingIn)+"; for "+show(r.PeakTime, quantity.Time)+" at most")
	if l := r.PeakLoad; l.Limit > 0 {
		s.check(atMost(peak, l.Limit, fmt.Sprintf("a supply that bears %s for %s, or pull-ins one after another", show(r.Peak, quantity.Current), show(r.PeakTime, quantity.Time))))
	} else {
		s.figure(peak)
	}
	for i, c := range r.Consumers {
		a.consumer(&s, m.Consumers[i], c)
	}
	if r.NoOperatingPoint {
		c := atLeast(figure("", "lowest voltage of the rail", math.Inf(-1), quantity.Voltage, "with everything drawing at the lowest voltage of the supply"), 0, "thicker cables")
		c.Reason = "the cables cannot carry all draws at once: the rail collapses"
		s.check(c)
	}
	a.railDip(&s)
	s.note("Logic stays powered when bus power is removed for safety, so that position is not lost (common practice, no source). A holding brake falls when this rail browns out, on a moving axis too.")
	return s
}

// consumer holds the voltage at a consumer against what it works on.
func (a *Assessment) consumer(s *Section, c bus.RailConsumer, v bus.ConsumerVoltage) {
	how := "with everything drawing at the lowest voltage of the supply, through feed and cable: of constant power the larger root of v² - u v + R P = 0"
	lowest := v.Lowest
	if v.NoOperatingPoint {
		lowest = math.Inf(-1)
	}
	if c.MinVoltage > 0 {
		check := atLeast(figure(c.Name, "lowest voltage", lowest, quantity.Voltage, how), c.MinVoltage, "a thicker or shorter cable, or a higher voltage of the supply")
		if v.NoOperatingPoint {
			check.Reason = "it cannot draw its power through its cable"
		}
		s.check(check)
	} else {
		s.figure(figure(c.Name, "lowest voltage", lowest, quantity.Voltage, how))
	}
	if c.MaxVoltage > 0 {
		s.check(atMost(figure(c.Name, "highest voltage", v.Highest, quantity.Voltage, "with nothing drawing, at the highest voltage of the supply"), c.MaxVoltage, "a lower voltage of the supply"))
	}
}

// railDip says how long the rail survives without mains.
func (a *Assessment) railDip(s *Section) {
	m, r := a.Machine.Rail, a.Rail
	held := figure("", "time held up", r.HoldUp.Time, quantity.Time,
		"store of the supply at constant voltage, η C (V1² - V2²)/2P or the hold-up time at rated current, then the capacitance across the rail until the first consumer fails, C ∫ dv/i; all consumers on and past pull-in")
	if m.FromBus {
		held.Value += r.RideThrough
		held.How += "; and before that the bank, from the lowest bus voltage to the under-voltage limit, with the mean power of rail and axes"
	}
	if r.HoldUp.Limiting != "" {
		held.How += "; the first to fail: " + r.HoldUp.Limiting
	}
	switch {
	case m.Dip == 0:
		s.figure(held)
	case math.IsInf(held.Value, 1):
		s.note("The bank keeps the rail through any dip of the mains.")
	default:
		cure := "a supply with a longer hold-up time"
		if c, err := m.CapacitanceFor(m.Dip); err == nil && c > 0 {
			cure = fmt.Sprintf("%s across the rail, or a supply with a longer hold-up time", show(c, quantity.Capacitance))
		}
		s.check(atLeast(held, m.Dip, cure))
	}
}

func list(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}
