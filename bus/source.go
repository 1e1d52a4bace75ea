package bus

import (
	"fmt"

	"example.com/headroom/profile"
)

// Source is a supply: it feeds the bus and, unless it is a [Battery], takes
// nothing back. The kinds are [Resistive], [SwitchMode], [Battery], [AveragedRectifier]
// and, for several side by side, [Parallel].
type Source interface {
	// Validate returns nil, or an error that joins the faults of the fields.
	Validate() error
	// Low returns the source at the lowest line or set-point voltage, the corner
	// for sag, with no tolerance left.
	Low() Source
	// High returns it at the highest, the corner for rise.
	High() Source
	// NoLoadVoltage returns the voltage [V] above which the source delivers
	// nothing.
	NoLoadVoltage() float64
	// Current returns what the source delivers into a bus held at v [V], in A.
	// Where the current is undetermined (a regulated source at its set point)
	// it is the largest.
	Current(v float64) float64
	// strongest returns the most power the source can deliver [W].
	strongest() float64
	// sagLine bounds from below what the source does to the energy of the bank, by
	// one of a family of lines told apart by reach, from 0 to 1.
	sagLine(b Bus, d demand, low, bank, reach float64) sagLine
	// sagLines returns values of reach that are worth trying.
	sagLines() []float64
	// characteristic returns the pieces of the current over voltage, from high
	// voltage to low, without gaps, starting with the one that reaches to
	// infinity.
	characteristic() []segment
}

// supplies returns the single supplies that a source consists of.
func supplies(s Source) []Source {
	switch s := s.(type) {
	case nil:
		return nil
	case Parallel:
		return s
	}
	return []Source{s}
}

// checkSource adds the faults of a source. One given by a pointer is refused: the
// kinds are told apart by their types.
func checkSource(f *profile.Faults, path string, s Source) {
	switch s := s.(type) {
	case Resistive, SwitchMode, Battery, AveragedRectifier, Parallel:
		f.Under(path, s.Validate())
	case nil:
		f.Add(path, nil, "a source")
	default:
		f.Add(path, fmt.Sprintf("a %T", s), "one of the kinds of source, by value")
	}
}

func checkTolerance(f *profile.Faults, path string, v float64) {
	if !(v >= 0 && v < 1) {
		f.Add(path, v, "from 0 to below 1")
	}
}
