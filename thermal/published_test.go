package thermal_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// Values from outside the project. The status beside a source says how it was
// read: LOOKED UP, the number was read in public material; LOOKED UP-2, read
// only in a secondary place, here a transcription of solved examples or a
// companion to one; FROM MEMORY, not read. A tolerance is that of the printed
// digits.

// G. K. Dubey, Fundamentals of Electrical Drives, Ex. 4.3 p. 53. LOOKED UP-2.
// A ramp of 0 to 400 kW in 5 min, 500 kW for 5, -400 kW (regenerating) for 4,
// nothing for 2.
func TestPublishedRMSWithRamp(t *testing.T) {
	const min = 60
	c := ok[profile.Curve](t)(profile.NewCurve(
		[]float64{0, 5 * min, 10 * min, 14 * min, 16 * min},
		[][]float64{{0, 400e3 / (5 * min)}, {500e3}, {-400e3}, {0}}))
	l := ok[energy.Loading](t)(thermal.RMSLoading(c, 400e3))
	near(t, "RMS power", l.Value, 367e3, 1e-3)
	near(t, "ratio", l.Ratio, 367./400, 1e-3)
	near(t, "margin", l.Margin, 33e3, 5e-3)
}

// Dubey Ex. 4.2 p. 52. LOOKED UP-2; the companion says that the answer printed
// in the book is wrong, so this is a check of arithmetic only. Inertia 10 000
// kg·m² is reversed from 200 to -200 rpm in 5 s.
func TestPublishedRMSWithReversals(t *testing.T) {
	reversal := 10000 * 400 * math.Pi / 30 / 5
	c := blocks(t, [2]float64{25e3, 10}, [2]float64{0, 1}, [2]float64{-reversal, 5}, [2]float64{0, 1},
		[2]float64{-20e3, 15}, [2]float64{0, 1}, [2]float64{reversal, 5}, [2]float64{0, 1})
	l := ok[energy.Loading](t)(thermal.RMSLoading(c, 50e3))
	near(t, "RMS torque", l.Value, 45975, 1e-4)
}

// A. S. Langsdorf, Theory of Alternating Current Machinery, Ex. 1.15 p. 33.
// LOOKED UP-2. 504 W ohmic and 126 W eddy loss at 20 °C, taken to 75 °C.
func TestPublishedLossAgainstTemperature(t *testing.T) {
	r := ok[float64](t)(thermal.Copper.Ratio(75, 20))
	near(t, "ohmic loss", 504*r, 613, 1e-3)
	near(t, "load loss", 504*r+126/r, 717, 1e-3)
}

// Temperature coefficient at 20 and 95 °C by the 235 rule: the rule is IEC
// 60034-1 clause 8.6.2, FROM MEMORY; its consequences are constants in the
// Modelica Standard Library (Electrical/Machines/Thermal/Constants and
// Thermal/HeatTransfer/Examples/Motor.mo), LOOKED UP.
func TestPublishedCoefficientIEC(t *testing.T) {
	near(t, "coefficient at 20 °C", ok[float64](t)(thermal.CopperIEC.Ratio(21, 20))-1, 3.920e-3, 5e-4)
	near(t, "coefficient at 95 °C", ok[float64](t)(thermal.CopperIEC.Ratio(96, 95))-1, 3.03e-3, 5e-4)
	// The 225 of aluminium, same clause, FROM MEMORY: 1/245 at 20 °C.
	near(t, "coefficient of aluminium", ok[float64](t)(thermal.AluminiumIEC.Ratio(21, 20))-1, 1./245, 1e-12)
}

// NBS Handbook 100, Copper Wire Tables (1966): coefficient .00393 at 20 °C.
// FROM MEMORY.
func TestPublishedCoefficientCopper(t *testing.T) {
	near(t, "coefficient at 20 °C", ok[float64](t)(thermal.Copper.Ratio(21, 20))-1, .00393, 3e-4)
}

// Ambient correction of a cable's current, heated by copper loss alone: US Army
// FM 5-424 appendix B (after an older NEC table), conductors rated 60, 75 and
// 110 °C in an ambient of 40 instead of 30 °C, LOOKED UP; PVC at 70 °C, IEC
// 60364-5-52 Table B.52.14, LOOKED UP. Two printed digits. A winding follows the
// same law. (The 85-90 °C column of FM 5-424 prints .90 where the law gives .913.)
func TestPublishedAmbientCorrection(t *testing.T) {
	km := thermal.MotorConstant{Km: 1, At: 20}
	for _, tc := range []struct{ max, want float64 }{{60, .82}, {75, .88}, {110, .94}, {70, .87}} {
		w := ok[thermal.Winding](t)(thermal.FromRating(thermal.Rating{Torque: 3, Constant: km, Max: tc.max, Ambient: 30}))
		got := ok[float64](t)(w.ContinuousTorque(km, 40, 0)) / 3
		if !(math.Abs(got-tc.want) <= 5e-3) {
			t.Errorf("conductor of %g °C: factor %.4f, want %.2f", tc.max, got, tc.want)
		}
	}
}

// IEC 60034-1 clause 8.10 with a class F rise of 105 K over 40 °C: √(95/105) in
// 50 °C. Rule FROM MEMORY, number own.
func TestPublishedAmbientDerating(t *testing.T) {
	km := thermal.MotorConstant{Km: .4, At: 25}
	w := ok[thermal.Winding](t)(thermal.FromRating(thermal.Rating{Torque: 2, Constant: km, Max: 145, Ambient: 40}))
	near(t, "factor", ok[float64](t)(w.ContinuousTorque(km, 50, 0))/2, .9512, 1e-4)
}

