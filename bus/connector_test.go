package bus_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

// By hand: three contacts of 16 A at 0.9 bear 43.2 A, 86.4 A of peak where one
// bears 32 A; each 3 milliohm, both poles 2 milliohm, which burn 3.2 W at 40 A.
func TestConnector(t *testing.T) {
	c := bus.Connector{RatedCurrent: 16, PeakCurrent: 32, Contacts: 3, Sharing: 0.9, ContactResistance: 3e-3}
	r, err := c.LoopResistance()
	require.NoError(t, err)
	near(t, 2e-3, r, 1e-18, "resistance")
	l, err := c.Loading(40, 90)
	require.NoError(t, err)
	near(t, 43.2, l.Continuous.Limit, 1e-12, "continuous limit")
	near(t, 3.2, l.Continuous.Margin, 1e-12, "margin")
	near(t, 90/86.4, l.Peak.Ratio, 1e-12, "peak")
	near(t, 3.2, l.Loss, 1e-12, "loss")
	require.True(t, l.Continuous.Within())
	require.False(t, l.Within())
	l, err = c.Loading(40, 80)
	require.NoError(t, err)
	require.True(t, l.Within())

	// Nothing given for sharing: 3 · 16 A · 0.8. No peak rating: the same holds for the peak.
	c.Sharing, c.PeakCurrent = 0, 0
	l, err = c.Loading(40, 40)
	require.NoError(t, err)
	near(t, 38.4, l.Continuous.Limit, 1e-12, "default sharing")
	near(t, 38.4, l.Peak.Limit, 1e-12, "default peak")
	// A single contact has nothing to share.
	c.Contacts = 1
	l, err = c.Loading(16, 16)
	require.NoError(t, err)
	require.True(t, l.Within())
	require.Equal(t, 16.0, l.Continuous.Limit)
}

func TestConnectorBadInput(t *testing.T) {
	good := bus.Connector{RatedCurrent: 16, PeakCurrent: 32, Contacts: 3, Sharing: 0.9, ContactResistance: 3e-3}
	for _, tc := range []struct {
		path   string
		values []float64
		set    func(c *bus.Connector, v float64)
	}{
		{"ratedCurrent", []float64{nan, inf, 0, -1}, func(c *bus.Connector, v float64) { c.RatedCurrent = v }},
		{"peakCurrent", []float64{nan, inf, -1, 15}, func(c *bus.Connector, v float64) { c.PeakCurrent = v }},
		{"contacts", []float64{0, -1}, func(c *bus.Connector, v float64) { c.Contacts = int(v) }},
		{"sharing", []float64{nan, inf, -0.1, 1.1}, func(c *bus.Connector, v float64) { c.Sharing = v }},
		{"contactResistance", []float64{nan, inf, -1}, func(c *bus.Connector, v float64) { c.ContactResistance = v }},
	} {
		for _, v := range tc.values {
			c := good
			tc.set(&c, v)
			_, err := c.Loading(1, 2)
			require.Equal(t, []string{tc.path}, paths(err), "%g", v)
			_, err = c.LoopResistance()
			require.Equal(t, []string{tc.path}, paths(err), "%g", v)
		}
	}
	for _, v := range []float64{nan, inf, -1} {
		_, err := good.Loading(v, v)
		require.Contains(t, paths(err), "rms")
		_, err = good.Loading(1, v)
		require.Equal(t, []string{"peak"}, paths(err))
	}
	_, err := good.Loading(3, 2)
	require.Equal(t, []string{"peak"}, paths(err))
	_, err = good.Loading(1e300, 1e300)
	require.Equal(t, []string{"rms"}, paths(err))
	good.Sharing = 5e-324
	_, err = good.Loading(1, 2)
	require.Error(t, err)
	good.Contacts, good.Sharing, good.ContactResistance = 1, 1, 1e308
	_, err = good.LoopResistance()
	require.Equal(t, []string{"contactResistance"}, paths(err))
}
