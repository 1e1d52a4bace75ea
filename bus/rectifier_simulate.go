package bus

import (
	"context"
	"fmt"
	"math"
	"slices"

	"example.com/headroom/internal/taylor"
	"example.com/headroom/profile"
)

// RippleState is a rectifier and its bus at one instant. That at the end of a
// simulation carries on the currents of the lines and what the brake resistors
// do.
type RippleState struct {
	Voltage float64 // of the bank without its series resistance [V], >= 0
	// Angle is the phase [rad] of the EMF of line 1, to line 2 where there is one
	// phase and to the star point where there are three: √2 Voltage sin(Angle), or
	// √(2/3) of the voltage between lines. Lines 2 and 3 follow by 120° each.
	Angle float64

	lines  [2]float64 // currents [A]
	brakes []rectBrake
	at     float64 // time for which brakes holds [s]
}

// RippleLoad is what the bus feeds over time. Either curve may be empty; two
// must cover the same time.
type RippleLoad struct {
	Power   profile.Curve // that the loads take whatever the voltage [W]
	Current profile.Curve // that they take whatever the voltage, besides [A]
}

// RippleEnergies books the energy of a simulation with ripple [J]. Mains +
// Returned + Released = Source + Diodes + Drawn + Resistor + Clamp + Bleeder +
// Series, where Released is what the bank and the inductances gave.
type RippleEnergies struct {
	Mains    float64 // delivered by the EMFs
	Source   float64 // burned in the resistance of the mains or the transformer
	Diodes   float64 // in the diodes
	Drawn    float64 // taken by the loads
	Returned float64 // returned by the loads, as a positive figure
	Resistor float64 // in the brake resistors
	Clamp    float64 // in the clamp
	Bleeder  float64 // in the bleeder
	Series   float64 // in the bank's series resistance
	Released float64 // energy of bank and inductances at the start less that at the end
	Residual float64 // what is left when the book is closed: the error of the integration
}

// Throughput returns the energy against which Residual is to be judged [J].
func (e RippleEnergies) Throughput() float64 {
	return math.Abs(e.Mains) + e.Returned + e.Drawn + math.Abs(e.Released)
}

// RippleResult is a rectifier and its bus over time.
type RippleResult struct {
	Voltage     profile.Curve   // of the bus [V]
	Rectified   profile.Curve   // current from the rectifier into the bus [A]
	Lines       []profile.Curve // currents of the lines, one or three, positive into the rectifier [A]
	BankCurrent profile.Curve   // into the bank [A]
	Mains       MainsDraw       // over the whole time, by the EMF; see [Transformer.Primary]
	Events      []Event
	Energies    RippleEnergies
	Brakes      []BrakeUse

	Lowest, Highest profile.Point // of Voltage
	Start, End      RippleState
	Collapsed       bool // the load could not be carried; the curves end there
	Steps           int  // integration steps
}

// mostPeriods bounds how many periods of the mains are simulated at once.
const mostPeriods = 5000

// SimulateRipple computes the bus with the waveform of a rectifier instead of its
// average, over the load's whole domain: every conduction of every diode. The
// bus must have no other source; the average of the same rectifier may stand
// there, and is not used.
//
// The simulation ends early, with Collapsed set, when the bank cannot deliver
// the load through its series resistance, or when a load is on and the bus is
// at a tenth of the rectifier's no-load voltage or lower. Without load it may
// start from an empty bank.
//
// It returns an error that joins the faults of the input, or one that wraps the
// context's error, [ErrBudget] (more than 5000 periods are refused; resistances
// that charge the bank, or inductances that discharge into them, within a
// millionth of a period take too many steps) or [ErrRange].
func (b Bus) SimulateRipple(ctx context.Context, r Rectifier, load RippleLoad, start RippleState) (*RippleResult, error) {
	return b.simulateRipple(ctx, r, load, start, 0)
}

