package thermal_test

import (
	"math"
	"strings"
	"testing"

	"example.com/headroom/thermal"
)

// The 10 K rule as a public life calculator states it, with the figures of a
// public forum post. LOOKED UP-2.
func TestPublishedTenKelvinRule(t *testing.T) {
	for _, x := range [][2]float64{{105, 2000}, {95, 4000}, {85, 8000}, {65, 32000}} {
		near(t, "life", ok[float64](t)(thermal.LifeTenKelvin(2000*hour, 105, x[0]))/hour, x[1], 1e-13)
	}
}

// MIL-HDBK-217F Notice 2 §10.1, temperature factor of capacitors, exp(-Ea/8.617e-5
// (1/(T+273) - 1/298)). FROM MEMORY. It is a failure rate: the life falls by it.
func TestPublishedTemperatureFactor(t *testing.T) {
	for _, x := range [][3]float64{{.35, 85, 9.8}, {.35, 105, 18}, {.15, 85, 2.7}} {
		near(t, "factor", 1/ok[float64](t)(thermal.LifeArrhenius(1, 25, x[0], x[1])), x[2], 2e-2)
	}
}

// What activation energy doubles the life over 10 K: own.
func TestDoublingEnergy(t *testing.T) {
	for _, x := range [][3]float64{{95, 105, .8315}, {45, 55, .6236}} {
		near(t, "twice", ok[float64](t)(thermal.LifeArrhenius(1, x[1], x[2], x[0])), 2, 1e-4)
	}
	near(t, "at .94 eV", ok[float64](t)(thermal.LifeArrhenius(1, 105, .94, 95)), 2.189, 2.5e-4) // printed digits
}

// IEC 60384-4, endurance: loss of capacitance of 20 to 30 %, tan δ of 1.3 to 3
// times its limit. FROM MEMORY, unconfirmed: the order of size only.
func TestPublishedAgeing(t *testing.T) {
	for _, a := range []thermal.Ageing{thermal.AgedLongLife, thermal.AgedGeneral} {
		if !(a.CapacitanceLoss >= .2 && a.CapacitanceLoss <= .3 && a.LossFactor >= 1.3 && a.LossFactor <= 3) {
			t.Errorf("%+v", a)
		}
	}
}

// Rise limits by resistance: IEC 60034-1 and NEMA MG 1 by engineering pages,
// LOOKED UP-2; small machines FROM MEMORY. Hot-spot margins of 10, 10, 15 K.
func TestPublishedRiseLimits(t *testing.T) {
	for c, want := range map[thermal.WindingClass][3]float64{thermal.ClassB: {80, 85, 10}, thermal.ClassF: {105, 110, 10}, thermal.ClassH: {125, 130, 15}} {
		limit := ok[float64](t)(c.RiseLimit(40, 0, false))
		if limit != want[0] || ok[float64](t)(c.RiseLimit(40, 0, true)) != want[1] {
			t.Errorf("class %d: limit %g K, want %g", c, limit, want[0])
		}
		if margin := float64(c) - 40 - limit; margin != want[2] {
			t.Errorf("class %d: margin for hot spots %g K, want %g", c, margin, want[2])
		}
	}
}

// IEC 60034-1 §8.10, rules FROM MEMORY, unconfirmed; factors own.
func TestPublishedAmbientAndAltitude(t *testing.T) {
	near(t, "50 °C, class F", ok[float64](t)(thermal.ClassF.TorqueDerating(50, 1000, 0)), math.Sqrt(95./105), 1e-13)
	near(t, "50 °C, class F", ok[float64](t)(thermal.ClassF.TorqueDerating(50, 1000, 0)), .9512, 1e-4)
	near(t, "2000 m", ok[float64](t)(thermal.ClassB.TorqueDerating(40, 2000, 0)), .9487, 1e-4)
	near(t, "4000 m", ok[float64](t)(thermal.ClassH.RiseLimit(40, 4000, false)), 125*.7, 1e-13)
}

// Names of the duty types: OPC 40400-1 PowerTrain, Table 74, after IEC 60034-1
// §4.2. LOOKED UP (names).
func TestPublishedDutyTypes(t *testing.T) {
	for i, word := range []string{"continuous", "short-time", "intermittent periodic", "starting", "electric braking",
		"continuous-operation periodic", "electric braking", "load and speed changes", "non-periodic", "discrete constant loads"} {
		if name := thermal.DutyType(i + 1).String(); !strings.HasPrefix(name, "S") || !strings.Contains(name, word) {
			t.Errorf("S%d is %q, want %q in it", i+1, name, word)
		}
	}
}
