package sizing

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"example.com/headroom/bus"
	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// Machine is everything that an assessment needs to know. [Parse] reads it from
// a document.
type Machine struct {
	Name string
	Note string // shown at the head of the report

	AmbientLow  float64 // lowest temperature around the motors [°C]
	AmbientHigh float64 // highest [°C], >= AmbientLow

	Supply  Supply
	Bank    bus.Bank // when new
	Ageing  Ageing   // of the bank
	Bleeder float64  // resistance across the bank [ohm], 0: none
	Brakes  []Brake
	Clamp   *Clamp // nil: none

	BleederTolerance float64 // fraction by which the bleeder may differ, 0 to below 1; only with a bleeder
	// DischargeWarning is the waiting time that a durable warning at the machine states
	// [s], 5 or more; 0: there is no such warning, and the bus must discharge in 5 s.
	DischargeWarning float64

	UnderVoltage float64 // drives trip below this [V], > 0
	OverVoltage  float64 // drives trip above this [V], > UnderVoltage

	StartUp  *StartUp // nil: not examined
	Switched []SwitchedLoad
	Rail     *Rail  // nil: not examined
	Stops    *Stops // nil: not examined

	// CourseOnly leaves out the bounds that hold at any phases, which take most of the time of
	// an assessment: of a machine with one station that is strictly periodic and without
	// spread of loads or drains the settled cycle says all. They are computed after all where
	// there is no settled cycle.
	CourseOnly bool

	HoursPerYear float64 // for which it runs in a year [s]; 0: not given

	// Altitude is that of the machine above sea level [m]. The thermal resistance of its
	// windings holds there.
	Altitude   float64
	Cabinet    *Cabinet    // nil: none
	Capacitors *Capacitors // of the bank; nil: their temperature is not examined

	Axes     []Axis
	Stations []Station

	HowMany []Copies // stations of which to find how many the bus carries
	Share   bool     // find how the stations share several supplies like this one, if they do not fit

	AnyPhase *AnyPhase // nil: averages over the windows of the ratings
	Lock     *Lock     // nil: no start delays are sought
	Study    *Study    // of the tolerances, from its first sample; nil: none
	Rank     bool      // find which inputs move the worst figures most

	// Parts are the machines of which this one consists, when its stations are on several
	// buses, each with a supply of its own; all else of it is then in the parts. Empty: there
	// is one bus.
	Parts []*Machine

	origin origins // of the paths of a part
}

// Supply feeds the bus.
type Supply struct {
	Source     bus.Source
	RatedPower float64    // that it may deliver continuously [W], > 0
	Efficiency float64    // DC power over mains power at that load, > 0 to 1; not used with Rectified
	Mains      *Mains     // nil: none, of a battery
	Input      Input      // of a regulated or unregulated supply, to the mains
	Rectified  *Rectified // with a [bus.AveragedRectifier] as Source; else nil

	Ambient  *AmbientRating          // nil: not given
	Standby  float64                 // heat without load, as far as Efficiency does not contain it [W], >= 0
	Overload []thermal.OverloadPoint // of its output [W]; empty: not given
}

// Ageing is what the bank comes to at the end of its life, and in the cold. Sag and rise
// are computed with it; stored energy, discharge and start-up with the bank when new.
type Ageing struct {
	Capacitance      float64 // part that is left at the end of life, above 0 to 1; 0: does not age
	SeriesResistance float64 // factor by which it has grown by then, >= 1; 0: does not grow
	RippleCurrent    float64 // RMS that the bank bears [A], 0: not given
	Cold             float64 // factor by which it grows at the lowest ambient, >= 1; 0: does not grow
}

func (g Ageing) validate(f *profile.Faults) {
	if !(g.Capacitance >= 0 && g.Capacitance <= 1) {
		f.Add("bank.endOfLife.capacitance", g.Capacitance, "above 0 and at most 1")
	}
	f.NonNegative("bank.rippleCurrent", g.RippleCurrent, "A")
	for _, x := range []struct {
		path string
		v    float64
	}{{"bank.endOfLife.seriesResistance", g.SeriesResistance}, {"bank.coldSeriesResistance", g.Cold}} {
		if x.v != 0 && !(x.v >= 1 && x.v <= 1000) {
			f.Add(x.path, x.v, "a factor from 1 to 1000")
		}
	}
}

