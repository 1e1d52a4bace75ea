package thermal

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"example.com/headroom/profile"
)

// PairRecord is a record of two heated bodies that warm each other, each with a
// heater and a sensor, at equal intervals. Input is the heat [W], held from each
// sample to the next, or any measure of it that is proportional.
type PairRecord struct {
	Interval    float64      // [s], > 0
	Input       [2][]float64 // [W] or any unit
	Temperature [2][]float64 // as the sensors show it [°C]
}

// PairFit is a network of two nodes with a lag of the sensors:
//
//	C1 dT1/dt = u1   - G1 (T1 - B1) - G12 (T1 - T2 - (B1 - B2))
//	C2 dT2/dt = r u2 - G2 (T2 - B2) - G12 (T2 - T1 - (B2 - B1))
//	lag dy/dt = T - y
//
// B are the temperatures without input. With an input in another unit than W, C
// is in that unit times s/K and G in it per K.
type PairFit struct {
	Capacity  [2]Estimate // C [J/K]
	ToAmbient [2]Estimate // G [W/K]
	Between   Estimate    // G12 [W/K]
	HeatRatio Estimate    // r, heat of the second input per unit over that of the first [1]
	Lag       Estimate    // time constant of the sensors [s]
	Base      [2]Estimate // B [°C]

	// TimeConstants are those of the two coupled nodes, without the sensors,
	// ascending [s].
	TimeConstants [2]Estimate

	// Own is C/G of each: its time constant if nothing passed between the two [s].
	Own [2]Estimate

	RMS  [2]float64 // of the residuals of each sensor [K]
	Lag1 float64    // correlation of neighbouring residuals; the standard errors allow for it

	p []float64
}

// Parameters of a pair, in this order; those up to pairLag by their logarithm.
const (
	pairC1 = iota
	pairC2
	pairG1
	pairG2
	pairG12
	pairRatio
	pairLag
	pairBase1
	pairBase2
	pairStart1
	pairStart2
	pairCount
)

var pairNames = [...]string{"capacity[0]", "capacity[1]", "toAmbient[0]", "toAmbient[1]", "between", "heatRatio", "lag", "base[0]", "base[1]", "start[0]", "start[1]"}

