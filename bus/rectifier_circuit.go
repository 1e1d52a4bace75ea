package bus

import (
	"math"

	"example.com/headroom/internal/taylor"
)

// Outputs of the rectifier's circuit.
const (
	rectVoltage = iota // of the bus [V]
	rectBank           // of the bank without its series resistance [V]
	rectSum            // rectified current [A]
	rectLines          // currents of the lines, three of them [A]
	rectKept    = rectLines + 3
	rectRadical = rectKept     // what the bank's series resistance leaves, see [rectifierCircuit.Expand]
	rectClock   = rectKept + 1 // time [s]
	rectGaps    = rectKept + 2 // by how much what could conduct is driven, six of them [V]
	rectOutputs = rectGaps + 6
)

// States of the rectifier's circuit.
const (
	rectStateBank  = iota // voltage of the bank [V]
	rectStateLines        // currents of the first two lines [A]; not used without inductance
	rectStates     = rectStateLines + 2
)

// leg is one of the two or three lines with its two diodes.
type leg struct {
	phase float64 // of its EMF [rad]
	e     taylor.Series
	on    int // 1: its upper diode conducts, into the bus; -1: its lower one; 0: none
}

// rectifierCircuit is a rectifier with the bank and what is on the bus, as a
// [taylor.System]. The return of single-phase mains counts as a leg of its own,
// with half the EMF and half the impedance in each, so that all connections
// follow the same equations. With n the voltage of the star point of the EMFs
// over the negative pole, for every leg that conducts
//
//	e + n = L di/dt + R i + (v + Vd  or  -Vd)
//
// and, since the currents i add up to nothing, n is the mean over these legs of
// what stands on the right but for L and R, less e. The current into the bus is
// the sum of the positive i: a - g v with g = 0 where there is inductance. The
// bus voltage then follows as that of [circuit]:
//
//	(1 + Rs (G + g)) v² - (Vc + Rs (a - I)) v + Rs P = 0
type rectifierCircuit struct {
	bus           Bus
	power, draw   forcing // constant-power load [W], constant-current load [A]
	loaded        bool    // either is not zero on the piece at hand
	powered       bool    // there is power on the piece at hand
	legs          []leg
	crest         float64 // of the EMF of one leg [V]
	omega, r, l   float64 // of one leg
	threshold     float64 // of one leg [V]
	angle, origin float64 // phase of the EMFs at time origin [rad], [s]
	oneWay        bool    // half wave: the first leg conducts upwards only
	amps          float64 // short-circuit current [A]

	c, rs, bleed float64
	drain        float64 // of bleeder and brake resistors [S]
	clamp        []segment
	clampAt      int
	floor        float64 // bus voltage at which it counts as collapsed [V]
	volts        float64 // scale [V]
	brakes       []rectBrake
	under, over  bool
	released     bool    // a trip switched the axes off
	late         float64 // magnitude of the time at hand [s]

	events    []Event
	collapsed bool

	p, i, b, s, root, q taylor.Series // scratch
	star                taylor.Series
	lines               [3]taylor.Series
}

type rectBrake struct {
	BrakeResistor
	want, on bool
	due      float64 // when it switches [s]
}

// newRectifierCircuit returns the circuit, without load, at the phase angle at
// time origin.
func newRectifierCircuit(r Rectifier, b Bus, angle, origin float64) *rectifierCircuit {
	c := &rectifierCircuit{
		bus: b, omega: r.omega(), angle: angle, origin: origin,
		c: b.Bank.Capacitance, rs: b.Bank.SeriesResistance,
		oneWay: r.Kind == HalfWave, amps: r.crest() / r.impedance(),
		volts: r.crest(), floor: collapseFraction * r.NoLoadVoltage(),
	}
	if b.Bleeder > 0 {
		c.bleed = 1 / b.Bleeder
	}
	if b.Clamp != nil {
		c.clamp = b.Clamp.characteristic()
	}
	for _, k := range b.Brakes {
		c.brakes = append(c.brakes, rectBrake{BrakeResistor: k})
	}
	if r.Kind == ThreePhaseBridge {
		c.legs = []leg{{phase: 0}, {phase: -2 * math.Pi / 3}, {phase: 2 * math.Pi / 3}}
		c.crest, c.r, c.l = r.crest()/math.Sqrt(3), r.Resistance+r.DiodeResistance, r.Inductance
		c.threshold = r.DiodeThreshold
	} else {
		c.legs = []leg{{phase: 0}, {phase: math.Pi}}
		res, ind := r.loop()
		c.crest, c.r, c.l = r.crest()/2, res/2, ind/2
		c.threshold = r.Kind.inSeries() * r.DiodeThreshold / 2
	}
	c.drains()
	return c
}