// worn returns the bank at the end of its life, cold.
func (g Ageing) worn(b bus.Bank) bus.Bank {
	grown := 1.0
	for _, k := range []float64{g.SeriesResistance, g.Cold} {
		if k > 0 {
			grown *= k
		}
	}
	b.SeriesResistance *= grown
	if g.Capacitance > 0 {
		b.Capacitance *= g.Capacitance
	}
	return b
}

// Mains is what feeds the supply, RMS.
type Mains struct {
	Voltage   float64 // nominal [V], > 0
	Tolerance float64 // fraction by which it may differ, 0 to below 1; IEC 60038 has 10 %
	InputLow  float64 // lowest mains at which the supply holds its ratings [V], > 0; 0 with Rectified
	InputHigh float64 // highest [V], > InputLow; 0 with Rectified
	Phases    int     // 1 or 3; 0: not given
	Frequency float64 // [Hz], > 0; given with Phases
}

// Brake is the brake resistor with its thermal ratings.
type Brake struct {
	bus.BrakeResistor
	Rating thermal.BrakeResistor

	Tolerance          float64 // fraction by which the resistance may differ, 0 to below 1
	ThresholdTolerance float64 // fraction by which both thresholds may differ, 0 to below 1
	SwitchCurrent      float64 // that its switch can carry [A]; 0: not given
	Heat               ResistorRating
}

// Clamp is a linear shunt regulator with its thermal ratings.
type Clamp struct {
	bus.Clamp
	Rating thermal.BrakeResistor
}

// Axis is one axis of the machine.
type Axis struct {
	Name    string
	Drive   energy.Axis     // from load to bus
	Limits  profile.Limits  // of every move of the axis
	Law     *profile.Law    // of its moves; nil: the fastest within the limits
	Start   float64         // position at the start of the cycle [m | rad]
	Endless bool            // need not return to Start, as a conveyor
	Winding thermal.Winding // of the motor
	Nodes   *TwoNodes       // of the motor as a winding in its housing; nil: not given

	DriveAmbient *AmbientRating // of its drive; nil: not given

	Cable           *Cable  // that feeds its drive; nil: the drive is at the distribution point
	LinkCapacitance float64 // of its drive [F], >= 0, if it is not in the bank already

	HoldingBrake *HoldingBrake // nil: none

	// Fractions by which friction, and what the steps put on the axis, may differ from what
	// is entered, 0 to below 1.
	FrictionSpread, PayloadSpread float64

	HomingSpeed float64 // with which it seeks its reference at start-up [m/s | rad/s], 0: it does not

	StopDecel float64 // deceleration of an emergency stop [m/s² | rad/s²], 0: not examined
	StopJerk  float64 // of a controlled stop [m/s³ | rad/s³], 0: not limited
	Ratings   Ratings // of what the shafts drive
	Joint     *Joint  // of the first hub on the motor's shaft; nil: not given
	Rod       *Rod    // of a screw; nil: not examined
}

// Ratings are what the parts of the drive train may carry; nil: not given.
type Ratings struct {
	Coupling  *energy.TorqueRating   // on the motor's shaft
	Stages    []*energy.TorqueRating // at the output of each gear stage
	Mechanism *energy.TorqueRating   // at the shaft that drives it
}

// Joint fastens the first hub on the motor's shaft.
type Joint struct {
	energy.Joint
	ServiceFactor float64 // multiplies the peak torque, > 0
}

// Rod is the shaft of a screw as a rod that may whirl and buckle.
type Rod struct {
	Whirling       energy.Rod // as it turns
	Buckling       energy.Rod // as it is compressed; Length 0: not examined
	Density        float64    // [kg/m³], > 0
	Yield          float64    // yield stress [Pa], > 0 when buckling is examined
	SpeedFraction  float64    // usable part of the critical speed, above 0, at most 1
	BucklingFactor float64    // usable part of the buckling load, above 0, at most 1
}

