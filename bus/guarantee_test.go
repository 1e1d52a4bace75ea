package bus_test

import (
	"context"
	"math/rand/v2"
	"sort"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestGap(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	gaps := map[string][]float64{}
	none := map[string]int{}
	for i := range 150 {
		m := randomMachine(r)
		rs := " rs=0"
		if m.bus.Bank.SeriesResistance>0 { rs=" rs>0" }
		g, err := m.bus.AnyPhase(context.Background(), m.stations)
		require.NoError(t, err)
		kind := "resistive"
		noLoad := m.bus.Low().Source.NoLoadVoltage()
		if m.bus.Low().Source.Current(noLoad) > 0 {
			kind = "switch-mode"
		}
		if g.Sag.Exists {
			k := "sag " + kind+rs
			if rs==" rs=0" && g.Sag.Gap()>.03*g.Sag.Voltage { mn:=0.0; for _,s:=range m.stations { mn+=s.Mean() }; t.Logf("sag %d: stations %d, %+v mean %v peak %v bound %v from %v window %v witness %v C %v bleeder %v", i, len(m.stations), m.bus.Source, mn, g.PeakDemand, g.Sag.Voltage, g.Sag.From, g.Sag.Window, g.Sag.WitnessVoltage, m.bus.Bank.Capacitance,m.bus.Bleeder) }
			gaps[k] = append(gaps[k], g.Sag.Gap()/(noLoad-g.Sag.Voltage+1e-9))
			gaps[k+" V"] = append(gaps[k+" V"], g.Sag.Gap()/g.Sag.WitnessVoltage)
			gaps[k+" depth"] = append(gaps[k+" depth"], 1-g.Sag.Voltage/noLoad)
		} else {
			none["sag "+kind]++
		}
		noLoad = m.bus.High().Source.NoLoadVoltage()
		k := "rise"+rs
		if m.bus.Brake != nil {
			k = "rise brake"+rs
		}
		if g.Rise.Exists {
			if rs==" rs=0" && g.Rise.Gap()>.03*g.Rise.Voltage { t.Logf("rise %d: stations %d, noload %g brake %+v bound %v from %v window %v witness %v C %v bleeder %v burst %v", i, len(m.stations), noLoad, m.bus.Brake, g.Rise.Voltage, g.Rise.From, g.Rise.Window, g.Rise.WitnessVoltage, m.bus.Bank.Capacitance,m.bus.Bleeder, g.ReturnedBurst) }
			gaps[k] = append(gaps[k], g.Rise.Gap()/(g.Rise.Voltage-noLoad+1e-9))
			gaps[k+" V"] = append(gaps[k+" V"], g.Rise.Gap()/g.Rise.WitnessVoltage)
			gaps[k+" height"] = append(gaps[k+" height"], g.Rise.Voltage/noLoad-1)
		} else {
			none[k]++
		}
	}
	for k, v := range gaps {
		sort.Float64s(v)
		q := func(p float64) float64 { return v[int(p*float64(len(v)-1))] }
		t.Logf("%-20s n=%3d none=%d  median %.4f  75%% %.4f  95%% %.4f  max %.4f", k, len(v), none[k], q(.5), q(.75), q(.95), q(1))
	}
}
