package bus_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

// The book closes to 1e-9 of the throughput, and its entries are those that
// quadrature of the curves gives.
func TestEnergyBook(t *testing.T) {
	random := rand.New(rand.NewPCG(21, 22))
	worst, burned, series := 0.0, 0, 0
	for n := range 200 {
		m := randomMachine(random)
		load := m.stations[0]
		start := bus.State{Voltage: m.bus.Source.NoLoadVoltage() * between(random, 0.9, 1.05)}
		r, err := m.bus.Simulate(context.Background(), load, start)
		require.NoError(t, err)
		e := r.Energies
		require.Positive(t, e.Throughput(), n)
		require.LessOrEqual(t, math.Abs(e.Residual), 1e-9*e.Throughput(), "%d: %+v", n, e)
		worst = math.Max(worst, math.Abs(e.Residual)/e.Throughput())
		near(t, e.Residual, e.Source+e.Returned+e.Released-e.Drawn-e.Resistor-e.Bleeder-e.Series, 1e-12*e.Throughput(), "sum of the entries")

		tol := 1e-9 * e.Throughput()
		var source, resistor, bleeder, drawn, returned float64
		on, events := false, r.Events
		for i := range r.Voltage.Pieces() {
			t0, t1, _ := r.Voltage.Piece(i)
			for len(events) > 0 && events[0].Time <= t0 {
				on = on && events[0].Kind != bus.BrakeOff || events[0].Kind == bus.BrakeOn
				events = events[1:]
			}
			over := func(f func(x float64) float64) float64 {
				return quad.Fixed(f, t0, t1, 20, quad.Legendre{}, 0)
			}
			v := r.Voltage.At
			source += over(func(x float64) float64 { return v(x) * r.SourceCurrent.At(x) })
			if on {
				resistor += over(func(x float64) float64 { return v(x) * v(x) / m.bus.Brakes[0].Resistance })
			}
			if m.bus.Bleeder > 0 {
				bleeder += over(func(x float64) float64 { return v(x) * v(x) / m.bus.Bleeder })
			}
		}
		drawn, returned = r.Load.Positive().Integral(), -r.Load.Negative().Integral()
		near(t, source, e.Source, tol, "source")
		near(t, resistor, e.Resistor, tol, "resistor")
		near(t, bleeder, e.Bleeder, tol, "bleeder")
		near(t, drawn, e.Drawn, tol, "drawn")
		near(t, returned, e.Returned, tol, "returned")
		near(t, m.bus.Bank.Energy(start.Voltage)-m.bus.Bank.Energy(r.End.Voltage), e.Released, tol, "released")
		if m.bus.Bank.SeriesResistance == 0 {
			assert.Zero(t, e.Series)
		} else {
			assert.Positive(t, e.Series)
			series++
		}
		if e.Resistor > 0 {
			burned++
		}
		if t.Failed() {
			t.Fatalf("machine %d: %+v", n, m.bus)
		}
	}
	assert.Greater(t, burned, 10)
	assert.Greater(t, series, 50)
	t.Logf("largest residual %.2g of the throughput", worst)
}

// Energies with a load that changes sign are booked by its sign.
func TestEnergiesByHand(t *testing.T) {
	b := bus.Bus{
		Bank:    bus.Bank{Capacitance: 0.02, SeriesResistance: 0.1, RatedVoltage: 100},
		Source:  bus.SwitchMode{Voltage: 72, CurrentLimit: 10},
		Bleeder: 1000,
	}
	// Charged, the source holds 72 V: 5.184 W into the bleeder, 300 W to the load.
	r := simulate(t, b, steps(t, []float64{0, 2}, 300), 72)
	near(t, 600, r.Energies.Drawn, 1e-9, "drawn")
	near(t, 2*72*72./1000, r.Energies.Bleeder, 1e-9, "bleeder")
	near(t, 600+2*72*72./1000, r.Energies.Source, 1e-9, "source")
	near(t, 0, r.Energies.Series, 1e-12, "series")
	near(t, 0, r.Energies.Released, 1e-9, "released")

	// Charging a bank from 71 V at the held 72 V loses as much in its resistance as
	// half the charge times the difference: Q ΔV/2.
	b.Bleeder = 0
	r = simulate(t, b, steps(t, []float64{0, 1}, 0), 71)
	near(t, 0.02*1*1./2, r.Energies.Series, 1e-10, "series")
	near(t, 0.02*1*72, r.Energies.Source, 1e-10, "source")
	near(t, -0.01*(72*72-71*71), r.Energies.Released, 1e-9, "released")

	load := curve(t, []float64{0, 1}, []float64{-50, 100}) // from -50 W to 50 W
	r = simulate(t, b, load, 72)
	near(t, 12.5, r.Energies.Drawn, 1e-12, "drawn")
	near(t, 12.5, r.Energies.Returned, 1e-12, "returned")
	assert.Equal(t, load, r.Load)
	var empty profile.Curve
	assert.NotEqual(t, empty, r.Voltage)
}
