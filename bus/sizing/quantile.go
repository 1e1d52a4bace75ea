package sizing

import (
	"math"
	"slices"

	"example.com/headroom/profile"
)

// Quantile is a value below which a fraction of the samples lies, with the range in which
// that of all machines lies at a confidence of 95 %.
type Quantile struct {
	Fraction  float64
	Value     float64
	Low, High float64 // -Inf or +Inf where the samples are too few to tell
}

// Quantiles returns quantiles of one figure of the outcomes.
//
// The value is the order statistic next to n p; the range is that between two order
// statistics x(i) and x(j) of which the binomial distribution says that fewer than i or
// at least j of n samples lie below the quantile with a probability of 2.5 % each at
// most (distribution-free interval, for example in Conover, Practical Nonparametric
// Statistics, section 3.2, FROM MEMORY).
func (s *Samples) Quantiles(figure func(Outcome) float64, fractions ...float64) ([]Quantile, error) {
	var f profile.Faults
	if s == nil || len(s.Outcomes) == 0 {
		f.Add("samples", 0, "at least one")
	}
	for _, p := range fractions {
		if !(p > 0 && p < 1) {
			f.Add("fraction", p, "above 0 and below 1")
		}
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	x := make([]float64, len(s.Outcomes))
	for i, o := range s.Outcomes {
		x[i] = figure(o)
	}
	slices.Sort(x)
	n := len(x)
	out := make([]Quantile, len(fractions))
	for i, p := range fractions {
		lo, hi := orderRange(n, p, 0.025)
		q := Quantile{Fraction: p, Value: x[min(n-1, int(float64(n)*p))], Low: math.Inf(-1), High: math.Inf(1)}
		if lo >= 1 {
			q.Low = x[lo-1]
		}
		if hi <= n {
			q.High = x[hi-1]
		}
		out[i] = q
	}
	return out, nil
}

// orderRange returns the numbers i < j of the order statistics, counted from 1, with
// P(B < i) <= tail and P(B >= j) <= tail for a binomial B of n and p; i = 0 or j = n+1
// where none will do.
func orderRange(n int, p, tail float64) (i, j int) {
	// The distribution from its bottom up, by logarithms of its terms.
	term := float64(n) * math.Log1p(-p)
	below := 0.0 // P(B < k)
	j = n + 1
	for k := 0; k <= n; k++ {
		if below <= tail {
			i = k
		}
		if 1-below <= tail {
			j = k
			break
		}
		below += math.Exp(term)
		term += math.Log(float64(n-k)/float64(k+1)) + math.Log(p) - math.Log1p(-p)
	}
	return i, j
}
