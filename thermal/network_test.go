package thermal_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// randomNetwork is connected and has one to three boundaries; a node in five
// stores no heat, but never the first.
func randomNetwork(r *rand.Rand, nodes int) thermal.Network {
	n := thermal.Network{Capacities: make([]float64, nodes)}
	for i := range nodes {
		n.Capacities[i] = 50 + 400*r.Float64()
		if i > 0 && r.IntN(5) == 0 {
			n.Capacities[i] = 0
		}
		if i > 0 {
			n.Links = append(n.Links, thermal.Link{A: i, B: r.IntN(i), Conductance: .5 + 5*r.Float64()})
		}
		if r.IntN(2) == 0 && i > 0 {
			n.Links = append(n.Links, thermal.Link{A: r.IntN(i), B: i, Conductance: 3 * r.Float64()})
		}
	}
	for range 1 + r.IntN(3) {
		n.Boundaries = append(n.Boundaries, thermal.Boundary{Node: r.IntN(nodes), Conductance: .5 + 5*r.Float64(), Temperature: 15 + 30*r.Float64()})
	}
	return n
}

// randomHeat gives each node heat, linear or quadratic in time on each of some
// pieces of its own, or none.
func randomHeat(r *rand.Rand, t *testing.T, nodes int, cycle float64, degree int) []profile.Curve {
	t.Helper()
	heat := make([]profile.Curve, nodes)
	for i := range heat {
		if i > 0 && r.IntN(3) == 0 {
			continue
		}
		breaks, coefs := []float64{0}, [][]float64{}
		for k := range 1 + r.IntN(4) {
			_ = k
			breaks = append(breaks, breaks[len(breaks)-1]+.1+r.Float64())
			c := []float64{45 + 100*r.Float64()}
			for d := range degree {
				c = append(c, 40*(r.Float64()-.5)/math.Pow(cycle, float64(d+1)))
			}
			coefs = append(coefs, c)
		}
		for k := range breaks {
			breaks[k] *= cycle / breaks[len(breaks)-1]
		}
		breaks[len(breaks)-1] = cycle
		heat[i] = ok[profile.Curve](t)(profile.NewCurve(breaks, coefs))
	}
	return heat
}

// balance returns dT/dt of the storing nodes and sets the others, from the
// network as it is written down.
type balance struct {
	n    thermal.Network
	rest []int
	k    *mat.Dense // conductances among the nodes without capacity
}

func newBalance(n thermal.Network) *balance {
	b := &balance{n: n}
	for i, c := range n.Capacities {
		if c == 0 {
			b.rest = append(b.rest, i)
		}
	}
	return b
}

func (b *balance) flow(temp, heat, into []float64) {
	copy(into, heat)
	for _, l := range b.n.Links {
		p := l.Conductance * (temp[l.A] - temp[l.B])
		into[l.A] -= p
		into[l.B] += p
	}
	for _, x := range b.n.Boundaries {
		into[x.Node] -= x.Conductance * (temp[x.Node] - x.Temperature)
	}
}

// slope solves for the nodes without capacity, then divides by capacities.
func (b *balance) slope(temp, heat, into []float64) {
	if len(b.rest) > 0 {
		m := len(b.rest)
		for _, i := range b.rest {
			temp[i] = 0
		}
		b.flow(temp, heat, into)
		rhs := mat.NewVecDense(m, nil)
		for k, i := range b.rest {
			rhs.SetVec(k, into[i])
		}
		if b.k == nil {
			b.k = mat.NewDense(m, m, nil)
			base := append([]float64(nil), into...)
			for c, j := range b.rest {
				temp[j] = 1
				b.flow(temp, heat, into)
				temp[j] = 0
				for r, i := range b.rest {
					b.k.Set(r, c, base[i]-into[i])
				}
			}
		}
		var x mat.VecDense
		if err := x.SolveVec(b.k, rhs); err != nil {
			panic(err)
		}
		for k, i := range b.rest {
			temp[i] = x.AtVec(k)
		}
	}
	b.flow(temp, heat, into)
	for i, c := range b.n.Capacities {
		if c > 0 {
			into[i] /= c
		} else {
			into[i] = 0
		}
	}
}

