package sizing

import (
	"context"
	"fmt"
	"math"
	"sort"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

// cycle is a station's cycle planned.
type cycle struct {
	motions  []profile.Motion // of the station's axes, all of one duration
	steps    [][]energy.Step  // of each axis: motion and load of every step
	duration float64          // [s]
	starts   []float64        // start of each step [s]
}

// plan works out the motions of a station. The machine must be valid.
func (m Machine) plan(ctx context.Context, s Station, path string) (cycle, error) {
	var f profile.Faults
	axes := make([]Axis, len(s.Axes))
	at, reach := make([]float64, len(s.Axes)), make([]float64, len(s.Axes))
	loads := make([]energy.Load, len(s.Axes))
	c := cycle{steps: make([][]energy.Step, len(s.Axes))}
	for i, name := range s.Axes {
		axes[i] = m.axis(name)
		at[i], reach[i] = axes[i].Start, math.Abs(axes[i].Start)
		loads[i] = axes[i].Drive.Load
	}
	for k, step := range s.Steps {
		if err := ctx.Err(); err != nil {
			return cycle{}, err
		}
		c.starts = append(c.starts, c.duration)
		motions, err := step.plan(axes, at)
		if err != nil {
			f.Under(fmt.Sprintf("%s.steps[%d]", path, k), err)
			continue
		}
		longest := step.Dwell
		for _, motion := range motions {
			longest = math.Max(longest, motion.Duration())
		}
		for i, motion := range motions {
			reach[i] = math.Max(reach[i], math.Abs(at[i]))
			rest, err := profile.Dwell(at[i], longest-motion.Duration())
			f.Under(path, err)
			whole, err := profile.Sequence(motion, rest)
			f.Under(path, err)
			if p, ok := step.Payload[axes[i].Name]; ok {
				loads[i] = carrying(axes[i].Drive.Load, p)
			}
			load := loads[i]
			if force, ok := step.Force[axes[i].Name]; ok {
				load.ExternalByTime = force
				at := fmt.Sprintf("%s.steps[%d].force.%s", path, k, axes[i].Name)
				if err := load.Validate(); err != nil {
					f.Under(at, err)
				} else if !(force.Start() < longest) {
					f.Add(at, force.Start(), fmt.Sprintf("a force that sets in within the step, which takes %.6g s", longest))
				}
			}
			c.steps[i] = append(c.steps[i], energy.Step{Motion: whole, Load: load})
		}
		c.duration += longest
	}
	for i, a := range axes {
		// Returning to within a billionth of the way is returning.
		gap := math.Abs(at[i] - a.Start)
		if returned := gap <= 1e-9*reach[i]; returned {
			continue
		} else if a.Endless {
			a.advance(&f, s.last(path, a.Name, "to", "by"), gap)
		} else {
			unit := unitsOf(turns(a.Drive.Mechanism)).length.Unit()
			f.Add(s.last(path, a.Name, "to", "by"), at[i], fmt.Sprintf("a last position of %g %s for axis %q, where its cycle starts, or an endless axis", a.Start, unit, a.Name))
		}
	}
	for i, a := range axes {
		if loads[i].Mass != a.Drive.Load.Mass || loads[i].Inertia != a.Drive.Load.Inertia {
			f.Add(s.last(path, a.Name, "payload"), loads[i].Mass+loads[i].Inertia-a.Drive.Load.Mass-a.Drive.Load.Inertia,
				fmt.Sprintf("no payload on axis %q at the end, as the cycle starts without", a.Name))
		}
	}
	if f.Err() == nil && !(c.duration > 0) {
		f.Add(path+".steps", c.duration, "a cycle that takes time")
	}
	if err := f.Err(); err != nil {
		return cycle{}, err
	}
	for i := range axes {
		parts := make([]profile.Motion, len(c.steps[i]))
		for k := range parts {
			parts[k] = c.steps[i][k].Motion
		}
		motion, err := profile.Sequence(parts...)
		if err != nil {
			f.Under(path+"."+axes[i].Name, err)
			continue
		}
		c.motions = append(c.motions, motion)
	}
	return c, f.Err()
}

// last returns the path of the last entry that a cycle has for an axis under one of the
// keys.
func (s Station) last(path, axis string, keys ...string) string {
	for k := len(s.Steps) - 1; k >= 0; k-- {
		step := s.Steps[k]
		for _, key := range keys {
			if _, ok := map[string]map[string]float64{"to": step.To, "by": step.By, "payload": step.Payload}[key][axis]; ok {
				return fmt.Sprintf("%s.steps[%d].%s.%s", path, k, key, axis)
			}
		}
	}
	return path + ".steps"
}

// plan returns the motions of the axes in one step, empty for those that rest,
// and moves their positions on.
func (s Step) plan(axes []Axis, at []float64) ([]profile.Motion, error) {
	var f profile.Faults
	motions := make([]profile.Motion, len(axes))
	var moving []int
	target := make([]float64, len(axes))
	paths := make([]string, len(axes))
	for i, a := range axes {
		target[i] = at[i]
		if v, ok := s.To[a.Name]; ok {
			target[i], paths[i] = v, "to."+a.Name
		} else if v, ok := s.By[a.Name]; ok {
			target[i], paths[i] = at[i]+v, "by."+a.Name
		}
		// A way that is the rounding of the positions is none.
		if math.Abs(target[i]-at[i]) > 1e-12*math.Max(math.Abs(at[i]), math.Abs(target[i])) {
			moving = append(moving, i)
		}
	}

	// The time that each move takes at least, and the time that it gets.
	moves := make([]profile.Move, len(axes))
	slowest := 0.0
	shortest := make([]float64, len(axes))
	if len(moving) == 0 && s.Duration > 0 {
		f.Add("duration", s.Duration, "a step in which an axis moves; a step that waits has a dwell")
	}
	if s.Path == Straight {
		if len(moving) < 2 {
			f.Add("path", "straight", "at least two axes that move")
		}
		for _, i := range moving {
			if axes[i].Law != nil {
				f.Add("path", "straight", fmt.Sprintf("axes without a law, which %q has", axes[i].Name))
			}
		}
		if err := f.Err(); err != nil {
			return nil, err
		}
		if err := straight(moves, axes, moving, at, target); err != nil {
			return nil, err
		}
	}
	for _, i := range moving {
		var err error
		switch {
		case s.Path == Straight:
			shortest[i] = moves[i].Duration()
		case axes[i].Law != nil:
			shortest[i], err = axes[i].Law.Shortest(target[i]-at[i], axes[i].Limits)
		default:
			moves[i], err = profile.Plan(at[i], target[i], axes[i].Limits)
			shortest[i] = moves[i].Duration()
		}
		f.Under(paths[i], err)
		slowest = math.Max(slowest, shortest[i])
	}
	if s.Duration > 0 && s.Duration < slowest {
		f.Add("duration", s.Duration, fmt.Sprintf("at least %.6g s, the shortest for its moves within the limits", slowest))
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	for _, i := range moving {
		duration := shortest[i]
		switch {
		case s.Duration > 0:
			duration = s.Duration
		case s.Path == Together:
			duration = slowest
		}
		var err error
		if axes[i].Law != nil && s.Path != Straight {
			motions[i], err = axes[i].Law.MotionWithin(at[i], target[i], duration, axes[i].Limits)
		} else {
			if duration > shortest[i] {
				moves[i], err = moves[i].Stretch(duration)
			}
			motions[i] = moves[i].Motion()
		}
		f.Under(paths[i], err)
		at[i] = target[i]
	}
	return motions, f.Err()
}

// straight plans the moving axes on the straight line between their positions.
func straight(moves []profile.Move, axes []Axis, moving []int, at, target []float64) error {
	from, to := make([]float64, len(moving)), make([]float64, len(moving))
	limits := make([]profile.Limits, len(moving))
	for k, i := range moving {
		from[k], to[k], limits[k] = at[i], target[i], axes[i].Limits
	}
	if len(moving) == 0 {
		return nil
	}
	line, err := profile.Line(nil, from, to, limits, profile.Limits{})
	if err != nil {
		return err
	}
	for k, i := range moving {
		moves[i] = line[k]
	}
	return nil
}

// advance says what keeps an endless axis that has moved on over the cycle from
// doing in the next cycle what it did in this one.
func (a Axis) advance(f *profile.Faults, path string, gap float64) {
	l := a.Drive.Load
	if _, crank := a.Drive.Mechanism.(energy.CrankSlider); crank {
		if turns := gap / (2 * math.Pi); math.Abs(turns-math.Round(turns)) > 1e-9*math.Max(1, turns) {
			f.Add(path, gap, fmt.Sprintf("whole turns of the crank %q over the cycle, each cycle being like the one before", a.Name))
		}
	} else if l.Counterbalance.Stiffness > 0 || len(l.ExternalByPosition.Position) > 0 {
		f.Add(path, gap, fmt.Sprintf("a return of axis %q to its start, as its force depends on position", a.Name))
	}
}

// carrying returns a load with a payload [kg | kg·m²] on it.
func carrying(l energy.Load, payload float64) energy.Load {
	if l.Mass > 0 {
		l.Mass += payload
	} else {
		l.Inertia += payload
	}
	return l
}

func (m Machine) axis(name string) Axis {
	for _, a := range m.Axes {
		if a.Name == name {
			return a
		}
	}
	return Axis{}
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}