// Station is a group of axes that run one cycle together.
type Station struct {
	Name  string
	Axes  []string // names of its axes; each axis belongs to one station
	Steps []Step   // of the cycle
	Parts float64  // that a cycle makes; 0: not given
	// StartDelay is the range from which a start delay is chosen, where the machine has a
	// Lock; nil: the station is fixed at 0.
	StartDelay *StartDelay
	// Strict stations begin the next cycle when one ends and never wait; others may stand idle
	// between two cycles for any time, and wait where a step lets them.
	Strict bool
}

// Step is a part of a station's cycle. All its moves start together; it ends
// when the longest of them and the dwell have ended.
type Step struct {
	Name     string
	To       map[string]float64 // target position of axes that move [m | rad]
	By       map[string]float64 // distance that axes move [m | rad]
	Dwell    float64            // shortest duration of the step [s], >= 0
	Duration float64            // that every move of the step takes [s]; 0: as short as the limits allow
	Path     Path               // how the moves of the step belong together

	MayWait bool // for any time after it has ended, all axes at rest

	On, Off []string // switched loads that go on and off at the start of the step

	// Payload is what axes carry besides their load from this step on, until
	// another step changes it [kg | kg·m²]; every axis starts the cycle without.
	Payload map[string]float64
	// Force is a further force from outside against the time since the start of
	// the step, positive where it opposes positive motion [N | N·m].
	Force map[string]profile.Curve
}

// Path says how the moves of one step belong together.
type Path int

// Paths.
const (
	Independent Path = iota // each axis takes its own time
	Together                // all end together: the faster ones are slowed down
	Straight                // all move on the straight line between their positions, by the fastest law
)

// Sizes beyond which a machine is no machine but a mistake, or malice.
const (
	maxAxes  = 1000
	maxMoves = 100000 // axes of a station times steps of its cycle
)

