package bus_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus"
)

// randomRail returns a rail that may be hard on its cables.
func randomRail(r *rand.Rand) bus.Rail {
	rail := bus.Rail{Supply: bus.RailSupply{Voltage: 24, Efficiency: 0.9}}
	if r.IntN(2) == 0 {
		rail.Feed = ohms(logBetween(r, 0.01, 0.4))
	}
	for k := range 1 + r.IntN(4) {
		hold := logBetween(r, 1, 60)
		c := bus.RailConsumer{Name: fmt.Sprint(k), Count: 1 + r.IntN(3), Kind: bus.DrawKind(r.IntN(3)), Holding: hold}
		if r.IntN(2) == 0 {
			c.PullIn, c.PullInTime = hold*between(r, 1, 3), 0.01*float64(1+r.IntN(20))
		}
		if r.IntN(2) == 0 {
			c.Cable = ohms(logBetween(r, 0.01, 1))
		}
		rail.Consumers = append(rail.Consumers, c)
	}
	return rail
}

// No voltage of the supply between its limits gives a higher current than the two,
// nor a lower voltage at a consumer.
func TestRailCornersAreWorst(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	tested := 0
	for range 400 {
		rail := randomRail(r)
		rail.Supply.Tolerance = 0.15
		for k := range rail.Consumers {
			rail.Consumers[k].Voltage = 24 // so that the draws are the same at every voltage of the supply
		}
		worst := assess(t, rail)
		if worst.NoOperatingPoint {
			continue
		}
		for range 5 {
			inner := rail
			inner.Supply.Voltage, inner.Supply.Tolerance = 24*between(r, 0.85, 1.15), 0
			got := assess(t, inner)
			bad := false
			for k, c := range got.Consumers {
				bad = bad || worst.Consumers[k].NoOperatingPoint
				require.GreaterOrEqual(t, c.Lowest, worst.Consumers[k].Lowest-1e-9)
			}
			require.False(t, got.NoOperatingPoint)
			if !bad {
				tested++
				require.LessOrEqual(t, got.Peak, worst.Peak*(1+1e-12))
				require.LessOrEqual(t, got.PeakInput, worst.PeakInput*(1+1e-12))
			}
		}
	}
	require.Greater(t, tested, 500)
}

// Voltages and current obey Kirchhoff's and the consumers' laws, and no higher
// voltage of the distribution point does: the balance there is scanned.
func TestRailObeysItsLaws(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 2))
	solved, collapsed := 0, 0
	for range 600 {
		rail := randomRail(r)
		for k := range rail.Consumers {
			rail.Consumers[k].PullIn, rail.Consumers[k].PullInTime = 0, 0
			rail.Consumers[k].Holding *= between(r, 1, 20)
		}
		res := assess(t, rail)
		feed := 0.0
		if rail.Feed != nil {
			feed = rail.Feed.Terminals
		}
		// The current into all at u, each by bisection from above of v + R i(v) = u.
		balance := func(u float64) (float64, bool) {
			sum := 0.0
			for _, c := range rail.Consumers {
				wire := 0.0
				if c.Cable != nil {
					wire = c.Cable.Terminals
				}
				current := func(v float64) float64 {
					switch c.Kind {
					case bus.PowerDraw:
						return c.Holding / v
					case bus.CurrentDraw:
						return c.Holding / 24
					}
					return v * c.Holding / 576
				}
				lo, hi := 1e-9, u
				if c.Kind == bus.PowerDraw {
					lo = math.Max(lo, math.Sqrt(wire*c.Holding)) // v + R P/v ascends from here
				}
				if lo+wire*current(lo) > u {
					return 0, false
				}
				for range 60 {
					if mid := (lo + hi) / 2; mid+wire*current(mid) > u {
						hi = mid
					} else {
						lo = mid
					}
				}
				sum += float64(c.Count) * current(lo)
			}
			return sum, true
		}
		alone := false
		for _, c := range res.Consumers {
			alone = alone || c.NoOperatingPoint
		}
		if alone {
			continue
		}
		u := 24 - feed*res.Peak
		if !res.NoOperatingPoint {
			solved++
			sum, ok := balance(u)
			require.True(t, ok)
			near(t, sum, res.Peak, 1e-6*sum, "current")
			near(t, res.Output, res.Peak*24, 1e-9*res.Output, "output")
		} else {
			collapsed++
			u = 0
		}
		for w := 24.0; w > u+0.01; w -= 0.01 {
			if sum, ok := balance(w); ok && feed > 0 {
				require.Greater(t, w+feed*sum, 24.0, "a higher voltage, %g V, where %g V was found", w, u)
			}
		}
	}
	require.Greater(t, solved, 100)
	require.Greater(t, collapsed, 10)
}

