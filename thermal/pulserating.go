package thermal

import (
	"context"
	"fmt"
	"strings"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// PulseRating is the rating of a brake resistor as a curve of pulse energy
// against pulse duration. The zero value is invalid.
type PulseRating struct {
	Continuous float64      // continuous power rating, in its rated ambient [W], > 0
	Derating   float64      // share of all ratings that holds in the ambient of the machine [1], > 0 to 1; 1 in the rated ambient
	Points     []PulsePoint // at least one, of rising Duration and not falling Energy; their powers fall, to Continuous at the lowest
}

// PulsePoint is one point of a [PulseRating].
type PulsePoint struct {
	Duration float64 // [s], > 0
	Energy   float64 // that a pulse of this duration may bring [J], > 0
}

// Validate returns nil, or an error with every field outside its domain.
func (r PulseRating) Validate() error {
	_, err := r.overload()
	return err
}

// overload is the rating as one of mean power against time.
func (r PulseRating) overload() (OverloadRating, error) {
	var f profile.Faults
	f.Positive("continuous", r.Continuous, "W")
	if !(r.Derating > 0 && r.Derating <= 1) {
		f.Add("derating", r.Derating, "> 0 and <= 1; 1 in the rated ambient")
	}
	for i, p := range r.Points {
		f.Positive(fmt.Sprintf("points[%d].duration", i), p.Duration, "s")
		f.Positive(fmt.Sprintf("points[%d].energy", i), p.Energy, "J")
	}
	if f.Err() != nil {
		return OverloadRating{}, f.Err()
	}
	o := OverloadRating{Continuous: r.Continuous * r.Derating}
	for _, p := range r.Points {
		o.Points = append(o.Points, OverloadPoint{Time: p.Duration, Mean: p.Energy / p.Duration * r.Derating})
	}
	return o, o.Validate()
}

// Energy returns the energy [J] that a pulse of given duration [s] may bring, by
// a straight line over logarithmic scales between the points. A duration below
// the first point is refused; beyond the last the energy stays until the
// continuous rating permits more.
func (r PulseRating) Energy(duration float64) (float64, error) {
	o, err := r.overload()
	if err != nil {
		return 0, err
	}
	var f profile.Faults
	p, err := o.Permitted(duration)
	if err != nil {
		f.Add("duration", duration, fmt.Sprintf("finite and at least that of the first point, %g s", r.Points[0].Duration))
		return 0, f.Err()
	}
	needFinite(&f, "duration", duration, p*duration)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return p * duration, nil
}

// Pulse holds a single pulse from rated ambient, of given energy [J] and duration
// [s], against the rating.
func (r PulseRating) Pulse(burned, duration float64) (energy.Loading, error) {
	var f profile.Faults
	f.NonNegative("energy", burned, "J")
	limit, err := r.Energy(duration)
	f.Under("", err)
	if err := f.Err(); err != nil {
		return energy.Loading{}, err
	}
	return newLoading("energy", burned, limit)
}

// PulseTrain is a train of pulses held against a [PulseRating].
type PulseTrain struct {
	Overload // windows of every length and place

	// Swing is by how much the energy in the resistor goes up and down over a
	// cycle while its mean leaves steadily [J].
	Swing float64
	// Combined is the mean power over the continuous rating plus Swing over the
	// energy of the first point [1]. A resistor that is warm from its mean load
	// has less left for a pulse: up to 1 there is enough left.
	Combined float64
}

// Train holds a train of pulses that repeats for ever, power [W] >= 0 against time,
// against the rating: by windows as [OverloadRating.Hold], and by its mean and
// swing together. Take the worse.
//
// Combined bounds the peak rise of a resistor that is one body, relative to that
// which the ratings permit. With the mean power p, the heat capacity C and the
// time constant τ, integrating its balance by parts gives
//
//	θ - Rp = 1/(Cτ) ∫ ( W(t) - p t ) e^(-t/τ) dt <= max( W(t) - p t )/C
//
// where W(t) is the energy taken in over the last t, and the maximum of W(t) - p t
// over all windows is the range of the integral of P - p over a cycle.
func (r PulseRating) Train(ctx context.Context, power profile.Curve) (PulseTrain, error) {
	t, err := r.TrainFree(ctx, FreeLoads{Cycles: []profile.Curve{power}})
	if err != nil && ctx.Err() == nil {
		err = renamed(err, "power.cycles[0]", "power")
	}
	return t, err
}

// TrainFree holds trains of pulses that each repeat for ever, in any phase to each
// other, against the rating, as [PulseRating.Train] does one. W(t) - p t is then at
// most what comes once and the sum of the ranges of each.
func (r PulseRating) TrainFree(ctx context.Context, power FreeLoads) (PulseTrain, error) {
	o, err := r.overload()
	if err != nil {
		return PulseTrain{}, err
	}
	h, err := o.HoldFree(ctx, power)
	if err != nil {
		if ctx.Err() != nil {
			return PulseTrain{}, ctx.Err()
		}
		var f profile.Faults
		for _, e := range profile.InputErrors(err) {
			f.Add("power"+strings.TrimPrefix(e.Path, "loads"), e.Value, e.Want)
		}
		if f.Err() != nil {
			err = f.Err()
		}
		return PulseTrain{}, err
	}
	w, err := power.windows()
	if err != nil {
		return PulseTrain{}, err
	}
	t := PulseTrain{Overload: h, Swing: w.swing}
	t.Combined = h.Mean.Ratio + t.Swing/(r.Points[0].Energy*r.Derating)
	var f profile.Faults
	needFinite(&f, "power", w.mean, t.Swing, t.Combined)
	if err := f.Err(); err != nil {
		return PulseTrain{}, err
	}
	return t, nil
}