func (b Bus) simulateRipple(ctx context.Context, r Rectifier, load RippleLoad, start RippleState, most int) (*RippleResult, error) {
	if err := b.checkRipple(r, load, start); err != nil {
		return nil, err
	}
	breaks := load.breaks()
	t0, t1 := breaks[0], breaks[len(breaks)-1]
	if most == 0 {
		most = budget(len(breaks)) + int(200*(t1-t0)*r.Frequency)
	}
	c := newRectifierCircuit(r, b, start.Angle, t0)
	c.power, c.draw = newForcing(load.Power), newForcing(load.Current)
	c.carryOn(start, t0)
	x := []float64{start.Voltage, start.lines[0], start.lines[1]}
	c.conductAs(x)
	v, _ := c.present(t0, []taylor.Series{{x[0]}, {x[1]}, {x[2]}})
	c.begun(t0, v)
	kept := rectLines + r.Kind.phases()
	sol, err := taylor.Solve(ctx, taylor.Problem{
		System: c, X0: x, Breaks: breaks, Scale: c.scales(), Tol: Tolerance, MaxSteps: most, Keep: kept,
	})
	if err != nil {
		return nil, fmt.Errorf("rectifier simulation: %w", err)
	}
	return c.rippleResult(ctx, r, sol, load, start)
}

func (b Bus) checkRipple(r Rectifier, load RippleLoad, start RippleState) error {
	var f profile.Faults
	source := b.Source
	if a, ok := source.(AveragedRectifier); ok && a.Rectifier == r {
		source = nil
	}
	b.Source = nil
	f.Under("bus", b.Validate())
	if source != nil {
		f.Add("bus.source", fmt.Sprintf("%T", source), "none besides the rectifier; its own average may stand there")
	}
	f.Under("rectifier", r.Validate())
	if b.Clamp != nil && r.Voltage > 0 && !(b.Clamp.Voltage > r.NoLoadVoltage()) {
		f.Add("bus.clamp.voltage", b.Clamp.Voltage, fmt.Sprintf("above the rectifier's no-load voltage, %g V", r.NoLoadVoltage()))
	}
	f.NonNegative("start.voltage", start.Voltage, "V")
	if f.Finite("start.angle", start.Angle, "rad") {
		f.Within("start.angle", start.Angle, -1e3, 1e3, "rad")
	}
	p, i := load.Power, load.Current
	switch {
	case p.Pieces() == 0 && i.Pieces() == 0:
		f.Add("load", "an empty curve", "a curve of power or of current over time, of 0 if need be")
	case p.Pieces() > 0 && i.Pieces() > 0 && (p.Start() != i.Start() || p.End() != i.End()):
		f.Add("load.current", fmt.Sprintf("from %g s to %g s", i.Start(), i.End()), fmt.Sprintf("over the time of the power, from %g s to %g s", p.Start(), p.End()))
	default:
		if n := (p.Duration() + i.Duration()) * r.Frequency; !(n <= 2*mostPeriods) { // of one of them or of both
			f.Add("load", fmt.Sprintf("%g periods", n), fmt.Sprintf("at most %d periods of the mains", mostPeriods))
		}
	}
	return f.Err()
}