// Validate returns nil, or an error that joins a [*profile.InputError] for every
// field outside its domain.
func (m Machine) Validate() error {
	var f profile.Faults
	if len(m.Parts) > 0 {
		for i, p := range m.Parts {
			path := fmt.Sprintf("parts[%d]", i)
			if p == nil || len(p.Parts) > 0 {
				f.Add(path, "none, or of parts itself", "a machine with one bus")
				continue
			}
			f.Under(path, p.Validate())
		}
		return f.Err()
	}
	checkName(&f, "machine", m.Name)
	checkName(&f, "note", strings.NewReplacer("\n", " ", "\t", " ").Replace(m.Note))
	f.Within("ambient.low", m.AmbientLow, -60, 100, "°C")
	if f.Within("ambient.high", m.AmbientHigh, -60, 100, "°C") && m.AmbientHigh < m.AmbientLow {
		f.Add("ambient.high", m.AmbientHigh, fmt.Sprintf("at least ambient.low, %g °C", m.AmbientLow))
	}
	m.Supply.validate(&f)
	f.Under("bank", m.Bank.Validate())
	m.Ageing.validate(&f)
	if m.Bleeder != 0 {
		f.Positive("bleeder", m.Bleeder, "ohm")
	}
	checkTolerance(&f, "bleederTolerance", m.BleederTolerance)
	if m.BleederTolerance > 0 && m.Bleeder == 0 {
		f.Add("bleederTolerance", m.BleederTolerance, "none without a bleeder")
	}
	if m.DischargeWarning != 0 && !(m.DischargeWarning >= bus.MachineDischarge.Time && isFinite(m.DischargeWarning)) {
		f.Add("dischargeWarning", m.DischargeWarning, fmt.Sprintf("a waiting time of %g s or more: below it no warning is asked for", bus.MachineDischarge.Time))
	}
	for i, b := range m.Brakes {
		path := fmt.Sprintf("brakes[%d]", i)
		f.Under(path, b.BrakeResistor.Validate())
		f.Under(path, b.Rating.Validate())
		checkTolerance(&f, path+".tolerance", b.Tolerance)
		checkTolerance(&f, path+".thresholdTolerance", b.ThresholdTolerance)
		f.NonNegative(path+".switchCurrent", b.SwitchCurrent, "A")
	}
	if m.Clamp != nil {
		f.Under("clamp", m.Clamp.Clamp.Validate())
		f.Under("clamp", m.Clamp.Rating.Validate())
	}
	if f.Positive("underVoltage", m.UnderVoltage, "V") && f.Positive("overVoltage", m.OverVoltage, "V") && !(m.OverVoltage > m.UnderVoltage) {
		f.Add("overVoltage", m.OverVoltage, fmt.Sprintf("above underVoltage, %g V", m.UnderVoltage))
	}
	if f.Err() == nil {
		// What concerns several parts of the bus at once.
		for _, c := range []corner{nominal, early, late} {
			f.Under("", m.bus(c).Validate())
		}
	}

	for i, q := range m.HowMany {
		path := fmt.Sprintf("howMany[%d]", i)
		if !slices.ContainsFunc(m.Stations, func(s Station) bool { return s.Name == q.Station }) {
			f.Add(path+".station", q.Station, "the name of a station"+didYouMean(q.Station, m.stationNames()))
		}
		if q.UpTo < 1 || q.UpTo > mostCopies {
			f.Add(path+".upTo", q.UpTo, fmt.Sprintf("from 1 to %d", mostCopies))
		}
	}
	m.AnyPhase.validate(&f, m)
	m.Lock.validate(&f, m)
	validateStudy(&f, m.Study)
	m.StartUp.validate(&f, m)
	m.Rail.validate(&f)
	m.Stops.validate(&f)
	m.validateUse(&f)
	m.validateHeat(&f)
	if len(m.Axes) == 0 {
		f.Add("axes", "none", "at least one axis")
	}
	if len(m.Axes) > maxAxes {
		f.Add("axes", fmt.Sprintf("%d axes", len(m.Axes)), fmt.Sprintf("at most %d", maxAxes))
		return f.Err()
	}
	index := map[string]int{}
	for i, a := range m.Axes {
		path := fmt.Sprintf("axes[%d]", i)
		if checkName(&f, path+".name", a.Name); a.Name == "" {
			f.Add(path+".name", a.Name, "a name")
		} else if k, twice := index[a.Name]; twice {
			f.Add(path+".name", a.Name, fmt.Sprintf("a name other than that of axes[%d]", k))
		}
		index[a.Name] = i
		a.validate(&f, path)
	}
	m.validateCables(&f, index)
	m.validateSwitched(&f)
	m.validateStations(&f, index)
	return f.Err()
}

func (s Supply) validate(f *profile.Faults) {
	switch p := s.Source.(type) {
	case bus.SwitchMode, bus.Resistive, bus.Battery:
		f.Under("supply", p.Validate())
	case bus.Parallel:
		f.Under("supply.supplies", p.Validate())
	case bus.AveragedRectifier:
		f.Under("supply", p.Validate())
	default:
		f.Add("supply", fmt.Sprintf("%T", p), "a bus.SwitchMode, Resistive, Battery, AveragedRectifier or Parallel")
	}
	s.validateMains(f)
	f.Positive("supply.ratedPower", s.RatedPower, "W")
	if s.Rectified == nil && !(s.Efficiency > 0 && s.Efficiency <= 1) {
		f.Add("supply.efficiency", s.Efficiency, "above 0 and at most 1")
	}
	if s.Mains == nil {
		if _, battery := s.Source.(bus.Battery); !battery {
			f.Add("supply.mains", nil, "this field: what feeds the supply")
		}
		return
	}
	if s.Rectified != nil {
		return
	}
	f.Positive("supply.mains.voltage", s.Mains.Voltage, "V")
	if t := s.Mains.Tolerance; !(t >= 0 && t < 1) {
		f.Add("supply.mains.tolerance", t, "from 0 to below 1")
	}
	if f.Positive("supply.mains.inputLow", s.Mains.InputLow, "V") && f.Positive("supply.mains.inputHigh", s.Mains.InputHigh, "V") && !(s.Mains.InputHigh > s.Mains.InputLow) {
		f.Add("supply.mains.inputHigh", s.Mains.InputHigh, fmt.Sprintf("above inputLow, %g V", s.Mains.InputLow))
	}
}

