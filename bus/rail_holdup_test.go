package bus_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"

	"example.com/headroom/bus"
)

// mixed is a rail of 24 V with P [W], I [A] and R [ohm] without cables, all of which
// work down to lowest [V].
func mixed(c, p, i, r, lowest float64) bus.Rail {
	rail := bus.Rail{Supply: bus.RailSupply{Voltage: 24, Efficiency: 0.9}, Capacitance: c}
	add := func(name string, kind bus.DrawKind, watts float64) {
		rail.Consumers = append(rail.Consumers, bus.RailConsumer{Name: name, Count: 1, Kind: kind, Holding: watts, MinVoltage: lowest})
	}
	add("logic", bus.PowerDraw, p)
	add("loop", bus.CurrentDraw, 24*i)
	if r > 0 {
		add("coil", bus.OhmicDraw, 24*24/r)
	}
	return rail
}

// Each kind alone has its textbook time: C (V0² - V1²)/2P, C (V0 - V1)/I, R C
// ln(V0/V1). All three have it by partial fractions: with G v² + I v + P = G (v + a)(v
// + b), ∫ v dv/(...) = (a ln(v+a) - b ln(v+b))/(G (a - b)), and for complex roots by
// arctan.
func TestHoldUpClosedForms(t *testing.T) {
	for _, tc := range []struct {
		name       string
		p, i, r, v float64
		want       float64
	}{
		{"power", 48, 0, 0, 19, 0.02 * (24*24 - 19*19) / 96},
		{"current", 0, 2, 0, 19, 0.02 * 5 / 2},
		{"resistance", 0, 0, 12, 19, 0.02 * 12 * math.Log(24.0/19)},
		{"far down", 0, 0, 12, 24e-6, 0.02 * 12 * math.Log(1e6)},
		// v²/12 + 2 v + 9 = (v + 6)(v + 18)/12: a = 18, b = 6.
		{"mixed", 9, 2, 12, 10, 0.02 * (18*math.Log(42.0/28) - 6*math.Log(30.0/16)) / (12.0 / 12)},
		// v²/12 + v + 6 = ((v + 6)² + 36)/12: 12·(½ ln - arctan).
		{"mixed, complex roots", 6, 1, 12, 10, 0.02 * 12 *
			(0.5*math.Log((30.0*30+36)/(16.0*16+36)) - (math.Atan(30.0/6) - math.Atan(16.0/6)))},
	} {
		r := mixed(0.02, tc.p, tc.i, tc.r, tc.v)
		h, err := r.HoldUp()
		require.NoError(t, err)
		near(t, tc.want, h.Time, 1e-12*tc.want, tc.name)
		near(t, h.Time, h.Rail, 0, tc.name)
		near(t, tc.v, h.Lowest, 1e-12, tc.name)
		c, err := r.CapacitanceFor(tc.want)
		require.NoError(t, err)
		near(t, 0.02, c, 1e-13, tc.name+": capacitance for it")
	}
}

// The same with cables and a common feed against the differential equation, whose
// right-hand side is found here by bisection from the balance of currents.
func TestHoldUpAgainstEquation(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for range 12 {
		feed, ra, rb, rc := between(rng, 0.02, 0.3), between(rng, 0.1, 1), between(rng, 0.1, 1), between(rng, 0.1, 2)
		p, i, g := between(rng, 5, 40), between(rng, 0, 1), between(rng, 0, 0.1)
		lowest := between(rng, 15, 19)
		r := bus.Rail{Supply: bus.RailSupply{Voltage: 24, Efficiency: 0.9}, Capacitance: 0.05, Feed: ohms(feed), Consumers: []bus.RailConsumer{
			{Name: "a", Count: 1, Holding: p, Cable: ohms(ra), MinVoltage: lowest},
			{Name: "b", Count: 2, Kind: bus.CurrentDraw, Holding: i * 24, Cable: ohms(rb), MinVoltage: lowest - 3},
			{Name: "c", Count: 1, Kind: bus.OhmicDraw, Holding: g * 24 * 24, Cable: ohms(rc), MinVoltage: 5},
		}}
		// Current out of the capacitor at v, and the voltages at a and b.
		state := func(v float64) (sum, va, vb float64) {
			lo, hi := 0.0, 0.0
			draw := func(u float64) float64 {
				va = (u + math.Sqrt(u*u-4*ra*p)) / 2
				return p/va + 2*i + u*g/(1+rc*g)
			}
			lo, hi = 2*math.Sqrt(ra*p)+1, v // u + feed·draw is ascending there
			for range 60 {
				mid := (lo + hi) / 2
				if mid+feed*draw(mid) > v {
					hi = mid
				} else {
					lo = mid
				}
			}
			sum = draw(lo)
			return sum, va, lo - rb*i
		}
		h, err := r.HoldUp()
		require.NoError(t, err)
		_, va, vb := state(h.Lowest)
		require.True(t, math.Abs(va-lowest) < 1e-9 && h.Limiting == "a" || math.Abs(vb-lowest+3) < 1e-9 && h.Limiting == "b", "%g %g %g %s", va, vb, lowest, h.Limiting)
		want := quad.Fixed(func(v float64) float64 { sum, _, _ := state(v); return 0.05 / sum }, h.Lowest, 24, 40, nil, 0)
		near(t, want, h.Time, 1e-9*want, "time")
		sum, _, _ := state(24)
		near(t, 24*sum, h.Power, 1e-9*h.Power, "power")
	}
}

