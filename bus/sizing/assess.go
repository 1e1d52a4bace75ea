package sizing

import (
	"context"
	"errors"
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// Assessment is the answer for one machine.
type Assessment struct {
	Machine  *Machine
	Fits     bool // every limit is kept
	Stations []StationResult
	Bus      BusResult

	Sections    []Section
	Unchecked   []string // what no limit was held against, and why
	Cautions    []string // what can hurt somebody
	Assumptions []string // what the figures rest on
}

// StationResult is a station over one cycle.
type StationResult struct {
	Name     string
	Duration float64   // of the cycle [s]
	Starts   []float64 // of its steps [s]
	Axes     []AxisResult
	// Power taken from the bus [W]: Hot with the copper settled in the highest ambient,
	// Cold with the copper at the lowest. Where friction or payload have a spread, Hot is
	// at every instant the most that any of their ends takes, Cold the least.
	Hot, Cold profile.Curve
}

// AxisResult is an axis over one cycle of its station, with its load as entered.
type AxisResult struct {
	Name    string
	Motion  profile.Motion
	Winding thermal.Settled // at the end of friction and payload that heats it most
	// Runaway is set, and Winding only holds the permitted maximum, when the
	// winding has no settled temperature.
	Runaway *thermal.RunawayError

	LoadResult
	Ends []LoadResult // with friction and payload at the ends of their spread; empty when they have none
}

// LoadResult is what an axis does with its load at one end of its spread.
type LoadResult struct {
	Corner string       // which end, see the notes of the report; "" as entered
	Hot    energy.Trace // with the copper settled in the highest ambient
	Cold   energy.Trace // with the copper at the lowest ambient
	Weight float64      // largest torque with which the load pulls at the motor anywhere in its cycle, without any friction [N·m]
	Stop   float64      // largest torque of the motor's shaft in an emergency stop [N·m]; 0: not examined
	// UnaidedRMS is the RMS of the motor torque if friction did not help to hold the axis at
	// rest [N·m].
	UnaidedRMS float64
	Books      []energy.Book // where the energy of each step went, hot copper

	Voltage *energy.Voltage // that the motor needs, hot copper; nil when its winding's inductance or pole pairs are not given
	Drive   energy.DriveLoading
	Motor   energy.MotorLoading
	Parts   []PartResult // of the drive train that have a rating
	Joint   *energy.JointAssessment
	Rod     *RodResult

	corner loadCorner
	motors []energy.Motor // with hot copper, and with magnets as hot and as cold as they get
}

// PartResult is a part of the drive train held against its rating.
type PartResult struct {
	Name    string
	Loading energy.TorqueLoading
}

// RodResult is the rod of a screw held against whirling and buckling.
type RodResult struct {
	Speed energy.Loading // of the screw [rad/s]
	Force energy.Loading // axial compression [N]; zero when not examined
}

// BusResult is the bus of the whole machine.
type BusResult struct {
	// Guarantee bounds the bus for stations that are not locked to each other, with
	// hot copper for what is drawn and cold copper for what is returned.
	Guarantee *bus.Guarantee
	// SagCycle and RiseCycle are the settled cycles of a machine with one station and
	// without spread of load or thresholds, nil otherwise.
	SagCycle  *bus.Settled
	RiseCycle *bus.Settled

	Lowest       float64 // bus voltage, of the settled cycle or of every phasing [V]; -Inf: no bound
	Highest      float64 // [V]; +Inf: no bound
	MeanPower    float64 // of the source, at most [W]
	PeakDemand   float64 // of the axes together, at most [W]
	ResistorMean float64 // power of the brake resistor, at most [W]
	ResistorOnce float64 // energy into the resistor by one burst of braking, at most [J]

	// Banks that would keep the bus within its limits when the present one does
	// not, nominal [F]; 0 when the present one does or none would.
	BankForSag, BankForRise float64
}

// Assess computes what the machine's parts have to carry and holds it against
// their limits. It returns an error that joins the faults of the machine, or the
// context's error.
func Assess(ctx context.Context, m *Machine) (*Assessment, error) {
	if m == nil {
		var f profile.Faults
		f.Add("machine", nil, "a machine")
		return nil, f.Err()
	}
	if err := m.Validate(); err != nil {
		return nil, err
	}
	a := &Assessment{Machine: m}
	var f profile.Faults
	for i, s := range m.Stations {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		r, err := m.assessStation(ctx, s, fmt.Sprintf("stations[%d]", i))
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			f.Under("", err)
			continue
		}
		a.Stations = append(a.Stations, r)
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	if err := a.assessBus(ctx); err != nil {
		return nil, err
	}
	a.Sections = []Section{
		a.motionSection(), a.motorSection(), a.mechanicsSection(), a.energySection(), a.supplySection(),
		a.bankSection(), a.resistorSection(), a.heatSection(),
	}
	a.Fits = true
	for _, s := range a.Sections {
		for _, c := range s.Checks {
			a.Fits = a.Fits && (c.OK || c.Caution)
		}
	}
	a.unchecked()
	a.cautions()
	a.assumptions()
	return a, nil
}

func (m *Machine) assessStation(ctx context.Context, s Station, path string) (StationResult, error) {
	c, err := m.plan(ctx, s, path)
	if err != nil {
		return StationResult{}, err
	}
	r := StationResult{Name: s.Name, Duration: c.duration, Starts: c.starts}
	hot, cold := make([]profile.Curve, len(s.Axes)), make([]profile.Curve, len(s.Axes))
	var f profile.Faults
	for i, name := range s.Axes {
		if err := ctx.Err(); err != nil {
			return StationResult{}, err
		}
		ax, err := m.assessAxis(m.axis(name), c.motions[i], c.steps[i])
		if err == nil {
			hot[i], cold[i], err = ax.powers()
		}
		if err != nil {
			f.Under(fmt.Sprintf("%s.axes[%d]", path, i), err)
			continue
		}
		r.Axes = append(r.Axes, ax)
	}
	if err := f.Err(); err != nil {
		return StationResult{}, err
	}
	if r.Hot, err = profile.Sum(hot...); err != nil {
		return StationResult{}, err
	}
	r.Cold, err = profile.Sum(cold...)
	return r, err
}

// assessAxis traces an axis with cold copper, finds the temperature at which the
// winding settles in the highest ambient, and traces it again at that: with its load as
// entered and at the ends of its spread.
func (m *Machine) assessAxis(a Axis, motion profile.Motion, steps []energy.Step) (AxisResult, error) {
	r := AxisResult{Name: a.Name, Motion: motion}
	coldAxis, err := a.Drive.AtWinding(m.AmbientLow)
	if err != nil {
		return r, err
	}
	if coldAxis.Motor.Winding, err = withMagnets(coldAxis.Motor.Winding, m.AmbientLow); err != nil {
		return r, err
	}
	corners := a.loadCorners()
	results, loads := make([]LoadResult, len(corners)), make([][]energy.Step, len(corners))
	heat := thermal.Heat{At: m.AmbientLow}
	for i, c := range corners {
		loads[i] = c.applied(a, steps)
		results[i].Corner, results[i].corner = c.String(), c
		cold := &results[i].Cold
		if *cold, _, err = coldAxis.TraceSteps(loads[i]); err != nil {
			return r, err
		}
		heat.Copper = math.Max(heat.Copper, cold.CopperLoss.Mean())
		heat.Other = math.Max(heat.Other, cold.Book.MotorDrag/motion.Duration())
	}
	temperature, err := r.settle(a, coldAxis, heat, m.AmbientHigh)
	if err != nil {
		return r, err
	}
	// Beyond the permitted maximum the axis is reported as too hot; the bus is
	// then computed as if it ran at that maximum.
	temperature = math.Min(temperature, a.Winding.Max)
	hotAxis, err := a.Drive.AtWinding(temperature)
	if err != nil {
		return r, err
	}
	if hotAxis.Motor.Winding, err = withMagnets(hotAxis.Motor.Winding, temperature); err != nil {
		return r, err
	}
	for i := range results {
		l := &results[i]
		if l.Hot, l.Books, err = hotAxis.TraceSteps(loads[i]); err != nil {
			return r, err
		}
		if l.UnaidedRMS, err = unaided(hotAxis, loads[i], l.Hot.RatedTorque); err != nil {
			return r, err
		}
		if err := l.hold(a, loads[i]); err != nil {
			return r, err
		}
		if err := l.electrical(hotAxis, m.AmbientLow); err != nil {
			return r, err
		}
		if err := l.mechanical(a, motion, loads[i]); err != nil {
			return r, err
		}
	}
	r.LoadResult, r.Ends = results[0], results[1:]
	return r, nil
}

// settle finds the temperature at which the winding settles. Magnets whose
// coefficient is known are taken as hot as the winding, the unfavourable end:
// weaker magnets ask for more current, and so for more heat.
func (r *AxisResult) settle(a Axis, cold energy.Axis, heat thermal.Heat, ambient float64) (float64, error) {
	copper, temperature := heat.Copper, ambient
	for range 100 {
		w, err := withMagnets(cold.Motor.Winding, temperature)
		if err != nil {
			return 0, err
		}
		weaker := cold.Motor.Winding.Km() / w.Km()
		heat.Copper = copper * weaker * weaker
		r.Winding, err = a.Winding.Settled(heat, ambient)
		if errors.As(err, &r.Runaway) {
			r.Winding = thermal.Settled{Temperature: a.Winding.Max}
			return a.Winding.Max, nil
		} else if err != nil {
			return 0, err
		}
		if math.Abs(r.Winding.Temperature-temperature) <= 1e-9*a.Winding.Max || r.Winding.Temperature > maxMagnets {
			break
		}
		temperature = r.Winding.Temperature
	}
	return r.Winding.Temperature, nil
}

// maxMagnets is the temperature [°C] up to which the line of magnet strength is
// followed; a winding beyond it is far too hot in any case.
const maxMagnets = 250

// withMagnets returns the winding with its magnets at a temperature [°C], or as it
// is when nothing is known of them. Beyond maxMagnets, and where the line has lost
// half of the flux, they stay as they are there.
func withMagnets(w energy.Winding, temperature float64) (energy.Winding, error) {
	at, known := w.MagnetTemperature()
	if !known {
		return w, nil
	}
	step := 1.0 // towards room temperature, which is always in range
	if at > 20 {
		step = -1
	}
	near, err := w.AtMagnets(at + step)
	if err != nil {
		return w, err
	}
	perKelvin := (near.Kt()/w.Kt() - 1) / step // negative
	return w.AtMagnets(min(temperature, maxMagnets, at-0.49/perKelvin))
}

// hold finds the largest torque with which the load pulls at the motor when it
// comes to rest somewhere in its cycle: at the ends of its travel, at the breaks of
// a force against position, and at many instants where the pull is no straight
// line between these.
func (r *LoadResult) hold(a Axis, steps []energy.Step) error {
	for _, s := range steps {
		if s.Motion.Duration() == 0 {
			continue
		}
		axis := a.Drive
		axis.Load = s.Load
		position := s.Motion.Position()
		lowest, highest := position.Extrema()
		instants := []float64{0, position.End(), lowest.T, highest.T}
		if turns(a.Drive.Mechanism) != turnsLoad(a.Drive.Mechanism) || s.Load.ExternalByTime.Pieces() > 0 {
			instants = append(instants, spread(position.End())...)
			for i := range s.Load.ExternalByTime.Pieces() {
				from, to, _ := s.Load.ExternalByTime.Piece(i)
				instants = append(instants, from, to)
			}
		} else {
			for _, x := range s.Load.ExternalByPosition.Position {
				instants = append(instants, position.Crossings(nil, x)...)
			}
		}
		for _, t := range instants {
			h, err := axis.Holding(position.At(t), t)
			if err != nil {
				return err
			}
			r.Weight = math.Max(r.Weight, math.Abs(h.Free))
		}
	}
	if r.Weight <= 1e-9*a.Drive.Motor.PeakTorque {
		r.Weight = 0 // the rounding of a balanced load
	}
	return nil
}

// spread returns instants from 0 to a duration [s], close enough that a force
// that changes smoothly is seen near its extremes.
func spread(duration float64) []float64 {
	const n = 64
	t := make([]float64, n+1)
	for i := range t {
		t[i] = duration * float64(i) / n
	}
	return t
}

func (a *Assessment) assessBus(ctx context.Context) error {
	hot, cold := make([]profile.Curve, len(a.Stations)), make([]profile.Curve, len(a.Stations))
	for i, s := range a.Stations {
		hot[i], cold[i] = s.Hot, s.Cold
	}
	r := &a.Bus
	var err error
	if err = a.guarantee(ctx, hot, cold); err != nil {
		return err
	}
	sag, rise := r.Guarantee.Sag, r.Guarantee.Rise
	r.Lowest, r.Highest = math.Inf(-1), math.Inf(1)
	if sag.Exists {
		r.Lowest = sag.Voltage
	}
	if rise.Exists {
		r.Highest = rise.Voltage
	}
	r.MeanPower = r.Guarantee.MeanSourcePower
	r.PeakDemand = r.Guarantee.PeakDemand
	for _, br := range a.Machine.Brakes {
		r.ResistorMean = r.Guarantee.MeanReturnedPower
		bank := a.Machine.Bank.High()
		once := r.Guarantee.ReturnedBurst + bank.Energy(br.at(late).OnVoltage) - bank.Energy(br.at(early).OffVoltage)
		r.ResistorOnce = math.Max(r.ResistorOnce, once)
	}
	if a.exact() {
		if err := a.settle(ctx, hot[0], cold[0]); err != nil {
			return err
		}
	}
	if r.Lowest < a.Machine.UnderVoltage {
		if r.BankForSag, _, err = a.Machine.bus(early).BankForSag(ctx, bus.StrictlyPeriodic(hot), bus.StrictlyPeriodic(cold), a.Machine.UnderVoltage); err != nil {
			return err
		}
	}
	if limit := a.highestAllowed(); r.Highest > limit {
		if r.BankForRise, _, err = a.Machine.bus(late).BankForRise(ctx, bus.StrictlyPeriodic(hot), bus.StrictlyPeriodic(cold), limit); err != nil {
			return err
		}
	}
	return nil
}

// guarantee bounds the bus for every phasing: sag and supply while bleeder and
// brake resistor drain most, rise while they drain least. A threshold that the supply
// may hold on at any corner leaves neither.
func (a *Assessment) guarantee(ctx context.Context, hot, cold []profile.Curve) error {
	m := a.Machine
	g, err := m.bus(early).AnyPhase(ctx, bus.StrictlyPeriodic(hot), bus.StrictlyPeriodic(cold))
	if err != nil {
		return err
	}
	a.Bus.Guarantee = g
	if _, heats := m.bus(early).SourceHeatsResistor(); heats || m.drainsExactly() {
		return nil
	}
	most, err := m.bus(late).AnyPhase(ctx, bus.StrictlyPeriodic(hot), bus.StrictlyPeriodic(cold))
	if err != nil {
		return err
	}
	g.Rise = most.Rise
	return nil
}

// highestAllowed returns the voltage that neither drives nor bank stand more of.
func (a *Assessment) highestAllowed() float64 {
	return math.Min(a.Machine.OverVoltage, a.Machine.Bank.RatedVoltage)
}

// settle takes the figures of a bus that has only one course from its settled cycle,
// which is exact.
func (a *Assessment) settle(ctx context.Context, hot, cold profile.Curve) error {
	r := &a.Bus
	b := a.Machine.bus(nominal)
	var err error
	var none *bus.NoSettledStateError
	if r.SagCycle, err = b.Low().SettledCycle(ctx, hot); err != nil {
		if !errors.As(err, &none) {
			return err
		}
		r.SagCycle = nil
	}
	if r.RiseCycle, err = b.High().SettledCycle(ctx, cold); err != nil {
		if !errors.As(err, &none) {
			return err
		}
		r.RiseCycle = nil
	}
	if c := r.SagCycle; c != nil && c.Repeats && !c.Collapsed {
		r.Lowest = c.Lowest.V
		r.MeanPower = c.Energies.Source / c.Load.Duration()
	}
	// At high line the bleeder takes more, and the bank stores less of what comes back
	// before the resistor burns it.
	high, err := b.High().SettledCycle(ctx, hot)
	if err != nil && !errors.As(err, &none) {
		return err
	}
	if err == nil && high.Repeats && !high.Collapsed && r.SagCycle != nil {
		r.MeanPower = math.Max(r.MeanPower, high.Energies.Source/high.Load.Duration())
	}
	if c := r.RiseCycle; c != nil && c.Repeats && !c.Collapsed {
		r.Highest = c.Highest.V
		r.ResistorMean = c.Energies.Resistor / c.Load.Duration()
	}
	return nil
}
