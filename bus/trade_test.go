package bus_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

// A supply that is good for any one axis in any use is usually good for two, and for four to
// six or more when they are small and seldom move together (common practice, no source). An
// invented family: every axis draws 400 W for 20 ms against friction, so that nothing comes back,
// and rests with 5 W for a time that sets its duty. The supply gives the 400 W for ever down to 60
// V: one axis is safe in any use. How many more there can be is a matter of the mean while they
// are busy, and of the bank, which has to lend 8 J for every further pulse, while they are not.
func TestRuleOfTheTrade(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.06, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 400. / 60},
		Brakes: []bus.BrakeResistor{{Resistance: 5, OnVoltage: 82, OffVoltage: 78}},
	}
	carried := func(rest float64) (most int) {
		axis := bus.Cycle{Power: steps(t, []float64{0, 0.02, 0.02 + rest}, 400, 5), Idle: 5}
		for n := 1; n <= 30; n++ {
			stations := make([]bus.Cycle, n)
			for i := range stations {
				stations[i] = axis
			}
			g, err := b.AnyPhase(context.Background(), stations, nil)
			require.NoError(t, err)
			if !g.Sag.Exists || g.Sag.Voltage < 60 || !g.Rise.Exists || g.Rise.Voltage > 90 {
				break
			}
			most = n
		}
		return most
	}
	busy, usual, seldom := carried(0.025), carried(0.08), carried(2)
	t.Logf("axes on one supply: %d at %.0f %% duty, %d at %.0f %%, %d at %.0f %%", busy, 100*0.02/0.045, usual, 100*0.02/0.1, seldom, 100*0.02/2.02)
	assert.Equal(t, 2, busy, "the mean of three, 541 W, is more than the 480 W that the supply gives at 72 V")
	assert.Equal(t, 5, usual, "and so is that of six, 504 W")
	// The bank has 47.52 J above 60 V, and n pulses at once take 8 n J of which the supply gives
	// from 8 J at 60 V to 9.6 J at 72 V: six take 38.4 J to 40 J of it, seven 46.4 J to 48 J.
	near(t, 47.52, b.Bank.Energy(72)-b.Bank.Energy(60), 1e-9, "energy in hand")
	assert.Contains(t, []int{6, 7}, seldom)
}
