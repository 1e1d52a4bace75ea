package poly

import "testing"

func BenchmarkEval3(b *testing.B) {
	c := []float64{0.1, 2, -3, 4}
	b.ReportAllocs()
	x := 0.3
	for b.Loop() {
		x = 0.3 + 1e-9*Eval(c, x)
	}
}

func BenchmarkMul4x4(b *testing.B) {
	p, q := []float64{1, 2, 3, 4, 5}, []float64{5, -4, 3, -2, 1}
	dst := make([]float64, 9)
	b.ReportAllocs()
	for b.Loop() {
		dst = Mul(dst, p, q)
	}
}

func benchmarkRoots(b *testing.B, c []float64, want int) {
	dst := make([]float64, 0, len(c))
	b.ReportAllocs()
	for b.Loop() {
		dst = Roots(dst, c, 0, 1)
	}
	if len(dst) != want {
		b.Fatalf("roots %v, want %d", dst, want)
	}
}

func BenchmarkRoots1(b *testing.B) { benchmarkRoots(b, []float64{-0.3, 0.7}, 1) }

func BenchmarkRoots2(b *testing.B) {
	b.Run("none", func(b *testing.B) { benchmarkRoots(b, []float64{1, -1.5, 1}, 0) })
	b.Run("1", func(b *testing.B) { benchmarkRoots(b, []float64{-0.3, 0.1, 1}, 1) })
	b.Run("2", func(b *testing.B) { benchmarkRoots(b, fromRoots(0.3, 0.7), 2) })
}

func BenchmarkRoots4(b *testing.B) {
	b.Run("none, plain", func(b *testing.B) { benchmarkRoots(b, []float64{5, -1, 1, -1, 0.5}, 0) })
	b.Run("none", func(b *testing.B) { benchmarkRoots(b, []float64{1, -1, 1, -1, 0.5}, 0) })
	b.Run("none, close", func(b *testing.B) {
		benchmarkRoots(b, Add(nil, fromRoots(0.3, 0.3, 0.8, 0.8), []float64{1e-5}), 0)
	})
	b.Run("1", func(b *testing.B) { benchmarkRoots(b, []float64{-0.5, 1, 0.3, -0.2, 0.1}, 1) })
	b.Run("at 0", func(b *testing.B) { benchmarkRoots(b, []float64{0, 1, 0.3, -0.2, 0.1}, 1) })
	b.Run("double at both ends", func(b *testing.B) { benchmarkRoots(b, fromRoots(0, 0, 1, 1), 2) })
	b.Run("4", func(b *testing.B) { benchmarkRoots(b, fromRoots(0.1, 0.35, 0.6, 0.9), 4) })
}

// taylor16 has the coefficients of a smooth function on a step that is 0.4 of
// its radius of convergence.
func taylor16(first ...float64) []float64 {
	c := make([]float64, 17)
	f := 1.0
	for i := range c {
		c[i] = f
		if i%3 == 1 {
			c[i] = -f
		}
		f *= 0.4
	}
	copy(c, first)
	return c
}

func BenchmarkRoots16(b *testing.B) {
	b.Run("none, plain", func(b *testing.B) { benchmarkRoots(b, taylor16(5), 0) })
	b.Run("none", func(b *testing.B) { benchmarkRoots(b, taylor16(0.3, 0.3), 0) })
	b.Run("1", func(b *testing.B) { benchmarkRoots(b, taylor16(-0.3, 0.4), 1) })
	b.Run("2", func(b *testing.B) { benchmarkRoots(b, taylor16(0.2, -1, 1), 2) })
	b.Run("7", func(b *testing.B) {
		c := chebyshev(16)
		benchmarkRoots(b, Stretch(nil, c, 0.97), 7)
	})
}

func BenchmarkExtrema4(b *testing.B) {
	for _, bb := range []struct {
		name string
		c    []float64
	}{
		{"monotone", []float64{1, 5, 1, -1, 0.5}},
		{"1 turn", []float64{1, -1, 1, 0.3, 0.5}},
		{"3 turns", fromRoots(0.1, 0.35, 0.6, 0.9)},
	} {
		b.Run(bb.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Extrema(bb.c, 0, 1)
			}
		})
	}
}
