package bus_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

// TestDischargeRules: IEC 60204-1, 6.2.4 (LOOKED UP-2) on 1 mF at 566 V: R <= t/(C ln(V0/60)) =
// 2227.9 ohm (own value), and its price at 540 V, 130.9 W. 60 µC at 60 V are 1 µF.
func TestDischargeRules(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, RatedVoltage: 800}}
	d, err := b.Discharge(bus.MachineDischarge, bus.Standby{}, 566, 540)
	require.NoError(t, err)
	near(t, 2227.9, d.MostBleeder, 0.05, "highest resistance")
	near(t, 130.885, d.MostBleederPower, 1e-3, "price")
	require.Zero(t, d.BleederPower)
	require.True(t, d.Endless)
	require.False(t, d.Within)
	near(t, 0.566, d.Charge, 1e-12, "charge")
	near(t, 160.178, d.Energy, 1e-9, "energy")

	b.Bleeder = d.MostBleeder
	d, err = b.Discharge(bus.MachineDischarge, bus.Standby{}, 566, 540)
	require.NoError(t, err)
	near(t, 5, d.Time, 1e-9, "time")
	b.Bleeder = 2200
	d, err = b.Discharge(bus.MachineDischarge, bus.Standby{}, 566, 540)
	require.NoError(t, err)
	require.True(t, d.Within)
	near(t, 540*540/2200., d.BleederPower, 1e-9, "price of what there is")
	// The highest capacitance counts.
	b.Bank.ToleranceHigh = 0.2
	d, err = b.Discharge(bus.MachineDischarge, bus.Standby{}, 566, 540)
	require.NoError(t, err)
	require.False(t, d.Within)
	near(t, 2227.9/1.2, d.MostBleeder, 0.05, "highest resistance at 1.2 mF")

	for c, exempt := range map[float64]bool{0.999e-6: true, 1.001e-6: false} {
		b := bus.Bus{Bank: bus.Bank{Capacitance: c, RatedVoltage: 800}}
		d, err := b.Discharge(bus.MachineDischarge, bus.Standby{}, 60, 48)
		require.NoError(t, err)
		require.Equal(t, exempt, d.Exempt, "%g F at 60 V", c)
		require.True(t, d.Within) // it is at 60 V already
		require.Zero(t, d.MostBleeder)
	}
	d, err = bus.Bus{Bank: bus.Bank{Capacitance: 0.5e-6, RatedVoltage: 800}}.Discharge(bus.MachineDischarge, bus.Standby{}, 80, 60)
	require.NoError(t, err)
	require.True(t, d.Exempt && d.Within && d.Endless) // 40 µC
	// IEC 61800-5-1 (FROM MEMORY, unconfirmed) exempts 50 µC: 0.7 µF at 80 V are 56 µC, between
	// the two standards.
	between := bus.Bus{Bank: bus.Bank{Capacitance: 0.7e-6, RatedVoltage: 800}}
	for rule, exempt := range map[bus.DischargeRule]bool{bus.MachineDischarge: true, bus.DriveDischarge: false} {
		d, err := between.Discharge(rule, bus.Standby{}, 80, 60)
		require.NoError(t, err)
		require.Equal(t, exempt, d.Exempt)
		require.Equal(t, exempt, d.Within) // nothing discharges it
		near(t, 5/(0.7e-6*math.Log(80./60)), d.MostBleeder, 1e-3, "5 s to 60 V")
	}
	// NEC 460.6: 50 V within one minute.
	d, err = bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, RatedVoltage: 800}}.Discharge(bus.CapacitorDischarge, bus.Standby{}, 566, 540)
	require.NoError(t, err)
	near(t, 60/(1e-3*math.Log(566./50)), d.MostBleeder, 1e-6, "for 50 V in a minute")
}

// TestDischargeWithStandby: against the simulation of the same bus, and by hand without
// a bleeder: 1 mF from 566 to 60 V at 30 W, 158.378 J, takes 5.279 s.
func TestDischargeWithStandby(t *testing.T) {
	b := bus.Bus{Bank: bus.Bank{Capacitance: 1e-3, RatedVoltage: 800}}
	d, err := b.Discharge(bus.MachineDischarge, bus.Standby{Power: 30}, 566, 540)
	require.NoError(t, err)
	near(t, 158.378/30, d.WithStandby, 1e-9, "standby alone")
	require.False(t, d.Within) // the rule does not count on it
	d, err = b.Discharge(bus.MachineDischarge, bus.Standby{Power: 30, Voltage: 100}, 566, 540)
	require.NoError(t, err)
	require.Zero(t, d.WithStandby)

	b.Bleeder = 5000
	d, err = b.Discharge(bus.MachineDischarge, bus.Standby{Power: 30}, 566, 540)
	require.NoError(t, err)
	at := simulate(t, b, steps(t, []float64{0, 10}, 30), 566).Voltage.Crossings(nil, 60)
	require.NotEmpty(t, at)
	near(t, at[0], d.WithStandby, 1e-9, "with bleeder, simulated")
	require.Less(t, d.WithStandby, d.Time)

	d, err = b.Discharge(bus.MachineDischarge, bus.Standby{Power: 30, Voltage: 200}, 566, 540)
	require.NoError(t, err)
	at = simulate(t, b, steps(t, []float64{0, 10}, 30), 566).Voltage.Crossings(nil, 200)
	near(t, at[0]+5*math.Log(200./60), d.WithStandby, 1e-9, "standby down to 200 V")
	d, err = b.Discharge(bus.MachineDischarge, bus.Standby{}, 566, 540)
	require.NoError(t, err)
	near(t, d.Time, d.WithStandby, 1e-12, "no standby")
}

func TestDischargeRefuses(t *testing.T) {
	_, err := bus.Bus{}.Discharge(bus.DischargeRule{Charge: -1}, bus.Standby{Power: -1, Voltage: math.NaN()}, 0, math.Inf(1))
	require.Equal(t, []string{"bus.bank.capacitance", "bus.bank.ratedVoltage", "rule.voltage", "rule.time", "rule.charge",
		"standby.power", "standby.voltage", "from", "running"}, paths(err))
	_, err = bus.Bus{Bank: bus.Bank{Capacitance: 1e300, RatedVoltage: 1}}.Discharge(bus.MachineDischarge, bus.Standby{}, 1e300, 1)
	require.Equal(t, []string{"from"}, paths(err))
}
