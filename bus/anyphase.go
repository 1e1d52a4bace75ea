package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Bound is a limit on the bus voltage that holds however the stations' cycles
// line up, and the worst line-up that was found to compare it with.
type Bound struct {
	Voltage float64 // the bound [V]
	Exists  bool    // false when no finite bound can be given
	Reason  string  // why not

	Energy float64 // most that the bank gives (sag) or takes (rise) beyond what source or resistor carry [J]
	Window float64 // length of the worst window [s]
	From   float64 // bank voltage at which the worst window starts [V]

	// Offsets are start delays of the stations, within their periods [s], that
	// line up their worst windows: the witness. WitnessVoltage is the extreme
	// that the simulation of it reaches [V], and Witness that simulation.
	Offsets        []float64
	WitnessVoltage float64
	Witness        *Result
}

// Gap returns how far the witness stays short of the bound [V], >= 0.
func (b Bound) Gap() float64 { return math.Abs(b.Voltage - b.WitnessVoltage) }

// Guarantee holds for every way in which the cycles of stations can line up.
type Guarantee struct {
	Sag  Bound // lowest bus voltage
	Rise Bound // highest bus voltage

	MeanSourcePower   float64 // most that the source delivers on average [W], resistor left out; see AnyPhase
	PeakDemand        float64 // sum of the stations' highest powers [W]
	MeanReturnedPower float64 // sum of the stations' mean returned powers [W], the most the resistor burns on average
	ReturnedBurst     float64 // most energy that the stations return net in any window [J]; +Inf when they return more than they draw
}

// anyPhaseTolerance is how closely the worst window is bracketed, relative to
// the energy of one cycle of every station.
const anyPhaseTolerance = 1e-4

// AnyPhase bounds sag and rise of the bus for stations that each repeat their
// own cycle of power [W] for ever, each strictly in its own period, with
// nothing to control how the cycles line up.
//
// The sag bound should be asked of [Bus.Low], the rise bound of [Bus.High];
// AnyPhase does so itself.
//
// # The bounds
//
// Let W = ½ C Vc². For sag choose a bank voltage Vt below the source's no-load
// voltage. At the last time that the bank was at Vt before its lowest point
// began a window, of some length L, in which Vc < Vt, so that the source
// delivered at least a = min v·i(v) over the voltages from the bound to Vt (v·i(v)
// is concave on each piece of the source, so the ends decide). Hence
//
//	W >= ½ C Vt² - max over L of ( Σ_k D_k(L) - a L )
//
// where D_k(L) is the most energy that station k takes in any window of length
// L. Because the phases are free the stations' worst windows may coincide, and
// because a sum of maxima is at least the maximum of the sum, the bound holds.
// It is valid if the voltage it gives is not below the one assumed for a. The
// best Vt is taken. The bleeder is counted as a drain.
//
// For rise the window begins when the bank passes the no-load voltage at high
// line (the source is blocked from there on), or the voltage at which the brake
// resistor is on for certain; the drain is the resistor's power at that voltage.
// The smaller result counts.
//
// With series resistance Rs the bank gives Vc·i when the bus takes V·i, so every
// power counts with the factor Vc/V = 1 - Rs i/V. The largest charging and
// discharging currents follow from the sums of peak powers; the adverse part of
// each station's power is multiplied by the largest factor, the part that helps
// by the smallest, thresholds are set so far off that the bus itself is beyond
// them, and Rs times the current is added to the result. With the charging
// current i(v) + returned/v the source's yield i(v) (v - Rs (i(v) + returned/v))
// is still concave in v.
//
// This is the backlog bound of network calculus (Le Boudec and Thiran, Network
// Calculus, LNCS 2050, theorem 1.4.1; number from memory) with the energy
// taken in the part of the arriving data.
//
// # What is assumed
//
// The bank is charged when the window begins; loads keep their power whatever
// the voltage; the resistor switches without delay; no source ripple; every
// station repeats its cycle without waits.
//
// # Averages
//
// How much returned energy other axes can use depends on phase too. Never
// exceeded: the sum of the means of the positive parts of all powers, plus the
// bleeder. The resistor never burns more than is returned.
func (b Bus) AnyPhase(ctx context.Context, stations []profile.Curve) (*Guarantee, error) {
	var f profile.Faults
	f.Under("bus", b.Validate())
	if len(stations) == 0 {
		f.Add("stations", "none", "at least one cycle")
	}
	for i, s := range stations {
		if s.Pieces() == 0 {
			f.Add(fmt.Sprintf("stations[%d]", i), "an empty curve", "a cycle of power over time")
		}
	}
	if b.Source == nil {
		f.Add("bus.source", nil, "a source; without one the bank only runs down")
	}
	if err := f.Err(); err != nil {
		return nil, err
	}

	g := &Guarantee{}
	for _, s := range stations {
		g.PeakDemand += math.Max(0, s.Max().V)
		g.MeanSourcePower += s.Positive().Mean()
		g.MeanReturnedPower -= s.Negative().Mean()
	}
	if v := b.Source.High().NoLoadVoltage(); b.Bleeder > 0 {
		g.MeanSourcePower += v * b.bleederCurrent(v)
	}
	if noLoad, heats := b.SourceHeatsResistor(); heats {
		reason := fmt.Sprintf("the brake resistor switches off at %.4g V, not above the source's no-load voltage of %.4g V: the source can feed it without end", b.Brake.OffVoltage, noLoad)
		g.Sag, g.Rise = Bound{Reason: reason}, Bound{Reason: reason}
		return g, nil
	}
	es, err := worsened(stations, -1, 1, 1)
	if err != nil {
		return nil, err
	}
	for i := range es {
		_, burst, _ := backlog(es[i:i+1], 0, anyPhaseTolerance*size(es[i:i+1]))
		g.ReturnedBurst += burst
	}
	if g.Sag, err = b.Low().sag(ctx, stations); err != nil {
		return nil, err
	}
	if g.Rise, err = b.High().rise(ctx, stations); err != nil {
		return nil, err
	}
	return g, nil
}

