package sizing

import (
	"example.com/headroom/bus"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// Capacitors is the thermal side of the bank.
type Capacitors struct {
	thermal.Capacitor
	SwitchingRipple float64 // RMS that drives and mains add by their switching, of the whole bank [A], >= 0
	NeededLife      float64 // hours of use that it is to last [s], 0: not given
}

func (c *Capacitors) validate(f *profile.Faults) {
	if c == nil {
		return
	}
	f.Under("bank.thermal", c.Capacitor.Validate())
	f.NonNegative("bank.thermal.switchingRipple", c.SwitchingRipple, "A")
	f.NonNegative("bank.thermal.neededLife", c.NeededLife, "s")
}

// warm returns the bank at the end of its life, warm.
func (m Machine) warm() bus.Bank {
	g := m.Ageing
	g.Cold = 0
	return g.worn(m.links())
}

// coolest is the core temperature below which makers count no longer life [°C] (common
// practice, no source).
const coolest = 40

// heatBank finds core temperature and life of the capacitors.
func (a *Assessment) heatBank() {
	m := a.Machine
	c := m.Capacitors
	if c == nil {
		return
	}
	rms, _, ok := a.rippleOfBank()
	if !ok || m.Bank.SeriesResistance == 0 {
		return
	}
	each := m.warm().SeriesResistance * float64(c.Parallel) / float64(c.Series)
	ripple := []thermal.Ripple{{Current: rms, SeriesResistance: each}, {Current: c.SwitchingRipple, SeriesResistance: each}}
	v := m.Supply.Source.High().NoLoadVoltage()
	ambient := a.around(m.inside().Bank)
	s, err := c.Settle(ripple, v, ambient)
	if err != nil {
		return
	}
	if s.Core < coolest {
		if at, err := c.Settle(ripple, v, ambient+coolest-s.Core); err == nil {
			s.Life = at.Life
		}
	}
	a.Heat.Bank = &s
}
