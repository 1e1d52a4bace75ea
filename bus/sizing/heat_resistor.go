package sizing

import (
	"fmt"
	"math"

	"example.com/headroom/energy"
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
	Ambient     float64         // around it [°C]
	Temperature float64         // settled under its mean power [°C]; 0: not known
	Share       float64         // of its ratings that holds in that ambient
	Burst       float64         // the shortest that one burst may be: all of it at full power [s]
	Pulse       *energy.Loading // energy of that burst [J]; nil: not held, or shorter than the first point
	Together    float64         // mean and burst together, relative to what is permitted
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

// heatResistors holds every brake resistor against its ratings. Of several each is taken to
// burn all that is returned.
func (a *Assessment) heatResistors() {
	m, r := a.Machine, a.Bus
	for _, b := range m.Brakes {
		h := ResistorHeat{Ambient: a.around(m.inside().Resistor)}
		h.Share = b.share(h.Ambient)
		if x := b.Heat; x.NoPowerAt != 0 {
			h.Temperature = h.Ambient + (x.NoPowerAt-x.RatedAmbient)*r.ResistorMean/b.Rating.Continuous
		}
		h.Burst = r.ResistorOnce / a.burnsMost(b)
		if p := b.Heat.Pulses; len(p) > 0 && h.Share > 0 && !math.IsInf(r.ResistorOnce, 0) {
			h.Together = r.ResistorMean/(b.Rating.Continuous*h.Share) + r.ResistorOnce/(p[0].Energy*h.Share)
			if l, err := b.pulses(h.Share).Pulse(r.ResistorOnce, h.Burst); err == nil {
				h.Pulse = &l
			}
		}
		a.Heat.Resistors = append(a.Heat.Resistors, h)
	}
}
