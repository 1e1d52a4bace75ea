package bus

import (
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// DefaultPulseShare is the share of a fuse's melting I²t that a pulse may bring,
// when it comes again and again over the life of the machine: 0.2 (common
// practice, no source; the maker's table of pulse cycles decides).
const DefaultPulseShare = 0.2

// Withstand returns the I²t that the wires of the cable in parallel bear in a
// short, k² S² [A²s], with k [A·√s/m²] of Adiabatic.K in package thermal. The
// current divides evenly among them: keep them of one length, and ended together.
func (c Cable) Withstand(k float64) (float64, error) {
	var f profile.Faults
	f.Under("", c.Validate())
	f.Positive("k", k, "A·√s/m²")
	if err := f.Err(); err != nil {
		return 0, err
	}
	s := k * c.Wire.Section * float64(c.Parallel)
	if needFinite(&f, "k", k, s*s); f.Err() != nil {
		return 0, f.Err()
	}
	return s * s, nil
}

// HighestI2t returns the highest I²t within any window of the given length [s] of
// a current [A] that is repeated for ever: the heat that pulses of normal running
// bring to a fuse. The window is the time within which the fuse lets no heat go,
// about 10 ms (common practice, no source); a longer one is on the safe side.
func HighestI2t(current profile.Curve, window float64) (float64, error) {
	var f profile.Faults
	period := current.Duration()
	if !(period > 0) {
		f.Add("current", "no duration", "a curve of at least one piece")
	}
	f.Positive("window", window, "s")
	if err := f.Err(); err != nil {
		return 0, err
	}
	square, err := profile.Product(current, current)
	if err != nil {
		return 0, err
	}
	w, err := profile.NewWindows(square)
	if err != nil {
		return 0, err
	}
	i2t, _, err := w.Most(window)
	if err != nil {
		f.Add("window", window, "a window and a current of finite I²t")
		return 0, f.Err()
	}
	return i2t, nil
}

// FuseDemand is what a place in the circuit asks of a fuse.
type FuseDemand struct {
	RMS       float64 // current of normal running [A], >= 0
	PulseI2t  float64 // highest I²t of a pulse of normal running [A²s], >= 0, see [HighestI2t]
	Voltage   float64 // highest of the bus [V], > 0
	Short     float64 // peak of the prospective current of a short [A], > 0, see [ShortFigures]; add what the source delivers
	ShortI2t  float64 // I²t that the short delivers without a fuse [A²s], > 0
	Withstand float64 // I²t that what is protected bears [A²s], see [Cable.Withstand]; 0: nothing
}

// Validate returns nil, or an error that joins the faults of the fields.
func (d FuseDemand) Validate() error {
	var f profile.Faults
	f.NonNegative("rms", d.RMS, "A")
	f.NonNegative("pulseI2t", d.PulseI2t, "A²s")
	f.Positive("voltage", d.Voltage, "V")
	f.Positive("short", d.Short, "A")
	f.Positive("shortI2t", d.ShortI2t, "A²s")
	f.NonNegative("withstand", d.Withstand, "A²s")
	return f.Err()
}

// Fuse is a fuse in the path of the direct current. All figures are those for
// direct current: fuses and breakers need a rating for it, at the voltage and
// the time constant of the circuit; an alternating-current rating says nothing.
// Which protection is required, and where, local codes decide.
type Fuse struct {
	RatedCurrent     float64 // [A], > 0
	Derating         float64 // share of RatedCurrent that holds in the ambient and mounting of the machine [1], above 0 to 1
	MeltingI2t       float64 // pre-arcing [A²s], > 0
	ClearingI2t      float64 // melting and arcing, at the voltage of the bus [A²s], >= MeltingI2t
	RatedVoltage     float64 // for direct current [V], > 0
	BreakingCapacity float64 // for direct current [A], > 0
	PulseShare       float64 // share of MeltingI2t that a pulse may bring [1], above 0 to 1; 0: DefaultPulseShare
}

// Validate returns nil, or an error that joins the faults of the fields.
func (u Fuse) Validate() error {
	var f profile.Faults
	f.Positive("ratedCurrent", u.RatedCurrent, "A")
	if !(u.Derating > 0 && u.Derating <= 1) {
		f.Add("derating", u.Derating, "> 0 and <= 1")
	}
	melting := f.Positive("meltingI2t", u.MeltingI2t, "A²s")
	if f.Positive("clearingI2t", u.ClearingI2t, "A²s") && melting && !(u.ClearingI2t >= u.MeltingI2t) {
		f.Add("clearingI2t", u.ClearingI2t, "at least meltingI2t")
	}
	f.Positive("ratedVoltage", u.RatedVoltage, "V")
	f.Positive("breakingCapacity", u.BreakingCapacity, "A")
	f.Within("pulseShare", u.PulseShare, 0, 1, "")
	return f.Err()
}

// FuseLoading is a fuse held against the demand of its place.
type FuseLoading struct {
	Continuous energy.Loading // RMS current [A] against rated current · derating
	Pulse      energy.Loading // I²t of pulses [A²s] against melting I²t · share: beyond, it ages and opens in normal running
	Voltage    energy.Loading // highest bus voltage [V] against the rated one
	Breaking   energy.Loading // prospective peak [A] against the breaking capacity
	LetThrough energy.Loading // what passes in a short [A²s] against what the cable bears; empty when no withstand is given

	// Melting holds the fuse's melting I²t [A²s] against that of the short: beyond,
	// the bank is empty before the fuse has melted, and what the source delivers
	// must open it.
	Melting energy.Loading
}

// Within reports whether every limit is kept and the short melts the fuse.
func (l FuseLoading) Within() bool {
	return l.Continuous.Within() && l.Pulse.Within() && l.Voltage.Within() && l.Breaking.Within() && l.LetThrough.Within() && l.Melting.Within()
}

// Loading holds the fuse against a demand. What it lets through in a short is its
// clearing I²t, or that of the short when that is less.
func (u Fuse) Loading(d FuseDemand) (FuseLoading, error) {
	var f profile.Faults
	f.Under("fuse", u.Validate())
	f.Under("demand", d.Validate())
	if err := f.Err(); err != nil {
		return FuseLoading{}, err
	}
	share := u.PulseShare
	if share == 0 {
		share = DefaultPulseShare
	}
	var l FuseLoading
	for _, x := range []struct {
		to                          *energy.Loading
		path                        string
		value, capability, fraction float64
	}{
		{&l.Continuous, "demand.rms", d.RMS, u.RatedCurrent, u.Derating},
		{&l.Pulse, "demand.pulseI2t", d.PulseI2t, u.MeltingI2t, share},
		{&l.Voltage, "demand.voltage", d.Voltage, u.RatedVoltage, 1},
		{&l.Breaking, "demand.short", d.Short, u.BreakingCapacity, 1},
		{&l.LetThrough, "demand.withstand", math.Min(u.ClearingI2t, d.ShortI2t), d.Withstand, 1},
		{&l.Melting, "demand.shortI2t", u.MeltingI2t, d.ShortI2t, 1},
	} {
		if x.capability == 0 {
			continue // no withstand given
		}
		var err error
		*x.to, err = energy.NewLoading(x.value, x.capability, x.fraction)
		f.Under(x.path, err)
	}
	if err := f.Err(); err != nil {
		return FuseLoading{}, err
	}
	return l, nil
}
