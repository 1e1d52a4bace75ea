package bus

import (
	"context"
	"math"

	"example.com/headroom/profile"
)

// StopSag is how far the bus falls while all stations are stopped.
type StopSag struct {
	From    float64 // voltage of the bank when the stop begins [V]
	Voltage float64 // that the bus does not fall below, however the stations meet [V]; 0: none is known
	Suffice bool    // whether the under-voltage limit is proven to be kept; false when there is no limit
	Result  *Result // all stations' MostDrawn at once; nil when all are at rest
}

// StopSag returns whether the energy of the bank brings all stations to rest, from a
// voltage of the bank [V] when the stop begins: take the lowest of normal running. Without
// a source the mains is gone; with one, the supply is still there. The bank is taken at
// its lowest capacitance and the source at low line.
//
// With all at its worst, and T the longest stop,
//
//	Vc² >= from² - 2/C (Σ Drawn + T Σ Rest + bleeder and series losses)
//
// where the bleeder takes at most V²/R at the highest voltage of the stop, and the series
// resistance at most Rs I² at the highest current at the lowest voltage. A brake resistor,
// a clamp or a battery may take away what was returned before, but not below a voltage of
// theirs: with them the stop counts from the lower of from and that voltage, and
// Σ DrawnWithin in the place of Σ Drawn. A source that feeds the bus only helps
// and is left out of the bound; Result has it.
//
// The drives are taken to hold to their ramps down to any voltage: below the limit
// they do not, and what then stops an axis is friction or its brake.
func (b Bus) StopSag(ctx context.Context, stations []StationStop, from float64) (StopSag, error) {
	s, err := b.checkStops(stations, from)
	if err != nil {
		return StopSag{}, err
	}
	b = b.Low()
	r := StopSag{From: from}
	top, err := b.StopRise(ctx, withoutSimulation(stations), from)
	if err != nil {
		return StopSag{}, err
	}
	c, rs := b.Bank.Capacitance, b.Bank.SeriesResistance
	bleeder := b.bleederCurrent(top.Voltage) * top.Voltage
	start, energy := from, s.Drawn
	if off := b.lowestDrain(s); !math.IsInf(off, 1) || b.Source != nil {
		if b.Source != nil {
			v := b.Source.NoLoadVoltage()
			off = math.Min(off, v-rs*s.PeakReturned/v)
		}
		start, energy = math.Max(0, math.Min(from, off)), s.DrawnWithin+b.delayed()
	}
	energy += s.Duration * (s.Rest + bleeder)
	// The losses are those at the voltage to which they lead.
	for low := start; low > 0; {
		amps := (math.Max(s.PeakDrawn, s.PeakReturned) + bleeder) / low
		square := start*start - 2/c*(energy+rs*amps*amps*s.Duration)
		// V² - Vc V + Rs P = 0, see the package documentation.
		under := square - 4*rs*(s.PeakDrawn+bleeder)
		if !(square > 0 && under >= 0) {
			break
		}
		v := (math.Sqrt(square) + math.Sqrt(under)) / 2
		if v >= low || rs == 0 {
			r.Voltage = math.Min(v, low)
			break
		}
		low = v - 1e-6*start
	}
	r.Suffice = b.UnderVoltage > 0 && r.Voltage >= b.UnderVoltage
	r.Result, err = b.simulateStop(ctx, stations, func(s StationStop) profile.Curve { return s.MostDrawn }, from)
	return r, err
}

// withoutSimulation returns the stations without the stops that would be simulated.
func withoutSimulation(stations []StationStop) []StationStop {
	out := make([]StationStop, len(stations))
	for i, s := range stations {
		s.MostReturned, s.MostDrawn = profile.Curve{}, profile.Curve{}
		out[i] = s
	}
	return out
}