func (c *rectifierCircuit) drains() {
	c.drain = c.bleed
	for _, k := range c.brakes {
		if k.on {
			c.drain += 1 / k.Resistance
		}
	}
}

// Resume implements [taylor.System].
func (c *rectifierCircuit) Resume(t float64, x []taylor.Series) bool {
	c.powered, c.loaded = false, false
	if !c.released {
		for _, f := range []*forcing{&c.power, &c.draw} {
			if f.empty() {
				continue
			}
			f.seek(t)
			_, _, coefs := f.load.Piece(f.piece)
			for _, a := range coefs {
				if a != 0 {
					c.loaded = true
					c.powered = c.powered || f == &c.power
				}
			}
		}
	}
	return c.check(t, x)
}

// check sees to it that the bus can be where it is at time t.
func (c *rectifierCircuit) check(t float64, x []taylor.Series) bool {
	v, ok := c.present(t, x)
	if !ok || c.loaded && v <= c.floor {
		return c.collapse(t, v)
	}
	return true
}

// present returns the bus voltage at time t; false when the bank cannot give the
// load's power through its series resistance.
func (c *rectifierCircuit) present(t float64, x []taylor.Series) (float64, bool) {
	v := x[rectStateBank][0]
	if c.rs == 0 {
		return v, true
	}
	c.emfs(t)
	a, g := c.rectified(x, 0)
	var p, i float64
	if c.powered {
		p = c.power.power(t)
	}
	if c.loaded && !c.draw.empty() {
		i = c.draw.power(t)
	}
	ci, cg := c.clamped()
	den := 1 + c.rs*(c.drain+g+cg)
	b := v + c.rs*(a+ci-i)
	s := b*b - 4*den*c.rs*p
	if !(s > rectRadicalFloor*b*b) || !(b > 0) && p != 0 {
		return 0, s == 0 && p == 0
	}
	if p == 0 {
		return b / den, true
	}
	return (b + math.Sqrt(s)) / (2 * den), true
}

// rectRadicalFloor is the least radical, relative to the square of the sum of
// voltages, with which the bank still counts as able to deliver.
const rectRadicalFloor = 1e-6

// clamped returns the clamp's current into the bus as i - g v.
func (c *rectifierCircuit) clamped() (i, g float64) {
	if len(c.clamp) == 0 {
		return 0, 0
	}
	s := c.clamp[c.clampAt]
	return s.i0, s.g
}

// emfs fills in the series of the EMFs at time t.
func (c *rectifierCircuit) emfs(t float64) {
	for k := range c.legs {
		sinusoid(&c.legs[k].e, c.crest, c.omega, c.angle+c.omega*(t-c.origin)+c.legs[k].phase)
	}
}

// sinusoid fills in the series of crest·sin(ω τ + phase).
func sinusoid(e *taylor.Series, crest, omega, phase float64) {
	s, cos := math.Sincos(phase)
	e[0], e[1] = crest*s, crest*omega*cos
	for k := 2; k < len(e); k++ {
		e[k] = -omega * omega * e[k-2] / float64(k*(k-1))
	}
}

// conducting returns how many legs conduct upwards and how many in all.
func (c *rectifierCircuit) conducting() (up, all int) {
	for k := range c.legs {
		if c.legs[k].on != 0 {
			all++
		}
		if c.legs[k].on > 0 {
			up++
		}
	}
	return up, all
}

// starOf returns coefficient k of the star point's voltage but for its share h of
// the bus voltage: n = n0 + h v.
func (c *rectifierCircuit) starOf(k int) (n0, h float64) {
	up, all := c.conducting()
	for j := range c.legs {
		l := &c.legs[j]
		if l.on == 0 {
			continue
		}
		n0 -= l.e[k]
		if k == 0 {
			n0 += float64(l.on) * c.threshold
		}
	}
	return n0 / float64(all), float64(up) / float64(all)
}

