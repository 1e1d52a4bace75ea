// Package poly is the arithmetic of small dense polynomials on which every
// other package stands.
//
// A polynomial is a slice of coefficients in ascending order:
//
//	p(x) = c[0] + c[1] x + c[2] x² + …
//
// The empty slice is the zero polynomial. Coefficients and arguments must be
// finite. Where a result exceeds the range of float64 it is an infinity, or NaN
// where such infinities meet; Roots and Extrema scale inside and are free of
// this as long as p itself is finite on the interval.
//
// Slices given as dst are overwritten from their start, grown when too short,
// and returned; dst may be the input itself unless a function says otherwise.
// Nothing here allocates when dst has the room and p has at most 34
// coefficients.
//
// # Rounding
//
// The value of p at x in floating point is trusted to 4 (n+1) 2⁻⁵² Σ |c[i] xⁱ|
// with n coefficients: four times what Horner's rule can lose at worst, which
// leaves room for the rounding that the coefficients themselves bring along.
// "Zero within rounding" means smaller than that. The bound for Horner's rule
// is in N. Higham, Accuracy and Stability of Numerical Algorithms, 2nd ed.,
// §5.1 (FROM MEMORY).
//
// Functions are tested up to degree 24, and Roots beyond; it works up to degree
// 300.
package poly