func (a Axis) validate(f *profile.Faults, path string) {
	f.Under(path, a.Drive.Validate())
	f.Under(path+".limits", a.Limits.Validate())
	f.Finite(path+".start", a.Start, "")
	a.validateSpread(f, path)
	a.HoldingBrake.validate(f, path+".holdingBrake", a)
	f.NonNegative(path+".stopDecel", a.StopDecel, "m/s² or rad/s²")
	f.NonNegative(path+".stopJerk", a.StopJerk, "m/s³ or rad/s³")
	if f.NonNegative(path+".homingSpeed", a.HomingSpeed, "m/s or rad/s") && a.HomingSpeed > 0 && a.Limits.Validate() == nil && !(a.HomingSpeed <= a.Limits.Speed) {
		f.Add(path+".homingSpeed", a.HomingSpeed, fmt.Sprintf("at most limits.speed, %g", a.Limits.Speed))
	}
	if a.Law != nil && a.Limits.Validate() == nil {
		if _, err := a.Law.Shortest(1, a.Limits); err != nil {
			f.Under(path, err)
		}
	}
	if isDirect(a.Drive.Mechanism) {
		const want = "none on a direct axis: nothing turns there"
		for _, r := range a.rated() {
			f.Add(path+"."+r.path, "given", want)
		}
		if a.Joint != nil {
			f.Add(path+".joint", "given", want)
		}
	}
	if n := len(a.Drive.Stages); len(a.Ratings.Stages) > n {
		f.Add(path+".stages", fmt.Sprintf("%d ratings", len(a.Ratings.Stages)), fmt.Sprintf("at most %d, one for each stage", n))
	}
	for _, r := range a.rated() {
		f.Under(path+"."+r.path, r.rating.Validate())
		if t := r.rating; t.Mean == 0 && t.Peak == 0 && t.EmergencyStop == 0 {
			f.Add(path+"."+r.path, "empty", "at least one of mean, peak and emergencyStop")
		} else if t.EmergencyStop > 0 && a.StopDecel == 0 {
			f.Add(path+".stopDecel", nil, "the deceleration of an emergency stop, since "+r.path+".emergencyStop is given")
		}
	}
	if j := a.Joint; j != nil {
		switch j.Joint.(type) {
		case energy.ParallelKey, energy.ClampHub, energy.BondedJoint:
			f.Under(path+".joint", j.Joint.Validate())
		default:
			f.Add(path+".joint", fmt.Sprintf("%T", j.Joint), "an energy.ParallelKey, ClampHub or BondedJoint")
		}
		if !(j.ServiceFactor > 0 && j.ServiceFactor <= 100) {
			f.Add(path+".joint.serviceFactor", j.ServiceFactor, "above 0 and at most 100")
		}
	}
	if r := a.Rod; r != nil {
		if _, ok := a.Drive.Mechanism.(energy.Screw); !ok {
			f.Add(path+".mechanism.rod", "given", "a rod only on a screw")
		}
		f.Under(path+".mechanism.rod.whirling", r.Whirling.Validate())
		f.Positive(path+".mechanism.rod.density", r.Density, "kg/m³")
		checkShare(f, path+".mechanism.rod.whirling.fraction", r.SpeedFraction)
		if r.Buckling.Length != 0 {
			f.Under(path+".mechanism.rod.buckling", r.Buckling.Validate())
			f.Positive(path+".mechanism.rod.yield", r.Yield, "Pa")
			checkShare(f, path+".mechanism.rod.buckling.fraction", r.BucklingFactor)
		}
	}
	f.Under(path+".motor.winding", a.Winding.Validate())
	if !(a.Winding.Max <= 300) {
		f.Add(path+".motor.winding.max", a.Winding.Max, "at most 300 °C")
	}
	f.Positive(path+".motor.continuousTorque", a.Drive.Motor.ContinuousTorque, "N·m")
	f.Positive(path+".motor.peakTorque", a.Drive.Motor.PeakTorque, "N·m")
	f.Positive(path+".motor.maxSpeed", a.Drive.Motor.MaxSpeed, "rad/s")
}

