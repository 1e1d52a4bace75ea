package sizing

import (
	"fmt"
	"math"
	"sort"

	"example.com/headroom/profile"
)

// cycle is a station's cycle planned.
type cycle struct {
	motions  []profile.Motion // of the station's axes, all of one duration
	duration float64          // [s]
	starts   []float64        // start of each step [s]
}

// plan works out the motions of a station. The machine must be valid.
func (m Machine) plan(s Station, path string) (cycle, error) {
	var f profile.Faults
	axes := make([]Axis, len(s.Axes))
	at := make([]float64, len(s.Axes))
	parts := make([][]profile.Motion, len(s.Axes))
	for i, name := range s.Axes {
		axes[i] = m.axis(name)
		at[i] = axes[i].Start
	}
	var c cycle
	for k, step := range s.Steps {
		stepPath := fmt.Sprintf("%s.steps[%d]", path, k)
		c.starts = append(c.starts, c.duration)
		moves := make([]profile.Move, len(axes))
		longest := step.Dwell
		for i, a := range axes {
			target, key := at[i], "to"
			if v, ok := step.To[a.Name]; ok {
				target = v
			} else if v, ok := step.By[a.Name]; ok {
				target, key = at[i]+v, "by"
			}
			move, err := profile.Plan(at[i], target, a.Limits)
			if err != nil {
				f.Under(profile.JoinPath(stepPath, key+"."+a.Name), err)
				continue
			}
			moves[i], at[i] = move, target
			longest = math.Max(longest, move.Duration())
		}
		for i := range axes {
			rest, err := profile.Dwell(at[i], longest-moves[i].Duration())
			if err != nil {
				f.Under(stepPath, err)
				continue
			}
			parts[i] = append(parts[i], moves[i].Motion(), rest)
		}
		c.duration += longest
	}
	for i, a := range axes {
		// Returning to within a billionth of the way is returning.
		if gap := at[i] - a.Start; !a.Endless && math.Abs(gap) > 1e-9*math.Max(math.Abs(at[i]), math.Abs(a.Start)) {
			f.Add(path+".steps", at[i], fmt.Sprintf("a last position of %g for axis %q, where its cycle starts, or an endless axis", a.Start, a.Name))
		}
	}
	if f.Err() == nil && !(c.duration > 0) {
		f.Add(path+".steps", c.duration, "a cycle that takes time")
	}
	if err := f.Err(); err != nil {
		return cycle{}, err
	}
	for i := range axes {
		motion, err := profile.Sequence(parts[i]...)
		if err != nil {
			f.Under(path+"."+axes[i].Name, err)
			continue
		}
		c.motions = append(c.motions, motion)
	}
	return c, f.Err()
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