// A common feed collapses before anybody is at his minimum: 72 W behind 1 ohm end at 2 √72 V.
func TestHoldUpCollapse(t *testing.T) {
	r := bus.Rail{Supply: bus.RailSupply{Voltage: 24, Efficiency: 1}, Capacitance: 0.1, Feed: ohms(1), Consumers: []bus.RailConsumer{{Name: "logic", Count: 1, Holding: 72, MinVoltage: 2}}}
	h, err := r.HoldUp()
	require.NoError(t, err)
	near(t, 2*math.Sqrt(72), h.Lowest, 1e-9, "lowest")
	require.Empty(t, h.Limiting)
	// By hand, as of a bank with that series resistance.
	u0 := 12 + math.Sqrt(144-72)
	near(t, 0.1*((u0*u0-72)/144-math.Log(u0/math.Sqrt(72))), h.Time, 1e-9, "time")
	b := bus.Bank{Capacitance: 0.1, SeriesResistance: 1, RatedVoltage: 35}
	ride, err := b.RideThrough(24, 2, 72)
	require.NoError(t, err)
	near(t, ride, h.Time, 1e-9, "as of the bank")
	// The same edge in its own cable.
	r.Feed, r.Consumers[0].Cable = nil, ohms(1)
	own, err := r.HoldUp()
	require.NoError(t, err)
	near(t, 2*math.Sqrt(72), own.Lowest, 1e-9, "lowest, own cable")
	require.Equal(t, "logic", own.Limiting)
	// By hand, i = (u - √(u² - 288))/2, whose inverse is (u + √(u² - 288))/144.
	w := math.Sqrt(24*24 - 288)
	integral := (24*24-288)/2.0 + (24*w-288*math.Log((24+w)/math.Sqrt(288)))/2
	near(t, 0.1*integral/144, own.Time, 1e-9, "time, own cable")
	// Half of it common: for a single consumer it is all one.
	r.Feed, r.Consumers[0].Cable = ohms(0.5), ohms(0.5)
	both, err := r.HoldUp()
	require.NoError(t, err)
	near(t, 2*math.Sqrt(72), both.Lowest, 1e-9, "lowest, half common")
	near(t, own.Time, both.Time, 1e-8, "time, half common")
	// A constant current of 2 A behind 1 ohm needs 19 + 2 V.
	loop := mixed(0.1, 0, 2, 0, 19)
	loop.Consumers[1].Cable = ohms(1)
	h, err = loop.HoldUp()
	require.NoError(t, err)
	near(t, 21, h.Lowest, 1e-12, "lowest, constant current")
	require.Equal(t, "loop", h.Limiting)
	near(t, 0.1*3/2, h.Time, 1e-12, "time, constant current")
	// No room at all.
	r.Feed = ohms(1)
	r.Consumers[0].Holding = 100
	h, err = r.HoldUp()
	require.NoError(t, err)
	require.Zero(t, h.Time)
	_, err = r.CapacitanceFor(0.02)
	require.Equal(t, []string{"supply.voltage"}, paths(err))
	r.Feed, r.Consumers[0].Cable, r.Consumers[0].MinVoltage = nil, nil, 24.5
	h, err = r.HoldUp()
	require.NoError(t, err)
	require.Zero(t, h.Time)
	require.Equal(t, "logic", h.Limiting)
	near(t, 24.5, h.Lowest, 1e-12, "what it would need")
}

