package taylor

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The series of exp(x), sin(x), cos(x) at 0 by their factorials.
func exponential() (e, sin, cos Series) {
	f := 1.0
	for k := range e {
		if k > 0 {
			f *= float64(k)
		}
		e[k] = 1 / f
		switch k % 4 {
		case 0:
			cos[k] = 1 / f
		case 1:
			sin[k] = 1 / f
		case 2:
			cos[k] = -1 / f
		case 3:
			sin[k] = -1 / f
		}
	}
	return e, sin, cos
}

func compare(t *testing.T, want, got Series, tol float64) {
	t.Helper()
	for k := range want {
		if !(math.Abs(got[k]-want[k]) <= tol*math.Max(1, math.Abs(want[k]))) {
			t.Errorf("coefficient %d = %v, want %v", k, got[k], want[k])
		}
	}
}

func TestProductCoef(t *testing.T) {
	e, sin, cos := exponential()
	var square, double, unity Series
	for k := range square {
		square[k] = ProductCoef(&e, &e, k) // e^x e^x = e^2x: 2^k/k!
		double[k] = math.Ldexp(e[k], k)
		unity[k] = ProductCoef(&sin, &sin, k) + ProductCoef(&cos, &cos, k) // sin² + cos² = 1
	}
	compare(t, double, square, 1e-15)
	compare(t, Series{1}, unity, 1e-16)
}

func TestQuotientCoef(t *testing.T) {
	var q, want Series

	// 1/(1-x) is the geometric series.
	one, den := Series{1}, Series{1, -1}
	for k := range q {
		q[k] = QuotientCoef(&q, &one, &den, k)
		want[k] = 1
	}
	compare(t, want, q, 0)

	// x/(2+x)²: with y = x/2, (y/2)/(1+y)² = Σ (-1)^(k-1) k y^k / 2.
	num, den := Series{0, 1}, Series{4, 4, 1}
	for k := range q {
		q[k] = QuotientCoef(&q, &num, &den, k)
		want[k] = -math.Pow(-0.5, float64(k)) * float64(k) / 2
	}
	compare(t, want, q, 1e-15)

	// tan = sin/cos: x + x³/3 + 2x⁵/15 + 17x⁷/315 + 62x⁹/2835, Abramowitz and
	// Stegun 4.3.67 (FROM MEMORY).
	_, sin, cos := exponential()
	for k := range q {
		q[k] = QuotientCoef(&q, &sin, &cos, k)
	}
	for k, w := range []float64{0, 1, 0, 1. / 3, 0, 2. / 15, 0, 17. / 315, 0, 62. / 2835} {
		assert.InDelta(t, w, q[k], 1e-15, "tan, coefficient %d", k)
	}
}

func TestSqrtCoef(t *testing.T) {
	var r, want Series

	// √(e^2x) = e^x.
	e, _, _ := exponential()
	var double Series
	for k := range double {
		double[k] = math.Ldexp(e[k], k)
	}
	for k := range r {
		r[k] = SqrtCoef(&r, &double, k)
	}
	compare(t, e, r, 1e-15)

	// √(4+x) = 2 Σ C(1/2,k) (x/4)^k, the binomial series.
	a := Series{4, 1}
	binomial := 2.0
	for k := range r {
		r[k] = SqrtCoef(&r, &a, k)
		want[k] = binomial * math.Pow(0.25, float64(k))
		binomial *= (0.5 - float64(k)) / float64(k+1)
	}
	compare(t, want, r, 1e-15)
}