// FitPair fits the network to a record by least squares. Nodes and sensors may
// start anywhere, sensor and node together. It is refused, with a [*FitError],
// when an input does not change, when the record is shorter than three of the
// longest time constant, or when an error is above 30 % or a correlation above .9999
// in a capacity or in a conductance.
func FitPair(ctx context.Context, r PairRecord) (PairFit, error) {
	var f profile.Faults
	r.check(&f)
	if err := f.Err(); err != nil {
		return PairFit{}, err
	}
	n := len(r.Input[0])
	var spread [2]float64
	for c := range 2 {
		low, high := r.Input[c][0], r.Input[c][0]
		for _, u := range r.Input[c] {
			low, high = math.Min(low, u), math.Max(high, u)
		}
		spread[c] = high - low
		if !(spread[c] > 1e-9*math.Max(math.Abs(high), math.Abs(low))) {
			return PairFit{}, &FitError{fmt.Sprintf("input[%d]", c), "it does not change: nothing shows what its heat does"}
		}
	}
	model := make([]float64, 2*n)
	residuals := func(out, p []float64) {
		if !r.simulate(model, p) {
			for i := range out {
				out[i] = math.Inf(1)
			}
			return
		}
		for c := range 2 {
			for i, y := range r.Temperature[c] {
				out[c*n+i] = model[c*n+i] - y
			}
		}
	}
	// From the static slope, and time constants that the record could show.
	var best *leastSquares
	var last error
	for _, part := range []float64{.003, .01, .03, .1} {
		tau := part * r.Interval * float64(n)
		p := make([]float64, pairCount)
		for c := range 2 {
			y := r.Temperature[c]
			low, high := y[0], y[0]
			mean, meanInput := 0.0, 0.0
			for i, v := range y {
				low, high = math.Min(low, v), math.Max(high, v)
				mean += v / float64(n)
				meanInput += r.Input[c][i] / float64(n)
			}
			if !(high > low) {
				return PairFit{}, &FitError{fmt.Sprintf("temperature[%d]", c), "it does not change"}
			}
			g := spread[c] / (high - low)
			p[pairG1+c] = math.Log(g)
			p[pairC1+c] = math.Log(g * tau)
			p[pairBase1+c] = mean - meanInput/g
			p[pairStart1+c] = y[0]
		}
		p[pairG12] = math.Min(p[pairG1], p[pairG2]) - 1
		p[pairLag] = math.Log(math.Max(tau/10, r.Interval))
		fit, err := fitLeastSquares(ctx, residuals, p, 2*n, 2)
		if ctx.Err() != nil {
			return PairFit{}, ctx.Err()
		}
		if err != nil {
			last = err
			continue
		}
		if best == nil || fit.rms < best.rms*(1-1e-9) {
			best = fit
		}
	}
	if best == nil {
		return PairFit{}, last
	}
	for j := pairC1; j <= pairG12; j++ {
		if e := best.positive(j); !(e.StdErr <= largestError*e.Value) {
			return PairFit{}, &FitError{pairNames[j], fmt.Sprintf("the record leaves an error of %.0f %%", 100*e.StdErr/e.Value)}
		}
		if with, c := best.correlated(j); c > highestCorrelation {
			return PairFit{}, &FitError{pairNames[j], fmt.Sprintf("it cannot be told from %s: they correlate by %.6f", pairNames[with], c)}
		}
	}
	out := PairFit{
		Capacity:  [2]Estimate{best.positive(pairC1), best.positive(pairC2)},
		ToAmbient: [2]Estimate{best.positive(pairG1), best.positive(pairG2)},
		Between:   best.positive(pairG12), HeatRatio: best.positive(pairRatio), Lag: best.positive(pairLag),
		Base: [2]Estimate{best.estimate(pairBase1), best.estimate(pairBase2)},
		Lag1: best.lag1, p: best.p,
	}
	for k := range 2 {
		out.TimeConstants[k] = best.derived(func(p []float64) float64 { return pairTimes(p)[k] })
		out.Own[k] = best.derived(func(p []float64) float64 { return math.Exp(p[pairC1+k] - p[pairG1+k]) })
		s := 0.0
		for _, v := range best.residual[k*n : (k+1)*n] {
			s += v * v
		}
		out.RMS[k] = math.Sqrt(s / float64(n))
	}
	if span := r.Interval * float64(n); !(span >= 3*out.TimeConstants[1].Value) {
		return PairFit{}, &FitError{"time constants", fmt.Sprintf("the record of %.4g s covers less than three of the longest, %.4g s", span, out.TimeConstants[1].Value)}
	}
	return out, nil
}

// Predict returns what the sensors show when the inputs of a record act from its
// first sample on, both nodes starting where they were at the first sample of
// the record fitted. The temperatures of r are not used, and may be empty.
func (f PairFit) Predict(r PairRecord) ([2][]float64, error) {
	var g profile.Faults
	var out [2][]float64
	if f.p == nil {
		g.Add("fit", nil, "a fit by FitPair")
	}
	r.checkInput(&g)
	if err := g.Err(); err != nil {
		return out, err
	}
	n := len(r.Input[0])
	y := make([]float64, 2*n)
	if !r.simulate(y, f.p) {
		g.Add("input", nil, "inputs that give finite temperatures")
		return out, g.Err()
	}
	for i, v := range y {
		if needFinite(&g, "input", v, v); g.Err() != nil {
			return out, g.Err()
		}
		out[i/n] = append(out[i/n], v)
	}
	return out, nil
}

