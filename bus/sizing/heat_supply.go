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
	pointFaults(f, "supply.thermal.overload", s.overload(1).Validate(), "")
}

// overload returns the overload rating, of which a share holds.
func (s Supply) overload(share float64) thermal.OverloadRating {
	r := thermal.OverloadRating{Continuous: s.RatedPower * share}
	for _, p := range s.Overload {
		r.Points = append(r.Points, thermal.OverloadPoint{Time: p.Time, Mean: p.Mean * share})
	}
	return r
}

// given bounds what the supply gives over any time, in any phase: what all stations take, the
// bleeder, and once what recharges the bank from its lowest to its highest voltage; and no more
// than the limit of its current gives. It has no loads where there is no bound.
func (a *Assessment) given() (thermal.FreeLoads, error) {
	m := a.Machine
	v := m.Supply.Source.High().NoLoadVoltage()
	var l thermal.FreeLoads
	add := func(power float64) error {
		c, err := profile.Constant(power, 0, 1)
		l.Cycles = append(l.Cycles, c)
		return err
	}
	if s, ok := m.Supply.Source.(bus.SwitchMode); ok {
		l.Highest = math.Max(s.CurrentLimit, s.PeakCurrent) * v
	}
	if !(a.Bus.Lowest > 0) {
		if l.Highest == 0 {
			return l, nil
		}
		return l, add(l.Highest)
	}
	bank := m.allLinks().High()
	l.Once = math.Max(0, bank.Energy(v)-bank.Energy(math.Min(v, a.Bus.Lowest)))
	for _, st := range a.Stations {
		l.Cycles = append(l.Cycles, st.Hot.Positive())
	}
	if m.Bleeder > 0 {
		return l, add(v * v / early.of(m.Bleeder, m.BleederTolerance))
	}
	return l, nil
}

// heatSupply holds what the supply gives against its overload rating: over the times of its
// points, and over every time from the first on.
func (a *Assessment) heatSupply(ctx context.Context) error {
	s := a.Machine.Supply
	if len(s.Overload) == 0 {
		return nil
	}
	loads, err := a.given()
	if err != nil {
		return fmt.Errorf("overload of the supply: %w", err)
	}
	share := s.Ambient.share(a.around(a.Machine.inside().Supply))
	for _, p := range s.Overload {
		if err := ctx.Err(); err != nil {
			return err
		}
		w := WindowLoad{Time: p.Time, Limit: p.Mean * share, Mean: math.Inf(1)}
		if len(loads.Cycles) > 0 {
			e, err := loads.Most(p.Time)
			if err != nil {
				return fmt.Errorf("overload of the supply: %w", err)
			}
			w.Mean = e / p.Time
		}
		a.Heat.Overloads = append(a.Heat.Overloads, w)
	}
	if share > 0 && len(loads.Cycles) > 0 {
		worst, err := s.overload(share).HoldFree(ctx, loads)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err == nil {
			a.Heat.Overload = &worst
		}
	}
	return nil
}
