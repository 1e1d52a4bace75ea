package energy_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// bench is a motor on a drive and a bus, with its parameters at hand for the plain
// statement of the model that limits are held against.
type bench struct {
	sheet energy.Sheet
	motor energy.Motor
	drive energy.Drive
	bus   float64
}

func randomBench(t testing.TB, r *rand.Rand) bench {
	t.Helper()
	b := bench{sheet: randomSheet(r, r.IntN(4) == 0), bus: between(r, 20, 800)}
	if r.IntN(4) > 0 {
		b.sheet.InductanceLineToLine *= 3
	}
	kt := b.sheet.TorquePerRMSAmpere + b.sheet.TorquePerDCAmpere
	stall := kt * b.bus / b.sheet.ResistanceLineToLine
	b.motor = energy.Motor{
		Winding:             ok[energy.Winding](t)(b.sheet.Winding()),
		DragTorque:          maybe(r, stall*between(r, 1e-4, 1e-2)),
		DragPerSpeed:        maybe(r, stall*between(r, 1e-7, 1e-5)),
		DragPerSpeedSquared: maybe(r, stall*between(r, 1e-10, 1e-8)),
		PeakTorque:          maybe(r, stall*between(r, 0.05, 1)),
	}
	b.drive = energy.Drive{
		ModulationLimit:   0.8 + 0.2*r.Float64(),
		PeakCurrent:       maybe(r, b.bus/b.sheet.ResistanceLineToLine*between(r, 0.05, 1)),
		ContinuousCurrent: 0,
	}
	b.motor.ContinuousTorque = maybe(r, stall*between(r, 0.01, 0.05))
	if b.drive.PeakCurrent > 0 {
		b.drive.ContinuousCurrent = maybe(r, b.drive.PeakCurrent*r.Float64())
	}
	return b
}

// drag is the magnitude of the motor's drag.
func (b bench) drag(w float64) float64 {
	w = math.Abs(w)
	return b.motor.DragTorque + b.motor.DragPerSpeed*w + b.motor.DragPerSpeedSquared*w*w
}

// allowed reports whether an electromagnetic torque is within voltage, drive and motor at a
// speed other than 0: the winding's voltage as the length of a phasor.
func (b bench) allowed(torque, w float64) bool {
	s := b.sheet
	i := torque / (s.TorquePerRMSAmpere + s.TorquePerDCAmpere)
	var volts, limit float64
	if s.TorquePerDCAmpere > 0 {
		volts, limit = math.Abs(s.ResistanceLineToLine*i+s.TorquePerDCAmpere*w), b.bus*b.drive.ModulationLimit
	} else {
		// RMS of a phase, doubled resistance and inductance line to line.
		x := float64(s.PolePairs) * w * s.InductanceLineToLine / 2
		volts = math.Hypot(s.ResistanceLineToLine/2*i+s.TorquePerRMSAmpere/3*w, x*i)
		limit = b.bus * b.drive.ModulationLimit / math.Sqrt(6)
	}
	shaft := torque - math.Copysign(b.drag(w), w)
	return volts <= limit &&
		(b.drive.PeakCurrent == 0 || math.Abs(i) <= b.drive.PeakCurrent) &&
		(b.motor.PeakTorque == 0 || math.Abs(shaft) <= b.motor.PeakTorque)
}

// TestTorqueLimitAgainstSearch looks for the range of torque by trying: a grid of currents, and
// bisection between the outermost one that works and the next.
func TestTorqueLimitAgainstSearch(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	none, some := 0, 0
	for range 400 {
		b := randomBench(t, r)
		l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(b.motor, b.drive, b.bus))
		free, there := l.SpeedAt(0)
		if !there {
			free = 10
		}
		w := free * (3*r.Float64() - 1.5)
		kt := b.sheet.TorquePerRMSAmpere + b.sheet.TorquePerDCAmpere
		most := 4 * kt * b.bus / b.sheet.ResistanceLineToLine
		const grid = 4000
		at := func(k int) float64 { return most * (2*float64(k)/grid - 1) }
		first, last := -1, -1
		for k := range grid + 1 {
			if b.allowed(at(k), w) {
				if first < 0 {
					first = k
				}
				last = k
			}
		}
		got, okay := l.Peak(w)
		if first < 0 {
			// A range narrower than the grid may have been missed.
			require.True(t, !okay || got.Highest-got.Lowest <= 2*most/grid, "%+v at %g: %+v", b, w, got)
			none++
			continue
		}
		some++
		require.True(t, okay, "%+v at %g", b, w)
		require.Greater(t, first, 0)
		require.Less(t, last, grid)
		edge := func(in, out float64) float64 {
			for range 80 {
				if mid := in/2 + out/2; b.allowed(mid, w) {
					in = mid
				} else {
					out = mid
				}
			}
			return in
		}
		d := math.Copysign(b.drag(w), w)
		require.InDelta(t, edge(at(first), at(first-1))-d, got.Lowest, 1e-8*most, "%+v at %g", b, w)
		require.InDelta(t, edge(at(last), at(last+1))-d, got.Highest, 1e-8*most, "%+v at %g", b, w)
	}
	require.Greater(t, some, 200)
	require.Greater(t, none, 5)
}

