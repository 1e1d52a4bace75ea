package thermal_test

import (
	"errors"
	"math"
	"testing"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

func TestCabinet(t *testing.T) {
	// By hand: .8 × 2 × .6 m free: 1.4·.48 + .9·2·2·(.8+.6) = 5.712 m².
	a := ok[float64](t)(thermal.Enclosure{Width: .8, Height: 2, Depth: .6}.Surface())
	near(t, "surface", a, 5.712, 1e-13)
	a = ok[float64](t)(thermal.Enclosure{Width: .8, Height: 2, Depth: .6, Standing: thermal.Wall, CoveredTop: true}.Surface())
	near(t, "surface at a wall", a, .7*.48+1.4*1.6+1.8*1.2, 1e-13)

	c := thermal.Cabinet{Surface: 4, Ambient: 35}
	b := ok[thermal.CabinetBalance](t)(c.Settle([]thermal.CabinetLoad{{Name: "supply", Power: 60}, {Name: "drives", Power: 116}}))
	near(t, "inside", b.Inside, 35+176./22, 1e-12) // 5.5·4 W/K
	near(t, "heat", b.BySurface, 176, 1e-11)
	if b.ByAir != 0 || b.Gain != 0 {
		t.Errorf("%+v", b)
	}

	// The same with a fan of 100 m³/h at 1000 m: pressure 89 875 Pa.
	c.Flow, c.Altitude = 100./3600, 1000
	b = ok[thermal.CabinetBalance](t)(c.Settle([]thermal.CabinetLoad{{Power: 176}}))
	density := 89875 / (287.05 * 308.15)
	near(t, "density", b.AirDensity, density, 1e-4)
	near(t, "rise with a fan", b.Rise, 176/(22+density*1006/36), 1e-4)
	near(t, "balance", b.BySurface+b.ByAir, 176, 1e-11)
}

// Copper loss with the 234.5 line closes by hand: T = Ta + (g (k+Ta))/(1-g).
func TestCabinetFeedback(t *testing.T) {
	c := thermal.Cabinet{Surface: 2, Coefficient: 5, Ambient: 40}
	for _, part := range []float64{.05, .3, .7} {
		p := part * 10 * 254.5
		copper := thermal.CabinetLoad{Power: p, Factor: func(t float64) float64 { return first(thermal.Copper.Ratio(t, 20)) }}
		b, err := c.Settle([]thermal.CabinetLoad{copper})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "rise", b.Rise, part*274.5/(1-part), 1e-9)
		near(t, "gain", b.Gain, part, 1e-7)
	}
	var runaway *thermal.CabinetRunawayError
	growing := func(p float64) []thermal.CabinetLoad {
		return []thermal.CabinetLoad{{Power: p, Factor: func(t float64) float64 { return math.Exp((t - 40) / 30) }}}
	}
	// P e^(x/30) = 10 x has a root up to P = 300/e only: the lower one is taken.
	b := ok[thermal.CabinetBalance](t)(c.Settle(growing(300 / math.E * .9999)))
	near(t, "next to the limit", b.Heat, 10*b.Rise, 1e-9)
	if !(b.Rise < 30) {
		t.Errorf("rise %g K: that is the unstable balance", b.Rise)
	}
	// Nearer still, where plain iteration would take 1e5 steps.
	b = ok[thermal.CabinetBalance](t)(c.Settle(growing(300 / math.E * (1 - 1e-9))))
	near(t, "at the limit", b.Rise, 30, 1e-3)
	for _, p := range []float64{300 / math.E * 1.001, 500, 1e6} {
		if _, err := c.Settle(growing(p)); !errors.As(err, &runaway) || !(runaway.Heat > runaway.Carried) {
			t.Errorf("%g W: %v", p, err)
		}
	}
	// A load that gives off less when it is warm.
	b = ok[thermal.CabinetBalance](t)(c.Settle([]thermal.CabinetLoad{{Power: 100, Factor: func(t float64) float64 { return math.Max(0, 1-(t-40)/5) }}}))
	near(t, "shrinking", b.Rise, 10./3, 1e-9)
}

func TestCabinetBadInput(t *testing.T) {
	load := []thermal.CabinetLoad{{Power: 1}}
	for path, err := range map[string]error{
		"surface":         second(thermal.Cabinet{Ambient: 20}.Settle(load)),
		"coefficient":     second(thermal.Cabinet{Surface: 1, Coefficient: -1}.Settle(load)),
		"flow":            second(thermal.Cabinet{Surface: 1, Flow: math.NaN()}.Settle(load)),
		"altitude":        second(thermal.Cabinet{Surface: 1, Altitude: 2e4}.Settle(load)),
		"ambient":         second(thermal.Cabinet{Surface: 1, Ambient: math.NaN()}.Settle(load)),
		"loads[0].power":  second(thermal.Cabinet{Surface: 1}.Settle([]thermal.CabinetLoad{{Power: -1}})),
		"loads[0].factor": second(thermal.Cabinet{Surface: 1}.Settle([]thermal.CabinetLoad{{Power: 1, Factor: func(float64) float64 { return math.NaN() }}})),
		"depth":           second(thermal.Enclosure{Width: 1, Height: 1}.Surface()),
		"standing":        second(thermal.Enclosure{Width: 1, Height: 1, Depth: 1, Standing: 7}.Surface()),
	} {
		if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
	if _, err := (thermal.Cabinet{Surface: 1e300}).Settle([]thermal.CabinetLoad{{Power: 1e300}, {Power: 1e300}}); err != nil {
		t.Logf("huge: %v", err)
	}
	if _, err := (thermal.Cabinet{Surface: 1e-300}).Settle([]thermal.CabinetLoad{{Power: 1e300}}); err == nil {
		t.Error("1e600 K was accepted")
	}
}