// rectified returns coefficient k of a and the conductance g of the current into
// the bus, a - g v.
func (c *rectifierCircuit) rectified(x []taylor.Series, k int) (a, g float64) {
	up, all := c.conducting()
	if all == 0 {
		return 0, 0
	}
	if c.l > 0 {
		for j := range c.legs {
			if c.legs[j].on > 0 {
				a += c.state(x, j, k)
			}
		}
		return a, 0
	}
	n0, h := c.starOf(k)
	for j := range c.legs {
		if l := &c.legs[j]; l.on > 0 {
			a += l.e[k] + n0
			if k == 0 {
				a -= c.threshold
			}
		}
	}
	return a / c.r, float64(up) * (1 - h) / c.r
}

// state returns coefficient k of the current of leg j where it is a state.
func (c *rectifierCircuit) state(x []taylor.Series, j, k int) float64 {
	if j < len(c.legs)-1 {
		return x[rectStateLines+j][k]
	}
	s := -x[rectStateLines][k]
	if len(c.legs) == 3 {
		s -= x[rectStateLines+1][k]
	}
	return s
}

// Expand implements [taylor.System].
func (c *rectifierCircuit) Expand(t float64, x, y []taylor.Series) (reach float64) {
	reach = math.Inf(1)
	c.late = math.Abs(t)
	clear(c.p[:])
	clear(c.i[:])
	if c.powered {
		reach = math.Min(reach, c.power.expand(t, &c.p))
	}
	if c.loaded && !c.draw.empty() {
		reach = math.Min(reach, c.draw.expand(t, &c.i))
	}
	c.emfs(t)
	_, all := c.conducting()
	ci, cg := c.clamped()
	xs, v, sum := &x[rectStateBank], &y[rectVoltage], &y[rectSum]
	_, g := c.rectified(x, 0)
	den := 1 + c.rs*(c.drain+g+cg)
	// Without inductance currents are differences of voltages over resistances:
	// the larger of these loses less.
	fromBank := c.rs*g > 1
	y[rectRadical] = taylor.Series{1}
	for k := 0; ; k++ {
		a, _ := c.rectified(x, k)
		switch {
		case c.rs == 0:
			v[k] = xs[k]
		default:
			c.b[k] = xs[k] + c.rs*(a-c.i[k])
			if k == 0 {
				c.b[0] += c.rs * ci
			}
			if !c.powered {
				v[k] = c.b[k] / den
				break
			}
			c.s[k] = taylor.ProductCoef(&c.b, &c.b, k) - 4*den*c.rs*c.p[k]
			c.root[k] = taylor.SqrtCoef(&c.root, &c.s, k)
			v[k] = (c.b[k] + c.root[k]) / (2 * den)
			y[rectRadical][k] = c.s[k] / (c.b[0] * c.b[0])
		}
		out := (c.drain+cg)*v[k] + c.i[k] // of the bus, besides the bank
		if k == 0 {
			out -= ci
		}
		if c.powered {
			c.q[k] = taylor.QuotientCoef(&c.q, &c.p, v, k)
			out += c.q[k]
		}
		var into float64 // the bank
		if fromBank {
			into = (v[k] - xs[k]) / c.rs
			sum[k] = into + out
		} else {
			sum[k] = a - g*v[k]
			into = sum[k] - out
		}
		if all > 0 {
			c.expandLines(x, v, sum, k)
		}
		if k == taylor.Order {
			break
		}
		xs[k+1] = into / (c.c * float64(k+1))
		if all == 0 || c.l == 0 {
			x[rectStateLines][k+1], x[rectStateLines+1][k+1] = 0, 0
		}
	}
	y[rectBank] = *xs
	y[rectClock] = taylor.Series{t, 1}
	for j := range 3 {
		if j < len(c.legs) && all > 0 {
			y[rectLines+j] = c.lines[j]
		} else {
			clear(y[rectLines+j][:])
		}
	}
	c.gaps(y, v)
	return reach
}

