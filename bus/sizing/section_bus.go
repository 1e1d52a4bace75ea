package sizing

import (
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
)

// lineUp says what a simulated phasing is worth.
const lineUp = "simulation of one course, with start delays that line up the stations' worst windows: it shows how near the bound is to what can happen; other courses may come a little nearer, none goes beyond the bound"

const thresholdCure = "raise both thresholds of the brake resistor, or lower the supply's voltage"

// exact reports whether the bus has only one course: that of the settled cycle of one
// station that never pauses, with no spread of its load and no tolerance of what drains the bus. With such
// a spread more than its two ends would have to be followed, since a resistor that comes
// on or not makes a higher bus the lower one later: the bounds then hold for all of it.
func (a *Assessment) exact() bool {
	if len(a.Stations) != 1 || len(a.Stations[0].Pauses) > 0 || !a.Machine.drainsExactly() {
		return false
	}
	for _, ax := range a.Stations[0].Axes {
		if len(ax.Ends) > 0 {
			return false
		}
	}
	return true
}

// basis says how the bus figures were obtained.
func (a *Assessment) basis() string {
	if a.exact() {
		return "settled cycle"
	}
	if len(a.Stations) == 1 {
		return "bound for any load and threshold within its spread (plain-window backlog bound)"
	}
	return "bound over every phasing of the stations (plain-window backlog bound)"
}

func (a *Assessment) supplySection() Section {
	s := Section{Key: "supply", Question: "Does the supply carry the axes, and how far does the bus sag?"}
	m, r := a.Machine, a.Bus
	sup := m.Supply
	low := sup.Source.Low()

	s.check(atMost(figure("", "mean power", r.MeanPower, quantity.Power, a.meanHow()), sup.RatedPower,
		"choose a larger supply, or lengthen the cycles"))
	a.switchedFigures(&s)
	s.figure(figure("", "peak demand of the axes", r.PeakDemand, quantity.Power, "sum of the stations' highest powers, hot copper; the bank gives what the supply does not"))
	if i := low.Current(low.NoLoadVoltage()); i > 0 {
		s.figure(figure("", "most the supply gives", i*low.NoLoadVoltage(), quantity.Power, "current limit times the lowest set point"))
	}
	s.figure(figure("", "no-load voltage, lowest", low.NoLoadVoltage(), quantity.Voltage, "set point or open-circuit voltage less its tolerance"))
	mains := figure("", "mean mains power", r.MeanPower*sup.throughDiode()/sup.Efficiency, quantity.Power, "mean power of the settled cycle over the supply's efficiency")
	if !a.exact() {
		mains.Name, mains.How = "mean mains power, at most", "mean power over the supply's efficiency: an upper bound, since mean power is one"
	}
	if sup.Rectified == nil {
		s.figure(mains)
	}

	c := atLeast(figure("", "lowest bus voltage", r.Lowest, quantity.Voltage,
		a.basis()+"; lowest set point or line, least capacitance, hot copper"+a.rippleHow()), m.UnderVoltage, a.sagCure())
	if g := r.Guarantee.Sag; !g.Exists && math.IsInf(r.Lowest, 0) {
		c.Reason = g.Reason
	}
	s.check(c)
	if g := r.Guarantee.Sag; g.Exists && !a.exact() {
		s.figure(figure("", "sag, worst windows lined up", g.WitnessVoltage, quantity.Voltage, lineUp))
	}
	need, decides := a.neededBus()
	s.figure(figure("", "lowest bus voltage for all moves", need, quantity.Voltage,
		"highest over the axes of what the motor needs, or the under-voltage limit where that is higher, with what the cables drop while all drives on them draw their highest powers together, each at that voltage; decides: "+decides))
	a.whenNote(&s, "Lowest", r.SagCycle, r.Guarantee.Sag)
	if text := a.where(-1); text != "" {
		s.note(text)
	}
	a.memoryChecks(&s)
	a.peakRatings(&s)
	if line := sup.Mains; line != nil && sup.Rectified == nil {
		s.mains(*line)
	}
	if _, ok := sup.Source.(bus.Resistive); ok {
		s.note("The rectified source is taken by its average: mains ripple lowers the valleys further.")
	}
	return s
}