// rated is a part with a rating, the shaft on which it sits, numbered as by
// [energy.Axis.ShaftTorque], and where the document has it.
type rated struct {
	name, path string
	shaft      int
	rating     *energy.TorqueRating
}

// rated lists the parts of an axis that have a rating.
func (a Axis) rated() []rated {
	all := []rated{{"coupling", "coupling", 0, a.Ratings.Coupling}}
	for i, r := range a.Ratings.Stages {
		all = append(all, rated{fmt.Sprintf("stage %d", i+1), fmt.Sprintf("stages[%d].rating", i), i + 1, r})
	}
	all = append(all, rated{"mechanism", "mechanism.rating", len(a.Drive.Stages), a.Ratings.Mechanism})
	given := all[:0]
	for _, r := range all {
		if r.rating != nil {
			given = append(given, r)
		}
	}
	return given
}

// checkName records a name that would garble a report.
func checkName(f *profile.Faults, path, name string) {
	for _, c := range name {
		if !unicode.IsPrint(c) {
			f.Add(path, name, "printable characters")
			return
		}
	}
}

func checkTolerance(f *profile.Faults, path string, v float64) {
	if !(v >= 0 && v < 1) {
		f.Add(path, v, "from 0 to below 1")
	}
}

func checkShare(f *profile.Faults, path string, v float64) {
	if !(v > 0 && v <= 1) {
		f.Add(path, v, "above 0 and at most 1")
	}
}

