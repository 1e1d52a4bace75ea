package bus

import (
	"fmt"
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// Repeats says how a station goes on after its cycle.
type Repeats int

const (
	// Pausing stations stand idle between two cycles, and wait where their cycle
	// allows it, for as long as they like.
	Pausing Repeats = iota
	// Strictly periodic stations begin the next cycle when one ends, and never wait.
	Strictly
	// Once is for what happens once, at any time, like a stop or a log of a run that
	// is not known to repeat. Before and after it the station stands idle.
	Once
)

// Cycle is the power that a station takes from the bus over one cycle, and
// where in it the station may stand still.
type Cycle struct {
	Power   profile.Curve // [W]
	Repeats Repeats
	Idle    float64 // power while it stands idle between cycles [W]
	Waits   []Wait  // where it may wait within the cycle, if it is Pausing
}

// Wait is an instant at which a cycle may stand still for any time, such as the
// end of a step whose successor waits for another station or for an operator.
type Wait struct {
	At    float64 // from the start of the cycle [s], at most its duration
	Power float64 // that it takes while it waits: standby, holding [W]
}

// StrictlyPeriodic returns cycles that repeat without any pause.
func StrictlyPeriodic(powers []profile.Curve) []Cycle {
	var cycles []Cycle
	for _, p := range powers {
		cycles = append(cycles, Cycle{Power: p, Repeats: Strictly})
	}
	return cycles
}

func (c Cycle) check(f *profile.Faults, path string) {
	if c.Power.Pieces() == 0 {
		f.Add(path, "an empty curve", "a cycle of power over time")
		return
	}
	f.Finite(path+".idle", c.Idle, "W")
	if c.Repeats < Pausing || c.Repeats > Once {
		f.Add(path+".repeats", int(c.Repeats), "Pausing, Strictly or Once")
	}
	for i, w := range c.Waits {
		path := fmt.Sprintf("%s.waits[%d]", path, i)
		if c.Repeats != Pausing {
			f.Add(path, w.At, "none: only a station that is Pausing waits")
		}
		if d := c.Power.Duration(); !(w.At >= 0 && w.At <= d) {
			f.Add(path+".at", w.At, fmt.Sprintf("from 0 to the duration of the cycle, %g s", d))
		}
		f.Finite(path+".power", w.Power, "W")
	}
}

// pauses returns where the cycle may stand still: idle at its start, and for what
// happens once at its end too.
func (c Cycle) pauses() []Wait {
	switch c.Repeats {
	case Strictly:
		return nil
	case Once:
		return []Wait{{0, c.Idle}, {c.Power.Duration(), c.Idle}}
	}
	return append([]Wait{{0, c.Idle}}, c.Waits...)
}

// extremes returns the lowest and the highest power.
func (c Cycle) extremes() (lowest, highest float64) {
	lo, hi := c.Power.Extrema()
	lowest, highest = lo.V, hi.V
	for _, w := range c.pauses() {
		lowest, highest = math.Min(lowest, w.Power), math.Max(highest, w.Power)
	}
	return lowest, highest
}

// mean returns the highest power on average over a long time, when mean is that
// of the cycle and of is taken of the powers of the pauses.
func (c Cycle) mean(mean float64, of func(float64) float64) float64 {
	if c.Repeats == Once {
		return of(c.Idle)
	}
	for _, w := range c.pauses() {
		mean = math.Max(mean, of(w.Power))
	}
	return mean
}

// times returns the cycle with all powers multiplied: positive ones with up,
// negative ones with down.
func (c Cycle) times(up, down float64) (Cycle, error) {
	factor := func(p float64) float64 {
		if p > 0 {
			return p * up
		}
		return p * down
	}
	c = c.each(factor)
	if up == down {
		c.Power = c.Power.Scale(up)
		return c, nil
	}
	var err error
	c.Power, err = profile.Sum(c.Power.Positive().Scale(up), c.Power.Negative().Scale(down))
	return c, err
}

// with returns the cycle with every power p made p + linear |p| + square p².
func (c Cycle) with(linear, square float64) (Cycle, error) {
	c = c.each(func(p float64) float64 { return p + linear*math.Abs(p) + square*p*p })
	parts := []profile.Curve{c.Power}
	if linear != 0 {
		parts = append(parts, c.Power.Positive().Scale(linear), c.Power.Negative().Scale(-linear))
	}
	var err error
	if square != 0 {
		var squared profile.Curve
		if squared, err = profile.Product(c.Power, c.Power); err != nil {
			return Cycle{}, fmt.Errorf("%w: %v", ErrRange, err)
		}
		parts = append(parts, squared.Scale(square))
	}
	if len(parts) == 1 {
		return c, nil
	}
	if c.Power, err = profile.Sum(parts...); err != nil {
		return Cycle{}, fmt.Errorf("%w: %v", ErrRange, err)
	}
	return c, nil
}

// raised returns the cycle with more power all the time.
func (c Cycle) raised(by float64) (Cycle, error) {
	c = c.each(func(p float64) float64 { return p + by })
	more, err := profile.Constant(by, c.Power.Start(), c.Power.End())
	if err == nil {
		c.Power, err = profile.Sum(c.Power, more)
	}
	if err != nil {
		return Cycle{}, fmt.Errorf("%w: %v", ErrRange, err)
	}
	return c, nil
}

// atLeast returns the cycle with every power below a given one raised to it.
func (c Cycle) atLeast(power float64) (Cycle, error) {
	c, err := c.raised(-power)
	if err == nil {
		if c, err = c.times(1, 0); err == nil {
			c, err = c.raised(power)
		}
	}
	return c, err
}

// each returns the cycle with the powers of its pauses mapped.
func (c Cycle) each(f func(power float64) float64) Cycle {
	c.Idle = f(c.Idle)
	waits := make([]Wait, len(c.Waits))
	for i, w := range c.Waits {
		waits[i] = Wait{w.At, f(w.Power)}
	}
	c.Waits = waits
	return c
}

// surplus returns by how much more power at most the station takes in a pause than
// just before or after it, whichever is more [W].
func (c Cycle) surplus() float64 {
	most := 0.0
	for _, w := range c.pauses() {
		around := math.Inf(-1)
		if c.Repeats != Once && (w.At == 0 || w.At == c.Power.Duration()) { // where the cycle goes on
			around = math.Max(c.Power.At(c.Power.Start()), c.Power.At(c.Power.End()))
		}
		for i := range c.Power.Pieces() {
			t0, t1, p := c.Power.Piece(i)
			t0, t1 = t0-c.Power.Start(), t1-c.Power.Start()
			if w.At >= t0 && w.At <= t1 {
				around = math.Max(around, poly.Eval(p, w.At-t0))
			}
		}
		most = math.Max(most, w.Power-around)
	}
	return most
}

// together returns the sum of cycles that repeat and pause alike.
func together(cycles []Cycle) (Cycle, error) {
	sum := Cycle{Repeats: cycles[0].Repeats, Waits: make([]Wait, len(cycles[0].Waits))}
	powers := make([]profile.Curve, len(cycles))
	for i, c := range cycles {
		powers[i] = c.Power
		sum.Idle += c.Idle
		for k, w := range c.Waits {
			sum.Waits[k].At = w.At
			sum.Waits[k].Power += w.Power
		}
	}
	var err error
	if sum.Power, err = profile.Sum(powers...); err != nil {
		return Cycle{}, fmt.Errorf("%w: %v", ErrRange, err)
	}
	return sum, nil
}

// same tells whether two cycles are the same, for sure.
func (c Cycle) same(o Cycle) bool {
	if c.Repeats != o.Repeats || c.Idle != o.Idle || len(c.Waits) != len(o.Waits) || c.Power.Pieces() != o.Power.Pieces() {
		return false
	}
	for i, w := range c.Waits {
		if o.Waits[i] != w {
			return false
		}
	}
	for i := range c.Power.Pieces() {
		s0, s1, p := c.Power.Piece(i)
		t0, t1, q := o.Power.Piece(i)
		if s0 != t0 || s1 != t1 || len(p) != len(q) {
			return false
		}
		for k := range p {
			if p[k] != q[k] {
				return false
			}
		}
	}
	return true
}

// firstOf returns, for each station, the first one that is the same.
func firstOf(stations []Cycle) []int {
	type trait struct {
		pieces      int
		period, end float64
	}
	alike := map[trait][]int{}
	first := make([]int, len(stations))
next:
	for i, s := range stations {
		t := trait{s.Power.Pieces(), s.Power.Duration(), s.Power.At(s.Power.End())}
		for _, k := range alike[t] {
			if s.same(stations[k]) {
				first[i] = k
				continue next
			}
		}
		alike[t] = append(alike[t], i)
		first[i] = i
	}
	return first
}

// peaks returns the sums of the highest powers drawn and returned.
func peaks(stations []Cycle) demand {
	var d demand
	for _, s := range stations {
		lo, hi := s.extremes()
		d.drawn += math.Max(0, hi)
		d.returned += math.Max(0, -lo)
	}
	return d
}

// meanOf returns the highest mean power of all stations together.
func meanOf(stations []Cycle) float64 {
	m := 0.0
	for _, s := range stations {
		m += s.mean(s.Power.Mean(), func(p float64) float64 { return p })
	}
	return m
}

// Standstill is a pause in the course of a station.
type Standstill struct {
	From   float64 // when it begins [s]
	Length float64 // [s]
	Power  float64 // while it lasts [W]
}

// Course returns the power of a station from time 0 to duration [s]: one of its
// cycles begins at offset [s], or would but for the standstills before, which
// follow in order of time and each postpone all that comes after. What happens
// [Once] begins at offset.
func (c Cycle) Course(offset float64, stills []Standstill, duration float64) (profile.Curve, error) {
	var f profile.Faults
	c.check(&f, "cycle")
	f.Finite("offset", offset, "s")
	f.Positive("duration", duration, "s")
	last := 0.0
	for i, s := range stills {
		path := fmt.Sprintf("stills[%d]", i)
		f.Finite(path+".power", s.Power, "W")
		f.NonNegative(path+".length", s.Length, "s")
		if f.Finite(path+".from", s.From, "s") && !(s.From >= last-1e-12*(math.Abs(last)+duration)) && i > 0 {
			f.Add(path+".from", s.From, "not before the one before ends")
		}
		last = s.From + s.Length
	}
	if err := f.Err(); err != nil {
		return profile.Curve{}, err
	}
	var parts []profile.Curve
	now := 0.0
	run := func(until float64) error { // goes on with the cycle
		if until = math.Min(until, duration); !(until > now) {
			return nil
		}
		part, err := c.running(offset-now, until-now)
		if err != nil {
			return err
		}
		parts = append(parts, part.Shift(now))
		now = until
		return nil
	}
	for _, s := range stills {
		if err := run(s.From); err != nil {
			return profile.Curve{}, err
		}
		offset += s.Length
		end := math.Min(s.From+s.Length, duration)
		if end > now {
			still, err := profile.Constant(s.Power, now, end)
			if err != nil {
				return profile.Curve{}, err
			}
			parts = append(parts, still)
			now = end
		}
	}
	if err := run(duration); err != nil {
		return profile.Curve{}, err
	}
	return join(parts)
}

// running returns the station from 0 to duration without pauses, a cycle of which
// begins at offset.
func (c Cycle) running(offset, duration float64) (profile.Curve, error) {
	if c.Repeats != Once {
		return Periodic(c.Power, offset, duration)
	}
	idle, err := profile.Constant(c.Idle, 0, duration)
	if err != nil {
		return profile.Curve{}, err
	}
	event := c.Power.Shift(offset - c.Power.Start())
	t0, t1 := math.Max(0, event.Start()), math.Min(duration, event.End())
	if !(t1 > t0) {
		return idle, nil
	}
	event, err = event.Slice(t0, t1)
	if err != nil {
		return profile.Curve{}, err
	}
	parts := []profile.Curve{event}
	if t0 > 0 {
		before, err := idle.Slice(0, t0)
		if err != nil {
			return profile.Curve{}, err
		}
		parts = []profile.Curve{before, event}
	}
	if t1 < duration {
		after, err := idle.Slice(t1, duration)
		if err != nil {
			return profile.Curve{}, err
		}
		parts = append(parts, after)
	}
	return join(parts)
}

// join puts curves, each of which begins where the one before ends, into one.
func join(parts []profile.Curve) (profile.Curve, error) {
	if len(parts) == 1 {
		return parts[0], nil
	}
	var breaks []float64
	var coefs [][]float64
	for _, p := range parts {
		for i := range p.Pieces() {
			t0, t1, c := p.Piece(i)
			if len(breaks) == 0 {
				breaks = append(breaks, t0)
			}
			if !(t1 > breaks[len(breaks)-1]) {
				continue // too short to tell
			}
			breaks = append(breaks, t1)
			coefs = append(coefs, c)
		}
	}
	return profile.NewCurve(breaks, coefs)
}
