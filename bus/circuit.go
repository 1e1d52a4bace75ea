package bus

import (
	"math"

	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// Outputs of the circuit.
const (
	outVoltage = iota // voltage of the bus [V]
	outSource         // current of the source [A]
	outBank           // voltage of the bank without its series resistance [V]
	outRadical        // B² - 4 A D of the quadratic for V, relative to the voltage squared
	outCount
)

// collapseFraction is the part of the start or source voltage below which the
// bus counts as collapsed and the simulation ends: loads of constant power
// would then draw without bound.
const collapseFraction = 0.1

// circuit is the bus as a [taylor.System]: one state, the bank's voltage.
type circuit struct {
	bus Bus
	forcing

	c, rs     float64
	bleed     float64 // conductance [S]
	brake     float64 // conductance of the brake resistor when on [S]
	segments  []segment
	floor     float64
	reference float64 // the scale of voltages [V]

	started bool
	segment int
	brakeOn bool
	under   bool
	over    bool

	events    []Event
	collapsed bool

	p taylor.Series // load power at the time at hand
	// scratch
	b, s, r, q taylor.Series
}

func newCircuit(b Bus, load profile.Curve, start State) *circuit {
	c := &circuit{
		bus: b, forcing: newForcing(load), c: b.Bank.Capacitance, rs: b.Bank.SeriesResistance,
		segments: []segment{{lo: 0, hi: math.Inf(1)}},
		brakeOn:  start.BrakeOn && b.Brake != nil,
	}
	reference := start.Voltage
	if b.Source != nil {
		c.segments = b.Source.characteristic()
		reference = b.Source.NoLoadVoltage()
	}
	c.floor = collapseFraction * reference
	c.reference = math.Max(reference, start.Voltage)
	if b.Bleeder > 0 {
		c.bleed = 1 / b.Bleeder
	}
	if b.Brake != nil {
		c.brake = 1 / b.Brake.Resistance
	}
	return c
}

// drain returns the conductance across the bus besides source and loads.
func (c *circuit) drain() float64 {
	if c.brakeOn {
		return c.bleed + c.brake
	}
	return c.bleed
}

// voltage returns the bus voltage on a sloped segment for bank voltage x and
// load power p; ok is false when the bank cannot give that power through its
// series resistance.
func (c *circuit) voltage(sg segment, x, p float64) (v float64, ok bool) {
	if c.rs == 0 {
		return x, true
	}
	a := 1 + c.rs*(sg.g+c.drain())
	b := x + c.rs*sg.i0
	s := b*b - 4*a*c.rs*p
	if !(s > radicalFloor*b*b) {
		return 0, false
	}
	return (b + math.Sqrt(s)) / (2 * a), true
}

// radicalFloor is the least radical, relative to B², with which the bank still
// counts as able to deliver.
const radicalFloor = 1e-6

// settle chooses the segment on which the source stands for bank voltage x and
// load power p. A constant-power load has two balances of current; that at the
// higher voltage is the stable one, so segments are tried from the top.
func (c *circuit) settle(x, p float64) bool {
	eps := 1e-12 * c.segments[0].lo
	for k, sg := range c.segments {
		if sg.upright {
			if c.rs == 0 && math.Abs(x-sg.lo) > eps {
				continue
			}
			if i := c.uprightCurrent(sg, x, p); i >= 0 && i <= sg.imax {
				c.segment = k
				return true
			}
			continue
		}
		v, ok := c.voltage(sg, x, p)
		if !ok {
			continue
		}
		if v > sg.hi+eps || v < sg.lo-eps {
			continue
		}
		// Without series resistance a voltage on the border of two segments is
		// on both: the blocked one holds it only while the bus rises.
		if k+1 < len(c.segments) && v <= sg.lo+eps && c.rs == 0 && p+c.drain()*v*v >= 0 {
			continue
		}
		c.segment = k
		return true
	}
	return false
}

func (c *circuit) uprightCurrent(sg segment, x, p float64) float64 {
	i := p/sg.lo + c.drain()*sg.lo
	if c.rs > 0 {
		i += (sg.lo - x) / c.rs
	}
	return i
}

// Resume implements [taylor.System]: the load may have jumped, and with series
// resistance the voltage with it.
func (c *circuit) Resume(t float64, x []taylor.Series) bool {
	ok := c.enter(t, x)
	c.started = true
	return ok
}

// enter finds the mode that is consistent at time t, recording what switches.
func (c *circuit) enter(t float64, x []taylor.Series) bool {
	p := c.power(t)
	for range 4 {
		before := c.segment
		if !c.settle(x[0][0], p) {
			return c.collapse(t, 0)
		}
		v := c.present(x[0][0], p)
		if before != c.segment && c.started {
			c.record(t, sourceEvent(c.segments, before, c.segment), v)
		}
		if v <= c.floor {
			return c.collapse(t, v)
		}
		if r := c.bus.Brake; r != nil && !c.brakeOn && v >= r.OnVoltage {
			c.brakeOn = true
			c.record(t, BrakeOn, v)
			continue
		} else if r != nil && c.brakeOn && v <= r.OffVoltage {
			c.brakeOn = false
			c.record(t, BrakeOff, v)
			continue
		}
		c.limits(t, v)
		return true
	}
	return true
}

func (c *circuit) present(x, p float64) float64 {
	sg := c.segments[c.segment]
	if sg.upright {
		return sg.lo
	}
	v, _ := c.voltage(sg, x, p)
	return v
}

func (c *circuit) limits(t, v float64) {
	if u := c.bus.UnderVoltage; u > 0 && (v < u) != c.under {
		c.under = !c.under
		if c.under {
			c.record(t, UnderVoltage, v)
		}
	}
	if o := c.bus.OverVoltage; o > 0 && (v > o) != c.over {
		c.over = !c.over
		if c.over {
			c.record(t, OverVoltage, v)
		}
	}
}

func (c *circuit) collapse(t, v float64) bool {
	c.collapsed = true
	c.record(t, Collapse, v)
	return false
}

func (c *circuit) record(t float64, k EventKind, v float64) {
	c.events = append(c.events, Event{Time: t, Kind: k, Voltage: v})
}

// Expand implements [taylor.System].
func (c *circuit) Expand(t float64, x, y []taylor.Series) (reach float64) {
	reach = c.forcing.expand(t, &c.p)
	sg, g := c.segments[c.segment], c.drain()
	xs, v, is := &x[0], &y[outVoltage], &y[outSource]
	switch {
	case sg.upright:
		*v = taylor.Series{sg.lo}
		for k := range taylor.Order {
			i := 0.0 // current into the bank
			if c.rs > 0 {
				if k == 0 {
					i = sg.lo
				}
				i = (i - xs[k]) / c.rs
			}
			is[k] = c.p[k]/sg.lo + i
			xs[k+1] = i / (c.c * float64(k+1))
		}
		const last = taylor.Order
		is[last] = c.p[last] / sg.lo
		if c.rs > 0 {
			is[last] -= xs[last] / c.rs
		}
		is[0] += g * sg.lo
		y[outRadical] = taylor.Series{1}
	case c.rs == 0:
		for k := 0; ; k++ {
			v[k] = xs[k]
			is[k] = -sg.g * xs[k]
			if k == taylor.Order {
				break
			}
			c.q[k] = taylor.QuotientCoef(&c.q, &c.p, v, k)
			i := -(sg.g+g)*v[k] - c.q[k]
			if k == 0 {
				i += sg.i0
			}
			xs[k+1] = i / (c.c * float64(k+1))
		}
		is[0] += sg.i0
		y[outRadical] = taylor.Series{1}
	default:
		a := 1 + c.rs*(sg.g+g)
		// The currents of bank and source are differences of voltages over their
		// resistances, but for a small resistance the balance with the rest is the
		// better way.
		fromDrop := c.rs*(sg.g+g) > 1
		fromBalance := c.rs*sg.g > 1
		for k := 0; ; k++ {
			c.b[k] = xs[k]
			if k == 0 {
				c.b[0] += c.rs * sg.i0
			}
			c.s[k] = taylor.ProductCoef(&c.b, &c.b, k) - 4*a*c.rs*c.p[k]
			c.r[k] = taylor.SqrtCoef(&c.r, &c.s, k)
			v[k] = (c.b[k] + c.r[k]) / (2 * a)
			c.q[k] = taylor.QuotientCoef(&c.q, &c.p, v, k)
			is[k] = -sg.g * v[k]
			if k == 0 {
				is[0] += sg.i0
			}
			i := is[k] - g*v[k] - c.q[k] // into the bank
			if fromDrop {
				i = (v[k] - xs[k]) / c.rs
			}
			if fromBalance {
				is[k] = i + g*v[k] + c.q[k]
			}
			if k == taylor.Order {
				break
			}
			xs[k+1] = i / (c.c * float64(k+1))
		}
		rad := &y[outRadical]
		n := c.b[0] * c.b[0]
		for k := range rad {
			rad[k] = c.s[k] / n
		}
	}
	y[outBank] = *xs
	return reach
}

// Tags of the guards.
const (
	tagUp         = iota // the source moves to the segment of higher voltage
	tagDown              // or of lower voltage
	tagUndefined         // the bank cannot give the load's power
	tagFloor             // the bus collapses
	tagBrake             // the brake resistor switches
	tagUnderLimit        // the under-voltage limit is passed, either way
	tagOverLimit         // the over-voltage limit is passed, either way
)

// Guards implements [taylor.System].
func (c *circuit) Guards(dst []taylor.Guard) []taylor.Guard {
	const rounding = 1e-13 // leaves room for what a small radical amplifies
	voltage := func(level float64, rising bool, tag int) {
		dst = append(dst, taylor.Guard{Output: outVoltage, Level: level, Rising: rising, Noise: rounding * level, Tag: tag})
	}
	if sg := c.segments[c.segment]; sg.upright {
		amps := rounding * sg.imax
		if c.rs > 0 { // the bank's current is a difference of voltages over it
			amps += rounding * sg.lo / c.rs
		}
		dst = append(dst,
			taylor.Guard{Output: outSource, Level: sg.imax, Rising: true, Noise: amps, Tag: tagDown},
			taylor.Guard{Output: outSource, Level: 0, Noise: amps, Tag: tagUp})
	} else {
		if !math.IsInf(sg.hi, 1) {
			voltage(sg.hi, true, tagUp)
		}
		if sg.lo > 0 {
			voltage(sg.lo, false, tagDown)
		}
		if c.rs > 0 {
			dst = append(dst, taylor.Guard{Output: outRadical, Level: radicalFloor, Noise: rounding, Tag: tagUndefined})
		}
	}
	voltage(c.floor, false, tagFloor)
	if r := c.bus.Brake; r != nil {
		if c.brakeOn {
			voltage(r.OffVoltage, false, tagBrake)
		} else {
			voltage(r.OnVoltage, true, tagBrake)
		}
	}
	if u := c.bus.UnderVoltage; u > 0 {
		voltage(u, c.under, tagUnderLimit)
	}
	if o := c.bus.OverVoltage; o > 0 {
		voltage(o, !c.over, tagOverLimit)
	}
	return dst
}

// Fire implements [taylor.System].
func (c *circuit) Fire(t float64, g taylor.Guard, x []taylor.Series) bool {
	switch g.Tag {
	case tagUp:
		c.moveSegment(t, x, -1)
	case tagDown:
		c.moveSegment(t, x, 1)
	case tagUndefined:
		return c.collapse(t, c.present(x[0][0], c.power(t)))
	case tagFloor:
		return c.collapse(t, g.Level)
	case tagBrake:
		c.brakeOn = !c.brakeOn
		if c.rs == 0 {
			x[0][0] = g.Level
		}
		kind := BrakeOff
		if c.brakeOn {
			kind = BrakeOn
		}
		c.record(t, kind, g.Level)
		return c.enter(t, x)
	case tagUnderLimit:
		if c.under = !c.under; c.under {
			c.record(t, UnderVoltage, g.Level)
		}
	case tagOverLimit:
		if c.over = !c.over; c.over {
			c.record(t, OverVoltage, g.Level)
		}
	}
	return true
}

// moveSegment steps to the neighbouring segment of the source, through the
// voltage that both share.
func (c *circuit) moveSegment(t float64, x []taylor.Series, step int) {
	from := c.segment
	border := c.segments[from].lo
	if step < 0 {
		border = c.segments[from].hi
	}
	c.segment += step
	if c.rs == 0 {
		x[0][0] = border
	}
	// An upright segment that could not carry the load either is passed over.
	if sg := c.segments[c.segment]; sg.upright {
		if i := c.uprightCurrent(sg, x[0][0], c.power(t)); c.rs == 0 && (i > sg.imax && step > 0 || i < 0 && step < 0) {
			c.segment += step
		}
	}
	c.record(t, sourceEvent(c.segments, from, c.segment), border)
}
