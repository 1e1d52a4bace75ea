package sizing

import (
	"context"
	"errors"
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// Stops is how the machine is stopped, and what its bus has to stand when power fails.
type Stops struct {
	// Category of the stop, which follows from the risk assessment (IEC 60204-1, 9.2.2).
	Category energy.StopCategory
	PerYear  int // stops in a year, >= 0; 0: not given

	BrakeYears float64 // years that holding brakes have to last at PerYear, 0 to 1000; 0: no limit

	MainsDip     float64 // longest dip of the mains through which the bus is to stay up [s], >= 0; 0: no limit
	SupplyHoldUp float64 // for which the supply feeds the bus on without mains [s], >= 0
}

// HoldingBrake is a brake that holds an axis when its power is off. Shaft is 0 for the
// motor's, the number of stages for that which drives the mechanism, one more for the load.
type HoldingBrake struct {
	energy.HoldingBrake
	Untimed bool    // Delay is not known: how far the load moves until it holds is not examined
	Drop    float64 // most that the load may move after its power is off [m | rad], >= 0; 0: no limit
}

func (s *Stops) validate(f *profile.Faults) {
	if s == nil {
		return
	}
	if s.Category < energy.Category0 || s.Category > energy.Category2 {
		f.Add("stops.category", int(s.Category), "0, 1 or 2")
	}
	if s.PerYear < 0 {
		f.Add("stops.stopsPerYear", s.PerYear, "a number >= 0")
	}
	if f.Within("stops.brakeYears", s.BrakeYears, 0, 1000, "years") && s.BrakeYears > 0 && s.PerYear == 0 {
		f.Add("stops.stopsPerYear", nil, "the number of stops in a year, since stops.brakeYears is given")
	}
	f.NonNegative("stops.mainsDip", s.MainsDip, "s")
	f.NonNegative("stops.supplyHoldUp", s.SupplyHoldUp, "s")
}

func (b *HoldingBrake) validate(f *profile.Faults, path string, a Axis) {
	if b == nil {
		return
	}
	torque := path + ".torque"
	if b.Untimed {
		torque = path // which is all there is
	}
	f.Positive(torque, b.Torque, "N·m or N")
	n := len(a.Drive.Stages)
	if b.Shaft < 0 || b.Shaft > n+1 {
		f.Add(path+".at", b.Shaft, fmt.Sprintf("0 for the motor's shaft up to %d for the load", n+1))
	}
	if _, crank := a.Drive.Mechanism.(energy.CrankSlider); crank && b.Shaft > n {
		f.Add(path+".at", "load", "motor or mechanism: what a brake on the slider of a crank holds changes with its place")
	}
	f.NonNegative(path+".delay", b.Delay, "s")
	f.NonNegative(path+".energyPerStop", b.EnergyPerStop, "J")
	f.NonNegative(path+".totalEnergy", b.TotalEnergy, "J")
	f.NonNegative(path+".drop", b.Drop, "m or rad")
}

// brakeRatio returns the speed of the motor over that of the shaft on which the brake acts.
func (a Axis) brakeRatio() (float64, error) {
	ratio := 1.0
	for i := range min(a.HoldingBrake.Shaft, len(a.Drive.Stages)) {
		ratio *= a.Drive.Stages[i].Ratio
	}
	if a.HoldingBrake.Shaft <= len(a.Drive.Stages) {
		return ratio, nil
	}
	const slow = 1e-3 // so that no rope goes slack
	move, err := profile.Plan(a.Start, a.Start+1, profile.Limits{Speed: slow, Accel: slow})
	if err != nil {
		return 0, err
	}
	axis := a.Drive
	axis.Load.ExternalByPosition = energy.ForceTable{}
	tr, err := axis.Trace(move.Motion())
	if err != nil {
		return 0, err
	}
	return math.Abs(tr.Speed.AbsMax().V / move.Motion().Speed().AbsMax().V), nil
}

// stopLimits returns how the drive ramps the axis down on a stop command.
func (a Axis) stopLimits() energy.StopLimits {
	l := energy.StopLimits{Deceleration: a.StopDecel, Jerk: a.StopJerk}
	if l.Deceleration == 0 {
		l.Deceleration = a.Limits.Decel
	}
	if l.Deceleration == 0 {
		l.Deceleration = a.Limits.Accel
	}
	return l
}

// StopsResult is what stops and a loss of power do to the machine.
type StopsResult struct {
	Axes []AxisStop // in the order of the stations

	// Stations is the controlled stop of each station at its worst, in categories 1 and 2:
	// every axis at its own worst instant of the same step and at its own worst end of its
	// load's spread.
	Stations []bus.StationStop
	Rest     float64 // most power that all axes take once they rest [W]

	Off, On    Rise    // all stop on a bus that is cut off from its supply, and with it
	ResistorIn float64 // most energy into the brake resistor in one stop [J]; 0 without one
	Sag        Sag     // all stop when the mains is gone

	HoldUp       bus.HoldUp
	HoldUpReason string // why none was found

	BackEMF       float64 // highest crest voltage of a coasting motor [V]
	BackEMFEnergy float64 // most that all of them drive into the bus while they coast [J]
}

// Rise is how far the bus rises in a stop.
type Rise struct {
	Voltage float64 // that it does not exceed [V]; +Inf: no bound
	Reason  string  // why there is no bound
}

// Sag is how far the bus falls in a stop.
type Sag struct {
	Voltage float64 // below which neither bank nor drives fall [V]; -Inf: no bound
	Drop    float64 // of it in the cables, at the under-voltage limit [V]
	Reason  string  // why there is no bound
}

// AxisStop is an axis that is stopped.
type AxisStop struct {
	Name   string
	Limits energy.StopLimits

	// Controlled stop, in categories 1 and 2; each figure the worst of all starts and ends
	// of the load's spread.
	Duration, Distance float64 // [s], [m | rad]
	Returned, Drawn    At      // net, since the stop began [J]
	Rest               float64 // power that holds it at rest, no friction to help, at most [W]

	peakReturned, peakDrawn float64 // [W]

	Moving  *Coasting // power lost anywhere in the cycle; nil: not examined
	Resting *Coasting // power taken away at rest; nil: not examined
}

// At is a figure and the end of the load's spread at which it was found.
type At struct {
	Value  float64
	Corner string // as in [Figure]; without what is of no influence

	corner loadCorner
}

// raise takes in what was found at a corner, if it is more.
func (a *At) raise(v float64, c loadCorner) {
	switch first := a.corner == (loadCorner{}); {
	case !first && math.Abs(v-a.Value) <= 1e-9*math.Abs(v):
		if c.friction != a.corner.friction {
			a.corner.friction = 1
		}
		if c.payload != a.corner.payload {
			a.corner.payload = 1
		}
	case first || v > a.Value:
		a.Value, a.corner = v, c
	}
	a.Corner = a.corner.String()
}

// Coasting is the worst of what an axis does without power, each figure for itself.
type Coasting struct {
	Stops  bool   // it always comes to rest; if not all is zero
	Slack  bool   // a rope may go slack, and the figures do not hold
	Reason string // why it was not examined
	Braked bool   // by its holding brake

	Duration, Way, Speed, Heat At // [s], [m | rad], [m/s | rad/s], [J]

	BackEMF energy.BackEMF // crest voltage and energy at their highest; zero when not examined
}

// stops finds out what stops and a loss of power do.
func (a *Assessment) stops(ctx context.Context) error {
	m := a.Machine
	if m.Stops == nil {
		return nil
	}
	r := &StopsResult{}
	controlled := m.Stops.Category != energy.Category0
	var f profile.Faults
	for i, st := range a.Stations {
		path := fmt.Sprintf("stations[%d]", i)
		axes := make([]AxisStop, len(st.Axes))
		for k, ax := range st.Axes {
			axes[k] = AxisStop{Name: ax.Name, Limits: m.axis(ax.Name).stopLimits()}
		}
		if controlled {
			s, err := a.stopStation(ctx, st, axes, path)
			if ctx.Err() != nil {
				return ctx.Err()
			}
			f.Under("", err)
			r.Stations = append(r.Stations, s)
			r.Rest += s.Rest
		}
		for k, ax := range st.Axes {
			if err := a.coast(ctx, ax, &axes[k]); err != nil {
				return err
			}
		}
		r.Axes = append(r.Axes, axes...)
	}
	if err := f.Err(); err != nil {
		return err
	}
	a.Bus.Stops = r
	if controlled {
		if err := a.stopBus(ctx, r); err != nil {
			return err
		}
	}
	for _, x := range r.Axes {
		if c := x.Moving; c != nil {
			r.BackEMF = math.Max(r.BackEMF, c.BackEMF.Voltage)
			r.BackEMFEnergy += c.BackEMF.Energy
		}
	}
	return a.holdUp(ctx, r)
}

// stopStation returns the worst controlled stop of a station. A stop begins in the same
// step for all its axes; within it each is taken at its own worst instant.
func (a *Assessment) stopStation(ctx context.Context, st StationResult, axes []AxisStop, path string) (bus.StationStop, error) {
	var worst bus.StationStop
	var f profile.Faults
	for step := range st.Starts {
		var sum bus.StationStop
		for k, ax := range st.Axes {
			if err := ctx.Err(); err != nil {
				return worst, err
			}
			one, err := a.stopAxis(ax, step, &axes[k])
			for _, e := range profile.InputErrors(err) {
				f.Add(fmt.Sprintf("%s.axes[%d].stopDecel", path, k), e.Value, e.Want)
			}
			if err != nil && f.Err() == nil {
				return worst, err
			}
			sum.Returned += one.Returned
			sum.Drawn += one.Drawn
			sum.ReturnedWithin += one.ReturnedWithin
			sum.DrawnWithin += one.DrawnWithin
			sum.PeakReturned += one.PeakReturned
			sum.PeakDrawn += math.Max(one.PeakDrawn, one.Rest)
			sum.Rest += one.Rest
			sum.Duration = math.Max(sum.Duration, one.Duration)
		}
		worst.Returned = math.Max(worst.Returned, sum.Returned)
		worst.Drawn = math.Max(worst.Drawn, sum.Drawn)
		worst.ReturnedWithin = math.Max(worst.ReturnedWithin, sum.ReturnedWithin)
		worst.DrawnWithin = math.Max(worst.DrawnWithin, sum.DrawnWithin)
		worst.PeakReturned = math.Max(worst.PeakReturned, sum.PeakReturned)
		worst.PeakDrawn = math.Max(worst.PeakDrawn, sum.PeakDrawn)
		worst.Rest = math.Max(worst.Rest, sum.Rest)
		worst.Duration = math.Max(worst.Duration, sum.Duration)
	}
	return worst, f.Err()
}

// stopAxis returns the worst controlled stop of an axis in one step: what it returns with
// cold copper, what it draws with hot.
func (a *Assessment) stopAxis(ax AxisResult, step int, into *AxisStop) (bus.StationStop, error) {
	var worst bus.StationStop
	axis := a.Machine.axis(ax.Name)
	moves := ax.steps[step].Motion.Duration() > 0 && ax.steps[step].Motion.Speed().AbsMax().V != 0
	for _, l := range ax.all() {
		rest := ax.held(l)
		into.Rest = math.Max(into.Rest, rest)
		worst.Rest = math.Max(worst.Rest, rest)
		into.peakDrawn = math.Max(into.peakDrawn, rest)
		if !moves {
			continue
		}
		cycle := l.corner.applied(axis, ax.steps)[step : step+1]
		for _, drive := range [2]energy.Axis{ax.coldAxis, ax.hotAxis} {
			c, err := energy.WorstStop(energy.StoppingAxis{Axis: drive, Cycle: cycle, Limits: into.Limits})
			if err != nil {
				return worst, err
			}
			worst.Returned = math.Max(worst.Returned, c.Returned.V)
			worst.Drawn = math.Max(worst.Drawn, c.Drawn.V)
			worst.ReturnedWithin = math.Max(worst.ReturnedWithin, c.ReturnedWithin.V)
			worst.DrawnWithin = math.Max(worst.DrawnWithin, c.DrawnWithin.V)
			worst.PeakReturned = math.Max(worst.PeakReturned, c.PeakReturned.V)
			worst.PeakDrawn = math.Max(worst.PeakDrawn, c.PeakDrawn.V)
			worst.Duration = math.Max(worst.Duration, c.Duration.V)
			into.peakReturned = math.Max(into.peakReturned, c.PeakReturned.V)
			into.peakDrawn = math.Max(into.peakDrawn, c.PeakDrawn.V)
			into.Duration = math.Max(into.Duration, c.Duration.V)
			into.Distance = math.Max(into.Distance, c.Distance[0].V)
			into.Returned.raise(c.Returned.V, l.corner)
			into.Drawn.raise(c.Drawn.V, l.corner)
		}
	}
	return worst, nil
}

// held returns the power that the axis takes at most while it holds its load at rest with
// hot copper, friction not helping [W].
func (r AxisResult) held(l LoadResult) float64 {
	m, d := r.hotAxis.Motor, r.hotAxis.Drive
	amps, copper := l.Weight/m.Winding.Kt(), l.Weight/m.Winding.Km()
	return copper*copper + d.Standby + d.LossPerAmp*amps + d.LossPerAmpSquared*amps*amps
}

// stopBus finds what the controlled stops do to the bus.
func (a *Assessment) stopBus(ctx context.Context, r *StopsResult) error {
	m := a.Machine
	high, low := a.Bus.Highest, a.Bus.Lowest
	for _, e := range a.Bus.AtDrives {
		high = math.Max(high, e.Highest)
	}
	back, drawn := map[string]float64{}, map[string]float64{}
	for _, x := range r.Axes {
		back[x.Name], drawn[x.Name] = x.peakReturned, x.peakDrawn
	}
	rises, err := m.cableDrop(back)
	if err != nil {
		return err
	}
	for _, x := range []struct {
		to  *Rise
		fed bool
	}{{&r.Off, false}, {&r.On, true}} {
		if math.IsInf(high, 0) {
			*x.to = Rise{math.Inf(1), "the bus has no bound in normal running"}
			continue
		}
		b := m.bus(late)
		if !x.fed {
			b.Source = nil
		}
		if x.to.Voltage, err = stopRise(ctx, b, r.Stations, high); err != nil {
			return outOfRange(err, x.to, &r.Sag)
		}
		x.to.Voltage += rises / x.to.Voltage
		if len(m.Brakes) == 0 {
			continue
		}
		// What the resistor burns is most with the lowest threshold and the most capacitance.
		b.Bank, b.Brakes = m.allLinks().High(), m.bus(early).Brakes
		in, err := b.StopRise(ctx, r.Stations, high)
		if err != nil {
			return outOfRange(err, x.to, &r.Sag)
		}
		r.ResistorIn = math.Max(r.ResistorIn, in.Resistor)
	}
	falls, err := m.cableDrop(drawn)
	if err != nil {
		return err
	}
	r.Sag.Drop = falls / m.UnderVoltage
	if !(low > 0) || math.IsInf(low, 0) {
		r.Sag.Voltage, r.Sag.Reason = math.Inf(-1), "the bus has no bound in normal running"
		return nil
	}
	b := m.bus(early)
	b.Source = nil
	s, err := b.StopSag(ctx, r.Stations, low)
	if err != nil {
		return outOfRange(err, &r.Off, &r.Sag)
	}
	if r.Sag.Voltage = s.Voltage - r.Sag.Drop; s.Voltage == 0 {
		r.Sag.Voltage, r.Sag.Reason = math.Inf(-1), "the bank is empty before all axes rest"
	}
	return nil
}

// outOfRange leaves figures that no float64 can hold without a bound.
func outOfRange(err error, rise *Rise, sag *Sag) error {
	if len(profile.InputErrors(err)) == 0 {
		return err
	}
	*rise, *sag = Rise{math.Inf(1), err.Error()}, Sag{Voltage: math.Inf(-1), Reason: err.Error()}
	return nil
}

// stopRise returns the voltage that the bus does not exceed in a stop.
//
// [bus.Bus.StopRise] leaves brake resistors out where the bank has a series resistance Rs,
// since a bus that a resistor pulls below its off threshold at once would switch without
// end. That cannot be where Vc/(1 + Rs G), the least bus voltage with all conductances G on,
// is at least the highest off threshold as soon as the bank's own voltage Vc is at the
// highest on threshold (own derivation from the node equation (V - Vc)/Rs = P/V - G V with
// P >= 0). From there on the resistors stay on, and where they take the highest returned
// power there the bank rises no further, as without Rs; only the drop Rs P/V comes on top.
func stopRise(ctx context.Context, b bus.Bus, stations []bus.StationStop, from float64) (float64, error) {
	r, err := b.StopRise(ctx, stations, from)
	if err != nil {
		return 0, err
	}
	rs := b.Bank.SeriesResistance
	if rs == 0 || len(b.Brakes) == 0 {
		return r.Voltage, nil
	}
	on, off, g, peak := from, 0.0, 0.0, 0.0
	for _, x := range b.Brakes {
		on, off, g = math.Max(on, x.OnVoltage), math.Max(off, x.OffVoltage), g+1/x.Resistance
	}
	for _, s := range stations {
		peak += s.PeakReturned
	}
	if !(on/(1+rs*g) >= off) {
		return r.Voltage, nil
	}
	b.Bank.SeriesResistance = 0
	held, err := b.StopRise(ctx, stations, from)
	if err != nil {
		return 0, err
	}
	v := held.Voltage
	return math.Min(r.Voltage, (v+math.Sqrt(v*v+4*rs*peak))/2), nil
}

// cableDrop returns the highest sum, over the cables on the way to a drive, of resistance times
// the power of all drives beyond [V²], with the given power of each axis [W]: divided by the
// lowest voltage of the drives it bounds the drop.
func (m Machine) cableDrop(power map[string]float64) (float64, error) {
	n, number, err := m.network(nominal)
	if err != nil {
		return 0, err
	}
	beyond := make([]float64, len(n.Feeders)+1) // power through each feeder; 0 is the distribution point
	for name, k := range number {
		beyond[k] += power[name]
	}
	for k := len(n.Feeders); k > 0; k-- { // a feeder comes after those that lead to it
		beyond[n.Feeders[k-1].Upstream] += beyond[k]
	}
	drop, most := make([]float64, len(beyond)), 0.0
	for k := 1; k < len(beyond); k++ {
		f := n.Feeders[k-1]
		drop[k] = drop[f.Upstream] + f.Resistance*beyond[k]
		most = math.Max(most, drop[k])
	}
	return most, nil
}

// holdUp finds for how long the bank carries the axes in a dip of the mains.
func (a *Assessment) holdUp(ctx context.Context, r *StopsResult) error {
	m := a.Machine
	low := a.Bus.Lowest
	if !(low > 0) || math.IsInf(low, 0) {
		r.HoldUpReason = "the bus has no lowest voltage in normal running"
		return nil
	}
	b := m.bus(early)
	// As far above the limit as the cables may drop at the highest powers.
	cycles, peaks := make([]profile.Curve, len(a.Stations)), map[string]float64{}
	for i, st := range a.Stations {
		cycles[i] = st.Hot
		for _, ax := range st.Axes {
			peaks[ax.Name] = math.Max(0, ax.hotPower.Max().V)
		}
	}
	drop, err := m.cableDrop(peaks)
	if err != nil {
		return err
	}
	b.UnderVoltage += drop / m.UnderVoltage
	if b.OverVoltage > 0 && b.UnderVoltage >= b.OverVoltage {
		r.HoldUpReason = "the cables drop too much"
		return nil
	}
	r.HoldUp, err = b.HoldUp(ctx, cycles, low)
	if err != nil && (len(profile.InputErrors(err)) > 0 || errors.Is(err, bus.ErrBudget) || errors.Is(err, bus.ErrRange)) {
		r.HoldUpReason, err = err.Error(), nil
	}
	return err
}
