package sizing

import (
	"context"
	"fmt"
	"runtime"

	"gonum.org/v1/gonum/stat/distuv"

	"example.com/headroom/profile"
)

// fewestSamples is the size of a study from which on the quantile of one in a hundred has a
// range at 95 %: 0.99^n is at most 2.5 % from 367 on.
const fewestSamples = 400

// studyFractions are those whose quantiles a study shows.
var studyFractions = []float64{0.01, 0.5, 0.99}

func validateStudy(f *profile.Faults, s *Study) {
	if s != nil && !(s.Count >= fewestSamples && s.Count <= mostSamples) {
		f.Add("study.samples", s.Count, fmt.Sprintf("from %d to %d: fewer say nothing of one machine in a hundred", fewestSamples, mostSamples))
	}
}

// StudyResult is what a study of the tolerances comes to. The quantiles are of 1, 50 and 99 %.
type StudyResult struct {
	*Samples
	Lowest, Highest, Peak, Hottest []Quantile

	TooLow, TooHigh, TooHot Share // of the samples beyond a limit
}

// Share is a share of samples.
type Share struct {
	Of   float64 // share of the samples
	Most float64 // that the share of all machines does not exceed at a confidence of 95 %
}

// study makes the study where it is asked for.
func (a *Assessment) study(ctx context.Context) error {
	m := a.Machine
	if m.Study == nil {
		return nil
	}
	s := *m.Study
	if s.Workers == 0 {
		s.Workers = runtime.GOMAXPROCS(0)
	}
	all, err := m.Sample(ctx, s)
	if err != nil {
		return err
	}
	r := &StudyResult{Samples: all}
	for _, q := range []struct {
		into *[]Quantile
		of   func(Outcome) float64
	}{
		{&r.Lowest, func(o Outcome) float64 { return o.Lowest }},
		{&r.Highest, func(o Outcome) float64 { return o.Highest }},
		{&r.Peak, func(o Outcome) float64 { return o.Peak }},
		{&r.Hottest, func(o Outcome) float64 { return o.Hottest }},
	} {
		if *q.into, err = all.Quantiles(q.of, studyFractions...); err != nil {
			return err
		}
	}
	coolest := a.lowestWindingLimit()
	r.TooLow = all.share(func(o Outcome) bool { return o.Lowest < m.UnderVoltage })
	r.TooHigh = all.share(func(o Outcome) bool { return o.Highest > a.highestAllowed() })
	r.TooHot = all.share(func(o Outcome) bool { return o.Hottest > coolest })
	a.Study = r
	return nil
}

// lowestWindingLimit returns the lowest temperature that any winding of the machine may
// reach [°C].
func (a *Assessment) lowestWindingLimit() float64 {
	least := a.Machine.Axes[0].Winding.Max
	for _, ax := range a.Machine.Axes {
		least = min(least, ax.Winding.Max)
	}
	return least
}

// share counts samples. The share of all machines is bounded from above by the quantile of a
// beta distribution: of k in n at most B(95 %; k+1, n-k) (Clopper and Pearson, Biometrika 26,
// 1934, FROM MEMORY); for k = 0 that is 1 - 0.05^(1/n).
func (s *Samples) share(in func(Outcome) bool) Share {
	k, n := 0, len(s.Outcomes)
	for _, o := range s.Outcomes {
		if in(o) {
			k++
		}
	}
	most := 1.0
	if k < n {
		most = distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(0.95)
	}
	return Share{float64(k) / float64(n), most}
}
