package sizing

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"sync/atomic"

	"example.com/headroom/bus"
	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// Study is a set of random machines within the tolerances of one, each with its stations
// in a random phase. Sample k depends on the seed and on k alone, so that a study may be
// split over any number of processes and joined again.
type Study struct {
	Seed    uint64
	First   int // number of the first sample, >= 0
	Count   int // samples, 1 to 10 million
	Workers int // that run at the same time, 0: one

	// Progress is called after every hundredth sample or so with how many are done, from
	// one goroutine at a time; nil: not.
	Progress func(done int)
}

// Outcome is what one machine of a study comes to.
type Outcome struct {
	Lowest  float64 // bus voltage at any drive [V]; 0: the bus collapsed
	Highest float64 // [V]
	Peak    float64 // power that the axes draw together [W]
	Hottest float64 // settled mean temperature of the hottest winding [°C]; +Inf: it has none
}

// Samples are the outcomes of a study, in the order of their numbers.
type Samples struct {
	Seed     uint64
	First    int
	Outcomes []Outcome
}

const mostSamples = 10_000_000

// Sample computes the outcomes of a study. Every input that has a tolerance is drawn
// evenly from its range, each on its own: capacitance of the bank and its wear, supply
// voltage, thresholds and resistance of the brake, bleeder, ambient, friction and payload
// of every axis; and so is the phase of every station. The bus is followed from its
// no-load voltage over twice the longest cycle, in which no station pauses: other than the
// bounds, which hold for every phase and pause, this says how often what happens.
//
// It returns the same bits for any number of workers. It stops within milliseconds of
// the context's end.
func (m *Machine) Sample(ctx context.Context, s Study) (*Samples, error) {
	var f profile.Faults
	if s.First < 0 {
		f.Add("first", s.First, ">= 0")
	}
	if s.Count < 1 || s.Count > mostSamples {
		f.Add("count", s.Count, fmt.Sprintf("from 1 to %d", mostSamples))
	}
	if s.Workers < 0 || s.Workers > 1024 {
		f.Add("workers", s.Workers, "from 0 to 1024")
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	v, err := m.variations(ctx)
	if err != nil {
		return nil, err
	}
	out := &Samples{Seed: s.Seed, First: s.First, Outcomes: make([]Outcome, s.Count)}
	workers := max(1, s.Workers)
	errs := make([]error, workers)
	var next, done atomic.Int64
	var wait sync.WaitGroup
	var report sync.Mutex
	const batch = 16
	for w := range workers {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for {
				from := int(next.Add(batch)) - batch
				for k := from; k < min(from+batch, s.Count); k++ {
					if errs[w] = ctx.Err(); errs[w] != nil {
						return
					}
					if out.Outcomes[k], errs[w] = v.sample(ctx, s.Seed, s.First+k); errs[w] != nil {
						return
					}
				}
				if from >= s.Count {
					return
				}
				n := done.Add(int64(min(batch, s.Count-from)))
				if s.Progress != nil && n%(6*batch) < batch {
					report.Lock()
					s.Progress(int(n))
					report.Unlock()
				}
			}
		}()
	}
	wait.Wait()
	if err := errors.Join(errs...); err != nil {
		return nil, fmt.Errorf("sampling: %w", err)
	}
	return out, nil
}

// Join puts together studies of one seed that follow one another without gaps.
func Join(parts ...*Samples) (*Samples, error) {
	var f profile.Faults
	if len(parts) == 0 {
		f.Add("parts", 0, "at least one")
		return nil, f.Err()
	}
	out := &Samples{Seed: parts[0].Seed, First: parts[0].First}
	for i, p := range parts {
		path := fmt.Sprintf("parts[%d]", i)
		if p.Seed != out.Seed {
			f.Add(path+".seed", p.Seed, fmt.Sprintf("that of the first part, %d", out.Seed))
		}
		if want := out.First + len(out.Outcomes); p.First != want {
			f.Add(path+".first", p.First, fmt.Sprintf("%d, where the part before ends", want))
		}
		out.Outcomes = append(out.Outcomes, p.Outcomes...)
	}
	return out, f.Err()
}

// variations is what varies of a machine, and all that does not.
type variations struct {
	machine  *Machine
	stations []variedStation
	number   map[string]int // of the feeders
	inputs   []string       // what has a tolerance; a draw is a number from -1, its lower end, to 1, its upper end
	longest  float64
}

type variedStation struct {
	axes     []variedAxis
	duration float64
	switched profile.Curve
}

