package bus

import (
	"context"
	"fmt"
	"math"
	"slices"

	"example.com/headroom/profile"
)

// Corners of the straight pieces: as many at least and at most, and the voltage,
// relative to the crest, that a piece may be off at its middle.
const (
	averageFewest = 8
	averageMost   = 80
	averageError  = 2.5e-4
)

// AveragedRectifier is a rectifier without its ripple, as a [Source]: the mean
// current that its settled waveform drives into a bus held at a voltage, which
// an infinite bank would do. It comes from [Rectifier.Averaged].
//
// Without inductance, and with a bus above √3/2 of the crest where there are
// three phases, it is that of sine caps of half width γ,
//
//	i = p/π (sin γ - γ cos γ) √2 Voltage/R,   cos γ = (v + drop of the diodes)/(√2 Voltage)
//
// with p half the pulses in a period and R the resistance of the loop (with a
// load resistor the equation tan γ - γ = π R/(p' Rload) of O. H. Schade, Proc.
// IRE 31(7), 1943, equation FROM MEMORY). The rest is computed by the waveform.
//
// The current is approximated by straight pieces, at most 80, whose corners are
// exact; the voltage at a given current is off by less than 1e-3 of the crest. True voltages dip below the average and rise above it:
// by how much say [Rectifier.Settle] and, roughly, [Rectifier.SmallRipple].
// Changes within a few periods of the mains are not followed, nor is what the
// inductance does to them.
type AveragedRectifier struct {
	Rectifier Rectifier

	shape *averageShape
}

// averageShape is the current over voltage, both relative: to the short-circuit
// current of the crest over the impedance, and to the crest, to which the
// thresholds of the diodes are added. A change of the line voltage does not
// change it.
type averageShape struct{ corners []averageCorner }

type averageCorner struct{ u, j float64 }

// Averaged computes the averaged rectifier. It returns an error that joins the
// faults of the fields, or one that wraps the context's error or [ErrBudget].
func (r Rectifier) Averaged(ctx context.Context) (AveragedRectifier, error) {
	if err := r.Validate(); err != nil {
		return AveragedRectifier{}, err
	}
	shape := sampling{ctx: ctx, r: r}
	shape.r.DiodeThreshold = 0
	corners := []averageCorner{{1, 0}}
	for k := range averageFewest {
		// The current grows with about the power 3/2 of what the voltage is below
		// the crest: steps that grow, too, are off by about the same.
		s := float64(k+1) / averageFewest
		corners = append(corners, shape.at(1-s*s))
	}
	middles := make([]averageCorner, averageFewest)
	for k := range middles {
		middles[k] = shape.middle(corners[k], corners[k+1])
	}
	for len(corners) < averageMost && shape.err == nil {
		worst, most := 0, 0.0
		for k, m := range middles {
			if e := off(corners[k], m, corners[k+1]); e > most {
				worst, most = k, e
			}
		}
		if most <= averageError {
			break
		}
		a, m, b := corners[worst], middles[worst], corners[worst+1]
		corners = slices.Insert(corners, worst+1, m)
		middles[worst] = shape.middle(m, b)
		middles = slices.Insert(middles, worst, shape.middle(a, m))
	}
	if shape.err != nil {
		return AveragedRectifier{}, fmt.Errorf("averaged rectifier: %w", shape.err)
	}
	return AveragedRectifier{r, &averageShape{corners}}, nil
}

// sampling computes points of the characteristic. The first error is kept.
type sampling struct {
	ctx context.Context
	r   Rectifier
	x   [rectStates]float64 // of the waveform computed last
	err error
}

func (s *sampling) at(u float64) averageCorner {
	if s.err != nil {
		return averageCorner{u: u}
	}
	i, x, err := s.r.heldCurrent(s.ctx, u*s.r.crest(), s.x)
	if err != nil {
		s.err = err
		return averageCorner{u: u}
	}
	s.x = x
	return averageCorner{u, math.Max(0, i) / (s.r.crest() / s.r.impedance())}
}

// middle returns the point half-way between two, by the root of the distance to
// the crest.
func (s *sampling) middle(a, b averageCorner) averageCorner {
	root := (math.Sqrt(1-a.u) + math.Sqrt(1-b.u)) / 2
	return s.at(1 - root*root)
}

