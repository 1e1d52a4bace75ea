package profile

import "math"

// The laws of fixed shape; the factors are those in the table at [Law].
var (
	leastLoss = fixedLaw([]float64{0, 0, 3, -2},
		Limits{Speed: 1.5, Accel: 6, Jerk: math.Inf(1)})
	polynomial345 = fixedLaw([]float64{0, 0, 0, 10, -15, 6},
		Limits{Speed: 1.875, Accel: 10 / math.Sqrt(3), Jerk: 60})
	polynomial4567 = fixedLaw([]float64{0, 0, 0, 0, 35, -84, 70, -20},
		Limits{Speed: 2.1875, Accel: 84 * math.Sqrt(5) / 25, Jerk: 52.5})
)

// fixedLaw returns the law with the given position polynomial over [0, 1] and
// with factors for slowing down equal to those for speeding up.
func fixedLaw(position []float64, up Limits) Law {
	return Law{Curve{b: []float64{0, 1}, c: position, w: len(position)}, alike(up)}
}

// alike returns limits with the values for slowing down set to those for
// speeding up.
func alike(l Limits) Limits {
	l.Decel, l.DecelJerk = l.Accel, l.Jerk
	return l
}

// LeastLoss returns the law of least copper loss: parabolic speed, linear
// acceleration, cubic position,
//
//	3τ² - 2τ³
//
// Of all moves of an inertia over a given distance in a given time it makes
// ∫a² dt least, 12 s²/T³. A constant force (weight, dry friction) does not
// change that, as ∫a dt = 0. The acceleration steps to its peak at both ends, so
// no jerk limit is kept. Its speed factor is 3/2, that of acceleration 6.
//
// Source: calculus of variations for the double integrator; any textbook on
// optimal control. FROM MEMORY.
func LeastLoss() Law { return leastLoss }

// Polynomial345 returns the 3-4-5 polynomial law of cam design, the shortest
// polynomial whose speed and acceleration vanish at both ends:
//
//	10τ³ - 15τ⁴ + 6τ⁵
//
// The factors are 15/8 for speed, 10/√3 for acceleration and 60 for jerk, which
// is at its peak at both ends.
func Polynomial345() Law { return polynomial345 }

// Polynomial4567 returns the 4-5-6-7 polynomial law of cam design, the shortest
// polynomial whose speed, acceleration and jerk vanish at both ends:
//
//	35τ⁴ - 84τ⁵ + 70τ⁶ - 20τ⁷
//
// The factors are 35/16 for speed, 84√5/25 for acceleration and 52.5 for jerk,
// which is at its peak half-way.
func Polynomial4567() Law { return polynomial4567 }
