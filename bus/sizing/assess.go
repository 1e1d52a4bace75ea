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
	Cautions    []string // what can hurt somebody
	Assumptions []string // what the figures rest on
}

// StationResult is a station over one cycle.
type StationResult struct {
	Name     string
	Duration float64   // of the cycle [s]
	Starts   []float64 // of its steps [s]
	Axes     []AxisResult
	Hot      profile.Curve // power taken from the bus with the copper settled in the highest ambient [W]
	Cold     profile.Curve // with the copper at the lowest ambient [W]
}

// AxisResult is an axis over one cycle of its station.
type AxisResult struct {
	Name    string
	Motion  profile.Motion
	Hot     energy.Trace // with the copper settled in the highest ambient
	Cold    energy.Trace // with the copper at the lowest ambient
	Winding thermal.Settled
	// Runaway is set, and Winding only holds the permitted maximum, when the
	// winding has no settled temperature.
	Runaway *thermal.RunawayError
	Weight  float64 // torque of the weight at the motor, without any friction [N·m]
}

// BusResult is the bus of the whole machine.
type BusResult struct {
	// SagGuarantee and RiseGuarantee bound the bus for stations that are not
	// locked to each other: one from the hot, one from the cold powers.
	SagGuarantee  *bus.Guarantee
	RiseGuarantee *bus.Guarantee
	// SagCycle and RiseCycle are the settled cycles of a machine with one
	// station, nil with several.
	SagCycle  *bus.Settled
	RiseCycle *bus.Settled

	Lowest       float64 // bus voltage, of the settled cycle or of every phasing [V]; -Inf: no bound
	Highest      float64 // [V]; +Inf: no bound
	MeanPower    float64 // of the source, at most [W]
	PeakDemand   float64 // of the axes together, at most [W]
	ResistorMean float64 // power of the brake resistor, at most [W]
	ResistorOnce float64 // energy into the resistor by one burst of braking, at most [J]
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
		r, err := m.assessStation(s, fmt.Sprintf("stations[%d]", i))
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
		a.motionSection(), a.motorSection(), a.supplySection(),
		a.bankSection(), a.resistorSection(), a.heatSection(),
	}
	a.Fits = true
	for _, s := range a.Sections {
		for _, c := range s.Checks {
			a.Fits = a.Fits && (c.OK || c.Caution)
		}
	}
	a.cautions()
	a.assumptions()
	return a, nil
}

