package profile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestCursorAndSampleEqualAt(t *testing.T) {
	r := seeded(11)
	for range 100 {
		c := r.curve(t)
		times := append(dense(c, 3), c.Start(), c.End(), c.Start()-1, c.End()+1, nan, inf, -inf)
		for range 30 {
			times = append(times, r.between(c.Start()-0.5, c.End()+0.5))
		}
		for i := range c.Pieces() {
			t0, t1, _ := c.Piece(i)
			times = append(times, t0, t1, math.Nextafter(t1, t0))
		}
		want := make([]float64, len(times))
		k := c.Cursor()
		for i, x := range times {
			want[i] = c.At(x)
			require.Equal(t, want[i], k.At(x), "at %g", x)
		}
		require.Equal(t, want, c.Sample(nil, times))
		require.Equal(t, want, c.Sample(make([]float64, 3, 5), times), "dst too short")
		require.Equal(t, want, c.Sample(times, times), "dst is t")
	}
}

func TestCursorAndSampleDoNotAllocate(t *testing.T) {
	c := hotMove(t).Motion().Position().Repeat(50)
	times, dst := dense(c, 4), make([]float64, 0, 4*c.Pieces())
	require.Zero(t, testing.AllocsPerRun(10, func() { sinkFloat = c.Sample(dst, times)[0] }))
	require.Zero(t, testing.AllocsPerRun(10, func() {
		k := c.Cursor()
		for _, x := range times {
			sinkFloat = k.At(x)
		}
	}))
}
