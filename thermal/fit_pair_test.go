package thermal_test

import (
	"context"
	"encoding/csv"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// pair makes a record of an invented pair: exact steps of its network, a lag by
// Euler's method in small steps, noise.
func pair(t *testing.T, n int, noise float64, constant bool) thermal.PairRecord {
	t.Helper()
	r := rand.New(rand.NewPCG(94, 1))
	const lag, interval = 12., 2.
	net := thermal.Network{Capacities: []float64{30, 45}, Links: []thermal.Link{{A: 0, B: 1, Conductance: .06}},
		Boundaries: []thermal.Boundary{{Node: 0, Conductance: .15, Temperature: 24}, {Node: 1, Conductance: .11, Temperature: 24}}}
	rec := thermal.PairRecord{Interval: interval}
	var breaks []float64
	var u [2][][]float64
	level := [2]float64{2, 2}
	for k := range n {
		if k%150 == 0 && !constant {
			level = [2]float64{1 + 2*r.Float64(), 1 + 2*r.Float64()}
		}
		for c := range 2 {
			rec.Input[c] = append(rec.Input[c], level[c])
			u[c] = append(u[c], []float64{level[c]})
		}
		breaks = append(breaks, interval*float64(k))
	}
	breaks = append(breaks, interval*float64(n))
	heat := []profile.Curve{ok[profile.Curve](t)(profile.NewCurve(breaks, u[0])), ok[profile.Curve](t)(profile.NewCurve(breaks, u[1]))}
	c := ok[*thermal.Course](t)(net.Run(context.Background(), []float64{24, 24}, heat))
	for i := range 2 {
		y := 24.
		for k := range n {
			rec.Temperature[i] = append(rec.Temperature[i], y+noise*r.NormFloat64())
			for s := range 200 {
				y += (c.Temperatures[i].At(interval*(float64(k)+(float64(s)+.5)/200)) - y) * interval / 200 / lag
			}
		}
	}
	return rec
}

func TestFitPair(t *testing.T) {
	f := ok[thermal.PairFit](t)(thermal.FitPair(context.Background(), pair(t, 1500, .02, false)))
	for _, tc := range []struct {
		what string
		e    thermal.Estimate
		want float64
	}{
		{"first capacity", f.Capacity[0], 30}, {"second capacity", f.Capacity[1], 45},
		{"first to ambient", f.ToAmbient[0], .15}, {"second to ambient", f.ToAmbient[1], .11},
		{"between", f.Between, .06}, {"heat ratio", f.HeatRatio, 1}, {"lag", f.Lag, 12},
		{"first base", f.Base[0], 24}, {"second base", f.Base[1], 24},
	} {
		if z := math.Abs(tc.e.Value-tc.want) / tc.e.StdErr; !(z < 4 && tc.e.StdErr < .05*tc.want) {
			t.Errorf("%s: %g ± %g, want %g", tc.what, tc.e.Value, tc.e.StdErr, tc.want)
		}
	}
	var refused *thermal.FitError
	if _, err := thermal.FitPair(context.Background(), pair(t, 1500, .02, true)); !errors.As(err, &refused) {
		t.Errorf("constant input: %v", err)
	}
	if _, err := thermal.FitPair(context.Background(), pair(t, 170, .02, false)); !errors.As(err, &refused) {
		t.Errorf("short record: %v", err)
	}
	if _, err := thermal.FitPair(context.Background(), pair(t, 1500, 30, false)); !errors.As(err, &refused) {
		t.Errorf("noise: %v", err)
	}
	bad := pair(t, 20, 0, false)
	bad.Interval = 0
	bad.Temperature[1] = bad.Temperature[1][:3]
	bad.Input[1][4] = math.NaN()
	if f := profile.InputErrors(second(thermal.FitPair(context.Background(), bad))); len(f) != 3 {
		t.Errorf("bad record: %v", f)
	}
	if _, err := (thermal.PairFit{}).Predict(pair(t, 20, 0, false)); err == nil {
		t.Error("a prediction without a fit was accepted")
	}
}

// Two coupled heaters, measured: S. J. Kuntz, J. B. Rawlings, ACC 2022 and arXiv
// 2406.03760, data of repository rawlings-group/mlid_2024 (MIT licence). The
// inputs are in per cent of a heater power that is not given. An earlier fit on one
// part of the record had time constants of 195 and 263 s and predicted the rest
// within .69 and .91 K RMS; where it was cut is not known, here it is at two
// thirds. The ambient drifts, which most of that is: cut in the middle, the fit
// predicts the rest within .96 and 1.27 K, of which .59 and .58 K are not an offset.
func TestMeasuredHeaterPair(t *testing.T) {
	folder := os.Getenv("HEADROOM_DATA")
	if folder == "" {
		t.Skip("HEADROOM_DATA is not set: needs heater_pair/heater_pair.csv, two coupled heaters, from repository rawlings-group/mlid_2024, folder data (MIT licence)")
	}
	file, err := os.Open(filepath.Join(folder, "heater_pair", "heater_pair.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	all := thermal.PairRecord{Interval: 1}
	for _, l := range lines[1:] {
		for c := range 2 {
			all.Input[c] = append(all.Input[c], ok[float64](t)(strconv.ParseFloat(l[1+c], 64)))
			all.Temperature[c] = append(all.Temperature[c], ok[float64](t)(strconv.ParseFloat(l[3+c], 64)))
		}
	}
	n := len(all.Input[0])
	cut := 2 * n / 3
	part := all
	for c := range 2 {
		part.Input[c], part.Temperature[c] = all.Input[c][:cut], all.Temperature[c][:cut]
	}
	f := ok[thermal.PairFit](t)(thermal.FitPair(context.Background(), part))
	y := ok[[2][]float64](t)(f.Predict(all))
	t.Logf("own time constants %.0f ± %.0f and %.0f ± %.0f s, coupled %.0f and %.0f s, lag %.0f ± %.0f s, residuals %.2f and %.2f K, neighbours correlate by %.2f",
		f.Own[0].Value, f.Own[0].StdErr, f.Own[1].Value, f.Own[1].StdErr, f.TimeConstants[0].Value, f.TimeConstants[1].Value,
		f.Lag.Value, f.Lag.StdErr, f.RMS[0], f.RMS[1], f.Lag1)
	for c, most := range []float64{.69, .91} {
		s, low, high := 0.0, math.Inf(1), math.Inf(-1)
		for k := cut; k < n; k++ {
			d := y[c][k] - all.Temperature[c][k]
			s += d * d
			low, high = math.Min(low, all.Temperature[c][k]), math.Max(high, all.Temperature[c][k])
		}
		rms := math.Sqrt(s / float64(n-cut))
		t.Logf("sensor %d: predicted within %.3f K RMS over %.1f K", c+1, rms, high-low)
		if !(rms <= most*1.02) {
			t.Errorf("sensor %d predicted within %.3f K RMS, want %.2f", c+1, rms, most)
		}
	}
	for k, want := range []float64{195, 263} {
		if e := f.Own[k]; !(math.Abs(e.Value-want) <= 2*e.StdErr && e.StdErr < .1*want) {
			t.Errorf("time constant %g ± %g s, want %g within two standard errors", e.Value, e.StdErr, want)
		}
	}
}
