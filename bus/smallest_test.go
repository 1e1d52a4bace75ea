package bus_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// Bursts too short for the source to matter: with E in all, C is 2 E/(V0² - V²).
func TestBankForSag(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, RatedVoltage: 200},
		Source: bus.SwitchMode{Voltage: 100, CurrentLimit: 40},
	}
	stations := []profile.Curve{burst(t, 30, 0, 1), burst(t, 40, 0, math.Sqrt2), burst(t, 50, 0, math.Pi)}
	want := 2 * 120. / (100*100 - 80*80)
	for _, present := range []float64{0.02, want, 10} {
		b.Bank.Capacitance = present
		c, enough, err := b.BankForSag(context.Background(), bus.StrictlyPeriodic(stations), nil, 80)
		require.NoError(t, err)
		require.True(t, enough)
		near(t, want, c, 0.01*want, "capacitance")
		b.Bank.Capacitance = c
		assert.GreaterOrEqual(t, anyPhase(t, b, stations...).Sag.Voltage, 80.0)
		b.Bank.Capacitance = 0.98 * c
		assert.Less(t, anyPhase(t, b, stations...).Sag.Voltage, 80.0)
	}
	// A bank that may be 20 % low is nominally larger.
	b.Bank.ToleranceLow = 0.2
	c, enough, err := b.BankForSag(context.Background(), bus.StrictlyPeriodic(stations), nil, 80)
	require.NoError(t, err)
	assert.True(t, enough)
	near(t, want/0.8, c, 0.01*want/0.8, "nominal capacitance")

	// Above the no-load voltage, and with more drawn than the source has, none is.
	_, enough, err = b.BankForSag(context.Background(), bus.StrictlyPeriodic(stations), nil, 101)
	require.NoError(t, err)
	assert.False(t, enough)
	_, enough, err = b.BankForSag(context.Background(), bus.StrictlyPeriodic([]profile.Curve{steps(t, []float64{0, 1}, 5000)}), nil, 80)
	require.NoError(t, err)
	assert.False(t, enough)
}

func TestBankForRise(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, RatedVoltage: 200},
		Source: bus.SwitchMode{Voltage: 100, CurrentLimit: 40},
	}
	// 60 J come back in a millisecond, and are drawn again in a second.
	stations := []profile.Curve{steps(t, []float64{0, 0.001, 1}, -60e3, 60/0.999), steps(t, []float64{0, 0.001, 1.3}, -60e3, 60/1.299)}
	want := 2 * 120. / (120*120 - 100*100)
	c, enough, err := b.BankForRise(context.Background(), bus.StrictlyPeriodic(stations), nil, 120)
	require.NoError(t, err)
	require.True(t, enough)
	near(t, want, c, 0.01*want, "capacitance")
	// More than is drawn: no bank is enough.
	_, enough, err = b.BankForRise(context.Background(), bus.StrictlyPeriodic([]profile.Curve{steps(t, []float64{0, 1}, -10)}), nil, 120)
	require.NoError(t, err)
	assert.False(t, enough)
}

func TestSmallestBankInput(t *testing.T) {
	b := goodBus()
	good := []profile.Curve{steps(t, []float64{0, 1}, 10)}
	for _, v := range []float64{nan, inf, 0, -1} {
		_, _, err := b.BankForSag(context.Background(), bus.StrictlyPeriodic(good), nil, v)
		assert.Len(t, profile.InputErrors(err), 1, "%g", v)
		_, _, err = b.BankForRise(context.Background(), bus.StrictlyPeriodic(good), nil, v)
		assert.Len(t, profile.InputErrors(err), 1, "%g", v)
	}
	_, _, err := b.BankForSag(context.Background(), nil, nil, 60)
	assert.Equal(t, []string{"stations"}, paths(err))
	b.Bank.Capacitance = 0
	_, _, err = b.BankForRise(context.Background(), bus.StrictlyPeriodic(good), nil, 90)
	assert.Equal(t, []string{"bus.bank.capacitance"}, paths(err))
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, _, err = goodBus().BankForSag(ctx, bus.StrictlyPeriodic(good), nil, 60)
	assert.ErrorIs(t, err, context.Canceled)
}

// Where stations return most at another corner than that at which they draw
// most, rise follows from the one and sag from the other.
func TestReturningCorner(t *testing.T) {
	b := goodBus()
	b.Bank.SeriesResistance = 0
	hot, cold := steps(t, []float64{0, 0.1, 0.2, 1}, 400, -100, 10), steps(t, []float64{0, 0.1, 0.2, 1}, 380, -2000, 10)
	want := anyPhase(t, b, hot, hot)
	back := anyPhase(t, b, cold, cold)
	g, err := b.AnyPhase(context.Background(), bus.StrictlyPeriodic([]profile.Curve{hot, hot}), bus.StrictlyPeriodic([]profile.Curve{cold, cold}))
	require.NoError(t, err)
	assert.Equal(t, want.Sag.Voltage, g.Sag.Voltage)
	assert.Equal(t, back.Rise.Voltage, g.Rise.Voltage)
	assert.NotEqual(t, want.Rise.Voltage, g.Rise.Voltage)
	assert.Equal(t, want.PeakDemand, g.PeakDemand)
	assert.Equal(t, back.MeanReturnedPower, g.MeanReturnedPower)
	assert.Equal(t, back.ReturnedBurst, g.ReturnedBurst)

	// Across the bank's series resistance the bus is below the bank by what the axes
	// draw then, hot: the resistor is on only from a bank that is so much higher.
	b = bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, SeriesResistance: 0.2, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
		Brakes: []bus.BrakeResistor{{Resistance: 20, OnVoltage: 80, OffVoltage: 76}},
	}
	hot, cold = steps(t, []float64{0, 0.1, 0.2, 1}, 400, -500, 80), steps(t, []float64{0, 0.1, 0.2, 1}, 80, -500, 80)
	back = anyPhase(t, b, cold, cold)
	g, err = b.AnyPhase(context.Background(), bus.StrictlyPeriodic([]profile.Curve{hot, hot}), bus.StrictlyPeriodic([]profile.Curve{cold, cold}))
	require.NoError(t, err)
	// The bus is at 80 V from a bank that is higher by the drop of what is drawn there,
	// 1.6 V more than cold, or from a lower one for the bulk of it.
	assert.Greater(t, g.Rise.From, back.Rise.From+0.5)
	assert.LessOrEqual(t, g.Rise.From, back.Rise.From+0.2*2*(400-80)/80+1e-9)
	assert.Greater(t, g.Rise.Voltage, back.Rise.Voltage+0.1)

	_, err = b.AnyPhase(context.Background(), bus.StrictlyPeriodic([]profile.Curve{hot, hot}), bus.StrictlyPeriodic([]profile.Curve{cold}))
	assert.Equal(t, []string{"returning"}, paths(err))
	_, err = b.AnyPhase(context.Background(), bus.StrictlyPeriodic([]profile.Curve{hot, hot}), bus.StrictlyPeriodic([]profile.Curve{cold, {}}))
	assert.Equal(t, []string{"returning[1]"}, paths(err))
}