func (m Machine) validateStations(f *profile.Faults, index map[string]int) {
	if len(m.Stations) == 0 {
		f.Add("stations", "none", "at least one station")
	}
	owner, names := map[string]int{}, map[string]int{}
	// What follows from a misspelt axis of a station is not said again.
	unknown := false
	for i, s := range m.Stations {
		path := fmt.Sprintf("stations[%d]", i)
		if checkName(f, path+".name", s.Name); s.Name == "" {
			f.Add(path+".name", s.Name, "a name")
		} else if k, twice := names[s.Name]; twice {
			f.Add(path+".name", s.Name, fmt.Sprintf("a name other than that of stations[%d]", k))
		}
		names[s.Name] = i
		if len(s.Axes) == 0 {
			f.Add(path+".axes", "none", "the names of the station's axes")
		}
		mine, mistaken := map[string]bool{}, false
		for k, name := range s.Axes {
			at := fmt.Sprintf("%s.axes[%d]", path, k)
			if _, ok := index[name]; !ok {
				f.Add(at, name, "the name of an axis"+didYouMean(name, sortedKeys(index)))
				unknown, mistaken = true, true
			} else if o, taken := owner[name]; taken {
				f.Add(at, name, fmt.Sprintf("an axis that is not listed already, in stations[%d]", o))
			} else {
				owner[name] = i
			}
			mine[name] = true
		}
		if len(s.Steps) == 0 {
			f.Add(path+".steps", "none", "at least one step")
		}
		if n := len(s.Axes) * len(s.Steps); n > maxMoves {
			f.Add(path+".steps", fmt.Sprintf("%d steps of %d axes", len(s.Steps), len(s.Axes)), fmt.Sprintf("at most %d steps times axes", maxMoves))
			continue
		}
		for k, step := range s.Steps {
			at := fmt.Sprintf("%s.steps[%d]", path, k)
			f.NonNegative(at+".dwell", step.Dwell, "s")
			if step.MayWait && s.Strict {
				f.Add(at+".mayWait", true, "false in a station that is strictlyPeriodic")
			}
			f.NonNegative(at+".duration", step.Duration, "s")
			if step.Path < Independent || step.Path > Straight {
				f.Add(at+".path", int(step.Path), "Independent, Together or Straight")
			}
			for _, moves := range []struct {
				key string
				to  map[string]float64
			}{{"to", step.To}, {"by", step.By}, {"payload", step.Payload}} {
				for _, name := range sortedKeys(moves.to) {
					if !mine[name] && !mistaken {
						f.Add(at+"."+moves.key+"."+name, name, "the name of an axis of this station"+didYouMean(name, s.Axes))
					}
					if moves.key != "payload" && !isFinite(moves.to[name]) {
						f.Finite(at+"."+moves.key+"."+name, moves.to[name], "")
					}
				}
			}
			for _, name := range sortedKeys(step.Payload) {
				f.NonNegative(at+".payload."+name, step.Payload[name], "kg or kg·m²")
			}
			for _, name := range sortedKeys(step.Force) {
				if !mine[name] && !mistaken {
					f.Add(at+".force."+name, name, "the name of an axis of this station"+didYouMean(name, s.Axes))
				}
			}
			checkName(f, at+".name", step.Name)
			for _, name := range sortedKeys(step.By) {
				if _, both := step.To[name]; both {
					f.Add(at+".by."+name, name, "an axis that is not also in \"to\"")
				}
			}
		}
	}
	carries := map[string]bool{}
	for _, s := range m.Stations {
		for _, step := range s.Steps {
			for name, payload := range step.Payload {
				carries[name] = carries[name] || payload > 0
			}
		}
	}
	for i, a := range m.Axes {
		if a.PayloadSpread > 0 && !carries[a.Name] {
			f.Add(fmt.Sprintf("axes[%d].load.payloadSpread", i), a.PayloadSpread, "none on an axis to which no step gives a payload")
		}
		if _, ok := owner[a.Name]; !ok && !unknown && a.Name != "" && len(m.Stations) > 0 {
			f.Add(fmt.Sprintf("axes[%d].name", i), a.Name, "an axis that some station lists")
		}
	}
}

// corner says where thresholds and resistances lie within their tolerances.
type corner float64

const (
	nominal corner = 0
	early   corner = -1 // thresholds and resistances low: most is burned, and soonest; the corner for sag, supply and resistor
	late    corner = 1  // all of them high: the corner for rise and discharge
)

// bus returns the electrical part of the machine at a corner of what drains it.
func (m Machine) bus(c corner) bus.Bus {
	b := bus.Bus{
		Bank: m.Ageing.worn(m.links()), Source: m.Supply.Source, Bleeder: c.of(m.Bleeder, m.BleederTolerance),
		UnderVoltage: m.UnderVoltage, OverVoltage: m.OverVoltage,
	}
	for _, r := range m.Brakes {
		b.Brakes = append(b.Brakes, r.at(c))
	}
	if m.Clamp != nil {
		b.Clamp = &m.Clamp.Clamp
	}
	return b
}

// at returns the brake resistor at a corner of its tolerances.
func (b Brake) at(c corner) bus.BrakeResistor {
	return bus.BrakeResistor{
		Resistance: c.of(b.Resistance, b.Tolerance),
		OnVoltage:  c.of(b.OnVoltage, b.ThresholdTolerance),
		OffVoltage: c.of(b.OffVoltage, b.ThresholdTolerance),
		Delay:      b.Delay,
	}
}

func (c corner) of(v, tolerance float64) float64 { return v * (1 + float64(c)*tolerance) }

// drainsExactly reports whether all corners of what drains the bus are one.
func (m Machine) drainsExactly() bool {
	for _, b := range m.Brakes {
		if b.Tolerance != 0 || b.ThresholdTolerance != 0 {
			return false
		}
	}
	return m.BleederTolerance == 0
}

func isFinite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