// Dubey Ex. 4.1 p. 47. LOOKED UP-2. Time constant 60 s, 10 s on, 20 s off. The
// motor would settle at a rise of 104.4 K if always on, at 15 K declutched; the
// rise then swings between 40 and 49.9 K.
func TestPublishedIntermittentRise(t *testing.T) {
	s := ok[thermal.Swing](t)(thermal.SettleCycle([]thermal.Phase{
		{Duration: 10, Response: thermal.FirstOrder{TimeConstant: 60, Rise: 104.4}},
		{Duration: 20, Response: thermal.FirstOrder{TimeConstant: 60, Rise: 15}},
	}))
	near(t, "highest", s.Highest, 49.9, 5e-4)
	near(t, "lowest", s.Lowest, 40, 5e-4)
}

// Dubey Ex. 4.4 p. 55. LOOKED UP-2. 20 kW continuous, heating 60 min, cooling 90
// min, no constant loss: 51 kW for 10 min from cold, 25.14 kW for 10 min on, 10
// min off.
func TestPublishedShortTimeAndIntermittentRating(t *testing.T) {
	const min = 60
	d := thermal.Intermittent{On: 10 * min, Off: math.Inf(1), Heating: 60 * min, Cooling: 90 * min}
	near(t, "short-time rating", 20*ok[float64](t)(d.TorqueFactor()), 51, 1e-3)
	d.Off = 10 * min
	near(t, "intermittent rating", 20*ok[float64](t)(d.TorqueFactor()), 25.14, 1e-3)
}

// J. B. Gupta and S. Singhal, electric drives text, Ex. 4.1 p. 49. LOOKED UP-2.
// From cold, 30 K at 40 min and 45 K at 80 min.
func TestPublishedTimeConstantFromReadings(t *testing.T) {
	const min = 60
	o := ok[thermal.FirstOrder](t)(thermal.FromReadings(40*min, 0, 30, 45))
	near(t, "time constant", o.TimeConstant, 57.71*min, 1e-4)
	near(t, "settled rise", o.Rise, 60, 1e-12)
}

// Gupta and Singhal Ex. 4.3 p. 51. LOOKED UP-2. Ambient 30 °C; 54 °C after 1 h,
// 67 °C after 2 h; the settled motor cools to 40 °C in 2.7 h.
func TestPublishedHeatingAndCooling(t *testing.T) {
	const hour = 3600
	o := ok[thermal.FirstOrder](t)(thermal.FromReadings(hour, 0, 54-30, 67-30))
	near(t, "heating time constant", o.TimeConstant, 1.63*hour, 1e-3)
	near(t, "final temperature", 30+o.Rise, 82.36, 1e-4)
	cooling := thermal.FirstOrder{TimeConstant: 1.63 * hour}
	to40, reached, err := cooling.TimeTo(82.36-30, 40-30)
	if err != nil || !reached {
		t.Fatalf("TimeTo: reached %v, %v", reached, err)
	}
	near(t, "time to cool", to40, 2.7*hour, 1e-3)
}

// Gupta and Singhal Ex. 4.7 p. 61. LOOKED UP-2. 15 min on, 25 off, time
// constants 100 and 140 min, settled rise 55 K.
func TestPublishedUnequalTimeConstants(t *testing.T) {
	const min = 60
	s := ok[thermal.Swing](t)(thermal.SettleCycle([]thermal.Phase{
		{Duration: 15 * min, Response: thermal.FirstOrder{TimeConstant: 100 * min, Rise: 55}},
		{Duration: 25 * min, Response: thermal.FirstOrder{TimeConstant: 140 * min}},
	}))
	near(t, "highest", s.Highest, 27.36, 3e-4)
}

// Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer,
// Ex. 5.1 p. 261. LOOKED UP-2. A sphere of density 8500, specific heat 400 in a
// film of 400 W/m²K with a time constant of 1 s is .706 mm across, and goes from
// 25 to 199 °C in gas of 200 °C in 5.16 s (the book prints 5.2).
func TestPublishedLumpedStep(t *testing.T) {
	const d = .706e-3
	body := thermal.Body{
		Capacity:          8500 * 400 * math.Pi / 6 * d * d * d,
		ThermalResistance: 1 / (400 * math.Pi * d * d),
	}
	o := ok[thermal.FirstOrder](t)(body.Heated((200 - 25) / body.ThermalResistance))
	near(t, "time constant", o.TimeConstant, 1, 1e-3)
	near(t, "settled rise", o.Rise, 175, 1e-12)
	to199, reached, err := o.TimeTo(0, 199-25)
	if err != nil || !reached {
		t.Fatalf("TimeTo: reached %v, %v", reached, err)
	}
	near(t, "time to 199 °C", to199, 5.16, 2e-3) // 1e-3 of the example, .4e-3 of the printed diameter
}

// U. C. Jindal, Machine Design, exa 23-5 p. 621. LOOKED UP-2. A vehicle of 1100
// kg, 10 % more for what rotates, stops from 65 km/h on four brakes of 12 kg,
// 460 J/kgK.
func TestPublishedAdiabaticPulse(t *testing.T) {
	v := 65 / 3.6
	e := 1100 * 1.1 * v * v / 2 / 4
	near(t, "energy of a brake", e, 49308, 1e-3)
	near(t, "rise", ok[float64](t)(thermal.AdiabaticRise(e, 12*460)), 8.93, 1e-3)
}
