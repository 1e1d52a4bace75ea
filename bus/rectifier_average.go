package bus

import (
	"context"
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// averagePieces is the number of straight pieces of an averaged rectifier's
// current over voltage.
const averagePieces = 32

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
// The current is approximated by 32 straight pieces, the shorter the nearer to no
// load, whose corners are exact; the voltage at a given current is off by less
// than 1e-3 of the crest. True voltages dip below the average and rise above it:
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
type averageShape struct {
	u, j [averagePieces + 1]float64
}

// averageVoltage returns at which relative voltage piece k begins: between them
// the same relative error arises if the current grows with a power of what the
// voltage is below the crest.
func averageVoltage(k int) float64 {
	s := float64(k) / averagePieces
	return 1 - s*s
}

// Averaged computes the averaged rectifier. It returns an error that joins the
// faults of the fields, or one that wraps the context's error or [ErrBudget].
func (r Rectifier) Averaged(ctx context.Context) (AveragedRectifier, error) {
	if err := r.Validate(); err != nil {
		return AveragedRectifier{}, err
	}
	a := AveragedRectifier{r, &averageShape{}}
	ideal := r
	ideal.DiodeThreshold = 0
	short := r.crest() / r.impedance()
	var x [rectStates]float64
	a.shape.u[0] = 1
	for k := 1; k <= averagePieces; k++ {
		u := averageVoltage(k)
		i, at, err := ideal.heldCurrent(ctx, u*r.crest(), x)
		if err != nil {
			return AveragedRectifier{}, fmt.Errorf("averaged rectifier at %g of its crest: %w", u, err)
		}
		x = at
		a.shape.u[k], a.shape.j[k] = u, i/short
	}
	return a, nil
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
		for _, v := range []float64{s.lo, s.hi, math.Max(s.lo, math.Min(s.hi, s.i0/(2*s.g)))} {
			most = math.Max(most, v*s.at(v))
		}
	}
	return most
}

// corner returns corner k of the characteristic.
func (a AveragedRectifier) corner(k int) (v, i float64) {
	r := a.Rectifier
	drop := r.Kind.inSeries() * r.DiodeThreshold
	return a.shape.u[k]*r.crest() - drop, a.shape.j[k] * r.crest() / r.impedance()
}

func (a AveragedRectifier) characteristic() []segment {
	hi, i := a.corner(0)
	segs := []segment{{lo: hi, hi: math.Inf(1)}}
	for k := 1; k <= averagePieces && hi > 0; k++ {
		lo, next := a.corner(k)
		g := (next - i) / (hi - lo)
		s := segment{lo: math.Max(lo, 0), hi: hi, i0: i + g*hi, g: g}
		if k == averagePieces {
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
// reach tells at which corner it touches, and thus how steep it is.
func (a AveragedRectifier) sagLine(b Bus, d demand, low, bank, reach float64) sagLine {
	segs := a.characteristic()
	s := segs[1+int(reach*float64(len(segs)-2))]
	i0 := s.i0
	for k := range averagePieces + 1 {
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
