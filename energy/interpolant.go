package energy

import "math"

// samples is the number of points at which a smooth function is interpolated, one more
// than the degree that comes of it.
const samples = maxTorque

// interpolant turns values of a function at the Chebyshev points of a stretch,
//
//	t[i] = h (1 - cos(π i/n))/2, n = samples - 1
//
// into its interpolating polynomial. With the values f[i] its Chebyshev coefficients are
//
//	c[k] = 2/n Σ" f[i] cos(π i k/n)
//
// where Σ" halves the first and the last term, and c[0] and c[n] are halved too
// (Trefethen, Approximation Theory and Approximation Practice, ch. 3 and 4, FROM
// MEMORY). The coefficients of a smooth function fall geometrically, so that the last
// ones tell what is left out.
type interpolant struct {
	values [samples]float64
	scale  float64 // magnitude against which it is judged
	made   bool
	cheb   [samples]float64
}

var (
	// node[i] is cos(π i/n).
	node [samples]float64
	// shifted[k] has the coefficients of T_k(1-2s), s from 0 to 1.
	shifted [samples][samples]float64
)

func init() {
	const n = samples - 1
	for i := range node {
		node[i] = math.Sin(math.Pi * float64(n-2*i) / (2 * n)) // symmetric, unlike the cosine
	}
	shifted[0][0] = 1
	shifted[1][0], shifted[1][1] = 1, -2
	for k := 2; k < samples; k++ {
		for j := range samples {
			v := 2*shifted[k-1][j] - shifted[k-2][j]
			if j > 0 {
				v -= 4 * shifted[k-1][j-1]
			}
			shifted[k][j] = v
		}
	}
}

// ready reports whether the last coefficients are below the tolerance.
func (c *interpolant) ready() bool {
	c.make()
	tail := 0.0
	for _, v := range c.cheb[samples-3:] {
		tail += math.Abs(v)
	}
	return tail <= crankTolerance*c.scale
}

func (c *interpolant) make() {
	if c.made {
		return
	}
	c.made = true
	const n = samples - 1
	for k := range c.cheb {
		sum := (c.values[0] + c.values[n]*float64(1-2*(k%2))) / 2
		for i := 1; i < n; i++ {
			sum += c.values[i] * cosine(i*k)
		}
		c.cheb[k] = 2. / n * sum
	}
	c.cheb[0] /= 2
	c.cheb[n] /= 2
}

// cosine returns cos(π m/n).
func cosine(m int) float64 {
	const n = samples - 1
	m %= 2 * n
	if m > n {
		m = 2*n - m
	}
	return node[m]
}

// polynomial writes to dst, which must have room for it, the coefficients of the
// interpolating polynomial on a stretch of length h, in its local time. Coefficients that are only
// rounding are left out.
func (c *interpolant) polynomial(dst []float64, h float64) []float64 {
	c.make()
	n := samples
	for n > 1 && math.Abs(c.cheb[n-1]) <= 1e-15*c.scale {
		n--
	}
	dst = dst[:n]
	clear(dst)
	for k, v := range c.cheb[:n] {
		for j := range k + 1 {
			dst[j] += v * shifted[k][j]
		}
	}
	f := 1.0
	for j := range dst {
		dst[j] *= f
		f /= h
	}
	return dst
}
