package sizing_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/bus/sizing"
	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

const (
	motorsKey = `"motors":`
	upright   = `"load": { "mass": "10 kg", "incline": "90 deg" }`
	// 20 N·m on a pulley of 0.1 m are 200 N.
	timedBrake = `, "holdingBrake": { "torque": "20 N m", "delay": "50 ms", "energyPerStop": "20 J", "totalEnergy": "10 kJ", "drop": "150 mm" }`
)

// stopped returns the machine worked out by hand with a category of stop.
func stopped(t testing.TB, category string, pairs ...string) string {
	return replaced(t, append([]string{motorsKey, `"stops": { "category": ` + category + ` }, "motors":`}, pairs...)...)
}

// hotResistance is that of the winding of the machine worked out by hand, 1 ohm at 20 °C.
func hotResistance(a *sizing.Assessment) float64 {
	return (234.5 + a.Stations[0].Axes[0].Winding.Temperature) / 254.5
}

// 10 kg on a pulley of 0.1 m stop from 1 m/s with 4 m/s²: 0.25 s and 0.125 m, 4 N·m at 10
// rad/s per m/s. On the bus, with 5 W of standby and the copper of 4² A² R,
//
//	P = 16 R + 5 - 40 v,   v = 1 - 4 t
//
// With R = 1 ohm, cold, it returns until v = 21/40: ∫ (40 v - 21) dv/4 from 0.525 to 1 =
// (20 (1 - 0.275625) - 21·0.475)/4 = 1.128125 J, at most 19 W. A stop that begins at P = 0
// draws c²/(2·40·4) J, c = 16 R + 5, with hot copper.
func TestControlledStopByHand(t *testing.T) {
	a := assess(t, stopped(t, "1", linear, linear+`, "stopDecel": "4 m/s^2"`))
	r := a.Bus.Stops
	x := r.Axes[0]
	require.InDelta(t, 0.25, x.Duration, 1e-12)
	require.InDelta(t, 0.125, x.Distance, 1e-12)
	require.InDelta(t, 1.128125, x.Returned.Value, 1e-12)
	c := 16*hotResistance(a) + 5
	require.InDelta(t, c*c/320, x.Drawn.Value, 1e-9)
	require.InDelta(t, 19, figureOf(t, a, "stops", "", "peak power returned").Value, 1e-9)

	// √(V0² + 2 E/C) from the highest voltage of normal running, 10 mF.
	high := a.Bus.Highest
	require.InDelta(t, math.Sqrt(high*high+2*1.128125/0.01), find(t, a, "stops", "", "bus at a stop, no supply / over-voltage trip").Value, 1e-9)
	require.InDelta(t, math.Sqrt(high*high+2*1.128125/0.01), find(t, a, "stops", "", "bus at a stop, supplied / bank rating").Value, 1e-9)
	require.Greater(t, high, 100.)

	// √(V0² - 2/C (E + T (standby + bleeder))), the bleeder at the highest that the stop may
	// reach, 1 kohm.
	low := a.Bus.Lowest
	bleeder := (low*low + 2*1.128125/0.01) / 1000
	sag := find(t, a, "stops", "", "bus at a stop, mains gone")
	require.InDelta(t, math.Sqrt(low*low-200*(c*c/320+0.25*(5+bleeder))), sag.Value, 1e-9)
	require.Equal(t, 80., sag.Limit)

	// The same stop with a limit in the document that it does not keep, and its cure.
	tight := assess(t, stopped(t, "1", linear, linear+`, "stopDecel": "4 m/s^2"`, `"80 V"`, `"99.9 V"`, `"120 V"`, `"100.7 V"`))
	require.False(t, tight.Fits)
	for name, cure := range map[string]string{"bus at a stop, no supply / over": "a bank of", "bus at a stop, mains gone": "a bank of"} {
		c := find(t, tight, "stops", "", name)
		require.False(t, c.OK, name)
		require.Contains(t, c.Cure, cure)
	}
}

