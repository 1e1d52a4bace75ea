package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// Wire is the copper of one conductor: its cross-section and its resistance at
// 20 °C. Make it with [MetricWire] or [GaugeWire].
type Wire struct {
	Name    string
	Section float64 // [m²]
	PerM    float64 // resistance at 20 °C [ohm/m]
}

// Stranding is the class of a conductor of IEC 60228.
type Stranding int

// Classes of conductor.
const (
	Flexible Stranding = iota // class 5, fine wires, as in cables that are wired or move
	Solid                     // classes 1 and 2, solid or of several wires, for fixed installation
)

// metricWires holds the cross-section [mm²] and the highest resistance at 20 °C
// [ohm/km] of plain copper conductors of class 2 and class 5: IEC 60228:2004,
// tables 2 and 3 (to 16 mm² LOOKED UP-2, beyond FROM MEMORY; class 1 has the values
// of class 2).
var metricWires = [...][3]float64{
	{0.5, 36.0, 39.0}, {0.75, 24.5, 26.0}, {1, 18.1, 19.5}, {1.5, 12.1, 13.3}, {2.5, 7.41, 7.98},
	{4, 4.61, 4.95}, {6, 3.08, 3.30}, {10, 1.83, 1.91}, {16, 1.15, 1.21}, {25, 0.727, 0.780},
	{35, 0.524, 0.554}, {50, 0.387, 0.386}, {70, 0.268, 0.272}, {95, 0.193, 0.206}, {120, 0.153, 0.161},
}

// MetricWire returns the conductor of a nominal cross-section [m²] of IEC 60228,
// from 0.5 mm² to 120 mm², with the highest resistance that the standard permits:
// pure copper of the nominal section has 10 to 16 % less.
func MetricWire(section float64, s Stranding) (Wire, error) {
	var f profile.Faults
	if s != Flexible && s != Solid {
		f.Add("stranding", int(s), "Flexible or Solid")
	}
	for _, w := range metricWires {
		if math.Abs(section*1e6-w[0]) <= 1e-9*w[0] && f.Err() == nil {
			perKm := w[1]
			if s == Flexible {
				perKm = w[2]
			}
			return Wire{fmt.Sprintf("%g mm²", w[0]), w[0] * 1e-6, perKm * 1e-3}, nil
		}
	}
	if f.Err() == nil {
		f.Add("section", section, "a nominal cross-section of IEC 60228: 0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95 or 120 mm²")
	}
	return Wire{}, f.Err()
}

// annealed is the resistivity of annealed copper of 100 % conductivity at 20 °C
// [ohm m] (NBS Handbook 100, FROM MEMORY).
const annealed = 1.7241e-8

// GaugeWire returns the solid copper conductor of an American wire gauge number, 40
// (thin) to 0, with 2/0 as -1 down to 4/0 as -3:
//
//	d = 0.127 mm · 92^((36-n)/39)
//
// (ASTM B258). A stranded conductor has up to a few percent more resistance.
func GaugeWire(number int) (Wire, error) {
	if number < -3 || number > 40 {
		var f profile.Faults
		f.Add("gauge", number, "from 40 to 0, or -1, -2, -3 for 2/0, 3/0, 4/0")
		return Wire{}, f.Err()
	}
	d := 0.127e-3 * math.Pow(92, float64(36-number)/39)
	a := math.Pi / 4 * d * d
	name := fmt.Sprintf("AWG %d", number)
	if number < 0 {
		name = fmt.Sprintf("AWG %d/0", 1-number)
	}
	return Wire{name, a, annealed / a}, nil
}

// Cable leads a current to a drive and back.
type Cable struct {
	Wire        Wire
	Length      float64 // one way [m], > 0
	Parallel    int     // conductors side by side in each direction, 0: one
	Temperature float64 // of the conductors [°C]
	Ends        float64 // resistance of all terminals and contacts, go and return [ohm], >= 0
}

// Validate returns nil, or an error that joins the faults of the fields.
func (c Cable) Validate() error {
	var f profile.Faults
	f.Positive("wire.section", c.Wire.Section, "m²")
	f.Positive("wire.perM", c.Wire.PerM, "ohm/m")
	f.Positive("length", c.Length, "m")
	if c.Parallel < 0 || c.Parallel > 1000 {
		f.Add("parallel", c.Parallel, "from 1 to 1000, or 0 for one")
	}
	f.Within("temperature", c.Temperature, -100, 500, "°C")
	f.NonNegative("ends", c.Ends, "ohm")
	return f.Err()
}

func (c Cable) conductors() float64 { return math.Max(1, float64(c.Parallel)) }

// Resistance returns that of the conductors, go and return, at their temperature,
// with all terminals [ohm]:
//
//	R = 2 l r20 (234.5 + T)/(234.5 + 20) / n + ends
func (c Cable) Resistance() (float64, error) {
	if err := c.Validate(); err != nil {
		return 0, err
	}
	hot, err := thermal.Copper.Ratio(c.Temperature, 20)
	if err != nil {
		return 0, err
	}
	return 2*c.Length*c.Wire.PerM*hot/c.conductors() + c.Ends, nil
}

// SmallestSection returns the conductor with the smallest section of IEC 60228 with
// which the cable, all else as it is, drops no more than drop [V] at a current [A];
// false when none does. It says nothing of the current that the conductor may
// carry for its temperature.
func (c Cable) SmallestSection(current, drop float64, s Stranding) (Wire, bool, error) {
	var f profile.Faults
	f.Positive("current", current, "A")
	f.Positive("drop", drop, "V")
	if err := f.Err(); err != nil {
		return Wire{}, false, err
	}
	for _, w := range metricWires {
		var err error
		if c.Wire, err = MetricWire(w[0]*1e-6, s); err != nil {
			return Wire{}, false, err
		}
		r, err := c.Resistance()
		if err != nil {
			return Wire{}, false, err
		}
		if r*current <= drop {
			return c.Wire, true, nil
		}
	}
	return Wire{}, false, nil
}

// PermittedDrop is the part of the nominal voltage that a supply circuit may drop
// up to its load in normal running, if nothing else was agreed (IEC 60204-1, 12.5,
// FROM MEMORY).
const PermittedDrop = 0.05
