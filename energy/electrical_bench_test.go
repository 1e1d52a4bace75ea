package energy_test

import (
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

func BenchmarkVoltage(b *testing.B) {
	a := electric(b, beltAxis(b))
	tr := trace(b, a, sCurve(b, 0.5, 0.03, 0.07, 0.15))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := a.Motor.Voltage(tr); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkVoltageMargin takes a constant bus voltage, and one of 180 pieces of degree 16.
func BenchmarkVoltageMargin(b *testing.B) {
	a := electric(b, beltAxis(b))
	tr := trace(b, a, sCurve(b, 0.5, 0.03, 0.07, 0.15))
	v := ok[energy.Voltage](b)(a.Motor.Voltage(tr))
	d := energy.Drive{ModulationLimit: 1}
	low := ok[profile.Point](b)(v.LowestBus(d)).V
	r := rand.New(rand.NewPCG(31, 32))
	parts := make([]profile.Curve, 180)
	for i := range parts {
		c := make([]float64, 17)
		c[0] = low * (1 + 0.02*r.Float64())
		h := tr.Speed.End() / 180
		f := 1.0
		for k := 1; k < len(c); k++ {
			f *= 4 * h
			c[k] = low * 0.01 * (r.Float64() - 0.5) / f
		}
		parts[i] = ok[profile.Curve](b)(profile.NewCurve([]float64{0, h}, [][]float64{c}))
	}
	for name, bus := range map[string]profile.Curve{"constant": constantBus(b, low*0.99, tr), "curve": profile.Concat(parts...)} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := v.Margin(bus, d); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkTorqueLimit(b *testing.B) {
	a := electric(b, beltAxis(b))
	tr := trace(b, a, sCurve(b, 0.5, 0.03, 0.07, 0.15))
	d := energy.Drive{ModulationLimit: 1, PeakCurrent: 12}
	l := ok[energy.TorqueLimit](b)(energy.NewTorqueLimit(a.Motor, d, 60))
	b.Run("peak", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			l.Peak(150)
		}
	})
	b.Run("margin", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := l.Margin(tr); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkSheet(b *testing.B) {
	s := fullSheet()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Winding(); err != nil {
			b.Fatal(err)
		}
	}
}

// TestTorqueLimitAllocs: what a chart calls at every speed does not allocate.
func TestTorqueLimitAllocs(t *testing.T) {
	a := electric(t, beltAxis(t))
	l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(a.Motor, energy.Drive{ModulationLimit: 1}, 60))
	if n := testing.AllocsPerRun(20, func() { l.Peak(150); l.Continuous(-20) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
