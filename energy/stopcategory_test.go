package energy_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/energy"
)

// TestStopCategories: a lift of 10 kg on a linear motor, up to 2 m/s both ways, with a brake of
// 300 N that takes 50 ms. By hand, with g the standard gravity:
//
//	0: worst at 2 m/s downwards: v = 2 + 0.05 g, 2·0.05 + g 0.05²/2 + v²/2a, a = 30 - g
//	1: controlled 2²/(2·5) = 0.4 m; then 0.05² g/2 + (0.05 g)²/2a from rest
//	2: as 1 without the drop, and copper (98.0665/10)² W to hold
func TestStopCategories(t *testing.T) {
	const g = energy.StandardGravity
	a := linearMotor(t)
	a.Load.Incline = math.Pi / 2
	m := accels(t, 0, 0, [2]float64{1, 2}, [2]float64{2, -2}, [2]float64{1, 2})
	s := stopping(a, m, 5)
	brake := &energy.HoldingBrake{Torque: 300, Shaft: 1, Delay: 0.05}

	c, err := s.Stop(energy.Category0, brake)
	require.NoError(t, err)
	v := 2 + 0.05*g
	requireNear(t, 0.1+g*0.05*0.05/2+v*v/(2*(30-g)), c.Coast.Backward.V, 1e-9, "drop")
	requireNear(t, 3, c.Coast.Backward.T, 1e-6, "where it is fastest downwards")
	requireNear(t, v, c.Coast.PeakSpeed.V, 1e-9, "speed")
	requireNear(t, 300*v*v/(2*(30-g)), c.Coast.Heat.V, 1e-9, "heat")
	requireNear(t, 300*v, c.Coast.PeakPower.V, 1e-9, "power")
	requireNear(t, 1, c.Coast.Forward.T, 1e-6, "where it is fastest upwards")
	require.Zero(t, c.Controlled.Returned.V)
	require.False(t, c.Coast.Locked)
	drop := c.Coast.Backward.V

	c, err = s.Stop(energy.Category1, brake)
	require.NoError(t, err)
	requireNear(t, 0.4, c.Controlled.Distance[0].V, 1e-9, "controlled way")
	v = 0.05 * g
	requireNear(t, g*0.05*0.05/2+v*v/(2*(30-g)), c.Coast.Backward.V, 1e-9, "drop from rest")
	require.Less(t, c.Coast.Backward.V, drop)

	c, err = s.Stop(energy.Category2, brake)
	require.NoError(t, err)
	requireNear(t, 98.0665*98.0665/100, c.Rest, 1e-9, "holding")
	require.Zero(t, c.Coast.Duration.V)

	weak := *brake
	weak.Torque = 90
	c, err = s.Stop(energy.Category0, &weak)
	require.NoError(t, err)
	require.Equal(t, energy.WorstCoast{Fails: c.Coast.Fails}, c.Coast)

	// On the level friction holds it wherever it stands.
	a.Load.Incline, a.Load.Coulomb = 0, 5
	w, err := stopping(a, m, 5).WorstCoast(nil, true)
	require.NoError(t, err)
	require.True(t, w.Locked)
	require.True(t, w.Stops)

	_, err = s.Stop(3, nil)
	require.Equal(t, []string{"category"}, paths(err))
	require.Equal(t, "stop category 1", energy.Category1.String())
	require.Equal(t, "unknown stop category", energy.StopCategory(-1).String())
	s.Cycle = nil
	for c := range energy.StopCategory(3) {
		_, err = s.Stop(c, brake)
		require.Equal(t, []string{"axes[0].cycle"}, paths(err))
	}
	s = stopping(a, m, 5)
	_, err = s.WorstCoast(&energy.HoldingBrake{}, false)
	require.Equal(t, []string{"brake.torque"}, paths(err))
}

// TestBackEMF: a motor of 100 V RMS between the lines per 1000 1/min reaches 141.4 V of crest
// then, so that 600 V are exceeded above 4243 1/min. By hand for 0.02 kg·m² at 5000 1/min: 274.2
// J less 197.4 J at the threshold.
func TestBackEMF(t *testing.T) {
	const rpm = 2 * math.Pi / 60
	sheet := energy.Sheet{VoltageLineToLineRMS: 0.1 / rpm, ResistanceLineToLine: 1, Temperature: 20}
	w, err := sheet.Winding()
	require.NoError(t, err)
	a := energy.Axis{Load: energy.Load{Inertia: 0.019, Coulomb: 0.5}, Mechanism: energy.Rotary{Efficiency: 1}, Motor: energy.Motor{RotorInertia: 1e-3, Winding: w}}
	c := powerOff(t, a, 0, 5000*rpm, nil)
	e, err := a.BackEMF(c, 600)
	require.NoError(t, err)
	requireNear(t, 600/(0.1*math.Sqrt2)*rpm, e.Threshold, 1e-12, "threshold")
	requireNear(t, 500*math.Sqrt2, e.Voltage, 1e-12, "voltage")
	requireNear(t, 500*math.Sqrt2-600, e.Excess, 1e-9, "excess")
	requireNear(t, 0.01*(5000*5000-600*600/(0.1*0.1*2))*rpm*rpm, e.Energy, 1e-9, "energy")

	e, err = a.BackEMF(c, 708)
	require.NoError(t, err)
	require.Zero(t, e.Excess)
	require.Zero(t, e.Energy)

	// Direct current: 0.5 V·s/rad, 40 V at 80 rad/s.
	dc, err := energy.DirectCurrent(0.5, energy.LineToLine(1), 20)
	require.NoError(t, err)
	a.Motor.Winding = dc
	e, err = a.BackEMF(powerOff(t, a, 0, 100, nil), 40)
	require.NoError(t, err)
	requireNear(t, 80, e.Threshold, 1e-12, "threshold, direct current")
	requireNear(t, 0.01*(100*100-80*80), e.Energy, 1e-9, "energy, direct current")

	_, err = a.BackEMF(energy.Coast{}, math.NaN())
	require.Equal(t, []string{"coast", "busVoltage"}, paths(err))
}