// off returns by how much the straight piece from a to b misses m in voltage.
func off(a, m, b averageCorner) float64 {
	if !(b.j > a.j) {
		return 0
	}
	slope := (b.j - a.j) / (a.u - b.u)
	return math.Abs(m.j-a.j-slope*(a.u-m.u)) / slope
}

// Validate implements [Source].
func (a AveragedRectifier) Validate() error {
	var f profile.Faults
	if err := a.Rectifier.Validate(); err != nil {
		f.Under("rectifier", err)
	} else if a.shape == nil {
		f.Add("", "not computed", "what Rectifier.Averaged returns")
	}
	return f.Err()
}

// Low implements [Source].
func (a AveragedRectifier) Low() Source { return AveragedRectifier{a.Rectifier.Low(), a.shape} }

// High implements [Source].
func (a AveragedRectifier) High() Source { return AveragedRectifier{a.Rectifier.High(), a.shape} }

// NoLoadVoltage implements [Source].
func (a AveragedRectifier) NoLoadVoltage() float64 { return a.Rectifier.NoLoadVoltage() }

// Current implements [Source].
func (a AveragedRectifier) Current(v float64) float64 {
	for _, s := range a.characteristic() {
		if v >= s.lo {
			return s.at(v)
		}
	}
	return math.NaN()
}

func (a AveragedRectifier) strongest() float64 {
	most := 0.0
	for _, s := range a.characteristic()[1:] {
		most = math.Max(most, math.Max(s.lo*s.at(s.lo), s.hi*s.at(s.hi)))
		if v := s.i0 / (2 * s.g); s.g > 0 && v > s.lo && v < s.hi {
			most = math.Max(most, v*s.at(v))
		}
	}
	return most
}

// corner returns corner k of the characteristic.
func (a AveragedRectifier) corner(k int) (v, i float64) {
	r := a.Rectifier
	drop := r.Kind.inSeries() * r.DiodeThreshold
	c := a.shape.corners[k]
	return c.u*r.crest() - drop, c.j * (r.crest() / r.impedance())
}

func (a AveragedRectifier) characteristic() []segment {
	hi, i := a.corner(0)
	segs := []segment{{lo: hi, hi: math.Inf(1)}}
	for k := 1; k < len(a.shape.corners) && hi > 0; k++ {
		lo, next := a.corner(k)
		g := (next - i) / (hi - lo)
		s := segment{lo: math.Max(lo, 0), hi: hi, i0: i + g*hi, g: g}
		if k == len(a.shape.corners)-1 {
			s.lo = 0
		}
		segs = append(segs, s)
		hi, i = lo, next
	}
	return segs
}

// sagLine implements [Source] by a [Resistive] source whose line touches the
// characteristic from below: at every voltage it delivers no more, so that the
// bus is at no time lower with the rectifier than with it. (Of two sources on
// the same bus that start alike, that which delivers more at every voltage never
// falls below the other: where their voltages were equal it would rise faster.)
// reach tells of which piece it has the slope.
func (a AveragedRectifier) sagLine(b Bus, d demand, low, bank, reach float64) sagLine {
	segs := a.characteristic()
	n := 1 + int(reach*float64(len(segs)-2))
	for n > 1 && !(segs[n].g > 0) {
		n--
	}
	s := segs[n]
	i0 := s.i0
	for k := range a.shape.corners {
		if v, i := a.corner(k); v >= 0 {
			i0 = math.Min(i0, i+s.g*v)
		}
	}
	return Resistive{OpenCircuit: i0 / s.g, Resistance: 1 / s.g}.sagLine(b, d, low, bank, 1)
}

func (a AveragedRectifier) sagLines() []float64 { return []float64{0.1, 0.2, 0.3, 0.5, 0.7} }

// SmallRipple estimates the ripple [V] from crest to valley that a current [A]
// causes on a bank [F]: all of the charge between crests comes from it,
//
//	I/(p f C)
//
// with p pulses in a period (any electronics text). It is too high, the more so
// the larger the ripple, and in three-phase bridges with some inductance, where
// conduction is never interrupted, by far: [Rectifier.Settle] is exact.
func (r Rectifier) SmallRipple(capacitance, current float64) float64 {
	return current / (float64(r.Kind.pulses()) * r.Frequency * capacitance)
}
