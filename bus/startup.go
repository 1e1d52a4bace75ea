package bus

import (
	"context"
	"errors"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// StartUp is the charging of the bank after the mains is switched on.
type StartUp struct {
	From     float64 // voltage of the bank at first [V], >= 0
	Ready    float64 // voltage at which the bus counts as charged [V], below the source's no-load voltage
	Load     float64 // what the axes draw from TurnOn on [W], >= 0: standby, homing, or the peak torque of a jammed axis
	TurnOn   float64 // voltage from which on the drives work [V], below the source's no-load voltage; they stop below UnderVoltage of the bus if that is set
	Patience float64 // how long to wait [s], > 0
}

// Started is what becomes of a start-up.
type Started struct {
	*Result
	Reached bool
	Time    float64 // at which the bus was charged [s]
	Reason  string  // why it was not

	PeakCurrent float64 // of the source [A]
	Shutdowns   int     // of supplies that could not bear it
	Interrupted int     // how often the drives stopped again
}

// validate returns nil, or an error that joins the faults of the fields.
func (s StartUp) validate(b Bus) error {
	var f profile.Faults
	f.Under("bus", b.Validate())
	if b.Source == nil {
		f.Add("bus.source", nil, "a source to charge the bank from")
	}
	if f.Err() != nil {
		return f.Err()
	}
	f.NonNegative("from", s.From, "V")
	noLoad := b.Source.NoLoadVoltage()
	if f.Positive("ready", s.Ready, "V") && !(s.Ready < noLoad) {
		f.Add("ready", s.Ready, fmt.Sprintf("below the source's no-load voltage, %g V", noLoad))
	}
	f.NonNegative("load", s.Load, "W")
	switch {
	case !f.NonNegative("turnOn", s.TurnOn, "V") || s.TurnOn == 0 && !(s.Load > 0):
	case !(s.TurnOn > b.UnderVoltage):
		f.Add("turnOn", s.TurnOn, fmt.Sprintf("above underVoltage, %g V", b.UnderVoltage))
	case !(s.TurnOn < noLoad):
		f.Add("turnOn", s.TurnOn, fmt.Sprintf("below the source's no-load voltage, %g V: the drives would never work", noLoad))
	}
	f.Positive("patience", s.Patience, "s")
	return f.Err()
}

// Start simulates how the bus comes up. Below TurnOn the axes draw nothing and only
// bleeder and source act on the bank; from there on they draw Load. A drive that
// falls below the under-voltage limit stops drawing and starts again at TurnOn: a
// supply that cannot carry the load while it charges may so go on for ever, as may
// one that shuts down at its limit. Patience ends that, with Reached false and the
// reason. Where the drop across the bank's series resistance alone takes the bus from
// TurnOn below the limit they start and stop without end in an instant: [ErrBudget].
//
// The bank at its highest capacitance takes longest ([Bank.High]). In-rush of a
// rectifier into an empty bank is not in its averages.
func (b Bus) Start(ctx context.Context, s StartUp) (*Started, error) {
	if err := s.validate(b); err != nil {
		return nil, err
	}
	load, err := profile.Constant(s.Load, 0, s.Patience)
	if err != nil {
		return nil, fmt.Errorf("start-up: %w", err)
	}
	b.TripsRelease = true
	start := State{Voltage: s.From, asleep: true, turnOn: s.TurnOn}
	r, err := Network{Bus: b}.run(ctx, []profile.Curve{load}, start, budget(1))
	if err != nil {
		if errors.Is(err, ErrBudget) {
			err = fmt.Errorf("%w (drives, supplies or resistors that switch one another on and off at once?)", err)
		}
		return nil, fmt.Errorf("start-up: %w", err)
	}
	out := &Started{Result: &r.Result, PeakCurrent: math.Max(0, r.SourceCurrent.Max().V)}
	for _, e := range r.Events {
		switch e.Kind {
		case SupplyShutsDown, SupplyOverVoltage:
			out.Shutdowns++
		case LoadsOff:
			out.Interrupted++
		}
	}
	if r.Voltage.Pieces() == 0 {
		out.Reason = "the load cannot be carried at all"
		return out, nil
	}
	if t, ok := reached(&r.Result, s.Ready); ok {
		out.Reached, out.Time = true, t
		return out, nil
	}
	top := r.Highest.V
	switch {
	case r.Collapsed:
		out.Reason = fmt.Sprintf("the bus collapses under the load after %.4g s", r.Voltage.End())
	case out.Shutdowns > 0 && b.latched(r.Events):
		out.Reason = fmt.Sprintf("the supply shuts down for good, with the bus at most at %.4g V", top)
	case out.Shutdowns > 0:
		out.Reason = fmt.Sprintf("the supply shuts down %d times in %.4g s, and the bus does not stay above %.4g V: it comes to %.4g V at most", out.Shutdowns, s.Patience, s.Ready, top)
	case out.Interrupted > 0:
		out.Reason = fmt.Sprintf("the drives start and stop %d times in %.4g s: the supply does not carry them while it charges the bank", out.Interrupted, s.Patience)
	default:
		out.Reason = fmt.Sprintf("after %.4g s the bus is at %.4g V", s.Patience, r.End.Voltage)
	}
	return out, nil
}

// reached returns when the bus passed a voltage for the last time, if it stays
// above.
func reached(r *Result, level float64) (float64, bool) {
	v := r.Voltage
	if r.Collapsed || v.At(v.End()) < level {
		return 0, false
	}
	if v.At(v.Start()) >= level && r.Lowest.V >= level {
		return v.Start(), true
	}
	last := v.Start()
	for _, t := range v.Crossings(nil, level) {
		last = t
	}
	return last, true
}

func (b Bus) latched(events []Event) bool {
	all := supplies(b.Source)
	for _, e := range events {
		if e.Kind == SupplyShutsDown && all[e.Index].(SwitchMode).Overload == Latch {
			return true
		}
	}
	return false
}
