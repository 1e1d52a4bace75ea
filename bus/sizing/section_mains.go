package sizing

import (
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
)

func (a *Assessment) mainsSection() Section {
	s := Section{Key: "mains", Question: "What does the machine draw from the mains, and what energy does it use?"}
	if a.Mains == nil {
		s.note("Not examined: a battery feeds the bus, and no mains is given.")
		return s
	}
	a.lineCurrent(&s)
	a.transformer(&s)
	a.rectifier(&s)
	a.inrush(&s)
	a.mainsFuse(&s)
	a.energyUse(&s)
	return s
}

// lineCurrent says what is drawn at the lowest mains.
func (a *Assessment) lineCurrent(s *Section) {
	m, d := a.Machine, a.Mains.Draw
	if d == nil {
		if m.Supply.Rectified != nil {
			s.note("No line current is given: the rectifier cannot carry the peak demand, and the bus has no lowest voltage.")
		} else {
			s.note("Not examined: line current and power factor (phases and frequency of the mains and powerFactor of the supply not given).")
		}
		return
	}
	rms, peak := "root of the mean times the highest power of the supply, each at most (the mean of P² is not above highest P times mean P), over efficiency, power factor and the lowest mains voltage, with three phases √3 times that", "highest power of the supply over efficiency, power factor and the lowest mains voltage, times crestFactor"
	real, factor := "mean power over the supply's efficiency: not exceeded by any course", "real over apparent power of these bounds: RMS over whole cycles, so that it is the lower the more the power varies"
	switch {
	case m.Supply.Rectified != nil:
		rms = "waveform at the most that the rectifier gives, times the root of mean over most power (the square of the RMS is convex in the power, so that its mean lies below the chord), or that at the mean power if higher; lowest mains"
		peak = "crest of that waveform"
		real = "real power of that waveform times mean over most power (convex, too), with the losses of diodes, windings and iron"
	case a.Bus.SagCycle != nil && a.Bus.SagCycle.Repeats && !a.Bus.SagCycle.Collapsed:
		rms = "RMS of the supply's current over the settled cycle times its highest set point, over efficiency, power factor and the lowest mains voltage, with three phases √3 times that"
		peak = "the same of the highest current, times crestFactor"
		real = "mean power of the settled cycle over the supply's efficiency"
	}
	if m.Supply.Rectified != nil && m.Supply.Rectified.Transformer != nil {
		rms += "; transformed by the ratio of the voltages, with the magnetising current as a sum of squares"
		peak += ", transformed, with the crest of the magnetising current"
	}
	f := figure("", "line current, at most", d.RMS, quantity.Current, rms)
	f.Basis = "RMS"
	s.figure(f)
	if m.Supply.Rectified != nil || m.Supply.Input.CrestFactor > 0 {
		s.figure(figure("", "crest of the line current", d.Peak, quantity.Current, peak))
	}
	s.figure(figure("", "real power, at most", d.Real, quantity.Power, real))
	s.figure(figure("", "apparent power, at most", d.Apparent, quantity.ApparentPower, "line current times the lowest mains voltage, with three phases √3 times that (definition)"))
	s.figure(figure("", "power factor", d.PowerFactor, quantity.Ratio, factor))
	if m.Supply.Rectified == nil {
		s.note("Efficiency and power factor of the supply are those of full load: at part load both are lower, and so are the currents, if by less.")
	}
}

// transformer holds its rating against what the rectifier draws.
func (a *Assessment) transformer(s *Section) {
	r := a.Mains
	if r.Size == nil {
		return
	}
	t := a.Machine.Supply.Rectified.Transformer
	s.check(atMost(figure("", "transformer rating needed", r.Size.Apparent, quantity.ApparentPower, "no-load voltage of the secondary times the RMS of its current, with three phases √3 times that: the peaky current heats the windings by its RMS; the limit is the rating given"), t.Rating,
		fmt.Sprintf("a transformer of %s or more, of like short-circuit voltage", show(r.Size.Apparent, quantity.ApparentPower))))
	if t.CopperLoss > 0 {
		s.figure(figure("", "loss in the transformer's copper", r.Size.CopperLoss, quantity.Power, "copper loss at its rating times the square of the loading"))
	}
	for _, st := range a.Stations {
		if st.Duration > longForCopper {
			s.note(fmt.Sprintf("The cycle of %q lasts %s: the mean of so long a time is no fair figure for windings, whose hottest minutes count.", st.Name, show(st.Duration, quantity.Time)))
		}
	}
}

// longForCopper is the cycle from which on its mean is no fair figure for windings [s]
// (common practice, no source).
const longForCopper = 60

