package bus

import (
	"context"
	"math"

	"example.com/headroom/profile"
)

// StopRise is how far the bus rises when all stations are stopped.
type StopRise struct {
	From     float64 // voltage of the bank when the stop begins [V]
	Voltage  float64 // that the bus does not exceed, however the stations meet [V]
	Resistor float64 // that brake resistors and clamp do not exceed together in one stop [J]; 0 without any
	Result   *Result // all stations' MostReturned at once; nil when all are at rest
}

// StopRise returns how far the bus rises when all stations stop, from a voltage of the bank
// [V] when the stop begins: take the highest of normal running. Without a source the bus
// is disconnected; with one, the supply is still there. The bank is taken at its lowest
// capacitance and the source at high line.
//
// Whatever drains the bus, series resistance included, C/2 d(Vc²)/dt <= -P, so that
//
//	Vc² <= from² + 2 Σ Returned/C                         without a source
//	Vc² <= max(from, threshold)² + 2 Σ ReturnedWithin/C   with one
//
// The threshold is the voltage above which the source delivers nothing, and the part counts
// that follows its last delivery. The bus is at most above the bank by what
// the highest returned power drops in the series resistance Rs,
//
//	V = (Vc + √(Vc² + 4 Rs Σ PeakReturned))/2
//
// Where all brake resistors together take the highest returned power at the highest of
// their on thresholds, and the bank has no series resistance, the bus stops there, later
// by the longest delay. Otherwise the bound leaves brake resistors and clamp out, and
// Result, with them in it, says what they achieve for the stops that return most.
//
// What resistors and clamp burn is at most, from the balance up to the instant at which
// the last one stops,
//
//	Σ Returned + C/2 (from² - off²)   without a source, off the lowest voltage at which one is on
//	Σ PeakReturned · duration + the same with the higher of from and threshold
//
// of which the lesser that holds.
func (b Bus) StopRise(ctx context.Context, stations []StationStop, from float64) (StopRise, error) {
	s, err := b.checkStops(stations, from)
	if err != nil {
		return StopRise{}, err
	}
	b = b.High()
	r := StopRise{From: from}
	c, rs := b.Bank.Capacitance, b.Bank.SeriesResistance
	start, energy := from, s.Returned
	if b.Source != nil {
		v := b.Source.NoLoadVoltage()
		start = math.Max(from, v+rs*(s.PeakDrawn/v+b.bleederCurrent(v)))
		energy = s.ReturnedWithin
	}
	x := math.Sqrt(start*start + 2*energy/c)
	if v, holds := b.brakesHold(s, start); holds {
		x = math.Min(x, v)
	}
	r.Voltage = (x + math.Sqrt(x*x+4*rs*s.PeakReturned)) / 2

	if off := b.lowestDrain(s); !math.IsInf(off, 1) {
		stored := math.Max(0, c/2*(start-off)*(start+off)) + b.delayed()
		r.Resistor = s.PeakReturned*s.Duration + stored
		if b.Source == nil {
			r.Resistor = math.Min(r.Resistor, s.Returned+stored)
		}
	}
	if !(r.Voltage+r.Resistor <= math.MaxFloat64) {
		var f profile.Faults
		f.Add("stations", "energies beyond the range of numbers", "a voltage that float64 can hold")
		return StopRise{}, f.Err()
	}
	r.Result, err = b.simulateStop(ctx, stations, func(s StationStop) profile.Curve { return s.MostReturned }, from)
	return r, err
}

// brakesHold returns the voltage at which the brake resistors alone stop the rise of a bank
// without series resistance, if they do.
func (b Bus) brakesHold(s stops, start float64) (float64, bool) {
	on, g, delay := start, 0.0, 0.0
	for _, r := range b.Brakes {
		on = math.Max(on, r.OnVoltage)
		g += 1 / r.Resistance
		delay = math.Max(delay, r.Delay)
	}
	v := math.Sqrt(on*on + 2*s.PeakReturned*delay/b.Bank.Capacitance)
	return v, g > 0 && b.Bank.SeriesResistance == 0 && s.PeakReturned <= g*on*on
}

// lowestDrain returns the lowest voltage of the bank at which a brake resistor or the clamp
// takes energy, but for the delays of the resistors [V].
func (b Bus) lowestDrain(s stops) float64 {
	v := b.lowestOff()
	if b.Clamp != nil {
		v = math.Min(v, b.Clamp.Voltage)
	}
	if math.IsInf(v, 1) {
		return v
	}
	return math.Max(0, v-b.Bank.SeriesResistance*s.PeakReturned/v)
}

// delayed returns the most energy [J] that brake resistors still take from a bus that has
// fallen below their off thresholds.
func (b Bus) delayed() float64 {
	w := 0.0
	for _, r := range b.Brakes {
		w += r.OffVoltage * r.OffVoltage / r.Resistance * r.Delay
	}
	return w
}
