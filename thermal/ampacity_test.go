package thermal_test

import (
	"errors"
	"math"
	"testing"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

func TestAmpacity(t *testing.T) {
	table := ok[thermal.AmpacityTable](t)(thermal.IEC60204(thermal.MethodB2))
	a := ok[thermal.Ampacity](t)(table.Ampacity("1.5"))
	near(t, "at the permitted current", ok[float64](t)(a.Temperature(a.Current)), 70, 1e-12)
	near(t, "without current", ok[float64](t)(a.Temperature(0)), 40, 1e-14)
	b := ok[thermal.Ampacity](t)(a.In(55, 1))
	near(t, "in 55 °C", b.Current, 13.1*math.Sqrt(.5), 1e-13)
	near(t, "at the permitted current in 55 °C", ok[float64](t)(b.Temperature(b.Current)), 70, 1e-12)
	c := ok[thermal.Ampacity](t)(a.In(40, .65))
	near(t, "bundled", c.Current, 13.1*.65, 1e-13)

	// By integration of the balance, with a time constant: half-way and settled.
	a.TimeConstant = 120
	slope := func(current float64) func(float64) float64 {
		return func(temp float64) float64 {
			r := current / 13.1
			return (30*r*r*(1+(temp-70)/304.5) - (temp - 40)) / 120
		}
	}
	for _, current := range []float64{5, 13.1, 20} {
		o := ok[thermal.FirstOrder](t)(a.Response(current))
		near(t, "after 100 s", 40+ok[float64](t)(o.After(0, 100)), integrate(40, 100, 400, slope(current)), 1e-10)
		near(t, "settled", ok[float64](t)(a.Temperature(-current)), integrate(40, 5000, 4000, slope(current)), 1e-9)
	}
	var runaway *thermal.RunawayError
	if _, err := a.Temperature(13.1 * math.Sqrt(304.5/30) * 1.001); !errors.As(err, &runaway) {
		t.Errorf("runaway: %v", err)
	}
}

func TestAdiabaticRoundTrip(t *testing.T) {
	const joule = 2.5e6
	s := ok[float64](t)(thermal.AdiabaticCopper.Section(joule, 70, 160))
	near(t, "final", ok[float64](t)(thermal.AdiabaticCopper.Final(joule, s, 70)), 160, 1e-12)
	// By integration: Qc dT/dt = ρ (I/S)².
	j := math.Sqrt(joule) / s
	end := integrate(70, 1, 200, func(temp float64) float64 {
		return 17.241e-9 * (1 + (temp-20)/254.5) * j * j / 3.45e6
	})
	near(t, "by integration", end, 160, 1e-9)
}

func TestAmpacityBadInput(t *testing.T) {
	good := thermal.Ampacity{Current: 10, Max: 70, Ambient: 30}
	for path, err := range map[string]error{
		"current":      second(thermal.Ampacity{Max: 70, Ambient: 30}.Temperature(1)),
		"max":          second(thermal.Ampacity{Current: 1, Max: math.NaN()}.Temperature(1)),
		"ambient":      second(good.In(70, 1)),
		"timeConstant": second(good.Response(5)),
		"bundling":     second(good.In(40, 0)),
		"from":         second(thermal.AmbientFactor(70, 70, 20)),
		"size":         second(thermal.NFPA79().Current("12")),
		"table":        second(thermal.NFPA79().Ampacity("18")),
		"method":       second(thermal.IEC60204("A")),
		"column":       second(thermal.NEC310(thermal.NEC2011, 80)),
		"print":        second(thermal.NEC310("", 75)),
		"number":       second(thermal.BundlingIEC(0)),
		"initial":      second(thermal.AdiabaticCopper.K(-300, 20)),
		"final":        second(thermal.AdiabaticCopper.K(30, 20)),
		"joule":        second(thermal.AdiabaticCopper.Section(-1, 20, 100)),
		"section":      second(thermal.AdiabaticCopper.Final(1, 0, 20)),
		"resistivity":  second(thermal.Adiabatic{Beta: 1, Capacity: 1}.K(20, 30)),
	} {
		if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
	if _, err := good.Temperature(math.NaN()); err == nil {
		t.Error("NaN A was accepted")
	}
	if _, err := thermal.AdiabaticCopper.Final(1e300, 1e-9, 20); err == nil {
		t.Error("an infinite temperature was accepted")
	}
}
