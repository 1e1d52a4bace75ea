package thermal_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/thermal"
)

// A random winding, heat and ambient of servo size. Gains lie on both sides of 1.
func randomWinding(r *rand.Rand) (thermal.Winding, thermal.Heat, float64) {
	w := thermal.Winding{ThermalResistance: .2 + 3*r.Float64(), Max: 130, Conductor: thermal.Conductor(200 + 60*r.Float64())}
	h := thermal.Heat{Copper: 200 * r.Float64(), At: -20 + 140*r.Float64(), Other: 30 * r.Float64()}
	return w, h, -20 + 80*r.Float64()
}

// slope is the heat balance in its other textbook form, with the temperature
// coefficient α = 1/(k+T0), for a heat capacity of 1 J/K.
func slope(w thermal.Winding, h thermal.Heat, ambient float64) func(float64) float64 {
	alpha := 1 / (float64(w.Conductor) + h.At)
	return func(t float64) float64 {
		return h.Copper*(1+alpha*(t-h.At)) + h.Other - (t-ambient)/w.ThermalResistance
	}
}

// The settled temperature is where integrating the heat balance in time ends.
func TestSettledAgainstIntegration(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	settled := 0
	for range 300 {
		w, h, ambient := randomWinding(r)
		s, err := w.Settled(h, ambient)
		if err != nil || s.Gain > .9 {
			continue
		}
		settled++
		// 300 time constants R C; at gain .9 still 30 of the true ones, e^-30 = 1e-13.
		end := integrate(ambient, 300*w.ThermalResistance, 3000, slope(w, h, ambient))
		near(t, "temperature", s.Temperature, end, 1e-11)
		near(t, "rise", s.Rise, end-ambient, 1e-10)
		near(t, "margin", s.Margin, 130-end, 1e-8)
		near(t, "heat balance", s.CopperLoss+h.Other, (end-ambient)/w.ThermalResistance, 1e-10)
	}
	if settled < 100 {
		t.Fatalf("only %d of 300 windings settle: the cases are not what was meant", settled)
	}
}

// Runaway is reported exactly where the fixed-point iteration of the heat
// balance, the way it is done by hand, moves away instead of closing in.
func TestRunawayAgainstIteration(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	ran := 0
	for i := range 500 {
		w, h, ambient := randomWinding(r)
		if i%2 == 0 { // put half of them within 1 % of the boundary
			h.Copper = (float64(w.Conductor) + h.At) / w.ThermalResistance * (.99 + .02*r.Float64())
		}
		next := func(temp float64) float64 {
			return temp + w.ThermalResistance*slope(w, h, ambient)(temp)
		}
		first := next(ambient) - ambient
		temp := ambient
		for range 1000 {
			temp = next(temp)
		}
		diverges := !(next(temp)-temp < first) // also when it has left the numbers

		_, err := w.Settled(h, ambient)
		var runaway *thermal.RunawayError
		if got := errors.As(err, &runaway); got != diverges {
			t.Fatalf("%+v %+v in %g °C: runaway %v (%v), but iteration diverges %v", w, h, ambient, got, err, diverges)
		}
		if !diverges {
			continue
		}
		ran++
		if runaway.Copper != h.Copper || runaway.At != h.At || runaway.ThermalResistance != w.ThermalResistance || !(runaway.Gain >= 1) {
			t.Fatalf("%+v does not carry its inputs", runaway)
		}
		h.Copper = runaway.Limit * (1 - 1e-9)
		if _, err := w.Settled(h, ambient); err != nil {
			t.Fatalf("just below the limit: %v", err)
		}
		h.Copper = runaway.Limit * (1 + 1e-9)
		if _, err := w.Settled(h, ambient); !errors.As(err, &runaway) {
			t.Fatalf("just above the limit: error %v", err)
		}
	}
	if ran < 100 || ran > 400 {
		t.Fatalf("%d of 500 run away: the cases are not what was meant", ran)
	}
}

// With numbers that are exact in binary the boundary is exact: k+T0 = 256 K,
// Rth = .5 K/W, gain 1 at 512 W.
func TestRunawayBoundary(t *testing.T) {
	w := thermal.Winding{ThermalResistance: .5, Max: 130}
	h := thermal.Heat{Copper: 512, At: 21.5}
	var runaway *thermal.RunawayError
	if _, err := w.Settled(h, 20); !errors.As(err, &runaway) || runaway.Gain != 1 || runaway.Limit != 512 {
		t.Fatalf("at gain 1: %v", err)
	}
	want := "thermal runaway: a mean copper loss of 512 W at 21.5 °C with 0.5 K/W to ambient" +
		" has feedback gain 1 and no settled temperature: want a gain < 1, a loss < 512 W"
	if runaway.Error() != want {
		t.Errorf("message %q, want %q", runaway.Error(), want)
	}
	h.Copper = math.Nextafter(512, 0)
	if s, err := w.Settled(h, 20); err != nil || !(s.Temperature > 1e15) {
		t.Fatalf("just below gain 1: %+v, %v", s, err)
	}
}