// The bank that the cure names is just enough for the rise.
func TestStopBankCure(t *testing.T) {
	doc := stopped(t, "1", linear, linear+`, "stopDecel": "4 m/s^2"`, `"10 mF"`, `"1 mF"`, `"120 V"`, `"110 V"`)
	a := assess(t, doc)
	c := find(t, a, "stops", "", "bus at a stop, no supply / over")
	require.False(t, c.OK)
	high := a.Bus.Highest
	need := 2 * 1.128125 / (110*110 - high*high)
	require.Contains(t, c.Cure, fmt.Sprintf("a bank of %.2f mF or more", 1e3*need))
	m := parse(t, doc)
	m.Bank.Capacitance = need // the bus starts no higher from a larger bank
	b, err := sizing.Assess(context.Background(), m)
	require.NoError(t, err)
	require.True(t, find(t, b, "stops", "", "bus at a stop, no supply / over").OK)
}

// Without a stopDecel the axis stops with its limits' 2 m/s²: 0.5 s, 0.25 m. With a jerk of 40
// m/s³ the worst stop with 4 m/s² begins where the acceleration of 2 m/s² ends at 1 m/s: 0.05 s
// and 0.05 + 0.0025 - 20·0.05³/3 m until it has gone, at 1.05 m/s; then 1.05/4 + 4/40 s, at
// half the speed in the mean.
func TestStopRamps(t *testing.T) {
	a := assess(t, stopped(t, "2"))
	x := a.Bus.Stops.Axes[0]
	require.InDelta(t, 0.5, x.Duration, 1e-12)
	require.InDelta(t, 0.25, x.Distance, 1e-12)
	require.Contains(t, strings.Join(section(t, a, "stops").Notes, "\n"), "deceleration of their limits: a.")
	require.InDelta(t, 5, figureOf(t, a, "stops", "", "power at rest").Value, 1e-12)

	x = assess(t, stopped(t, "1", linear, linear+`, "stopDecel": "4 m/s^2", "stopJerk": "40 m/s^3"`)).Bus.Stops.Axes[0]
	last := 1.05/4 + 4./40
	require.InDelta(t, 0.05+last, x.Duration, 1e-6)
	require.InDelta(t, 0.05+0.0025-20*math.Pow(0.05, 3)/3+1.05/2*last, x.Distance, 1e-6)

	// 10 kg held by 9.80665 N·m take that squared times R, and the standby.
	a = assess(t, stopped(t, "2", massLoad, upright))
	require.InDelta(t, g*g*hotResistance(a)+5, figureOf(t, a, "stops", "", "power at rest").Value, 1e-9)
}

func section(t testing.TB, a *sizing.Assessment, key string) sizing.Section {
	t.Helper()
	for _, s := range a.Sections {
		if s.Key == key {
			return s
		}
	}
	t.Fatal("no section " + key)
	return sizing.Section{}
}

