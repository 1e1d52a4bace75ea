package bus_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"example.com/headroom/bus"
)

// steppedRectifier integrates a bridge in small fixed steps by the backward Euler
// rule. Nothing of it is that of the package: every diode is a resistance behind
// its threshold, of one value when it conducts and another when it blocks; all
// potentials are unknowns of one linear system, solved again until each diode's
// state agrees with its voltage. Its error is of the order of the step.
type steppedRectifier struct {
	emf                 []float64 // crest of every leg [V]
	phase               []float64
	omega               float64
	r, l                float64 // of every leg
	threshold, on, off  float64 // of every diode
	c, rs, g            float64 // bank and resistor across the bus
	power, draw         float64
	v                   float64 // of the bus
	x                   float64 // of the bank
	i                   []float64
	up, down            []bool // whether the diodes conduct
	volts, lines, times []float64
}

func newStepped(r bus.Rectifier, b bus.Bus, load bus.SteadyLoad, start float64) *steppedRectifier {
	s := &steppedRectifier{
		omega: 2 * math.Pi * r.Frequency, threshold: r.DiodeThreshold, on: math.Max(r.DiodeResistance, 1e-7), off: 1e8,
		c: b.Bank.Capacitance, rs: math.Max(b.Bank.SeriesResistance, 1e-9), power: load.Power, draw: load.Current, v: start, x: start,
	}
	if load.Resistance > 0 {
		s.g = 1 / load.Resistance
	}
	switch r.Kind {
	case bus.ThreePhaseBridge:
		for k := range 3 {
			s.emf = append(s.emf, r.Voltage*math.Sqrt(2./3))
			s.phase = append(s.phase, -2*math.Pi/3*float64(k))
		}
		s.r, s.l = r.Resistance, r.Inductance
	case bus.Bridge: // all of the EMF in one line, the impedance halved
		s.emf, s.phase = []float64{r.Voltage * math.Sqrt2, 0}, []float64{0, 0}
		s.r, s.l = r.Resistance/2, r.Inductance/2
	}
	n := len(s.emf)
	s.i, s.up, s.down = make([]float64, n), make([]bool, n), make([]bool, n)
	return s
}

// step advances to time t by h. The unknowns are the potentials at the legs, that
// of the star point, of the positive pole, and of the bank, over the negative one.
func (s *steppedRectifier) step(t, h float64) {
	n := len(s.emf)
	star, pole, bank := n, n+1, n+2
	var u *mat.VecDense
	for range 20 {
		a, b := mat.NewDense(n+3, n+3, nil), mat.NewVecDense(n+3, nil)
		for k := range n {
			e := s.emf[k] * math.Sin(s.omega*t+s.phase[k])
			z := s.r + s.l/h
			known := e + s.l/h*s.i[k] // current (known + star - u)/z into the leg
			gu, gd := 1/s.off, 1/s.off
			ju, jd := 0.0, 0.0
			if s.up[k] {
				gu = 1 / s.on
				ju = -s.threshold * gu
			}
			if s.down[k] {
				gd = 1 / s.on
				jd = -s.threshold * gd
			}
			// leg: (known + star - u)/z = gu (u - pole) + ju - (gd (-u) + jd)
			a.Set(k, k, 1/z+gu+gd)
			a.Set(k, star, -1/z)
			a.Set(k, pole, -gu)
			b.SetVec(k, known/z-ju+jd)
			// star: the sum of the currents is nothing
			a.Set(star, star, a.At(star, star)+1/z)
			a.Set(star, k, -1/z)
			b.SetVec(star, b.AtVec(star)-known/z)
			// pole: what the diodes bring
			a.Set(pole, pole, a.At(pole, pole)+gu)
			a.Set(pole, k, -gu)
			b.SetVec(pole, b.AtVec(pole)+ju)
		}
		a.Set(pole, pole, a.At(pole, pole)+1/s.rs+s.g)
		a.Set(pole, bank, -1/s.rs)
		b.SetVec(pole, b.AtVec(pole)-s.draw-s.power/s.v) // with the voltage of the step before
		a.Set(bank, bank, s.c/h+1/s.rs)
		a.Set(bank, pole, -1/s.rs)
		b.SetVec(bank, s.c/h*s.x)
		u = mat.NewVecDense(n+3, nil)
		if err := u.SolveVec(a, b); err != nil {
			if _, ill := err.(mat.Condition); !ill {
				panic(err)
			}
		}
		changed := false
		for k := range n {
			over := u.AtVec(k) - u.AtVec(pole) - s.threshold
			under := -u.AtVec(k) - s.threshold
			if up, down := over > 0, under > 0; up != s.up[k] || down != s.down[k] {
				s.up[k], s.down[k], changed = up, down, true
			}
		}
		if !changed {
			break
		}
	}
	for k := range n {
		e := s.emf[k] * math.Sin(s.omega*t+s.phase[k])
		s.i[k] = (e + s.l/h*s.i[k] + u.AtVec(star) - u.AtVec(k)) / (s.r + s.l/h)
	}
	s.v, s.x = u.AtVec(pole), u.AtVec(bank)
	s.times, s.volts, s.lines = append(s.times, t), append(s.volts, s.v), append(s.lines, s.i[0])
}

