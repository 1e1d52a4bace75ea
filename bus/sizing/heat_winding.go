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
	// AtPeak is for how long the hottest winding bears the peak torque [s]; +Inf: for ever,
	// -1: not known.
	AtPeak float64

	failed error // what kept it from being found
}

// heatWinding follows the winding through its cycle, at every end of the load's spread.
func (a *Assessment) heatWinding(ctx context.Context, axis Axis, ax AxisResult) error {
	if axis.Nodes == nil {
		return nil
	}
	var worst *windingCycle
	for _, l := range append([]LoadResult{ax.LoadResult}, ax.Ends...) {
		c := a.windingAt(ctx, axis, ax, l)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if worst == nil || c.hotter(worst.WindingResult) {
			worst = c
		}
	}
	if worst.failed == nil {
		if err := worst.times(ctx, axis, ax); err != nil {
			worst.ToLimit, worst.Settling, worst.AtPeak = 0, 0, -1
		}
	}
	a.Heat.Windings[ax.Name] = worst.WindingResult
	return ctx.Err()
}

// windingCycle is a winding at one end of the load's spread.
type windingCycle struct {
	*WindingResult
	network      thermal.WindingNetwork
	ambient      float64
	copper, drag float64 // mean copper loss at the temperature at, and mean heat of drag [W]
	at           float64 // [°C]
}

// hotter reports whether r is worse than another result.
func (r *WindingResult) hotter(than *WindingResult) bool {
	rank := func(r *WindingResult) int {
		switch {
		case r.Runaway != nil:
			return 2
		case r.failed != nil:
			return 1
		}
		return 0
	}
	if rank(r) != rank(than) || rank(r) > 0 {
		return rank(r) > rank(than)
	}
	return r.Hottest.V > than.Hottest.V
}

// windingAt settles the winding with the load at one end of its spread.
func (a *Assessment) windingAt(ctx context.Context, axis Axis, ax AxisResult, l LoadResult) *windingCycle {
	n, loss := axis.Nodes, l.Cold.CopperLoss
	// Copper and magnets of the cold trace are at the lowest ambient.
	at := a.Machine.AmbientLow
	c := &windingCycle{
		WindingResult: &WindingResult{Corner: l.Corner, AtPeak: math.Inf(1)},
		ambient:       a.Machine.AmbientHigh, at: at, copper: loss.Mean(), drag: l.Cold.Book.MotorDrag / loss.Duration(),
	}
	cold := ax.coldAxis.Motor.Winding
	warmer, err := withMagnets(cold, at+1)
	if err != nil {
		c.failed = err
		return c
	}
	c.network, err = thermal.TwoNodeMotor{
		WindingCapacity: n.WindingCapacity, FrameCapacity: n.HousingCapacity, Inner: n.WindingToHousing, Mounting: n.HousingToAmbient,
		Max: axis.Winding.Max, Conductor: axis.Winding.Conductor,
		MagnetLoss: math.Max(0, 1-warmer.Kt()/cold.Kt()), MagnetsAtKm: at,
	}.In(c.ambient)
	if err != nil {
		c.failed = err
		return c
	}
	inHousing, err := profile.Constant(c.drag, loss.Start(), loss.End())
	if err != nil {
		c.failed = err
		return c
	}
	c.WindingCourse, err = c.network.Settled(ctx, thermal.WindingHeat{Copper: loss, At: at, Other: []profile.Curve{{}, inHousing}})
	switch {
	case err == nil:
		c.Housing = c.Temperatures[thermal.FrameNode].Max().V
	case !errors.As(err, &c.Runaway):
		c.failed = err
	}
	return c
}

// times finds how long the winding takes to its limit or to settle, and for how long it
// bears the peak torque.
func (c *windingCycle) times(ctx context.Context, axis Axis, ax AxisResult) error {
	// A torque of the root of the loss, at a motor constant of 1, makes that loss.
	constant := thermal.MotorConstant{Km: 1, At: c.at}
	other := []float64{0, c.drag}
	t, limited, err := c.network.OverloadTime(ctx, constant, math.Sqrt(math.Max(0, c.copper)), other, []float64{c.ambient, c.ambient})
	if err != nil {
		return err
	}
	if limited {
		c.ToLimit = t
	}
	if c.Runaway != nil {
		return nil
	}
	housing := c.Temperatures[thermal.FrameNode]
	all, err := c.network.Network.TimeConstants()
	if err != nil {
		return err
	}
	c.Settling = settledAfter * all[0] / (1 - ax.Winding.Gain)
	if c.Margin <= 0 {
		c.AtPeak = 0
		return nil
	}
	constant.Km = ax.coldAxis.Motor.Winding.Km()
	m := axis.Drive.Motor
	t, limited, err = c.network.OverloadTime(ctx, constant, m.PeakTorque+m.DragTorque, other, []float64{c.Hottest.V, housing.At(c.Hottest.T)})
	if err != nil {
		return err
	}
	if limited {
		c.AtPeak = t
	}
	return nil
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
