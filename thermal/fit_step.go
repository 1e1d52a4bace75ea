package thermal

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"example.com/headroom/profile"
)

// StepFit is a fit to a record of heating or cooling under constant heat, that
// of one node
//
//	T(t) = Final + A1 e^(-t/τ1)
//
// or of two, with a second term.
type StepFit struct {
	TimeConstants []Estimate // [s], ascending
	Amplitudes    []Estimate // A of each [K]; negative when it heats
	Final         Estimate   // settled temperature [°C]

	RMS  float64 // of the residuals [K]
	Lag1 float64 // correlation of neighbouring residuals; the standard errors allow for it

	fit *leastSquares
}

// shortestRecord is how many of its longest time constants a record must cover.
const shortestRecord = 1

// FitOneNode fits one node to a record of heating or cooling: times [s],
// increasing, from the instant at which the heat changed or any later, and
// temperatures [°C]. It is refused, with a [*FitError], when the record is
// shorter than the time constant, when noise leaves more than 30 % of error in
// it, when it does not change, or when two parameters correlate above .9999.
//
// The standard errors are those of the fit. That a motor is not one node shows
// in RMS and Lag1, not in them.
func FitOneNode(ctx context.Context, times, temperatures []float64) (StepFit, error) {
	return fitStep(ctx, times, temperatures, 1)
}

// FitTwoNodes fits two nodes to such a record, as [FitOneNode]. The two time
// constants must differ by a factor of 1.5 or more.
func FitTwoNodes(ctx context.Context, times, temperatures []float64) (StepFit, error) {
	return fitStep(ctx, times, temperatures, 2)
}

func fitStep(ctx context.Context, times, temps []float64, terms int) (StepFit, error) {
	var f profile.Faults
	checkRecord(&f, times, temps)
	if err := f.Err(); err != nil {
		return StepFit{}, err
	}
	n := len(times)
	if n < 4*(2*terms+1) {
		return StepFit{}, &FitError{"", fmt.Sprintf("%d values, want at least %d", n, 4*(2*terms+1))}
	}
	span := times[n-1] - times[0]
	closest := span
	low, high, size := temps[0], temps[0], 0.0
	for i := 1; i < n; i++ {
		closest = math.Min(closest, times[i]-times[i-1])
		low, high = math.Min(low, temps[i]), math.Max(high, temps[i])
	}
	size = high - low
	if !(size > 1e-9*(math.Abs(high)+math.Abs(low))) {
		return StepFit{}, &FitError{"", "the temperature does not change"}
	}

	// Times in units of the span, temperatures in units of their range.
	t, y := make([]float64, n), make([]float64, n)
	for i := range t {
		t[i], y[i] = (times[i]-times[0])/span, (temps[i]-low)/size
	}
	residuals := func(r, p []float64) {
		for i, x := range t {
			v := p[2*terms] - y[i]
			for k := range terms {
				v += p[terms+k] * math.Exp(-x*math.Exp(-p[k]))
			}
			r[i] = v
		}
	}
	start := searchStep(ctx, t, y, terms, math.Max(closest/span, 1e-4))
	if err := ctx.Err(); err != nil {
		return StepFit{}, err
	}
	if start == nil {
		return StepFit{}, &FitError{"", "no exponential fits it"}
	}
	fit, err := fitLeastSquares(ctx, residuals, start, n, 1)
	if err != nil {
		return StepFit{}, err
	}
	if terms == 2 && fit.p[0] > fit.p[1] { // ascending: exchange the terms
		back, err := fitLeastSquares(ctx, residuals, []float64{fit.p[1], fit.p[0], fit.p[3], fit.p[2], fit.p[4]}, n, 1)
		if err != nil {
			return StepFit{}, err
		}
		fit = back
	}
	names := [...]string{"time constant", "second time constant"}
	s := StepFit{RMS: fit.rms * size, Lag1: fit.lag1, fit: fit}
	for k := range terms {
		tau := fit.positive(k)
		amplitude := fit.estimate(terms + k)
		switch {
		case !(tau.Value <= 1/float64(shortestRecord)):
			return StepFit{}, &FitError{names[k], fmt.Sprintf("the record of %.4g s is shorter than it, about %.4g s", span, tau.Value*span)}
		case !(tau.Value >= closest/span/2):
			return StepFit{}, &FitError{names[k], fmt.Sprintf("it lies below half the least time between values, %.4g s", closest)}
		case !(tau.StdErr <= largestError*tau.Value):
			return StepFit{}, &FitError{names[k], fmt.Sprintf("noise leaves an error of %.0f %%", 100*tau.StdErr/tau.Value)}
		case !(3*amplitude.StdErr <= math.Abs(amplitude.Value)):
			return StepFit{}, &FitError{names[k], "its part in the record is lost in the noise"}
		}
		if with, c := fit.correlated(k); c > highestCorrelation {
			return StepFit{}, &FitError{names[k], fmt.Sprintf("it cannot be told from parameter %d: they correlate by %.6f", with, c)}
		}
		s.TimeConstants = append(s.TimeConstants, Estimate{tau.Value * span, tau.StdErr * span})
		s.Amplitudes = append(s.Amplitudes, Estimate{amplitude.Value * size, amplitude.StdErr * size})
	}
	if terms == 2 && !(s.TimeConstants[1].Value >= 1.5*s.TimeConstants[0].Value) {
		return StepFit{}, &FitError{"", "the two time constants are too near each other"}
	}
	final := fit.estimate(2 * terms)
	s.Final = Estimate{low + size*final.Value, size * final.StdErr}
	return s, nil
}

