package sizing

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// WindowLoad is the most that a supply gives on average over a time.
type WindowLoad struct {
	Time  float64 // [s]
	Mean  float64 // most that it gives on average over any such time [W]; +Inf: no bound
	Limit float64 // what its rating permits, in the temperature around it [W]
}

func (s Supply) validateOverload(f *profile.Faults) {
	f.NonNegative("supply.thermal.standby", s.Standby, "W")
	if len(s.Overload) == 0 || !(s.RatedPower > 0) {
		return
	}
	r := thermal.OverloadRating{Continuous: s.RatedPower, Points: s.Overload}
	pointFaults(f, "supply.thermal.overload", r.Validate(), "")
}

// heatSupply bounds what the supply gives over the times of its overload rating, in any
// phase: what all loads take in their worst windows, the bleeder, and what recharges the bank
// from its lowest to its highest voltage; and no more than the limit of its current gives.
func (a *Assessment) heatSupply(ctx context.Context) error {
	m := a.Machine
	top := m.Supply.Source.High()
	v := top.NoLoadVoltage()
	share := m.Supply.Ambient.share(a.around(m.inside().Supply))
	for _, p := range m.Supply.Overload {
		if err := ctx.Err(); err != nil {
			return err
		}
		w := WindowLoad{Time: p.Time, Limit: math.Max(0, p.Mean*share), Mean: math.Inf(1)}
		if a.Bus.Lowest > 0 {
			bank := m.allLinks().High()
			taken := math.Max(0, bank.Energy(v)-bank.Energy(math.Min(v, a.Bus.Lowest)))
			if m.Bleeder > 0 {
				taken += v * v / early.of(m.Bleeder, m.BleederTolerance) * p.Time
			}
			for _, st := range a.Stations {
				e, err := mostWithin(st.Hot.Positive(), p.Time)
				if err != nil {
					return fmt.Errorf("overload of the supply: %w", err)
				}
				taken += e
			}
			w.Mean = taken / p.Time
		}
		if s, ok := m.Supply.Source.(bus.SwitchMode); ok {
			w.Mean = math.Min(w.Mean, math.Max(s.CurrentLimit, s.PeakCurrent)*v)
		}
		a.Heat.Overloads = append(a.Heat.Overloads, w)
	}
	return nil
}

// mostWithin returns the most that the integral of a curve >= 0 that is repeated for ever
// comes to within any window of the given length [s].
func mostWithin(c profile.Curve, window float64) (float64, error) {
	period := c.Duration()
	cycles := math.Floor(window / period)
	most := cycles * c.Integral()
	rest := window - cycles*period
	if rest <= 1e-9*period {
		return most, nil
	}
	if rest >= (1-1e-9)*period {
		return most + c.Integral(), nil
	}
	sum := c.Repeat(2).Shift(-c.Start()).Antiderivative(0)
	late, err := sum.Slice(rest, rest+period)
	if err != nil {
		return 0, err
	}
	early, err := sum.Slice(0, period)
	if err != nil {
		return 0, err
	}
	swing, err := profile.Sum(late.Shift(-rest), early.Scale(-1))
	if err != nil {
		return 0, err
	}
	return most + math.Max(0, swing.Max().V), nil
}