// 10 kg that fall freely, the rotor without inertia, from 1 m/s downwards: after 0.05 s they are
// at v = 1 + 0.05 g, 0.05 + g 0.05²/2 m farther down; 200 N then brake with 20 - g m/s²:
// v²/2/(20 - g) m more, each taking 200 J per metre. From rest v = 0.05 g.
func TestFallByHand(t *testing.T) {
	fall := func(v0 float64) (way, speed, heat, time float64) {
		v := v0 + 0.05*g
		way = v * v / 2 / (20 - g)
		return 0.05*v0 + g*0.05*0.05/2 + way, v, 200 * way, 0.05 + v/(20-g)
	}
	way, speed, heat, time := fall(1)
	for _, brake := range []string{timedBrake, strings.Replace(timedBrake, `"20 N m"`, `"200 N", "at": "load"`, 1), strings.Replace(timedBrake, `"20 N m"`, `"20 N m", "at": "mechanism"`, 1)} {
		a := assess(t, stopped(t, `1, "stopsPerYear": 1000, "brakeYears": 5`, massLoad, upright, linear, linear+brake))
		c := a.Bus.Stops.Axes[0].Moving
		require.InDelta(t, way, c.Way.Value, 1e-9)
		require.InDelta(t, speed, c.Speed.Value, 1e-9)
		require.InDelta(t, heat, c.Heat.Value, 1e-7)
		require.InDelta(t, time, c.Duration.Value, 1e-9)
		require.Zero(t, c.BackEMF.Excess) // 15 V on a bus of 100 V
		require.InDelta(t, 10*speed, c.BackEMF.Voltage, 1e-8)

		require.False(t, find(t, a, "stops", "a", "way without power").OK)      // 0.171 m of 0.15 m
		require.False(t, find(t, a, "stops", "a", "brake work of one stop").OK) // 21.8 J of 20 J

		// In category 1 the axis rests when power goes: 2.36 J, 10 kJ last 4240 stops.
		way, speed, heat, _ := fall(0)
		require.InDelta(t, way, figureOf(t, a, "stops", "a", "way from rest").Value, 1e-9)
		require.InDelta(t, speed, a.Bus.Stops.Axes[0].Resting.Speed.Value, 1e-9)
		life := find(t, a, "stops", "a", "brake years")
		require.InDelta(t, 10e3/heat/1000, life.Value, 1e-6)
		require.False(t, life.OK)
		require.False(t, a.Fits)
	}
	// In category 0 every stop takes what a loss of power takes, without a limit a figure.
	a := assess(t, stopped(t, `0, "stopsPerYear": 1000`, massLoad, upright, linear, linear+timedBrake))
	require.InDelta(t, 10e3/heat/1000, figureOf(t, a, "stops", "a", "brake years").Value, 1e-7)
	// What the brake has to hold on the load: 98.07 N.
	a = assess(t, stopped(t, "1", massLoad, upright, linear, linear+strings.Replace(timedBrake, `"20 N m"`, `"98 N", "at": "load"`, 1)))
	c := find(t, a, "motors", "a", "holding brake")
	require.InDelta(t, 10*g, c.Limit, 1e-9)
	require.False(t, c.OK)
	// It does not stop the load, and says so.
	c = find(t, a, "stops", "a", "coast time")
	require.True(t, math.IsInf(c.Value, 1))
	require.False(t, c.OK || c.Caution)
	require.Equal(t, "its brake does not stop it", c.Reason)
	// Behind a gear of 5 a brake on its output has to hold five times as much.
	a = assess(t, stopped(t, "1", massLoad, upright, linear, linear+`, "stages": [ { "ratio": 5, "efficiency": 1 } ]`+strings.Replace(timedBrake, `"delay"`, `"at": "mechanism", "delay"`, 1)))
	require.InDelta(t, g, find(t, a, "motors", "a", "holding brake").Limit, 1e-9)
	require.InDelta(t, way, a.Bus.Stops.Axes[0].Moving.Way.Value, 1e-9)
}

// A brake of which only the torque is known holds, but nobody knows how far the load falls.
// Without any brake it falls, which is a caution.
func TestFallNotKnown(t *testing.T) {
	a := assess(t, stopped(t, "1", massLoad, upright, linear, linear+`, "holdingBrake": "20 N m"`))
	require.Nil(t, a.Bus.Stops.Axes[0].Moving)
	require.Contains(t, strings.Join(a.Unchecked, "\n"), "fall without power (delay of the holding brake not given): a")
	a = assess(t, stopped(t, "1", massLoad, upright))
	c := find(t, a, "stops", "a", "coast time")
	require.True(t, !c.OK && c.Caution)
	// A screw that locks is not examined moving, and the report says why.
	a = assess(t, stopped(t, "0", massLoad, upright, beltKind, `"mechanism": { "kind": "screw", "lead": "10 mm/rev", "efficiency": 0.3 }`))
	require.Contains(t, strings.Join(section(t, a, "stops").Notes, "\n"), "a without power is not examined")
	a = assess(t, simple)
	require.Nil(t, a.Bus.Stops)
	require.Contains(t, strings.Join(a.Unchecked, "\n"), "stops not given")
}

