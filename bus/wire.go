package bus

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// Wire is one copper conductor. It comes from [StandardWire] or [GaugeWire]; a
// wire of other make is given by its two figures. The zero value is invalid.
type Wire struct {
	Section    float64 // cross-section of the copper, nominal [m²], > 0
	Resistance float64 // at 20 °C, per length [ohm/m], > 0
}

// Validate returns nil, or an error that joins the faults of the fields.
func (w Wire) Validate() error {
	var f profile.Faults
	f.Positive("section", w.Section, "m²")
	f.Positive("resistance", w.Resistance, "ohm/m")
	return f.Err()
}

// copperResistivity is that of annealed copper of 100 % conductivity at 20 °C
// [ohm·m]: 1/58 ohm·mm²/m, IEC 60028 and NBS Handbook 100 (FROM MEMORY).
const copperResistivity = 1.7241e-8

// The gauges of [GaugeWire]: 4/0 is the thickest.
const (
	thickestGauge = -3
	thinnestGauge = 40
)

// GaugeWire returns the solid round wire of an American wire gauge number, from
// -3 to 40, where 0 is 1/0, -1 is 2/0, -2 is 3/0 and -3 is 4/0:
//
//	d = 0.127 mm · 92^((36-n)/39)        r = ρ / (π d²/4),  ρ = 1.7241e-8 ohm·m at 20 °C
//
// Source: ASTM B258 for the diameter, annealed copper of 100 % conductivity for
// ρ. Strands of the same gauge have the same section and by their lay a few
// percent more resistance (common practice, no source).
func GaugeWire(awg int) (Wire, error) {
	if awg < thickestGauge || awg > thinnestGauge {
		var f profile.Faults
		f.Add("awg", awg, fmt.Sprintf("a gauge from %d (4/0) to %d", thickestGauge, thinnestGauge))
		return Wire{}, f.Err()
	}
	d := 0.127e-3 * math.Pow(92, float64(36-awg)/39)
	section := math.Pi / 4 * d * d
	return Wire{Section: section, Resistance: copperResistivity / section}, nil
}

// GuidanceDrop is the share of the nominal voltage [1] that may be lost between
// the point of supply and the load in normal operation, as guidance: 5 %, IEC
// 60204-1 §12.5 (FROM MEMORY; other values by agreement, and what the load
// tolerates comes first).
const GuidanceDrop = 0.05

// Cable is a two-wire connection, go and return alike.
type Cable struct {
	Wire        Wire
	Parallel    int     // wires in parallel in each direction, >= 1
	Length      float64 // one way [m], >= 0
	Temperature float64 // of the copper, in service [°C], -100 to 300
	Terminals   float64 // terminals and contacts of both directions together [ohm], >= 0
}

// Validate returns nil, or an error that joins the faults of the fields.
func (c Cable) Validate() error {
	var f profile.Faults
	f.Under("wire", c.Wire.Validate())
	c.checkRun(&f)
	return f.Err()
}

// checkRun checks all but the wire.
func (c Cable) checkRun(f *profile.Faults) {
	if c.Parallel < 1 {
		f.Add("parallel", c.Parallel, "1 or more wires")
	}
	f.NonNegative("length", c.Length, "m")
	f.Within("temperature", c.Temperature, -100, 300, "°C, where the resistance of copper is linear")
	f.NonNegative("terminals", c.Terminals, "ohm")
}

// LoopResistance returns the resistance of go and return in series at the
// temperature of the copper [ohm]:
//
//	R = 2 l r20/n · (234.5 + T)/(234.5 + 20) + Rterminals
//
// with the line of [thermal.Copper]. It is the resistance of a feeder. A
// permitted voltage drop must hold with the copper hot; for a short circuit the
// cold cable is the worse one.
func (c Cable) LoopResistance() (float64, error) {
	if err := c.Validate(); err != nil {
		return 0, err
	}
	warm, err := thermal.Copper.Ratio(c.Temperature, 20)
	if err != nil {
		return 0, err
	}
	r := 2*c.Length*c.Wire.Resistance/float64(c.Parallel)*warm + c.Terminals
	var f profile.Faults
	needFinite(&f, "length", c.Length, r)
	return r, f.Err()
}

// Drop returns the voltage lost in the loop at a current [A] >= 0: I R [V].
func (c Cable) Drop(current float64) (float64, error) { return c.times(current, 1) }

// Loss returns the power lost in the loop at a current [A] >= 0: I² R [W]. For a
// current that changes use its RMS value.
func (c Cable) Loss(current float64) (float64, error) { return c.times(current, current) }

// times returns the resistance of the loop times current and by.
func (c Cable) times(current, by float64) (float64, error) {
	var f profile.Faults
	r, err := c.LoopResistance()
	f.Under("", err)
	f.NonNegative("current", current, "A")
	if err := f.Err(); err != nil {
		return 0, err
	}
	y := r * current * by
	needFinite(&f, "current", current, y)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return y, nil
}

// WithSmallest returns the cable with the smallest standard wire of a class
// that keeps the drop at a current [A] > 0 to at most drop [V] > 0, whatever wire
// it had. Where none does the error names the least drop there is.
//
// Drop is one of three limits of a section: the current that the wire may carry
// continuously and what a short circuit leaves in it ([Wire.Withstand]) are the
// others, and what local codes ask besides.
func (c Cable) WithSmallest(class WireClass, current, drop float64) (Cable, error) {
	var f profile.Faults
	c.checkRun(&f)
	table := class.checkedTable(&f)
	f.Positive("current", current, "A")
	f.Positive("drop", drop, "V")
	if err := f.Err(); err != nil {
		return Cable{}, err
	}
	lost := 0.0
	for _, row := range table {
		c.Wire = row.wire()
		var err error
		if lost, err = c.Drop(current); err != nil {
			return Cable{}, err
		}
		if lost <= drop {
			return c, nil
		}
	}
	f.Add("drop", drop, fmt.Sprintf("at least %.3g V, the drop of the largest section here, %g mm²: put more in parallel", lost, table[len(table)-1].mm2))
	return Cable{}, f.Err()
}

// needFinite records a fault at path, where input is the value given there,
// unless all results are finite.
func needFinite(f *profile.Faults, path string, input float64, results ...float64) {
	for _, r := range results {
		if math.IsNaN(r) || math.IsInf(r, 0) {
			f.Add(path, input, "a size that gives a finite result")
			return
		}
	}
}
