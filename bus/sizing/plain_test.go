package sizing_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

// plain is a document of n axes of one station that keeps to its cycle, with a bank, a
// supply, a brake resistor and windings that heat, and nothing else. Half of the axes are
// belts, half lifts; every axis makes three moves. The figures are invented.
func plain(n int) string {
	var axes, names, up, down []string
	for i := range n {
		name := fmt.Sprintf("a%d", i)
		names = append(names, fmt.Sprintf("%q", name))
		load, to := `"mass": "8 kg", "coulomb": "6 N", "viscous": "4 N s/m"`, 300+20*i
		if i%2 == 1 {
			load, to = `"mass": "3 kg", "coulomb": "5 N", "incline": "90 deg"`, 150+10*i
		}
		axes = append(axes, fmt.Sprintf(`{
			"name": %q, "load": { %s },
			"mechanism": { "kind": "belt", "pitchDiameter": "40 mm", "efficiency": "94 %%", "inertia": "0.5 kg cm^2" },
			"stages": [ { "ratio": 4, "efficiency": "95 %%", "inertia": "0.1 kg cm^2" } ],
			"motor": "m", "drive": "d",
			"limits": { "speed": "1.2 m/s", "accel": "8 m/s^2", "jerk": "200 m/s^3" }, "start": "0 mm"
		}`, name, load))
		up, down = append(up, fmt.Sprintf(`%q: "%d mm"`, name, to)), append(down, fmt.Sprintf(`%q: "0 mm"`, name))
	}
	half := n / 2
	return fmt.Sprintf(`{
		"machine": "Plain", "ambient": { "low": "10 degC", "high": "35 degC" },
		"supply": {
			"kind": "regulated", "voltage": "72 V", "tolerance": "2 %%", "currentLimit": "12 A", "ratedPower": "800 W", "efficiency": "92 %%",
			"mains": { "voltage": "230 V", "tolerance": "10 %%", "inputLow": "195 V", "inputHigh": "264 V" }
		},
		"bank": { "capacitance": "30 mF", "toleranceLow": "20 %%", "toleranceHigh": "20 %%", "ratedVoltage": "100 V" },
		"bleeder": "470 ohm",
		"brakeResistor": { "resistance": "10 ohm", "onVoltage": "80 V", "offVoltage": "77 V", "continuous": "100 W", "pulse": "1000 J" },
		"underVoltage": "40 V", "overVoltage": "90 V",
		"motors": { "m": {
			"rotorInertia": "0.4 kg cm^2", "dragTorque": "0.01 N m", "dragPerSpeed": "1e-5 N m s/rad",
			"winding": { "torquePerRMSAmpere": "0.12 N m/A", "resistanceLineToLine": "0.5 ohm", "temperature": "25 degC", "max": "130 degC" },
			"continuousTorque": "0.8 N m", "peakTorque": "2.4 N m", "maxSpeed": "5000 rpm", "ratedAmbient": "40 degC"
		} },
		"drives": { "d": { "standby": "4 W", "lossPerAmp": "0.9 V", "lossPerAmpSquared": "25 mohm", "continuousCurrent": "8 A", "peakCurrent": "22 A" } },
		"axes": [%s],
		"stations": [ { "name": "all", "axes": [%s], "strictlyPeriodic": true, "steps": [
			{ "name": "half out", "to": { %s } },
			{ "name": "the others out", "to": { %s }, "path": "together" },
			{ "name": "dwell", "dwell": "0.3 s" },
			{ "name": "back", "to": { %s } },
			{ "name": "wait", "dwell": "0.5 s" }
		] } ]
	}`, strings.Join(axes, ","), strings.Join(names, ","), strings.Join(up[:half], ","), strings.Join(up[half:], ","), strings.Join(down, ","))
}

// The course alone is that which the assessment with all bounds finds, and so are the sums
// that take no bounds.
func TestCourseOnly(t *testing.T) {
	m := parse(t, plain(4))
	with, err := sizing.Assess(context.Background(), m)
	require.NoError(t, err)
	m.CourseOnly = true
	without, err := sizing.Assess(context.Background(), m)
	require.NoError(t, err)
	require.NotNil(t, without.Bus.SagCycle)
	require.False(t, without.Bus.Guarantee.Sag.Exists)
	require.Equal(t, with.Fits, without.Fits)
	w, o := with.Bus, without.Bus
	require.Equal(t, []float64{w.Lowest, w.Highest, w.MeanPower, w.ResistorMean, w.PeakDemand}, []float64{o.Lowest, o.Highest, o.MeanPower, o.ResistorMean, o.PeakDemand})
	require.InEpsilon(t, w.Guarantee.MeanReturnedPower, o.Guarantee.MeanReturnedPower, 1e-12)
	require.Positive(t, o.Guarantee.ReturnedBurst)
	require.InEpsilon(t, w.Guarantee.ReturnedBurst, o.Guarantee.ReturnedBurst, 1e-3)
	require.LessOrEqual(t, o.Guarantee.ReturnedBurst, w.Guarantee.ReturnedBurst*(1+1e-12), "which is a bound")

	// A machine with more than one course has its bounds all the same.
	m.Stations[0].Strict = false
	bounded, err := sizing.Assess(context.Background(), m)
	require.NoError(t, err)
	require.Nil(t, bounded.Bus.SagCycle)
	require.True(t, bounded.Bus.Guarantee.Sag.Exists)
}

// By hand: 2 W for 1 s at the end of a cycle and 1 W for 1 s at the start of the next come
// back without a break.
func TestMostReturned(t *testing.T) {
	c, err := profile.NewCurve([]float64{0, 1, 2, 3}, [][]float64{{-1}, {5}, {-2}})
	require.NoError(t, err)
	require.InDelta(t, 3, sizing.MostReturned(c), 1e-12)
	require.True(t, math.IsInf(sizing.MostReturned(c.Scale(-1)), 1), "it gives back more than it takes")
}

func BenchmarkAssessPlain(b *testing.B) {
	m := parse(b, plain(8))
	m.CourseOnly = true
	b.ReportAllocs()
	for b.Loop() {
		if _, err := sizing.Assess(context.Background(), m); err != nil {
			b.Fatal(err)
		}
	}
}