// simulate runs the classical Runge-Kutta method with n steps between all
// breaks and returns the highest temperature at its steps besides.
func (b *balance) simulate(temp []float64, heat []profile.Curve, n int) (highest []float64) {
	size := len(temp)
	highest = append([]float64(nil), temp...)
	breaks := map[float64]bool{}
	var end float64
	for _, c := range heat {
		for k := range c.Pieces() {
			t0, t1, _ := c.Piece(k)
			breaks[t0], breaks[t1] = true, true
			end = t1
		}
	}
	var k [4][]float64
	for i := range k {
		k[i] = make([]float64, size)
	}
	p, y := make([]float64, size), make([]float64, size)
	for t := 0.0; t < end; {
		next := end
		for x := range breaks {
			if x > t && x < next {
				next = x
			}
		}
		// Close to a break each curve is read from the inside of its piece.
		at := func(x float64) {
			x = math.Min(math.Max(x, t), math.Nextafter(next, 0))
			for i, c := range heat {
				p[i] = c.At(x)
			}
		}
		h := (next - t) / float64(n)
		for s := range n {
			x := t + h*float64(s)
			at(x)
			b.slope(temp, p, k[0])
			at(x + h/2)
			for i := range y {
				y[i] = temp[i] + h/2*k[0][i]
			}
			b.slope(y, p, k[1])
			for i := range y {
				y[i] = temp[i] + h/2*k[1][i]
			}
			b.slope(y, p, k[2])
			at(x + h)
			for i := range y {
				y[i] = temp[i] + h*k[2][i]
			}
			b.slope(y, p, k[3])
			for i := range temp {
				temp[i] += h / 6 * (k[0][i] + 2*k[1][i] + 2*k[2][i] + k[3][i])
			}
			b.slope(temp, p, k[0]) // sets the nodes without capacity
			for i := range temp {
				highest[i] = math.Max(highest[i], temp[i])
			}
		}
		t = next
	}
	return highest
}

// within fails unless got is within tol of want, absolutely.
func within(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.12g, want %.12g ± %g", what, got, want, tol)
	}
}

// The settled cycle is where a simulation of many cycles ends, for random
// networks and duties; heat in is heat out.
func TestNetworkSettledAgainstSimulation(t *testing.T) {
	r := rand.New(rand.NewPCG(61, 1))
	for trial := range 12 {
		nodes := 1 + r.IntN(6)
		n := randomNetwork(r, nodes)
		slowest := ok[[]float64](t)(n.TimeConstants())[0]
		cycle := slowest * (.3 + r.Float64())
		heat := randomHeat(r, t, nodes, cycle, 2)
		c := ok[*thermal.Course](t)(n.Settled(context.Background(), heat))

		b := newBalance(n)
		temp := make([]float64, nodes)
		for range int(25*slowest/cycle) + 1 { // e^-25 = 1e-11
			b.simulate(temp, heat, 100)
		}
		highest := b.simulate(temp, heat, 300)
		for i, x := range c.Temperatures {
			if n.Capacities[i] == 0 {
				continue
			}
			what := fmt.Sprintf("network %d node %d", trial, i)
			near(t, what, x.At(0), temp[i], 1e-8)
			near(t, what+" end", x.At(cycle), temp[i], 1e-8)
			if hi := x.Max().V; !(hi >= highest[i]*(1-1e-8) && hi <= highest[i]*1.0002) {
				t.Errorf("%s highest %g, simulated %g at its steps", what, hi, highest[i])
			}
		}
		through := math.Abs(c.Balance.In) + math.Abs(c.Balance.Out)
		within(t, "heat balance", c.Balance.Residual, 0, 1e-11*through)
		within(t, "stored", c.Balance.Stored, 0, 1e-11*through)
	}
}

