package sizing

import (
	"errors"

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
	Names   []string                     // of its loads
	Runaway *thermal.CabinetRunawayError // set, and the rest zero, where it has no balance
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

// heatCabinet finds the temperature inside, with the heat of all that stands there.
func (a *Assessment) heatCabinet() {
	m := a.Machine
	c := m.Cabinet
	if c == nil {
		return
	}
	r := &CabinetResult{}
	var loads []thermal.CabinetLoad
	add := func(name string, power float64) {
		if power > 0 {
			r.Names = append(r.Names, name)
			loads = append(loads, thermal.CabinetLoad{Name: name, Power: power})
		}
	}
	if c.Inside.Supply {
		add("supply", m.Supply.loss(a.Bus.MeanPower))
	}
	if c.Inside.Drives {
		add("drives", a.driveHeat(c.HeatSinkOutside))
	}
	if c.Inside.Resistor && (len(m.Brakes) > 0 || m.Clamp != nil) {
		burned := a.Bus.ResistorMean
		if len(m.Brakes) == 0 {
			burned = a.Bus.Guarantee.MeanReturnedPower
		}
		add("brake resistor", burned)
	}
	if c.Inside.Bank {
		rms, _, _ := a.rippleOfBank()
		heat := m.warm().SeriesResistance * rms * rms
		if m.Bleeder > 0 {
			v := m.Supply.Source.High().NoLoadVoltage()
			heat += v * v / early.of(m.Bleeder, m.BleederTolerance)
		}
		add("bank and bleeder", heat)
	}
	if c.Inside.RailSupply && a.Rail != nil {
		add("supply of the rail", a.Rail.Input*(1-m.Rail.Supply.Efficiency))
	}
	add("other", c.OtherHeat)
	shape, err := c.shape()
	if err != nil {
		return // validated
	}
	shape.Ambient, shape.Altitude = m.AmbientHigh+c.AboveAmbient, m.Altitude
	r.CabinetBalance, err = shape.Settle(loads)
	if err != nil && !errors.As(err, &r.Runaway) {
		r.Runaway = &thermal.CabinetRunawayError{} // heat beyond all numbers
	}
	a.Heat.Cabinet = r
}

// loss returns the heat that a supply gives off at a mean output [W]; of a rectifier it is
// not known here.
func (s Supply) loss(output float64) float64 {
	if s.Rectified != nil {
		return 0
	}
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
