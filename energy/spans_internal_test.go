package energy

import (
	"math/rand/v2"
	"testing"

	"example.com/headroom/internal/poly"
	"github.com/stretchr/testify/require"
)

// TestOneSignOfParabolas: what is said to keep a sign has it all along, what crosses zero
// is not said to, and where nothing is said the sign is 0.
func TestOneSignOfParabolas(t *testing.T) {
	var kept, unsure int
	for seed := range uint64(20000) {
		r := rand.New(rand.NewPCG(seed, 5))
		p := []float64{r.NormFloat64(), 3 * r.NormFloat64(), 3 * r.NormFloat64()}[:1+r.IntN(3)]
		h := 1.5 * r.Float64()
		s, ok := (*tails)(nil).form(p).sign(h)
		if !ok {
			unsure++
			require.Zero(t, s, "seed %d", seed)
			require.NotEmpty(t, poly.Roots(nil, p, 0, h), "seed %d", seed)
			continue
		}
		kept++
		for i := range 101 {
			v := poly.Eval(p, h*float64(i)/100)
			require.GreaterOrEqual(t, s*v, -1e-12, "seed %d", seed)
		}
	}
	require.Greater(t, min(kept, unsure), 2000)
}
