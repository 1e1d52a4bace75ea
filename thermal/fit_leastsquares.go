package thermal

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Estimate is a fitted value with its standard error, in the same unit.
type Estimate struct {
	Value, StdErr float64
}

// FitError says why a record does not support the parameters asked of it.
type FitError struct {
	Parameter string // the one in question, if it is one
	Reason    string
}

// Error names the parameter and the reason.
func (e *FitError) Error() string {
	if e.Parameter == "" {
		return "fit refused: " + e.Reason
	}
	return fmt.Sprintf("fit refused: %s: %s", e.Parameter, e.Reason)
}

// Limits on what a fit may claim.
const (
	highestCorrelation = .9999 // of two parameters
	largestError       = .3    // of a time constant or another positive parameter, relative to it
)

// leastSquares is a least-squares fit.
type leastSquares struct {
	p          []float64
	covariance *mat.SymDense // lag-1 correlation allowed for
	residual   []float64
	rms        float64
	lag1       float64 // correlation of neighbouring residuals
}

// fitLeastSquares minimises the sum of squares of the residuals by the method of
// Levenberg and Marquardt, from p. channels is how many series the residuals
// hold, one after another.
//
// The covariance is s² (J'J)⁻¹ (1+ρ)/(1-ρ): with residuals whose neighbours
// correlate by ρ, n values tell as much about slow parameters as n (1-ρ)/(1+ρ)
// independent ones (first-order autoregression; from memory, e.g. Bartlett
// 1935). Without that factor the errors come out several times too small.
func fitLeastSquares(ctx context.Context, residuals func(r, p []float64), p []float64, n, channels int) (*leastSquares, error) {
	k := len(p)
	f := &leastSquares{p: append([]float64(nil), p...), residual: make([]float64, n)}
	if n <= k+2 {
		return nil, &FitError{"", fmt.Sprintf("%d values for %d parameters", n, k)}
	}
	square := func(r []float64) float64 {
		s := 0.0
		for _, v := range r {
			s += v * v
		}
		return s
	}
	residuals(f.residual, f.p)
	sum := square(f.residual)
	up, down := make([]float64, n), make([]float64, n)
	jacobian := mat.NewDense(n, k, nil)
	damping := 1e-3
	var normal mat.SymDense
	finite := func(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
	if !finite(sum) {
		return nil, &FitError{"", "the model is not finite at its start"}
	}
	differentiate := func() {
		x := append([]float64(nil), f.p...)
		for j := range k {
			h := 1e-5 * math.Max(1, math.Abs(f.p[j]))
			if ctx.Err() != nil {
				return
			}
			x[j] = f.p[j] + h
			residuals(up, x)
			x[j] = f.p[j] - h
			residuals(down, x)
			x[j] = f.p[j]
			for i := range n {
				jacobian.Set(i, j, (up[i]-down[i])/(2*h))
			}
		}
		normal.SymOuterK(1, jacobian.T())
	}
	still := 0
	for range 200 {
		differentiate()
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		var gradient mat.VecDense
		gradient.MulVec(jacobian.T(), mat.NewVecDense(n, f.residual))
		improved := false
		for range 20 {
			a := mat.NewSymDense(k, nil)
			a.CopySym(&normal)
			for j := range k {
				a.SetSym(j, j, a.At(j, j)*(1+damping)+1e-300)
			}
			var c mat.Cholesky
			var step mat.VecDense
			if !c.Factorize(a) || solves(c.SolveVecTo(&step, &gradient)) != nil {
				damping *= 10
				continue
			}
			trial := append([]float64(nil), f.p...)
			for j := range trial {
				trial[j] -= step.AtVec(j)
			}
			residuals(up, trial)
			if s := square(up); s <= sum && finite(s) {
				if sum-s <= 1e-12*sum {
					still++
				} else {
					still = 0
				}
				f.p, sum, improved = trial, s, true
				copy(f.residual, up)
				damping = math.Max(damping/10, 1e-12)
				break
			}
			damping *= 10
		}
		if !improved || still >= 2 {
			break
		}
	}
	differentiate()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	f.rms = math.Sqrt(sum / float64(n))
	f.lag1 = lag1(f.residual, channels)
	var c mat.Cholesky
	if !c.Factorize(&normal) {
		return nil, &FitError{"", "its parameters cannot be told apart in this record"}
	}
	f.covariance = mat.NewSymDense(k, nil)
	if solves(c.InverseTo(f.covariance)) != nil {
		return nil, &FitError{"", "its parameters cannot be told apart in this record"}
	}
	rho := math.Min(math.Max(f.lag1, 0), .995)
	f.covariance.ScaleSym(sum/float64(n-k)*(1+rho)/(1-rho), f.covariance)
	for i := range k {
		for j := range k {
			if !finite(f.covariance.At(i, j)) {
				return nil, &FitError{"", "its parameters cannot be told apart in this record"}
			}
		}
	}
	return f, nil
}

// solves passes over a warning of a bad condition number, which shows in the
// covariance.
func solves(err error) error {
	var c mat.Condition
	if errors.As(err, &c) && !math.IsInf(float64(c), 1) {
		return nil
	}
	return err
}

// lag1 is the correlation of neighbouring values, over all channels.
func lag1(r []float64, channels int) float64 {
	n := len(r) / channels
	num, den := 0.0, 0.0
	for c := range channels {
		x := r[c*n : (c+1)*n]
		for i, v := range x {
			den += v * v
			if i > 0 {
				num += v * x[i-1]
			}
		}
	}
	if den == 0 {
		return 0
	}
	return num / den
}

func (f *leastSquares) estimate(j int) Estimate {
	return Estimate{f.p[j], math.Sqrt(math.Max(0, f.covariance.At(j, j)))}
}

// positive is the estimate of a parameter that is fitted by its logarithm.
func (f *leastSquares) positive(j int) Estimate {
	v := math.Exp(f.p[j])
	return Estimate{v, v * math.Sqrt(math.Max(0, f.covariance.At(j, j)))}
}

// derived is the estimate of a function of the parameters, its error to first
// order.
func (f *leastSquares) derived(g func(p []float64) float64) Estimate {
	k := len(f.p)
	d := make([]float64, k)
	x := append([]float64(nil), f.p...)
	for j := range k {
		h := 1e-6 * math.Max(1, math.Abs(f.p[j]))
		x[j] = f.p[j] + h
		up := g(x)
		x[j] = f.p[j] - h
		d[j] = (up - g(x)) / (2 * h)
		x[j] = f.p[j]
	}
	v := mat.NewVecDense(k, d)
	return Estimate{g(f.p), math.Sqrt(math.Max(0, mat.Inner(v, f.covariance, v)))}
}

// correlated returns the highest correlation of parameter i with any other.
func (f *leastSquares) correlated(i int) (with int, c float64) {
	for j := range f.p {
		if j == i {
			continue
		}
		if x := math.Abs(f.covariance.At(i, j)) / math.Sqrt(f.covariance.At(i, i)*f.covariance.At(j, j)); x > c {
			with, c = j, x
		}
	}
	return with, c
}