// Category 0: 10 kg coast from 1 m/s against 5 N: 2 s and 1 m. Its motor, 12 V s/rad, has 120 V
// at 10 rad/s, 20 V more than the bus of 100 V, and feeds it above 100/12 rad/s, which is 0.8333
// m/s: at most 5 (1 - 0.8333²) J, which raise 10 mF from V0 to √(V0² + 200·1.52778).
func TestCoastingFeedsTheBus(t *testing.T) {
	a := assess(t, stopped(t, "0", massLoad, `"load": { "mass": "10 kg", "coulomb": "5 N" }`, `"1 N m/A"`, `"12 N m/A"`))
	require.InDelta(t, 100, a.Bus.Lowest, 1e-9)
	require.InDelta(t, 2, figureOf(t, a, "stops", "a", "coast time").Value, 1e-8)
	require.InDelta(t, 1, figureOf(t, a, "stops", "a", "coast way").Value, 1e-8)
	require.InDelta(t, 100./12, figureOf(t, a, "stops", "", "feeds the bus from").Value, 1e-9)
	require.InDelta(t, 20, figureOf(t, a, "stops", "", "back-EMF over the bus").Value, 1e-9)
	e := 5 * (1 - 1/1.44)
	require.InDelta(t, e, figureOf(t, a, "stops", "", "energy fed back").Value, 1e-9)
	high := a.Bus.Highest
	require.InDelta(t, math.Sqrt(high*high+200*e), find(t, a, "stops", "", "bus while axes coast").Value, 1e-9)
	for _, c := range section(t, a, "stops").Checks {
		require.NotContains(t, c.Name, "at a stop", "the drives are off")
	}
}

// From 100 V down to 98 V 10 mF hold 1.98 J. The highest draw is the end of the acceleration:
// P = 5 + 4 R + 40 t, t up to 0.5 s, so that the last L of it takes (25 + 4 R) L - 20 L².
func TestHoldUpByHand(t *testing.T) {
	a := assess(t, stopped(t, `1, "mainsDip": "70 ms", "supplyHoldUp": "10 ms"`, `"bleeder": "1 kohm", "dischargeWarning": "11 s",`, "", `"80 V"`, `"98 V"`))
	p := 25 + 4*hotResistance(a)
	c := find(t, a, "stops", "", "hold-up without mains")
	require.InDelta(t, 0.01+(p-math.Sqrt(p*p-80*1.98))/40, c.Value, 1e-6)
	require.Equal(t, 0.07, c.Limit)
	require.Equal(t, c.Value >= 0.07, c.OK)
	require.True(t, find(t, assess(t, stopped(t, `0, "mainsDip": "20 ms"`)), "stops", "", "hold-up").OK)
	require.NotZero(t, figureOf(t, assess(t, stopped(t, "0")), "stops", "", "hold-up without mains").Value)
}

