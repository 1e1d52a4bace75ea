package sizing

import (
	"context"
	"fmt"

	"example.com/headroom/profile"
)

// Carried is how many of one station a machine carries when nobody controls how their
// cycles line up.
type Carried struct {
	Station string
	UpTo    int // highest number that was looked at
	// Most keeps every limit of the machine and one more does not; UpTo where not even that
	// breaks one, 0 where one alone does.
	Most   int
	Limits []Limit       // that Most + 1 break; none when Most is UpTo
	Steps  []CarriedStep // the numbers that were looked at, ascending
}

// Copies asks how many of a station a machine carries.
type Copies struct {
	Station string
	UpTo    int // to look at, 1 to 200
}

// CarriedStep is the machine with one number of the station.
type CarriedStep struct {
	Number          int
	Fits            bool
	Lowest, Highest float64 // of the bus, bounds as in [BusResult] [V]
	MeanPower       float64 // [W]
}

// Limit is a limit that is not kept.
type Limit struct {
	Section string // its key
	Check
}

// Carries returns how many of one station the machine carries; its other stations stay. Each number is assessed as a machine of its own,
// with everything that [Machine.WithCopies] brings along, so the answer keeps every limit of the
// assessment: that of the bus for every phase of the cycles, and those of supply, brake
// resistor, stops, start-up and discharge. A number is found by doubling and then halving:
// Most fits and Most + 1 does not.
func (m *Machine) Carries(ctx context.Context, q Copies) (*Carried, error) {
	station, upTo := q.Station, q.UpTo
	if upTo < 1 || upTo > mostCopies {
		var f profile.Faults
		f.Add("upTo", upTo, fmt.Sprintf("from 1 to %d", mostCopies))
		return nil, f.Err()
	}
	c := &Carried{Station: station, UpTo: upTo}
	try := func(n int) (bool, error) {
		with, err := m.WithCopies(station, n)
		if err != nil {
			return false, err
		}
		a, err := Assess(ctx, with)
		if err != nil {
			return false, err
		}
		c.add(n, a)
		return a.Fits, nil
	}
	fits, broken := 0, upTo+1
	for n := 1; fits < upTo && broken > upTo; n = min(2*n, upTo) {
		ok, err := try(n)
		if err != nil {
			return nil, err
		}
		if ok {
			fits = n
		} else {
			broken = n
		}
	}
	for broken-fits > 1 {
		n := fits + (broken-fits)/2
		ok, err := try(n)
		if err != nil {
			return nil, err
		}
		if ok {
			fits = n
		} else {
			broken = n
		}
	}
	c.Most = fits
	return c, nil
}

const mostCopies = 200

// add notes an assessment with n of the station.
func (c *Carried) add(n int, a *Assessment) {
	at := 0
	for at < len(c.Steps) && c.Steps[at].Number < n {
		at++
	}
	step := CarriedStep{n, a.Fits, a.Bus.Lowest, a.Bus.Highest, a.Bus.MeanPower}
	c.Steps = append(c.Steps[:at], append([]CarriedStep{step}, c.Steps[at:]...)...)
	if !a.Fits { // by fewer each time
		c.Limits = a.broken()
	}
}

// broken returns the limits that are not kept.
func (a *Assessment) broken() []Limit {
	var out []Limit
	for _, s := range a.Sections {
		for _, c := range s.Checks {
			if !c.OK && !c.Caution {
				out = append(out, Limit{s.Key, c})
			}
		}
	}
	return out
}
