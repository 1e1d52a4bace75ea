package bus_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// By hand: two wires of 2.5 mm² with 115 A·√s/mm² bear (115·5)² = 330 625 A²s.
func TestWithstand(t *testing.T) {
	c := bus.Cable{Wire: flexible(t, 2.5), Parallel: 2, Length: 1, Temperature: 20}
	w, err := c.Withstand(115e6)
	require.NoError(t, err)
	near(t, 330625, w, 1e-6, "withstand")
	for _, k := range []float64{nan, inf, 0, -1} {
		_, err = c.Withstand(k)
		require.Equal(t, []string{"k"}, paths(err))
	}
	_, err = c.Withstand(1e300)
	require.Equal(t, []string{"k"}, paths(err))
}

// By hand. 20 A for 5 ms, 2 A for 95 ms, and so on: 10 ms hold 2 + 0.02 A²s; two
// windows across the seam of the cycle; a triangle of current; whole cycles.
func TestHighestI2t(t *testing.T) {
	c := steps(t, []float64{0, 0.05, 0.055, 0.1}, 2, 20, 2)
	for _, tc := range []struct{ window, want float64 }{
		{0.001, 0.4}, {0.005, 2}, {0.010, 2.02}, {0.1, 2.38}, {0.11, 2.38 + 2.02}, {0.3, 3 * 2.38}, {0.305, 3*2.38 + 2},
	} {
		got, err := bus.HighestI2t(c, tc.window)
		require.NoError(t, err)
		near(t, tc.want, got, 1e-12, "I²t")
	}
	seam := steps(t, []float64{10, 10.004, 10.096, 10.1}, -20, 0, 20)
	got, err := bus.HighestI2t(seam, 0.008)
	require.NoError(t, err)
	near(t, 3.2, got, 1e-9, "across the seam")
	// i = 100 t to 1 s and back: the best window of 1 s is from 0.5 to 1.5 s,
	// 2·∫ from 0.5 to 1 of (100 t)² = 2·10⁴·(1 - 1/8)/3.
	tri := curve(t, []float64{0, 1, 2}, []float64{0, 100}, []float64{100, -100})
	got, err = bus.HighestI2t(tri, 1)
	require.NoError(t, err)
	near(t, 2e4*0.875/3, got, 1e-8, "triangle")

	for _, w := range []float64{nan, inf, 0, -1} {
		_, err = bus.HighestI2t(c, w)
		require.Equal(t, []string{"window"}, paths(err))
	}
	_, err = bus.HighestI2t(profile.Curve{}, 0.01)
	require.Equal(t, []string{"current"}, paths(err))
	_, err = bus.HighestI2t(steps(t, []float64{0, 1}, 1e200), 0.01)
	require.Error(t, err)
	for _, w := range []float64{5e-324, 1e-300, 1e-12, 1e300} {
		if got, err = bus.HighestI2t(c, w); err == nil {
			requireFinite(t, got)
		}
	}
}

func TestFuse(t *testing.T) {
	fuse := bus.Fuse{RatedCurrent: 25, Derating: 0.8, MeltingI2t: 400, ClearingI2t: 1500, RatedVoltage: 150, BreakingCapacity: 20e3}
	demand := bus.FuseDemand{RMS: 16, PulseI2t: 60, Voltage: 90, Short: 4000, ShortI2t: 4000, Withstand: 330625}
	l, err := fuse.Loading(demand)
	require.NoError(t, err)
	require.True(t, l.Within())
	near(t, 16.0/20, l.Continuous.Ratio, 1e-12, "continuous")
	near(t, 60.0/80, l.Pulse.Ratio, 1e-12, "pulse")
	near(t, 60, l.Voltage.Margin, 1e-12, "voltage")
	near(t, 0.2, l.Breaking.Ratio, 1e-12, "breaking")
	near(t, 1500.0/330625, l.LetThrough.Ratio, 1e-12, "let-through")
	near(t, 0.1, l.Melting.Ratio, 1e-12, "melting")

	for name, tc := range map[string]struct {
		set func(u *bus.Fuse, d *bus.FuseDemand)
		get func(l bus.FuseLoading) bool
	}{
		"continuous":         {func(u *bus.Fuse, d *bus.FuseDemand) { d.RMS = 21 }, func(l bus.FuseLoading) bool { return l.Continuous.Within() }},
		"pulse":              {func(u *bus.Fuse, d *bus.FuseDemand) { d.PulseI2t = 81 }, func(l bus.FuseLoading) bool { return l.Pulse.Within() }},
		"pulse of own share": {func(u *bus.Fuse, d *bus.FuseDemand) { u.PulseShare = 0.1 }, func(l bus.FuseLoading) bool { return l.Pulse.Within() }},
		"voltage":            {func(u *bus.Fuse, d *bus.FuseDemand) { d.Voltage = 151 }, func(l bus.FuseLoading) bool { return l.Voltage.Within() }},
		"breaking":           {func(u *bus.Fuse, d *bus.FuseDemand) { d.Short = 20001 }, func(l bus.FuseLoading) bool { return l.Breaking.Within() }},
		"cable":              {func(u *bus.Fuse, d *bus.FuseDemand) { d.Withstand = 1499 }, func(l bus.FuseLoading) bool { return l.LetThrough.Within() }},
		"bank empty first":   {func(u *bus.Fuse, d *bus.FuseDemand) { d.ShortI2t = 399 }, func(l bus.FuseLoading) bool { return l.Melting.Within() }},
	} {
		u, d := fuse, demand
		tc.set(&u, &d)
		l, err := u.Loading(d)
		require.NoError(t, err, name)
		require.False(t, tc.get(l), name)
		require.False(t, l.Within(), name)
	}
	// The bank holds less than the fuse would let through.
	demand.ShortI2t = 1000
	l, err = fuse.Loading(demand)
	require.NoError(t, err)
	near(t, 1000, l.LetThrough.Value, 0, "let-through of the bank")
	demand.Withstand = 0
	l, err = fuse.Loading(demand)
	require.NoError(t, err)
	require.Zero(t, l.LetThrough)
	require.True(t, l.Within())
}