// breaks returns the times at which the load may jump, its ends included.
func (l RippleLoad) breaks() []float64 {
	var all []float64
	for _, c := range []profile.Curve{l.Power, l.Current} {
		if c.Pieces() > 0 {
			f := newForcing(c)
			all = append(all, f.breaks()...)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// carryOn sets the brake resistors as they were at the end of a simulation.
func (c *rectifierCircuit) carryOn(start RippleState, t0 float64) {
	for n := range c.brakes {
		if n < len(start.brakes) {
			was := start.brakes[n]
			c.brakes[n].want, c.brakes[n].on, c.brakes[n].due = was.want, was.on, t0+was.due-start.at
		}
	}
	c.drains()
}

// conductAs sets which legs conduct by the currents of the lines.
func (c *rectifierCircuit) conductAs(x []float64) {
	if c.l == 0 {
		x[1], x[2] = 0, 0
		return
	}
	i := [3]float64{x[1], -x[1]}
	if len(c.legs) == 3 {
		i[1], i[2] = x[2], -x[1]-x[2]
	}
	for j := range c.legs {
		switch c.legs[j].on = 0; {
		case i[j] > 0:
			c.legs[j].on = 1
		case i[j] < 0:
			c.legs[j].on = -1
		}
	}
}

// begun sets what depends on the bus voltage at the start.
func (c *rectifierCircuit) begun(t, v float64) {
	for k := range c.clamp {
		if v >= c.clamp[k].lo {
			c.clampAt = k
			break
		}
	}
}

func (c *rectifierCircuit) scales() []float64 {
	amps := c.amps/100 + c.draw.peak + c.power.peak/c.volts
	s := make([]float64, rectOutputs)
	s[rectVoltage], s[rectBank], s[rectRadical] = c.volts, c.volts, 1
	for j := rectSum; j < rectKept; j++ {
		s[j] = amps
	}
	for j := rectGaps; j < rectOutputs; j++ {
		s[j] = c.volts
	}
	return s
}

// rippleResult turns the pieces of a solution into curves and books the
// energies.
func (c *rectifierCircuit) rippleResult(ctx context.Context, r Rectifier, sol *taylor.Solution, load RippleLoad, start RippleState) (*RippleResult, error) {
	out := &RippleResult{
		Events: c.events, Collapsed: c.collapsed, Steps: sol.Steps, Start: start,
		End:    RippleState{Voltage: sol.X[0], Angle: start.Angle, lines: [2]float64{sol.X[1], sol.X[2]}, brakes: slices.Clone(c.brakes)},
		Brakes: make([]BrakeUse, len(c.brakes)),
	}
	pieces := max(0, len(sol.Breaks)-1)
	if pieces == 0 {
		return out, nil // collapsed at the start
	}
	t1 := sol.Breaks[pieces]
	out.End.at = t1
	out.End.Angle = math.Mod(start.Angle+c.omega*(t1-sol.Breaks[0]), 2*math.Pi)

	var err error
	curve := func(what string, series func(i int) []float64) profile.Curve {
		all := make([][]float64, pieces)
		for i := range all {
			all[i] = series(i)
		}
		curve, e := profile.NewCurve(sol.Breaks, all)
		if e != nil && err == nil {
			err = fmt.Errorf("rectifier simulation: %w: %s: %v", ErrRange, what, e)
		}
		return curve
	}
	output := func(j int) func(int) []float64 {
		return func(i int) []float64 { return sol.Piece(i, j) }
	}
	out.Voltage = curve("voltage", output(rectVoltage))
	out.Rectified = curve("rectified current", output(rectSum))
	out.BankCurrent = curve("bank current", func(i int) []float64 { return derivative(sol.Piece(i, rectBank), c.c) })
	for j := range r.Kind.phases() {
		out.Lines = append(out.Lines, curve("line current", output(rectLines+j)))
	}
	if err != nil {
		return nil, err
	}
	if err := c.book(ctx, r, sol, load, out); err != nil {
		return nil, err
	}
	out.Lowest, out.Highest = out.Voltage.Extrema()
	duration := t1 - sol.Breaks[0]
	out.Mains = drawOf(r, out.Lines, out.Energies.Mains/duration)
	return out, nil
}

// book fills in the energies.
func (c *rectifierCircuit) book(ctx context.Context, r Rectifier, sol *taylor.Solution, load RippleLoad, out *RippleResult) error {
	e := &out.Energies
	on := make([]bool, len(c.brakes))
	burst := make([]float64, len(c.brakes))
	for n := range on {
		on[n] = n < len(out.Start.brakes) && out.Start.brakes[n].on
	}
	current := newForcing(load.Current)
	end := sol.Breaks[len(sol.Breaks)-1]
	loadsEnd := end
	phases := r.Kind.phases()
	var emf, drawn taylor.Series
	ev := 0
	for i := range len(sol.Breaks) - 1 {
		if i&1023 == 1023 && ctx.Err() != nil {
			return fmt.Errorf("rectifier simulation: %w", ctx.Err())
		}
		t, h := sol.Breaks[i], sol.Breaks[i+1]-sol.Breaks[i]
		for ; ev < len(c.events) && c.events[ev].Time <= t; ev++ {
			switch n := c.events[ev].Index; c.events[ev].Kind {
			case BrakeOn:
				on[n], burst[n] = true, 0
				out.Brakes[n].Times++
			case BrakeOff:
				on[n] = false
			case LoadsOff:
				loadsEnd = c.events[ev].Time
			}
		}
		v := (*taylor.Series)(sol.Piece(i, rectVoltage))
		for j := range phases {
			line := (*taylor.Series)(sol.Piece(i, rectLines+j))
			phase := c.angle + c.omega*(t-c.origin) + c.legs[j].phase
			crest := c.crest
			if phases == 1 {
				crest *= 2 // both legs
			}
			sinusoid(&emf, crest, c.omega, phase)
			e.Mains += productIntegral(&emf, line, h)
			square := productIntegral(line, line, h)
			e.Source += r.Resistance * square
			// A line's current passes one diode where there are three lines, and all
			// that are in series where there is one.
			n := 1.0
			if phases == 1 {
				n = r.Kind.inSeries()
			}
			e.Diodes += n * (r.DiodeResistance*square + r.DiodeThreshold*math.Abs(integral(line, h)))
		}
		square := productIntegral(v, v, h)
		e.Bleeder += c.bleed * square
		for n := range on {
			if on[n] {
				w := square / c.brakes[n].Resistance
				use := &out.Brakes[n]
				e.Resistor += w
				burst[n] += w
				use.Energy += w
				use.OnTime += h
				use.Highest = math.Max(use.Highest, burst[n])
			}
		}
		if len(c.clamp) > 0 {
			mid := 0.0
			for k := taylor.Order; k >= 0; k-- {
				mid = mid*h/2 + v[k]
			}
			for _, s := range c.clamp {
				if mid >= s.lo {
					e.Clamp += s.g*square - s.i0*integral(v, h)
					break
				}
			}
		}
		if c.rs > 0 {
			x := sol.Piece(i, rectBank)
			var into taylor.Series
			for k := range taylor.Order {
				into[k] = c.c * float64(k+1) * x[k+1]
			}
			e.Series += c.rs * productIntegral(&into, &into, h)
		}
		if !current.empty() && t < loadsEnd {
			current.expand(t, &drawn)
			if w := productIntegral(v, &drawn, h); w >= 0 {
				e.Drawn += w
			} else {
				e.Returned -= w
			}
		}
	}
	if p := load.Power; p.Pieces() > 0 && loadsEnd > p.Start() {
		taken := p
		if loadsEnd < p.End() {
			var err error
			if taken, err = p.Slice(p.Start(), loadsEnd); err != nil {
				return fmt.Errorf("rectifier simulation: %w", err)
			}
		}
		e.Drawn += taken.Positive().Integral()
		e.Returned += 0 - taken.Negative().Integral() // not -0
	}
	e.Released = c.storedBy(r, out.Start) - c.storedBy(r, out.End)
	e.Residual = e.Mains + e.Returned + e.Released - e.Source - e.Diodes - e.Drawn - e.Resistor - e.Clamp - e.Bleeder - e.Series
	if !(math.Abs(e.Residual) <= math.MaxFloat64) { // it adds up all others
		return fmt.Errorf("rectifier simulation: %w: energies", ErrRange)
	}
	return nil
}

// storedBy returns the energy of bank and inductances [J].
func (c *rectifierCircuit) storedBy(r Rectifier, s RippleState) float64 {
	i := s.lines
	if c.l == 0 {
		i = [2]float64{}
	}
	squares := i[0] * i[0]
	if len(c.legs) == 3 {
		squares += i[1]*i[1] + (i[0]+i[1])*(i[0]+i[1])
	}
	return c.c*s.Voltage*s.Voltage/2 + r.Inductance*squares/2
}

// integral returns the integral of a series over [0, h].
func integral(a *taylor.Series, h float64) float64 {
	sum := 0.0
	for k := taylor.Order; k >= 0; k-- {
		sum = sum*h + a[k]/float64(k+1)
	}
	return sum * h
}

// derivative returns k times the derivative of a polynomial.
func derivative(coefs []float64, k float64) []float64 {
	d := make([]float64, len(coefs)-1)
	for i := range d {
		d[i] = k * float64(i+1) * coefs[i+1]
	}
	return d
}