// More ambient, loss, thermal resistance or other heat never cools the winding.
func TestSettledIsMonotone(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	raised, pairs := 0, 0
	for range 2000 {
		w, h, ambient := randomWinding(r)
		a, err := w.Settled(h, ambient)
		if err != nil {
			continue
		}
		switch by := r.Float64(); r.IntN(4) {
		case 0:
			ambient += 20 * by
		case 1:
			h.Copper *= 1 + by
		case 2:
			h.Other += 10 * by
		case 3:
			w.ThermalResistance *= 1 + by
		}
		b, err := w.Settled(h, ambient)
		if err != nil {
			var runaway *thermal.RunawayError
			if !errors.As(err, &runaway) {
				t.Fatal(err)
			}
			continue // hotter than any temperature
		}
		pairs++
		if !(b.Temperature >= a.Temperature) {
			t.Fatalf("%+v became %+v", a, b)
		}
		if b.Temperature > a.Temperature {
			raised++
		}
	}
	if pairs < 500 || raised < pairs*9/10 {
		t.Fatalf("%d of %d pairs differ: the cases are not what was meant", raised, pairs)
	}
}

// A metal whose resistance does not grow gives the linear rise Rth P, and so
// does heat that is not copper loss.
func TestNoFeedbackIsLinear(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	for range 200 {
		w, h, ambient := randomWinding(r)
		w.Conductor = 1e9
		s := ok[thermal.Settled](t)(w.Settled(h, ambient))
		near(t, "rise", s.Rise, w.ThermalResistance*(h.Copper+h.Other), 1e-6) // 1e9 K is not infinite
		w.Conductor, h.Copper = thermal.Copper, 0
		s = ok[thermal.Settled](t)(w.Settled(h, ambient))
		near(t, "rise without copper loss", s.Rise, w.ThermalResistance*h.Other, 1e-15)
		if s.Gain != 0 || s.CopperLoss != 0 {
			t.Fatalf("without copper loss: %+v", s)
		}
	}
}

// The same loss stated at another winding temperature settles the same.
func TestHeatAtAnyReference(t *testing.T) {
	w := thermal.Winding{ThermalResistance: 1.5, Max: 130}
	a := ok[thermal.Settled](t)(w.Settled(thermal.Heat{Copper: 40, At: 20, Other: 5}, 35))
	ratio := ok[float64](t)(thermal.Conductor(0).Ratio(110, 20))
	b := ok[thermal.Settled](t)(w.Settled(thermal.Heat{Copper: 40 * ratio, At: 110, Other: 5}, 35))
	near(t, "temperature", b.Temperature, a.Temperature, 1e-14)
	near(t, "ratio by hand", ratio, 344.5/254.5, 1e-15)
}

// What the continuous torque heats to, found through the settled state, is the
// permitted temperature; in the rated ambient the torque is the rated one.
func TestContinuousTorqueSettlesAtMax(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for range 200 {
		rating := thermal.Rating{
			Torque:   .3 + 5*r.Float64(),
			Constant: thermal.MotorConstant{Km: .05 + r.Float64(), At: 20 + 60*r.Float64()},
			Max:      100 + 55*r.Float64(),
			Ambient:  20 + 20*r.Float64(),
			Other:    10 * r.Float64(),
		}
		w := ok[thermal.Winding](t)(thermal.FromRating(rating))
		near(t, "rated torque", ok[float64](t)(w.ContinuousTorque(rating.Constant, rating.Ambient, rating.Other)), rating.Torque, 1e-12)

		ambient, other := rating.Ambient+20*(2*r.Float64()-1), rating.Other*r.Float64()
		torque := ok[float64](t)(w.ContinuousTorque(rating.Constant, ambient, other))
		cold := torque / rating.Constant.Km
		s := ok[thermal.Settled](t)(w.Settled(thermal.Heat{Copper: cold * cold, At: rating.Constant.At, Other: other}, ambient))
		near(t, "temperature at continuous torque", s.Temperature, rating.Max, 1e-11)
		if hotter := ok[float64](t)(w.ContinuousTorque(rating.Constant, ambient+5, other)); !(hotter < torque) {
			t.Fatalf("torque %g in %g °C, but %g 5 K above it", torque, ambient, hotter)
		}
	}
}

// By hand: Km 0.5 at 20 °C, 3 N·m at 130 °C winding, 40 °C ambient. 36 W at 20 °C
// is 36·364.5/254.5 = 51.5599 W at 130 °C, so 90 K / 51.5599 W = 1.74554 K/W.
func TestFromRatingByHand(t *testing.T) {
	w := ok[thermal.Winding](t)(thermal.FromRating(thermal.Rating{
		Torque: 3, Constant: thermal.MotorConstant{Km: .5, At: 20}, Max: 130, Ambient: 40}))
	near(t, "thermal resistance", w.ThermalResistance, 1.74554, 2e-6)
	if w.Max != 130 || w.Conductor != 0 {
		t.Errorf("winding %+v", w)
	}
}

func TestSettledDoesNotAllocate(t *testing.T) {
	w := thermal.Winding{ThermalResistance: 1.5, Max: 130}
	if n := testing.AllocsPerRun(100, func() { _, _ = w.Settled(thermal.Heat{Copper: 40, At: 20, Other: 5}, 35) }); n != 0 {
		t.Errorf("Settled allocates %v times per call, want 0", n)
	}
}

func BenchmarkSettled(b *testing.B) {
	w := thermal.Winding{ThermalResistance: 1.5, Max: 130}
	h := thermal.Heat{Copper: 40, At: 20, Other: 5}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := w.Settled(h, 35); err != nil {
			b.Fatal(err)
		}
	}
}
