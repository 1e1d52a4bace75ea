package sizing

import (
	"context"
	"errors"
	"fmt"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// Exact asks for the extremes of the bus voltage over all phases of stations that are
// strictly periodic, bracketed as closely as is wanted by branch and bound
// ([bus.Bus.LowestOverPhases]), where bounds for any phase say what is not passed.
type Exact struct {
	Horizon   float64 // time after the no-load voltage in which they are sought [s]; 0: four of the longest cycles
	Tolerance float64 // width of the bracket [V]; 0: a thousandth of the supply's no-load voltage
}

// mostExact is how many stations the search takes.
const mostExact = 4

func (x *Exact) validate(f *profile.Faults, m Machine) {
	if x == nil {
		return
	}
	f.NonNegative("anyPhase.exact.horizon", x.Horizon, "s")
	f.NonNegative("anyPhase.exact.tolerance", x.Tolerance, "V")
	if why := m.notExact(); why != "" {
		f.Add("anyPhase.exact", "given", why)
	}
}

// notExact says what the search for exact extremes would need of the machine, "" when it
// has it.
func (m Machine) notExact() string {
	if n := len(m.Stations); n < 2 || n > mostExact {
		return fmt.Sprintf("2 to %d stations on the bus, not %d", mostExact, n)
	}
	for _, s := range m.Stations {
		if !s.Strict {
			return fmt.Sprintf("stations that are all strictlyPeriodic; %q may pause", s.Name)
		}
	}
	if m.cabled() {
		return "drives at the distribution point, without cables"
	}
	return ""
}

// ExactResult is what the search for exact extremes came to.
type ExactResult struct {
	Horizon, Tolerance float64 // that were kept [s], [V]

	Lowest, Highest     *bus.Extreme // nil: not found
	NoLowest, NoHighest string       // why not
}

// exactOverPhases finds the exact extremes where they are asked for.
func (a *Assessment) exactOverPhases(ctx context.Context) error {
	m := a.Machine
	if m.AnyPhase == nil || m.AnyPhase.Exact == nil {
		return nil
	}
	x := m.AnyPhase.Exact
	r := &ExactResult{Horizon: x.Horizon, Tolerance: x.Tolerance}
	longest := 0.0
	hot, cold := make([]profile.Curve, len(a.Stations)), make([]profile.Curve, len(a.Stations))
	for i, st := range a.Stations {
		longest = max(longest, st.Duration)
		hot[i], cold[i] = st.Hot, st.Cold
	}
	if r.Horizon == 0 {
		r.Horizon = 4 * longest
	}
	if r.Tolerance == 0 {
		r.Tolerance = 1e-3 * m.Supply.Source.NoLoadVoltage()
	}
	var err error
	if r.Lowest, err = m.bus(early).LowestOverPhases(ctx, hot, r.Horizon, r.Tolerance); err != nil {
		if r.NoLowest, err = m.refused(ctx, err); err != nil {
			return err
		}
	}
	if r.Highest, err = m.bus(late).HighestOverPhases(ctx, cold, r.Horizon, r.Tolerance); err != nil {
		if r.NoHighest, err = m.refused(ctx, err); err != nil {
			return err
		}
	}
	a.Exact = r
	return nil
}

// refused returns in words why the bus is not one for exact extremes, or the error where it
// is something else.
func (m *Machine) refused(ctx context.Context, err error) (string, error) {
	if ctx.Err() != nil {
		return "", ctx.Err()
	}
	var f profile.Faults
	text := ""
	for _, e := range profile.InputErrors(err) {
		switch e.Path {
		case "horizon", "tolerance":
			f.Add("anyPhase.exact."+e.Path, e.Value, e.Want)
		case "bus.source":
			text = "the supply must be one whose current follows from its voltage alone, without foldback, hiccup, shutdown, timed peak or rectifier"
		case "bus.brakes":
			text = "a brake resistor may come on, and whether it is on depends on what was before"
		}
	}
	if f.Err() != nil {
		return "", f.Err()
	}
	if text == "" || errors.Is(err, bus.ErrBudget) {
		return "", fmt.Errorf("exact extremes: %w", err)
	}
	return text, nil
}
