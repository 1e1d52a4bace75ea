package energy

import (
	"math"

	"example.com/headroom/profile"
)

const (
	searchSamples  = 16 // steps into which a span is cut, closer together at its ends, where speeds are zero or highest
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
// spans between cuts. of returns the figures at an instant of a span, in a slice that
// it may use again.
func worstStart(cuts []float64, n int, of func(span int, t float64) ([]float64, error)) ([]found, error) {
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
	spans := len(cuts) - 1
	samples := make([]float64, spans*(searchSamples+1)*n)
	row := func(span, i int) []float64 {
		at := (span*(searchSamples+1) + i) * n
		return samples[at : at+n]
	}
	instant := func(span, i int) float64 {
		if i == searchSamples {
			return cuts[span+1]
		}
		return cuts[span] + (cuts[span+1]-cuts[span])*(1-math.Cos(math.Pi*float64(i)/searchSamples))/2
	}
	for s := range spans {
		for i := range searchSamples + 1 {
			v, err := ask(s, instant(s, i))
			if err != nil {
				return nil, err
			}
			copy(row(s, i), v)
		}
	}
	for s := range spans {
		for i := range searchSamples + 1 {
			before, after := max(i-1, 0), min(i+1, searchSamples)
			for k := range n {
				v, left, right := row(s, i)[k], row(s, before)[k], row(s, after)[k]
				if !(v >= left && v >= right) {
					continue
				}
				if reach := math.Max(v-left, v-right); !(v+searchReach*reach > worst[k].V) || reach == 0 {
					continue
				}
				if err := section(instant(s, before), instant(s, after), func(t float64) (float64, error) {
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
