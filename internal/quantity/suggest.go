package quantity

import (
	"fmt"
	"slices"
	"strings"
)

// otherSpellings maps symbols that are in use but not read to what to write.
var otherSpellings = map[string]string{
	"C":       "degC for a temperature, A s for a charge",
	"hr":      "h",
	"hrs":     "h",
	"sec":     "s",
	"inch":    "in",
	"lbs":     "lb for a mass, lbf for a force",
	"degrees": "deg",
	"U":       "rev",
	"hp":      "W or kW, because there are several horsepowers",
	"kgf":     "N",
	"sqrt":    "sqrt(W), the only root that is read",
}

// unknown describes a symbol that is no unit, with the likeliest ones instead.
func unknown(symbol string) *problem {
	p := problem{got: fmt.Sprintf("an unknown unit %q", symbol)}
	if other, ok := otherSpellings[symbol]; ok {
		p.hint = "write " + other
		return &p
	}
	var likely []string
	for s := range symbols {
		if strings.EqualFold(s, symbol) {
			likely = append(likely, s)
		}
	}
	for i := range symbol {
		_, head := symbols[symbol[:i]]
		_, tail := symbols[symbol[i:]]
		if head && tail {
			likely = append(likely, symbol[:i]+" "+symbol[i:])
		}
	}
	if len(likely) > 0 {
		slices.Sort(likely)
		p.hint = `did you mean "` + strings.Join(likely, `" or "`) + `"?`
	}
	return &p
}
