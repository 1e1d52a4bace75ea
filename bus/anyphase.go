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

	// Offsets are start delays of the stations, within their periods [s], and
	// Standstills their waits, as [Cycle.Course] takes them, of the worst line-up that
	// was found: the witness. WitnessVoltage is the extreme that the simulation of it
	// reaches [V], and Witness that simulation. Where there is no bound on the sag
	// they are a line-up in which the bus collapses, with 0 V, if one was found.
	Offsets        []float64
	Standstills    [][]Standstill // of each station, if any
	WitnessVoltage float64
	Witness        *Result
}

// Gap returns how far the witness stays short of the bound [V], >= 0.
func (b Bound) Gap() float64 { return math.Abs(b.Voltage - b.WitnessVoltage) }

// Guarantee holds for every way in which the cycles of stations can line up.
type Guarantee struct {
	Sag  Bound // lowest bus voltage
	Rise Bound // highest bus voltage

	MeanSourcePower   float64 // most that the source delivers on average [W], a brake resistor that it heats left out
	PeakDemand        float64 // sum of the stations' highest powers [W]
	MeanReturnedPower float64 // sum of the stations' mean returned powers [W], the most the resistor burns on average
	ReturnedBurst     float64 // most energy that the stations return net in any window [J]; +Inf when they return more than they draw
}

