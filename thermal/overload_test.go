package thermal_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

var supplyRating = thermal.OverloadRating{Continuous: 1000, Points: []thermal.OverloadPoint{{Time: .1, Mean: 3000}, {Time: 1, Mean: 2000}, {Time: 30, Mean: 1000}}}

func TestOverloadPermitted(t *testing.T) {
	for _, tc := range [][2]float64{{.1, 3000}, {1, 2000}, {30, 1000}, {1e4, 1000},
		{math.Sqrt(.1), math.Sqrt(6e6)}, {math.Sqrt(30), math.Sqrt(2e6)}} { // half-way in both logarithms
		near(t, "permitted", ok[float64](t)(supplyRating.Permitted(tc[0])), tc[1], 1e-13)
	}
	r := thermal.PulseRating{Continuous: 200, Derating: .8, Points: []thermal.PulsePoint{{Duration: .5, Energy: 4000}, {Duration: 10, Energy: 9000}}}
	near(t, "pulse energy", ok[float64](t)(r.Energy(.5)), 3200, 1e-14)
	near(t, "pulse energy half-way", ok[float64](t)(r.Energy(math.Sqrt(5))), .8*6000, 1e-14)
	near(t, "pulse energy beyond the last", ok[float64](t)(r.Energy(20)), 7200, 1e-14)
	near(t, "pulse energy of a long one", ok[float64](t)(r.Energy(100)), .8*200*100, 1e-14)
	near(t, "ratio", first(r.Pulse(1600, .5)).Ratio, .5, 1e-14)
}

// By hand: 2.4 kW for .5 s of every 4 s. The worst window is the pulse itself,
// against 3000·5^(log10(2/3)).
func TestOverloadPulse(t *testing.T) {
	load := blocks(t, [2]float64{0, 1}, [2]float64{2400, .5}, [2]float64{0, 2.5})
	o := ok[thermal.Overload](t)(supplyRating.Hold(context.Background(), load))
	want := 2400 / (3000 * math.Pow(5, math.Log10(2./3)))
	near(t, "ratio", o.Loading.Ratio, want, 1e-3)
	if !(o.Loading.Ratio <= want*(1+1e-12)) {
		t.Errorf("ratio %g above the true one %g", o.Loading.Ratio, want)
	}
	near(t, "window", o.Window, .5, .02)
	near(t, "start", o.Start, 1, .02)
	near(t, "mean", o.Mean.Value, 300, 1e-13)
	// Two such pulses .1 s apart are worse than either; the gap is seen.
	o = ok[thermal.Overload](t)(supplyRating.Hold(context.Background(), blocks(t, [2]float64{2400, .5}, [2]float64{0, .1}, [2]float64{2400, .5}, [2]float64{0, 20})))
	near(t, "two pulses", o.Loading.Ratio, 2400/1.1/(2000*math.Pow(1.1, -math.Log(2)/math.Log(30))), 1e-3)
	// Constant load: the continuous rating is the tightest.
	o = ok[thermal.Overload](t)(supplyRating.Hold(context.Background(), blocks(t, [2]float64{700, 3})))
	near(t, "constant", o.Loading.Ratio, .7, 1e-13)
	r := thermal.PulseRating{Continuous: 200, Derating: 1, Points: []thermal.PulsePoint{{Duration: .5, Energy: 4000}}}
	// Three pulses of 3000 J in 21 s, for which 200 W permits 4200 J.
	p := ok[thermal.PulseTrain](t)(r.Train(context.Background(), blocks(t, [2]float64{3000, 1}, [2]float64{0, 9})))
	near(t, "resistor, windows", p.Loading.Ratio, 9000./4200, 1e-3)
	near(t, "resistor, mean", p.Mean.Ratio, 1.5, 1e-13)
	near(t, "resistor, swing", p.Swing, 2700, 1e-12)
	near(t, "resistor, combined", p.Combined, 1.5+2700./4000, 1e-12)
}