// mains holds the mains against the input range of the supply.
func (s *Section) mains(line Mains) {
	s.check(atLeast(figure("", "lowest mains", line.Voltage*(1-line.Tolerance), quantity.Voltage, "nominal less tolerance (IEC 60038 has 10 %; from memory)"),
		line.InputLow, "choose a supply with a wider input range"))
	s.check(atMost(figure("", "highest mains", line.Voltage*(1+line.Tolerance), quantity.Voltage, "nominal plus tolerance"),
		line.InputHigh, "choose a supply with a wider input range"))
}

func (a *Assessment) meanHow() string {
	if a.exact() {
		return "energy of the source over the settled cycle"
	}
	return "sum of the means of the positive parts of the stations' powers, plus the bleeder at the highest no-load voltage and what the bank's series resistance can burn: not exceeded by any course"
}

// sagCure says how much capacitance would keep the bus above its limit.
func (a *Assessment) sagCure() string {
	if _, heats := a.Machine.bus(early).SourceHeatsResistor(); heats {
		return thresholdCure
	}
	if cure := a.memoryCure(); cure != "" {
		return cure
	}
	if c := a.Bus.BankForSag; c > 0 {
		return fmt.Sprintf("a bank of %s or more, or a supply that gives more power", show(c, quantity.Capacitance))
	}
	return "a supply that gives more power; no bank up to a thousand times the present one is enough"
}

func (a *Assessment) bankSection() Section {
	s := Section{Key: "bank", Question: "How far does the bus rise, and what does the bank store?"}
	m, r := a.Machine, a.Bus
	s.figure(figure("", "no-load voltage, highest", m.Supply.Source.High().NoLoadVoltage(), quantity.Voltage, "set point or open-circuit voltage plus its tolerance"))
	rise := figure("", "highest bus voltage", r.Highest, quantity.Voltage,
		a.basis()+"; highest set point or line, least capacitance, latest thresholds, cold copper")
	g := r.Guarantee.Rise
	for _, limit := range []struct {
		name string
		v    float64
	}{{"over-voltage trip", m.OverVoltage}, {"bank rating", m.Bank.RatedVoltage}} {
		f := rise
		f.Name += " / " + limit.name
		c := atMost(f, limit.v, a.riseCure())
		if !g.Exists && math.IsInf(r.Highest, 0) {
			c.Reason = g.Reason
		}
		s.check(c)
	}
	if g.Exists && !a.exact() {
		s.figure(figure("", "rise, worst windows lined up", g.WitnessVoltage, quantity.Voltage, lineUp))
	}
	if y := r.Young; y != nil {
		const how = ", with the capacitance and the series resistance of the bank when new: what differs from that at the end of its life is what ageing does"
		s.figure(figure("", "lowest bus voltage, bank new", y.Lowest, quantity.Voltage, "as the lowest bus voltage under supply"+how))
		s.figure(figure("", "highest bus voltage, bank new", y.Highest, quantity.Voltage, "as the highest bus voltage"+how))
	}
	a.ripple(&s)
	a.whenNote(&s, "Highest", r.RiseCycle, g)
	if text := a.where(1); text != "" {
		s.note(text)
	}
	high := m.allLinks().High()
	from := m.OverVoltage
	s.figure(figure("", "stored energy, highest", high.Energy(from), quantity.Energy, "½ C V² at the over-voltage trip with the most capacitance"))
	switch {
	case from <= bus.MachineDischarge.Voltage:
		s.note("The trip is not above 60 V: no time of discharge is asked for.")
	case high.Capacitance*from <= bus.MachineDischarge.Charge:
		s.note("The stored charge is at most 60 µC: no time of discharge is asked for (" + dischargeRule + ").")
	default:
		s.check(m.dischargeCheck())
	}
	return s
}

