package thermal_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// An invented motor of about 1 kW.
var invented = thermal.TwoNodeMotor{WindingCapacity: 220, FrameCapacity: 1900, Inner: .55, Mounting: .8, Max: 130}

func randomMotor(r *rand.Rand) thermal.WindingNetwork {
	n := randomNetwork(r, 2+r.IntN(3))
	n.Capacities[1] += 80
	for i := range n.Boundaries {
		n.Boundaries[i].Conductance += 3
	}
	w := thermal.WindingNetwork{Network: n, Winding: 0, Max: 130}
	if r.IntN(2) == 0 {
		w.Magnets = thermal.Magnets{Coefficient: .002 * r.Float64(), Node: 1, At: 20 + 40*r.Float64()}
	}
	return w
}

// simulateWinding runs the balance with the losses of w, written with α =
// 1/(k+T0), by the classical Runge-Kutta method, n steps for each piece.
func simulateWinding(w thermal.WindingNetwork, h thermal.WindingHeat, temp []float64, n int) (highest float64) {
	b := newBalance(w.Network)
	size := len(temp)
	p, k, y := make([]float64, size), [4][]float64{}, make([]float64, size)
	for i := range k {
		k[i] = make([]float64, size)
	}
	slope := func(t float64, temp, into []float64) {
		for i := range p {
			p[i] = 0
			if len(h.Other) > 0 {
				p[i] = h.Other[i].At(t)
			}
		}
		k := 234.5
		if w.Conductor != 0 {
			k = float64(w.Conductor)
		}
		loss := h.Copper.At(t) * (1 + (temp[w.Winding]-h.At)/(k+h.At))
		if m := w.Magnets; m.Coefficient > 0 {
			loss /= math.Pow(1-m.Coefficient*(temp[m.Node]-m.At), 2)
		}
		p[w.Winding] += loss
		b.slope(temp, p, into)
	}
	for piece := range h.Copper.Pieces() {
		t0, t1, _ := h.Copper.Piece(piece)
		step := (t1 - t0) / float64(n)
		for s := range n {
			t := t0 + step*float64(s)
			end := math.Min(t+step, math.Nextafter(t1, 0))
			slope(t, temp, k[0])
			for i := range y {
				y[i] = temp[i] + step/2*k[0][i]
			}
			slope(t+step/2, y, k[1])
			for i := range y {
				y[i] = temp[i] + step/2*k[1][i]
			}
			slope(t+step/2, y, k[2])
			for i := range y {
				y[i] = temp[i] + step*k[2][i]
			}
			slope(end, y, k[3])
			for i := range temp {
				temp[i] += step / 6 * (k[0][i] + 2*k[1][i] + 2*k[2][i] + k[3][i])
			}
			highest = math.Max(highest, temp[w.Winding])
		}
	}
	return highest
}