// rectifier says what its waveform does.
func (a *Assessment) rectifier(s *Section) {
	w := a.Bus.Ripple
	if w == nil {
		return
	}
	of := [2]string{"at mean power", "at peak demand"}
	if w.Held {
		of[1] = "at lowest voltage"
	}
	const how = "waveform settled under a load that does not change, by e = L di/dt + R i + diodes + v along the loop that conducts; lowest mains, least capacitance, at "
	for i, p := range []*bus.Ripple{w.Mean, w.Top} {
		if p == nil {
			continue
		}
		load := "the highest mean power"
		if i == 1 {
			load = "the peak demand of the axes with the bleeder"
			if w.Held {
				load = "the current of the averaged rectifier at the lowest bus voltage, as it cannot carry the peak demand"
			}
		}
		rms := func(f Figure) Figure { f.Basis = "RMS"; return f }
		s.figure(figure(of[i], "ripple", p.PeakToPeak, quantity.Voltage, how+load+"; crest less valley of the bus"))
		s.figure(figure(of[i], "valley", p.Lowest, quantity.Voltage, how+load))
		s.figure(figure(of[i], "conduction", p.ConductionAngle, quantity.Angle, how+load+"; of each diode in a period"))
		s.figure(rms(figure(of[i], "line current", p.Secondary.RMS, quantity.Current, how+load+"; at the rectifier")))
		s.figure(figure(of[i], "line crest", p.Secondary.Peak, quantity.Current, how+load+"; at the rectifier"))
		s.figure(rms(figure(of[i], "bank current", p.BankRMS, quantity.Current, how+load+"; what drives add by their pulses is not in it")))
		s.figure(figure(of[i], "diode heat", p.DiodeHeat, quantity.Power, how+load+"; all diodes together"))
		if !p.Stable {
			s.note("The waveform " + of[i] + " is not one into which the bus settles: it may swing up, or crests may alternate. More resistance or capacitance settles it.")
		}
	}
	if w.Top == nil {
		s.note("The rectifier cannot carry the peak demand for long, and the bus has no lowest voltage: its valleys are not known.")
		return
	}
	s.figure(figure("", "dip of the valley below the average", w.Dip, quantity.Voltage, "voltage of the averaged rectifier less the valley of the waveform at the same load, "+of[1]+": at no time does the rectifier give more, so that pulses and average never differ by more charge, as long as loads do not change within few periods of the mains; with 0.1 % of the no-load voltage, by which the average may be off; it is deducted from every lowest bus voltage above"))
}

// rippleHow says that the ripple is in a lowest voltage.
func (a *Assessment) rippleHow() string {
	if w := a.Bus.Ripple; w != nil && w.Top != nil {
		return "; of the averaged rectifier, less the dip of the valley of its ripple"
	}
	return ""
}

// inrush says what is drawn when the mains are switched on.
func (a *Assessment) inrush(s *Section) {
	r, m := a.Mains, a.Machine
	rect := m.Supply.Rectified
	if r.Inrush == nil {
		return
	}
	how := [3]string{"√2 V/R at the highest mains, switched on at the crest; R the cold resistance of the limiter", "C (√2 V)²/(2 R): half of what the mains gives is burned in R (charging of a capacitor, any circuit text)", "R C ln 20: until 95 % is reached"}
	of := "cold limiter"
	if rect != nil {
		const waveform = "by the waveform into the empty bank, highest mains, most capacitance, switched on at the worst phase"
		how = [3]string{waveform, waveform, waveform + "; until the bank is within 5 % of the no-load voltage"}
		if rect.Transformer != nil {
			how[0] += "; winding a fifth below its warm resistance (common practice, no source), transformed to the primary"
			how[1] += "; transformed to the primary"
		}
		if rect.Limiter == 0 {
			of = "no limiter"
		}
	}
	for _, x := range []struct {
		of string
		in *bus.Inrush
	}{{of, r.Inrush}, {"without it", r.Unlimited}} {
		if x.in == nil {
			continue
		}
		s.figure(figure(x.of, "inrush", x.in.Peak, quantity.Current, how[0]))
		s.figure(figure(x.of, "inrush I²t", x.in.I2t, quantity.SquareCurrentTime, how[1]))
		s.figure(figure(x.of, "inrush lasts", x.in.Duration, quantity.Time, how[2]))
	}
	if rect == nil {
		s.note("Without its limiter, or while that is still hot after a short pause, only the impedance of the mains limits the inrush: let it cool before switching on again.")
		return
	}
	s.check(atMost(figure("", "bus voltage at switching on", r.Inrush.Highest, quantity.Voltage, "highest that the waveform of the inrush reaches: inductance carries it above the crest"), m.Bank.RatedVoltage,
		"a limiter between rectifier and bank, or a bank of higher rating"))
	if rect.Transformer != nil {
		s.note("The core of a transformer that is switched on saturates besides, and draws several to some ten times its rated crest for a few periods (common practice, no source): ask for it with the transformer.")
	}
}

