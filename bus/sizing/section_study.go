package sizing

import (
	"fmt"

	"example.com/headroom/internal/quantity"
)

// studySection shows how often what happens.
func (a *Assessment) studySection(s *Section) {
	r := a.Study
	if r == nil {
		return
	}
	n := len(r.Outcomes)
	how := fmt.Sprintf("quantile of %d random machines of seed %d, each input with a tolerance drawn evenly from its range and on its own, each station in a random phase and without pauses, the bus followed from its no-load voltage over twice the longest cycle", n, r.Seed)
	const span = "for all such machines at a confidence of 95 %, between order statistics by the binomial distribution (distribution-free interval: Conover, Practical Nonparametric Statistics, section 3.2, from memory)"
	for _, x := range []struct {
		of   string
		q    []Quantile
		kind quantity.Kind
	}{
		{"lowest bus voltage", r.Lowest, quantity.Voltage},
		{"highest bus voltage", r.Highest, quantity.Voltage},
		{"peak power of the axes", r.Peak, quantity.Power},
		{"hottest winding", r.Hottest, quantity.Temperature},
	} {
		for k, q := range x.q {
			name, how, low := fmt.Sprintf("%g %%", 100*q.Fraction), how, span
			if k > 0 {
				how, low = fmt.Sprintf("as %g %%", 100*x.q[0].Fraction), fmt.Sprintf("as that of %g %%", 100*x.q[0].Fraction)
			}
			s.figure(figure(x.of, name, q.Value, x.kind, how))
			if k != 1 { // the tails
				s.figure(figure(x.of, name+" from", q.Low, x.kind, "lower end of its range "+low))
				s.figure(figure(x.of, name+" to", q.High, x.kind, "upper end of that range"))
			}
		}
	}
	for _, x := range []struct {
		of string
		s  Share
	}{
		{"below the under-voltage limit", r.TooLow},
		{"above what drives and bank stand", r.TooHigh},
		{"a winding above the lowest of their limits", r.TooHot},
	} {
		s.figure(figure(x.of, "share of samples", x.s.Of, quantity.Fraction, "of the samples of the study"))
		s.figure(figure(x.of, "at most, at 95 %", x.s.Most, quantity.Fraction, "not exceeded by the share of all such machines at a confidence of 95 %: quantile of a beta distribution (Clopper and Pearson, Biometrika 26, 1934, from memory)"))
	}
	s.note(fmt.Sprintf("1 %% of the machines lie below the figure under 1 %%, 99 %% below that under 99 %%. Bus voltages are those at any drive; 0 V is a bus that collapsed. The study says how often what happens if inputs spread evenly within their tolerances and phases are random; no limit rests on it, and pauses may lead beyond it. The same seed draws the same %d machines.", n))
}
