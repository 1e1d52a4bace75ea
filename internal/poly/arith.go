package poly

// Eval returns p(x) by Horner's rule.
func Eval(c []float64, x float64) float64 {
	v := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		v = v*x + c[i]
	}
	return v
}

// EvalBoth returns p(x) and its derivative p'(x).
func EvalBoth(c []float64, x float64) (v, dv float64) {
	for i := len(c) - 1; i >= 0; i-- {
		dv = dv*x + v
		v = v*x + c[i]
	}
	return v, dv
}

// EvalAbs returns Σ |c[i]| |x|^i, the scale against which rounding in p(x) is
// measured.
func EvalAbs(c []float64, x float64) float64 {
	x = abs(x)
	v := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		v = v*x + abs(c[i])
	}
	return v
}

// Add returns a + b.
func Add(dst, a, b []float64) []float64 {
	if len(a) < len(b) {
		a, b = b, a
	}
	out := resize(dst, len(a))
	for i, v := range b {
		out[i] = a[i] + v
	}
	copy(out[len(b):], a[len(b):])
	return out
}

// Scale returns k p.
func Scale(dst, c []float64, k float64) []float64 {
	out := resize(dst, len(c))
	for i, v := range c {
		out[i] = k * v
	}
	return out
}

// Mul returns the product a b. dst must not overlap a or b.
func Mul(dst, a, b []float64) []float64 {
	if len(a) == 0 || len(b) == 0 {
		return dst[:0]
	}
	out := resize(dst, len(a)+len(b)-1)
	clear(out)
	for i, x := range a {
		row := out[i : i+len(b)]
		for j, y := range b {
			row[j] += x * y
		}
	}
	return out
}

// Shift returns q with q(x) = p(x0 + x), by repeated synthetic division. Each
// q[i] is off by at most 2n rounding errors of Σ_j C(j,i) |c[j]| |x0|^(j-i).
func Shift(dst, c []float64, x0 float64) []float64 {
	out := resize(dst, len(c))
	copy(out, c)
	if x0 == 0 {
		return out
	}
	n := len(out)
	for i := 0; i < n-1; i++ {
		v := out[n-1]
		for j := n - 2; j >= i; j-- {
			v = out[j] + x0*v
			out[j] = v
		}
	}
	return out
}

// Stretch returns q with q(x) = p(h x).
func Stretch(dst, c []float64, h float64) []float64 {
	out := resize(dst, len(c))
	f := 1.0
	for i, v := range c {
		out[i] = timesPower(v, f, h, i)
		f *= h
	}
	return out
}

// timesPower returns v hⁱ, given f = hⁱ as far as that is a normal number.
// Beyond, the product is formed from the side of v: it grows or shrinks
// steadily and so leaves the range only if the result does.
func timesPower(v, f, h float64, i int) float64 {
	if a := abs(f); a >= 0x1p-1022 && a <= 0x1p1023 {
		return v * f
	}
	for ; i > 0 && v != 0; i-- {
		v *= h
	}
	return v
}

// Derivative returns p'.
func Derivative(dst, c []float64) []float64 {
	if len(c) <= 1 {
		return dst[:0]
	}
	out := resize(dst, len(c)-1)
	for i := range out {
		out[i] = float64(i+1) * c[i+1]
	}
	return out
}

// Antiderivative returns the P with P' = p and P(0) = 0.
func Antiderivative(dst, c []float64) []float64 {
	if len(c) == 0 {
		return dst[:0]
	}
	out := resize(dst, len(c)+1)
	for i := len(c) - 1; i >= 0; i-- {
		out[i+1] = c[i] / float64(i+1)
	}
	out[0] = 0
	return out
}

// Integral returns the integral of p over [a, b], negative when b < a. With the
// antiderivative P it is
//
//	(b-a) (P(b)-P(a))/(b-a)
//
// where the divided difference is the quotient of P(x)-P(a) by x-a, taken at b:
// two nested Horner rules and no difference of large values, so that a short
// interval far from zero loses nothing.
func Integral(c []float64, a, b float64) float64 {
	v, w := 0.0, 0.0
	for i := len(c) - 1; i >= 0; i-- {
		v = v*a + c[i]/float64(i+1)
		w = w*b + v
	}
	return (b - a) * w
}

func resize(dst []float64, n int) []float64 {
	if cap(dst) >= n {
		return dst[:n]
	}
	return make([]float64, n)
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}
