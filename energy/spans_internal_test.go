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
		lo := r.Float64() * float64(r.IntN(2))
		hi := lo + 1.5*r.Float64()
		s, ok := oneSign(p, lo, hi)
		if !ok {
			unsure++
			require.Zero(t, s, "seed %d", seed)
			require.NotEmpty(t, poly.Roots(nil, p, lo, hi), "seed %d", seed)
			continue
		}
		kept++
		for i := range 101 {
			v := poly.Eval(p, lo+(hi-lo)*float64(i)/100)
			require.GreaterOrEqual(t, s*v, -1e-12, "seed %d", seed)
		}
	}
	require.Greater(t, min(kept, unsure), 2000)
}