// By hand: 72 W at 24 V. 100 µF from 325 to 225 V hold 2.75 J, of which 0.9 come out,
// 34.375 ms; rated for 5 A and 20 ms it is 120 W·20 ms, 33.333 ms.
func TestHoldUpSupply(t *testing.T) {
	r := mixed(0.01, 72, 0, 0, 20)
	r.Supply.Store = &bus.SupplyStore{Capacitance: 100e-6, From: 325, To: 225}
	h, err := r.HoldUp()
	require.NoError(t, err)
	near(t, 0.034375, h.Supply, 1e-12, "store")
	near(t, 0.01*(24*24-400)/144, h.Rail, 1e-12, "rail")
	near(t, h.Supply+h.Rail, h.Time, 1e-15, "both")
	near(t, 72, h.Power, 1e-12, "power")
	c, err := r.StoreFor(0.034375, 325, 225)
	require.NoError(t, err)
	near(t, 100e-6, c, 1e-15, "store for it")
	c, err = r.CapacitanceFor(h.Time)
	require.NoError(t, err)
	near(t, 0.01, c, 1e-12, "beside the store")
	c, err = r.CapacitanceFor(0.03)
	require.NoError(t, err)
	require.Zero(t, c)
	r.Supply.Store, r.Supply.RatedCurrent, r.Supply.HoldUpTime = nil, 5, 0.02
	h, err = r.HoldUp()
	require.NoError(t, err)
	near(t, 0.02*120/72, h.Supply, 1e-12, "by hold-up time")

	// The rail begins at the lowest voltage of the supply, a coil draws most at the highest.
	r = mixed(0.01, 0, 0, 12, 20)
	r.Supply.Tolerance = 0.1
	h, err = r.HoldUp()
	require.NoError(t, err)
	near(t, 0.12*math.Log(21.6/20), h.Rail, 1e-12, "from the lowest")
	near(t, 26.4*26.4/12, h.Power, 1e-12, "at the highest")
}

// By hand: 10 mF from 60 to 40 V hold 10 J, at 50 W for 0.2 s; with 0.1 ohm it starts
// at 59.9165 V.
func TestRideThrough(t *testing.T) {
	b := bus.Bank{Capacitance: 0.01, RatedVoltage: 100}
	s, err := b.RideThrough(60, 40, 50)
	require.NoError(t, err)
	near(t, 0.2, s, 1e-15, "time")
	for _, p := range []float64{0, -200} {
		s, err = b.RideThrough(60, 40, p)
		require.NoError(t, err)
		require.True(t, math.IsInf(s, 1))
	}
	b.SeriesResistance = 0.1
	s, err = b.RideThrough(60, 40, 50)
	require.NoError(t, err)
	// The bank itself falls from 60 to 40 + 0.1·50/40 V.
	want := quad.Fixed(func(vc float64) float64 {
		return 0.01 * (vc + math.Sqrt(vc*vc-4*0.1*50)) / 2 / 50
	}, 40.125, 60, 40, nil, 0)
	near(t, want, s, 1e-12, "with series resistance")
	b.SeriesResistance = 20
	for _, p := range []float64{44, 46} { // 40 V and 44 W, then beyond 60²/4R = 45 W
		s, err = b.RideThrough(60, 40, p)
		require.NoError(t, err)
		require.Zero(t, s)
	}
	for path, x := range map[string][3]float64{"from": {nan, 40, 1}, "to": {60, 60, 1}, "power": {60, 40, nan}} {
		_, err = b.RideThrough(x[0], x[1], x[2])
		require.Equal(t, []string{path}, paths(err))
	}
	_, err = bus.Bank{}.RideThrough(60, 40, 1)
	require.Equal(t, []string{"bank.capacitance", "bank.ratedVoltage"}, paths(err))
	_, err = bus.Bank{Capacitance: 1e300, RatedVoltage: 1}.RideThrough(1e300, 1, 1)
	require.Equal(t, []string{"power"}, paths(err))
}

func TestHoldUpBadInput(t *testing.T) {
	r := mixed(0.01, 72, 0, 0, 20)
	for _, v := range []float64{nan, inf, -1} {
		_, err := r.CapacitanceFor(v)
		require.Equal(t, []string{"dip"}, paths(err))
		_, err = r.StoreFor(v, 300, 200)
		require.Equal(t, []string{"dip"}, paths(err))
		_, err = r.StoreFor(0.02, v, 200)
		require.Equal(t, []string{"from"}, paths(err))
		_, err = r.StoreFor(0.02, 300, v)
		require.Equal(t, []string{"to"}, paths(err))
	}
	_, err := r.StoreFor(0.02, 300, 300)
	require.Equal(t, []string{"to"}, paths(err))
	_, err = mixed(0.01, 72, 0, 0, 0).HoldUp()
	require.ErrorContains(t, err, "minimum voltage")
	_, err = mixed(0.01, 0, 0, 0, 20).HoldUp()
	require.ErrorContains(t, err, "some draw")
	_, err = bus.Rail{}.HoldUp()
	require.Error(t, err)
	_, err = r.CapacitanceFor(1e308)
	require.NoError(t, err)
}
