package sizing

import (
	"fmt"
	"math"
	"strings"

	"example.com/headroom/bus"
	"example.com/headroom/internal/quantity"
)

// where says at which drive the bus is lowest (sign -1) or highest (sign 1), "" when no
// drive has a cable.
func (a *Assessment) where(sign float64) string {
	name, worst := "", math.Inf(-1)
	for _, ax := range a.Machine.Axes { // in their order, of several alike the first
		e, ok := a.Bus.AtDrives[ax.Name]
		if !ok {
			continue
		}
		v := sign * e.Highest
		if sign < 0 {
			v = sign * e.Lowest
		}
		if v > worst && !math.IsInf(v, 0) {
			name, worst = ax.Name, v
		}
	}
	if name == "" {
		return ""
	}
	word := "Highest"
	if sign < 0 {
		word = "Lowest"
	}
	return fmt.Sprintf("%s at the drive of %q, %s.", word, name, show(sign*worst, quantity.Voltage))
}

// when says where in their cycles the stations stand at the extreme of a course of the bus
// that starts with the stations delayed by offsets.
func (a *Assessment) when(t float64, offsets []float64) string {
	var at []string
	for i, st := range a.Stations {
		delay := 0.0
		if i < len(offsets) {
			delay = offsets[i]
		}
		if !(st.Duration > 0) {
			continue
		}
		phase := math.Mod(t-delay, st.Duration)
		if phase < 0 {
			phase += st.Duration
		}
		at = append(at, fmt.Sprintf("%s at %s of its cycle%s", st.Name, show(phase, quantity.Time), a.stepAt(i, phase)))
	}
	return strings.Join(at, ", ")
}

// stepAt names the step of a station at an instant of its cycle.
func (a *Assessment) stepAt(station int, t float64) string {
	name := ""
	for k, start := range a.Stations[station].Starts {
		if start <= t {
			name = a.Machine.Stations[station].Steps[k].Name
		}
	}
	if name == "" {
		return ""
	}
	return fmt.Sprintf(" (%q)", name)
}

// whenNote tells when an extreme comes: of the settled cycle, or of the windows lined up.
func (a *Assessment) whenNote(s *Section, word string, c *bus.Settled, b bus.Bound) {
	switch {
	case c != nil && c.Repeats && !c.Collapsed:
		t := c.Lowest.T
		if word == "Highest" {
			t = c.Highest.T
		}
		s.note(word + " with " + a.when(t, nil) + ".")
	case b.Exists && b.Witness != nil:
		t := b.Witness.Lowest.T
		if word == "Highest" {
			t = b.Witness.Highest.T
		}
		s.note(word + ", with the worst windows lined up: " + a.when(t, b.Offsets) + ".")
	}
}
