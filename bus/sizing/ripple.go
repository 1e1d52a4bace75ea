package sizing

import (
	"context"
	"errors"
	"fmt"
	"math"

	"example.com/headroom/bus"
)

// RippleResult is the waveform of a rectifier that feeds the bus, settled under a load
// that does not change, at the lowest mains with the least capacitance.
type RippleResult struct {
	Mean *bus.Ripple // at the highest mean power of the machine; nil: it cannot carry that
	Top  *bus.Ripple // at the most that the rectifier has to give; nil: it cannot carry that
	// Held is set where the rectifier cannot carry the peak demand: Top is then at the
	// current that it gives at the lowest bus voltage.
	Held bool
	// Dip is by how much the valley of Top lies below the voltage of the averaged
	// rectifier at the same load, with what that average may be off [V].
	Dip float64
}

// settleRipple settles the waveform of a rectifier and lowers the bus by its valleys. What the
// rectifier gives is never more than at the lowest voltage of the averaged bus, and so
// neither is the charge by which its pulses and its average differ. Loads that change
// within few periods of the mains are not followed by this argument.
func (a *Assessment) settleRipple(ctx context.Context) error {
	m, r := a.Machine, &a.Bus
	source, ok := m.Supply.Source.(bus.AveragedRectifier)
	if !ok {
		return nil
	}
	rect, bank := source.Rectifier.Low(), m.Ageing.worn(m.links()).Low()
	settle := func(load bus.SteadyLoad) (*bus.Ripple, error) {
		p, err := rect.Settle(ctx, bank, load)
		var over *bus.OverloadError
		if err != nil && !errors.As(err, &over) {
			return nil, fmt.Errorf("ripple: %w", err)
		}
		return p, nil
	}
	w := &RippleResult{}
	r.Ripple = w
	var err error
	if r.MeanPower > 0 {
		if w.Mean, err = settle(bus.SteadyLoad{Power: r.MeanPower}); err != nil {
			return err
		}
	}
	load := bus.SteadyLoad{Power: r.PeakDemand, Resistance: m.bus(early).Bleeder}
	if load == (bus.SteadyLoad{}) {
		return nil
	}
	if w.Top, err = settle(load); err != nil {
		return err
	}
	low := source.Low()
	if w.Top == nil && r.Lowest > 0 {
		if i := low.Current(r.Lowest); i > 0 {
			w.Held = true
			if w.Top, err = settle(bus.SteadyLoad{Current: i}); err != nil {
				return err
			}
		}
	}
	if w.Top == nil {
		return nil
	}
	v := r.Lowest
	if !w.Held {
		v = carries(low, load)
	}
	w.Dip = math.Max(0, v-w.Top.Lowest) + averageOff*low.NoLoadVoltage()
	r.Lowest -= w.Dip
	for name, e := range r.AtDrives {
		e.Lowest -= w.Dip
		r.AtDrives[name] = e
	}
	return nil
}

// averageOff is by how much the averaged rectifier may be off, relative to the crest; see
// [bus.AveragedRectifier].
const averageOff = 1e-3

// carries returns the highest voltage at which a source carries a load [V]; 0: none.
func carries(s bus.Source, l bus.SteadyLoad) float64 {
	short := func(v float64) bool {
		i := l.Power/v + l.Current
		if l.Resistance > 0 {
			i += v / l.Resistance
		}
		return s.Current(v) < i
	}
	const steps = 1000
	top := s.NoLoadVoltage()
	for k := 1; k < steps; k++ {
		lo, hi := top*(1-float64(k)/steps), top*(1-float64(k-1)/steps)
		if short(lo) {
			continue
		}
		for range 60 {
			if mid := lo + (hi-lo)/2; short(mid) {
				hi = mid
			} else {
				lo = mid
			}
		}
		return lo
	}
	return 0
}