// TestSpeeds: at the speed for a torque the motor gives just that torque, and at the corner speed
// just what it gives at standstill by current or torque.
func TestSpeeds(t *testing.T) {
	r := rand.New(rand.NewPCG(23, 24))
	corners := 0
	for range 500 {
		b := randomBench(t, r)
		l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(b.motor, b.drive, b.bus))
		still, there := l.Peak(0)
		if !there || still.Highest <= 0 {
			_, can := l.SpeedAt(0)
			require.Equal(t, there && still.Highest >= 0, can)
			continue
		}
		torque := still.Highest * r.Float64()
		w, can := l.SpeedAt(torque)
		require.True(t, can)
		scale := still.Highest
		slightly, past := w*(1-1e-9), w*(1+1e-6)
		at, there := l.Peak(slightly)
		require.True(t, there, "%+v", b)
		require.GreaterOrEqual(t, at.Highest, torque-1e-7*scale)
		at, there = l.Peak(past)
		require.True(t, !there || at.Highest < torque+1e-9*scale)

		corner := l.CornerSpeed()
		if corner == 0 {
			continue
		}
		corners++
		// Without the voltage, which is enough at any speed for ten times the bus, nothing changes below
		// the corner, and above it there is less.
		more := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(b.motor, b.drive, 10*b.bus))
		for _, f := range []float64{0.3, 0.999999, 1.001} {
			a, _ := l.Peak(f * corner)
			c, _ := more.Peak(f * corner)
			if f < 1 {
				require.InDelta(t, c.Highest, a.Highest, 1e-9*scale)
			} else {
				require.Less(t, a.Highest, c.Highest)
			}
		}
	}
	require.Greater(t, corners, 150)
}

// TestTorqueLimitByHand: the motor of smallSheet on 100√3 V and a drive of 20 A rms, 28.2843 A crest, 10 N·m. Vmax
// is 100 V, 0.6 ohm, Ke = 0.2357023, 4·2 mH = 8 mH.
//
//	corner   (0.6·28.2843 + 0.2357023 w)² + (0.008·28.2843 w)² = 10000
//	         0.1067556 w² + 8 w - 9712 = 0, w = (-8 + √(64 + 4147.24))/0.2135111 = 266.4698
//	no load  100/0.2357023 = 424.2641
//	300 rad/s   (0.6 i + 70.71068)² + (2.4 i)² = 10000: 6.12 i² + 84.85281 i - 5000 = 0, i = (-84.85281 ± 360)/12.24 = 22.4793 or -36.3442
//	         torque i·0.5/√2 = 7.94765, and braking the drive's 10
func TestTorqueLimitByHand(t *testing.T) {
	m := energy.Motor{Winding: ok[energy.Winding](t)(smallSheet().Winding())}
	l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(m, energy.Drive{PeakCurrent: 20, ModulationLimit: 1}, 100*math.Sqrt(3)))
	require.InDelta(t, 266.4698, l.CornerSpeed(), 2e-3)
	free, there := l.SpeedAt(0)
	require.True(t, there)
	require.InDelta(t, 424.2641, free, 1e-4)
	r, there := l.Peak(300)
	require.True(t, there)
	require.InDelta(t, 7.94765, r.Highest, 1e-4)
	require.InDelta(t, -10, r.Lowest, 1e-12)
	back, there := l.Peak(-300)
	require.True(t, there)
	require.Equal(t, energy.TorqueRange{-r.Highest, -r.Lowest}, back)
	r, _ = l.Peak(0)
	require.InDelta(t, 10, r.Highest, 1e-12)
	_, there = l.SpeedAt(10.001)
	require.False(t, there)

	// A drag of 0.5 + 0.001 w counts once, and 7 N·m of peak torque is at the shaft.
	m.DragTorque, m.DragPerSpeed, m.PeakTorque = 0.5, 0.001, 7
	l = ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(m, energy.Drive{PeakCurrent: 20, ModulationLimit: 1}, 100*math.Sqrt(3)))
	r, _ = l.Peak(300)
	require.InDelta(t, 7, r.Highest, 1e-12)
	r, _ = l.Peak(320) // i = 19.2692: (0.6 i + 75.42472)² + (2.56 i)² = 10000
	require.InDelta(t, 19.2692*0.5/math.Sqrt2-0.82, r.Highest, 5e-4)
	require.InDelta(t, -7, r.Lowest, 1e-12)
}