// rippleOfBank returns the RMS current into the bank [A], as far as it is known.
func (a *Assessment) rippleOfBank() (rms float64, how string, known bool) {
	var x *bus.Result
	how = "RMS of the current into the bank over the settled cycle"
	switch c := a.Bus.SagCycle; {
	case c != nil && c.Repeats && !c.Collapsed:
		x = c.Result
	case a.Bus.Guarantee.Sag.Witness != nil:
		x = a.Bus.Guarantee.Sag.Witness
		how = "RMS of the current into the bank while the worst windows are lined up; other courses may have more"
	}
	if x == nil || x.BankCurrent.Pieces() == 0 {
		return 0, "", false
	}
	rms, without := x.BankCurrent.RMS(), ". What drives and mains add by their switching is not in it"
	if w := a.Bus.Ripple; w != nil && w.Top != nil {
		rms = math.Hypot(rms, w.Top.BankRMS)
		without = ", with that of the rectifier's pulses at the most that it gives as a sum of squares. What drives add by their switching is not in it"
	}
	return rms, how + without, true
}

// ripple holds the current of the bank against its rating.
func (a *Assessment) ripple(s *Section) {
	rms, how, known := a.rippleOfBank()
	if !known {
		return
	}
	f := figure("", "ripple current of the bank", rms, quantity.Current, how)
	f.Basis = "RMS"
	if limit := a.Machine.Ageing.RippleCurrent; limit > 0 {
		s.check(atMost(f, limit, "a bank for more ripple current, of more capacitors in parallel"))
	} else {
		s.figure(f)
	}
}

// dischargeRule is where the limit of discharge comes from.
const dischargeRule = "IEC 60204-1, 6.2.4, and NFPA 79-2024, 6.5.1, both read in a secondary source"

// discharge returns how long the bleeder alone takes from the over-voltage trip to 60 V
// [s]: with the most capacitance and the highest resistance.
func (m Machine) discharge() float64 {
	b := m.bus(late)
	b.Bank = m.allLinks().High()
	return b.DischargeTime(m.OverVoltage, bus.MachineDischarge.Voltage)
}

func (m Machine) dischargeCheck() Check {
	how := "R C ln(V/60 V) through the bleeder alone, highest resistance, most capacitance, from the over-voltage trip; the limit: at most 60 V within 5 s, " +
		"a stored charge of at most 60 µC exempt, and where 5 s would disturb the function a durable warning that states the waiting time (" + dischargeRule + ")"
	rule := bus.MachineDischarge
	if m.DischargeWarning > 0 {
		rule.Time = m.DischargeWarning
	}
	b := m.bus(late)
	b.Bank = m.allLinks()
	cure := "a bank with less series resistance"
	if d, err := b.Discharge(rule, bus.Standby{}, m.OverVoltage, m.OverVoltage); err == nil && d.MostBleeder > 0 {
		cure = fmt.Sprintf("a bleeder of %s or less", show(d.MostBleeder/(1+m.BleederTolerance), quantity.Resistance))
	}
	if m.DischargeWarning > 0 {
		cure += ", or a warning with a longer waiting time"
	} else {
		cure += `, or, where 5 s would disturb the function, a durable warning with the waiting time ("dischargeWarning")`
	}
	c := atMost(figure("", "discharge to 60 V", m.discharge(), quantity.Time, how), rule.Time, cure)
	if m.Bleeder == 0 {
		c.Reason = "there is no bleeder"
	}
	return c
}

// riseCure says how much capacitance would keep the bus below its limits.
func (a *Assessment) riseCure() string {
	if _, heats := a.Machine.bus(early).SourceHeatsResistor(); heats {
		return thresholdCure
	}
	if c := a.Bus.BankForRise; c > 0 {
		return fmt.Sprintf("a bank of %s or more, or a brake resistor of lower resistance", show(c, quantity.Capacitance))
	}
	return "a brake resistor that takes more power, switched on at a lower voltage"
}
