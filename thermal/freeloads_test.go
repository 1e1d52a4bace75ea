package thermal_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// By hand: 1000 W for 1 s of 10 s and 600 W for 2 s of 7 s, 100 J besides, 1500 W at most.
// In 1 s they bring 1500 J, in 2 s 100 + 1000 + 1200 = 2300 J, in 8 s 100 + 1000 + 1800 = 2900
// J. Of 1000 W for 1 s and 1000 J for longer the 2 s use 2.3; the mean, 100 + 171.43 W, of
// 100 W 2.714. Above it go 100 J, 900 J and 2 (600 - 171.43) = 857.14 J.
func TestFreeLoads(t *testing.T) {
	loads := thermal.FreeLoads{Cycles: []profile.Curve{
		blocks(t, [2]float64{1000, 1}, [2]float64{0, 9}), blocks(t, [2]float64{0, 5}, [2]float64{600, 2}),
	}, Once: 100, Highest: 1500}
	rating := func(continuous float64) thermal.PulseRating {
		return thermal.PulseRating{Continuous: continuous, Derating: 1, Points: []thermal.PulsePoint{{Duration: 1, Energy: 1000}}}
	}
	p := ok[thermal.PulseTrain](t)(rating(100).TrainFree(context.Background(), loads))
	near(t, "mean", p.Mean.Ratio, (100+1200./7)/100, 1e-12)
	near(t, "swing", p.Swing, 100+900+6000./7, 1e-12)
	near(t, "combined", p.Combined, p.Mean.Ratio+p.Swing/1000, 1e-12)
	// The permitted total is 1000 J up to 10 s and 100 W t from there. In 10 s they bring 100 +
	// 1000 + 2400 J if the two blocks of 600 W, 5 s apart, fit; in 11 s 100 + 2000 + 2400 J.
	near(t, "windows", p.Loading.Ratio, 4500./1100, 1e-3)
	near(t, "window", p.Window, 11, 1e-2)
	// Where 1000 W are permitted over any time, the highest, 1500 W, is the worst while it lasts;
	// without it 100 + 1000 + 600 J in the first second.
	short := thermal.OverloadRating{Continuous: 1000, Points: []thermal.OverloadPoint{{Time: 1, Mean: 1000}}}
	o := ok[thermal.Overload](t)(short.HoldFree(context.Background(), loads))
	near(t, "first second, as the highest permits", o.Loading.Ratio, 1.5, 1e-12)
	loads.Highest = 0
	o = ok[thermal.Overload](t)(short.HoldFree(context.Background(), loads))
	near(t, "first second", o.Loading.Ratio, 1.7, 1e-12)
}

// No phases take in more than the bound, and of loads with incommensurable cycles some come near.
func TestFreeLoadsAgainstPhases(t *testing.T) {
	r := rand.New(rand.NewPCG(83, 1))
	a, b := blocks(t, [2]float64{1500, .7}, [2]float64{0, 2.3}), blocks(t, [2]float64{900, .4}, [2]float64{100, .2}, [2]float64{0, 1.1})
	o := ok[thermal.Overload](t)(supplyRating.HoldFree(context.Background(), thermal.FreeLoads{Cycles: []profile.Curve{a, b}}))
	sumA, sumB := a.Repeat(60).Antiderivative(0), b.Repeat(100).Antiderivative(0)
	worst := 0.
	for range 30000 {
		w := .1 * math.Pow(200, r.Float64())
		x, y := 3*r.Float64(), 1.7*r.Float64()
		got := (sumA.At(x+w) - sumA.At(x) + sumB.At(y+w) - sumB.At(y)) / (w * ok[float64](t)(supplyRating.Permitted(w)))
		worst = math.Max(worst, got)
	}
	if !(worst <= o.Loading.Ratio*(1+1e-3) && worst > .9*o.Loading.Ratio) {
		t.Errorf("by phases %g, bound %g", worst, o.Loading.Ratio)
	}
}

func TestFreeLoadsBadInput(t *testing.T) {
	load := step(1)
	for path, l := range map[string]thermal.FreeLoads{
		"loads.cycles":    {},
		"loads.cycles[1]": {Cycles: []profile.Curve{load, step(-1)}},
		"loads.cycles[0]": {Cycles: []profile.Curve{{}, load}},
		"loads.once":      {Cycles: []profile.Curve{load}, Once: math.NaN()},
		"loads.highest":   {Cycles: []profile.Curve{load}, Highest: -1},
	} {
		_, err := supplyRating.HoldFree(context.Background(), l)
		if e := profile.InputErrors(err); len(e) != 1 || e[0].Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
	_, err := thermal.PulseRating{Continuous: 1, Derating: 1, Points: []thermal.PulsePoint{{Duration: 1, Energy: 3}}}.TrainFree(context.Background(), thermal.FreeLoads{Cycles: []profile.Curve{load}, Once: math.Inf(1)})
	if e := profile.InputErrors(err); len(e) != 1 || e[0].Path != "power.once" {
		t.Error(err)
	}
}
