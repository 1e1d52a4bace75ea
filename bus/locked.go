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

// Delay is the range from which the start delay of a station is chosen.
type Delay struct {
	Earliest float64 // [s]
	Latest   float64 // >= Earliest; equal: it is fixed
}

func (d Delay) check(f *profile.Faults, path string) {
	if f.Finite(path+".earliest", d.Earliest, "s") && f.Finite(path+".latest", d.Latest, "s") && d.Latest < d.Earliest {
		f.Add(path+".latest", d.Latest, fmt.Sprintf("not before earliest, %g s", d.Earliest))
	}
}

// Phasing is a choice of start delays and what it brings.
type Phasing struct {
	Offsets []float64 // start delay of each station [s]
	Value   float64   // of the aim, in its unit

	Together  float64 // its value when every station starts as early as it may
	Worst     float64 // the worst that the same search found within the ranges
	Common    float64 // length of the common cycle [s]
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
// with steps in all of them at once around the best. With only one range to choose from,
// going over it once is all. It finds good offsets, not provably the best. The worst is sought in the same way, for the gain over
// what could have been; a bound for phasings that nobody controls is that of
// [Bus.AnyPhase].
//
// Sag and rise are those of the bus as it is: take [Bus.Low] or [Bus.High] for a corner.
func (b Bus) Lock(ctx context.Context, stations []LockedStation, aim Aim) (*Phasing, error) {
	var f profile.Faults
	f.Under("bus", b.Validate())
	s := locked{net: Network{Bus: b}, aim: aim}
	for i, st := range stations {
		path := fmt.Sprintf("stations[%d]", i)
		if st.Power.Pieces() == 0 {
			f.Add(path+".power", "an empty curve", "a cycle of power over time")
		}
		s.delays = append(s.delays, Delay{st.Earliest, st.Latest})
		s.delays[i].check(&f, path)
		s.stations = append(s.stations, Station{Axes: []AxisCycle{{Power: st.Power}}})
	}
	return s.lock(ctx, &f)
}

// Lock does what [Bus.Lock] does for a network, where each station has its axes at
// their feeders and a range for its start delay. Pauses of the stations are left out;
// sag and rise are those of the distribution point, and the power that of the axes.
func (n Network) Lock(ctx context.Context, stations []Station, delays []Delay, aim Aim) (*Phasing, error) {
	var f profile.Faults
	f.Under("", n.checkStations("stations", stations))
	if len(delays) != len(stations) {
		f.Add("delays", fmt.Sprintf("%d ranges", len(delays)), fmt.Sprintf("%d, one for each station", len(stations)))
	}
	for i, d := range delays {
		d.check(&f, fmt.Sprintf("delays[%d]", i))
	}
	s := locked{net: n, stations: stations, delays: delays, aim: aim}
	return s.lock(ctx, &f)
}

// lock searches, if nothing is wrong with what it is to search.
func (s *locked) lock(ctx context.Context, f *profile.Faults) (*Phasing, error) {
	if err := s.check(f); err != nil {
		return nil, err
	}
	start := make([]float64, len(s.delays))
	for i, d := range s.delays {
		start[i] = d.Earliest
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
	p := &Phasing{Offsets: best, Value: s.show(value), Together: s.show(together), Worst: s.show(math.Max(-worst, together)), Common: s.common, Evaluated: s.evaluated}
	return p, nil
}

// locked is the search; the first error is kept and ends it.
type locked struct {
	net       Network
	stations  []Station
	delays    []Delay
	aim       Aim
	common    float64 // length of the common cycle [s]
	evaluated int
	err       error
}

// check checks what concerns all stations, and finds their common cycle.
func (s *locked) check(f *profile.Faults) error {
	if s.aim < LeastSag || s.aim > LeastResistor {
		f.Add("aim", int(s.aim), "one of the aims")
	}
	if len(s.stations) < 2 {
		f.Add("stations", len(s.stations), "at least two")
	}
	if err := f.Err(); err != nil {
		return err
	}
	longest := 0.0
	for _, st := range s.stations {
		longest = math.Max(longest, st.Axes[0].Power.Duration())
	}
	for n := 1; n <= lockedCycles; n++ {
		if common := float64(n) * longest; s.fits(common) {
			s.common = common
			return nil
		}
	}
	f.Add("stations", "cycles without a common multiple", fmt.Sprintf("lengths that are whole parts of a common cycle of at most %d times the longest, %g s", lockedCycles, longest))
	return f.Err()
}

// fits reports whether every cycle is a whole part of the common one.
func (s *locked) fits(common float64) bool {
	for _, st := range s.stations {
		n := common / st.Axes[0].Power.Duration()
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
	loads, all, err := s.net.lineUp(s.stations, offsets, s.common)
	if err != nil {
		return 0, err
	}
	if s.aim == LeastPeak {
		return all.Max().V, nil
	}
	r, err := s.net.SettledCycle(ctx, loads)
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

// LineUp returns what stations that repeat without pause take at every node of the network
// from time 0 to a duration [s], as [Network.Simulate] takes it, and the sum of all. A cycle of station
// i begins at offsets[i] [s], of which there is one for each.
func (n Network) LineUp(stations []Station, offsets []float64, duration float64) (loads []profile.Curve, sum profile.Curve, err error) {
	var f profile.Faults
	f.Under("", n.checkStations("stations", stations))
	if len(offsets) != len(stations) {
		f.Add("offsets", fmt.Sprintf("%d", len(offsets)), fmt.Sprintf("%d, one for each station", len(stations)))
	}
	if err := f.Err(); err != nil {
		return nil, sum, err
	}
	return n.lineUp(stations, offsets, duration)
}

// lineUp is LineUp of what was checked before.
func (n Network) lineUp(stations []Station, offsets []float64, duration float64) ([]profile.Curve, profile.Curve, error) {
	nodes := 1 + len(n.Feeders)
	at := make([][]profile.Curve, nodes)
	for i, st := range stations {
		for _, a := range st.Axes {
			c, err := Periodic(a.Power, offsets[i], duration)
			if err != nil {
				return nil, profile.Curve{}, err
			}
			at[a.Feeder] = append(at[a.Feeder], c)
		}
	}
	loads := make([]profile.Curve, nodes)
	var there []profile.Curve
	for k, all := range at {
		if len(all) == 0 {
			continue
		}
		var err error
		if loads[k], err = profile.Sum(all...); err != nil {
			return nil, profile.Curve{}, fmt.Errorf("%w: %v", ErrRange, err)
		}
		there = append(there, loads[k])
	}
	sum, err := profile.Sum(there...)
	if err != nil {
		return nil, profile.Curve{}, fmt.Errorf("%w: %v", ErrRange, err)
	}
	return loads, sum, nil
}

// search returns the best offsets found, with sign -1 the worst, and the figure of merit
// times the sign.
func (s *locked) search(ctx context.Context, sign float64) ([]float64, float64) {
	of := func(x []float64) float64 { return sign * s.at(ctx, s.within(x)) }
	random := rand.New(rand.NewPCG(1, 2))
	var best []float64
	value := math.Inf(1)
	starts := lockedStarts
	if s.free() == 1 {
		starts = 1
	}
	for k := range starts {
		x := make([]float64, len(s.stations))
		for i, d := range s.delays {
			x[i] = d.Earliest
			if k > 0 {
				x[i] += random.Float64() * (d.Latest - d.Earliest)
			}
		}
		if v := s.descend(of, x); v < value && s.err == nil {
			best, value = x, v
		}
	}
	if s.err != nil || best == nil || s.free() == 1 {
		return best, value
	}
	return s.polish(of, best, value)
}

// free returns how many stations have a range to choose from.
func (s *locked) free() int {
	n := 0
	for _, d := range s.delays {
		if d.Latest > d.Earliest {
			n++
		}
	}
	return n
}

// within puts offsets back into their ranges.
func (s *locked) within(x []float64) []float64 {
	in := make([]float64, len(x))
	for i, d := range s.delays {
		in[i] = math.Max(d.Earliest, math.Min(d.Latest, x[i]))
	}
	return in
}

// descend improves x in place, one station after another, until a round brings nothing.
func (s *locked) descend(of func([]float64) float64, x []float64) float64 {
	value := of(x)
	for range lockedRounds {
		before := value
		for i, d := range s.delays {
			width := d.Latest - d.Earliest
			if width == 0 {
				continue
			}
			keep := x[i]
			for k := range lockedGrid + 1 {
				x[i] = d.Earliest + width*float64(k)/lockedGrid
				if v := of(x); v < value {
					value, keep = v, x[i]
				}
			}
			for step := width / lockedGrid / 2; step > 1e-4*width; step /= 2 {
				for _, way := range []float64{-1, 1} {
					x[i] = math.Max(d.Earliest, math.Min(d.Latest, keep+way*step))
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
		if s.free() == 1 || !(value < before-1e-9*math.Abs(before)) {
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
		for i, d := range s.delays {
			x[i] = best[i] + step*(d.Latest-d.Earliest)*random.NormFloat64()
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