// Steps by the exponential of the whole matrix, by a general-purpose routine,
// with constant heat on each piece: the same course.
func TestNetworkRunAgainstMatrixExponential(t *testing.T) {
	r := rand.New(rand.NewPCG(62, 1))
	for trial := range 40 {
		nodes := 1 + r.IntN(8)
		n := randomNetwork(r, nodes)
		for i := range n.Capacities {
			n.Capacities[i] += 10 // all store
		}
		const cycle = 300.
		heat := randomHeat(r, t, nodes, cycle, 0)
		start := make([]float64, nodes)
		for i := range start {
			start[i] = 20 + 60*r.Float64()
		}
		c := ok[*thermal.Course](t)(n.Run(context.Background(), start, heat))

		b := newBalance(n)
		x := mat.NewVecDense(nodes+1, append(append([]float64(nil), start...), 1))
		sum := ok[profile.Curve](t)(profile.Sum(given(heat)...))
		for k := range sum.Pieces() {
			t0, t1, _ := sum.Piece(k)
			p := make([]float64, nodes)
			for i := range p {
				p[i] = heat[i].At((t0 + t1) / 2)
			}
			m := mat.NewDense(nodes+1, nodes+1, nil)
			base, col := make([]float64, nodes), make([]float64, nodes)
			unit := make([]float64, nodes)
			b.slope(unit, p, base)
			for j := range nodes {
				m.Set(j, nodes, base[j]*(t1-t0))
			}
			for j := range nodes {
				unit[j] = 1
				b.slope(unit, p, col)
				unit[j] = 0
				for i := range nodes {
					m.Set(i, j, (col[i]-base[i])*(t1-t0))
				}
			}
			var e mat.Dense
			e.Exp(m)
			var y mat.VecDense
			y.MulVec(&e, x)
			x.CopyVec(&y)
			for i := range nodes {
				near(t, fmt.Sprintf("network %d node %d at %g", trial, i, t1), c.Temperatures[i].At(t1), x.AtVec(i), 1e-11)
			}
		}
		within(t, "heat balance", c.Balance.Residual, 0, 1e-11*(math.Abs(c.Balance.In)+math.Abs(c.Balance.Out)+math.Abs(c.Balance.Stored)))
	}
}

// given drops the empty curves.
func given(c []profile.Curve) (out []profile.Curve) {
	for _, x := range c {
		if x.Pieces() > 0 {
			out = append(out, x)
		}
	}
	return out
}

// One node is FirstOrder and SettleCycle.
func TestNetworkOneNode(t *testing.T) {
	n := thermal.Network{Capacities: []float64{400}, Boundaries: []thermal.Boundary{{Conductance: 2, Temperature: 25}}}
	heat := []profile.Curve{blocks(t, [2]float64{100, 70}, [2]float64{0, 30}, [2]float64{40, 150})}
	var phases []thermal.Phase
	for _, x := range [][2]float64{{100, 70}, {0, 30}, {40, 150}} {
		phases = append(phases, thermal.Phase{Duration: x[1], Response: thermal.FirstOrder{TimeConstant: 200, Rise: x[0] / 2}})
	}
	want := ok[thermal.Swing](t)(thermal.SettleCycle(phases))
	c := ok[*thermal.Course](t)(n.Settled(context.Background(), heat))
	lo, hi := c.Temperatures[0].Extrema()
	near(t, "start", c.Temperatures[0].At(0)-25, want.Start, 1e-13)
	near(t, "highest", hi.V-25, want.Highest, 1e-13)
	near(t, "lowest", lo.V-25, want.Lowest, 1e-13)
	near(t, "time constant", 1/c.Rates[0], 200, 1e-14)

	at, reached, err := n.TimeTo(context.Background(), []float64{25}, []profile.Curve{blocks(t, [2]float64{100, 1})}, 0, 60)
	first, _, _ := thermal.FirstOrder{TimeConstant: 200, Rise: 50}.TimeTo(0, 35)
	if err != nil || !reached {
		t.Fatalf("TimeTo: %v, %v", reached, err)
	}
	near(t, "time to 60 °C", at, first, 1e-12)
}

