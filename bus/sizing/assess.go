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
	Machine     *Machine
	Fits        bool // every limit is kept
	Stations    []StationResult
	Bus         BusResult
	Rail        *RailResult     // nil: not examined
	CommonStart *CommonStart    // nil for a bus that has only one course
	Averages    *WindowAverages // nil for a bus that has only one course and no windows asked for
	Exact       *ExactResult    // nil: not asked for
	Locked      *LockResult     // nil: not asked for
	Study       *StudyResult    // nil: not asked for
	Ranking     *Ranking        // nil: not asked for
	HowMany     []*Carried      // as asked for
	Split       *Split          // nil: not asked for
	Mains       *MainsResult    // nil: none feeds the machine
	Heat        HeatResult

	Sections []Section
	Parts    []*Assessment // of a machine on several buses; all else but Fits is then in them

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
	Switched  profile.Curve // conductance of its switched loads [S]; empty: none
	Pauses    []Pause       // where it may stand still, between two cycles first; none when it is strictly periodic
}

// AxisResult is an axis over one cycle of its station, with its load as entered.
type AxisResult struct {
	Name    string
	Motion  profile.Motion
	Winding thermal.Settled // at the end of friction and payload that heats it most
	// Runaway is set, and Winding only holds the permitted maximum, when the
	// winding has no settled temperature.
	Runaway *thermal.RunawayError

	hotPower, coldPower profile.Curve // of Hot and Cold of the station what this axis takes [W]
	pauses              []Pause       // the same of the station's pauses

	hotAxis, coldAxis energy.Axis
	steps             []energy.Step // as entered

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
	// Start is the motion out of standstill that takes the largest torque, with the
	// load's static friction; zero where the load has none.
	Start energy.Start
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

	StartUp *StartUpResult // nil: not examined
	Stops   *StopsResult   // nil: not examined
	Ripple  *RippleResult  // of a rectifier, in Lowest already; nil: another supply
	Young   *BusWhenYoung  // nil: the bank does not age
	Memory  []MemoryResult // of supplies that shut down on over-voltage, without a diode

	// AtDrives holds the bounds at the drives that have a cable, by axis.
	AtDrives    map[string]bus.EndBound
	sagAtDrives map[string]profile.Curve // their voltage in SagCycle

	// Banks that would keep the bus within its limits when the present one does
	// not, nominal [F]; 0 when the present one does or none would.
	BankForSag, BankForRise float64
}

// BusWhenYoung is how far the bus sags and rises with the bank when new.
type BusWhenYoung struct {
	Lowest  float64 // bus voltage [V]; -Inf: no bound
	Highest float64 // [V]; +Inf: no bound
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
	if len(m.Parts) > 0 {
		return a, a.assessParts(ctx)
	}
	if err := a.loads(ctx); err != nil {
		return nil, err
	}
	if err := a.conclude(ctx); err != nil {
		return nil, err
	}
	return a, nil
}

// loads finds what everything has to carry, temperatures of parts in a cabinet apart.
func (a *Assessment) loads(ctx context.Context) error {
	m := a.Machine
	var f profile.Faults
	for i, s := range m.Stations {
		if err := ctx.Err(); err != nil {
			return err
		}
		r, err := m.assessStation(ctx, s, fmt.Sprintf("stations[%d]", i))
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			f.Under("", err)
			continue
		}
		a.Stations = append(a.Stations, r)
	}
	if err := f.Err(); err != nil {
		return err
	}
	if err := a.assessBus(ctx); err != nil {
		return err
	}
	if err := a.startUp(ctx); err != nil {
		return err
	}
	if err := a.rail(ctx); err != nil {
		return err
	}
	if err := a.stops(ctx); err != nil {
		return err
	}
	if err := a.mains(ctx); err != nil {
		return err
	}
	return a.findCabinet()
}

// conclude finds how hot everything gets, holds all against its limits and says what the figures
// rest on.
func (a *Assessment) conclude(ctx context.Context) error {
	if err := a.heat(ctx); err != nil {
		return err
	}
	if err := a.averages(ctx); err != nil {
		return err
	}
	phase, err := a.phaseSection(ctx)
	if err != nil {
		return err
	}
	a.Sections = []Section{
		a.motionSection(), a.motorSection(), a.mechanicsSection(), a.energySection(), a.supplySection(),
		a.bankSection(), phase, {Key: "locked", Title: "locked stations", Question: "What if the stations start with delays that a controller keeps?"},
		{Key: "study", Title: "study of tolerances", Question: "How often does what happen, over tolerances and phases?"},
		{Key: "sensitivity", Question: "Which inputs move the worst figures most?"}, a.resistorSection(), a.cablesSection(), a.mainsSection(), a.startUpSection(), a.stopsSection(), a.railSection(), a.heatSection(),
	}
	a.Fits = true
	for _, s := range a.Sections {
		for _, c := range s.Checks {
			a.Fits = a.Fits && (c.OK || c.Caution)
		}
	}
	if err := a.asked(ctx); err != nil {
		return err
	}
	a.unchecked()
	a.cautions()
	a.assumptions()
	return nil
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
			ax.hotPower, ax.coldPower = hot[i], cold[i]
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
	if r.Switched, err = m.conductance(s, c.starts, c.duration); err != nil {
		return StationResult{}, err
	}
	if r.Switched.Pieces() > 0 {
		hot = append(hot, m.mostSwitched(r.Switched))
	}
	if r.Hot, err = profile.Sum(hot...); err != nil {
		return StationResult{}, err
	}
	if r.Cold, err = profile.Sum(cold...); err != nil {
		return StationResult{}, err
	}
	return r, m.pauses(s, c, &r)
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
		if err := l.breakAway(hotAxis, loads[i]); err != nil {
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
	r.hotAxis, r.coldAxis, r.steps = hotAxis, coldAxis, steps
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
		if lowest.V == highest.V && s.Load.ExternalByTime.Pieces() == 0 {
			instants = instants[:1] // at rest, it pulls alike all the time
		}
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