// The settled cycle with feedback is where a simulation of many cycles ends,
// with and without magnets; runaway is said where the simulation leaves.
func TestWindingNetworkAgainstSimulation(t *testing.T) {
	r := rand.New(rand.NewPCG(71, 1))
	ctx := context.Background()
	settled, ran := 0, 0
	for trial := range 24 {
		w := randomMotor(r)
		nodes := len(w.Network.Capacities)
		slowest := ok[[]float64](t)(w.Network.TimeConstants())[0]
		cycle := slowest * (.3 + r.Float64())
		power := 100 + 500*r.Float64()
		h := thermal.WindingHeat{At: 20, Other: make([]profile.Curve, nodes)}
		h.Copper = ok[profile.Curve](t)(profile.NewCurve([]float64{0, .2 * cycle, .7 * cycle, cycle},
			[][]float64{{power, power / cycle}, {power / 5}, {power, -power / cycle, power / cycle / cycle}}))
		h.Other[1] = ok[profile.Curve](t)(profile.Constant(30, 0, cycle))
		what := fmt.Sprintf("motor %d", trial)
		c, err := w.Settled(ctx, h)

		temp := make([]float64, nodes)
		for i := range temp {
			temp[i] = 20
		}
		was, mean := 0.0, 0.0
		for range int(60*slowest/cycle) + 1 {
			was, mean = mean, simulateWinding(w, h, temp, 50)
			if !(mean < 1e4) {
				break
			}
		}
		var runaway *thermal.NetworkRunawayError
		if errors.As(err, &runaway) {
			ran++
			if mean <= was*(1+1e-9) {
				t.Errorf("%s: %v, but its simulation settles at %g", what, err, mean)
			}
			if !(runaway.Growth >= 1) {
				t.Errorf("%s: growth %g", what, runaway.Growth)
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if !(mean <= was*(1+1e-10)) {
			t.Logf("%s is not settled after the cycles simulated: %g, %g", what, was, mean)
			continue
		}
		settled++
		highest := simulateWinding(w, h, temp, 400)
		for i, x := range c.Temperatures {
			if w.Network.Capacities[i] > 0 {
				near(t, what, x.At(0), temp[i], 1e-8)
				near(t, what+" end", x.At(cycle), temp[i], 1e-8)
			}
		}
		if !(c.Hottest.V >= highest*(1-1e-8) && c.Hottest.V <= highest*1.0002) {
			t.Errorf("%s: hottest %g, simulated %g", what, c.Hottest.V, highest)
		}
		near(t, what+" margin", c.Margin, 130-c.Hottest.V, 1e-14)
		through := c.Balance.In + math.Abs(c.Balance.Out)
		within(t, what+" heat balance", c.Balance.Residual, 0, 1e-11*through)
		within(t, what+" stored", c.Balance.Stored, 0, 1e-9*through)
	}
	if settled < 8 || ran < 2 {
		t.Errorf("%d settled, %d ran away: the cases are not what was meant", settled, ran)
	}
}

// Without copper loss the network is linear: Taylor steps and exact steps agree.
func TestWindingNetworkWithoutFeedback(t *testing.T) {
	r := rand.New(rand.NewPCG(72, 1))
	ctx := context.Background()
	for trial := range 40 {
		w := randomMotor(r)
		nodes := len(w.Network.Capacities)
		slowest := ok[[]float64](t)(w.Network.TimeConstants())[0]
		cycle := slowest * math.Pow(10, 1-5*r.Float64())
		heat := randomHeat(r, t, nodes, cycle, 2)
		none := ok[profile.Curve](t)(profile.Constant(0, 0, cycle))
		c := ok[*thermal.WindingCourse](t)(w.Settled(ctx, thermal.WindingHeat{Copper: none, At: 20, Other: heat}))
		want := ok[*thermal.Course](t)(w.Network.Settled(context.Background(), heat))
		for i, x := range c.Temperatures {
			for k := range 11 {
				at := cycle * float64(k) / 10.0001
				near(t, fmt.Sprintf("motor %d node %d", trial, i), x.At(at), want.Temperatures[i].At(at), 1e-10)
			}
		}
		near(t, "heat out", c.Balance.Out, want.Balance.Out, 1e-9)
	}
}

// A cycle that is short against all time constants settles at the mean, which
// Winding knows in closed form, for one node and for two in series.
func TestWindingNetworkShortCycle(t *testing.T) {
	ctx := context.Background()
	w := ok[thermal.WindingNetwork](t)(invented.In(40))
	for _, cycle := range []float64{1e-6, 1e-3, 1} {
		h := thermal.WindingHeat{Copper: blocks(t, [2]float64{120, cycle / 4}, [2]float64{20, cycle * 3 / 4}), At: 20}
		c := ok[*thermal.WindingCourse](t)(w.Settled(ctx, h))
		want := ok[thermal.Settled](t)(thermal.Winding{ThermalResistance: invented.Inner + invented.Mounting, Max: 130}.Settled(thermal.Heat{Copper: 45, At: 20}, 40))
		near(t, "mean temperature", c.Temperatures[0].Mean(), want.Temperature, 1e-11+1e-5*cycle)
		near(t, "copper loss", c.CopperLoss, want.CopperLoss, 1e-11+1e-5*cycle)
		within(t, "balance", c.Balance.Residual, 0, 1e-11*c.Balance.In)
	}
}

// Constant heat: the limit of runaway is that of Winding.
func TestWindingNetworkRunawayLimit(t *testing.T) {
	ctx := context.Background()
	w := ok[thermal.WindingNetwork](t)(invented.In(40))
	limit := 254.5 / (invented.Inner + invented.Mounting)
	for _, tc := range []struct {
		part float64
		runs bool
	}{{.5, false}, {.999, false}, {1.001, true}, {1.5, true}, {1e6, true}} {
		h := thermal.WindingHeat{Copper: blocks(t, [2]float64{limit * tc.part, 10}), At: 20}
		_, err := w.Settled(ctx, h)
		var runaway *thermal.NetworkRunawayError
		if errors.As(err, &runaway) != tc.runs {
			t.Errorf("%g of the limit: %v", tc.part, err)
		}
	}
}

// With magnets the steady state of constant loss is the root of one equation.
// Just below the loss at which the root vanishes it settles, above it runs away.
func TestWindingNetworkMagnets(t *testing.T) {
	ctx := context.Background()
	m := invented
	m.MagnetLoss, m.MagnetsAtKm = .0015, 25
	w := ok[thermal.WindingNetwork](t)(m.In(30))
	loss := func(p0, p float64) float64 { // what losses p make of p0
		winding, magnet := 30+p*(m.Inner+m.Mounting), 30+p*m.Mounting
		return p0 * (234.5 + winding) / 254.5 / math.Pow(1-.0015*(magnet-25), 2)
	}
	fold := 0.0 // the greatest p0 that some p balances
	for p := 1.; p < 700; p += .01 {
		fold = math.Max(fold, p/loss(1, p))
	}
	for _, part := range []float64{.2, .6, .95, .9999} {
		p0 := fold * part
		p := 0.0
		for range 200000 {
			p = loss(p0, p)
		}
		c := ok[*thermal.WindingCourse](t)(w.Settled(ctx, thermal.WindingHeat{Copper: blocks(t, [2]float64{p0, 7}), At: 20}))
		near(t, "copper loss", c.CopperLoss, p, 1e-9)
		near(t, "winding", c.Hottest.V, 30+p*(m.Inner+m.Mounting), 1e-9)
	}
	var runaway *thermal.NetworkRunawayError
	for _, part := range []float64{1.001, 1.5, 10, 1e5} {
		if _, err := w.Settled(ctx, thermal.WindingHeat{Copper: blocks(t, [2]float64{fold * part, 7}), At: 20}); !errors.As(err, &runaway) {
			t.Errorf("%g of the fold: %v", part, err)
		}
	}
	if _, err := w.Run(ctx, []float64{30, 30}, thermal.WindingHeat{Copper: blocks(t, [2]float64{fold * 3, 1e5}), At: 20}); !errors.As(err, &runaway) {
		t.Errorf("long run: %v", err)
	}
}

// The continuous torque settles at Max, in any surroundings, mounting and other
// heat; overload from a cold start reaches Max in the time that a simulation
// finds, and never below the continuous torque.
func TestContinuousTorqueAndOverload(t *testing.T) {
	ctx := context.Background()
	r := rand.New(rand.NewPCG(73, 1))
	for trial := range 30 {
		m := invented
		m.Mounting *= .5 + 2*r.Float64()
		m.MagnetLoss, m.MagnetsAtKm = .001*float64(r.IntN(2)), 25
		ambient := 20 + 25*r.Float64()
		w := ok[thermal.WindingNetwork](t)(m.In(ambient))
		km := thermal.MotorConstant{Km: .2 + r.Float64(), At: 20 + 5*r.Float64()}
		other := []float64{0, 8 * r.Float64()}
		torque := ok[float64](t)(w.ContinuousTorque(km, other))
		cold := torque / km.Km * torque / km.Km
		h := thermal.WindingHeat{Copper: blocks(t, [2]float64{cold, 10}), At: km.At, Other: []profile.Curve{{}, blocks(t, [2]float64{other[1], 10})}}
		near(t, "settled at the continuous torque", ok[*thermal.WindingCourse](t)(w.Settled(ctx, h)).Hottest.V, 130, 1e-9)

		start := []float64{ambient, ambient}
		if _, limited, err := w.OverloadTime(ctx, km, .999*torque, other, start); err != nil || limited {
			t.Errorf("motor %d below its continuous torque: %v %v", trial, limited, err)
		}
		for _, over := range []float64{-1.05, 1.5, 4} {
			at, limited, err := w.OverloadTime(ctx, km, over*torque, other, start)
			if err != nil || !limited {
				t.Fatalf("motor %d overloaded: %v %v", trial, limited, err)
			}
			temp := append([]float64(nil), start...)
			h := thermal.WindingHeat{Copper: blocks(t, [2]float64{cold * over * over, at}), At: km.At, Other: []profile.Curve{{}, blocks(t, [2]float64{other[1], at})}}
			simulateWinding(w, h, temp, 2000)
			within(t, fmt.Sprintf("motor %d at the end of overload %g", trial, over), temp[0], 130, 1e-7)
		}
	}
	w := ok[thermal.WindingNetwork](t)(invented.In(40))
	if at, limited, err := w.OverloadTime(ctx, thermal.MotorConstant{Km: 1, At: 20}, 1, nil, []float64{135, 40}); at != 0 || !limited || err != nil {
		t.Errorf("started too hot: %v %v %v", at, limited, err)
	}
}

func TestWindingNetworkBadInput(t *testing.T) {
	ctx := context.Background()
	good := ok[thermal.WindingNetwork](t)(invented.In(40))
	heat := thermal.WindingHeat{Copper: step(10), At: 20}
	km := thermal.MotorConstant{Km: 1, At: 20}
	with := func(do func(w *thermal.WindingNetwork, h *thermal.WindingHeat)) error {
		w, h := good, heat
		w.Network.Capacities = append([]float64(nil), w.Network.Capacities...)
		w.Network.Boundaries = append([]thermal.Boundary(nil), w.Network.Boundaries...)
		do(&w, &h)
		_, err := w.Settled(ctx, h)
		return err
	}
	bad := func(do func(m *thermal.TwoNodeMotor)) error {
		m := invented
		do(&m)
		_, err := m.In(40)
		return err
	}
	type W = thermal.WindingNetwork
	type H = thermal.WindingHeat
	for path, err := range map[string]error{
		"winding":                           with(func(w *W, _ *H) { w.Winding = 2 }),
		"max":                               with(func(w *W, _ *H) { w.Max = -300 }),
		"conductor":                         with(func(w *W, _ *H) { w.Conductor = -1 }),
		"magnets.coefficient":               with(func(w *W, _ *H) { w.Magnets.Coefficient = -1 }),
		"magnets.node":                      with(func(w *W, _ *H) { w.Magnets = thermal.Magnets{Coefficient: .001, Node: -1} }),
		"network.boundaries[0].temperature": with(func(w *W, _ *H) { w.Network.Boundaries[0].Temperature = -240 }),
		"network.capacities[0]":             with(func(w *W, _ *H) { w.Network.Capacities[0] = math.NaN() }),
		"heat.copper":                       with(func(_ *W, h *H) { h.Copper = step(-1) }),
		"heat.at":                           with(func(_ *W, h *H) { h.At = math.NaN() }),
		"heat.other":                        with(func(_ *W, h *H) { h.Other = []profile.Curve{step(1)} }),
		"heat.other[1]":                     with(func(_ *W, h *H) { h.Other = []profile.Curve{{}, step(-1)} }),
		"start":                             second(good.Run(ctx, nil, heat)),
		"start[0]":                          second(good.Run(ctx, []float64{-250, 20}, heat)),
		"constant.km":                       second(good.ContinuousTorque(thermal.MotorConstant{At: 20}, nil)),
		"other[0]":                          second(good.ContinuousTorque(km, []float64{-1, 0})),
		"torque":                            third(good.OverloadTime(ctx, km, math.NaN(), nil, []float64{20, 20})),
		"windingCapacity":                   bad(func(m *thermal.TwoNodeMotor) { m.WindingCapacity = 0 }),
		"frameCapacity":                     bad(func(m *thermal.TwoNodeMotor) { m.FrameCapacity = -1 }),
		"inner":                             bad(func(m *thermal.TwoNodeMotor) { m.Inner = math.NaN() }),
		"mounting":                          bad(func(m *thermal.TwoNodeMotor) { m.Mounting = inf }),
		"magnetLoss":                        bad(func(m *thermal.TwoNodeMotor) { m.MagnetLoss = -1 }),
	} {
		if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
	dip, err := profile.NewCurve([]float64{0, 1, 2}, [][]float64{{1000}, {-1e-3}})
	if err != nil {
		t.Fatal(err)
	}
	if err := with(func(_ *W, h *H) { h.Copper = dip }); err == nil {
		t.Error("a loss of less than nothing for a time was accepted")
	}
	if err := with(func(_ *W, h *H) { h.Copper = profile.Curve{} }); err == nil {
		t.Error("no cycle was accepted")
	}
	if err := with(func(w *W, _ *H) { w.Network.Capacities[0] = 0 }); err == nil {
		t.Error("a winding without heat capacity was accepted")
	}
	hot := good
	hot.Max = 39
	if _, err := hot.ContinuousTorque(km, nil); err == nil {
		t.Error("an ambient above Max was accepted")
	}
	stop, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := good.Settled(stop, heat); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

func FuzzWindingNetwork(f *testing.F) {
	f.Add(220., 1900., .55, .8, 40., 100., 2., .001)
	f.Add(1e-3, 1e6, 1e-3, 80., 40., 1e5, 200., 0.)
	f.Fuzz(func(t *testing.T, cw, cf, inner, mounting, ambient, power, cycle, loss float64) {
		m := thermal.TwoNodeMotor{WindingCapacity: cw, FrameCapacity: cf, Inner: inner, Mounting: mounting, Max: 130, MagnetLoss: loss, MagnetsAtKm: 20}
		w, err := m.In(ambient)
		if err != nil {
			return
		}
		copper, err := profile.NewCurve([]float64{0, cycle / 3, cycle}, [][]float64{{power}, {0}})
		if err != nil {
			return
		}
		ctx := context.Background()
		var runaway *thermal.NetworkRunawayError
		c, err := w.Settled(ctx, thermal.WindingHeat{Copper: copper, At: 20})
		if err != nil && !errors.As(err, &runaway) && len(profile.InputErrors(err)) == 0 {
			t.Fatalf("unknown kind: %v", err)
		}
		if err == nil {
			for _, v := range []float64{c.Hottest.V, c.Margin, c.CopperLoss, c.Balance.Residual, c.Temperatures[1].Max().V} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%+v", c)
				}
			}
		}
		km := thermal.MotorConstant{Km: 1, At: 20}
		if v, err := w.ContinuousTorque(km, nil); err == nil && !(v >= 0 && v <= math.MaxFloat64) {
			t.Fatalf("torque %g", v)
		}
		if v, _, err := w.OverloadTime(ctx, km, power, nil, []float64{ambient, ambient}); err == nil && !(v >= 0 && v <= math.MaxFloat64) {
			t.Fatalf("time %g", v)
		}
	})
}

func benchmarkWinding(b *testing.B, loss float64) {
	m := invented
	m.MagnetLoss, m.MagnetsAtKm = loss, 20
	w, _ := m.In(40)
	copper, _ := profile.NewCurve([]float64{0, .12, .6, .72, 1.4}, [][]float64{{120}, {20}, {90}, {10}})
	drag, _ := profile.Constant(4, 0, 1.4)
	h := thermal.WindingHeat{Copper: copper, At: 20, Other: []profile.Curve{{}, drag}}
	ctx := context.Background()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := w.Settled(ctx, h); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkWindingNetworkSettled(b *testing.B)        { benchmarkWinding(b, 0) }
func BenchmarkWindingNetworkSettledMagnets(b *testing.B) { benchmarkWinding(b, .001) }

// Heat of a higher degree than Taylor series have here, against exact steps.
func TestWindingNetworkHighDegree(t *testing.T) {
	w := ok[thermal.WindingNetwork](t)(invented.In(30))
	const cycle = 60.
	coefs := make([]float64, 23)
	coefs[0], coefs[22] = 20, 400/math.Pow(cycle, 22)
	steep := ok[profile.Curve](t)(profile.NewCurve([]float64{0, cycle}, [][]float64{coefs}))
	none := ok[profile.Curve](t)(profile.Constant(0, 0, cycle))
	c := ok[*thermal.WindingCourse](t)(w.Settled(context.Background(), thermal.WindingHeat{Copper: none, At: 20, Other: []profile.Curve{steep, {}}}))
	want := ok[*thermal.Course](t)(w.Network.Settled(context.Background(), []profile.Curve{steep, {}}))
	for k := range 21 {
		at := cycle * float64(k) / 20
		near(t, "winding", c.Temperatures[0].At(at), want.Temperatures[0].At(at), 1e-11)
	}
	// As copper loss it heats more, by what the warm copper adds.
	h := ok[*thermal.WindingCourse](t)(w.Settled(context.Background(), thermal.WindingHeat{Copper: steep, At: 20}))
	temp := []float64{h.Temperatures[0].At(0), h.Temperatures[1].At(0)}
	simulateWinding(w, thermal.WindingHeat{Copper: steep, At: 20}, temp, 20000)
	near(t, "winding with feedback", h.Temperatures[0].At(cycle), temp[0], 1e-10)
	if !(h.Hottest.V > c.Hottest.V) {
		t.Errorf("hottest %g with feedback, %g without", h.Hottest.V, c.Hottest.V)
	}
}
