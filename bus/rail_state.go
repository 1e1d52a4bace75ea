package bus

import (
	"math"
	"slices"
)

// railState is who draws what at one time: for every consumer, the share of its
// number that pulls in; negative: it is off.
type railState []float64

const (
	railOff     = -1
	railHolding = 0
)

// railModel is a valid rail with what its figures need again and again.
type railModel struct {
	Rail
	feed float64   // resistance [ohm]
	wire []float64 // resistance of each consumer's cable [ohm]
	full float64   // share of those that pull in together
}

func newRailModel(r Rail) (*railModel, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	m := &railModel{Rail: r, wire: make([]float64, len(r.Consumers)), full: 1}
	if r.Feed != nil {
		m.feed, _ = r.Feed.LoopResistance()
	}
	sum, largest := 0.0, 0.0
	for i, c := range r.Consumers {
		if c.Cable != nil {
			m.wire[i], _ = c.Cable.LoopResistance()
		}
		if excess := c.PullIn - c.Holding; c.PullIn > 0 && len(c.On) == 0 {
			sum += float64(c.Count) * excess
			largest = math.Max(largest, excess)
		}
	}
	if r.Simultaneity > 0 && sum > 0 {
		m.full = math.Min(1, math.Max(r.Simultaneity, largest/sum))
	}
	return m, nil
}

// branch returns one of consumer k drawing power [W].
func (m *railModel) branch(k int, n, power float64) branch {
	c := m.Consumers[k]
	v := c.Voltage
	if v == 0 {
		v = m.Supply.Voltage
	}
	return newBranch(n, c.Kind, power, v, m.wire[k])
}

// own returns one of consumer k in its larger draw of the state.
func (m *railModel) own(k int, share float64) branch {
	c := m.Consumers[k]
	if share > 0 {
		return m.branch(k, 1, c.PullIn)
	}
	return m.branch(k, 1, c.Holding)
}

// branches returns what hangs on the rail in a state at the supply voltage vs,
// without the consumers that have no operating point even alone.
func (m *railModel) branches(dst []branch, s railState, vs float64) []branch {
	dst = dst[:0]
	for k, share := range s {
		if share < 0 {
			continue
		}
		if _, _, _, ok := m.own(k, share).at(vs); !ok {
			continue
		}
		n := float64(m.Consumers[k].Count)
		if share < 1 {
			dst = append(dst, m.branch(k, n*(1-share), m.Consumers[k].Holding))
		}
		if share > 0 {
			dst = append(dst, m.branch(k, n*share, m.Consumers[k].PullIn))
		}
	}
	return dst
}

// sliver is the share of the period below which two changes count as one: of two
// spans that meet, rounding must not make an overlap.
const sliver = 1e-9

// breaks returns the times at which scheduled consumers change, from 0 to the
// period; 0 alone without schedule.
func (m *railModel) breaks() []float64 {
	ts := []float64{0, m.Period}
	for _, c := range m.Consumers {
		for _, s := range c.On {
			ts = append(ts, wrap(s.From, m.Period), wrap(s.To, m.Period))
			if c.PullIn > 0 && s.From+c.PullInTime < s.To {
				ts = append(ts, wrap(s.From+c.PullInTime, m.Period))
			}
		}
	}
	slices.Sort(ts)
	ts = slices.CompactFunc(ts, func(a, b float64) bool { return math.Abs(b-a) <= sliver*m.Period })
	ts[len(ts)-1] = m.Period
	return ts
}

// wrap returns t within the cycle.
func wrap(t, period float64) float64 {
	if t = math.Mod(t, period); t < 0 || !(t < period) {
		return 0
	}
	return t
}

// schedule sets the state of the scheduled consumers at time t in the cycle.
func (m *railModel) schedule(s railState, t float64) {
	for k, c := range m.Consumers {
		if len(c.On) == 0 {
			continue
		}
		s[k] = railOff
		for _, on := range c.On {
			since := t - on.From
			if since < 0 {
				since += m.Period
			}
			if since < on.To-on.From {
				s[k] = railHolding
				if c.PullIn > 0 && since < c.PullInTime {
					s[k] = 1
				}
			}
		}
	}
}

// groups returns the groups that may pull in, one at a time.
func (m *railModel) groups() []string {
	var names []string
	for _, c := range m.Consumers {
		if c.Group != "" && c.PullIn > 0 && !slices.Contains(names, c.Group) {
			names = append(names, c.Group)
		}
	}
	if len(names) == 0 {
		return []string{""}
	}
	return names
}

// pullsWith reports whether consumer c may pull in with a group.
func (c RailConsumer) pullsWith(group string) bool {
	return len(c.On) == 0 && c.PullIn > 0 && (c.Group == "" || c.Group == group)
}

// stair returns how long after a common start the number of those that pull in
// with a group falls: 0 first, then their pull-in times, ascending.
func (m *railModel) stair(group string) []float64 {
	ts := []float64{0}
	for _, c := range m.Consumers {
		if c.pullsWith(group) {
			ts = append(ts, c.PullInTime)
		}
	}
	slices.Sort(ts)
	return slices.Compact(ts)
}

// pull sets the state of the consumers without schedule, since [s] after those of
// a group have begun to pull in.
func (m *railModel) pull(s railState, group string, since float64) {
	for k, c := range m.Consumers {
		if len(c.On) > 0 {
			continue
		}
		s[k] = railHolding
		if c.pullsWith(group) && since < c.PullInTime {
			s[k] = m.full
		}
	}
}
