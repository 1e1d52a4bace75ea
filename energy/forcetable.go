package energy

import (
	"fmt"
	"math"
	"sort"

	"example.com/headroom/profile"
)

// ForceTable is a force against position: straight lines between the points, the
// first and the last value beyond them. Two points at one position make a step; a load
// at rest on that very position has the force of the first.
//
// The force is a function of position alone, so what it takes on the way out it gives
// back on the way back. A process that resists one way only is a force against time,
// or friction of one direction.
type ForceTable struct {
	Position []float64 // of the load [m | rad], ascending, at least 2; two may be equal
	Force    []float64 // force at each of them [N | N·m]
}

// Validate returns nil, or an error that joins one fault for every value outside its
// range.
func (t ForceTable) Validate() error {
	var f profile.Faults
	if len(t.Position) < 2 || len(t.Position) != len(t.Force) {
		f.Add("position", fmt.Sprintf("%d positions for %d forces", len(t.Position), len(t.Force)), "as many as forces, at least 2")
		return f.Err()
	}
	for i, x := range t.Position {
		at := func(field string) string { return fmt.Sprintf("%s[%d]", field, i) }
		if !(math.Abs(x) <= largest) {
			checkFinite(&f, at("position"), x, "m or rad")
			continue
		}
		if !(math.Abs(t.Force[i]) <= largest) {
			checkFinite(&f, at("force"), t.Force[i], "N or N·m")
			continue
		}
		if i == 0 || !(math.Abs(t.Position[i-1]) <= largest && math.Abs(t.Force[i-1]) <= largest) {
			continue
		}
		switch before := t.Position[i-1]; {
		case x < before:
			f.Add(at("position"), x, fmt.Sprintf("at least %g, the one before it", before))
		case x == before && i > 1 && t.Position[i-2] == x:
			f.Add(at("position"), x, "at most two equal positions, which make a step")
		case x > before && !(math.Abs(t.Force[i]-t.Force[i-1]) <= largest*(x-before)):
			f.Add(at("position"), x, fmt.Sprintf("a slope of at most %g, or a step by two equal positions", largest))
		}
	}
	return f.Err()
}

// segment is a straight line of a force table: force + slope (x - at).
type segment struct{ at, force, slope float64 }

func (s segment) value(x float64) float64 { return s.force + s.slope*(x-s.at) }

// segment returns the line that holds at a position, none of the breaks.
func (t *ForceTable) segment(x float64) segment {
	n := len(t.Position)
	i := sort.SearchFloat64s(t.Position, x) // the first point at or after x
	switch {
	case n == 0:
		return segment{}
	case i == 0:
		return segment{t.Position[0], t.Force[0], 0}
	case i == n:
		return segment{t.Position[n-1], t.Force[n-1], 0}
	}
	x0, x1 := t.Position[i-1], t.Position[i]
	return segment{x0, t.Force[i-1], (t.Force[i] - t.Force[i-1]) / (x1 - x0)}
}

// between returns the positions of the breaks strictly between two positions.
func (t *ForceTable) between(lo, hi float64) []float64 {
	i := sort.Search(len(t.Position), func(i int) bool { return t.Position[i] > lo })
	j := sort.SearchFloat64s(t.Position, hi)
	if i >= j {
		return nil
	}
	return t.Position[i:j]
}
