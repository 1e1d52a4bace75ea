package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
)

func benchmarkPowerOff(b *testing.B, a energy.Axis) {
	brake := &energy.HoldingBrake{Torque: 8, Delay: 0.05}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := a.PowerOff(0, -1, brake); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPowerOff(b *testing.B) {
	a := beltAxis(b)
	a.Load.Incline = math.Pi / 2
	benchmarkPowerOff(b, a)
}

func BenchmarkPowerOffSpring(b *testing.B) {
	a := beltAxis(b)
	a.Load.Counterbalance.Stiffness = 50
	benchmarkPowerOff(b, a)
}

func BenchmarkPowerOffCrank(b *testing.B) {
	a := beltAxis(b)
	a.Mechanism = energy.CrankSlider{Radius: 0.08, Rod: 0.3, Efficiency: 0.96}
	benchmarkPowerOff(b, a)
}

func BenchmarkWorstCoast(b *testing.B) {
	a := beltAxis(b)
	a.Load.Incline = math.Pi / 2
	s := stopping(a, liftCycle(b), 8)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.WorstCoast(&energy.HoldingBrake{Torque: 8, Delay: 0.05}, false); err != nil {
			b.Fatal(err)
		}
	}
}
