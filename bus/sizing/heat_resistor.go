package sizing

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/bus"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// ResistorRating is what a brake resistor bears beside its continuous power.
type ResistorRating struct {
	// Derating is the straight line on which the power of the resistor falls from its
	// continuous rating to nothing. Zero is then the temperature that the resistor itself has
	// at any point of the line. The zero value leaves it out.
	RatedAmbient float64 // up to which Continuous holds [°C]
	NoPowerAt    float64 // in which no power is left [°C], > RatedAmbient; 0: not given

	TimeConstant float64              // of its warming [s], 0: not given
	Pulses       []thermal.PulsePoint // energy of a pulse against its duration; empty: not given
}

// ResistorHeat is a brake resistor held against its ratings.
type ResistorHeat struct {
	Ambient     float64             // around it [°C]
	Temperature float64             // settled under its mean power [°C]; 0: not known
	Share       float64             // of its ratings that holds in that ambient
	Burst       float64             // the shortest that one burst may be: all of it at full power [s]
	Train       *thermal.PulseTrain // what it burns, against its pulse rating; nil: not held
}

func (b Brake) validateHeat(f *profile.Faults, path string) {
	h := b.Heat
	if h.NoPowerAt != 0 || h.RatedAmbient != 0 {
		ok := f.Within(path+".ratedAmbient", h.RatedAmbient, -60, 1000, "°C")
		if f.Within(path+".noPowerAt", h.NoPowerAt, -60, 2000, "°C") && ok && !(h.NoPowerAt > h.RatedAmbient) {
			f.Add(path+".noPowerAt", h.NoPowerAt, fmt.Sprintf("above ratedAmbient, %g °C", h.RatedAmbient))
		}
		if b.Rating.Derating != 1 {
			f.Add(path+".noPowerAt", h.NoPowerAt, "either a line of derating, or the share derating")
		}
	}
	f.NonNegative(path+".timeConstant", h.TimeConstant, "s")
	if len(h.Pulses) > 0 {
		pointFaults(f, path+".pulses", b.pulses(1).Validate(), "the mean power of the pulse [W] ")
	}
}

func (b Brake) pulses(share float64) thermal.PulseRating {
	return thermal.PulseRating{Continuous: b.Rating.Continuous, Derating: share, Points: b.Heat.Pulses}
}

// pointFaults records what is wrong with the points of a rating, as pairs of a list; of is
// what the mean of a point is. Its continuous rating is checked where it stands.
func pointFaults(f *profile.Faults, path string, err error, of string) {
	for _, e := range profile.InputErrors(err) {
		var i int
		var field string
		if n, _ := fmt.Sscanf(e.Path, "points[%d].%s", &i, &field); n != 2 {
			continue
		}
		pair := 1
		if field == "duration" || field == "time" {
			pair = 0
		}
		want := e.Want
		if field == "mean" {
			want = of + want
		}
		f.Add(fmt.Sprintf("%s[%d][%d]", path, i, pair), e.Value, want)
	}
}

// share returns the share of the ratings that holds in an ambient [°C].
func (b Brake) share(ambient float64) float64 {
	h := b.Heat
	if h.NoPowerAt == 0 {
		return b.Rating.Derating
	}
	return math.Max(0, math.Min(1, (h.NoPowerAt-ambient)/(h.NoPowerAt-h.RatedAmbient)))
}

// burnsMost returns the most power that a brake resistor takes [W], and the highest voltage
// at it [V].
func (a *Assessment) burnsMost(b Brake) float64 {
	v := b.at(late).OnVoltage
	if !math.IsInf(a.Bus.Highest, 0) {
		v = math.Max(v, a.Bus.Highest)
	}
	return v * v / b.at(early).Resistance
}

// burned bounds what brake resistor k burns over any time: its settled course where the bus has
// only one, else what all stations return in any phase and once what the bank gives from its
// highest voltage to the lowest off threshold. As long as a resistor is on, the supply is
// blocked, so that it burns nothing else.
func (a *Assessment) burned(k int) (thermal.FreeLoads, error) {
	m, b := a.Machine, a.Machine.Brakes[k]
	if c := a.Bus.RiseCycle; a.exact() && c != nil && c.Repeats && !c.Collapsed {
		power, err := brakePower(c.Result, k, b.Resistance)
		return thermal.FreeLoads{Cycles: []profile.Curve{power}}, err
	}
	top := b.at(late).OnVoltage
	if !math.IsInf(a.Bus.Highest, 0) {
		top = math.Max(top, a.Bus.Highest)
	}
	bank := m.allLinks().High()
	l := thermal.FreeLoads{
		Once:    math.Max(0, bank.Energy(top)-bank.Energy(b.at(early).OffVoltage)),
		Highest: a.burnsMost(b),
	}
	for _, st := range a.Stations {
		l.Cycles = append(l.Cycles, st.Cold.Negative().Scale(-1))
	}
	return l, nil
}

// brakePower returns the power of brake resistor k [W] of the given resistance [ohm] over a
// course of the bus, V²/R while it is on.
func brakePower(c *bus.Result, k int, resistance float64) (profile.Curve, error) {
	start, end := c.Voltage.Start(), c.Voltage.End()
	cuts := []float64{start}
	on, first := false, true
	for _, e := range c.Events {
		if e.Index != k || e.Kind != bus.BrakeOn && e.Kind != bus.BrakeOff {
			continue
		}
		if first {
			on, first = e.Kind == bus.BrakeOff, false // what it was before
		}
		cuts = append(cuts, math.Max(start, math.Min(end, e.Time)))
	}
	if first { // never switched
		return profile.Constant(0, start, end)
	}
	cuts = append(cuts, end)
	var parts []profile.Curve
	for i := range len(cuts) - 1 {
		if cuts[i+1] > cuts[i] {
			v, err := c.Voltage.Slice(cuts[i], cuts[i+1])
			if err != nil {
				return v, err
			}
			if on {
				v, err = profile.Product(v, v)
				v = v.Scale(1 / resistance)
			} else {
				v, err = profile.Constant(0, cuts[i], cuts[i+1])
			}
			if err != nil {
				return v, err
			}
			parts = append(parts, v)
		}
		on = !on
	}
	return profile.Concat(parts...), nil
}

// heatResistors holds every brake resistor against its ratings. Of several each is taken to
// burn all that is returned.
func (a *Assessment) heatResistors(ctx context.Context) error {
	m, r := a.Machine, a.Bus
	for k, b := range m.Brakes {
		h := ResistorHeat{Ambient: a.around(m.inside().Resistor)}
		h.Share = b.share(h.Ambient)
		if x := b.Heat; x.NoPowerAt != 0 {
			h.Temperature = h.Ambient + (x.NoPowerAt-x.RatedAmbient)*r.ResistorMean/b.Rating.Continuous
		}
		h.Burst = r.ResistorOnce / a.burnsMost(b)
		if len(b.Heat.Pulses) > 0 && h.Share > 0 {
			loads, err := a.burned(k)
			if err != nil {
				return fmt.Errorf("pulses of the brake resistor: %w", err)
			}
			t, err := b.pulses(h.Share).TrainFree(ctx, loads)
			if ctx.Err() != nil {
				return ctx.Err()
			}
			if err == nil {
				h.Train = &t
			}
		}
		a.Heat.Resistors = append(a.Heat.Resistors, h)
	}
	return nil
}