// worsened returns envelopes of sign·P with the adverse part multiplied by
// adverse, at least 1, and the part that helps by helpful, at most 1.
func worsened(stations []profile.Curve, sign, adverse, helpful float64) ([]*envelope, error) {
	es := make([]*envelope, len(stations))
	for i, s := range stations {
		s = s.Scale(sign)
		if adverse > 1 || helpful < 1 {
			var err error
			if s, err = profile.Sum(s.Positive().Scale(adverse), s.Negative().Scale(helpful)); err != nil {
				return nil, err
			}
		}
		es[i] = newEnvelope(s)
	}
	return es, nil
}

func peaks(stations []profile.Curve) (drawn, returned float64) {
	for _, s := range stations {
		lo, hi := s.Extrema()
		drawn += math.Max(0, hi.V)
		returned += math.Max(0, -lo.V)
	}
	return drawn, returned
}

func size(es []*envelope) float64 {
	s := 0.0
	for _, e := range es {
		s += e.burst + math.Abs(e.total)
	}
	return s
}

// thresholds tried for sag between the lowest and the no-load voltage.
const sagThresholds = 24

func (b Bus) sag(ctx context.Context, stations []profile.Curve) (Bound, error) {
	drawn, returned := peaks(stations)
	noLoad := b.Source.NoLoadVoltage()
	best := Bound{Reason: fmt.Sprintf("at some phasing the stations draw more than the source and the bank can give: mean %.4g W, peak %.4g W, source at most %.4g W",
		meanOf(stations), drawn, b.Source.strongest())}
	var bestEnvelopes []*envelope
	rs := b.Bank.SeriesResistance

	// A regulated source gives its limit at any voltage below its set point, so
	// that the highest threshold is the best; others give more the lower it is.
	tries := sagThresholds
	if b.Source.Current(noLoad) > 0 {
		tries = 1
	}
	for i := range tries {
		top := noLoad * (1 - 0.5*float64(i)/sagThresholds)
		if tries > 1 && i == 0 {
			top = noLoad * (1 - 0.25/sagThresholds)
		}
		low := top
		for range 30 {
			if err := ctx.Err(); err != nil {
				return Bound{}, err
			}
			if !(low > collapseFraction*noLoad) || best.Exists && low <= best.Voltage {
				break
			}
			// Currents of the bank while the bus is between low and top.
			discharge := drawn/low + b.bleederCurrent(top)
			charge := func(v float64) float64 { return b.Source.Current(v) + returned/v }
			from := top - rs*charge(top)
			if !(from > 0) {
				break
			}
			yield := func(v float64) float64 { return b.Source.Current(v) * (v - rs*charge(v)) }
			adverse := 1 + rs*discharge/low
			drain := math.Min(yield(low), yield(top)) - adverse*b.bleederCurrent(top)*top
			if !(drain >= 0) {
				break
			}
			es, err := worsened(stations, 1, adverse, math.Max(0, 1-rs*charge(low)/low))
			if err != nil {
				return Bound{}, err
			}
			_, energy, window := backlog(es, drain, anyPhaseTolerance*size(es))
			w := from*from - 2*energy/b.Bank.Capacitance
			if !(w > 0) {
				break
			}
			next := math.Sqrt(w) - rs*discharge
			if next >= low {
				// Consistent: the bus stays above what the drain was taken for.
				if !best.Exists || next > best.Voltage {
					best = Bound{Voltage: next, Exists: true, Energy: energy, Window: window, From: from}
					bestEnvelopes = es
				}
				break
			}
			low = next - 1e-4*noLoad
		}
	}
	if !best.Exists {
		return best, nil
	}
	return b.witness(ctx, stations, bestEnvelopes, best, noLoad)
}

