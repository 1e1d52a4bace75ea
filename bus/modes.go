package bus

import (
	"math"

	"example.com/headroom/internal/taylor"
)

// settle chooses the segment on which the source stands. A load of constant
// power has two balances of current; that at the higher voltage is the stable
// one, so segments are tried from the top.
func (c *circuit) settle(x []taylor.Series) bool { return c.settleBelow(x, 0) }

// settleBelow does it on segment first or below.
func (c *circuit) settleBelow(x []taylor.Series, first int) bool {
	eps := 1e-12 * c.reference
	for k := first; k < len(c.segments); k++ {
		sg := &c.segments[k]
		if sg.upright && c.rs == 0 && math.Abs(x[0][0]-sg.lo) > eps {
			continue
		}
		if !c.balance(sg, x) {
			continue
		}
		v := c.nodes[0].v
		if sg.upright {
			if i := c.held(sg, x); i < sg.imin || i > sg.imax {
				continue
			}
		} else if v > sg.hi+eps || v < sg.lo-eps {
			continue
		} else if k+1 < len(c.segments) && v <= sg.lo+eps && c.rs == 0 && sg.at(v)-c.taken() <= 0 {
			// Without series resistance a voltage on the border of two segments is on
			// both: the upper one holds it only while the bus rises.
			continue
		}
		c.segment = k
		return true
	}
	return false
}

// held returns the current with which the source holds the bus on an upright
// segment.
func (c *circuit) held(sg *segment, x []taylor.Series) float64 {
	i := c.taken()
	if c.rs > 0 {
		i += (sg.lo - x[0][0]) / c.rs
	}
	return i
}

// Resume implements [taylor.System]: the load may have jumped, and with it the
// voltage of what follows without delay.
func (c *circuit) Resume(t float64, x []taylor.Series) bool {
	c.arrive(t, x)
	if c.goesOn(t) && c.balance(&c.segments[c.segment], x) {
		c.entered = t
		return true
	}
	ok := c.enter(t, x)
	c.started = true
	return ok
}

// goesOn reports whether the load did not jump at t: then nothing switches but by a guard.
func (c *circuit) goesOn(t float64) bool {
	if math.IsNaN(c.expanded) {
		return false
	}
	same := true
	for k := range c.nodes {
		n := &c.nodes[k]
		g := n.g
		c.presentAt(n, t)
		same = same && n.g == g && math.Abs(n.p[0]-n.arrived) <= rounding*n.load.peak
	}
	return same
}

// enter finds the mode that is consistent at time t, recording what switches.
func (c *circuit) enter(t float64, x []taylor.Series) bool {
	for range 8 + 2*len(c.brakes) + 2*len(c.units) {
		c.present(t)
		if !c.settle(x) {
			return c.collapse(t, 0)
		}
		v := c.nodes[0].v
		c.moved(t, x, v)
		for k := range c.nodes {
			if c.nodes[k].v <= c.floor && c.awake {
				return c.collapse(t, c.nodes[k].v)
			}
		}
		if !c.switches(t, x, v) && !c.limits(t) {
			c.entered = t
			return true
		}
	}
	c.entered = math.NaN()
	return true
}

// present evaluates loads and conductances just after t.
func (c *circuit) present(t float64) {
	for k := range c.nodes {
		c.presentAt(&c.nodes[k], t)
	}
}

func (c *circuit) presentAt(n *node, t float64) {
	n.p[0] = 0
	if c.awake && !n.load.empty() {
		n.p[0] = n.load.power(t)
	}
	n.g = 0
	for i := range n.switched {
		n.g += n.switched[i].power(t)
	}
}

// moved records what the supplies did when the segment changed, and lets go of
// timers that no longer count.
func (c *circuit) moved(t float64, x []taylor.Series, v float64) {
	for i := range c.units {
		u, is := &c.units[i], c.segments[c.segment].part[i]
		if u.wait >= 0 && !u.off && !is.limits {
			x[c.timers[u.wait].state][0] = 0
		}
		kind := is.kind()
		if c.started && kind != u.does && !u.off {
			c.record(t, kind, v, i)
		}
		u.does = kind
	}
}

// kind names what a supply does.
func (p part) kind() EventKind {
	switch {
	case p.limits:
		return SourceLimits
	case p.i0 == 0 && p.g == 0 && !p.upright:
		return SourceBlocks
	}
	return SourceConducts
}

