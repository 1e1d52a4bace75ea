package bus

import (
	"math"

	"example.com/headroom/internal/taylor"
)

// What a guard watches; its tag holds the index of the thing besides.
const (
	tagUp        = iota // the sum of the supplies moves to the segment of higher voltage
	tagDown             // or of lower voltage
	tagUndefined        // the loads' power could not be delivered
	tagNear             // the margins of that are to be followed from here on
	tagFloor            // the bus collapses
	tagBrake            // a threshold of a brake resistor is passed
	tagDelay            // and its delay is over
	tagUnder            // the under-voltage limit is passed, either way
	tagOver             // the over-voltage limit is passed, either way
	tagDriven           // a supply's output is driven too high
	tagEndured          // a supply shuts down at its limit
	tagPaused           // and starts again
	tagSpent            // a supply's peak is used up
	tagRecovered        // and available again
	tagTurnOn           // the axes are switched on
	tagKinds
)

// rounding leaves room for what a small margin amplifies.
const rounding = 1e-13

// Guards implements [taylor.System].
func (c *circuit) Guards(dst []taylor.Guard) []taylor.Guard {
	add := func(output int, level, noise float64, rising bool, tag, index int) {
		dst = append(dst, taylor.Guard{Output: output, Level: level, Rising: rising, Noise: noise + c.jitter[output], Tag: tag + index*tagKinds})
	}
	voltage := func(level float64, rising bool, tag, index int) {
		add(outVoltage, level, rounding*level, rising, tag, index)
	}
	if sg := &c.segments[c.segment]; sg.upright {
		amps := rounding * sg.imax
		if c.rs > 0 { // the bank's current is a difference of voltages over it
			amps += rounding * sg.lo / c.rs
		}
		add(outSource, sg.imax, amps, true, tagDown, 0)
		add(outSource, sg.imin, amps, false, tagUp, 0)
	} else {
		if !math.IsInf(sg.hi, 1) {
			voltage(sg.hi, true, tagUp, 0)
		}
		if sg.lo > 0 {
			voltage(sg.lo, false, tagDown, 0)
		}
	}
	for k := c.out.margins; !c.stable && k > 0 && k < c.endOfMargins(); k++ {
		add(k, floorOfD, rounding, false, tagUndefined, 0)
	}
	for k := range c.nodes {
		c.guardNode(k, add)
	}
	if c.mayWake() {
		voltage(c.turnOn, true, tagTurnOn, 0)
	}
	for i := range c.brakes {
		b := &c.brakes[i]
		if b.want {
			voltage(b.OffVoltage, false, tagBrake, i)
		} else {
			voltage(b.OnVoltage, true, tagBrake, i)
		}
		if b.want != b.on {
			add(c.out.timers+b.wait, b.Delay, 0, true, tagDelay, i)
		}
	}
	for i := range c.units {
		c.guardUnit(i, add)
	}
	return dst
}

// guardNode adds the guards of the voltage of node k. Of the levels to which it may fall
// the first is enough.
func (c *circuit) guardNode(k int, add func(output int, level, noise float64, rising bool, tag, index int)) {
	n, out := &c.nodes[k], c.output(k)
	level, tag := 0.0, tagFloor
	if c.awake {
		level = c.floor
	}
	if near := c.near(); c.stable && near > level && c.free(k, &c.segments[c.segment]) {
		level, tag = near, tagNear
	}
	if c.watched(k) {
		if u := c.net.UnderVoltage; u > 0 && n.under {
			add(out, u, rounding*u, true, tagUnder, k)
		} else if u > level {
			level, tag = u, tagUnder
		}
		if o := c.net.OverVoltage; o > 0 {
			add(out, o, rounding*o, !n.over, tagOver, k)
		}
	}
	if level > 0 {
		add(out, level, rounding*level, false, tag, k)
	}
}

// guardUnit adds the guards of what supply i remembers.
func (c *circuit) guardUnit(i int, add func(output int, level, noise float64, rising bool, tag, index int)) {
	u := &c.units[i]
	s := u.regular
	if !u.off && s.OverVoltage > 0 && s.DiodeDrop == 0 {
		add(outVoltage, s.OverVoltage, rounding*s.OverVoltage, true, tagDriven, i)
	}
	if u.wait >= 0 {
		out, rate := c.out.timers+u.wait, c.timers[u.wait].rate
		switch {
		case u.off && rate > 0:
			add(out, u.pause, 0, true, tagPaused, i)
		case rate > 0:
			add(out, s.Endurance, 0, true, tagEndured, i)
		}
	}
	if u.peak >= 0 {
		out, rate := c.out.timers+u.peak, c.timers[u.peak].rate
		switch {
		case rate > 0:
			add(out, s.PeakTime, 0, true, tagSpent, i)
		case rate < 0:
			add(out, 0, 0, false, tagRecovered, i)
		}
	}
}

func (c *circuit) endOfMargins() int {
	if c.out.timers > 0 {
		return c.out.timers
	}
	return c.out.count
}