func meanOf(stations []profile.Curve) float64 {
	m := 0.0
	for _, s := range stations {
		m += s.Mean()
	}
	return m
}

func (b Bus) bleederCurrent(v float64) float64 {
	if b.Bleeder == 0 {
		return 0
	}
	return v / b.Bleeder
}

func (b Bus) rise(ctx context.Context, stations []profile.Curve) (Bound, error) {
	drawn, returned := peaks(stations)
	noLoad := b.Source.NoLoadVoltage()
	rs := b.Bank.SeriesResistance
	best := Bound{Reason: fmt.Sprintf("the stations return %.4g W more than they draw on average and nothing drains as much", -meanOf(stations))}
	var bestEnvelopes []*envelope

	// try takes a window that starts at bank voltage from, in which the bus stays
	// above v with the conductance g across it, and drain is taken out of the bank.
	try := func(from, v, g, drain float64) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		adverse := 1 + rs*(drawn/(v*v)+g)
		es, err := worsened(stations, -1, adverse, math.Max(0, 1-rs*returned/(v*v)))
		if err != nil {
			return err
		}
		_, energy, window := backlog(es, drain, anyPhaseTolerance*size(es))
		if math.IsInf(energy, 1) {
			return nil
		}
		top := math.Sqrt(from*from+2*energy/b.Bank.Capacitance) + rs*returned/v
		if !best.Exists || top < best.Voltage {
			best = Bound{Voltage: top, Exists: true, Energy: energy, Window: window, From: from}
			bestEnvelopes = es
		}
		return nil
	}
	bleed := b.bleederCurrent(1)
	if err := try(noLoad+rs*(drawn/noLoad+bleed*noLoad), noLoad, bleed, noLoad*noLoad*bleed); err != nil {
		return Bound{}, err
	}
	if r := b.Brake; r != nil {
		// Once on, the resistor pulls the bus down to v at the lowest.
		g := 1 / r.Resistance
		v := r.OnVoltage / (1 + rs*(g+bleed))
		if err := try(r.OnVoltage+rs*(drawn/v+bleed*r.OnVoltage), v, g+bleed, r.OnVoltage*v*(g+bleed)); err != nil {
			return Bound{}, err
		}
	}
	if !best.Exists {
		return best, nil
	}
	return b.witness(ctx, stations, bestEnvelopes, best, noLoad)
}

// witness lines up the worst windows of all stations and simulates them, from
// the no-load voltage.
func (b Bus) witness(ctx context.Context, stations []profile.Curve, es []*envelope, bound Bound, start float64) (Bound, error) {
	longest := 0.0
	ends := make([]float64, len(es))
	for i, e := range es {
		longest = math.Max(longest, e.period)
		_, ends[i] = e.worst(bound.Window)
	}
	// The windows end at the same instant. They are preceded by two of the longest
	// cycles, or, if the bus does not last that long, by nothing.
	for _, lead := range []float64{2 * longest, 0} {
		meet := lead + bound.Window
		loads := make([]profile.Curve, len(stations))
		bound.Offsets = make([]float64, len(stations))
		for i, s := range stations {
			bound.Offsets[i] = positiveMod(meet-ends[i], es[i].period)
			var err error
			if loads[i], err = Periodic(s, bound.Offsets[i], meet+longest); err != nil {
				return Bound{}, err
			}
		}
		load, err := profile.Sum(loads...)
		if err != nil {
			return Bound{}, err
		}
		if bound.Witness, err = b.Simulate(ctx, load, State{Voltage: start}); err != nil {
			return Bound{}, err
		}
		if !bound.Witness.Collapsed {
			break
		}
	}
	if bound.Voltage < start {
		bound.WitnessVoltage = bound.Witness.Lowest.V
	} else {
		bound.WitnessVoltage = bound.Witness.Highest.V
	}
	return bound, nil
}

func positiveMod(x, m float64) float64 {
	if x = math.Mod(x, m); x < 0 {
		x += m
	}
	return x
}

// Periodic returns the cycle repeated for ever, delayed by offset [s], over the
// time from 0 to duration [s].
func Periodic(cycle profile.Curve, offset, duration float64) (profile.Curve, error) {
	var f profile.Faults
	if cycle.Pieces() == 0 {
		f.Add("cycle", "an empty curve", "a curve over one cycle")
	}
	f.Finite("offset", offset, "s")
	f.Positive("duration", duration, "s")
	if err := f.Err(); err != nil {
		return profile.Curve{}, err
	}
	period := cycle.Duration()
	offset = positiveMod(offset, period)
	n := math.Ceil((duration+period-offset)/period) + 1
	if n > 1e6 {
		f.Add("duration", duration, fmt.Sprintf("at most a million cycles of %g s", period))
		return profile.Curve{}, f.Err()
	}
	all := cycle.Repeat(int(n))
	all = all.Shift(offset - period - all.Start())
	return all.Slice(0, duration)
}