// The waveform is that of the stepped integrator within what its step allows: the
// difference halves with the step, and what two steps extrapolate to is much
// nearer.
func TestRippleIndependent(t *testing.T) {
	random := rand.New(rand.NewPCG(41, 42))
	for _, kind := range []bus.RectifierKind{bus.Bridge, bus.ThreePhaseBridge} {
		for n := range 5 {
			r := bus.Rectifier{
				Kind: kind, Voltage: between(random, 40, 400), Frequency: 50,
				Resistance: 0.3 * random.Float64(), Inductance: logBetween(random, 1e-4, 1e-2),
				DiodeThreshold: pick(random, 0, 0.9), DiodeResistance: pick(random, 0.002, 0.02),
			}
			top := r.NoLoadVoltage()
			b := bus.Bus{Bank: bus.Bank{Capacitance: logBetween(random, 3e-4, 1e-2), SeriesResistance: pick(random, 0, 0.05), RatedVoltage: 1e3}}
			load := bus.SteadyLoad{Power: pick(random, 0, top*2), Current: 1, Resistance: pick(random, 0, top)}
			b.Bleeder = load.Resistance
			const end = 0.06
			res, err := b.SimulateRipple(context.Background(), r, bus.RippleLoad{
				Power: constantLoad(t, load.Power, 0, end), Current: constantLoad(t, load.Current, 0, end),
			}, bus.RippleState{Voltage: 0.8 * top})
			require.NoError(t, err)
			require.False(t, res.Collapsed)
			peak := math.Abs(res.Lines[0].AbsMax().V)
			integrate := func(h float64) *steppedRectifier {
				s := newStepped(r, b, load, 0.8*top)
				for k := 1; float64(k)*h <= end*(1-1e-9); k++ {
					s.step(float64(k)*h, h)
				}
				return s
			}
			const h = 10e-6
			coarse, fine := integrate(2*h), integrate(h)
			// Largest differences: of both, and of what they extrapolate to for h -> 0.
			var volts, amps [3]float64
			for k, x := range coarse.times {
				at := 2*k + 1 // of the same time
				require.InDelta(t, x, fine.times[at], 1e-9)
				v, i := res.Voltage.At(x), res.Lines[0].At(x)
				for m, d := range []float64{coarse.volts[k] - v, fine.volts[at] - v, 2*fine.volts[at] - coarse.volts[k] - v} {
					volts[m] = math.Max(volts[m], math.Abs(d)/top)
				}
				for m, d := range []float64{coarse.lines[k] - i, fine.lines[at] - i, 2*fine.lines[at] - coarse.lines[k] - i} {
					amps[m] = math.Max(amps[m], math.Abs(d)/peak)
				}
			}
			t.Logf("%v: off by %.2g of the voltage and %.2g of the current, extrapolated", kind, volts[2], amps[2])
			// Where a diode ceases to conduct the current has a kink that the steps
			// miss by up to one of them: there it is off by what it changes in a step.
			kink := math.Abs(res.Lines[0].Derivative().AbsMax().V) * h / peak
			if !(volts[1] < 0.55*volts[0] && volts[2] < 3e-4 && amps[1] < 0.55*amps[0] && amps[2] < kink) {
				t.Errorf("%d: %+v %+v: voltage %g, current %g", n, r, load, volts, amps)
			}
		}
	}
}
