package bus

import (
	"fmt"

	"example.com/headroom/profile"
)

// Parallel is several supplies side by side on one bus. They share what the bus
// takes by their characteristics alone: of regulated supplies that with the
// higher set point carries everything up to its limit. Supplies at exactly the
// same set point share in proportion to their limits, as with a load-sharing
// signal between them.
type Parallel []Source

// Validate implements [Source].
func (p Parallel) Validate() error {
	var f profile.Faults
	if len(p) == 0 {
		f.Add("", "no supplies", "at least one")
	}
	for i, s := range p {
		path := fmt.Sprintf("[%d]", i)
		if _, nested := s.(Parallel); nested {
			f.Add(path, "supplies in parallel", "a single supply")
			continue
		}
		checkSource(&f, path, s)
	}
	return f.Err()
}

// Low implements [Source].
func (p Parallel) Low() Source { return p.each(Source.Low) }

// High implements [Source].
func (p Parallel) High() Source { return p.each(Source.High) }

func (p Parallel) each(corner func(Source) Source) Parallel {
	out := make(Parallel, len(p))
	for i, s := range p {
		if s != nil {
			out[i] = corner(s)
		}
	}
	return out
}

// NoLoadVoltage implements [Source]: the highest of all.
func (p Parallel) NoLoadVoltage() float64 {
	v := 0.0
	for _, s := range p {
		if s != nil {
			v = max(v, s.NoLoadVoltage())
		}
	}
	return v
}

// Current implements [Source].
func (p Parallel) Current(v float64) float64 {
	i := 0.0
	for _, s := range p {
		if s != nil {
			i += s.Current(v)
		}
	}
	return i
}

// strongest returns the sum of what each can deliver, if not at one voltage.
func (p Parallel) strongest() float64 {
	w := 0.0
	for _, s := range p {
		w += s.strongest()
	}
	return w
}

func (p Parallel) characteristic() []segment {
	all := make([][]segment, len(p))
	for i, s := range p {
		all[i] = s.characteristic()
	}
	return add(all)
}
