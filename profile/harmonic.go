package profile

import (
	"math"

	"example.com/headroom/internal/poly"
)

// A sine is no polynomial. These two laws are made of Taylor polynomials of
// degree 7, each about the middle of a piece short enough for the stated
// accuracy.
var (
	simpleHarmonic = Law{
		sineCurve(0.5, 0, 0.5, math.Pi, math.Pi/2, 32),
		alike(Limits{Speed: math.Pi / 2, Accel: math.Pi * math.Pi / 2, Jerk: math.Inf(1)}),
	}
	cycloidal = Law{
		sineCurve(0, 1, 1/(2*math.Pi), 2*math.Pi, 0, 64),
		alike(Limits{Speed: 2, Accel: 2 * math.Pi, Jerk: 4 * math.Pi * math.Pi}),
	}
)

// SimpleHarmonic returns the simple harmonic law of cam design,
//
//	(1 - cos πτ)/2
//
// in 32 polynomial pieces. Relative to its peak the position is exact to
// 1e-14, the speed to 1e-12, the acceleration to 1e-10 and the jerk to 1e-8.
// The factors are π/2 for speed and π²/2 for acceleration, which steps to its
// peak at both ends, so that no jerk limit is kept.
func SimpleHarmonic() Law { return simpleHarmonic }

// Cycloidal returns the cycloidal law of cam design,
//
//	τ - sin(2πτ)/2π
//
// in 64 polynomial pieces. Relative to its peak the position is exact to
// 1e-14, the speed to 1e-12, the acceleration to 1e-10 and the jerk to 1e-8.
// The factors are 2 for speed, 2π for acceleration and 4π² for jerk, which is at
// its peak at both ends and half-way.
func Cycloidal() Law { return cycloidal }

// sineCurve returns the curve
//
//	c0 + c1 τ - amplitude sin(w τ + phase)
//
// over [0, 1] in n pieces, a law that starts at rest at 0. The k-th Taylor
// coefficient of the sine about m is w^k/k! sin(w m + phase + k π/2).
func sineCurve(c0, c1, amplitude, w, phase float64, n int) Curve {
	const degree = 7
	out := makeCurve(n, degree+1)
	out.b = append(out.b, 0)
	for i := range n {
		middle, half := (float64(i)+0.5)/float64(n), 0.5/float64(n)
		s, c := math.Sincos(w*middle + phase)
		turn := [...]float64{s, c, -s, -c}
		p := make([]float64, degree+1)
		f := amplitude
		for k := range p {
			p[k] = -f * turn[k%4]
			f *= w / float64(k+1)
		}
		p[0] += c0 + c1*middle
		p[1] += c1
		out.c = append(out.c, poly.Shift(p, p, -half)...)
		out.b = append(out.b, float64(i+1)/float64(n))
	}
	out.c[0], out.c[1] = 0, 0
	return out
}