// Where a bank of 0.1 mF with 20 mohm alone would rise to √(V0² + 2·1.128/0.0001) V, a resistor
// that takes 115²/10 = 1322 W stops it at 115 V, but for 20 mohm times 19 W/115 V. The pulse is
// up to 19 W over 0.25 s with the supply on; the bank, at 101 V in normal running, adds nothing.
func TestResistorStopsTheRise(t *testing.T) {
	doc := func(series string) string {
		return stopped(t, "1", linear, linear+`, "stopDecel": "4 m/s^2"`, `"10 mF",`, `"0.1 mF", "seriesResistance": "`+series+`",`, `"bleeder": "1 kohm",`,
			`"bleeder": "1 kohm", "brakeResistor": { "resistance": "10 ohm", "onVoltage": "115 V", "offVoltage": "111 V", "continuous": "60 W", "pulse": "400 J" },`)
	}
	a := assess(t, doc("20 mohm"))
	from := math.Max(115, a.Bus.Highest)
	require.InDelta(t, 115, from, 0.1)
	want := (from + math.Sqrt(from*from+4*0.02*19)) / 2
	require.InDelta(t, want, find(t, a, "stops", "", "bus at a stop, no supply / over").Value, 1e-9)
	pulse := find(t, a, "stops", "", "energy of one stop").Value
	require.InDelta(t, 19*0.25, pulse, 1e-9)

	// A course of the real bus does not pass it, and comes near.
	load, err := profile.NewCurve([]float64{0, 0.11875}, [][]float64{{-19, 160}})
	require.NoError(t, err)
	b := bus.Bus{Bank: bus.Bank{Capacitance: 0.1e-3, SeriesResistance: 0.02, RatedVoltage: 150}, Brakes: []bus.BrakeResistor{{Resistance: 10, OnVoltage: 115, OffVoltage: 111}}}
	res, err := b.Simulate(context.Background(), load, bus.State{Voltage: 114})
	require.NoError(t, err)
	require.LessOrEqual(t, res.Highest.V, want)
	require.Greater(t, res.Highest.V, 114.9)
	// Two resistors that together pull the bus of such a bank below their off threshold, 110 V
	// where 115/(1 + 0.4·2/10) = 106.5 V, leave no such bound.
	const one = `{ "resistance": "10 ohm", "onVoltage": "115 V", "offVoltage": "110 V", "continuous": "60 W", "pulse": "400 J" }`
	two := strings.Replace(doc("400 mohm"), `"brakeResistor": { "resistance": "10 ohm", "onVoltage": "115 V", "offVoltage": "111 V", "continuous": "60 W", "pulse": "400 J" }`, `"brakeResistors": [ `+one+`, `+one+` ]`, 1)
	require.Greater(t, find(t, assess(t, two), "stops", "", "bus at a stop, no supply / over").Value, 150.)
}

// The resistor of the demonstration machine: 28.1 mF and 20 % from the highest voltage at any
// drive down to 77 V less 1 % less what 12 mohm drop at the peak power, and that power over the
// longest stop, 0.12 s.
func TestResistorPulseOfAStop(t *testing.T) {
	a := assess(t, plainDemo(t))
	high := a.Bus.Highest
	for _, e := range a.Bus.AtDrives {
		high = math.Max(high, e.Highest)
	}
	peak := figureOf(t, a, "stops", "", "peak power returned").Value
	off := 0.99*77 - 0.012*peak/(0.99*77)
	require.InDelta(t, 0.01686*(high*high-off*off)+0.12*peak, find(t, a, "stops", "", "energy of one stop").Value, 1e-9)
}

// What a cable drops at the highest power drawn and the under-voltage limit comes off the
// bus: 16 R + 5 W over 80 V.
func TestStopBehindCables(t *testing.T) {
	const cable = `, "stopDecel": "4 m/s^2", "cable": { "section": "2.5 mm^2", "length": "40 m", "temperature": "50 degC" }`
	a := assess(t, stopped(t, "1", linear, linear+cable))
	ohm := figureOf(t, a, "cables", "a", "resistance").Value
	require.InDelta(t, ohm*(16*hotResistance(a)+5)/80, a.Bus.Stops.Sag.Drop, 1e-9)
	// Upwards 19 W over the voltage of the bus come on top.
	high := math.Max(a.Bus.Highest, a.Bus.AtDrives["a"].Highest)
	rise := math.Sqrt(high*high + 200*1.128125)
	require.InDelta(t, rise+ohm*19/rise, find(t, a, "stops", "", "bus at a stop, no supply / over").Value, 1e-9)
	// For the hold-up the drop of the highest power, 25 + 4 R, is kept in hand, as if the limit
	// were higher by it.
	drop := ohm * (25 + 4*hotResistance(a)) / 80
	higher := parse(t, stopped(t, "1"))
	higher.UnderVoltage += drop
	limit, err := sizing.Assess(context.Background(), higher)
	require.NoError(t, err)
	held := a.Bus.Stops.HoldUp.Time
	require.InDelta(t, limit.Bus.Stops.HoldUp.Time, held, 1e-5*held)
	require.Greater(t, assess(t, stopped(t, "1")).Bus.Stops.HoldUp.Time, held*1.001)

	// A chain: the first cable carries both.
	two := stopped(t, "1", linear, linear+cable, `"axes": ["a"]`, `"axes": ["a", "b"]`)
	two = strings.Replace(two, `"axes": [ {`, `"axes": [ { "name": "b", "load": { "mass": "10 kg" }, `+beltKind+`, "motor": "m", "drive": "d", `+linear+
		`, "cable": { "from": "a", "section": "2.5 mm^2", "length": "40 m", "temperature": "50 degC" } }, {`, 1)
	b := assess(t, two)
	drawn := 16*hotResistance(a) + 5
	require.InDelta(t, (ohm*(drawn+5)+ohm*5)/80, b.Bus.Stops.Sag.Drop, 1e-9) // b rests
}

