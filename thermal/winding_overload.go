package thermal

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// OverloadTime returns for how long [s] a motor may give a constant torque [N·m]
// (of either sign), starting from given temperatures [°C] of all nodes, before
// its winding reaches Max. limited is false, and the time 0, when it never does.
// other is constant heat [W] at each node; nil: none. Magnets.At and m.At are
// the temperatures that m.Km holds for.
//
// The torque is electromagnetic. The limits of drive and magnets against
// demagnetising hold as well. A limit that is just the settled temperature,
// within 1e-9, counts as not reached.
func (w WindingNetwork) OverloadTime(ctx context.Context, m MotorConstant, torque float64, other, start []float64) (t float64, limited bool, err error) {
	var f profile.Faults
	k := w.check(&f)
	f.Positive("constant.km", m.Km, "N·m/√W")
	k.temperature(&f, "constant.at", m.At)
	f.Finite("torque", torque, "N·m")
	nodes := len(w.Network.Capacities)
	if other != nil && len(other) != nodes {
		f.Add("other", fmt.Sprintf("%d values", len(other)), fmt.Sprintf("one for each of the %d nodes", nodes))
	}
	for i, p := range other {
		f.NonNegative(fmt.Sprintf("other[%d]", i), p, "W")
	}
	w.Network.checkStart(&f, start)
	if err := f.Err(); err != nil {
		return 0, false, err
	}
	cold := torque / m.Km
	if needFinite(&f, "torque", torque, cold*cold); f.Err() != nil {
		return 0, false, f.Err()
	}
	if start[w.Winding] >= w.Max {
		return 0, true, nil
	}
	taus, err := w.Network.TimeConstants()
	if err != nil {
		f.Under("network", err)
		return 0, false, f.Err()
	}
	at := append([]float64(nil), start...)
	span := taus[0]
	for range 60 {
		heat, err := constantHeat(cold*cold, m.At, other, span)
		if err != nil {
			f.Under("torque", err)
			return 0, false, f.Err()
		}
		s, err := w.newFeedback(heat, false)
		if err != nil {
			return 0, false, err
		}
		if err := w.begin(s, at); err != nil {
			return 0, false, err
		}
		s.maximum = math.Min(beyond/2, w.Max-s.r.reference)
		sol, err := s.solve(ctx, 1, cold*cold)
		if err != nil {
			return 0, false, err
		}
		if sol.Stopped {
			t += sol.Breaks[len(sol.Breaks)-1]
			needFinite(&f, "torque", torque, t)
			return t, true, f.Err()
		}
		moved := 0.0
		for a, i := range s.r.store {
			moved = math.Max(moved, math.Abs(sol.X[a])/(1+math.Abs(at[i]-w.coldest())))
			at[i] += sol.X[a]
		}
		if moved < 1e-9 {
			return 0, false, nil
		}
		t += span
		span *= 2
	}
	return 0, false, nil
}

func constantHeat(copper, at float64, other []float64, span float64) (WindingHeat, error) {
	h := WindingHeat{At: at}
	var err error
	if h.Copper, err = profile.Constant(copper, 0, span); err != nil {
		return h, err
	}
	for _, p := range other {
		c, err := profile.Constant(p, 0, span)
		if err != nil {
			return h, err
		}
		h.Other = append(h.Other, c)
	}
	return h, nil
}
