package sizing

import (
	"math"

	"example.com/headroom/internal/quantity"
)

// Figure is one computed value of the report.
type Figure struct {
	Of    string  // axis, station or part it belongs to, "" for the machine
	Name  string  // what it is
	Value float64 // in the unit Unit; ±Inf when there is no finite value
	Unit  string  // coherent SI unit, °C for temperatures, "" when dimensionless
	How   string  // what it was computed from, and by which equation or rule

	// Corner marks the end of the load's spread at which the value was found, "" as
	// entered: F for friction, P for payload, + for the upper end, - for the lower.
	Corner string

	// Basis says of a current in which amperes it is: "RMS", or "" for direct current.
	Basis string

	kind quantity.Kind
}

// show formats a value of the figure.
func (f Figure) show(v float64) string {
	text := show(v, f.kind)
	if f.Basis != "" {
		text += " " + f.Basis
	}
	return text
}

// at marks the figure with the end of the load's spread at which it was found.
func (f Figure) at(l LoadResult) Figure {
	f.Corner = l.Corner
	return f
}

// subject names the figure with what it belongs to and its corner.
func (f Figure) subject() string {
	name := f.Name
	if f.Of != "" {
		name = f.Of + ": " + name
	}
	if f.Corner != "" {
		name += " [" + f.Corner + "]"
	}
	return name
}

func figure(of, name string, v float64, kind quantity.Kind, how string) Figure {
	return Figure{Of: of, Name: name, Value: v, Unit: kind.Unit(), How: how, kind: kind}
}

// Check is a value held against its limit.
type Check struct {
	Figure
	Limit   float64
	AtLeast bool    // the value must not be below the limit; otherwise not above it
	Margin  float64 // distance to the limit, negative when it is broken
	OK      bool
	Caution bool   // a broken limit calls for a measure, but the machine still fits
	Reason  string // why there is no finite value
	Cure    string // what would help, when it is broken

	More []Figure // what else is known of the same part, such as its life; further columns of the table
}

// atMost returns the check that f does not exceed limit.
func atMost(f Figure, limit float64, cure string) Check {
	return verdict(Check{Figure: f, Limit: limit, Margin: limit - f.Value, Cure: cure})
}

// atLeast returns the check that f does not fall below limit.
func atLeast(f Figure, limit float64, cure string) Check {
	return verdict(Check{Figure: f, Limit: limit, AtLeast: true, Margin: f.Value - limit, Cure: cure})
}

func verdict(c Check) Check {
	if math.IsInf(c.Value, 0) {
		c.Margin = math.Inf(-1)
	}
	c.OK = c.Margin >= 0
	return c
}

// Section answers one question about the machine.
type Section struct {
	Title    string // at its head in the text, "" for Key
	Key      string // motion, motors, mechanics, energy, supply, bank, any phase, locked, study, sensitivity, resistor, cables, mains, start-up, stops, rail, heat
	Question string
	Figures  []Figure
	Checks   []Check
	Notes    []string
}

func (s *Section) figure(f Figure)  { s.Figures = append(s.Figures, f) }
func (s *Section) check(c Check)    { s.Checks = append(s.Checks, c) }
func (s *Section) note(text string) { s.Notes = append(s.Notes, text) }
