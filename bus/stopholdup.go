package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// HoldUp is how long the bank alone carries the loads in a dip of the mains.
type HoldUp struct {
	Time    float64   // from the beginning of the dip until the bus may be below the under-voltage limit, at least [s]; 0 when it is not above it at all
	Endless bool      // the loads return as much as they draw, and the bank is large enough for their cycles; Time is zero
	Starts  []float64 // of each station, where in its cycle the dip begins in the worst case [s]
}

const (
	holdUpTolerance = 1e-7 // of the energy in hand
	holdUpSteps     = 20000
)

// HoldUp returns how long the bus stays above the under-voltage limit once nothing feeds it
// any more, from a voltage of the bank [V], with the given cycles of power, each of
// which repeats: of axes that go on moving, or that rest and take their standby, of
// logic and valves. Where in its cycle each station is when the dip begins is not known; the
// time holds for all. Take the lowest voltage of normal running. The bank is taken at
// its lowest capacitance.
//
// The stations draw at most D(L) = Σ max over T of ∫ from T to T+L of P in any window of
// length L, the leak of the bleeder counted, and the first window that takes the
// energy in hand is the shortest time of all:
//
//	C/2 from² e^(-b L) - D(L; b) = C/2 Vmin²,   b = 2/(R C)
//
// D grows no faster than the sum of the highest powers, so that from any L the step
//
//	L + (energy still in hand)/(highest powers + b C/2 from²)
//
// cannot pass the first solution; these steps come to it from below. So Time is a proven
// bound, 1e-7 of the energy in hand short of the solution or less unless the search takes
// more than 20000 steps. It is exact for one station; several may need their own
// time to meet. A brake resistor or clamp may take what is returned meanwhile, so that the
// lowest voltage at which one does counts as the voltage at the start, if it is lower. Series
// resistance weakens what is returned and strengthens what is drawn, see the package
// documentation; Time is then a bound to the safe side.
func (b Bus) HoldUp(ctx context.Context, stations []profile.Curve, from float64) (HoldUp, error) {
	var f profile.Faults
	b.Source = nil
	f.Under("bus", b.Validate())
	if !(b.UnderVoltage > 0) {
		f.Add("bus.underVoltage", b.UnderVoltage, "> 0 V, down to which the bus is to hold")
	}
	f.Positive("from", from, "V")
	checkCycles(&f, stations)
	if err := f.Err(); err != nil {
		return HoldUp{}, err
	}
	b = b.Low()
	cycles := StrictlyPeriodic(stations)
	d, rs, bleed, low := peaks(cycles), b.Bank.SeriesResistance, b.bleederCurrent(1), b.UnderVoltage
	start := math.Min(from, b.lowestDrain(stops{StationStop{PeakReturned: d.returned}}))
	end := low + rs*(d.drawn/low+bleed*low) // bank's, at which the bus may be at its limit
	l := line{
		leak:    2 * bleed / b.Bank.Capacitance,
		adverse: 1 + rs*(d.drawn/(low*low)+bleed),
		helpful: math.Max(0, 1-rs*(d.returned/(low*low)+bleed)),
	}
	es, err := l.weighted(ctx, cycles, 1)
	if err != nil {
		return HoldUp{}, err
	}
	whole := b.Bank.Energy(start)
	hand := whole - b.Bank.Energy(end)
	if !(hand > 0) {
		return HoldUp{Starts: make([]float64, len(stations))}, nil
	}
	mean, burst, most := 0.0, 0.0, l.leak*whole
	for _, e := range es {
		mean += e.mean
		burst += e.burst
		most += e.up
	}
	if l.leak == 0 && (most == 0 || mean <= 0 && burst < hand) {
		return HoldUp{Endless: true}, nil
	}
	h := HoldUp{Starts: make([]float64, len(stations))}
	for range holdUpSteps {
		left := whole*math.Exp(-l.leak*h.Time) - b.Bank.Energy(end)
		for i, e := range es {
			drawn, at := e.worst(h.Time)
			left -= drawn + e.mean*sigma(e.leak, h.Time)
			h.Starts[i] = positiveMod(at.end-h.Time, e.period)
		}
		next := h.Time + left/most
		if !(left > holdUpTolerance*hand && next > h.Time) {
			break
		}
		if err := ctx.Err(); err != nil {
			return HoldUp{}, err
		}
		if math.IsInf(next, 1) {
			return HoldUp{Endless: true}, nil
		}
		h.Time = next
	}
	return h, nil
}

func checkCycles(f *profile.Faults, stations []profile.Curve) {
	if len(stations) == 0 {
		f.Add("stations", "none", "at least one cycle")
	}
	for i, s := range stations {
		if s.Pieces() == 0 {
			f.Add(fmt.Sprintf("stations[%d]", i), "an empty curve", "a cycle of power over time")
		}
	}
}