// TestTorqueLimitNearNoLoad: with direct current and the bus a hair above the induced voltage, what is left is free of
// cancellation.
func TestTorqueLimitNearNoLoad(t *testing.T) {
	ke, w := 0.7, 123.4
	e := ke * w
	bus := e + 1e-10
	m := energy.Motor{Winding: ok[energy.Winding](t)(energy.DirectCurrent(ke, energy.LineToLine(1.3), 20))}
	l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(m, energy.Drive{ModulationLimit: 1}, bus))
	r, there := l.Peak(w)
	require.True(t, there)
	requireNear(t, (bus-e)/1.3*ke, r.Highest, 1e-12, "torque")
	require.InDelta(t, -2*e/1.3*ke, r.Lowest, 1e-9)
}

// TestContinuousByHand: 3 N·m may last at standstill, with 0.2 N·m of drag: (3.2/Km)² of heat, Km² = 0.25/1.8. At
// 100 rad/s a drag of 0.2 + 0.003·100 = 0.5 N·m makes 50 W, so (t/Km)² = 73.728 - 50 = 23.728 W, t = 1.815366, 1.315366 at
// the shaft, and 2.315366 when it brakes. At 200 rad/s 160 W of drag are too many.
func TestContinuousByHand(t *testing.T) {
	m := energy.Motor{Winding: ok[energy.Winding](t)(smallSheet().Winding()), DragTorque: 0.2, DragPerSpeed: 0.003, ContinuousTorque: 3}
	d := energy.Drive{ModulationLimit: 1}
	l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(m, d, 400))
	r, there := l.Continuous(100)
	require.True(t, there)
	require.InDelta(t, 1.315366, r.Highest, 1e-6)
	require.InDelta(t, -2.315366, r.Lowest, 1e-6)
	r, _ = l.Continuous(0)
	require.InDelta(t, 3, r.Highest, 1e-12)
	require.InDelta(t, -3, r.Lowest, 1e-12)
	_, there = l.Continuous(200)
	require.False(t, there)
	d.ContinuousCurrent = 2 // 1 N·m
	l = ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(m, d, 400))
	r, _ = l.Continuous(100)
	require.InDelta(t, 0.5, r.Highest, 1e-12)
	// Nothing given that lasts: the peak.
	l = ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(energy.Motor{Winding: m.Winding}, energy.Drive{ModulationLimit: 1, PeakCurrent: 9}, 400))
	r, _ = l.Continuous(100)
	p, _ := l.Peak(100)
	require.Equal(t, p, r)
}

