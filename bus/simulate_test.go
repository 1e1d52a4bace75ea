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

func simulate(t testing.TB, b bus.Bus, load profile.Curve, volts float64) *bus.Result {
	t.Helper()
	r, err := b.Simulate(context.Background(), load, bus.State{Voltage: volts})
	require.NoError(t, err)
	return r
}

func kinds(r *bus.Result) (k []bus.EventKind) {
	for _, e := range r.Events {
		k = append(k, e.Kind)
	}
	return k
}

// A bank alone under constant power P: ½ C V² falls by P t.
func TestBankAlone(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.02, RatedVoltage: 100}, UnderVoltage: 55}
	r := simulate(t, b, steps(t, []float64{3, 4}, 200), 72)
	for k := range 20 {
		s := 0.2 * float64(k) / 20
		near(t, math.Sqrt(72*72-2*200*s/0.02), r.Voltage.At(3+s), 1e-10, "voltage")
	}
	// Under 55 V after (72² - 55²) C/2P, and at 7.2 V, a tenth, after 0.99·72² C/2P.
	require.Equal(t, []bus.EventKind{bus.UnderVoltage, bus.Collapse}, kinds(r))
	near(t, 3+(72*72-55*55)*0.02/400, r.Events[0].Time, 1e-12, "under-voltage")
	near(t, 3+0.99*72*72*0.02/400, r.Events[1].Time, 1e-12, "collapse")
	assert.True(t, r.Collapsed)
	assert.Equal(t, r.Voltage.End(), r.Load.End(), "the load ends where the voltage does")
	near(t, 0.99*0.01*72*72, r.Energies.Drawn, 1e-9, "energy drawn until then")
	near(t, 7.2, r.End.Voltage, 1e-9, "end")
}

// A regulated source holds its set point up to its limit, beyond it gives its
// limit, and recharges the bank along a straight line.
func TestSwitchModeByHand(t *testing.T) {
	b := bus.Bus{
		Bank:   bus.Bank{Capacitance: 0.02, RatedVoltage: 100},
		Source: bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
	}
	load := curve(t, []float64{0, 0.1, 0.3}, []float64{0, 12000}, []float64{0})
	r := simulate(t, b, load, 72)
	// The ramp passes 720 W at 0.06 s.
	require.Equal(t, []bus.EventKind{bus.SourceLimits, bus.SourceConducts}, kinds(r))
	near(t, 0.06, r.Events[0].Time, 1e-13, "limit reached")
	for k := range 10 {
		s := 0.0599 * float64(k) / 9
		near(t, 72, r.Voltage.At(s), 0, "held voltage")
		near(t, 12000*s/72, r.SourceCurrent.At(s), 1e-12, "current while it is held")
	}
	near(t, 10, r.SourceCurrent.At(0.08), 0, "current at the limit")
	// From its lowest point at 0.1 s the bank gains I/C = 500 V/s.
	v := r.Voltage.At(0.1)
	assert.Less(t, v, 71.0)
	near(t, v, r.Lowest.V, 1e-12, "lowest")
	near(t, 0.1, r.Lowest.T, 1e-12, "when it is lowest")
	near(t, 0.1+(72-v)/500, r.Events[1].Time, 1e-12, "recharged")
	near(t, v+500*0.001, r.Voltage.At(0.101), 1e-10, "recharging")
	near(t, 72, r.End.Voltage, 0, "end")

	// Falling onto its set point under more than it can give, the source is at its
	// limit at once: from 80 V after (80² - 72²) C/2P.
	r = simulate(t, b, steps(t, []float64{0, 0.01}, 2000), 80)
	require.Equal(t, []bus.EventKind{bus.SourceLimits}, kinds(r))
	near(t, (80*80-72*72)*0.02/4000, r.Events[0].Time, 1e-13, "set point reached")
}

// Returned power lifts the bank; the brake resistor then works between its
// thresholds, under constant power p returned:
//
//	W(t) = W1 e^(-t/τ) + p τ (1 - e^(-t/τ)),  τ = R C/2
func TestBrakeByHand(t *testing.T) {
	b := bus.Bus{
		Bank:        bus.Bank{Capacitance: 0.02, RatedVoltage: 100},
		Source:      bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
		Brakes:      []bus.BrakeResistor{{Resistance: 8, OnVoltage: 82, OffVoltage: 78}},
		OverVoltage: 80,
	}
	r := simulate(t, b, steps(t, []float64{0, 0.05, 0.1}, -400, 0), 72)
	const c, tau = 0.02, 0.08
	on := (82*82 - 72*72) * c / 2 / 400 // 38.5 ms
	require.Equal(t, []bus.EventKind{bus.OverVoltage, bus.BrakeOn, bus.BrakeOff}, kinds(r))
	near(t, (80*80-72*72)*c/2/400, r.Events[0].Time, 1e-12, "over-voltage")
	near(t, on, r.Events[1].Time, 1e-12, "on")
	w := func(v float64) float64 { return v * v * c / 2 }
	w1 := w(82)*math.Exp(-(0.05-on)/tau) + 400*tau*(1-math.Exp(-(0.05-on)/tau))
	near(t, math.Sqrt(2*w1/c), r.Voltage.At(0.05), 1e-10, "when nothing is returned any more")
	off := 0.05 + tau*math.Log(w1/w(78))
	near(t, off, r.Events[2].Time, 1e-11, "off")
	near(t, 82, r.Highest.V, 1e-12, "highest")
	near(t, 78, r.End.Voltage, 1e-10, "the rest is held by the bank")
	near(t, 20, r.Energies.Returned, 1e-12, "returned")
	near(t, 20-w(78)+w(72), r.Energies.Resistor, 1e-9, "burned")
	assert.False(t, r.End.BrakeOn)

	// The sign of the over-voltage flag: it fires anew when the bus comes again.
	r = simulate(t, b, steps(t, []float64{0, 0.033, 0.08, 0.2, 0.233}, -400, 300, 0, -400), 72)
	over := 0
	for _, e := range r.Events {
		if e.Kind == bus.OverVoltage {
			over++
			near(t, 80, e.Voltage, 1e-12, "over-voltage at")
		}
	}
	assert.Equal(t, 2, over)
}