// The combined ratio is never below the peak of a body that has just these
// ratings, and not far above.
func TestPulseTrainIsSafe(t *testing.T) {
	r := rand.New(rand.NewPCG(82, 1))
	body := thermal.Body{Capacity: 400, ThermalResistance: .5}
	rating := thermal.PulseRating{Continuous: 100 / .5, Derating: 1, Points: []thermal.PulsePoint{{Duration: .01, Energy: 400 * 100}}}
	for range 100 {
		var b [][2]float64
		for range 1 + r.IntN(6) {
			b = append(b, [2]float64{400 * r.Float64() * float64(r.IntN(3)), .5 + 200*r.Float64()*r.Float64()})
		}
		power := blocks(t, b...)
		p := ok[thermal.PulseTrain](t)(rating.Train(context.Background(), power))
		peak := ok[*thermal.Course](t)(body.Network(0).Settled(context.Background(), []profile.Curve{power})).Temperatures[0].Max().V / 100
		if !(p.Combined >= peak*(1-1e-9) && p.Combined <= 2*peak+1e-9) {
			t.Errorf("combined %g, peak %g of the permitted rise", p.Combined, peak)
		}
	}
}

// Against windows tried one by one.
func TestOverloadAgainstSearch(t *testing.T) {
	r := rand.New(rand.NewPCG(81, 1))
	for range 12 {
		var b [][2]float64
		for range 2 + r.IntN(6) {
			b = append(b, [2]float64{3500 * r.Float64() * float64(r.IntN(2)), .2 + 3*r.Float64()})
		}
		load := blocks(t, b...)
		o := ok[thermal.Overload](t)(supplyRating.Hold(context.Background(), load))
		sum := load.Repeat(40).Antiderivative(0)
		top := load.Mean() / 1000
		for w := .1; w < 35; w *= 1.03 {
			allowed := w * ok[float64](t)(supplyRating.Permitted(w))
			for s := 0.; s < load.Duration(); s += load.Duration() / 150 {
				if s+w < sum.End() {
					top = math.Max(top, (sum.At(s+w)-sum.At(s))/allowed)
				}
			}
		}
		if !(o.Loading.Ratio >= top/(1+1e-3) && o.Loading.Ratio <= top*1.05) {
			t.Errorf("ratio %g, by search %g: %v", o.Loading.Ratio, top, b)
		}
	}
}

// A settled pulse train of the resistor as one body: the peak in closed form.
func TestPulseTrainOfBody(t *testing.T) {
	body := thermal.Body{Capacity: 300, ThermalResistance: .6}
	c := ok[*thermal.Course](t)(body.Network(35).Settled(context.Background(), []profile.Curve{blocks(t, [2]float64{2000, 1.5}, [2]float64{0, 18.5})}))
	const tau = 180.
	want := 2000 * .6 * -math.Expm1(-1.5/tau) / -math.Expm1(-20/tau)
	near(t, "peak", c.Temperatures[0].Max().V, 35+want, 1e-13)
}

func TestDriveHeat(t *testing.T) {
	d := thermal.DriveHeat{Standby: 12, Drop: 2, Resistance: .1, Outside: .75}
	// 10 A for a quarter, -4 A for a half: mean |I| 4.5 A, mean I² 33 A².
	l := ok[thermal.DriveHeatLoad](t)(d.Mean(blocks(t, [2]float64{10, 1}, [2]float64{-4, 2}, [2]float64{0, 1})))
	near(t, "total", l.Total, 12+9+3.3, 1e-14)
	near(t, "inside", l.Inside, 12+12.3/4, 1e-14)
}