func (m *Machine) assessStation(s Station, path string) (StationResult, error) {
	c, err := m.plan(s, path)
	if err != nil {
		return StationResult{}, err
	}
	r := StationResult{Name: s.Name, Duration: c.duration, Starts: c.starts}
	hot, cold := make([]profile.Curve, len(s.Axes)), make([]profile.Curve, len(s.Axes))
	var f profile.Faults
	for i, name := range s.Axes {
		ax, err := m.assessAxis(m.axis(name), c.motions[i])
		if err != nil {
			f.Under(fmt.Sprintf("%s.axes[%d]", path, i), err)
			continue
		}
		r.Axes = append(r.Axes, ax)
		hot[i], cold[i] = ax.Hot.BusPower, ax.Cold.BusPower
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
// winding settles in the highest ambient, and traces it again at that.
func (m *Machine) assessAxis(a Axis, motion profile.Motion) (AxisResult, error) {
	r := AxisResult{Name: a.Name, Motion: motion}
	coldAxis, err := a.Drive.AtWinding(m.AmbientLow)
	if err != nil {
		return r, err
	}
	if r.Cold, err = coldAxis.Trace(motion); err != nil {
		return r, err
	}
	heat := thermal.Heat{
		Copper: r.Cold.CopperLoss.Mean(), At: m.AmbientLow,
		Other: math.Max(0, r.Cold.Book.MotorDrag/motion.Duration()),
	}
	r.Winding, err = a.Winding.Settled(heat, m.AmbientHigh)
	temperature := r.Winding.Temperature
	if errors.As(err, &r.Runaway) {
		temperature = a.Winding.Max
		r.Winding = thermal.Settled{Temperature: a.Winding.Max}
	} else if err != nil {
		return r, err
	}
	// Beyond the permitted maximum the axis is reported as too hot; the bus is
	// then computed as if it ran at that maximum.
	hotAxis, err := a.Drive.AtWinding(math.Min(temperature, a.Winding.Max))
	if err != nil {
		return r, err
	}
	if r.Hot, err = hotAxis.Trace(motion); err != nil {
		return r, err
	}
	r.Weight, err = weightTorque(a.Drive)
	return r, err
}

// weightTorque returns the torque that the weight and the external force of a
// load exert at the motor when nothing helps to hold them [N·m].
func weightTorque(a energy.Axis) (float64, error) {
	a.Load.Coulomb = 0
	switch k := a.Mechanism.(type) {
	case energy.Screw:
		a.Mechanism = energy.Screw{Lead: k.Lead, Efficiency: 1}
	case energy.Belt:
		a.Mechanism = energy.Belt{PitchDiameter: k.PitchDiameter, Efficiency: 1}
	case energy.Rotary:
		a.Mechanism = energy.Rotary{Efficiency: 1}
	}
	stages := make([]energy.Stage, len(a.Stages))
	for i, s := range a.Stages {
		stages[i] = energy.Stage{Ratio: s.Ratio, Efficiency: 1}
	}
	a.Stages = stages
	a.Motor.DragTorque, a.Motor.DragPerSpeed, a.Motor.DragPerSpeedSquared = 0, 0, 0
	rest, err := profile.Dwell(0, 1)
	if err != nil {
		return 0, err
	}
	t, err := a.Trace(rest)
	if err != nil {
		return 0, err
	}
	return math.Abs(t.RatedTorque.At(0)), nil
}

func (a *Assessment) assessBus(ctx context.Context) error {
	b := a.Machine.bus()
	hot, cold := make([]profile.Curve, len(a.Stations)), make([]profile.Curve, len(a.Stations))
	for i, s := range a.Stations {
		hot[i], cold[i] = s.Hot, s.Cold
	}
	r := &a.Bus
	var err error
	if r.SagGuarantee, err = b.AnyPhase(ctx, hot); err != nil {
		return err
	}
	if r.RiseGuarantee, err = b.AnyPhase(ctx, cold); err != nil {
		return err
	}
	sag, rise := r.SagGuarantee.Sag, r.RiseGuarantee.Rise
	r.Lowest, r.Highest = math.Inf(-1), math.Inf(1)
	if sag.Exists {
		r.Lowest = sag.Voltage
	}
	if rise.Exists {
		r.Highest = rise.Voltage
	}
	r.MeanPower = r.SagGuarantee.MeanSourcePower
	r.PeakDemand = r.SagGuarantee.PeakDemand
	if br := b.Brake; br != nil {
		r.ResistorMean = r.RiseGuarantee.MeanReturnedPower
		bank := a.Machine.Bank.High()
		r.ResistorOnce = r.RiseGuarantee.ReturnedBurst + bank.Energy(br.OnVoltage) - bank.Energy(br.OffVoltage)
	}
	if len(a.Stations) > 1 {
		return nil
	}

	// One station: its settled cycle is exact.
	var none *bus.NoSettledStateError
	if r.SagCycle, err = b.Low().SettledCycle(ctx, hot[0]); err != nil {
		if !errors.As(err, &none) {
			return err
		}
		r.SagCycle = nil
	}
	if r.RiseCycle, err = b.High().SettledCycle(ctx, cold[0]); err != nil {
		if !errors.As(err, &none) {
			return err
		}
		r.RiseCycle = nil
	}
	if c := r.SagCycle; c != nil && c.Repeats && !c.Collapsed {
		r.Lowest = c.Lowest.V
		r.MeanPower = c.Energies.Source / c.Load.Duration()
	}
	if c := r.RiseCycle; c != nil && c.Repeats && !c.Collapsed {
		r.Highest = c.Highest.V
		r.ResistorMean = c.Energies.Resistor / c.Load.Duration()
	}
	return nil
}
