package energy

import (
	"math"
	"slices"

	"example.com/headroom/profile"
)

const (
	searchSamples  = 16 // steps into which a span is cut, closer together at its ends, where speeds are zero or highest
	searchPerTurn  = 16 // and for every turn by which the place at which a crank comes to rest changes on the span
	searchMost     = 2000
	searchReach    = 4  // how many times as far above a sample as its neighbours are below it the figure may go
	searchSections = 32 // golden sections: what is left of two steps is 4e-7 of them
)

// golden is the larger part of the golden section.
const golden = 0.61803398874989484820

// found is the worst of a figure and the span in which it was found.
type found struct {
	profile.Point
	span int
}

// worstStart returns the largest value of each of n figures over all instants of the
// spans between cuts, of which each is cut into steps. of returns the figures at an
// instant of a span, in a slice that it may use again.
func worstStart(cuts []float64, steps []int, n int, of func(span int, t float64) ([]float64, error)) ([]found, error) {
	worst := make([]found, n)
	for k := range worst {
		worst[k].V = math.Inf(-1)
	}
	ask := func(span int, t float64) ([]float64, error) {
		v, err := of(span, t)
		for k, x := range v {
			if x > worst[k].V {
				worst[k] = found{profile.Point{T: t, V: x}, span}
			}
		}
		return v, err
	}
	var samples [][]float64
	for s, steps := range steps {
		instant := func(i int) float64 {
			if i == steps {
				return cuts[s+1]
			}
			return cuts[s] + (cuts[s+1]-cuts[s])*(1-math.Cos(math.Pi*float64(i)/float64(steps)))/2
		}
		samples = samples[:0]
		for i := range steps + 1 {
			v, err := ask(s, instant(i))
			if err != nil {
				return nil, err
			}
			samples = append(samples, slices.Clone(v))
		}
		for i := range steps + 1 {
			before, after := max(i-1, 0), min(i+1, steps)
			for k := range n {
				v, left, right := samples[i][k], samples[before][k], samples[after][k]
				if !(v >= left && v >= right) {
					continue
				}
				if reach := math.Max(v-left, v-right); !(v+searchReach*reach > worst[k].V) || reach == 0 {
					continue
				}
				if err := section(instant(before), instant(after), func(t float64) (float64, error) {
					f, err := ask(s, t)
					if err != nil {
						return 0, err
					}
					return f[k], nil
				}); err != nil {
					return nil, err
				}
			}
		}
	}
	return worst, nil
}

// steps returns into how many steps each span is to be cut.
func (s *station) steps() []int {
	steps := make([]int, len(s.cuts)-1)
	for k := range steps {
		turns := 0.0
		for i := range s.axes {
			a := &s.axes[i]
			if _, crank := a.Axis.Mechanism.(CrankSlider); !crank {
				continue
			}
			last := 0.0
			for j := range searchSamples + 1 {
				from, _ := a.from(s.at[i][k], s.cuts[k]+(s.cuts[k+1]-s.cuts[k])*float64(j)/searchSamples)
				angle := from.Position + from.Speed*math.Abs(from.Speed)/(2*a.Limits.Deceleration)
				if j > 0 {
					turns += math.Abs(angle-last) / (2 * math.Pi)
				}
				last = angle
			}
		}
		steps[k] = searchSamples + int(math.Min(searchMost, math.Ceil(searchPerTurn*turns)))
	}
	return steps
}

// section narrows down a maximum between lo and hi by golden sections. What is asked
// for is kept by of.
func section(lo, hi float64, of func(t float64) (float64, error)) error {
	a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
	fa, err := of(a)
	if err != nil {
		return err
	}
	fb, err := of(b)
	if err != nil {
		return err
	}
	for range searchSections {
		if fa >= fb {
			hi, b, fb = b, a, fa
			a = hi - golden*(hi-lo)
			fa, err = of(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + golden*(hi-lo)
			fb, err = of(b)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
