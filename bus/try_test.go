package bus_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
)

func TestTryAny(t *testing.T) {
	for _, rs := range []float64{0, 0.02} {
		for _, src := range []bus.Source{bus.SwitchMode{Voltage: 72, CurrentLimit: 10, Tolerance: .02}, bus.Resistive{72, .15, .1}} {
			b := demoBus()
			b.Bank.SeriesResistance = rs
			b.Bank.ToleranceLow = .2
			b.Source = src
			if _, ok := src.(bus.Resistive); ok {
				b.Brake = &bus.BrakeResistor{6.8, 89, 85}
			}
			p := curve(t, []float64{0, .1, .2, .3, .5}, []float64{0, 8000}, []float64{700}, []float64{-900, 5000}, []float64{10})
			q := curve(t, []float64{0, .11, .2, .31, .55}, []float64{0, 5000}, []float64{500}, []float64{-500, 5000}, []float64{10})
			g, err := b.AnyPhase(context.Background(), []profile.Curve{p, q, p})
			require.NoError(t, err)
			for _, x := range []bus.Bound{g.Sag, g.Rise} {
				w := x.Witness
				x.Witness = nil
				t.Logf("%+v", x)
				if w != nil {
					t.Log(w.Steps)
				}
			}
			t.Log(g.MeanSourcePower, g.PeakDemand, g.MeanReturnedPower)
			s, err := b.SettledCycle(context.Background(), p)
			require.NoError(t, err)
			t.Log(s.Cycles, s.Periods, s.Repeats, s.Lowest, s.Highest, s.Start)
		}
	}
}