// switches changes one thing that the voltage v asks for, if there is one.
func (c *circuit) switches(t float64, x []taylor.Series, v float64) bool {
	for i := range c.units {
		u := &c.units[i]
		if s := u.regular; !u.off && s.OverVoltage > 0 && s.DiodeDrop == 0 && v >= s.OverVoltage {
			c.shut(t, x, i, SupplyOverVoltage, s.OverVoltagePause, v)
			return true
		}
	}
	for i := range c.brakes {
		b := &c.brakes[i]
		if want := !b.want; want && v >= b.OnVoltage || !want && v <= b.OffVoltage {
			c.ask(t, x, i, want, v)
			return true
		}
	}
	if c.mayWake() && v >= c.turnOn {
		c.wake(t, true, v)
		return true
	}
	return false
}

// ask passes a threshold of brake i.
func (c *circuit) ask(t float64, x []taylor.Series, i int, want bool, v float64) {
	b := &c.brakes[i]
	b.want = want
	if b.wait < 0 {
		c.turn(t, i, v)
		return
	}
	x[c.timers[b.wait].state][0] = 0
}

// turn switches brake i to what was asked for.
func (c *circuit) turn(t float64, i int, v float64) {
	b := &c.brakes[i]
	b.on = b.want
	c.drains()
	kind := BrakeOff
	if b.on {
		kind = BrakeOn
	}
	c.record(t, kind, v, i)
}

// shut switches supply i off.
func (c *circuit) shut(t float64, x []taylor.Series, i int, why EventKind, pause, v float64) {
	u := &c.units[i]
	u.off, u.pause = true, pause
	x[c.timers[u.wait].state][0] = 0
	c.record(t, why, v, i)
	c.regather()
}

// regather takes up a change of a supply; the segment has to be found anew.
func (c *circuit) regather() {
	c.gather()
	c.segment = 0
}

// mayWake reports whether the axes are switched on at their voltage: not while a
// drive is above its limit.
func (c *circuit) mayWake() bool {
	if c.awake || !(c.turnOn > 0) {
		return false
	}
	for k := range c.nodes {
		if c.nodes[k].over {
			return false
		}
	}
	return true
}

func (c *circuit) wake(t float64, on bool, v float64) {
	c.awake = on
	kind := LoadsOff
	if on {
		kind = LoadsOn
		c.floor = math.Max(c.floor, collapseFraction*math.Min(c.reference, c.turnOn))
	}
	c.record(t, kind, v, 0)
}

// limits looks after the limits at which drives trip, everywhere. It reports
// whether the loads were switched off.
func (c *circuit) limits(t float64) bool {
	tripped := false
	for k := range c.nodes {
		n := &c.nodes[k]
		if u := c.net.UnderVoltage; u > 0 && c.watched(k) && passed(u-n.v, u, n.under) {
			c.pass(t, k, UnderVoltage, n.v)
			tripped = tripped || n.under
		}
		if o := c.net.OverVoltage; o > 0 && c.watched(k) && passed(n.v-o, o, n.over) {
			c.pass(t, k, OverVoltage, n.v)
			tripped = tripped || n.over
		}
	}
	return tripped && c.release(t)
}

// passed reports whether a voltage that is excess beyond a limit, or no longer, has
// passed it. At the limit itself, where it was just passed, it has not come back.
func passed(excess, limit float64, beyond bool) bool {
	if beyond {
		return excess < -1e-12*limit
	}
	return excess > 0
}

// watched reports whether node k has a drive whose limits count.
func (c *circuit) watched(k int) bool {
	return k > 0 || len(c.nodes) == 1 || !c.nodes[0].load.empty()
}

// pass goes beyond a limit at node k, or back.
func (c *circuit) pass(t float64, k int, limit EventKind, v float64) {
	n := &c.nodes[k]
	beyond := &n.under
	if limit == OverVoltage {
		beyond = &n.over
	}
	if *beyond = !*beyond; *beyond && c.awake {
		c.record(t, limit, v, k)
	}
}

// release switches the axes off if that is what follows a trip.
func (c *circuit) release(t float64) bool {
	if !c.net.TripsRelease || !c.awake {
		return false
	}
	c.wake(t, false, c.nodes[0].v)
	return true
}

func (c *circuit) collapse(t, v float64) bool {
	c.collapsed = true
	c.record(t, Collapse, v, 0)
	return false
}

func (c *circuit) record(t float64, k EventKind, v float64, index int) {
	c.events = append(c.events, Event{Time: t, Kind: k, Voltage: v, Index: index})
}