// With series resistance the bus jumps with the load, to the larger root of
// V² - Vc V + Rs P = 0.
func TestSeriesResistanceByHand(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.02, SeriesResistance: 0.5, RatedVoltage: 100}, UnderVoltage: 67}
	r := simulate(t, b, steps(t, []float64{0, 0.01, 0.02, 0.03}, 0, 720, -720), 72)
	near(t, 72, r.Voltage.At(0.005), 1e-12, "without load")
	near(t, (72+math.Sqrt(72*72-4*0.5*720))/2, r.Voltage.At(0.01), 1e-10, "just after the load jumps")
	require.Equal(t, []bus.EventKind{bus.UnderVoltage}, kinds(r))
	near(t, 0.01, r.Events[0].Time, 0, "under-voltage by the jump")
	near(t, r.Voltage.At(0.01), r.Events[0].Voltage, 1e-12, "to where it jumps")
	x := r.End.Voltage // 720 W more than 0.01 s give what they took, less twice the loss
	assert.Less(t, x, 72.0)
	assert.Greater(t, r.Voltage.At(0.03), x, "charging lifts the bus above the bank")

	// At 2592 W, Vc²/4Rs, the bank can deliver no more.
	r = simulate(t, b, steps(t, []float64{0, 0.01, 0.02}, 100, 2600), 72)
	assert.True(t, r.Collapsed)
	near(t, 0.01, r.Voltage.End(), 0, "collapse at the jump")
	r = simulate(t, b, steps(t, []float64{0, 0.01}, 2600), 72)
	assert.True(t, r.Collapsed, "at once")
	assert.Zero(t, r.Voltage.Pieces())

	// Charging from a regulated source: exponential with τ = Rs C = 10 ms, held
	// at its set point, until nothing flows.
	b.Source = bus.SwitchMode{Voltage: 80, CurrentLimit: 20}
	r = simulate(t, b, steps(t, []float64{0, 1}, 0), 72)
	near(t, 80, r.Lowest.V, 0, "bus held")
	near(t, 16*math.Exp(-0.5), r.SourceCurrent.At(0.005), 1e-9, "charging current")
	near(t, 80, r.End.Voltage, 1e-10, "charged")
	assert.Less(t, r.Steps, 100, "steps become long once it is charged")
}

// The state at the start decides what is on.
func TestStart(t *testing.T) {
	b := bus.Bus{
		Bank:         bus.Bank{Capacitance: 0.02, RatedVoltage: 100},
		Brakes:       []bus.BrakeResistor{{Resistance: 8, OnVoltage: 82, OffVoltage: 78}},
		UnderVoltage: 50, OverVoltage: 90,
	}
	idle := steps(t, []float64{0, 0.01}, 0)
	r := simulate(t, b, idle, 95)
	assert.Equal(t, []bus.EventKind{bus.BrakeOn, bus.OverVoltage}, kinds(r))
	near(t, 95*math.Exp(-0.01/0.16), r.End.Voltage, 1e-10, "discharged through the resistor")
	assert.True(t, r.End.BrakeOn)

	r, err := b.Simulate(context.Background(), idle, bus.State{Voltage: 80, BrakeOn: true})
	require.NoError(t, err)
	near(t, 80*math.Exp(-0.01/0.16), r.Lowest.V, 80, "on between the thresholds")
	assert.Equal(t, []bus.EventKind{bus.BrakeOff}, kinds(r))
	near(t, 0.16*math.Log(80./78), r.Events[0].Time, 1e-12, "off")

	r, err = b.Simulate(context.Background(), idle, bus.State{Voltage: 78, BrakeOn: true})
	require.NoError(t, err)
	assert.Equal(t, []bus.EventKind{bus.BrakeOff}, kinds(r))
	near(t, 0, r.Events[0].Time, 0, "off at the start")

	b.Brakes = nil
	r, err = b.Simulate(context.Background(), idle, bus.State{Voltage: 40, BrakeOn: true})
	require.NoError(t, err)
	assert.Equal(t, []bus.EventKind{bus.UnderVoltage}, kinds(r))
	assert.False(t, r.End.BrakeOn, "there is no resistor to be on")
}

// A load of degree 40, beyond what the series hold, is followed all the same.
func TestHighDegree(t *testing.T) {
	c := make([]float64, 41)
	c[40] = 1000 * math.Pow(2, 40) // 1000 W (2 t)^40
	load := curve(t, []float64{0, 0.5}, c)
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.02, RatedVoltage: 100}}
	r := simulate(t, b, load, 72)
	near(t, math.Sqrt(72*72-2*500./41/0.02), r.End.Voltage, 1e-9, "after 500/41 J")
	near(t, 0, r.Energies.Residual, 1e-9, "residual")
}

func TestEventNames(t *testing.T) {
	seen := map[string]bool{}
	for k := bus.SourceBlocks; k <= bus.LoadsOn; k++ {
		assert.NotEqual(t, "unknown event", k.String())
		assert.False(t, seen[k.String()])
		seen[k.String()] = true
	}
	assert.Equal(t, "unknown event", bus.EventKind(-1).String())
	assert.Equal(t, "unknown event", (bus.LoadsOn + 1).String())
}
