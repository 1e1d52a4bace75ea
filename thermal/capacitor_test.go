package thermal_test

import (
	"math"
	"strings"
	"testing"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

const hour = 3600.

var electrolytic = thermal.Capacitor{ThermalResistance: 5, Parallel: 4, Series: 2, RatedLife: 5000 * hour, RatedCore: 110, Voltage: 450}

func TestCapacitorByHand(t *testing.T) {
	// 20 A and 8 A of the bank are 5 A and 2 A of each: .05·25 + .03·4 = 1.37 W.
	ripple := []thermal.Ripple{{Current: 20, SeriesResistance: .05}, {Current: 8, SeriesResistance: .03}}
	s := ok[thermal.CapacitorState](t)(electrolytic.Settle(ripple, 600, 50))
	near(t, "heat", s.Heat, 1.37, 1e-13)
	near(t, "bank", s.Bank, 8*1.37, 1e-13)
	near(t, "core", s.Core, 56.85, 1e-13)
	near(t, "life", s.Life, 5000*hour*math.Pow(2, 5.315), 1e-12)
	if !strings.Contains(s.Rule, "10 K") || !strings.Contains(s.Rule, "not counted") {
		t.Errorf("rule %q", s.Rule)
	}
	c := electrolytic
	c.Rule.VoltageExponent = 3
	v := ok[thermal.CapacitorState](t)(c.Settle(ripple, 600, 50))
	near(t, "with voltage", v.Life/s.Life, math.Pow(1.5, 3), 1e-12) // 300 V on each of 450 V
	c.Rule.Activation = .94
	v = ok[thermal.CapacitorState](t)(c.Settle(nil, 900, 100))
	near(t, "Arrhenius", v.Life, 5000*hour*math.Exp(.94/8.617333e-5*(1/373.15-1/383.15)), 1e-6)
	if !strings.Contains(v.Rule, "Arrhenius") {
		t.Errorf("rule %q", v.Rule)
	}
}

func TestAgeing(t *testing.T) {
	c, r, err := thermal.Ageing{CapacitanceLoss: .2, LossFactor: 2}.Apply(10e-3, 4e-3)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "capacitance", c, 8e-3, 1e-14)
	near(t, "resistance", r, 10e-3, 1e-14)
	near(t, "loss factor", c*r, 2*10e-3*4e-3, 1e-14)
}

func TestCapacitorBadInput(t *testing.T) {
	with := func(do func(c *thermal.Capacitor)) error {
		c := electrolytic
		do(&c)
		_, err := c.Settle(nil, 300, 40)
		return err
	}
	for path, err := range map[string]error{
		"thermalResistance": with(func(c *thermal.Capacitor) { c.ThermalResistance = 0 }),
		"parallel":          with(func(c *thermal.Capacitor) { c.Parallel = 0 }),
		"series":            with(func(c *thermal.Capacitor) { c.Series = -1 }),
		"ratedLife":         with(func(c *thermal.Capacitor) { c.RatedLife = math.NaN() }),
		"ratedCore":         with(func(c *thermal.Capacitor) { c.RatedCore = -300 }),
		"rule.activation":   with(func(c *thermal.Capacitor) { c.Rule.Activation = -1 }),
		"ambient":           second(electrolytic.Settle(nil, 300, math.NaN())),
		"voltage":           second(electrolytic.Settle(nil, -1, 40)),
		"ripple[0].current": second(electrolytic.Settle([]thermal.Ripple{{Current: -1}}, 1, 40)),
		"rated":             second(thermal.LifeTenKelvin(0, 105, 85)),
		"at":                second(thermal.LifeArrhenius(1, 105, .9, -273.15)),
		"activation":        second(thermal.LifeArrhenius(1, 105, 0, 85)),
		"capacitanceLoss":   third(thermal.Ageing{CapacitanceLoss: 1, LossFactor: 1}.Apply(1, 1)),
		"lossFactor":        third(thermal.Ageing{}.Apply(1, 1)),
		"capacitance":       third(thermal.AgedGeneral.Apply(0, 1)),
	} {
		if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
	if _, err := electrolytic.Settle([]thermal.Ripple{{Current: 1e200, SeriesResistance: 1e200}}, 1, 40); err == nil {
		t.Error("infinite heat was accepted")
	}
}
