package sizing

import (
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

// ofSupply names a supply where there are several.
func (a *Assessment) ofSupply(i int) string {
	if len(supplies(a.Machine.Supply.Source)) == 1 {
		return ""
	}
	return fmt.Sprintf("supply %d", i+1)
}

// memoryChecks holds the rise of the bus against the over-voltage shutdown of supplies,
// and says what blocking diodes burn.
func (a *Assessment) memoryChecks(s *Section) {
	for _, x := range a.Bus.Memory {
		f := figure(a.ofSupply(x.Supply), "returned energy at its output", a.Bus.Highest, quantity.Voltage,
			a.basis()+"; highest set point or line, least capacitance, cold copper; the limit is the voltage at which the supply shuts down")
		c := atMost(f, x.Limit, x.cure())
		if c.Margin <= 0 { // at that voltage it shuts down
			c.OK = false
			c.Reason = "the supply goes off when the axes return that much, and is missing when they draw again: it "
			if x.Pause > 0 {
				c.Reason += "starts again after " + show(x.Pause, quantity.Time)
			} else {
				c.Reason += "stays off until its mains is switched off and on"
			}
			if g := a.Bus.Guarantee.Rise; !g.Exists && math.IsInf(c.Value, 0) {
				c.Reason += "; " + g.Reason
			}
		}
		s.check(c)
	}
	for i, p := range supplies(a.Machine.Supply.Source) {
		if p, ok := p.(bus.SwitchMode); ok && p.DiodeDrop > 0 {
			heat, how := p.DiodeDrop*a.meanCurrent(p), "drop times mean current, as if this supply carried all; the current is the mean power over the lowest bus voltage, so that this is not exceeded"
			if c := a.Bus.SagCycle; c != nil && c.Repeats && !c.Collapsed && i < len(c.Supplies) {
				heat, how = c.Supplies[i].DiodeHeat/c.Load.Duration(), "drop times current over the settled cycle"
			}
			s.figure(figure(a.ofSupply(i), "heat of the blocking diode", heat, quantity.Power, how))
		}
	}
}

func (x MemoryResult) cure() string {
	cure := fmt.Sprintf("a blocking diode in its output, which burns %s or less (%.1f V assumed, common practice, times the mean current), or a brake resistor that comes on below %s",
		show(x.DiodeHeat, quantity.Power), assumedDrop, show(x.Limit, quantity.Voltage))
	if x.Bank > 0 {
		cure = fmt.Sprintf("a bank of %s or more, or %s", show(x.Bank, quantity.Capacitance), cure)
	}
	return cure
}

// memoryCure returns what makes a bound on the sag possible where the memory of a supply
// forbids it, "" where it is not that.
func (a *Assessment) memoryCure() string {
	g := a.Bus.Guarantee.Sag
	if g.Exists || !math.IsInf(a.Bus.Lowest, 0) {
		return ""
	}
	for _, x := range a.Bus.Memory {
		if !(a.Bus.Highest < x.Limit) {
			return x.cure()
		}
	}
	low := a.Machine.Supply.Source.Low()
	for _, p := range supplies(low) {
		p, ok := p.(bus.SwitchMode)
		if ok && (p.Overload == bus.Hiccup || p.Overload == bus.Latch) && !(a.Bus.PeakDemand <= low.Current(low.NoLoadVoltage())*low.NoLoadVoltage()) {
			return fmt.Sprintf("a supply that stays on at its limit, or one whose limit is above all peaks together, %s", show(a.Bus.PeakDemand/low.NoLoadVoltage(), quantity.Current))
		}
	}
	return ""
}

// peakRatings holds the time that a supply is above its continuous limit against the time
// that it bears.
func (a *Assessment) peakRatings(s *Section) {
	var x *bus.Result
	how, rounds := "in the settled cycle", 2
	switch c := a.Bus.SagCycle; {
	case c != nil && c.Repeats && !c.Collapsed:
		x = c.Result
	case a.Bus.Guarantee.Sag.Witness != nil:
		x, rounds = a.Bus.Guarantee.Sag.Witness, 1
		how = "while the worst windows are lined up, in the simulation of one course; others may need more"
	}
	for i, p := range supplies(a.Machine.Supply.Source) {
		p, ok := p.(bus.SwitchMode)
		if !ok || p.PeakCurrent == 0 {
			continue
		}
		if x == nil || i >= len(x.Supplies) {
			s.note("How long the peak rating of the supply is needed is not known: the bus has no lowest voltage.")
			continue
		}
		use := peakUse(x.Supplies[i].Current, p, rounds)
		c := atMost(figure(a.ofSupply(i), "time above its continuous limit", use, quantity.Time,
			"most that is used up at once of the time that the supply bears its peak, what comes back between peaks deducted, "+how+"; the limit is peakTime"), p.PeakTime,
			"a larger bank, or a supply with a higher continuous limit or a longer peak")
		c.Caution = true // no bound counts on the peak
		for _, e := range x.Events {
			if e.Kind == bus.PeakUsedUp && e.Index == i {
				c.OK, c.Margin = false, math.Min(0, c.Margin)
				c.Reason = fmt.Sprintf("it is used up, and the supply falls back to %s", show(p.CurrentLimit, quantity.Current))
				break
			}
		}
		s.check(c)
	}
}

// peakUse returns the most that a supply has used of its peak time [s]: it counts up while
// the current is above the continuous limit, and down at the rate of its recovery. A
// cycle that goes on where it ends takes two rounds.
func peakUse(current profile.Curve, p bus.SwitchMode, rounds int) float64 {
	limit := p.CurrentLimit * (1 + 1e-9)
	edges := append([]float64{current.Start()}, current.Crossings(nil, limit)...)
	edges = append(edges, current.End())
	used, most := 0.0, 0.0
	for range rounds {
		for k := 1; k < len(edges); k++ {
			t := edges[k] - edges[k-1]
			if !(t > 0) {
				continue
			}
			if current.At(edges[k-1]+t/2) > limit {
				used = math.Min(p.PeakTime, used+t)
			} else {
				used = math.Max(0, used-t*p.PeakTime/p.PeakRecovery)
			}
			most = math.Max(most, used)
		}
	}
	return most
}