// expandLines fills in coefficient k of the lines' currents, and k+1 of those
// that are states. Without inductance the legs that conduct the same way share
// the rectified current equally but for the differences of their EMFs.
func (c *rectifierCircuit) expandLines(x []taylor.Series, v, sum *taylor.Series, k int) {
	n0, h := c.starOf(k)
	c.star[k] = n0 + h*v[k]
	up, all := c.conducting()
	for j := range c.legs {
		l := &c.legs[j]
		i := 0.0
		switch {
		case l.on == 0:
		case c.l > 0:
			i = c.state(x, j, k)
		default:
			n := all - up
			if l.on > 0 {
				n = up
			}
			mean := 0.0
			for m := range c.legs {
				if c.legs[m].on == l.on {
					mean += c.legs[m].e[k] / float64(n)
				}
			}
			i = (l.e[k]-mean)/c.r + float64(l.on)*sum[k]/float64(n)
		}
		c.lines[j][k] = i
		if c.l == 0 || j == len(c.legs)-1 || k == taylor.Order {
			continue
		}
		drive := 0.0 // along the inductance
		if l.on != 0 {
			drive = l.e[k] + c.star[k] - c.r*i
			if l.on > 0 {
				drive -= v[k]
			}
			if k == 0 {
				drive -= float64(l.on) * c.threshold
			}
		}
		x[rectStateLines+j][k+1] = drive / (c.l * float64(k+1))
	}
	if len(c.legs) == 2 {
		x[rectStateLines+1][min(k+1, taylor.Order)] = 0
	}
}

// gaps fills in by how much the legs that could begin to conduct are driven.
func (c *rectifierCircuit) gaps(y []taylor.Series, v *taylor.Series) {
	for n := range 6 {
		clear(y[rectGaps+n][:])
	}
	_, all := c.conducting()
	switch all {
	case 0:
		c.pairs(func(n, j, m int) {
			gap := &y[rectGaps+n]
			for k := range gap {
				gap[k] = c.legs[j].e[k] - c.legs[m].e[k] - v[k]
			}
			gap[0] -= 2 * c.threshold
		})
	case 2:
		for j := range c.legs {
			if c.legs[j].on != 0 {
				continue
			}
			up, down := &y[rectGaps], &y[rectGaps+1]
			for k := range up {
				u := c.legs[j].e[k] + c.star[k]
				up[k], down[k] = u-v[k], -u
			}
			up[0] -= c.threshold
			down[0] -= c.threshold
		}
	}
}

// pairs calls f for every pair of legs that could conduct together, j upwards
// and m downwards, with its number n.
func (c *rectifierCircuit) pairs(f func(n, j, m int)) {
	n := 0
	for j := range c.legs {
		for m := range c.legs {
			if m == j || c.oneWay && j == 1 {
				continue
			}
			f(n, j, m)
			n++
		}
	}
}

// Tags of the guards; those with an index are followed by others of their kind.
const (
	rectFloor = iota
	rectUndefined
	rectUnder
	rectOver
	rectClampUp
	rectClampDown
	rectOff            // leg ceases to conduct
	rectOn       = 10  // leg begins to conduct: upwards, downwards; or pair
	rectBrakeTag = 100 // three for each brake resistor: threshold, other threshold, due
)

// Guards implements [taylor.System].
func (c *rectifierCircuit) Guards(dst []taylor.Guard) []taylor.Guard {
	const rounding = 1e-13
	// The EMFs also differ by what they change within the rounding of the time.
	wave := rounding + 4*0x1p-52*c.omega*c.late
	_, all := c.conducting()
	for j := range c.legs {
		if l := &c.legs[j]; l.on != 0 && (len(c.legs) == 3 || j == 0) {
			dst = append(dst, taylor.Guard{Output: rectLines + j, Rising: l.on < 0, Noise: wave * c.amps, Tag: rectOff + j})
		}
	}
	gaps := 0
	switch {
	case all == 0:
		c.pairs(func(n, _, _ int) { gaps++ })
	case all < len(c.legs):
		gaps = 2
	}
	for n := range gaps {
		dst = append(dst, taylor.Guard{Output: rectGaps + n, Rising: true, Noise: wave * c.volts, Tag: rectOn + n})
	}
	voltage := func(level float64, rising bool, tag int) {
		dst = append(dst, taylor.Guard{Output: rectVoltage, Level: level, Rising: rising, Noise: rounding * level, Tag: tag})
	}
	if c.loaded {
		voltage(c.floor, false, rectFloor)
	}
	if c.rs > 0 && c.powered {
		dst = append(dst, taylor.Guard{Output: rectRadical, Level: rectRadicalFloor, Noise: rounding, Tag: rectUndefined})
	}
	if len(c.clamp) > 0 {
		s := c.clamp[c.clampAt]
		if c.clampAt > 0 {
			voltage(s.hi, true, rectClampUp)
		}
		if s.lo > 0 {
			voltage(s.lo, false, rectClampDown)
		}
	}
	for n := range c.brakes {
		k := &c.brakes[n]
		if k.want {
			voltage(k.OffVoltage, false, rectBrakeTag+3*n)
		} else {
			voltage(k.OnVoltage, true, rectBrakeTag+3*n)
		}
		if k.want != k.on {
			dst = append(dst, taylor.Guard{Output: rectClock, Level: k.due, Rising: true, Tag: rectBrakeTag + 3*n + 2})
		}
	}
	if u := c.bus.UnderVoltage; u > 0 {
		voltage(u, c.under, rectUnder)
	}
	if o := c.bus.OverVoltage; o > 0 {
		voltage(o, !c.over, rectOver)
	}
	return dst
}

