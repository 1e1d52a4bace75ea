package energy

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Loading holds a value against the limit for it, both in the same unit. The zero
// value stands for a limit that is not given.
type Loading struct {
	Value  float64 // what occurs, a magnitude, >= 0
	Limit  float64 // what is permitted, > 0; 0: not given
	Margin float64 // Limit - Value; negative when the limit is exceeded
	Ratio  float64 // Value/Limit; 1 is fully loaded
}

// NewLoading holds a value, >= 0, against a fraction, above 0 and at most 1, of what
// a part can bear:
//
//	Limit = fraction · capability
//
// The fraction is the safety that a calculation by formula needs, the inverse of a
// safety factor. Usual is 0.8 of a screw's critical speed and 0.25 to 0.5 of a
// buckling load (common practice, no source); where a code or the consequences of a
// failure ask for another one, that holds.
func NewLoading(value, capability, fraction float64) (Loading, error) {
	var f profile.Faults
	f.NonNegative("value", value, "")
	f.Positive("capability", capability, "")
	if !(fraction >= smallest && fraction <= 1) {
		f.Add("fraction", fraction, "> 0 and at most 1")
	}
	if err := f.Err(); err != nil {
		return Loading{}, err
	}
	limit := fraction * capability
	if limit == 0 {
		f.Add("capability", capability, "a fraction above 0 that float64 can hold")
		return Loading{}, f.Err()
	}
	l := against(&f, "value", value, limit)
	return l, f.Err()
}

// Within reports whether the limit is kept; it is when none is given.
func (l Loading) Within() bool { return l.Limit == 0 || l.Value <= l.Limit }

// against returns the loading for a limit that may be 0, not given.
func against(f *profile.Faults, path string, value, limit float64) Loading {
	if limit == 0 {
		return Loading{}
	}
	l := Loading{Value: value, Limit: limit, Margin: limit - value, Ratio: value / limit}
	if math.IsInf(l.Ratio, 0) {
		f.Add(path, value, fmt.Sprintf("a ratio to its limit of %g that float64 can hold", limit))
		return Loading{}
	}
	return l
}
