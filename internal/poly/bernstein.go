package poly

// bernstein returns the coefficients of p in the Bernstein basis on [lo, hi]:
//
//	b[j] = Σ_{i≤j} C(j,i)/C(n,i) q[i],   q(u) = p(lo + u (hi-lo)), n its degree
//
// formed by running sums. p has no more roots in the interval than b has changes
// of sign, and the same number modulo 2 (Descartes' rule on an interval).
// Source: R. T. Farouki, V. T. Rajan, Algorithms for polynomials in Bernstein
// form, Computer Aided Geometric Design 5 (1988) 1-26 (FROM MEMORY).
func bernstein(dst, c []float64, lo, hi float64) []float64 {
	b := Shift(dst, c, lo)
	n, h := len(b)-1, hi-lo
	w := 1.0 // hⁱ / C(n,i)
	for i := range b {
		b[i] *= w
		w *= h * float64(i+1) / float64(n-i)
	}
	for i := 1; i <= n; i++ {
		for j := n; j >= i; j-- {
			b[j] += b[j-1]
		}
	}
	return b
}

// differences overwrites b with its forward differences, the Bernstein
// coefficients of the derivative but for a positive factor.
func differences(b []float64) []float64 {
	n := len(b) - 1
	for i := 0; i < n; i++ {
		b[i] = b[i+1] - b[i]
	}
	return b[:n]
}

// maxSignChanges returns how often the sign can change along b when entries of
// size tol and below may have either sign.
func maxSignChanges(b []float64, tol float64) int {
	const never = -1 << 30
	plus, minus := -1, -1 // most changes so far when the last sign is + or -
	for _, v := range b {
		p, m := max(plus, minus+1), max(minus, plus+1)
		switch {
		case v > tol:
			m = never
		case v < -tol:
			p = never
		}
		plus, minus = p, m
	}
	return max(plus, minus)
}
