package bus

import (
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// RailResult is what a rail asks of its supply and leaves its consumers.
//
// Currents other than the mean are the larger of those at the lowest and at the
// highest voltage of the supply; between these none is higher, because the
// current is a convex function of the voltage.
type RailResult struct {
	Mean      float64       // current of the supply over time, at nominal voltage [A]
	Sustained float64       // highest current with all that may be on at once on, and past pull-in [A]: the continuous rating needed
	Peak      float64       // highest current [A]
	PeakAt    float64       // when in the cycle; 0 without schedules [s]
	PeakTime  float64       // the longest that the current stays above Sustained [s]: how long the peak must be borne
	PullingIn []string      // names of those that pull in at the peak; empty when holding makes it
	Current   profile.Curve // of the supply over the cycle at nominal voltage, those without schedule by their mean [A]; empty without schedules

	Continuous energy.Loading // Sustained against the rated current [A]; empty while none is chosen
	PeakLoad   energy.Loading // Peak against the boost current when the time above rated current is within the boost time, else against the rated current [A]
	OverTime   float64        // the longest that the current stays above the rated one because of pull-ins [s]; 0 when Sustained is above it already

	Consumers []ConsumerVoltage // one per consumer, in their order
	// NoOperatingPoint says that with everything drawing at the lowest voltage of
	// the supply the distribution point has no voltage at which the draws are met:
	// the rail collapses. Currents then cover the times at which it has one.
	NoOperatingPoint bool

	Output     float64 // mean power out of the supply, at nominal voltage [W]
	CableLoss  float64 // of it, in feed and cables [W]
	SupplyLoss float64 // mean loss in the supply [W]
	Input      float64 // mean power into the supply [W]
	PeakInput  float64 // highest power into the supply [W]
}

// ConsumerVoltage is what one consumer gets.
type ConsumerVoltage struct {
	Name      string
	Lowest    float64 // at its terminals, with everything drawing at the lowest voltage of the supply [V]
	Highest   float64 // with nothing drawing, at the highest [V]
	Shortfall float64 // by which Lowest misses its minimum [V]; 0: it does not
	Excess    float64 // by which Highest exceeds its maximum [V]; 0: it does not

	// NoOperatingPoint says that it cannot draw its power through its cable, even
	// alone. Lowest is then 0, and the currents are without it while it would have to.
	NoOperatingPoint bool
}

// Assess computes currents, voltages and losses of the rail.
//
// Consumers without schedule may switch at any time: those that may pull in
// together do, and at the worst time of the cycle, while all the others hold.
func (r Rail) Assess() (*RailResult, error) {
	m, err := newRailModel(r)
	if err != nil {
		return nil, err
	}
	res := &RailResult{Consumers: make([]ConsumerVoltage, len(r.Consumers))}
	for k, c := range r.Consumers {
		res.Consumers[k] = ConsumerVoltage{Name: c.Name, Lowest: r.Supply.Low(), Highest: r.Supply.High()}
	}
	m.peaks(res)
	if err := m.means(res); err != nil {
		return nil, err
	}
	for k, c := range r.Consumers {
		v := &res.Consumers[k]
		if c.MinVoltage > 0 {
			v.Shortfall = math.Max(0, c.MinVoltage-v.Lowest)
		}
		if c.MaxVoltage > 0 {
			v.Excess = math.Max(0, v.Highest-c.MaxVoltage)
		}
	}
	var f profile.Faults
	needFinite(&f, "consumers", float64(len(r.Consumers)), res.Mean, res.Sustained, res.Peak, res.Output, res.CableLoss, res.SupplyLoss, res.Input, res.PeakInput)
	if err := f.Err(); err != nil {
		return nil, err
	}
	if err := m.hold(res); err != nil {
		return nil, err
	}
	return res, nil
}

// currents returns the highest current over the two corners of the supply, and
// the highest power out of it. low is the voltage of the distribution point at
// the lowest one.
func (m *railModel) currents(s railState, buf []branch) (i, power, low float64, ok bool) {
	ok = true
	for _, vs := range []float64{m.Supply.High(), m.Supply.Low()} {
		u, x, found := railNode(m.branches(buf, s, vs), vs, m.feed)
		low, ok = u, ok && found
		i, power = math.Max(i, x), math.Max(power, x*vs)
	}
	return i, power, low, ok
}

// peaks goes through all states that may occur.
func (m *railModel) peaks(res *RailResult) {
	n := len(m.Consumers)
	s, buf := make(railState, n), make([]branch, 0, 2*n)
	at := m.breaks()
	peak := railState(nil)
	// current[g][j][k]: group g, from at[j] on, after stair[g][k].
	groups := m.groups()
	stairs := make([][]float64, len(groups))
	current := make([][][]float64, len(groups))
	for g, name := range groups {
		stairs[g] = m.stair(name)
		current[g] = make([][]float64, max(1, len(at)-1))
		for j := range current[g] {
			t := 0.0
			if len(at) > 1 {
				t = at[j] + (at[j+1]-at[j])/2
			}
			m.schedule(s, t)
			for _, since := range stairs[g] {
				m.pull(s, name, since)
				i, power, u, ok := m.currents(s, buf)
				current[g][j] = append(current[g][j], i)
				res.NoOperatingPoint = res.NoOperatingPoint || !ok
				res.PeakInput = math.Max(res.PeakInput, power/m.Supply.Efficiency)
				m.voltages(res, s, u)
				if peak == nil || i > res.Peak {
					res.Peak, res.PeakAt, peak = i, at[j], append(peak[:0], s...)
				}
			}
			// Past all pull-in, the scheduled ones too.
			for k := range s {
				s[k] = math.Min(s[k], railHolding)
			}
			i, _, _, _ := m.currents(s, buf)
			res.Sustained = math.Max(res.Sustained, i)
			if i > res.Peak*(1+1e-12) { // those that pull in have no operating point
				res.Peak, res.PeakAt, peak = i, at[j], append(peak[:0], s...)
			}
		}
	}
	for k, share := range peak {
		if share > 0 {
			res.PullingIn = append(res.PullingIn, m.Consumers[k].Name)
		}
	}
	// Rounding must not make a peak of what holds all along.
	over := func(level float64) (longest float64) {
		level *= 1 + 1e-12
		if res.Peak > level {
			for g := range groups {
				longest = math.Max(longest, m.longest(current[g], at, stairs[g], level))
			}
		}
		return longest
	}
	res.PeakTime = over(res.Sustained)
	if rated := m.Supply.RatedCurrent; rated > 0 && res.Sustained <= rated {
		res.OverTime = over(rated)
	}
}

// voltages lowers the lowest voltages to those of a state, with u [V] at the
// distribution point and the lowest voltage of the supply.
func (m *railModel) voltages(res *RailResult, s railState, u float64) {
	for k, share := range s {
		if share < 0 {
			continue
		}
		b, v := m.own(k, share), &res.Consumers[k]
		if _, _, _, ok := b.at(m.Supply.Low()); !ok {
			v.Lowest, v.NoOperatingPoint = 0, true
			continue
		}
		if x, _, _, ok := b.at(u); ok {
			v.Lowest = math.Min(v.Lowest, x)
		} else {
			v.Lowest = 0 // the rail has collapsed
		}
	}
}

// longest returns the longest time for which the current stays above level, where
// those without schedule begin to pull in at the time that makes it longest. That
// is one at which a step of their stair meets one of the schedule: between such
// times the length of each stretch changes linearly.
func (m *railModel) longest(current [][]float64, at, stair []float64, level float64) float64 {
	last := len(stair) - 1
	if len(at) < 2 { // no schedule: the stair falls
		for k := last; k >= 1; k-- {
			if current[0][k-1] > level {
				return stair[k]
			}
		}
		return 0
	}
	best := 0.0
	n := len(at) - 1
	for _, meet := range at[:n] {
		for _, step := range stair {
			start := meet - step // of the stair
			// From a cycle before the start to one after the stair's end, interval by
			// interval of the schedule, cut at the steps.
			run := 0.0
			from := math.Floor((start-m.Period)/m.Period) * m.Period
			for end := start + stair[last] + m.Period; from < end; from += m.Period {
				for j := range n {
					t0, t1 := from+at[j], from+at[j+1]
					for t := t0; t < t1; {
						k, until := stairStep(stair, t-start)
						next := math.Min(t1, start+until)
						if !(next > t) { // two steps that the clock cannot tell apart
							next = math.Nextafter(t, math.Inf(1))
						}
						if current[j][k] > level {
							run += next - t
							best = math.Max(best, run)
						} else if next-t > 1e-12*m.Period { // no gap of rounding
							run = 0
						}
						t = next
					}
				}
			}
		}
	}
	return best
}

// stairStep returns which step of the stair holds since [s] after its start, and
// until when; outside of it, the last one.
func stairStep(stair []float64, since float64) (k int, until float64) {
	last := len(stair) - 1
	if since < 0 {
		return last, 0
	}
	for k := range last {
		if since < stair[k+1] {
			return k, stair[k+1]
		}
	}
	return last, math.Inf(1)
}

// means computes current, power and losses over time at nominal voltage. Those
// without schedule count as steady draws of their mean.
func (m *railModel) means(res *RailResult) error {
	vs := m.Supply.Voltage
	at := m.breaks()
	s := make(railState, len(m.Consumers))
	var coefs []float64
	for j := range max(1, len(at)-1) {
		share, t := 1.0, 0.0
		if len(at) > 1 {
			share, t = (at[j+1]-at[j])/m.Period, at[j]+(at[j+1]-at[j])/2
		}
		m.schedule(s, t)
		var all []branch
		for k, c := range m.Consumers {
			b := m.own(k, s[k])
			switch {
			case len(c.On) == 0:
				watts := c.onShare() * c.Holding
				if c.PullIn > 0 {
					watts += c.Switchings * c.PullInTime * (c.PullIn - c.Holding)
				}
				b = m.branch(k, 1, watts)
			case s[k] < 0:
				continue
			}
			if _, _, _, ok := b.at(vs); ok {
				b.n = float64(c.Count)
				all = append(all, b)
			}
		}
		u, i, ok := railNode(all, vs, m.feed)
		res.NoOperatingPoint = res.NoOperatingPoint || !ok
		res.Mean += share * i
		res.CableLoss += share * m.feed * i * i
		for _, b := range all {
			if _, x, _, ok := b.at(u); ok {
				res.CableLoss += share * b.n * b.r * x * x
			}
		}
		coefs = append(coefs, i)
	}
	res.Output = res.Mean * vs
	res.Input = res.Output / m.Supply.Efficiency
	res.SupplyLoss = res.Input - res.Output
	if len(at) < 2 {
		return nil
	}
	var err error
	res.Current, err = profile.FromFlat(at, coefs, 1)
	return err
}

// hold holds the currents against the supply.
func (m *railModel) hold(res *RailResult) (err error) {
	s := m.Supply
	if s.RatedCurrent == 0 {
		return nil
	}
	if res.Continuous, err = energy.NewLoading(res.Sustained, s.RatedCurrent, 1); err != nil {
		return err
	}
	limit := s.RatedCurrent
	if s.BoostCurrent > 0 && res.OverTime <= s.BoostTime && res.Continuous.Within() {
		limit = s.BoostCurrent
	}
	res.PeakLoad, err = energy.NewLoading(res.Peak, limit, 1)
	return err
}
