package sizing

import (
	"math"

	"example.com/headroom/internal/quantity"
)

const (
	sourceAverage = "most energy that the supply gives in any window of that length, over the length, in any phase and with any pause: E(L) <= W(voltage above which it gives nothing) - W(lowest voltage) + sum of D(L) + losses L, " +
		"with W = ½ C V² and D(L) the most that a station draws in any such window, what it returns not deducted (balance of energy; D is an arrival curve: Le Boudec and Thiran, Network Calculus, LNCS 2050, section 1.2, from memory), " +
		"and no more than it can give at all; hot copper, what series resistance and cables burn is in it"
	resistorAverage = "most energy that brake resistors and clamp burn together in any window of that length, over the length, in any phase and with any pause: E(L) <= W(highest voltage) - W(lowest off threshold) + sum of D(L), " +
		"with W = ½ C V² and D(L) the most that a station returns in any such window (balance of energy, the supply being blocked while a resistor is on), and no more than V²/R at the highest voltage; cold copper"
)

// averagesFigures shows powers averaged over windows, each against the rating that there is.
func (a *Assessment) averagesFigures(s *Section) {
	if a.Averages == nil {
		return
	}
	show := func(of string, loads []WindowLoad, how, limit, cure string) {
		for _, w := range loads {
			f := figure(of, "highest mean / over "+show(w.Time, quantity.Time), w.Mean, quantity.Power, how)
			if w.Limit == 0 {
				s.figure(f)
				continue
			}
			f.How += "; " + limit
			c := atMost(f, w.Limit, cure)
			if math.IsInf(w.Mean, 0) {
				c.Reason = "the bus has no bound on its voltage"
			}
			s.check(c)
		}
	}
	show("supply", a.Averages.Source, sourceAverage, "the limit is the overload rating of the supply, on logarithmic scales between its points, in the temperature around it", "a larger supply, or a larger bank with a supply of a lower limit")
	show("brake resistor", a.Averages.Resistor, resistorAverage, "the limit is the pulse rating of the resistor, on logarithmic scales between its points, in the temperature around it", "a resistor with a higher pulse rating, or a larger bank")
}
