package sizing

import (
	"math"

	"example.com/headroom/profile"
)

// need returns the lowest constant voltage at the drive [V] with which the motor makes
// all moves, its instant, and the end of the load's spread that needs it; false when the
// voltage of the motor or of the drive is not known.
func (r AxisResult) need(axis Axis) (LoadResult, profile.Point, bool) {
	if r.Voltage == nil {
		return LoadResult{}, profile.Point{}, false
	}
	at, _ := r.worst(func(l LoadResult) float64 {
		need, err := l.Voltage.LowestBus(axis.Drive.Drive)
		if err != nil {
			return math.Inf(-1)
		}
		return need.V
	})
	need, err := at.Voltage.LowestBus(axis.Drive.Drive)
	return at, need, err == nil // an error: no modulation limit
}

// neededBus returns the lowest voltage of the distribution point [V] at which every axis
// still makes its moves, and what decides it:
//
//	V >= u_k + Σ R_j Σ P_i/u_i   over the cables j that lead to axis k and the axes i that j feeds
//
// with u the higher of what the motor needs and the under-voltage limit, below which the
// drive trips, and P the highest power of an axis, all at once. It is enough: while no
// drive is below its u, none draws more than P/u, and so none gets below (own derivation,
// as for [bus.Network.AnyPhase]).
func (a *Assessment) neededBus() (v float64, decides string) {
	m := a.Machine
	needs, amperes := map[string]float64{}, map[string]float64{}
	motor := map[string]bool{}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			u := m.UnderVoltage
			if _, need, known := ax.need(m.axis(ax.Name)); known && need.V > u {
				u, motor[ax.Name] = need.V, true
			}
			needs[ax.Name] = u
			amperes[ax.Name] = math.Max(0, ax.hotPower.Max().V) / u
		}
	}
	drops, err := m.cableDrops(amperes)
	if err != nil {
		return 0, "" // validated
	}
	for _, ax := range m.Axes { // in their order, of several alike the first
		if u, ok := needs[ax.Name]; ok && u+drops[ax.Name] > v {
			v, decides = u+drops[ax.Name], ax.Name+", under-voltage limit"
			if motor[ax.Name] {
				decides = ax.Name + ", motor"
			}
		}
	}
	return v, decides
}
