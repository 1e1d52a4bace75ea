package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// WireClass is the make of a conductor by IEC 60228: the number of its class.
type WireClass int

// Classes of conductor.
const (
	Solid    WireClass = 1 // one round wire, for fixed installation
	Stranded WireClass = 2 // strands, for fixed installation
	Flexible WireClass = 5 // fine strands, for flexible cable
)

// standardWire is the greatest resistance at 20 °C [ohm/km] of a conductor of a
// nominal cross-section [mm²].
type standardWire struct{ mm2, ohmPerKm float64 }

func (s standardWire) wire() Wire {
	return Wire{Section: s.mm2 * 1e-6, Resistance: s.ohmPerKm * 1e-3}
}

// The greatest resistance of plain annealed copper, IEC 60228:2004. To 16 mm² as
// read in three secondary places that agree (LOOKED UP-2), above FROM MEMORY.
// Coated strands may have up to 3 % more (FROM MEMORY).
var (
	// Tables 1 and 2: classes 1 and 2 have the same limits (class 1 FROM MEMORY).
	fixedWires = []standardWire{
		{0.5, 36.0}, {0.75, 24.5}, {1, 18.1}, {1.5, 12.1}, {2.5, 7.41}, {4, 4.61}, {6, 3.08}, {10, 1.83}, {16, 1.15},
		{25, 0.727}, {35, 0.524}, {50, 0.387}, {70, 0.268}, {95, 0.193}, {120, 0.153}, // FROM MEMORY
	}
	// Table 3.
	flexibleWires = []standardWire{
		{0.5, 39.0}, {0.75, 26.0}, {1, 19.5}, {1.5, 13.3}, {2.5, 7.98}, {4, 4.95}, {6, 3.30}, {10, 1.91}, {16, 1.21},
		{25, 0.780}, {35, 0.554}, {50, 0.386}, {70, 0.272}, {95, 0.206}, {120, 0.161}, // FROM MEMORY
	}
)

// checkedTable returns the wires of a class, smallest first.
func (c WireClass) checkedTable(f *profile.Faults) []standardWire {
	switch c {
	case Solid, Stranded:
		return fixedWires
	case Flexible:
		return flexibleWires
	}
	f.Add("class", int(c), "1 (solid), 2 (stranded) or 5 (flexible)")
	return nil
}

// StandardWire returns the conductor of a nominal cross-section [m²] and class of
// IEC 60228:2004, plain copper, with the greatest resistance that the standard
// permits it; a given one may have less. The sections are
//
//	0.5 0.75 1 1.5 2.5 4 6 10 16 25 35 50 70 95 120 mm²
//
// and others are refused. Values to 16 mm² are read in secondary places, those
// above are FROM MEMORY.
func StandardWire(section float64, class WireClass) (Wire, error) {
	var f profile.Faults
	table := class.checkedTable(&f)
	f.Positive("section", section, "m²")
	if err := f.Err(); err != nil {
		return Wire{}, err
	}
	list := ""
	for _, row := range table {
		if w := row.wire(); math.Abs(section/w.Section-1) < 1e-6 {
			return w, nil
		}
		list += fmt.Sprintf(" %g", row.mm2)
	}
	f.Add("section", section, "m² of a standard section:"+list+" mm²")
	return Wire{}, f.Err()
}