// A bank for the loss of the mains: 2 (E + T P)/(V0² - limit²), P without bleeder and losses.
func TestStopSagCure(t *testing.T) {
	a := assess(t, stopped(t, "1", linear, linear+`, "stopDecel": "4 m/s^2"`, `"10 mF"`, `"1 mF"`, `"80 V"`, `"95 V"`))
	x := find(t, a, "stops", "", "bus at a stop, mains gone")
	require.False(t, x.OK)
	c, low := 16*hotResistance(a)+5, a.Bus.Lowest
	require.Contains(t, x.Cure, fmt.Sprintf("a bank of %.2f mF", 2e3*(c*c/320+0.25*5)/(low*low-95*95)))
}

// With the supply there a stop counts from its last delivery: one that begins while the axis
// still speeds up draws first, and then returns from more than 1 m/s.
func TestSuppliedStop(t *testing.T) {
	a := assess(t, stopped(t, "1", linear, linear+`, "stopDecel": "4 m/s^2", "stopJerk": "40 m/s^3"`))
	off, on := find(t, a, "stops", "", "bus at a stop, no supply / over").Value, find(t, a, "stops", "", "bus at a stop, supplied / over").Value
	s := a.Bus.Stops.Stations[0]
	require.Greater(t, s.ReturnedWithin, s.Returned*1.01)
	high := a.Bus.Highest
	require.InDelta(t, math.Sqrt(high*high+200*s.Returned), off, 1e-9)
	require.InDelta(t, math.Sqrt(high*high+200*s.ReturnedWithin), on, 1e-9)
}

// A force of the step pulls as well: 30 N on 10 kg for 0.05 s, then 200 N of the brake.
func TestStepForceWithoutPower(t *testing.T) {
	a := assess(t, stopped(t, "1", linear, linear+timedBrake, `{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "force": { "a": [ ["0 s", "0 N"], ["0.25 s", "30 N"], ["0.5 s", "0 N"] ] } }`))
	require.InDelta(t, 3*0.05*0.05/2+0.15*0.15/2/17, figureOf(t, a, "stops", "a", "way from rest").Value, 1e-9)
}

// Cold magnets are strong: -0.2 % per kelvin from 20 °C are 1.04 at 0 °C, 120 V become 124.8 V.
func TestColdMagnetsFeedMost(t *testing.T) {
	a := assess(t, stopped(t, "0", massLoad, `"load": { "mass": "10 kg", "coulomb": "5 N" }`, `"1 N m/A"`, `"12 N m/A"`, `"low": "20 degC"`, `"low": "0 degC"`,
		`"temperature": "20 degC"`, `"temperature": "20 degC", "magnetCoefficient": "-0.2 %/K"`))
	require.InDelta(t, 124.8, figureOf(t, a, "stops", "", "highest back-EMF").Value, 1e-9)
}