// TestTorqueMargin holds the worst point of traces against what many instants show.
func TestTorqueMargin(t *testing.T) {
	r := rand.New(rand.NewPCG(25, 26))
	seen := map[energy.Bound]int{}
	beyond, out := 0, 0
	for range 500 {
		b := randomBench(t, r)
		a := randomAxis(t, r)
		a.Motor.Winding = b.motor.Winding
		way := 1 - 2*float64(r.IntN(2))
		tr := trace(t, a, sCurve(t, way*between(r, 0.01, 0.5), between(r, 0.01, 0.1), between(r, 0.01, 0.1), between(r, 0.01, 0.3)))
		kt := b.motor.Winding.Kt()
		a.Motor.PeakTorque = maybe(r, math.Abs(tr.RatedTorque.AbsMax().V)*between(r, 0.7, 2))
		b.drive.PeakCurrent = maybe(r, math.Abs(tr.Torque.AbsMax().V)/kt*between(r, 0.7, 2))
		b.drive.ContinuousCurrent = 0
		v := ok[energy.Voltage](t)(a.Motor.Voltage(tr))
		bus := ok[profile.Point](t)(v.LowestBus(b.drive)).V * between(r, 0.25, 1.5)
		l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(a.Motor, b.drive, bus))
		free := a.Motor
		free.PeakTorque = 0
		byVoltage := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(free, energy.Drive{ModulationLimit: b.drive.ModulationLimit}, bus))
		m := ok[energy.TorqueMargin](t)(l.Margin(tr))
		scale := math.Abs(tr.Torque.AbsMax().V) + math.Abs(m.Limit)
		tol := 1e-8 * scale
		if m.OutOfReach {
			out++
			_, there := l.Peak(m.Speed)
			require.False(t, there)
			require.InDelta(t, math.Abs(tr.Speed.AbsMax().V), math.Abs(m.Speed), 1e-9*math.Abs(m.Speed))
			continue
		}
		require.InDelta(t, math.Abs(m.Limit-m.Torque), math.Abs(m.Margin), tol)
		seen[m.Bound]++
		if m.Margin < 0 {
			beyond++
		}
		lowest, fastest := math.Inf(1), math.Abs(tr.Speed.AbsMax().V)
		const many = 4000
		instants := []float64{}
		for i := range many {
			instants = append(instants, tr.Speed.End()*(float64(i)+r.Float64())/many)
		}
		for i := range tr.Torque.Pieces() {
			_, t1, _ := tr.Torque.Piece(i)
			instants = append(instants, t1-1e-9*tr.Speed.End())
		}
		for _, x := range instants {
			w, torque := tr.Speed.At(x), tr.RatedTorque.At(x)
			if math.Abs(w) <= 1e-9*fastest {
				continue // at rest, with the drag on either side
			}
			at, there := byVoltage.Peak(w)
			require.True(t, there)
			lowest = math.Min(lowest, math.Min(at.Highest-torque, torque-at.Lowest))
			if b.drive.PeakCurrent > 0 {
				lowest = math.Min(lowest, kt*b.drive.PeakCurrent-math.Abs(tr.Torque.At(x)))
			}
			if a.Motor.PeakTorque > 0 {
				lowest = math.Min(lowest, a.Motor.PeakTorque-math.Abs(torque))
			}
		}
		require.LessOrEqual(t, m.Margin, lowest+tol, "%+v %+v", b, m)
		require.InDelta(t, lowest, m.Margin, 2e-3*scale, "%+v %+v", b, m)
		at, there := l.Peak(m.Speed)
		if there && m.Speed != 0 {
			require.True(t, math.Abs(at.Highest-m.Limit) <= tol || math.Abs(at.Lowest-m.Limit) <= tol, "%+v %+v", m, at)
		}
	}
	require.Greater(t, beyond, 50)
	require.Greater(t, out, 3)
	for _, b := range []energy.Bound{energy.ByVoltage, energy.ByCurrent, energy.ByTorque} {
		require.Greater(t, seen[b], 20, b.String())
	}
	require.Equal(t, "no bound", energy.Bound(9).String())
}

func TestBadTorqueLimit(t *testing.T) {
	m := energy.Motor{Winding: ok[energy.Winding](t)(smallSheet().Winding())}
	d := energy.Drive{ModulationLimit: 1}
	_, err := energy.NewTorqueLimit(energy.Motor{}, energy.Drive{}, 0)
	requirePaths(t, err, "motor.winding", "drive.modulationLimit", "bus")
	for _, v := range bad {
		_, err = energy.NewTorqueLimit(m, d, v)
		requirePaths(t, err, "bus")
	}
	_, err = energy.NewTorqueLimit(energy.Motor{Winding: ok[energy.Winding](t)(energy.SinusoidalRMS(1, energy.LineToLine(1), 20))}, d, 50)
	requirePaths(t, err, "motor.winding.inductance", "motor.winding.polePairs")
	_, err = energy.NewTorqueLimit(energy.Motor{Winding: ok[energy.Winding](t)(energy.DirectCurrent(1, energy.LineToLine(1), 20))}, d, 50)
	require.NoError(t, err, "steady direct current needs no inductance")

	l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(m, d, 50))
	for _, v := range bad {
		_, there := l.Peak(v)
		require.False(t, there)
		_, there = l.Continuous(v)
		require.False(t, there)
		_, there = l.SpeedAt(v)
		require.False(t, there)
	}
	_, there := l.SpeedAt(-1)
	require.False(t, there)
	_, err = l.Margin(energy.Trace{})
	requirePaths(t, err, "trace.torque", "trace.ratedTorque", "trace.speed")

	tr := trace(t, energy.Axis{Load: energy.Load{Inertia: 1}, Mechanism: energy.Rotary{Efficiency: 1}, Motor: m}, steady(t, 1, 1))
	odd := tr
	odd.Speed = ok[profile.Curve](t)(profile.Constant(1, 0, 99))
	_, err = l.Margin(odd)
	require.NotEmpty(t, paths(err))
	c := make([]float64, 41)
	c[40] = 1
	odd.Speed = ok[profile.Curve](t)(profile.NewCurve([]float64{0, 1}, [][]float64{c}))
	_, err = l.Margin(odd)
	requirePaths(t, err, "trace")

	var zero energy.TorqueLimit
	_, there = zero.Peak(1)
	require.False(t, there)
	_, there = zero.Continuous(0)
	require.False(t, there)
	_, there = zero.SpeedAt(0)
	require.False(t, there)
	require.Zero(t, zero.CornerSpeed())
	_, err = zero.Margin(tr)
	requirePaths(t, err, "torqueLimit")
}