// Fire implements [taylor.System].
func (c *rectifierCircuit) Fire(t float64, g taylor.Guard, x []taylor.Series) bool {
	switch tag := g.Tag; {
	case tag == rectFloor:
		return c.collapse(t, g.Level)
	case tag == rectUndefined:
		v, _ := c.present(t, x)
		return c.collapse(t, v)
	case tag == rectUnder:
		if c.under = !c.under; c.under {
			return c.trip(t, UnderVoltage, g.Level, x)
		}
	case tag == rectOver:
		if c.over = !c.over; c.over {
			return c.trip(t, OverVoltage, g.Level, x)
		}
	case tag == rectClampUp:
		c.clampAt--
	case tag == rectClampDown:
		c.clampAt++
	case tag >= rectBrakeTag:
		n := (tag - rectBrakeTag) / 3
		k := &c.brakes[n]
		if (tag-rectBrakeTag)%3 == 0 {
			k.want = !k.want
			if k.due = t + k.Delay; k.Delay > 0 || k.want == k.on {
				return true
			}
		}
		c.turn(t, n, x)
		return c.check(t, x)
	case tag >= rectOn:
		c.begin(tag-rectOn, x)
	default:
		c.cease(tag-rectOff, x)
	}
	return true
}

// turn switches brake resistor n as its thresholds want it.
func (c *rectifierCircuit) turn(t float64, n int, x []taylor.Series) {
	k := &c.brakes[n]
	v, _ := c.present(t, x)
	k.on = k.want
	kind := BrakeOff
	if k.on {
		kind = BrakeOn
	}
	c.events = append(c.events, Event{Time: t, Kind: kind, Voltage: v, Index: n})
	c.drains()
}

// trip records that a limit was passed.
func (c *rectifierCircuit) trip(t float64, kind EventKind, v float64, x []taylor.Series) bool {
	c.events = append(c.events, Event{Time: t, Kind: kind, Voltage: v})
	if c.bus.TripsRelease && !c.released {
		c.released = true
		c.events = append(c.events, Event{Time: t, Kind: LoadsOff, Voltage: v})
		return c.Resume(t, x)
	}
	return true
}

func (c *rectifierCircuit) collapse(t, v float64) bool {
	c.collapsed = true
	c.events = append(c.events, Event{Time: t, Kind: Collapse, Voltage: v})
	return false
}

// begin lets begin to conduct what gap n is of.
func (c *rectifierCircuit) begin(n int, x []taylor.Series) {
	if _, all := c.conducting(); all == 0 {
		c.pairs(func(k, j, m int) {
			if k == n {
				c.legs[j].on, c.legs[m].on = 1, -1
			}
		})
		x[rectStateLines][0], x[rectStateLines+1][0] = 0, 0
		return
	}
	for j := range c.legs {
		if c.legs[j].on == 0 {
			c.legs[j].on = 1 - 2*n
			return
		}
	}
}

// cease ends the conduction of leg j, and of others that are left without a
// counterpart.
func (c *rectifierCircuit) cease(j int, x []taylor.Series) {
	c.legs[j].on = 0
	if up, all := c.conducting(); up == 0 || up == all {
		for k := range c.legs {
			c.legs[k].on = 0
		}
		x[rectStateLines][0], x[rectStateLines+1][0] = 0, 0
		return
	}
	if c.l == 0 || len(c.legs) == 2 {
		return
	}
	switch j {
	case 0, 1:
		x[rectStateLines+j][0] = 0
	case 2:
		x[rectStateLines+1][0] = -x[rectStateLines][0]
	}
}
