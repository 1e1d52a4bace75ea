package taylor

import "math"

// ProductCoef returns coefficient k of the product a·b: Σ a[i] b[k-i].
func ProductCoef(a, b *Series, k int) float64 {
	s := 0.0
	for i := 0; i <= k; i++ {
		s += a[i] * b[k-i]
	}
	return s
}

// QuotientCoef returns coefficient k of q = a/b, given q[0..k-1]:
// (a[k] - Σ_{i=1..k} b[i] q[k-i]) / b[0].
func QuotientCoef(q, a, b *Series, k int) float64 {
	s := a[k]
	for i := 1; i <= k; i++ {
		s -= b[i] * q[k-i]
	}
	return s / b[0]
}

// SqrtCoef returns coefficient k of r = √a, given r[0..k-1]:
// √a[0] for k = 0, then (a[k] - Σ_{i=1..k-1} r[i] r[k-i]) / (2 r[0]).
func SqrtCoef(r, a *Series, k int) float64 {
	if k == 0 {
		return math.Sqrt(a[0])
	}
	s := a[k]
	for i := 1; i < k; i++ {
		s -= r[i] * r[k-i]
	}
	return s / (2 * r[0])
}
