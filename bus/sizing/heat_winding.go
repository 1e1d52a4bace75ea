package sizing

import (
	"context"
	"errors"
	"fmt"
	"math"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// TwoNodes is a motor as a winding in its housing, mounted as in the machine. Its two
// resistances add up to the one of [Axis].Winding.
type TwoNodes struct {
	WindingCapacity  float64 // [J/K], > 0
	HousingCapacity  float64 // [J/K], > 0
	WindingToHousing float64 // thermal resistance [K/W], > 0
	HousingToAmbient float64 // thermal resistance as mounted [K/W], > 0
}

func (n *TwoNodes) validate(f *profile.Faults, path string, w thermal.Winding) {
	if n == nil {
		return
	}
	f.Positive(path+".windingCapacity", n.WindingCapacity, "J/K")
	f.Positive(path+".housingCapacity", n.HousingCapacity, "J/K")
	ok := f.Positive(path+".windingToHousing", n.WindingToHousing, "K/W")
	ok = f.Positive(path+".housingToAmbient", n.HousingToAmbient, "K/W") && ok
	if sum := n.WindingToHousing + n.HousingToAmbient; ok && !(math.Abs(sum-w.ThermalResistance) <= 1e-6*sum) {
		f.Add(path+".windingToHousing", n.WindingToHousing, fmt.Sprintf("what makes %g K/W together with housingToAmbient, as the winding has", w.ThermalResistance))
	}
}

// highest is the altitude up to which motors are derated [m]; beyond it is a matter of
// agreement with their maker (IEC 60034-1, 8.10, from memory).
const highest = 4000

// thinAir returns the factor by which the permitted rise of a winding falls at an altitude
// [m], 1 up to 1000 m.
func thinAir(altitude float64) float64 {
	at, err := thermal.ClassF.RiseLimit(40, math.Max(0, altitude), false)
	low, err2 := thermal.ClassF.RiseLimit(40, 0, false)
	if err != nil || err2 != nil {
		return 1 // validated
	}
	return at / low
}

// WindingResult is a winding of two nodes over its settled cycle, in the highest ambient, at
// the end of the load's spread that makes it hottest.
type WindingResult struct {
	*thermal.WindingCourse
	Corner  string
	Housing float64 // its highest temperature [°C]
	// Runaway is set, and the course nil, where the temperature grows without end.
	Runaway *thermal.NetworkRunawayError
	// ToLimit is the time from the ambient until the mean loss of the cycle brings the winding
	// to its limit [s]; 0: it never does.
	ToLimit float64
	// Settling is the time from the ambient to 95 % of the settled rise [s]; 0: it has none.
	Settling float64
	// AtPeak is for how long the hottest winding bears the peak torque [s]; +Inf: for ever.
	AtPeak float64

	failed error // what kept it from being found
}

// heatWinding follows the winding through its cycle, at every end of the load's spread.
func (a *Assessment) heatWinding(ctx context.Context, axis Axis, ax AxisResult) error {
	if axis.Nodes == nil {
		return nil
	}
	var worst *WindingResult
	for _, l := range append([]LoadResult{ax.LoadResult}, ax.Ends...) {
		r, err := a.windingAt(ctx, axis, ax, l)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			r = &WindingResult{failed: err}
		}
		r.Corner = l.Corner
		if worst == nil || r.hotter(worst) {
			worst = r
		}
	}
	a.Heat.Windings[ax.Name] = worst
	return nil
}

// hotter reports whether r is worse than another result.
func (r *WindingResult) hotter(than *WindingResult) bool {
	rank := func(r *WindingResult) int {
		switch {
		case r.failed != nil:
			return 2
		case r.Runaway != nil:
			return 1
		}
		return 0
	}
	if rank(r) != rank(than) || rank(r) > 0 {
		return rank(r) > rank(than)
	}
	return r.Hottest.V > than.Hottest.V
}

func (a *Assessment) windingAt(ctx context.Context, axis Axis, ax AxisResult, l LoadResult) (*WindingResult, error) {
	m, n := a.Machine, axis.Nodes
	cold := ax.coldAxis.Motor.Winding
	// Copper and magnets of the cold trace are at the lowest ambient.
	at := m.AmbientLow
	warmer, err := withMagnets(cold, at+1)
	if err != nil {
		return nil, err
	}
	motor := thermal.TwoNodeMotor{
		WindingCapacity: n.WindingCapacity, FrameCapacity: n.HousingCapacity, Inner: n.WindingToHousing, Mounting: n.HousingToAmbient,
		Max: axis.Winding.Max, Conductor: axis.Winding.Conductor,
		MagnetLoss: math.Max(0, 1-warmer.Kt()/cold.Kt()), MagnetsAtKm: at,
	}
	w, err := motor.In(m.AmbientHigh)
	if err != nil {
		return nil, err
	}
	drag := l.Cold.Book.MotorDrag / l.Cold.CopperLoss.Duration()
	inHousing, err := profile.Constant(drag, l.Cold.CopperLoss.Start(), l.Cold.CopperLoss.End())
	if err != nil {
		return nil, err
	}
	r := &WindingResult{AtPeak: math.Inf(1)}
	r.WindingCourse, err = w.Settled(ctx, thermal.WindingHeat{Copper: l.Cold.CopperLoss, At: at, Other: []profile.Curve{{}, inHousing}})
	if err != nil && !errors.As(err, &r.Runaway) {
		return nil, err
	}
	other := []float64{0, drag}
	constant := thermal.MotorConstant{Km: 1, At: at} // of which the square of a torque is the loss
	start := []float64{m.AmbientHigh, m.AmbientHigh}
	t, limited, err := w.OverloadTime(ctx, constant, math.Sqrt(math.Max(0, l.Cold.CopperLoss.Mean())), other, start)
	if err != nil {
		return nil, err
	}
	if limited {
		r.ToLimit = t
	}
	if r.Runaway != nil {
		return r, nil
	}
	_, top := r.Temperatures[thermal.FrameNode].Extrema()
	r.Housing = top.V
	all, err := w.Network.TimeConstants()
	if err != nil {
		return nil, err
	}
	r.Settling = settledAfter * all[0] / (1 - ax.Winding.Gain)
	if r.Margin <= 0 {
		r.AtPeak = 0
		return r, nil
	}
	start = []float64{r.Hottest.V, r.Temperatures[thermal.FrameNode].At(r.Hottest.T)}
	constant.Km = cold.Km()
	t, limited, err = w.OverloadTime(ctx, constant, axis.Drive.Motor.PeakTorque+axis.Drive.Motor.DragTorque, other, start)
	if err != nil {
		return nil, err
	}
	if limited {
		r.AtPeak = t
	}
	return r, nil
}

// duty classifies the cycle of an axis.
func (a *Assessment) duty(axis Axis, ax AxisResult) {
	m := axis.Drive.Motor
	top := math.Abs(ax.Hot.Speed.AbsMax().V)
	segments, err := thermal.DutySegments(ax.Hot.Torque, ax.Hot.Speed, m.DragTorque+m.DragPerSpeed*top+m.DragPerSpeedSquared*top*top)
	if err != nil || len(segments) == 0 {
		return // of no duration, or beyond all numbers
	}
	d := thermal.Duty{Segments: segments}
	if n := axis.Nodes; n != nil {
		d.TimeConstant = n.HousingCapacity * n.HousingToAmbient
	}
	if class, err := d.Classify(); err == nil {
		a.Heat.Duties[ax.Name] = class
	}
}