func TestFuseBadInput(t *testing.T) {
	fuse := bus.Fuse{RatedCurrent: 25, Derating: 0.8, MeltingI2t: 400, ClearingI2t: 1500, RatedVoltage: 150, BreakingCapacity: 20e3}
	demand := bus.FuseDemand{RMS: 16, PulseI2t: 60, Voltage: 90, Short: 4000, ShortI2t: 4000, Withstand: 330625}
	positive := []float64{nan, inf, -inf, 0, -1}
	atLeastZero := []float64{nan, inf, -1}
	for _, tc := range []struct {
		path   string
		values []float64
		set    func(u *bus.Fuse, d *bus.FuseDemand, v float64)
	}{
		{"fuse.ratedCurrent", positive, func(u *bus.Fuse, d *bus.FuseDemand, v float64) { u.RatedCurrent = v }},
		{"fuse.derating", append(positive, 1.01), func(u *bus.Fuse, d *bus.FuseDemand, v float64) { u.Derating = v }},
		{"fuse.meltingI2t", positive, func(u *bus.Fuse, d *bus.FuseDemand, v float64) { u.MeltingI2t = v }},
		{"fuse.clearingI2t", append(positive, 399), func(u *bus.Fuse, d *bus.FuseDemand, v float64) { u.ClearingI2t = v }},
		{"fuse.ratedVoltage", positive, func(u *bus.Fuse, d *bus.FuseDemand, v float64) { u.RatedVoltage = v }},
		{"fuse.breakingCapacity", positive, func(u *bus.Fuse, d *bus.FuseDemand, v float64) { u.BreakingCapacity = v }},
		{"fuse.pulseShare", append(atLeastZero, 1.01), func(u *bus.Fuse, d *bus.FuseDemand, v float64) { u.PulseShare = v }},
		{"demand.rms", atLeastZero, func(u *bus.Fuse, d *bus.FuseDemand, v float64) { d.RMS = v }},
		{"demand.pulseI2t", atLeastZero, func(u *bus.Fuse, d *bus.FuseDemand, v float64) { d.PulseI2t = v }},
		{"demand.voltage", positive, func(u *bus.Fuse, d *bus.FuseDemand, v float64) { d.Voltage = v }},
		{"demand.short", positive, func(u *bus.Fuse, d *bus.FuseDemand, v float64) { d.Short = v }},
		{"demand.shortI2t", positive, func(u *bus.Fuse, d *bus.FuseDemand, v float64) { d.ShortI2t = v }},
		{"demand.withstand", atLeastZero, func(u *bus.Fuse, d *bus.FuseDemand, v float64) { d.Withstand = v }},
	} {
		for _, v := range tc.values {
			u, d := fuse, demand
			tc.set(&u, &d, v)
			_, err := u.Loading(d)
			require.Equal(t, []string{tc.path}, paths(err), "%g", v)
		}
	}
	demand.ShortI2t = 5e-324
	_, err := fuse.Loading(demand)
	require.Error(t, err)
}