func (r PairRecord) check(f *profile.Faults) {
	r.checkInput(f)
	for c := range 2 {
		if len(r.Temperature[c]) != len(r.Input[0]) {
			f.Add(fmt.Sprintf("temperature[%d]", c), fmt.Sprintf("%d values", len(r.Temperature[c])), fmt.Sprintf("%d, as of the first input", len(r.Input[0])))
		}
		for i, v := range r.Temperature[c] {
			if !checkTemperature(f, fmt.Sprintf("temperature[%d][%d]", c, i), v) {
				break
			}
		}
	}
}

func (r PairRecord) checkInput(f *profile.Faults) {
	f.Positive("interval", r.Interval, "s")
	if len(r.Input[0]) < 2 {
		f.Add("input[0]", fmt.Sprintf("%d values", len(r.Input[0])), "at least 2")
	}
	if len(r.Input[1]) != len(r.Input[0]) {
		f.Add("input[1]", fmt.Sprintf("%d values", len(r.Input[1])), fmt.Sprintf("%d, as of the first", len(r.Input[0])))
	}
	for c := range 2 {
		for i, v := range r.Input[c] {
			if !f.Finite(fmt.Sprintf("input[%d][%d]", c, i), v, "") {
				break
			}
		}
	}
}

// pairRates returns the matrix of the nodes, dT/dt = -a T + ….
func pairRates(p []float64) (a [2][2]float64) {
	c1, c2, g12 := math.Exp(p[pairC1]), math.Exp(p[pairC2]), math.Exp(p[pairG12])
	a[0] = [2]float64{(math.Exp(p[pairG1]) + g12) / c1, -g12 / c1}
	a[1] = [2]float64{-g12 / c2, (math.Exp(p[pairG2]) + g12) / c2}
	return a
}

// pairTimes returns the time constants of the nodes, ascending.
func pairTimes(p []float64) [2]float64 {
	a := pairRates(p)
	fast := (a[0][0]+a[1][1])/2 + math.Hypot((a[0][0]-a[1][1])/2, math.Sqrt(a[0][1]*a[1][0]))
	g1, g2, g12 := math.Exp(p[pairG1]), math.Exp(p[pairG2]), math.Exp(p[pairG12])
	slow := (g1*g2 + g12*(g1+g2)) / math.Exp(p[pairC1]) / math.Exp(p[pairC2]) / fast
	return [2]float64{1 / fast, 1 / slow}
}

// simulate fills y with the sensors at all samples, one after the other, and
// reports whether the parameters have finite steps.
func (r PairRecord) simulate(y, p []float64) bool {
	a := pairRates(p)
	lag := math.Exp(-p[pairLag])
	// States: rise of the nodes over their bases, then of the sensors; inputs.
	m := mat.NewDense(6, 6, nil)
	for i := range 2 {
		for j := range 2 {
			m.Set(i, j, -a[i][j]*r.Interval)
		}
		m.Set(2+i, i, lag*r.Interval)
		m.Set(2+i, 2+i, -lag*r.Interval)
	}
	m.Set(0, 4, r.Interval/math.Exp(p[pairC1]))
	m.Set(1, 5, r.Interval*math.Exp(p[pairRatio]-p[pairC2]))
	top := mat.Max(m)
	if low := -mat.Min(m); !(low < 1e6 && top < 1e300) { // steps of very many time constants
		return false
	}
	var e mat.Dense
	e.Exp(m)
	var s [4][6]float64
	for i := range s {
		for j := range s[i] {
			s[i][j] = e.At(i, j)
		}
	}
	n := len(r.Input[0])
	var x [4]float64
	for i := range 2 {
		x[i] = p[pairStart1+i] - p[pairBase1+i]
		x[2+i] = x[i]
	}
	for k := range n {
		y[k], y[n+k] = x[2]+p[pairBase1], x[3]+p[pairBase2]
		var next [4]float64
		for i := range next {
			row := &s[i]
			next[i] = row[0]*x[0] + row[1]*x[1] + row[2]*x[2] + row[3]*x[3] + row[4]*r.Input[0][k] + row[5]*r.Input[1][k]
		}
		x = next
	}
	return true
}
