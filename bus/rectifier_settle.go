package bus

import (
	"context"
	"errors"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// SteadyLoad is a load that does not change: the sum of its parts, of which one at
// least is not 0.
type SteadyLoad struct {
	Power      float64 // taken whatever the voltage [W], >= 0
	Current    float64 // taken whatever the voltage [A], >= 0
	Resistance float64 // across the bus [ohm], > 0; 0: none
}

// Validate returns nil, or an error that joins the faults of the fields.
func (l SteadyLoad) Validate() error {
	var f profile.Faults
	f.NonNegative("power", l.Power, "W")
	f.NonNegative("current", l.Current, "A")
	f.NonNegative("resistance", l.Resistance, "ohm")
	if f.Err() == nil && l == (SteadyLoad{}) {
		f.Add("", "none", "a load: without one the bus stays at any voltage above the crest")
	}
	return f.Err()
}

// at returns what the load draws from v [V], in A.
func (l SteadyLoad) at(v float64) float64 {
	i := l.Current + l.Power/v
	if l.Resistance > 0 {
		i += v / l.Resistance
	}
	return i
}

// Ripple is a rectifier with its bank under a steady load.
type Ripple struct {
	Mean       float64 // of the bus voltage [V]
	Lowest     float64 // [V]
	Highest    float64 // [V]
	PeakToPeak float64 // [V]

	// ConductionAngle is for how long each diode conducts in a period of the mains
	// [rad]. In a three-phase bridge these may be two pulses.
	ConductionAngle float64
	Secondary       MainsDraw // from the EMF: the secondary of a transformer, or the mains

	RectifiedMean float64 // current from the rectifier into the bus [A]
	BankRMS       float64 // current of the bank [A]
	DiodeMean     float64 // current of each diode [A]
	DiodeRMS      float64 // [A]
	DiodePeak     float64 // [A]
	DiodeReverse  float64 // voltage that a blocking diode bears at most, without transients [V]
	DiodeHeat     float64 // in all diodes together [W]
	SourceHeat    float64 // in the resistance of the mains or the transformer [W]

	// Stable says whether the waveform is one into which the bus settles: a load of
	// constant power on a small bank behind inductance may swing up instead.
	Stable   bool
	Waveform *RippleResult // one period; its Start continues in a longer simulation
}

// OverloadError says that a rectifier cannot carry a steady load.
type OverloadError struct {
	Load   SteadyLoad
	Reason string
}

// Error implements error.
func (e *OverloadError) Error() string {
	return fmt.Sprintf("the rectifier cannot carry %.4g W, %.4g A and %.4g ohm (0: none): %s", e.Load.Power, e.Load.Current, e.Load.Resistance, e.Reason)
}

// Settle computes the waveform into which the rectifier settles with a bank, at
// its nominal capacitance, under a steady load. It solves for the state that
// comes back after a pulse of the rectifier instead of waiting for it.
//
// It returns an error that joins the faults of the input, an [*OverloadError], or
// one that wraps the context's error, [ErrBudget] or [ErrRange].
func (r Rectifier) Settle(ctx context.Context, bank Bank, load SteadyLoad) (*Ripple, error) {
	var f profile.Faults
	f.Under("rectifier", r.Validate())
	f.Under("bank", bank.Validate())
	f.Under("load", load.Validate())
	if err := f.Err(); err != nil {
		return nil, err
	}
	x, err := r.firstGuess(ctx, load)
	if err != nil {
		return nil, err
	}
	b := Bus{Bank: bank}
	s, err := newSection(r, b, &load)
	if err != nil {
		return nil, fmt.Errorf("settled rectifier: %w: load: %v", ErrRange, err)
	}
	x, err = s.fixed(ctx, x)
	switch {
	case errors.Is(err, errCollapsed), errors.Is(err, errNoFixedPoint):
		return nil, &OverloadError{load, err.Error()}
	case err != nil:
		return nil, fmt.Errorf("settled rectifier: %w", err)
	}
	period := RippleLoad{}
	if period.Power, err = profile.Constant(load.Power, 0, 1/r.Frequency); err != nil {
		return nil, fmt.Errorf("settled rectifier: %w: load: %v", ErrRange, err)
	}
	if load.Current > 0 {
		if period.Current, err = profile.Constant(load.Current, 0, 1/r.Frequency); err != nil {
			return nil, fmt.Errorf("settled rectifier: %w: load: %v", ErrRange, err)
		}
	}
	b.Bleeder = load.Resistance
	w, err := b.SimulateRipple(ctx, r, period, RippleState{Voltage: x[0], lines: [2]float64{x[1], x[2]}})
	if err != nil {
		return nil, err
	}
	if w.Collapsed {
		return nil, &OverloadError{load, errCollapsed.Error()}
	}
	return r.ripple(w, s.stable()), nil
}

// firstGuess returns the state at which the mean of the rectifier's current is
// that of the load.
func (r Rectifier) firstGuess(ctx context.Context, load SteadyLoad) ([rectStates]float64, error) {
	drop := r.Kind.inSeries() * r.DiodeThreshold
	var x [rectStates]float64
	before, excess := 0.0, 0.0 // of the step before
	most := 0.0
	const tries = 32
	for k := 1; k <= tries; k++ {
		depth := float64(k*k) / (tries * tries) // below the crest, relative to it
		v := (1-depth)*r.crest() - drop
		if !(v > collapseFraction*r.NoLoadVoltage()) {
			break
		}
		i, at, err := r.heldCurrent(ctx, v, x)
		if err != nil {
			return x, fmt.Errorf("settled rectifier: %w", err)
		}
		x = at
		most = math.Max(most, i*v)
		if now := i - load.at(v); now >= 0 {
			switch {
			case k == 1: // the current grows with about the power 3/2
				depth *= math.Pow(load.at(v)/i, 2./3)
			default:
				depth = before + (depth-before)*excess/(excess-now)
			}
			x[0] = (1-depth)*r.crest() - drop
			return x, nil
		} else {
			before, excess = depth, now
		}
	}
	return x, &OverloadError{load, fmt.Sprintf("it delivers at most about %.4g W", most)}
}

// ripple reads the figures from one period.
func (r Rectifier) ripple(w *RippleResult, stable bool) *Ripple {
	p := &Ripple{
		Mean: w.Voltage.Mean(), Lowest: w.Lowest.V, Highest: w.Highest.V, PeakToPeak: w.Highest.V - w.Lowest.V,
		Secondary: w.Mains, RectifiedMean: w.Rectified.Mean(), BankRMS: w.BankCurrent.RMS(),
		DiodePeak: w.Mains.Peak, DiodeHeat: w.Energies.Diodes * r.Frequency, SourceHeat: w.Energies.Source * r.Frequency,
		Stable: stable, Waveform: w,
	}
	line := w.Lines[0]
	tiny := 1e-12 * r.crest() / r.impedance()
	for i := range line.Pieces() {
		t0, t1, _ := line.Piece(i)
		if line.At(t0+(t1-t0)/2) > tiny {
			p.ConductionAngle += r.omega() * (t1 - t0)
		}
	}
	p.DiodeReverse = p.Highest + r.crest()
	p.DiodeMean, p.DiodeRMS = p.RectifiedMean, w.Mains.RMS
	if r.Kind != HalfWave {
		p.DiodeReverse = p.Highest + r.DiodeThreshold + r.DiodeResistance*p.DiodePeak
		p.DiodeRMS = w.Mains.RMS / math.Sqrt2
		p.DiodeMean = p.RectifiedMean / 2
		if r.Kind == ThreePhaseBridge {
			p.DiodeMean = p.RectifiedMean / 3
		}
	}
	return p
}
