package bus

import (
	"math"

	"example.com/headroom/profile"
)

// Contacts are those through which a cable is plugged, in one direction.
type Contacts struct {
	Rated      float64 // current that one contact carries in use, as its maker derates it for ambient and neighbours [A], > 0
	Parallel   int     // side by side, 0: one
	Share      float64 // of the current that the most loaded of several carries, over an even share, >= 1; 0: 1.25
	Resistance float64 // of one contact [ohm], >= 0
}

// unevenShare is how much more than an even share one of several contacts in
// parallel may carry, where nothing better is known (common practice, no source).
const unevenShare = 1.25

// Validate returns nil, or an error that joins the faults of the fields.
func (c Contacts) Validate() error {
	var f profile.Faults
	f.Positive("rated", c.Rated, "A")
	if c.Parallel < 0 || c.Parallel > 1000 {
		f.Add("parallel", c.Parallel, "from 1 to 1000, or 0 for one")
	}
	if c.Share != 0 && !(c.Share >= 1 && c.Share <= math.Max(1, float64(c.Parallel))) {
		f.Add("share", c.Share, "from 1 to the number of contacts, or 0")
	}
	f.NonNegative("resistance", c.Resistance, "ohm")
	return f.Err()
}

// Permitted returns the current that all contacts together carry [A].
func (c Contacts) Permitted() float64 {
	n := math.Max(1, float64(c.Parallel))
	share := c.Share
	if share == 0 {
		share = math.Min(n, unevenShare)
	}
	if n == 1 {
		share = 1
	}
	return c.Rated * n / share
}

// Pair returns what the contacts of both directions add to the resistance of the
// cable [ohm].
func (c Contacts) Pair() float64 { return 2 * c.Resistance / math.Max(1, float64(c.Parallel)) }
