package thermal_test

import (
	"math"
	"testing"

	"example.com/headroom/profile"
)

// near fails unless got is within relTol of want, relative to want.
func near(t *testing.T, what string, got, want, relTol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relTol*math.Abs(want)) {
		t.Errorf("%s = %.10g, want %.10g ± %g relative", what, got, want, relTol)
	}
}

// ok returns v, and fails the test at once on an error.
func ok[T any](t *testing.T) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// blocks returns the curve that holds each value for its duration [s].
func blocks(t *testing.T, valueAndDuration ...[2]float64) profile.Curve {
	t.Helper()
	breaks, coefs := []float64{0}, [][]float64{}
	for _, b := range valueAndDuration {
		breaks = append(breaks, breaks[len(breaks)-1]+b[1])
		coefs = append(coefs, []float64{b[0]})
	}
	return ok[profile.Curve](t)(profile.NewCurve(breaks, coefs))
}

// integrate advances y over a time span by n steps of the classical
// fourth-order Runge-Kutta method.
func integrate(y, span float64, n int, slope func(y float64) float64) float64 {
	h := span / float64(n)
	for range n {
		k1 := slope(y)
		k2 := slope(y + h/2*k1)
		k3 := slope(y + h/2*k2)
		k4 := slope(y + h*k3)
		y += h / 6 * (k1 + 2*k2 + 2*k3 + k4)
	}
	return y
}
