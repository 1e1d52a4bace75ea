package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"github.com/stretchr/testify/require"
)

// TestLogPower: torque from 1 to 3 N·m while speed goes from 10 to -10 rad/s within 2 s,
// then both steady. With s = t: (1 + s)(10 - 10 s) = 10 - 10 s², integral over 2 s
// 20 - 80/3 = -20/3 J. Then 3 N·m at -10 rad/s for 1 s: -30 J. Straight lines between the
// products 10, -30, -30 W would give -20 J and -30 J.
func TestLogPower(t *testing.T) {
	l := energy.Log{Time: []float64{0, 2, 3}, Torque: []float64{1, 3, 3}, Speed: []float64{10, -10, -10}, Ratio: 1}
	p, err := l.Power()
	require.NoError(t, err)
	require.InDelta(t, 10-10*0.25, p.At(0.5), 1e-12)
	require.InDelta(t, -20./3, p.IntegralBetween(0, 2), 1e-12)
	require.InDelta(t, -30, p.IntegralBetween(2, 3), 1e-12)

	// Speed of the load behind a gear of 5.
	l.Ratio = 5
	q, err := l.Power()
	require.NoError(t, err)
	require.InDelta(t, 5*p.Integral(), q.Integral(), 1e-12)
}

// TestLogOfATrace: a dense log of a move gives the energy of its shaft power.
func TestLogOfATrace(t *testing.T) {
	a := beltAxis(t)
	m := sCurve(t, 0.5, 0.03, 0.07, 0.15)
	tr := trace(t, a, m)
	const n = 20000
	l := energy.Log{Ratio: 2 * 5 / 0.06}
	for i := range n + 1 {
		s := m.Duration() * float64(i) / n
		l.Time = append(l.Time, s)
		l.Torque = append(l.Torque, tr.RatedTorque.At(s))
		l.Speed = append(l.Speed, m.At(s).Speed)
	}
	p, err := l.Power()
	require.NoError(t, err)
	require.InDelta(t, tr.ShaftPower.Integral(), p.Integral(), 1e-5*tr.Book.Throughput())
}

func TestBadLogs(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	good := []float64{0, 1, 2}
	for name, tc := range map[string]struct {
		log  energy.Log
		want []string
	}{
		"empty":           {energy.Log{Ratio: 1}, []string{"time"}},
		"one instant":     {energy.Log{[]float64{0}, []float64{1}, []float64{1}, 1}, []string{"time"}},
		"ragged torque":   {energy.Log{good, good[:2], good, 1}, []string{"torque"}},
		"ragged speed":    {energy.Log{good, good, append(good, 3), 1}, []string{"speed"}},
		"unsorted":        {energy.Log{[]float64{0, 2, 1}, good, good, 1}, []string{"time[2]"}},
		"twice the same":  {energy.Log{[]float64{0, 1, 1}, good, good, 1}, []string{"time[2]"}},
		"NaN time":        {energy.Log{[]float64{0, nan, 1}, good, good, 1}, []string{"time[1]"}},
		"infinite time":   {energy.Log{[]float64{0, 1, inf}, good, good, 1}, []string{"time[2]"}},
		"NaN torque":      {energy.Log{good, []float64{0, 0, nan}, good, 1}, []string{"torque[2]"}},
		"infinite speed":  {energy.Log{good, good, []float64{inf, 0, 0}, 1}, []string{"speed[0]"}},
		"no ratio":        {energy.Log{good, good, good, 0}, []string{"ratio"}},
		"negative ratio":  {energy.Log{good, good, good, -2}, []string{"ratio"}},
		"all at once":     {energy.Log{[]float64{0, 2, 1}, []float64{nan, 0, 0}, good[:1], nan}, []string{"time[2]", "torque[0]", "speed", "ratio"}},
		"ragged unsorted": {energy.Log{[]float64{0, 2, 1}, good[:2], good[:2], 1}, []string{"time[2]", "torque", "speed"}},
	} {
		t.Run(name, func(t *testing.T) {
			requirePaths(t, tc.log.Validate(), tc.want...)
			_, err := tc.log.Power()
			requirePaths(t, err, tc.want...)
		})
	}
	big := []float64{1e300, 1e300, 1e300}
	_, err := energy.Log{good, big, big, 1}.Power()
	requirePaths(t, err, "torque")
}