// mainsFuse gives the least figures of a fuse or breaker.
func (a *Assessment) mainsFuse(s *Section) {
	r := a.Mains
	if r.Fuse == nil {
		return
	}
	rated := "line current over 80 % (NEC 210.20(A), 215.3, from memory; other codes differ)"
	if r.RailRMS > 0 {
		rated = "line current, with that of the auxiliary rail, over 80 % (NEC 210.20(A), 215.3, from memory; other codes differ)"
		s.figure(figure("", "line current of the rail, about", r.RailRMS, quantity.Current, "mean power into its supply over the lowest mains voltage, of one phase, with a power factor of 0.6, as of a small supply without correction (common practice, no source), or that of the supply where the bus feeds it"))
	}
	const of = "fuse or breaker"
	s.figure(figure(of, "rated for", r.Fuse.Rating, quantity.Current, rated))
	if r.Inrush != nil {
		s.figure(figure(of, "melting I²t above", r.Fuse.MeltingI2t, quantity.SquareCurrentTime, "I²t of the inrush behind its limiter, of this supply alone; well above, for many of them"))
		trip := figure(of, "trips at once above", r.Fuse.TripAbove, quantity.Current, "peak of that inrush over √2")
		trip.Basis = "RMS"
		s.figure(trip)
	}
	s.note("Fuse or breaker: " + r.Fuse.Caution)
}

// energyUse gives the energy at the mains per cycle, part, hour and year.
func (a *Assessment) energyUse(s *Section) {
	m, r := a.Machine, a.Mains
	if !(a.Bus.MeanPower > 0) || !(r.Real > 0) {
		return
	}
	perJoule := r.Real / a.Bus.MeanPower
	burns := len(m.Brakes) > 0 || m.Clamp != nil
	total := r.Real + r.Rail
	atMains := "over the efficiency of what feeds the bus"
	for i, st := range a.Stations {
		drawn, back := st.Hot.Positive().Integral(), -st.Cold.Negative().Integral()
		drawHow, backHow := "what its axes and switched loads draw, what they return not deducted, "+atMains, "returned with cold copper over drawn: all of it, though other axes use some"
		if a.exact() {
			drawn, back = a.Bus.MeanPower*st.Duration, math.Min(back, a.Bus.ResistorMean*st.Duration)
			drawHow, backHow = "energy of the source over the settled cycle "+atMains, "burned in resistor or clamp over what the source gives, settled cycles"
		}
		s.figure(figure(st.Name, "per cycle, at most", drawn*perJoule, quantity.Energy, drawHow))
		if burns && drawn > 0 {
			s.figure(figure(st.Name, "burned of it, at most", math.Min(1, back/drawn), quantity.Fraction, backHow))
		}
		if parts := m.Stations[i].Parts; parts > 0 {
			s.figure(figure(st.Name, "per part", drawn*perJoule/parts, quantity.Energy, "energy per cycle over partsPerCycle, this station alone"))
			s.figure(figure(st.Name, "whole machine, per part", total*st.Duration/parts, quantity.Energy, "mean power of the whole machine, with the rail, over this station's parts in that time"))
		}
	}
	with := "mean power of the supply at the mains"
	if r.Rail > 0 {
		with += " and of the auxiliary rail"
		s.figure(figure("", "mean power with the rail, at most", total, quantity.Power, with))
	}
	s.figure(figure("", "energy per hour, at most", total*3600, quantity.Energy, with+", for an hour of cycles without a pause"))
	share := a.Bus.ResistorMean
	if m.HoursPerYear > 0 {
		s.figure(figure("", "energy per year, at most", total*m.HoursPerYear, quantity.Energy, with+", for hoursPerYear"))
		if burns {
			s.figure(figure("", "burned of that, at most", math.Min(total, share*perJoule)*m.HoursPerYear, quantity.Energy, "mean power that the resistor burns at most "+atMains+", for hoursPerYear"))
		}
	}
}

// uncheckedMains names what is not known of the mains side.
func (a *Assessment) uncheckedMains() {
	m := a.Machine
	add := func(missing bool, text string) {
		if missing {
			a.Unchecked = append(a.Unchecked, text)
		}
	}
	if a.Mains == nil {
		add(true, "mains (a battery feeds the bus)")
	} else if m.Supply.Rectified == nil {
		_, battery := m.Supply.Source.(bus.Battery)
		add(!battery && m.Supply.Mains.Phases == 0, "mains current (phases and frequency of the mains not given)")
		add(!battery && m.Supply.Input.PowerFactor == 0, "mains current and power factor (the supply's powerFactor not given)")
		add(!battery && m.Supply.Input.CrestFactor == 0, "crest of the mains current (the supply's crestFactor not given)")
		add(!battery && m.Supply.Input.Capacitance == 0, "inrush (the supply's inputCapacitance and inrushLimiter not given)")
		add(battery, "what a charger draws from the mains (not part of this assessment)")
	}
	add(m.HoursPerYear == 0, "energy per year (hoursPerYear not given)")
	parts := false
	for _, st := range m.Stations {
		parts = parts || st.Parts > 0
	}
	add(!parts, "energy per part (no station has partsPerCycle)")
}
