package sizing

import (
	"context"
	"math"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// coast finds what an axis does without power: lost anywhere in its cycle, and taken away
// at rest. In categories 1 and 2 only axes that something pulls at, or that have a brake,
// are followed: the others are stopped by their drives.
func (a *Assessment) coast(ctx context.Context, ax AxisResult, into *AxisStop) error {
	axis := a.Machine.axis(ax.Name)
	pulled, brake := ax.weight() > 0, axis.HoldingBrake
	if a.Machine.Stops.Category != energy.Category0 && !pulled && brake == nil {
		return nil
	}
	if pulled && brake != nil && brake.Untimed {
		return nil // nobody knows how long it falls
	}
	var err error
	if into.Moving, err = a.coasting(ctx, ax, false); err != nil || !pulled {
		return err
	}
	into.Resting, err = a.coasting(ctx, ax, true)
	return err
}

// coasting follows an axis without power, with its friction at the lower end: less friction
// lets it go farther, longer and faster.
//
// Where forces depend on speed and time alone, v(t) does not cross that of another start, so
// that the way either side grows with the speed at the start and with the force, and time,
// speed reached and brake work are highest at the ends of the range of either (own
// derivation): those of every step are all that has to be followed. With a force against
// position, a spring or a crank 65 instants of every step and its extremes of speed are.
func (a *Assessment) coasting(ctx context.Context, ax AxisResult, atRest bool) (*Coasting, error) {
	axis := a.Machine.axis(ax.Name)
	c := &Coasting{Stops: true}
	var brake *energy.HoldingBrake
	if b := axis.HoldingBrake; b != nil && !b.Untimed {
		c.Braked, brake = true, &b.HoldingBrake
	}
	slowest := math.Inf(1)
	for _, l := range ax.all() {
		slowest = math.Min(slowest, l.corner.friction)
	}
	for _, l := range ax.all() {
		if l.corner.friction > slowest {
			continue
		}
		for _, s := range l.corner.applied(axis, ax.steps) {
			if s.Motion.Duration() == 0 {
				continue
			}
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			if done, err := a.coastStep(ax, l, s, brake, atRest, c); err != nil || done {
				return c, err
			}
		}
	}
	return c, nil
}

// coastStep follows an axis whose power goes in one step. It reports whether that says all
// there is to say.
func (a *Assessment) coastStep(ax AxisResult, l LoadResult, s energy.Step, brake *energy.HoldingBrake, atRest bool, c *Coasting) (bool, error) {
	drive := ax.coldAxis // cold magnets induce most
	drive.Load = s.Load
	force := drive.Load.ExternalByTime
	drive.Load.ExternalByTime = profile.Curve{}
	outside := []float64{0}
	if force.Pieces() > 0 {
		lo, hi := force.Extrema()
		outside = append(outside, lo.V, hi.V)
	}
	external := drive.Load.External
	for _, from := range a.coastStarts(ax, s, atRest) {
		for _, f := range outside {
			drive.Load.External = external + f
			out, err := drive.PowerOff(from.Position, from.Speed, brake)
			if err != nil {
				if len(profile.InputErrors(err)) == 0 {
					return true, err
				}
				*c = Coasting{Reason: profile.InputErrors(err)[0].Error(), Braked: c.Braked}
				return true, nil
			}
			c.Slack = c.Slack || out.Slack
			if !out.Stops {
				*c = Coasting{Slack: c.Slack, Braked: c.Braked}
				return true, nil
			}
			c.Duration.raise(out.Duration, l.corner)
			c.Way.raise(math.Max(out.Forward, out.Backward), l.corner)
			c.Speed.raise(out.PeakSpeed, l.corner)
			c.Heat.raise(out.Heat, l.corner)
			if v := a.Bus.Lowest; v > 0 && !math.IsInf(v, 0) {
				e, err := drive.BackEMF(out, v)
				if err != nil {
					continue // beyond the range of numbers
				}
				most := math.Max(e.Energy, c.BackEMF.Energy)
				if e.Voltage >= c.BackEMF.Voltage {
					c.BackEMF = e
				}
				c.BackEMF.Energy = most
			}
		}
	}
	return false, nil
}

// coastStarts returns where and how fast an axis is when its power goes.
func (a *Assessment) coastStarts(ax AxisResult, s energy.Step, atRest bool) []profile.State {
	position, speed := s.Motion.Position(), s.Motion.Speed()
	lo, hi := speed.Extrema()
	instants := []float64{lo.T, hi.T}
	m, l := ax.hotAxis.Mechanism, &s.Load
	if turns(m) != turnsLoad(m) || len(l.ExternalByPosition.Position) > 0 || l.Counterbalance.Stiffness > 0 {
		instants = append(instants, spread(s.Motion.Duration())...)
	} else if atRest || lo.V == hi.V {
		instants = instants[:1]
	}
	states := make([]profile.State, len(instants))
	for i, t := range instants {
		states[i].Position = position.At(t)
		if !atRest {
			states[i].Speed = speed.At(t)
		}
	}
	return states
}