// The mean of a settled cycle is the steady state under the mean heat, whatever
// the time constants: the two share no code but the taking out of nodes. Time
// constants here are up to twelve decades apart.
func TestNetworkMeanIsSteady(t *testing.T) {
	r := rand.New(rand.NewPCG(63, 1))
	for trial := range 400 {
		nodes := 1 + r.IntN(7)
		n := randomNetwork(r, nodes)
		for i := range n.Capacities {
			n.Capacities[i] *= math.Pow(10, 12*r.Float64()-6)
		}
		for i := range n.Links {
			n.Links[i].Conductance *= math.Pow(10, 6*r.Float64()-3)
		}
		if trial%2 == 0 {
			reverse(&n)
		}
		cycle := math.Pow(10, 6*r.Float64()-3)
		heat := randomHeat(r, t, nodes, cycle, 2)
		mean := make([]float64, nodes)
		for i, c := range heat {
			mean[i] = c.Mean()
		}
		want := ok[[]float64](t)(n.Steady(mean))
		c := ok[*thermal.Course](t)(n.Settled(context.Background(), heat))
		for i, x := range c.Temperatures {
			near(t, fmt.Sprintf("network %d node %d", trial, i), x.Mean(), want[i], 1e-9)
			lo, hi := x.Extrema()
			if !(lo.V <= want[i]*(1+1e-9) && hi.V >= want[i]*(1-1e-9)) {
				t.Errorf("network %d node %d: mean %g not between %g and %g", trial, i, want[i], lo.V, hi.V)
			}
		}
		within(t, "heat balance", c.Balance.Residual, 0, 1e-9*(math.Abs(c.Balance.In)+math.Abs(c.Balance.Out)))
	}
}

// reverse numbers the nodes the other way round.
func reverse(n *thermal.Network) {
	last := len(n.Capacities) - 1
	slices.Reverse(n.Capacities)
	for i := range n.Links {
		n.Links[i].A, n.Links[i].B = last-n.Links[i].A, last-n.Links[i].B
	}
	for i := range n.Boundaries {
		n.Boundaries[i].Node = last - n.Boundaries[i].Node
	}
}

// Two nodes whose time constants are far apart, against the roots of their
// quadratic: the greater by its formula, the other from the product, which is a
// sum of positive terms.
func TestNetworkTimeConstantsFarApart(t *testing.T) {
	for _, decades := range []float64{0, 3, 6, 9, 12, 18} {
		c1, c2, ga, gb, g := 1., math.Pow(10, decades), .3, 2., .7
		n := thermal.Network{Capacities: []float64{c1, c2}, Links: []thermal.Link{{A: 0, B: 1, Conductance: g}},
			Boundaries: []thermal.Boundary{{Node: 0, Conductance: ga}, {Node: 1, Conductance: gb}}}
		a, b := (ga+g)/c1, (gb+g)/c2
		fast := (a+b)/2 + math.Hypot((a-b)/2, g/math.Sqrt(c1)/math.Sqrt(c2))
		slow := (ga*gb + g*(ga+gb)) / c1 / c2 / fast
		tau := ok[[]float64](t)(n.TimeConstants())
		near(t, "slow", tau[0], 1/slow, 1e-14)
		near(t, "fast", tau[1], 1/fast, 1e-14)
	}
}

func TestNetworkTimeTo(t *testing.T) {
	ctx := context.Background()
	r := rand.New(rand.NewPCG(64, 1))
	found, never := 0, 0
	for range 60 {
		nodes := 1 + r.IntN(4)
		n := randomNetwork(r, nodes)
		slowest := ok[[]float64](t)(n.TimeConstants())[0]
		cycle := slowest * math.Pow(10, -2.5*r.Float64())
		heat := randomHeat(r, t, nodes, cycle, 1)
		start := make([]float64, nodes)
		for i := range start {
			start[i] = 10 + 80*r.Float64()
		}
		settled := ok[*thermal.Course](t)(n.Settled(context.Background(), heat)).Temperatures[0]
		limit := settled.Min().V + (settled.Max().V-settled.Min().V)*(2.2*r.Float64()-.6)
		at, reached, err := n.TimeTo(ctx, start, heat, 0, limit)
		if err != nil {
			t.Fatal(err)
		}
		cycles := int(30*slowest/cycle) + 1
		long := make([]profile.Curve, nodes)
		for i := range long {
			long[i] = heat[i].Repeat(cycles)
		}
		c := ok[*thermal.Course](t)(n.Run(context.Background(), start, long)).Temperatures[0]
		x := c.Crossings(nil, limit)
		if reached != (len(x) > 0) {
			t.Fatalf("reached %v at %g, crossings of the long run %v", reached, at, x[:min(3, len(x))])
		}
		if !reached {
			never++
			continue
		}
		found++
		within(t, "time", at, x[0], 1e-9*slowest+1e-6*cycle)
	}
	if found < 20 || never < 5 {
		t.Errorf("%d reached, %d never: the cases are not what was meant", found, never)
	}

	// A million short cycles, against the closed form of their mean.
	n := thermal.Network{Capacities: []float64{5000}, Boundaries: []thermal.Boundary{{Conductance: 2, Temperature: 20}}}
	heat := []profile.Curve{blocks(t, [2]float64{200, 1e-3}, [2]float64{0, 1e-3})}
	at, reached, err := n.TimeTo(ctx, []float64{20}, heat, 0, 69)
	want, _, _ := thermal.FirstOrder{TimeConstant: 2500, Rise: 50}.TimeTo(0, 49)
	if err != nil || !reached {
		t.Fatalf("%v %v", reached, err)
	}
	within(t, "time over short cycles", at, want, 1) // the swing of 2e-5 K comes early by up to 2e-5/(4e-4 K/s)
}