// expandTimers sets the rates of all timers and fills in their series.
func (c *circuit) expandTimers(x, y []taylor.Series) {
	if len(c.timers) == 0 {
		return
	}
	now := c.segments[c.segment]
	for i := range c.units {
		u := &c.units[i]
		s, p := u.regular, now.part[i]
		if u.wait >= 0 {
			t := &c.timers[u.wait]
			t.rate = 0
			if u.off && u.pause > 0 || !u.off && p.limits && s.Endurance > 0 {
				t.rate = 1
			}
		}
		if u.peak >= 0 {
			t := &c.timers[u.peak]
			switch {
			case p.over:
				t.rate = 1
			case x[t.state][0] > 0:
				t.rate = -s.PeakTime / s.PeakRecovery
			default:
				t.rate = 0
			}
		}
	}
	for i := range c.brakes {
		if b := &c.brakes[i]; b.wait >= 0 {
			c.timers[b.wait].rate = 0
			if b.want != b.on {
				c.timers[b.wait].rate = 1
			}
		}
	}
	for k, t := range c.timers {
		x[t.state] = taylor.Series{x[t.state][0], t.rate}
		y[c.out.timers+k] = x[t.state]
	}
}

// Fire implements [taylor.System].
func (c *circuit) Fire(t float64, g taylor.Guard, x []taylor.Series) bool {
	i := g.Tag / tagKinds
	c.entered = math.NaN()
	c.arrive(t, x)
	c.nodes[0].arrived = math.NaN() // a break at this very instant is not taken for smooth
	c.present(t)
	switch g.Tag % tagKinds {
	case tagUp:
		return c.moveSegment(t, x, -1)
	case tagDown:
		return c.moveSegment(t, x, 1)
	case tagUndefined:
		// Where the source's characteristic has more to give at a lower voltage, the
		// bus jumps to there.
		v := c.voltage(x)
		if !c.settleBelow(x, c.segment+1) {
			return c.collapse(t, v)
		}
		c.moved(t, x, c.nodes[0].v)
		return true
	case tagNear:
		return true
	case tagFloor:
		return c.collapse(t, g.Level)
	case tagBrake:
		if c.rs == 0 {
			x[0][0] = g.Level
		}
		c.ask(t, x, i, !c.brakes[i].want, g.Level)
		if c.brakes[i].wait >= 0 {
			return true
		}
	case tagDelay:
		x[c.timers[c.brakes[i].wait].state][0] = 0
		c.turn(t, i, c.voltage(x))
	case tagUnder:
		c.pass(t, i, UnderVoltage, g.Level)
		if !c.nodes[i].under || !c.release(t) {
			return true
		}
	case tagOver:
		c.pass(t, i, OverVoltage, g.Level)
		if c.nodes[i].over && !c.release(t) || !c.nodes[i].over && !c.mayWake() {
			return true
		}
	case tagDriven:
		c.shut(t, x, i, SupplyOverVoltage, c.units[i].regular.OverVoltagePause, g.Level)
	case tagEndured:
		c.shut(t, x, i, SupplyShutsDown, c.units[i].regular.Pause, c.voltage(x))
	case tagPaused:
		u := &c.units[i]
		x[c.timers[u.wait].state][0] = 0
		if v := c.voltage(x); u.regular.OverVoltage == 0 || u.regular.DiodeDrop > 0 || v < u.regular.OverVoltage {
			u.off = false
			c.record(t, SupplyRestarts, v, i)
			c.regather()
		}
	case tagSpent:
		u := &c.units[i]
		x[c.timers[u.peak].state][0] = u.regular.PeakTime
		u.spent = true
		c.record(t, PeakUsedUp, c.voltage(x), i)
		c.regather()
	case tagRecovered:
		u := &c.units[i]
		x[c.timers[u.peak].state][0] = 0
		if !u.spent {
			return true
		}
		u.spent = false
		c.record(t, PeakAvailable, c.voltage(x), i)
		c.regather()
	case tagTurnOn:
		c.wake(t, true, g.Level)
	}
	return c.enter(t, x)
}

// voltage returns that of the distribution point before something changes.
func (c *circuit) voltage(x []taylor.Series) float64 {
	if c.rs == 0 && !c.segments[c.segment].upright {
		return x[0][0]
	}
	c.balance(&c.segments[c.segment], x)
	return c.nodes[0].v
}

// moveSegment steps to the neighbouring segment of the source, through the
// voltage that both share.
func (c *circuit) moveSegment(t float64, x []taylor.Series, step int) bool {
	border := c.segments[c.segment].lo
	if step < 0 {
		border = c.segments[c.segment].hi
	}
	c.segment += step
	if c.rs == 0 {
		x[0][0] = border
		// An upright segment that could not carry the load either is passed over.
		for c.segments[c.segment].upright && c.segment+step >= 0 && c.segment+step < len(c.segments) {
			sg := &c.segments[c.segment]
			c.balance(sg, x)
			if i := c.held(sg, x); !(i > sg.imax && step > 0 || i < sg.imin && step < 0) {
				break
			}
			c.segment += step
		}
	}
	if c.free(0, &c.segments[c.segment]) && !c.balance(&c.segments[c.segment], x) {
		return c.enter(t, x) // no stable course there
	}
	c.moved(t, x, border)
	return true
}
