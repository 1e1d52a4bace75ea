package energy

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/headroom/profile"
)

// compare records a fault for every figure of the sheet that contradicts another one.
func (s Sheet) compare(f *profile.Faults, claims []claim) {
	tolerance := s.Tolerance
	if tolerance == 0 {
		tolerance = defaultTolerance
	}
	base := claims[0]
	for _, c := range claims[1:] {
		allowed := tolerance
		if c.rated {
			allowed *= 2
		}
		contradict(f, c, base, allowed, "torque per ampere")
	}
	contradict(f,
		claim{path: "resistancePerPhase", value: s.ResistancePerPhase, scale: 2, others: []reading{{"resistancePerPhase is line to line", 0.5}}},
		claim{path: "resistanceLineToLine", value: s.ResistanceLineToLine, scale: 1, others: []reading{{"resistanceLineToLine is per phase", 2}}},
		tolerance, "resistance line to line")
	contradict(f,
		claim{path: "inductancePerPhase", value: s.InductancePerPhase, scale: 2, others: []reading{{"inductancePerPhase is line to line", 0.5}}},
		claim{path: "inductanceLineToLine", value: s.InductanceLineToLine, scale: 1, others: []reading{{"inductanceLineToLine is per phase", 2}}},
		tolerance, "inductance line to line")
	if s.RatedTorque > 0 && s.RatedSpeed > 0 {
		contradict(f,
			claim{path: "ratedPower", value: s.RatedPower, scale: 1},
			claim{path: "ratedTorque", value: s.RatedTorque, scale: s.RatedSpeed, others: []reading{{"ratedSpeed is in rpm", 1 / (1000 * PerThousandRPM)}}},
			tolerance, "power")
	}
	if s.StallTorque > 0 && s.RatedTorque > s.StallTorque*(1+tolerance) {
		f.Add("ratedTorque", s.RatedTorque, fmt.Sprintf("at most the stall torque of %.4g N·m", s.StallTorque))
	}
}

// contradict records a fault for c when it differs from base by more than the tolerance;
// both must be given.
func contradict(f *profile.Faults, c, base claim, tolerance float64, what string) {
	if c.value == 0 || base.value == 0 {
		return
	}
	ratio := c.means() / base.means()
	if off(ratio) <= tolerance {
		return
	}
	want := fmt.Sprintf("agreement within %g %% with %s = %.4g: as %s they differ by a factor of %.3g",
		100*tolerance, base.path, base.value, what, math.Max(ratio, 1/ratio))
	if fits := fitting(c, base, ratio, tolerance); len(fits) > 0 {
		want += ", and would agree if " + strings.Join(fits, ", or if ")
	} else {
		want += ", and no other usual reading of one of them makes them agree"
	}
	f.Add(c.path, c.value, want)
}

// off is how far a ratio is from 1, the same for a ratio and its inverse.
func off(ratio float64) float64 { return math.Max(ratio, 1/ratio) - 1 }

// maxFits bounds the readings that a fault lists.
const maxFits = 4

// fitting returns the readings that would make c agree with base, the best first.
func fitting(c, base claim, ratio, tolerance float64) []string {
	type fit struct {
		says string
		off  float64
	}
	var fits []fit
	try := func(says string, ratio float64) {
		if d := off(ratio); d <= tolerance {
			fits = append(fits, fit{says, d})
		}
	}
	for _, r := range c.others {
		try(r.says, ratio*r.factor)
	}
	for _, r := range base.others {
		try(r.says, ratio/r.factor)
	}
	slices.SortStableFunc(fits, func(a, b fit) int {
		switch d := a.off - b.off; {
		case d < -1e-9:
			return -1
		case d > 1e-9:
			return 1
		}
		return 0
	})
	var out []string
	for _, x := range fits[:min(len(fits), maxFits)] {
		out = append(out, x.says)
	}
	return out
}