// Without a boundary heat stays: two parts, each at the mean of its own heat.
func TestNetworkWithoutBoundary(t *testing.T) {
	n := thermal.Network{Capacities: []float64{10, 30, 5, 5, 0}, Links: []thermal.Link{{A: 0, B: 1, Conductance: 2}, {A: 2, B: 4, Conductance: 1}, {A: 4, B: 3, Conductance: 3}}}
	heat := []profile.Curve{blocks(t, [2]float64{4, 100}, [2]float64{0, 1e4}), {}, {}, {}, {}}
	c := ok[*thermal.Course](t)(n.Run(context.Background(), []float64{20, 20, 0, 100, 0}, heat))
	for i, want := range []float64{30, 30, 50, 50, 50} {
		near(t, fmt.Sprintf("node %d", i), c.Temperatures[i].At(1e5), want, 1e-12)
	}
	within(t, "balance", c.Balance.Residual, 0, 1e-9)
	if _, err := n.Settled(context.Background(), heat); len(profile.InputErrors(err)) != 5 {
		t.Errorf("settled without boundary: %v", err)
	}
	if _, err := n.Steady(make([]float64, 5)); len(profile.InputErrors(err)) != 5 {
		t.Errorf("steady without boundary: %v", err)
	}
}

func TestNetworkBadInput(t *testing.T) {
	good := thermal.Network{Capacities: []float64{1, 0}, Links: []thermal.Link{{A: 0, B: 1, Conductance: 1}}, Boundaries: []thermal.Boundary{{Node: 1, Conductance: 1, Temperature: 20}}}
	heat := []profile.Curve{step(1), {}}
	for _, tc := range []struct {
		path string
		do   func(n *thermal.Network)
	}{
		{"capacities[0]", func(n *thermal.Network) { n.Capacities[0] = -1 }},
		{"capacities[0]", func(n *thermal.Network) { n.Capacities[0] = math.NaN() }},
		{"capacities[0]", func(n *thermal.Network) { n.Capacities[0] = inf }},
		{"capacities", func(n *thermal.Network) { n.Capacities[0] = 0 }},
		{"links[0].conductance", func(n *thermal.Network) { n.Links[0].Conductance = -1 }},
		{"links[0].conductance", func(n *thermal.Network) { n.Links[0].Conductance = 0 }},
		{"links[0].conductance", func(n *thermal.Network) { n.Links[0].Conductance = math.NaN() }},
		{"links[0].a", func(n *thermal.Network) { n.Links[0].A = 7 }},
		{"links[0].b", func(n *thermal.Network) { n.Links[0].B = 0 }},
		{"boundaries[0].node", func(n *thermal.Network) { n.Boundaries[0].Node = -1 }},
		{"boundaries[0].conductance", func(n *thermal.Network) { n.Boundaries[0].Conductance = inf }},
		{"boundaries[0].temperature", func(n *thermal.Network) { n.Boundaries[0].Temperature = -300 }},
	} {
		n := thermal.Network{Capacities: append([]float64(nil), good.Capacities...), Links: append([]thermal.Link(nil), good.Links...), Boundaries: append([]thermal.Boundary(nil), good.Boundaries...)}
		tc.do(&n)
		_, err := n.Settled(context.Background(), heat)
		if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != tc.path {
			t.Errorf("%s: %v", tc.path, err)
		}
	}
	ctx := context.Background()
	for path, err := range map[string]error{
		"heat":     second(good.Settled(ctx, heat[:1])),
		"heat[1]":  second(good.Settled(ctx, []profile.Curve{step(1), blocks(t, [2]float64{1, 3})})),
		"start":    second(good.Run(ctx, []float64{1}, heat)),
		"start[1]": second(good.Run(ctx, []float64{1, -400}, heat)),
		"node":     third(good.TimeTo(ctx, []float64{20, 20}, heat, 2, 50)),
		"limit":    third(good.TimeTo(ctx, []float64{20, 20}, heat, 0, math.NaN())),
	} {
		if f := profile.InputErrors(err); len(f) != 1 || f[0].Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
	if err := second(good.Settled(ctx, []profile.Curve{{}, {}})); err == nil {
		t.Error("no heat at all was accepted")
	}
	if err := second(thermal.Network{}.Settled(ctx, nil)); err == nil {
		t.Error("the empty network was accepted")
	}
}

func third[A, B any](_ A, _ B, err error) error { return err }

func FuzzNetwork(f *testing.F) {
	f.Add(1., 2., 3., 4., 5., 100., 1., 10.)
	f.Add(1e-9, 1e9, 3., 4., 5., 100., 1., 10.)
	f.Add(0., 1e9, 3e-200, 4e200, 5., -100., 1e-3, 1e7)
	f.Fuzz(func(t *testing.T, c0, c1, g, b0, b1, p, t1, t2 float64) {
		curve, err := profile.NewCurve([]float64{0, t1, t1 + t2}, [][]float64{{p, p}, {0}})
		if err != nil {
			return
		}
		n := thermal.Network{Capacities: []float64{c0, c1, 0}, Links: []thermal.Link{{A: 0, B: 1, Conductance: g}, {A: 2, B: 1, Conductance: b1}},
			Boundaries: []thermal.Boundary{{Node: 0, Conductance: b0, Temperature: 20}, {Node: 2, Conductance: b1, Temperature: 30}}}
		heat := []profile.Curve{curve, {}, curve}
		for _, c := range []*thermal.Course{first(n.Settled(context.Background(), heat)), first(n.Run(context.Background(), []float64{20, 30, 40}, heat))} {
			if c == nil {
				continue
			}
			for _, x := range c.Temperatures {
				for _, v := range []float64{x.At(0), x.Max().V, x.Min().V, c.Balance.Residual} {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Fatalf("%v: %v", v, n)
					}
				}
			}
		}
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		if at, _, err := n.TimeTo(ctx, []float64{20, 30, 40}, heat, 0, 50); err == nil && !(at >= 0 && at <= math.MaxFloat64) {
			t.Fatalf("time %g", at)
		}
	})
}