func checkRecord(f *profile.Faults, times, temps []float64) {
	if len(temps) != len(times) {
		f.Add("temperatures", fmt.Sprintf("%d values", len(temps)), fmt.Sprintf("one for each of the %d times", len(times)))
	}
	for i, t := range times {
		if !(math.Abs(t) <= maxFinite/4) || i > 0 && !(t > times[i-1]) {
			f.Add(fmt.Sprintf("times[%d]", i), t, "finite, and later than the one before")
			break
		}
	}
	for i, t := range temps {
		if !checkTemperature(f, fmt.Sprintf("temperatures[%d]", i), t) {
			break
		}
	}
	if len(times) == 0 {
		f.Add("times", nil, "a record")
	}
}

// searchStep tries time constants on a logarithmic grid, with the amplitudes
// that are best for each by linear least squares, and returns the best start.
func searchStep(ctx context.Context, t, y []float64, terms int, least float64) []float64 {
	const steps = 24
	grid := make([]float64, steps)
	for i := range grid {
		grid[i] = least * math.Pow(20/least, float64(i)/(steps-1))
	}
	n := len(t)
	var best []float64
	lowest := math.Inf(1)
	try := func(taus ...float64) {
		if ctx.Err() != nil {
			return
		}
		a := mat.NewDense(n, terms+1, nil)
		for i, x := range t {
			for k, tau := range taus {
				a.Set(i, k, math.Exp(-x/tau))
			}
			a.Set(i, terms, 1)
		}
		var qr mat.QR
		qr.Factorize(a)
		var c mat.VecDense
		if solves(qr.SolveVecTo(&c, false, mat.NewVecDense(n, y))) != nil {
			return
		}
		var r mat.VecDense
		r.MulVec(a, &c)
		r.SubVec(&r, mat.NewVecDense(n, y))
		if s := mat.Dot(&r, &r); s < lowest {
			lowest = s
			best = best[:0]
			for _, tau := range taus {
				best = append(best, math.Log(tau))
			}
			for k := range terms + 1 {
				best = append(best, c.AtVec(k))
			}
		}
	}
	for i, a := range grid {
		if terms == 1 {
			try(a)
			continue
		}
		for _, b := range grid[i+1:] {
			try(a, b)
		}
	}
	return best
}

// TwoNodeFit is a [TwoNodeMotor] from a record, with standard errors.
type TwoNodeFit struct {
	WindingCapacity, FrameCapacity Estimate // [J/K]
	Inner, Mounting                Estimate // [K/W]
}

// Motor returns the two nodes that a fit by [FitTwoNodes] of the winding
// temperature stands for, when heat [W], > 0, started to flow into the winding of
// a motor that had one temperature all over, at the first time of the record; or
// stopped to, in a motor that had settled. With R1 = |A1|/P and R2 alike,
//
//	Z(s) = R1/(1+s τ1) + R2/(1+s τ2)
//
// is the ladder of winding, inner resistance, frame and mounting, read off by
// division (Cauer's from Foster's form, any text on network synthesis). The heat
// must be constant: with copper at constant current it grows as the winding
// warms, so use its mean, or measure while cooling.
func (s StepFit) Motor(heat float64) (TwoNodeFit, error) {
	var f profile.Faults
	f.Positive("heat", heat, "W")
	if len(s.TimeConstants) != 2 {
		f.Add("fit", len(s.TimeConstants), "a fit of two nodes")
	}
	if err := f.Err(); err != nil {
		return TwoNodeFit{}, err
	}
	if s.Amplitudes[0].Value*s.Amplitudes[1].Value < 0 {
		return TwoNodeFit{}, &FitError{"", "one part of the record heats while the other cools: the motor had not one temperature at its start, nor had it settled"}
	}
	span := s.TimeConstants[0].Value / math.Exp(s.fit.p[0])
	size := s.Amplitudes[0].Value / s.fit.p[2]
	ladder := func(p []float64) (cw, cf, inner, mounting float64) {
		t1, t2 := span*math.Exp(p[0]), span*math.Exp(p[1])
		r1, r2 := math.Abs(size*p[2])/heat, math.Abs(size*p[3])/heat
		all := r1 + r2
		lead := r1*t2 + r2*t1
		cw = t1 * t2 / lead
		rest := t1 + t2 - cw*all
		inner = lead / rest
		mounting = all - inner
		return cw, rest / mounting, inner, mounting
	}
	return TwoNodeFit{
		WindingCapacity: s.fit.derived(func(p []float64) float64 { v, _, _, _ := ladder(p); return v }),
		FrameCapacity:   s.fit.derived(func(p []float64) float64 { _, v, _, _ := ladder(p); return v }),
		Inner:           s.fit.derived(func(p []float64) float64 { _, _, v, _ := ladder(p); return v }),
		Mounting:        s.fit.derived(func(p []float64) float64 { _, _, _, v := ladder(p); return v }),
	}, nil
}