// All figures of the stops of a machine with a spread hold for its ends: what an axis returns
// is that of the end with the least friction.
func TestStopSpread(t *testing.T) {
	const load = `"load": { "mass": "10 kg", "coulomb": "5 N" }`
	spread := assess(t, stopped(t, "1", massLoad, strings.Replace(load, `"5 N"`, `"5 N", "frictionSpread": "40 %"`, 1))).Bus.Stops.Axes[0]
	least := assess(t, stopped(t, "1", massLoad, strings.Replace(load, `"5 N"`, `"3 N"`, 1))).Bus.Stops.Axes[0]
	require.InDelta(t, least.Returned.Value, spread.Returned.Value, 1e-12)
	require.Equal(t, "F-", spread.Returned.Corner)
	require.Equal(t, least.Distance, spread.Distance)
	zero := assess(t, stopped(t, "0", massLoad, strings.Replace(load, `"5 N"`, `"5 N", "frictionSpread": "40 %"`, 1))).Bus.Stops.Axes[0]
	require.InDelta(t, 1/0.6, zero.Moving.Way.Value, 1e-8) // 0.3 m/s²
}

// A crank and a spring are followed from many instants: none of a hundred others is worse by
// more than a thousandth.
func TestCoastingByPlace(t *testing.T) {
	for _, doc := range []string{
		stopped(t, "0", massLoad, `"load": { "mass": "10 kg", "coulomb": "20 N", "counterbalance": { "stiffness": "30 N/m", "relaxed": "500 mm" } }`),
		stopped(t, "0", massLoad, `"load": { "mass": "10 kg", "coulomb": "20 N", "externalByPosition": [ ["0 m", "0 N"], ["0.4 m", "0 N"], ["0.5 m", "15 N"], ["0.6 m", "0 N"], ["1 m", "0 N"] ] }`),
	} {
		a := assess(t, doc)
		c := a.Bus.Stops.Axes[0].Moving
		require.True(t, c.Stops)
		m := parse(t, doc)
		motion := a.Stations[0].Axes[0].Motion
		for i := range 101 {
			at := motion.Duration() * float64(i) / 100
			out, err := m.Axes[0].Drive.PowerOff(motion.Position().At(at), motion.Speed().At(at), nil)
			require.NoError(t, err)
			require.LessOrEqual(t, math.Max(out.Forward, out.Backward), c.Way.Value*1.001)
			require.LessOrEqual(t, out.Duration, c.Duration.Value*1.001)
		}
	}
}

// Between the ends of speed nothing is worse where forces do not depend on place.
func TestCoastingEndsAreWorst(t *testing.T) {
	doc := stopped(t, "0", massLoad, upright, linear, linear+timedBrake)
	c := assess(t, doc).Bus.Stops.Axes[0].Moving
	m := parse(t, doc)
	for i := range 201 {
		out, err := m.Axes[0].Drive.PowerOff(0, float64(i)/100-1, &m.Axes[0].HoldingBrake.HoldingBrake)
		require.NoError(t, err)
		require.LessOrEqual(t, math.Max(out.Forward, out.Backward), c.Way.Value*(1+1e-9))
		require.LessOrEqual(t, out.Duration, c.Duration.Value*(1+1e-9))
		require.LessOrEqual(t, out.PeakSpeed, c.Speed.Value*(1+1e-9))
		require.LessOrEqual(t, out.Heat, c.Heat.Value*(1+1e-9))
	}
}