// AnyPhase bounds sag and rise of the bus for stations with nothing to control how
// their cycles line up: whatever the phases, and however long the stations stand idle
// or wait where their cycles let them, unless they are said to be [Strictly]
// periodic. Sag is that of [Bus.Low], rise that of [Bus.High].
//
// Where a station draws most at one corner of its own and returns most at
// another, as with hot and with cold copper, stations holds the former, from which
// sag, demand and the source follow, and returning the latter, from which rise
// and returned energy follow, with pauses at the same instants. returning is nil
// where one serves for both.
//
// # The bounds
//
// Let Vc be the voltage of the bank, W = ½ C Vc² and P the sum of the stations'
// powers P_k. Below (sag) or above (rise) a threshold W0 the course of W is
// bounded by a line,
//
//	sag:   dW/dt >=  a + b (W0-W) - P
//	rise:  dW/dt <= -a - b (W-W0) - P
//
// At the last time that the bank was at W0 before its lowest or highest point
// began a window of some length L. Over it the line gives
//
//	|W-W0| <= max over L of ( Σ_k D_k(L) - a σ(L) ),  σ(L) = (1 - e^(-b L))/b
//
// where D_k(L) is the most that station k takes (sag) or returns (rise) in any
// window of length L of any of its schedules, what lies s back weighted with
// e^(-b s); the worst schedule has at most one wait. Because the phases are free the
// stations' worst windows may coincide, and because a sum of maxima is at least the
// maximum of the sum, the bound holds for every phasing and every wait.
//
// Without leak, b = 0, it is the backlog bound of network calculus (Le Boudec
// and Thiran, Network Calculus, LNCS 2050, theorem 1.4.1) with energy taken in the
// part of the arriving data, and D_k a station's arrival curve. Arrival curves of
// power loads on a battery are in Munawar and Chen, KIT-MTA-2013-0003, and a store
// sized like a buffer is in papers by Ardakanian, Rosenberg and Keshav (all three
// from memory, not looked up).
//
// The lines: a [Resistive] source gives Vc (V0-Vc)/R, concave in W, and so at
// least its chord between the threshold, V0 or lower, and the bound. A [SwitchMode] source
// below its set point gives Vc times its current limit, concave too; it grows
// with W, so that b is negative, and lines less steep than the chord are tried
// besides. For any other the line is laid from below to Vc times the least current
// of its characteristic. In rise the source is blocked and the bleeder takes Vc²/R,
// linear in W; from the voltage on at which a brake resistor is certainly on, its
// delay passed, it does likewise. The smallest rise counts. A clamp is left out of it.
//
// Before it was at a resistor's threshold Won the bank had to be lifted there, from the W0
// above which the source is blocked, by energy that the stations had returned. With a
// multiplier λ >= 0 for that condition the end of the window is at most
//
//	W-Won <= max over L of min over λ of ( Σ_k D_k(L; λ) - a σ(L) - λ (Won-W0) )
//
// where D_k(L; λ) also counts, λ times, the most that station k can have returned in any
// window that ends where this one begins: a sum of maxima again. Each station has an earlier
// window of a length of its own, since stations that pause can draw less than others meanwhile.
//
// The sag line holds while the voltage is above that of its far end, which has to
// be assumed; the bound is printed only if it confirms the assumption. (Let the
// bus fall below the bound at last: up to that time the line was valid, so it has
// not.)
//
// Series resistance Rs of the bank: the bank gives Vc i when the bus takes V i.
// In rise what it burns only helps. In sag every power counts with the factor
// Vc/V = 1 - Rs i/V; the greatest currents follow from the sums of peak powers,
// what makes things worse in a station's power is multiplied by the largest
// factor, what helps by the smallest. Thresholds are set so far off that the bus
// itself is beyond them, and the bus voltage follows from the bank's with the
// greatest current. Lines for a supply at its current limit are also laid from
// higher thresholds, for powers of which what is returned, and what is drawn too little, is
// left out. As if all peaks came at once: the gap grows with the drop
// that they cause in Rs.
//
// # What is assumed
//
// The bank is charged when the window begins; loads keep their power whatever
// the voltage; no source ripple; stations stand still only where they are said
// to, with the power that they are said to take there, and else run their cycles at
// the speed given. A supply's timed peak is not counted on. Where a supply could shut
// down there is no bound on the sag, and Reason says which and why.
//
// # Averages
//
// How much returned energy other axes can use depends on phase too. Never
// exceeded by the source's mean: the sum of the means of the positive parts of
// all powers, plus the bleeder, plus what the bank's series resistance burns when
// the bank is charged and discharged at the greatest currents. The resistor never
// burns more than is returned.
func (b Bus) AnyPhase(ctx context.Context, stations, returning []Cycle) (*Guarantee, error) {
	if err := b.checkStations(stations); err != nil {
		return nil, err
	}
	if returning == nil {
		returning = stations
	} else if err := checkReturning(stations, returning); err != nil {
		return nil, err
	}
	g := &Guarantee{PeakDemand: peaks(stations).drawn}
	drawn := 0.0
	for i := range stations {
		s, r := stations[i], returning[i]
		drawn += s.mean(s.Power.Positive().Mean(), func(p float64) float64 { return math.Max(0, p) })
		g.MeanReturnedPower += r.mean(-r.Power.Negative().Mean(), func(p float64) float64 { return math.Max(0, -p) })
	}
	if !(g.PeakDemand+drawn+g.MeanReturnedPower <= math.MaxFloat64) {
		return nil, fmt.Errorf("any-phase bounds: %w: power of all stations", ErrRange)
	}
	if err := b.anyPhase(ctx, stations, returning, g); err != nil {
		return nil, fmt.Errorf("any-phase bounds: %w", err)
	}
	g.MeanSourcePower = b.meanSourcePower(drawn, peaks(stations).or(peaks(returning)), g.Sag)
	if !(g.MeanSourcePower <= math.MaxFloat64) {
		return nil, fmt.Errorf("any-phase bounds: %w: power of the source", ErrRange)
	}
	return g, nil
}

// checkReturning checks that returning goes with stations.
func checkReturning(stations, returning []Cycle) error {
	var f profile.Faults
	if len(returning) != len(stations) {
		f.Add("returning", fmt.Sprintf("%d cycles", len(returning)), fmt.Sprintf("%d, one for each station", len(stations)))
		return f.Err()
	}
	for i, s := range returning {
		path := fmt.Sprintf("returning[%d]", i)
		s.check(&f, path)
		if of := stations[i]; s.Repeats != of.Repeats || len(s.Waits) != len(of.Waits) {
			f.Add(path+".waits", fmt.Sprintf("%d", len(s.Waits)), "pauses as those of the station")
		}
	}
	return f.Err()
}

