package bus

import (
	"math"
	"slices"

	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// Outputs of the circuit that are always there; those of circuit.out follow.
const (
	outVoltage = iota // voltage of the distribution point [V]
	outSource         // current of all supplies [A]
	outBank           // voltage of the bank without its series resistance [V]
	outRest
)

// outputs tells where the rest of the outputs are; 0: there are none.
type outputs struct {
	ends    int // voltages of the ends of feeders [V]
	clamp   int // current of the clamp [A]
	units   int // current of every supply, where there are several [A]
	kept    int // how many are to be kept
	margins int // of the free nodes, see [circuit.margins]
	timers  int // [s]
	count   int
}

// collapseFraction is the part of the start or source voltage below which the
// bus counts as collapsed and the simulation ends: loads of constant power
// would then draw without bound.
const collapseFraction = 0.1

// circuit is a network as a [taylor.System]. Its states are the voltage of the
// bank, those of the ends of feeders that have one, and the timers.
type circuit struct {
	net        Network
	nodes      []node
	anyFreeEnd bool
	anyState   bool // of the end of a feeder
	out        outputs

	c, rs     float64 // of the bank, with what is lumped to it
	bleed     float64 // conductance [S]
	drain     float64 // of bleeder and brake resistors that are on [S]
	floor     float64
	reference float64 // the scale of voltages [V]
	current   float64 // and of currents [A], see [circuit.scales]

	units    []unit
	clamp    []segment
	segments []segment // of all supplies and the clamp together
	segment  int
	brakes   []brake
	timers   []timer

	tolerance float64 // of one step, as [Tolerance]

	// Where only the extremes of voltages are asked for: when the bank was left to be filled
	// by [circuit.leap] [s], NaN: not; by which voltage, and what it had less [V].
	extremes               bool
	leapt, heldAt, missing float64

	started  bool
	stable   bool    // the margins are far for as long as no free node is near, see [circuit.clearlyStable]
	expanded float64 // when the series were found, or followed to [s]; NaN: not yet
	entered  float64 // when the balance of currents was last found by [circuit.enter], and still holds [s]; NaN: not
	awake    bool    // the axes take and return power
	turnOn   float64 // they do from this voltage on, if they were not [V]; 0: never

	events      []Event
	collapsed   bool
	bankCurrent taylor.Series
	jitter      []float64 // what every output moves within a tick of the clock
}

// unit is one supply.
type unit struct {
	source  Source
	regular SwitchMode // with its kinds of memory, if it is one
	does    EventKind  // block, conduct or limit, at present
	spent   bool       // its peak is used up
	off     bool       // it shut down
	pause   float64    // until it starts again [s]; 0: never
	peak    int        // timer of the peak, or -1
	wait    int        // timer of what it bears at its limit, or of the pause, or -1
}

// brake is one brake resistor.
type brake struct {
	BrakeResistor
	want  bool // what the thresholds ask for
	on    bool
	first bool // whether it was on at the start, then in the book as it proceeds
	wait  int  // timer of the delay, or -1
}

// timer is a state that counts time.
type timer struct {
	state int
	rate  float64 // at present
	scale float64 // [s]
}

// newCircuit returns the circuit of a network, with its states at the start.
func newCircuit(net Network, loads []profile.Curve, start State) (*circuit, []float64) {
	c := &circuit{
		tolerance: Tolerance,
		net:       net, c: net.Bank.Capacitance, rs: net.Bank.SeriesResistance,
		nodes: make([]node, 1+len(net.Feeders)), awake: !start.asleep, turnOn: start.turnOn,
		entered: math.NaN(), leapt: math.NaN(), expanded: math.NaN(),
	}
	reference := start.Voltage
	for _, s := range supplies(net.Source) {
		u := unit{source: s, peak: -1, wait: -1}
		u.regular, _ = s.(SwitchMode)
		c.units = append(c.units, u)
	}
	if net.Source != nil {
		reference = net.Source.NoLoadVoltage()
	}
	c.reference = math.Max(reference, start.Voltage)
	if c.awake {
		c.floor = collapseFraction * reference
	}
	if net.Bleeder > 0 {
		c.bleed = 1 / net.Bleeder
	}
	if net.Clamp != nil {
		c.clamp = net.Clamp.characteristic()
	}
	x := c.place(loads, start)
	x = c.addTimers(x, start)
	c.layOut()
	c.gather()
	c.drains()
	return c, x
}

// place sets up the nodes and returns the states of voltages.
func (c *circuit) place(loads []profile.Curve, start State) []float64 {
	x := []float64{start.Voltage}
	for k := range c.nodes {
		n := &c.nodes[k]
		n.state = -1
		n.v = start.Voltage
		if k < len(loads) {
			n.load = newForcing(loads[k])
		}
		if k == 0 {
			continue
		}
		f := c.net.Feeders[k-1]
		n.up, n.feeder, n.c = f.Upstream, 1/f.Resistance, f.Capacitance
		c.nodes[n.up].children = append(c.nodes[n.up].children, k)
		n.adjacent += n.feeder
		c.nodes[n.up].adjacent += n.feeder
		if f.lumped() {
			c.c += f.Capacitance
			c.anyFreeEnd, n.loose = true, true
			continue
		}
		n.state, c.anyState = len(x), true
		v := start.Voltage
		if k-1 < len(start.ends) {
			v = start.ends[k-1]
		}
		x = append(x, v)
	}
	for _, s := range c.net.Switched {
		c.nodes[s.Feeder].switched = append(c.nodes[s.Feeder].switched, newForcing(s.Conductance))
	}
	return x
}

// addTimers sets up what has memory and appends its states.
func (c *circuit) addTimers(x []float64, start State) []float64 {
	add := func(scale float64) int {
		k, v := len(c.timers), 0.0
		if k < len(start.timers) {
			v = start.timers[k]
		}
		c.timers = append(c.timers, timer{state: len(x), scale: scale})
		x = append(x, v)
		return k
	}
	for i := range c.units {
		u := &c.units[i]
		s := u.regular
		if s.PeakCurrent > 0 {
			u.peak = add(s.PeakTime)
		}
		if s.Endurance > 0 || s.OverVoltage > 0 {
			u.wait = add(math.Max(s.Endurance, math.Max(s.Pause, s.OverVoltagePause)))
		}
		if i < len(start.units) {
			was := start.units[i]
			u.spent, u.off, u.pause = was.spent, was.off, was.pause
		}
	}
	for i, r := range c.net.Brakes {
		b := brake{BrakeResistor: r, wait: -1}
		if r.Delay > 0 {
			b.wait = add(r.Delay)
		}
		switch {
		case i < len(start.brakes):
			b.want, b.on = start.brakes[i].want, start.brakes[i].on
		case i == 0:
			b.want, b.on = start.BrakeOn, start.BrakeOn
		}
		b.first = b.on
		c.brakes = append(c.brakes, b)
	}
	return x
}

// layOut gives every output its place.
func (c *circuit) layOut() {
	n := outRest
	place := func(at *int, count int) {
		if count > 0 {
			*at = n
			n += count
		}
	}
	place(&c.out.ends, len(c.nodes)-1)
	if c.clamp != nil {
		place(&c.out.clamp, 1)
	}
	if len(c.units) > 1 {
		place(&c.out.units, len(c.units))
	}
	c.out.kept = n
	if n == outRest && c.rs == 0 {
		c.out.kept = outBank // the bank has the voltage of the bus
	}
	free := 0
	for k := range c.nodes {
		if k == 0 && c.rs > 0 || k > 0 && c.nodes[k].state < 0 {
			free++
		}
	}
	place(&c.out.margins, free)
	place(&c.out.timers, len(c.timers))
	c.out.count = n
	c.jitter = make([]float64, n)
}

// scales returns the magnitude of each output.
func (c *circuit) scales() []float64 {
	v := c.reference
	current := c.drain * v
	for k := range c.nodes {
		current += c.nodes[k].load.peak/v + c.nodes[k].adjacent*1e-3*v
	}
	for _, sg := range c.segments {
		if sg.upright {
			current = math.Max(current, sg.imax)
		}
	}
	s := slices.Repeat([]float64{1}, c.out.count)
	s[outVoltage], s[outSource], s[outBank] = v, current, v
	for k := range len(c.nodes) - 1 {
		s[c.out.ends+k] = v
	}
	if c.out.clamp > 0 {
		s[c.out.clamp] = current
	}
	for k := range c.units {
		if c.out.units > 0 {
			s[c.out.units+k] = current
		}
	}
	for k, t := range c.timers {
		s[c.out.timers+k] = t.scale
	}
	return s
}

// gather adds up the characteristics of the supplies as they are at present, and
// of the clamp.
func (c *circuit) gather() {
	all := make([][]segment, 0, len(c.units)+1)
	for _, u := range c.units {
		switch {
		case u.off:
			all = append(all, []segment{{lo: 0, hi: math.Inf(1)}})
		case u.peak >= 0 && !u.spent:
			all = append(all, u.regular.output(true))
		default:
			all = append(all, u.source.characteristic())
		}
	}
	if c.clamp != nil {
		all = append(all, c.clamp)
	}
	if len(all) == 0 {
		c.segments = []segment{{lo: 0, hi: math.Inf(1)}}
		return
	}
	c.segments = add(all)
}

// drains adds up the conductance across the bus besides source and loads.
func (c *circuit) drains() {
	c.drain = c.bleed
	for i := range c.brakes {
		if c.brakes[i].on {
			c.drain += 1 / c.brakes[i].Resistance
		}
	}
}

// power returns the power of the loads at node k at the instant at hand [W].
func (c *circuit) power(k int) float64 { return c.nodes[k].p[0] }

// breaks returns the times at which a load may jump, start and end included.
func (c *circuit) breaks(start, end float64) []float64 {
	b := []float64{start, end}
	gather := func(f *forcing) {
		for i := range f.load.Pieces() {
			if t0, _, _ := f.load.Piece(i); t0 > start && t0 < end {
				b = append(b, t0)
			}
		}
	}
	for k := range c.nodes {
		n := &c.nodes[k]
		gather(&n.load)
		for i := range n.switched {
			gather(&n.switched[i])
		}
	}
	slices.Sort(b)
	return slices.Compact(b)
}

// state returns the circuit's state as one to start from.
func (c *circuit) state(x []float64) State {
	s := State{Voltage: x[0], asleep: !c.awake, turnOn: c.turnOn}
	for k := 1; k < len(c.nodes); k++ {
		v := x[0]
		if i := c.nodes[k].state; i >= 0 {
			v = x[i]
		}
		s.ends = append(s.ends, v)
	}
	for _, t := range c.timers {
		s.timers = append(s.timers, x[t.state])
	}
	for _, u := range c.units {
		if u.peak >= 0 || u.wait >= 0 {
			s.units = slices.Grow(s.units, len(c.units))
		}
	}
	for _, u := range c.units {
		if cap(s.units) > 0 {
			s.units = append(s.units, unitState{u.spent, u.off, u.pause})
		}
	}
	for i, b := range c.brakes {
		if i == 0 {
			s.BrakeOn = b.on
		}
		if len(c.brakes) > 1 || b.wait >= 0 {
			s.brakes = append(s.brakes, brakeState{b.want, b.on})
		}
	}
	return s
}