type variedAxis struct {
	axis              Axis
	cold              energy.Axis
	steps             []energy.Step
	tracer            *energy.StepTracer
	friction, payload int // inputs, or -1
}

// Inputs that every machine has, whether they vary or not.
const (
	capacitanceInput = iota
	wearInput
	supplyInput
	thresholdInput
	resistanceInput
	bleederInput
	ambientInput
	machineInputs
)

var machineInputNames = [machineInputs]string{
	"capacitance of the bank", "wear of the bank", "supply voltage", "thresholds of the brake resistor",
	"resistance of the brake resistor", "bleeder", "ambient temperature",
}

func (m *Machine) variations(ctx context.Context) (*variations, error) {
	if err := m.Validate(); err != nil {
		return nil, err
	}
	if len(m.Parts) > 0 {
		var f profile.Faults
		f.Add("machine", fmt.Sprintf("%d parts", len(m.Parts)), "a machine with one bus: study each part on its own")
		return nil, f.Err()
	}
	v := &variations{machine: m}
	v.inputs = append(v.inputs, machineInputNames[:]...)
	var err error
	if _, v.number, err = m.network(nominal); err != nil {
		return nil, err
	}
	for i, s := range m.Stations {
		c, err := m.plan(ctx, s, fmt.Sprintf("stations[%d]", i))
		if err != nil {
			return nil, err
		}
		st := variedStation{duration: c.duration}
		v.longest = math.Max(v.longest, c.duration)
		if st.switched, err = m.conductance(s, c.starts, c.duration); err != nil {
			return nil, err
		}
		for k, name := range s.Axes {
			a := variedAxis{axis: m.axis(name), steps: c.steps[k], friction: -1, payload: -1}
			if a.tracer, err = energy.NewStepTracer(a.steps); err != nil {
				return nil, err
			}
			if a.cold, err = a.axis.Drive.AtWinding(m.AmbientLow); err != nil {
				return nil, err
			}
			if a.cold.Motor.Winding, err = withMagnets(a.cold.Motor.Winding, m.AmbientLow); err != nil {
				return nil, err
			}
			if a.axis.FrictionSpread > 0 {
				a.friction = v.add("friction of " + name)
			}
			if a.axis.PayloadSpread > 0 {
				a.payload = v.add("payload of " + name)
			}
			st.axes = append(st.axes, a)
		}
		v.stations = append(v.stations, st)
	}
	return v, nil
}

func (v *variations) add(name string) int {
	v.inputs = append(v.inputs, name)
	return len(v.inputs) - 1
}

// sample draws sample k and computes it.
func (v *variations) sample(ctx context.Context, seed uint64, k int) (Outcome, error) {
	draws, offsets := v.draw(seed, k)
	return v.evaluate(ctx, draws, offsets)
}

// draw draws the inputs and the phases of sample k.
func (v *variations) draw(seed uint64, k int) (draws, offsets []float64) {
	r := rand.New(rand.NewPCG(seed, uint64(k)))
	draws = make([]float64, len(v.inputs))
	for i := range draws {
		draws[i] = 2*r.Float64() - 1
	}
	offsets = make([]float64, len(v.stations))
	for i, s := range v.stations {
		offsets[i] = r.Float64() * s.duration
	}
	return draws, offsets
}

// evaluate computes one machine: where in its range each input lies, and the start delay
// of each station.
func (v *variations) evaluate(ctx context.Context, draws, offsets []float64) (Outcome, error) {
	n, loads, hottest, err := v.drawn(draws, offsets)
	if err != nil {
		return Outcome{}, err
	}
	e, err := n.Extremes(ctx, loads, bus.State{Voltage: n.Source.NoLoadVoltage()})
	if err != nil {
		return Outcome{}, err
	}
	out := Outcome{Lowest: e.Lowest, Highest: e.Highest, Peak: e.Load, Hottest: hottest}
	if e.Collapsed {
		out.Lowest = 0
	}
	return out, nil
}