func TestStopFaults(t *testing.T) {
	stops := func(text string) string { return replaced(t, motorsKey, `"stops": { `+text+` }, "motors":`) }
	brake := func(text string) string { return replaced(t, linear, linear+`, "holdingBrake": { `+text+` }`) }
	for _, c := range []struct{ doc, path string }{
		{stops(``), "stops.category"},
		{stops(`"category": 3`), "stops.category"},
		{stops(`"category": -1`), "stops.category"},
		{stops(`"category": 0.5`), "stops.category"},
		{stops(`"category": 1, "stopsPerYear": 0`), "stops.stopsPerYear"},
		{stops(`"category": 1, "stopsPerYear": -9`), "stops.stopsPerYear"},
		{stops(`"category": 1, "stopsPerYear": 9, "brakeYears": -1`), "stops.brakeYears"},
		{stops(`"category": 1, "stopsPerYear": 9, "brakeYears": 1e9`), "stops.brakeYears"},
		{stops(`"category": 1, "brakeYears": 10`), "stops.stopsPerYear"},
		{stops(`"category": 1, "mainsDip": "-1 s"`), "stops.mainsDip"},
		{stops(`"category": 1, "mainsDip": "20 V"`), "stops.mainsDip"},
		{stops(`"category": 1, "supplyHoldUp": "-1 s"`), "stops.supplyHoldUp"},
		{stops(`"category": 1, "drop": "1 m"`), "stops.drop"},
		{replaced(t, linear, linear+`, "stopJerk": "-9 m/s^3"`), "axes[0].stopJerk"},
		{replaced(t, linear, linear+`, "holdingBrake": "-9 N m"`), "axes[0].holdingBrake"},
		{replaced(t, linear, linear+`, "holdingBrake": 9`), "axes[0].holdingBrake"},
		{brake(`"torque": "9 N m"`), "axes[0].holdingBrake.delay"},
		{brake(`"delay": "1 s"`), "axes[0].holdingBrake.torque"},
		{brake(`"torque": "0 N m", "delay": "1 s"`), "axes[0].holdingBrake.torque"},
		{brake(`"torque": "9 N", "delay": "1 s"`), "axes[0].holdingBrake.torque"},
		{brake(`"torque": "9 N m", "at": "load", "delay": "1 s"`), "axes[0].holdingBrake.torque"},
		{brake(`"torque": "9 N m", "at": "drum", "delay": "1 s"`), "axes[0].holdingBrake.at"},
		{brake(`"torque": "9 N m", "delay": "-1 s"`), "axes[0].holdingBrake.delay"},
		{brake(`"torque": "9 N m", "delay": "1 s", "energyPerStop": "-1 J"`), "axes[0].holdingBrake.energyPerStop"},
		{brake(`"torque": "9 N m", "delay": "1 s", "energyPerStop": "1 N m"`), "axes[0].holdingBrake.energyPerStop"},
		{brake(`"torque": "9 N m", "delay": "1 s", "totalEnergy": "0 J"`), "axes[0].holdingBrake.totalEnergy"},
		{brake(`"torque": "9 N m", "delay": "1 s", "drop": "-1 mm"`), "axes[0].holdingBrake.drop"},
		{turned(t, crankKind, `"motor": "m"`, `"motor": "m", "holdingBrake": { "torque": "9 N m", "at": "load", "delay": "1 s" }`), "axes[0].holdingBrake.at"},
	} {
		require.Contains(t, faults(t, c.doc), c.path)
	}
	// In Go a brake may sit on a shaft that the axis does not have.
	m := parse(t, simple)
	m.Axes[0].HoldingBrake = &sizing.HoldingBrake{HoldingBrake: energy.HoldingBrake{Torque: 1, Shaft: 5}}
	m.Stops = &sizing.Stops{Category: 7, PerYear: -1, BrakeYears: math.NaN(), MainsDip: math.NaN(), SupplyHoldUp: math.Inf(1)}
	_, err := sizing.Assess(context.Background(), m)
	require.Len(t, profile.InputErrors(err), 6, "%v", err)
	// A rope cannot follow a stop of 12 m/s² upwards: the fault names the deceleration.
	_, err = assessment(t, stopped(t, "1", massLoad, upright, `"accel": "2 m/s^2" }`, `"accel": "2 m/s^2", "decel": "9 m/s^2" }, "stopDecel": "12 m/s^2"`, beltKind, `"mechanism": { "kind": "drum", "diameter": "200 mm", "falls": 1, "efficiency": 0.9 }`))
	require.Equal(t, "stations[0].axes[0].stopDecel", profile.InputErrors(err)[0].Path)
}
