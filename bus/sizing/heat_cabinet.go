package sizing

import (
	"errors"
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// Cabinet is the enclosure in which parts of the machine stand.
type Cabinet struct {
	thermal.Cabinet                    // its ambient and altitude are those of the machine
	Enclosure       *thermal.Enclosure // from which its surface follows; nil: Surface is given
	AboveAmbient    float64            // by how much it is warmer around it than the highest ambient [K], >= 0
	Inside          Inside
	HeatSinkOutside float64 // share of the loss of drives that leaves through heat sinks outside, 0 to 1
	OtherHeat       float64 // of what else is inside [W], >= 0
	Max             float64 // highest temperature inside, for what is not named here [°C]; 0: none
}

// Inside says what stands in the cabinet.
type Inside struct {
	Supply, Drives, Resistor, Bank, RailSupply bool
}

// CabinetResult is the heat balance of the cabinet.
type CabinetResult struct {
	thermal.CabinetBalance
	Names   []string                     // of its loads, with the part of the machine where several share it
	Runaway *thermal.CabinetRunawayError // set, and the rest zero, where it has no balance

	how []string // where each load comes from
}

func (c *Cabinet) validate(f *profile.Faults) {
	if c == nil {
		return
	}
	if e := c.Enclosure; e != nil {
		_, err := e.Surface()
		f.Under("cabinet", err)
		if c.Surface != 0 {
			f.Add("cabinet.surface", c.Surface, "either a surface, or width, height and depth")
		}
	}
	ok := f.Within("cabinet.aboveAmbient", c.AboveAmbient, 0, 100, "K")
	if shape, err := c.shape(); err == nil && ok {
		f.Under("cabinet", shape.Validate())
	}
	f.Within("cabinet.heatSinkOutside", c.HeatSinkOutside, 0, 1, "")
	f.NonNegative("cabinet.otherHeat", c.OtherHeat, "W")
	if c.Max != 0 {
		f.Within("cabinet.max", c.Max, -60, 300, "°C")
	}
}

// shape returns the cabinet with its surface.
func (c Cabinet) shape() (thermal.Cabinet, error) {
	b := c.Cabinet
	if c.Enclosure != nil {
		var err error
		if b.Surface, err = c.Enclosure.Surface(); err != nil {
			return b, err
		}
	}
	return b, nil
}

// cabinetLoad is a load with where its heat comes from.
type cabinetLoad struct {
	thermal.CabinetLoad
	how string
}

// findCabinet finds the temperature inside, with the heat of all that stands there, what else is
// inside included.
func (a *Assessment) findCabinet() error {
	if a.Machine.Cabinet == nil {
		return nil
	}
	var err error
	a.Heat.Cabinet, err = a.Machine.settleCabinet(a.cabinetLoads())
	return err
}

// cabinetLoads returns the heat of all parts of the machine in its cabinet.
func (a *Assessment) cabinetLoads() []cabinetLoad {
	m := a.Machine
	in := m.inside()
	var loads []cabinetLoad
	add := func(name string, power float64, how string) {
		if power > 0 {
			loads = append(loads, cabinetLoad{thermal.CabinetLoad{Name: name, Power: power}, how})
		}
	}
	switch {
	case in.Supply && m.Supply.Rectified != nil:
		diodes, transformer := a.rectifierHeat()
		add("rectifier", diodes+m.Supply.Standby, "standby and the loss of its diodes by its waveform at the lowest mains: of the mean power as share of the most that it gives, on the chord of a convex curve")
		add("transformer", transformer, "loss in its windings in the same way, and in its iron at the highest mains, (1 + tolerance)² of that at no load")
	case in.Supply:
		add("supply", m.Supply.loss(a.Bus.MeanPower), "standby + P (1/η - 1) at the highest mean power")
	}
	if in.Drives {
		add("drives", a.driveHeat(m.Cabinet.HeatSinkOutside), "mean of standby and losses of all drives, less what leaves through heat sinks outside")
	}
	switch {
	case in.Resistor && len(m.Brakes) > 0:
		add("brake resistor", a.Bus.ResistorMean, "highest mean power that it burns")
	case in.Resistor && m.Clamp != nil:
		add("clamp", a.Bus.Guarantee.MeanReturnedPower, "all that the stations return")
	}
	if in.Bank {
		rms, _, _ := a.rippleOfBank()
		heat := m.warm().SeriesResistance * rms * rms
		if m.Bleeder > 0 {
			v := m.Supply.Source.High().NoLoadVoltage()
			heat += v * v / early.of(m.Bleeder, m.BleederTolerance)
		}
		add("bank and bleeder", heat, "I² R of the ripple, V²/R of the bleeder at the highest voltage without load")
	}
	if in.RailSupply && a.Rail != nil {
		add("supply of the rail", a.Rail.Input*(1-m.Rail.Supply.Efficiency), "mean input power times 1 - η")
	}
	return loads
}

// settleCabinet settles the cabinet with given loads and what else is inside.
func (m Machine) settleCabinet(loads []cabinetLoad) (*CabinetResult, error) {
	c, r := m.Cabinet, &CabinetResult{}
	if c.OtherHeat > 0 {
		loads = append(loads, cabinetLoad{thermal.CabinetLoad{Name: "other", Power: c.OtherHeat}, "as given"})
	}
	var all []thermal.CabinetLoad
	for _, l := range loads {
		r.Names, r.how, all = append(r.Names, l.Name), append(r.how, l.how), append(all, l.CabinetLoad)
	}
	shape, err := c.shape()
	if err != nil {
		return nil, err
	}
	shape.Ambient, shape.Altitude = m.AmbientHigh+c.AboveAmbient, m.Altitude
	r.CabinetBalance, err = shape.Settle(all)
	if err != nil && !errors.As(err, &r.Runaway) {
		r.Runaway = &thermal.CabinetRunawayError{} // heat beyond all numbers
	}
	return r, nil
}

// loss returns the heat that a supply gives off at a mean output [W]; one that is not a
// rectifier.
func (s Supply) loss(output float64) float64 {
	c, err := profile.Constant(output, 0, 1)
	if err != nil {
		return 0
	}
	p, err := thermal.SupplyHeat{Standby: s.Standby, Efficiency: s.Efficiency}.Mean(c)
	if err != nil {
		return 0
	}
	return p
}

// rectifierHeat bounds the mean heat of a rectifier's diodes and of its transformer [W], by
// its waveform at the lowest mains. As in [Assessment.rectifiedDraw] both are convex in the
// power delivered, so that over any course their means lie below the chord. The iron takes its
// loss at no load all the time, at the highest mains (1 + tolerance)² of it.
func (a *Assessment) rectifierHeat() (diodes, transformer float64) {
	s, w := a.Machine.Supply, a.Bus.Ripple
	if w != nil && w.Top != nil {
		share := 1.0
		if most := w.Top.Secondary.Real - w.Top.DiodeHeat - w.Top.SourceHeat; most > a.Bus.MeanPower {
			share = a.Bus.MeanPower / most
		}
		diodes, transformer = w.Top.DiodeHeat*share, w.Top.SourceHeat*share
		if w.Mean != nil {
			diodes, transformer = math.Max(diodes, w.Mean.DiodeHeat), math.Max(transformer, w.Mean.SourceHeat)
		}
	}
	t := s.Rectified.Transformer
	if t == nil {
		return diodes, 0 // its source resistance is that of the mains, outside
	}
	high := 1 + s.Mains.Tolerance
	return diodes, transformer + t.NoLoadLoss*high*high
}

// driveHeat returns the mean heat of all drives that stays inside [W], each at the end of
// its load's spread that makes most.
func (a *Assessment) driveHeat(outside float64) float64 {
	sum := 0.0
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			_, heat := ax.worst(func(l LoadResult) float64 { return driveLoss(l.Hot.Book, outside) })
			sum += heat / st.Duration
		}
	}
	return sum
}

func driveLoss(b energy.Book, outside float64) float64 { return b.Drive*(1-outside) + b.Standby }

// around returns the temperature around a part [°C], in the cabinet or not.
func (a *Assessment) around(inside bool) float64 {
	if c := a.Heat.Cabinet; inside && c != nil {
		if c.Runaway != nil {
			return hottestAir
		}
		return c.Inside
	}
	return a.Machine.AmbientHigh
}

// hottestAir stands for the temperature in a cabinet that has no heat balance [°C].
const hottestAir = 1000

// inside returns what stands in the cabinet; nothing without one.
func (m Machine) inside() Inside {
	if m.Cabinet == nil {
		return Inside{}
	}
	return m.Cabinet.Inside
}