// drawn returns the bus and its loads with the inputs drawn, and the temperature of the
// hottest winding [°C].
func (v *variations) drawn(draws, offsets []float64) (n bus.Network, loads []profile.Curve, hottest float64, err error) {
	m := v.machine
	if n, err = v.network(draws); err != nil {
		return n, nil, 0, err
	}
	hottest = math.Inf(-1)
	ambient := m.AmbientLow + (draws[ambientInput]+1)/2*(m.AmbientHigh-m.AmbientLow)
	horizon := 2 * v.longest
	loads = make([]profile.Curve, 1+len(n.Feeders))
	at := make([][]profile.Curve, len(loads))
	for i, s := range v.stations {
		perFeeder := make([][]profile.Curve, len(loads))
		for _, a := range s.axes {
			power, temperature, err := a.power(draws, ambient)
			if err != nil {
				return n, nil, 0, err
			}
			hottest = math.Max(hottest, temperature)
			k := v.number[a.axis.Name]
			perFeeder[k] = append(perFeeder[k], power)
		}
		if s.switched.Pieces() > 0 {
			perFeeder[0] = append(perFeeder[0], m.mostSwitched(s.switched))
		}
		for k, all := range perFeeder {
			if len(all) == 0 {
				continue
			}
			cycle := all[0]
			if len(all) > 1 {
				if cycle, err = profile.Sum(all...); err != nil {
					return n, nil, 0, err
				}
			}
			repeated, err := bus.Periodic(cycle, offsets[i], horizon)
			if err != nil {
				return n, nil, 0, err
			}
			at[k] = append(at[k], repeated)
		}
	}
	for k, all := range at {
		switch len(all) {
		case 0:
		case 1:
			loads[k] = all[0]
		default:
			if loads[k], err = profile.Sum(all...); err != nil {
				return n, nil, 0, err
			}
		}
	}
	return n, loads, hottest, nil
}

// network returns the bus with its inputs drawn.
func (v *variations) network(draws []float64) (bus.Network, error) {
	m := *v.machine
	fraction := func(i int, low, high float64) float64 {
		if draws[i] < 0 {
			return 1 + draws[i]*low
		}
		return 1 + draws[i]*high
	}
	wear := (draws[wearInput] + 1) / 2 // 0 new, 1 worn
	worn := m.Ageing.worn(m.Bank)
	m.Bank.Capacitance += wear * (worn.Capacitance - m.Bank.Capacitance)
	m.Bank.SeriesResistance += wear * (worn.SeriesResistance - m.Bank.SeriesResistance)
	m.Ageing = Ageing{}
	m.Bank.Capacitance *= fraction(capacitanceInput, m.Bank.ToleranceLow, m.Bank.ToleranceHigh)
	m.Bank.ToleranceLow, m.Bank.ToleranceHigh = 0, 0
	m.Supply.Source = bus.Between(m.Supply.Source, draws[supplyInput])
	m.Bleeder *= fraction(bleederInput, m.BleederTolerance, m.BleederTolerance)
	brakes := make([]Brake, len(m.Brakes))
	for i, b := range m.Brakes {
		k := fraction(thresholdInput, b.ThresholdTolerance, b.ThresholdTolerance)
		b.OnVoltage *= k
		b.OffVoltage *= k
		b.Resistance *= fraction(resistanceInput, b.Tolerance, b.Tolerance)
		brakes[i] = b
	}
	m.Brakes = brakes
	n, _, err := m.network(nominal)
	return n, err
}

// power returns what an axis takes from the bus with its inputs drawn, and the
// temperature at which its winding settles in an ambient [°C].
func (a variedAxis) power(draws []float64, ambient float64) (profile.Curve, float64, error) {
	c := loadCorner{1, 1}
	if a.friction >= 0 {
		c.friction += draws[a.friction] * a.axis.FrictionSpread
	}
	if a.payload >= 0 {
		c.payload += draws[a.payload] * a.axis.PayloadSpread
	}
	trace, err := a.tracer.Trace(a.cold, func(i int) energy.Load { return c.load(a.axis, a.steps[i].Load) })
	if err != nil {
		return profile.Curve{}, 0, err
	}
	heat := thermal.Heat{At: a.cold.Motor.Winding.Temperature(), Copper: trace.CopperLoss, Other: trace.MotorDrag}
	var r AxisResult
	temperature, err := r.settle(a.axis, a.cold, heat, ambient)
	if err != nil {
		return profile.Curve{}, 0, err
	}
	shown := temperature
	if r.Runaway != nil {
		shown = math.Inf(1)
	}
	temperature = math.Min(temperature, a.axis.Winding.Max)
	hot, err := a.axis.Drive.Motor.Winding.At(temperature)
	if err != nil {
		return profile.Curve{}, 0, err
	}
	if hot, err = withMagnets(hot, temperature); err != nil {
		return profile.Curve{}, 0, err
	}
	power, err := trace.BusPower(hot)
	return power, shown, err
}
