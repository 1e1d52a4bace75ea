package bus

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"example.com/headroom/profile"
)

// Aim is what the offsets of stations that can be locked to each other are to improve.
type Aim int

// Aims.
const (
	LeastSag      Aim = iota // the lowest bus voltage as high as possible [V]
	LeastRise                // the highest bus voltage as low as possible [V]
	LeastPeak                // the highest sum of the stations' powers as low as possible [W]
	LeastResistor            // as little energy as possible into the brake resistors [J per common cycle]
)

var aimNames = [...]string{"least sag", "least rise", "least peak power", "least energy in the brake resistors"}

// String returns the aim in words.
func (a Aim) String() string {
	if a < 0 || int(a) >= len(aimNames) {
		return "unknown aim"
	}
	return aimNames[a]
}

// LockedStation is a station whose start can be chosen.
type LockedStation struct {
	Power    profile.Curve // over one cycle [W]
	Earliest float64       // start delay from which [s]
	Latest   float64       // to which it may be chosen [s], >= Earliest; equal: it is fixed
}

// Phasing is a choice of start delays and what it brings.
type Phasing struct {
	Offsets []float64 // start delay of each station [s]
	Value   float64   // of the aim, in its unit

	Together  float64 // its value when every station starts as early as it may
	Worst     float64 // the worst that the same search found within the ranges
	Evaluated int     // phasings tried
}

// Bounds of the search for offsets.
const (
	lockedCycles = 64  // longest common cycle, in cycles of the station with the longest one
	lockedGrid   = 24  // places tried on each range in turn
	lockedStarts = 4   // places from which it starts
	lockedRounds = 8   // over all stations from each
	lockedPolish = 200 // phasings tried at the end around the best one
)

// Lock searches the start delays of stations that are locked to each other, each within
// its range, that serve an aim best. The cycles' lengths have to be whole parts of a
// common cycle of at most 64 of the longest; the bus is computed in the state into which
// it settles over it.
//
// The search goes over the range of one station after another in steps of a 24th,
// narrows in on the best, starts from several places, the same ones each time, and ends
// with steps in all of them at once around the best. It finds good offsets, not provably
// the best. The worst is sought in the same way, for the gain over
// what could have been; a bound for phasings that nobody controls is that of
// [Bus.AnyPhase].
//
// Sag and rise are those of the bus as it is: take [Bus.Low] or [Bus.High] for a corner.
func (b Bus) Lock(ctx context.Context, stations []LockedStation, aim Aim) (*Phasing, error) {
	s, err := b.newLocked(stations, aim)
	if err != nil {
		return nil, err
	}
	start := make([]float64, len(stations))
	for i, st := range stations {
		start[i] = st.Earliest
	}
	together := s.at(ctx, start)
	best, value := s.search(ctx, 1)
	_, worst := s.search(ctx, -1)
	if s.err != nil {
		return nil, fmt.Errorf("offsets: %w", s.err)
	}
	if together <= value { // no worse than the plain choice
		best, value = start, together
	}
	p := &Phasing{Offsets: best, Value: s.show(value), Together: s.show(together), Worst: s.show(math.Max(-worst, together)), Evaluated: s.evaluated}
	return p, nil
}

// locked is the search; the first error is kept and ends it.
type locked struct {
	bus       Bus
	stations  []LockedStation
	aim       Aim
	common    float64 // length of the common cycle [s]
	evaluated int
	err       error
}