// The longest time above a level, against trying every start of the pull-ins in
// steps of 10 ms on a schedule made of such steps.
func TestRailPeakTimeAgainstTrials(t *testing.T) {
	const steps, dt = 40, 0.01
	r := rand.New(rand.NewPCG(3, 3))
	above := 0
	for range 60 {
		rail := bus.Rail{Supply: bus.RailSupply{Voltage: 24, Efficiency: 1}, Period: steps * dt}
		type pulse struct{ from, to, pull, hold, high int } // times in steps, draws in A
		var sched, free []pulse
		for range 1 + r.IntN(3) {
			from := r.IntN(steps)
			p := pulse{from, from + 1 + r.IntN(steps-1), 1 + r.IntN(6), r.IntN(3), 3 + r.IntN(3)}
			sched = append(sched, p)
			rail.Consumers = append(rail.Consumers, bus.RailConsumer{Count: 1, Kind: bus.CurrentDraw, Holding: 24 * float64(p.hold), PullIn: 24 * float64(p.high), PullInTime: dt * float64(p.pull),
				On: []bus.RailSpan{{From: dt * float64(p.from), To: dt * float64(p.to)}}})
		}
		for range r.IntN(3) {
			p := pulse{0, 0, 1 + r.IntN(15), r.IntN(3), 3 + r.IntN(3)}
			free = append(free, p)
			rail.Consumers = append(rail.Consumers, bus.RailConsumer{Count: 1, Kind: bus.CurrentDraw, Holding: 24 * float64(p.hold), PullIn: 24 * float64(p.high), PullInTime: dt * float64(p.pull)})
		}
		at := func(k, start int, pulling bool) (sum int) {
			for _, p := range sched {
				if since := ((k-p.from)%steps + steps) % steps; since < p.to-p.from {
					if since < p.pull && pulling {
						sum += p.high
					} else {
						sum += p.hold
					}
				}
			}
			for _, p := range free {
				if k >= start && k < start+p.pull && pulling {
					sum += p.high
				} else {
					sum += p.hold
				}
			}
			return sum
		}
		sustained, peak := 0, 0
		for k := range steps {
			sustained, peak = max(sustained, at(k, k, false)), max(peak, at(k, k, true))
		}
		rated := sustained + 1
		longest := func(level int) (best int) {
			for start := range steps {
				run := 0
				for k := start - 2*steps; k < start+2*steps; k++ {
					if run++; at(k, start, true) <= level {
						run = 0
					}
					best = max(best, run)
				}
			}
			return best
		}
		rail.Supply.RatedCurrent = float64(max(rated, 1))
		res := assess(t, rail)
		near(t, float64(sustained), res.Sustained, 1e-9, "sustained")
		near(t, float64(peak), res.Peak, 1e-9, "peak")
		if w := longest(sustained); w < steps {
			above++
			near(t, dt*float64(w), res.PeakTime, 1e-9, "peak time")
			near(t, dt*float64(longest(rated)), res.OverTime, 1e-9, "time above rated")
		}
	}
	require.Greater(t, above, 40)
}

func BenchmarkRailAssess(b *testing.B) {
	rail := goodRail()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := rail.Assess(); err != nil {
			b.Fatal(err)
		}
	}
}

// The rail of a seedling transplanter: brakes with economiser, valves and logic,
// behind one feed. All figures are invented.
func ExampleRail_Assess() {
	wire, err := bus.StandardWire(1.5e-6, bus.Flexible)
	check(err)
	thin, err := bus.StandardWire(0.5e-6, bus.Flexible)
	check(err)
	feed := bus.Cable{Wire: wire, Parallel: 2, Length: 6, Temperature: 50}
	toBrake := bus.Cable{Wire: thin, Parallel: 1, Length: 9, Temperature: 50}
	rail := bus.Rail{
		Supply: bus.RailSupply{Voltage: 24, Tolerance: 0.03, RatedCurrent: 10, BoostCurrent: 15, BoostTime: 0.5, Efficiency: 0.91, HoldUpTime: 0.02},
		Feed:   &feed,
		Consumers: []bus.RailConsumer{
			{Name: "controller", Count: 1, Holding: 35, MinVoltage: 19.2, MaxVoltage: 28.8},
			{Name: "drive logic", Count: 6, Holding: 9, PullIn: 14, PullInTime: 0.08, MinVoltage: 20, MaxVoltage: 28},
			{Name: "holding brake", Count: 3, Kind: bus.OhmicDraw, PullIn: 40, PullInTime: 0.15, Holding: 10, MinVoltage: 21.6, MaxVoltage: 26.4, Duty: 0.8, Switchings: 0.2, Cable: &toBrake},
			{Name: "gripper valve", Count: 12, Kind: bus.OhmicDraw, Holding: 2.5, MinVoltage: 20.4, Duty: 0.4},
		},
	}
	r, err := rail.Assess()
	check(err)
	fmt.Printf("mean %.1f A, sustained %.1f A, peak %.1f A for %.0f ms (%v)\n", r.Mean, r.Sustained, r.Peak, 1000*r.PeakTime, r.PullingIn)
	for _, c := range r.Consumers {
		fmt.Printf("%-14s %.2f V, short of its minimum by %.2f V\n", c.Name, c.Lowest, c.Shortfall)
	}
	h, err := rail.HoldUp()
	check(err)
	fmt.Printf("the supply holds for %.0f ms, then %s fails at %.1f V\n", 1000*h.Supply, h.Limiting, h.Lowest)
	// Output:
	// mean 5.4 A, sustained 6.3 A, peak 10.9 A for 150 ms ([drive logic holding brake])
	// controller     22.31 V, short of its minimum by 0.00 V
	// drive logic    22.31 V, short of its minimum by 0.00 V
	// holding brake  21.15 V, short of its minimum by 0.45 V
	// gripper valve  22.31 V, short of its minimum by 0.00 V
	// the supply holds for 31 ms, then holding brake fails at 22.5 V
}

// A converter on the bus feeds the rail: what is in the bank between the voltage of
// the bus and the lowest that the converter takes carries it through a dip, while
// the axes stop and draw nothing on average. All figures are invented.
func ExampleBank_RideThrough() {
	bank := bus.Bank{Capacitance: 0.02, RatedVoltage: 100, ToleranceLow: 0.2}
	const rail = 95 // power into the converter [W]
	t, err := bank.Low().RideThrough(72, 38, rail)
	check(err)
	fmt.Printf("%.0f ms\n", 1000*t)
	// Output:
	// 315 ms
}
