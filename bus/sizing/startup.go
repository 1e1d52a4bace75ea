package sizing

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
)

// StartUp is how the machine comes up after its mains is switched on.
type StartUp struct {
	TurnOn float64 // bus voltage from which on the drives work [V], above the under-voltage limit
	Within float64 // time in which the bus is to be charged [s], > 0
}

func (s *StartUp) validate(f *profile.Faults, m Machine) {
	if s == nil {
		return
	}
	if f.Positive("startUp.turnOn", s.TurnOn, "V") && m.UnderVoltage > 0 && !(s.TurnOn > m.UnderVoltage) {
		f.Add("startUp.turnOn", s.TurnOn, fmt.Sprintf("above underVoltage, %g V", m.UnderVoltage))
	}
	f.Positive("startUp.within", s.Within, "s")
}

func (r *reader) startUp(o *object) *StartUp {
	if o == nil {
		return nil
	}
	s := &StartUp{
		TurnOn: r.quantity(o, "turnOn", quantity.Voltage, required),
		Within: r.quantity(o, "within", quantity.Time, required),
	}
	o.unread(&r.faults)
	return s
}

// StartUpResult is how the bus comes up.
type StartUpResult struct {
	Empty  *bus.Started // the drives off
	Homing *bus.Started // all axes seek their references together as soon as the drives work
	Home   float64      // highest power that takes [W]

	Jammed Jam // the worst axis
}

// Jam is an axis that pushes against a stop with its peak torque.
type Jam struct {
	Axis    string
	Power   float64 // taken from the bus by it, and by all others at rest [W]
	Started *bus.Started
}

// patience is how many times as long as asked for a start-up is followed, to tell one
// that is late from one that never ends.
const patience = 5

// startUp finds out whether the bus comes up: with the most capacitance and the lowest
// supply voltage.
func (a *Assessment) startUp(ctx context.Context) error {
	m := a.Machine
	if m.StartUp == nil {
		return nil
	}
	b := m.bus(early).Low()
	b.Bank = m.allLinks().High()
	r := &StartUpResult{}
	idle, jam := 0.0, Jam{}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			rest, peak, err := homing(m.axis(ax.Name), ax)
			if err != nil {
				return err
			}
			idle += rest
			r.Home += peak
			if p := ax.jammed(); p-rest > jam.Power || jam.Axis == "" {
				jam = Jam{Axis: ax.Name, Power: p - rest}
			}
		}
	}
	jam.Power += idle
	noLoad := b.Source.NoLoadVoltage()
	never := func() *bus.Started {
		return &bus.Started{Reason: fmt.Sprintf("the drives work from %s on, and the lowest no-load voltage of the supply is %s",
			show(m.StartUp.TurnOn, quantity.Voltage), show(noLoad, quantity.Voltage))}
	}
	start := bus.StartUp{Ready: m.ready(), Patience: patience * m.StartUp.Within}
	for _, x := range []struct {
		load float64
		to   **bus.Started
	}{{0, &r.Empty}, {r.Home, &r.Homing}, {jam.Power, &jam.Started}} {
		var err error
		if start.Load = x.load; x.load > 0 {
			start.TurnOn = m.StartUp.TurnOn
			if !(start.TurnOn < noLoad) {
				*x.to = never()
				continue
			}
		}
		if *x.to, err = b.Start(ctx, start); err != nil {
			return err
		}
	}
	r.Jammed = jam
	a.Bus.StartUp = r
	return nil
}

// ready is the voltage from which on the bus counts as charged [V].
func (m Machine) ready() float64 {
	noLoad := m.Supply.Source.Low().NoLoadVoltage()
	return math.Min(math.Max(m.StartUp.TurnOn, 0.95*noLoad), 0.99*noLoad)
}

// homing returns the power that an axis takes at rest, and the most that it takes while
// it seeks its reference anywhere along its travel, hot [W].
func homing(a Axis, ax AxisResult) (rest, peak float64, err error) {
	lowest, highest := ax.Motion.Position().Extrema()
	dwell, err := profile.Dwell(a.Start, 1)
	if err != nil {
		return 0, 0, err
	}
	still, err := ax.hotAxis.Trace(dwell)
	if err != nil {
		return 0, 0, err
	}
	rest = math.Max(0, still.BusPower.Max().V)
	if a.HomingSpeed == 0 || highest.V == lowest.V {
		return rest, rest, nil
	}
	limits := a.Limits
	limits.Speed = a.HomingSpeed
	peak = rest
	for _, way := range [][2]float64{{lowest.V, highest.V}, {highest.V, lowest.V}} {
		move, err := profile.Plan(way[0], way[1], limits)
		if err != nil {
			return 0, 0, err
		}
		tr, err := ax.hotAxis.Trace(move.Motion())
		if err != nil {
			return 0, 0, err
		}
		peak = math.Max(peak, tr.BusPower.Max().V)
	}
	return rest, peak, nil
}

// jammed returns the power that an axis takes while it pushes against a stop with its
// peak torque, or with what the drive's peak current allows: copper and drive losses
// [W].
func (r AxisResult) jammed() float64 {
	m, d := r.hotAxis.Motor, r.hotAxis.Drive
	torque := m.PeakTorque
	if d.PeakCurrent > 0 {
		torque = math.Min(torque, d.PeakCurrent*m.Winding.Kt())
	}
	amps := torque / m.Winding.Kt()
	copper := torque / m.Winding.Km()
	return copper*copper + d.Standby + d.LossPerAmp*amps + d.LossPerAmpSquared*amps*amps
}

func (a *Assessment) startUpSection() Section {
	s := Section{Key: "start-up", Question: "Does the bus come up, empty, with all axes homing, and with an axis jammed?"}
	m, r := a.Machine, a.Bus.StartUp
	if r == nil {
		s.note("Not examined: no startUp is given.")
		return s
	}
	ready := show(m.ready(), quantity.Voltage)
	check := func(of, name, how, cure string, x *bus.Started) Check {
		v := math.Inf(1)
		if x.Reached {
			v = x.Time
		}
		c := atMost(figure(of, name, v, quantity.Time, how+"; until the bus stays above "+ready+", most capacitance, lowest supply voltage"), m.StartUp.Within, cure)
		c.Reason = x.Reason
		return c
	}
	s.check(check("", "time to charge the bus", "the drives are off", "a supply with a higher current limit, or a smaller bank", r.Empty))
	s.figure(figure("", "most current of the supply", r.Empty.PeakCurrent, quantity.Current, "while it charges the bank with the drives off"))
	s.figure(figure("", "power of all axes homing", r.Home, quantity.Power,
		"sum of the highest powers of all axes on the way along their travel at homing speed, or at rest where none is given; hot copper"))
	s.check(check("", "time to charge the bus, homing", "all axes home together as soon as the drives work, each at its highest power all the time",
		"let the axes home one after another, or when the bus is charged", r.Homing))
	s.figure(figure("", "power with "+r.Jammed.Axis+" jammed", r.Jammed.Power, quantity.Power,
		"copper and drive losses at peak torque, hot copper, all other axes at rest; the axis that takes most"))
	jam := check(r.Jammed.Axis, "time to charge the bus, jammed", "the axis pushes against a stop with its peak torque from the start on",
		"a drive that limits the time of a stall, or a stronger supply", r.Jammed.Started)
	jam.Caution = true
	s.check(jam)
	return s
}