func (b Bus) newLocked(stations []LockedStation, aim Aim) (*locked, error) {
	var f profile.Faults
	f.Under("bus", b.Validate())
	if aim < LeastSag || aim > LeastResistor {
		f.Add("aim", int(aim), "one of the aims")
	}
	if len(stations) < 2 {
		f.Add("stations", len(stations), "at least two")
	}
	longest := 0.0
	for i, s := range stations {
		path := fmt.Sprintf("stations[%d]", i)
		if s.Power.Pieces() == 0 {
			f.Add(path+".power", "an empty curve", "a cycle of power over time")
		}
		if f.Finite(path+".earliest", s.Earliest, "s") && f.Finite(path+".latest", s.Latest, "s") && s.Latest < s.Earliest {
			f.Add(path+".latest", s.Latest, fmt.Sprintf("not before earliest, %g s", s.Earliest))
		}
		longest = math.Max(longest, s.Power.Duration())
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	s := &locked{bus: b, stations: stations, aim: aim}
	for n := 1; n <= lockedCycles; n++ {
		if common := float64(n) * longest; s.fits(common) {
			s.common = common
			return s, nil
		}
	}
	f.Add("stations", "cycles without a common multiple", fmt.Sprintf("lengths that are whole parts of a common cycle of at most %d times the longest, %g s", lockedCycles, longest))
	return nil, f.Err()
}

// fits reports whether every cycle is a whole part of the common one.
func (s *locked) fits(common float64) bool {
	for _, st := range s.stations {
		n := common / st.Power.Duration()
		if math.Abs(n-math.Round(n)) > 1e-9*n {
			return false
		}
	}
	return true
}

// show turns the figure of merit, small where it is good, into that of the aim.
func (s *locked) show(v float64) float64 {
	if s.aim == LeastSag {
		return -v
	}
	return v
}

// at returns the figure of merit of offsets, +Inf after an error.
func (s *locked) at(ctx context.Context, offsets []float64) float64 {
	if s.err == nil {
		s.err = ctx.Err()
	}
	if s.err != nil {
		return math.Inf(1)
	}
	s.evaluated++
	v, err := s.evaluate(ctx, offsets)
	if err != nil {
		s.err = err
		return math.Inf(1)
	}
	return v
}

func (s *locked) evaluate(ctx context.Context, offsets []float64) (float64, error) {
	loads := make([]profile.Curve, len(s.stations))
	for i, st := range s.stations {
		var err error
		if loads[i], err = Periodic(st.Power, offsets[i], s.common); err != nil {
			return 0, err
		}
	}
	load, err := profile.Sum(loads...)
	if err != nil {
		return 0, fmt.Errorf("%w: %v", ErrRange, err)
	}
	if s.aim == LeastPeak {
		return load.Max().V, nil
	}
	r, err := s.bus.SettledCycle(ctx, load)
	if err != nil {
		return 0, err
	}
	switch s.aim {
	case LeastRise:
		return r.Highest.V, nil
	case LeastResistor:
		return r.Energies.Resistor / float64(r.Periods), nil
	}
	if r.Collapsed {
		return 0, nil
	}
	return -r.Lowest.V, nil
}

// search returns the best offsets found, with sign -1 the worst, and the figure of merit
// times the sign.
func (s *locked) search(ctx context.Context, sign float64) ([]float64, float64) {
	of := func(x []float64) float64 { return sign * s.at(ctx, s.within(x)) }
	random := rand.New(rand.NewPCG(1, 2))
	var best []float64
	value := math.Inf(1)
	for k := range lockedStarts {
		x := make([]float64, len(s.stations))
		for i, st := range s.stations {
			x[i] = st.Earliest
			if k > 0 {
				x[i] += random.Float64() * (st.Latest - st.Earliest)
			}
		}
		if v := s.descend(of, x); v < value && s.err == nil {
			best, value = x, v
		}
	}
	if s.err != nil || best == nil {
		return best, value
	}
	return s.polish(of, best, value)
}

// within puts offsets back into their ranges.
func (s *locked) within(x []float64) []float64 {
	in := make([]float64, len(x))
	for i, st := range s.stations {
		in[i] = math.Max(st.Earliest, math.Min(st.Latest, x[i]))
	}
	return in
}

// descend improves x in place, one station after another, until a round brings nothing.
func (s *locked) descend(of func([]float64) float64, x []float64) float64 {
	value := of(x)
	for range lockedRounds {
		before := value
		for i, st := range s.stations {
			width := st.Latest - st.Earliest
			if width == 0 {
				continue
			}
			keep := x[i]
			for k := range lockedGrid + 1 {
				x[i] = st.Earliest + width*float64(k)/lockedGrid
				if v := of(x); v < value {
					value, keep = v, x[i]
				}
			}
			for step := width / lockedGrid / 2; step > 1e-4*width; step /= 2 {
				for _, way := range []float64{-1, 1} {
					x[i] = math.Max(st.Earliest, math.Min(st.Latest, keep+way*step))
					if v := of(x); v < value {
						value, keep = v, x[i]
					}
				}
			}
			x[i] = keep
			if s.err != nil {
				return math.Inf(1)
			}
		}
		if !(value < before-1e-9*math.Abs(before)) {
			break
		}
	}
	return value
}

// polish seeks around the best offsets in all of them at once, in random directions and
// ever shorter steps.
func (s *locked) polish(of func([]float64) float64, best []float64, value float64) ([]float64, float64) {
	random := rand.New(rand.NewPCG(3, 4))
	step := 0.5 / lockedGrid
	for range lockedPolish {
		x := make([]float64, len(best))
		for i, st := range s.stations {
			x[i] = best[i] + step*(st.Latest-st.Earliest)*random.NormFloat64()
		}
		x = s.within(x)
		if v := of(x); v < value {
			best, value = x, v
			continue
		}
		step *= 0.97
	}
	return best, value
}