func (b Bus) checkStations(stations []Cycle) error {
	var f profile.Faults
	f.Under("bus", b.Validate())
	if len(stations) == 0 {
		f.Add("stations", "none", "at least one cycle")
	}
	for i, s := range stations {
		s.check(&f, fmt.Sprintf("stations[%d]", i))
	}
	if b.Source == nil {
		f.Add("bus.source", nil, "a source; without one the bank only runs down")
	}
	return f.Err()
}

func (b Bus) anyPhase(ctx context.Context, stations, returning []Cycle, g *Guarantee) error {
	burst := func() error {
		es, err := line{adverse: 1, helpful: 1}.weighted(ctx, returning, -1)
		if err != nil {
			return err
		}
		most, err := worstBacklog(ctx, es, 0, 0, fineFor(len(es)))
		g.ReturnedBurst = most.upper
		return err
	}
	if noLoad, heats := b.SourceHeatsResistor(); heats {
		reason := b.heatsReason(noLoad)
		g.Sag, g.Rise = Bound{Reason: reason}, Bound{Reason: reason}
		return burst()
	}
	d := peaks(stations).or(peaks(returning))
	err := atOnce(
		func() (err error) { g.Sag, err = b.Low().sag(ctx, stations, d); return err },
		func() (err error) { g.Rise, err = b.High().rise(ctx, returning, d); return err },
		burst,
	)
	if err != nil {
		return err
	}
	if reason := b.forgets(g); reason != "" {
		g.Sag = Bound{Reason: reason}
	}
	return nil
}

// heatsReason says why there are no bounds where the source can hold a resistor on.
func (b Bus) heatsReason(noLoad float64) string {
	return fmt.Sprintf("the brake resistor switches off at %.4g V, not above the source's no-load voltage of %.4g V: the source can feed it without end", b.lowestOff(), noLoad)
}

// forgets says why the bound on the sag does not hold for a supply that has
// memory, or returns "".
func (b Bus) forgets(g *Guarantee) string {
	low := b.Low()
	for i, s := range supplies(low.Source) {
		m, ok := s.(SwitchMode)
		if !ok {
			continue
		}
		v := m.NoLoadVoltage()
		if shuts := m.Overload == Hiccup || m.Overload == Latch; shuts && !(g.PeakDemand/v+b.bleederCurrent(v) <= low.Source.Current(v)) {
			return fmt.Sprintf("supply %d shuts down after %.4g s at its limit, and all peaks together are more than its limit: what follows depends on what went before", i+1, m.Endurance)
		}
		if m.OverVoltage > 0 && m.DiodeDrop == 0 && !(g.Rise.Exists && g.Rise.Voltage < m.OverVoltage) {
			return fmt.Sprintf("returned energy can drive supply %d to its over-voltage shutdown at %.4g V, and it is missing when the axes draw again: a blocking diode in its output or a brake resistor below that voltage prevents it", i+1, m.OverVoltage)
		}
	}
	return ""
}

// meanSourcePower bounds the mean power of the source. The currents of the bank
// while it is below the no-load voltage, in which alone the source charges it,
// balance on average, so that with their greatest values i- and i+
//
//	mean Rs i² <= Rs (i- + i+) mean i-,   mean i- <= drawn/V + V/Rbleed
func (b Bus) meanSourcePower(drawn float64, d demand, sag Bound) float64 {
	source := b.Source.High()
	v := source.NoLoadVoltage()
	bleed := b.bleederCurrent(v)
	most := drawn + v*bleed
	if rs := b.Bank.SeriesResistance; rs > 0 {
		if !sag.Exists {
			return source.strongest()
		}
		low := sag.Voltage
		out, in := d.drawn/low+bleed, source.Current(low)+d.returned/low
		most += rs * (out + in) * (drawn/low + bleed)
	}
	return math.Min(most, source.strongest())
}
