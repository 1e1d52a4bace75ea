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
	searchSteep    = 0.15 // of the worst, by which a figure may fall between two samples from near its worst, or the way is halved
	searchDepth    = 14   // times
	searchReach    = 4    // how many times as far above a sample as its neighbours are below it the figure may go
	searchSections = 32   // golden sections: what is left of two steps is 4e-7 of them
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
	sample := func(span int, t float64) (sampled, error) {
		v, err := ask(span, t)
		return sampled{t, slices.Clone(v)}, err
	}
	rough := make([][]sampled, len(steps))
	for s, steps := range steps {
		for i := range steps + 1 {
			t := cuts[s+1]
			if i < steps {
				t = cuts[s] + (t-cuts[s])*(1-math.Cos(math.Pi*float64(i)/float64(steps)))/2
			}
			next, err := sample(s, t)
			if err != nil {
				return nil, err
			}
			rough[s] = append(rough[s], next)
		}
	}
	for s, rough := range rough {
		samples := rough[:1:1]
		// steep adds the samples after one up to another, halving the way between them
		// where a figure falls off steeply from near its worst.
		var steep func(from, to sampled, depth int) error
		steep = func(from, to sampled, depth int) error {
			for k := range worst {
				most := worst[k].V
				if depth == 0 || !(math.Max(from.v[k], to.v[k]) > most/2 && math.Abs(from.v[k]-to.v[k]) > searchSteep*most) {
					continue
				}
				mid, err := sample(s, from.t+(to.t-from.t)/2)
				if err == nil {
					err = steep(from, mid, depth-1)
				}
				if err == nil {
					err = steep(mid, to, depth-1)
				}
				return err
			}
			samples = append(samples, to)
			return nil
		}
		for i := range len(rough) - 1 {
			if err := steep(rough[i], rough[i+1], searchDepth); err != nil {
				return nil, err
			}
		}
		for i, at := range samples {
			before, after := samples[max(i-1, 0)], samples[min(i+1, len(samples)-1)]
			for k, v := range at.v {
				left, right := before.v[k], after.v[k]
				if least := math.Max(left, right); !(v >= least*(1-1e-9)) {
					continue
				}
				if reach := math.Max(v-left, v-right); !(v+searchReach*reach > worst[k].V) || !(reach > 0) {
					continue
				}
				figure := func(t float64) (float64, error) {
					f, err := ask(s, t)
					if err != nil {
						return 0, err
					}
					return f[k], nil
				}
				for _, end := range [2]float64{before.t, after.t} {
					if err := section(end, at.t, figure); err != nil {
						return nil, err
					}
				}
			}
		}
	}
	return worst, nil
}

// sampled is the figures at an instant.
type sampled struct {
	t float64
	v []float64
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

// section narrows down a maximum between far and near, the better end, by golden
// sections. What is asked for is kept by of.
func section(far, near float64, of func(t float64) (float64, error)) error {
	if far == near {
		return nil
	}
	a, b := near-golden*(near-far), far+golden*(near-far)
	fa, err := of(a)
	if err != nil {
		return err
	}
	fb, err := of(b)
	if err != nil {
		return err
	}
	for range searchSections {
		if fa > fb*(1+1e-9) {
			near, b, fb = b, a, fa
			a = near - golden*(near-far)
			fa, err = of(a)
		} else { // on a plateau too
			far, a, fa = a, b, fb
			b = far + golden*(near-far)
			fb, err = of(b)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
