package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// StationStop is what the controlled stop of one station does to the bus, at its worst
// over where in the station's cycle it begins. The axes of a station stop together;
// stations may each be at their own worst instant when all are stopped. Energies and
// powers are >= 0.
//
// With A(t) the integral of the station's power up to t after the stop began, and the
// maxima taken over all stops too,
type StationStop struct {
	Returned       float64 // max over t of -A(t) [J]
	Drawn          float64 // max over t of A(t) [J]
	ReturnedWithin float64 // max over t1 <= t2 of A(t1) - A(t2) [J], at least Returned
	DrawnWithin    float64 // max over t1 <= t2 of A(t2) - A(t1) [J], at least Drawn
	PeakReturned   float64 // highest returned power [W]
	PeakDrawn      float64 // highest power drawn [W], until the station rests and after
	Duration       float64 // of the longest stop [s]
	Rest           float64 // most power that the station draws once it rests [W]: standby, holding

	// Power over time of single stops [W], which are simulated: that which returns most
	// and that which draws most. Empty: the station is at rest.
	MostReturned, MostDrawn profile.Curve
}

func (s *StationStop) check(f *profile.Faults, path string) {
	at := func(field string) string { return profile.JoinPath(path, field) }
	f.NonNegative(at("returned"), s.Returned, "J")
	f.NonNegative(at("drawn"), s.Drawn, "J")
	f.NonNegative(at("peakReturned"), s.PeakReturned, "W")
	f.NonNegative(at("peakDrawn"), s.PeakDrawn, "W")
	f.NonNegative(at("duration"), s.Duration, "s")
	f.NonNegative(at("rest"), s.Rest, "W")
	if f.NonNegative(at("returnedWithin"), s.ReturnedWithin, "J") && s.ReturnedWithin < s.Returned*(1-stopTolerance) {
		f.Add(at("returnedWithin"), s.ReturnedWithin, fmt.Sprintf("at least what is returned from the start on, %g J", s.Returned))
	}
	if f.NonNegative(at("drawnWithin"), s.DrawnWithin, "J") && s.DrawnWithin < s.Drawn*(1-stopTolerance) {
		f.Add(at("drawnWithin"), s.DrawnWithin, fmt.Sprintf("at least what is drawn from the start on, %g J", s.Drawn))
	}
	for i, c := range [2]profile.Curve{s.MostReturned, s.MostDrawn} {
		if name := at([2]string{"mostReturned", "mostDrawn"}[i]); !(c.Duration() <= s.Duration*(1+stopTolerance)) {
			f.Add(name, c.Duration(), fmt.Sprintf("at most the duration of the longest stop, %g s", s.Duration))
		}
	}
}

// stopTolerance is by how much figures that two ways of calculation give may differ.
const stopTolerance = 1e-6

// stops is all stations together: their sums, and the longest duration.
type stops struct{ StationStop }

func (b Bus) checkStops(stations []StationStop, from float64) (s stops, err error) {
	var f profile.Faults
	f.Under("bus", b.Validate())
	if len(stations) == 0 {
		f.Add("stations", "none", "at least one station")
	}
	for i := range stations {
		k := &stations[i]
		k.check(&f, fmt.Sprintf("stations[%d]", i))
		s.Returned += k.Returned
		s.Drawn += k.Drawn
		s.ReturnedWithin += math.Max(k.Returned, k.ReturnedWithin)
		s.DrawnWithin += math.Max(k.Drawn, k.DrawnWithin)
		s.PeakReturned += k.PeakReturned
		s.PeakDrawn += math.Max(k.PeakDrawn, k.Rest)
		s.Rest += k.Rest
		s.Duration = math.Max(s.Duration, k.Duration)
	}
	if f.Positive("from", from, "V") && f.Err() == nil && !(s.ReturnedWithin+s.DrawnWithin+(s.PeakReturned+s.PeakDrawn+s.Rest)*s.Duration <= math.MaxFloat64) {
		f.Add("stations", "energies beyond the range of numbers", "finite sums")
	}
	return s, f.Err()
}

// stopLoad returns the sum of the stations' powers, each followed by what it draws at rest
// until the longest stop ends; the empty curve when all are at rest.
func stopLoad(stations []StationStop, of func(StationStop) profile.Curve) (profile.Curve, error) {
	longest := 0.0
	for _, s := range stations {
		longest = math.Max(longest, of(s).Duration())
	}
	if longest == 0 {
		return profile.Curve{}, nil
	}
	loads := make([]profile.Curve, len(stations))
	for i, s := range stations {
		c := of(s)
		c = c.Shift(-c.Start())
		if left := longest - c.Duration(); left > 0 {
			rest, err := profile.Constant(s.Rest, 0, left)
			if err != nil {
				return profile.Curve{}, err
			}
			c = profile.Concat(c, rest)
		}
		loads[i] = c
	}
	return profile.Sum(loads...)
}

func (b Bus) simulateStop(ctx context.Context, stations []StationStop, of func(StationStop) profile.Curve, from float64) (*Result, error) {
	load, err := stopLoad(stations, of)
	if err != nil || load.Pieces() == 0 {
		return nil, err
	}
	return b.Simulate(ctx, load, State{Voltage: from})
}
