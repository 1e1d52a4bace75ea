package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// FuzzElectrical: whatever the numbers, voltage, margins and limits of torque are refused with
// input errors or finite, and margins agree with their points.
func FuzzElectrical(f *testing.F) {
	f.Add(false, 0.5, 1.2, 4e-3, 4, 1., 20., 8., 7., 3., 0.1, 1e-3, 1e-6, 60., -0.3, 0.01, 2., 30., 1., 40., -1., 0.5)
	f.Add(true, 0.05, 12., 4e-2, 1, 0.9, 0., 0., 0., 0., 0., 0., 0., 24., 5., -3., 0., -300., 1e4, 1e-5, 1e-3, 1e3)
	f.Add(false, 1e12, 1e-15, 1e12, 1000, 1.1, 1e12, 1e12, 1e12, 1e12, 1e12, 1e12, 1e12, 1e12, 1e11, 1e11, 1e12, 1e12, 1e12, 1e12, 1e9, 1e12)
	f.Add(false, 1e-15, 1e12, 1e12, 1000, 0.01, 0., 0., 0., 0., 0., 0., 0., 1e-15, 0., 0., 1e-15, 1e12, 1e12, 1., 1., 1e-9)
	f.Fuzz(func(t *testing.T, dc bool, kt, ohm, henry float64, pairs int, modulation, peak, long, peakTorque, longTorque, c0, c1, c2, bus, ripple, slope, t0, w0, w1, t1, alpha, end float64) {
		s := energy.Sheet{ResistanceLineToLine: ohm, InductanceLineToLine: henry, PolePairs: pairs, Temperature: 20}
		if dc {
			s.TorquePerDCAmpere = kt
		} else {
			s.TorquePerRMSAmpere = kt
		}
		w, err := s.Winding()
		if err != nil {
			return
		}
		m := energy.Motor{Winding: w, DragTorque: c0, DragPerSpeed: c1, DragPerSpeedSquared: c2, PeakTorque: peakTorque, ContinuousTorque: longTorque}
		d := energy.Drive{ModulationLimit: modulation, PeakCurrent: peak, ContinuousCurrent: long}
		finite := func(what string, v ...float64) {
			for _, x := range v {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Fatalf("%s: %v", what, v)
				}
			}
		}
		refused := func(err error) bool {
			if err != nil && len(profile.InputErrors(err)) == 0 {
				t.Fatalf("not an input error: %v", err)
			}
			return err != nil
		}
		l, err := energy.NewTorqueLimit(m, d, bus)
		if !refused(err) {
			free, _ := l.SpeedAt(0)
			finite("speeds", free, l.CornerSpeed())
			for _, x := range []float64{0, w0, w1, free, -free, free * 1.01, 1e12} {
				r, there := l.Peak(x)
				finite("peak", r.Lowest, r.Highest)
				c, lasts := l.Continuous(x)
				finite("continuous", c.Lowest, c.Highest)
				if there && r.Lowest > r.Highest || lasts && (!there || c.Highest > r.Highest || c.Lowest < r.Lowest) {
					t.Fatalf("at %g: peak %v %v, continuous %v %v", x, r, there, c, lasts)
				}
			}
		}
		speed, err := profile.NewCurve([]float64{0, end / 2, end}, [][]float64{{w0, alpha}, {w1, 0, alpha}})
		if err != nil {
			return
		}
		torque, err := profile.NewCurve([]float64{0, end / 3, end}, [][]float64{{t0, t1, alpha}, {t1}})
		if err != nil {
			return
		}
		tr := energy.Trace{Speed: speed, Torque: torque, RatedTorque: torque}
		if l != (energy.TorqueLimit{}) {
			g, err := l.Margin(tr)
			if !refused(err) {
				finite("margin", g.At, g.Speed, g.Torque, g.Limit, g.Margin)
			}
		}
		if g, err := d.Loading(w, tr); !refused(err) {
			finite("current", g.Peak.Value, g.Continuous.Value, g.PeakAt)
		}
		if g, err := m.HeatLoading(tr); !refused(err) {
			finite("heat", g.Value, g.Limit, g.Ratio)
		}
		v, err := m.Voltage(tr)
		if refused(err) {
			return
		}
		finite("voltage", v.Peak().V, v.At(end/4), v.Quadrature.AbsMax().V, v.Direct.AbsMax().V, v.Current.AbsMax().V)
		for _, x := range v.Steps {
			finite("step", x.T, x.From, x.To, x.FluxLinkage)
		}
		low, err := v.LowestBus(d)
		if !refused(err) {
			finite("lowest", low.T, low.V)
		}
		have, err := profile.NewCurve([]float64{0, end / 4, end}, [][]float64{{bus, slope, ripple}, {bus, 0, 0, slope}})
		if err != nil {
			return
		}
		g, err := v.Margin(have, d)
		if refused(err) {
			return
		}
		finite("margin", g.At, g.Speed, g.Bus, g.Needed, g.Margin)
		for _, x := range g.Shortfalls {
			finite("shortfall", x.From, x.To, x.At, x.Missing, x.Speed)
			if !(x.To > x.From && x.Missing > 0 && x.Missing <= -g.Margin*(1+1e-9)) {
				t.Fatalf("%+v of %+v", x, g)
			}
		}
	})
}