func first[T any](v T, _ error) T { return v }

func BenchmarkNetworkSettledTenNodes(b *testing.B) {
	r := rand.New(rand.NewPCG(65, 1))
	n := randomNetwork(r, 10)
	heat := make([]profile.Curve, 10)
	for i := range 3 {
		heat[i], _ = profile.NewCurve([]float64{0, .12, .6, .72, 1.4}, [][]float64{{40, 10}, {9}, {20, -30, 5}, {0}})
	}
	b.ReportAllocs()
	for b.Loop() {
		c, err := n.Settled(context.Background(), heat)
		if err != nil {
			b.Fatal(err)
		}
		for _, x := range c.Temperatures {
			x.Max()
		}
	}
}

func TestNetworkStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	n := thermal.Network{Capacities: []float64{1}, Boundaries: []thermal.Boundary{{Conductance: 1, Temperature: 20}}}
	heat := []profile.Curve{step(5)}
	for what, err := range map[string]error{
		"settled": second(n.Settled(ctx, heat)),
		"run":     second(n.Run(ctx, []float64{20}, heat)),
		"time":    third(n.TimeTo(ctx, []float64{20}, heat, 0, 21)),
		"hold":    second(supplyRating.Hold(ctx, step(100))),
		"train":   second(thermal.PulseRating{Continuous: 1, Derating: 1, Points: []thermal.PulsePoint{{Duration: 1, Energy: 2}}}.Train(ctx, step(1))),
	} {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v", what, err)
		}
	}
}