func TestOverloadBadInput(t *testing.T) {
	point := func(t1, m1, t2, m2 float64) thermal.OverloadRating {
		return thermal.OverloadRating{Continuous: 1, Points: []thermal.OverloadPoint{{Time: t1, Mean: m1}, {Time: t2, Mean: m2}}}
	}
	load := step(1)
	pulse := thermal.PulseRating{Continuous: 1, Derating: 1, Points: []thermal.PulsePoint{{Duration: 1, Energy: 3}}}
	undated := pulse
	undated.Derating = 0
	for path, err := range map[string]error{
		"continuous":     second(thermal.OverloadRating{Points: supplyRating.Points}.Hold(context.Background(), load)),
		"points":         second(thermal.OverloadRating{Continuous: 1}.Hold(context.Background(), load)),
		"points[0].time": second(point(math.NaN(), 3, 2, 2).Hold(context.Background(), load)),
		"points[1].time": second(point(2, 3, 2, 2).Hold(context.Background(), load)),
		"points[0].mean": second(point(1, .5, 2, .4).Hold(context.Background(), load)),
		"points[1].mean": second(point(1, 3, 2, 4).Hold(context.Background(), load)),
		"load":           second(supplyRating.Hold(context.Background(), step(-1))),
		"time":           second(supplyRating.Permitted(.01)),
		"derating":       undated.Validate(),
		"duration":       second(pulse.Energy(math.NaN())),
		"energy":         second(pulse.Pulse(-1, 2)),
		"power":          second(pulse.Train(context.Background(), profile.Curve{})),
		"drop":           second(thermal.DriveHeat{Drop: -1}.Mean(load)),
		"outside":        second(thermal.DriveHeat{Outside: 1.1}.Mean(load)),
		"current":        second(thermal.DriveHeat{}.Mean(profile.Curve{})),
	} {
		f := profile.InputErrors(err)
		if len(f) == 0 || f[0].Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
	if err := point(1, 3, 2, 1.2).Validate(); err == nil {
		t.Error("a rating that permits less energy in a longer time was accepted")
	}
	for _, huge := range []float64{1e300, 1e-300} {
		o, err := supplyRating.Hold(context.Background(), step(huge))
		if err == nil && !(o.Loading.Ratio <= math.MaxFloat64) {
			t.Errorf("load %g: %v", huge, o)
		}
	}
}

func TestSupplyHeat(t *testing.T) {
	s := thermal.SupplyHeat{Standby: 8, Efficiency: .92}
	// 300 W for one second of four, -100 W for another: a mean of 75 W.
	p := ok[float64](t)(s.Mean(blocks(t, [2]float64{300, 1}, [2]float64{-100, 1}, [2]float64{0, 2})))
	near(t, "heat", p, 8+75/.92-75, 1e-13)
	for path, err := range map[string]error{
		"standby":    second(thermal.SupplyHeat{Standby: -1, Efficiency: 1}.Mean(step(1))),
		"efficiency": second(thermal.SupplyHeat{Efficiency: 1.01}.Mean(step(1))),
		"output":     second(s.Mean(profile.Curve{})),
	} {
		if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
}

// Any load and rating: a finite answer, or an error of a known kind.
func FuzzOverload(f *testing.F) {
	f.Add(1000., .1, 3000., 30., 1100., 2400., .5, 3.)
	f.Add(1., 1e-6, 3e9, 1e6, 2., 1e9, 1e-9, 1e9)
	f.Fuzz(func(t *testing.T, continuous, t1, m1, t2, m2, load, on, off float64) {
		curve, err := profile.NewCurve([]float64{0, on, on + off}, [][]float64{{load}, {load / 100}})
		if err != nil {
			return
		}
		r := thermal.OverloadRating{Continuous: continuous, Points: []thermal.OverloadPoint{{Time: t1, Mean: m1}, {Time: t2, Mean: m2}}}
		o, err := r.Hold(context.Background(), curve)
		if err != nil {
			if len(profile.InputErrors(err)) == 0 {
				t.Fatalf("unknown kind: %v", err)
			}
			return
		}
		if !(o.Loading.Ratio >= o.Mean.Ratio && o.Loading.Ratio <= math.MaxFloat64) {
			t.Fatalf("%+v", o)
		}
	})
}
