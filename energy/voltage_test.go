package energy_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// TestVoltageByHand: the motor of smallSheet, 7 kg·m² with 2 N·m against it, from 50 rad/s at
// 1 rad/s² for 2 s: 9 N·m, so
//
//	I = 18 A rms, iq = 25.4558 A, Ke = 0.5/(1.5 √2) = 0.235702 V·s/rad (crest of a phase)
//	at the end, 52 rad/s: vq = 0.6·25.4558 + 0.235702·52 = 27.53002, vd = -4·52·0.002·25.4558 = -10.58963
//	|v| = 29.49648 V; bus √3 |v| = 51.08940 V with space vectors, 2 |v| = 58.99296 V with a plain sine
func TestVoltageByHand(t *testing.T) {
	a := electric(t, energy.Axis{Load: energy.Load{Inertia: 7, External: 2}, Mechanism: energy.Rotary{Efficiency: 1}})
	tr := trace(t, a, accels(t, 0, 50, [2]float64{2, 1}))
	v := ok[energy.Voltage](t)(a.Motor.Voltage(tr))
	require.InDelta(t, 25.4558, v.Current.At(1), 5e-5)
	require.InDelta(t, 27.53002, v.Quadrature.At(2), 5e-5)
	require.InDelta(t, -10.58963, v.Direct.At(2), 5e-5)
	require.InDelta(t, 29.49648, v.At(2), 5e-5)
	require.Equal(t, 2.0, v.Peak().T)
	require.InDelta(t, 29.49648, v.Peak().V, 5e-5)
	require.Empty(t, v.Steps)
	low := ok[profile.Point](t)(v.LowestBus(energy.Drive{ModulationLimit: energy.SpaceVector}))
	require.InDelta(t, 51.08940, low.V, 2e-5)
	low = ok[profile.Point](t)(v.LowestBus(energy.Drive{ModulationLimit: energy.PlainSine}))
	require.InDelta(t, 58.99296, low.V, 1e-4)

	m := ok[energy.VoltageMargin](t)(v.Margin(constantBus(t, 51.5, tr), energy.Drive{ModulationLimit: 1}))
	require.InDelta(t, 0.41060, m.Margin, 1e-4)
	require.Equal(t, [2]float64{2, 52}, [2]float64{m.At, m.Speed})
	require.Empty(t, m.Shortfalls)
	m = ok[energy.VoltageMargin](t)(v.Margin(constantBus(t, 51, tr), energy.Drive{ModulationLimit: 1}))
	require.Len(t, m.Shortfalls, 1)
	require.InDelta(t, 0.08940, m.Shortfalls[0].Missing, 1e-4)
	require.InDelta(t, 0.08940, -m.Margin, 1e-4)
	require.Equal(t, 52.0, m.Shortfalls[0].Speed)
	require.Equal(t, 2.0, m.Shortfalls[0].To)
	require.InDelta(t, 51, math.Sqrt(3)*v.At(m.Shortfalls[0].From), 1e-9)
}

// TestDirectVoltageByHand: current that rises by 2 A/s from 2 A, 0.5 N·m/A, 1.2 ohm, 4 mH, and a speed of 10 rad/s +
// (1 + t) N·m / 2 kg·m² over t: v = 1.2 (2 + 2t) + 0.004·2 + 0.5 w.
func TestDirectVoltageByHand(t *testing.T) {
	s := smallSheet()
	s.TorquePerRMSAmpere, s.TorquePerDCAmpere = 0, 0.5
	a := energy.Axis{Load: energy.Load{Inertia: 2}, Mechanism: energy.Rotary{Efficiency: 1}}
	a.Motor.Winding = ok[energy.Winding](t)(s.Winding())
	tr := trace(t, a, jerks(t, profile.State{Speed: 10, Accel: 0.5}, segment{3, 0.5}))
	v := ok[energy.Voltage](t)(a.Motor.Voltage(tr))
	for _, at := range []float64{0, 1, 3} {
		w := 10 + 0.5*at + 0.25*at*at
		requireNear(t, 1.2*(2+2*at)+0.008+0.5*w, v.At(at), 1e-13, "voltage")
	}
	require.Zero(t, v.Direct.AbsMax().V)
	low := ok[profile.Point](t)(v.LowestBus(energy.Drive{ModulationLimit: 0.95}))
	requireNear(t, v.At(3)/0.95, low.V, 1e-13, "bus")
}

// threePhases returns |v| from the three phase voltages themselves: sinusoidal currents and
// flux linkages at the angle of the rotor, differentiated numerically, and the space vector
// of what comes out. Nothing of rotor coordinates is in it.
func threePhases(s energy.Sheet, tr energy.Trace, angle profile.Curve, at, step float64) float64 {
	crest := math.Sqrt2 / s.TorquePerRMSAmpere
	ohm, henry, p := s.ResistanceLineToLine/2, s.InductanceLineToLine/2, float64(s.PolePairs)
	flux := s.TorquePerRMSAmpere / math.Sqrt(3) * math.Sqrt(2./3) / p // crest of a phase, from Ke line to line RMS
	phase := func(k int, x float64) (current, linkage float64) {
		theta := p*angle.At(x) - float64(k)*2*math.Pi/3
		current = -crest * tr.Torque.At(x) * math.Sin(theta)
		return current, henry*current + flux*math.Cos(theta)
	}
	sum := complex(0, 0)
	for k := range 3 {
		d := func(h float64) float64 {
			_, after := phase(k, at+h)
			_, before := phase(k, at-h)
			return (after - before) / (2 * h)
		}
		i, _ := phase(k, at)
		v := ohm*i + (4*d(step/2)-d(step))/3
		sum += complex(2./3*v, 0) * cmplx.Exp(complex(0, float64(k)*2*math.Pi/3))
	}
	return cmplx.Abs(sum)
}

func TestVoltageFromThreePhases(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	compared := 0
	for range 60 {
		s := randomSheet(r, false)
		a := randomAxis(t, r)
		a.Motor.Winding = ok[energy.Winding](t)(s.Winding())
		tr := trace(t, a, sCurve(t, between(r, 0.01, 0.5), between(r, 0.01, 0.1), between(r, 0.01, 0.1), between(r, 0.01, 0.3)))
		v := ok[energy.Voltage](t)(a.Motor.Voltage(tr))
		angle := tr.Speed.Antiderivative(0.3)
		for range 20 {
			at := r.Float64() * tr.Speed.End()
			step := 1e-4 / (1 + float64(s.PolePairs)*math.Abs(tr.Speed.At(at)))
			inside := false // the difference must not reach over the end of a piece
			for i := range v.Squared.Pieces() {
				t0, t1, _ := v.Squared.Piece(i)
				inside = inside || at-step > t0 && at+step < t1
			}
			if inside {
				compared++
				require.InDelta(t, threePhases(s, tr, angle, at, step), v.At(at), 1e-6*(1e-3+v.Peak().V))
			}
		}
	}
	require.Greater(t, compared, 500)
}

// TestVoltagePower: what flows into the terminals is shaft power and drag, copper loss and
// the change of the magnetic energy, 3/2 · L iq²/2 or L i²/2.
func TestVoltagePower(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	for n := range 60 {
		dc := n%3 == 0
		s := randomSheet(r, dc)
		a := randomAxis(t, r)
		w := ok[energy.Winding](t)(s.Winding())
		a.Motor.Winding = w
		tr := trace(t, a, sCurve(t, between(r, 0.01, 0.5), between(r, 0.01, 0.1), between(r, 0.01, 0.1), between(r, 0.01, 0.3)))
		v := ok[energy.Voltage](t)(a.Motor.Voltage(tr))
		k, henry := 1.5, w.InductanceLineToLine()/2
		if dc {
			k, henry = 1, w.InductanceLineToLine()
		}
		electric := ok[profile.Curve](t)(profile.Product(v.Quadrature, v.Current)).Scale(k)
		mechanical := ok[profile.Curve](t)(profile.Product(tr.Torque, tr.Speed))
		square := ok[profile.Curve](t)(profile.Product(v.Current, v.Current))
		magnetic := square.Derivative().Scale(k * henry / 2)
		rest := ok[profile.Curve](t)(profile.Sum(electric, mechanical.Scale(-1), tr.CopperLoss.Scale(-1), magnetic.Scale(-1)))
		require.InDelta(t, 0, rest.AbsMax().V, 1e-11*(1e-9+math.Abs(electric.AbsMax().V)+math.Abs(magnetic.AbsMax().V)), "%+v", s)
	}
}

// TestCurrentSteps: an acceleration of 3 rad/s² that begins and ends at once on 2 kg·m².
func TestCurrentSteps(t *testing.T) {
	a := electric(t, energy.Axis{Load: energy.Load{Inertia: 2}, Mechanism: energy.Rotary{Efficiency: 1}})
	tr := trace(t, a, accels(t, 0, 1, [2]float64{1, 0}, [2]float64{1, 3}, [2]float64{1, -3}))
	v := ok[energy.Voltage](t)(a.Motor.Voltage(tr))
	i := 6 / 0.5 * math.Sqrt2
	require.Len(t, v.Steps, 2)
	for k, want := range []energy.CurrentStep{{1, 0, i, 2e-3 * i}, {2, i, -i, 4e-3 * i}} {
		require.InDelta(t, want.T, v.Steps[k].T, 1e-12)
		require.InDelta(t, want.From, v.Steps[k].From, 1e-12)
		require.InDelta(t, want.To, v.Steps[k].To, 1e-12)
		require.InDelta(t, want.FluxLinkage, v.Steps[k].FluxLinkage, 1e-12)
	}
	tr = trace(t, a, sCurve(t, 1, 0.1, 0.1, 0.1))
	require.Empty(t, ok[energy.Voltage](t)(a.Motor.Voltage(tr)).Steps, "with limited jerk")
}

// wavyBus returns a bus voltage about a level, of pieces of any degree up to 16, with jumps.
func wavyBus(t testing.TB, r *rand.Rand, level, end float64) profile.Curve {
	t.Helper()
	n := 1 + r.IntN(12)
	breaks := []float64{0}
	var coefs [][]float64
	for i := range n {
		b := end
		if i < n-1 {
			b = breaks[i] + (end-breaks[i])*(0.05+0.5*r.Float64())
		}
		c := []float64{level * (0.9 + 0.2*r.Float64())}
		h := b - breaks[i]
		for k := range r.IntN(17) {
			c = append(c, level*0.3*(r.Float64()-0.5)/math.Pow(h, float64(k+1))/float64(k+2))
		}
		breaks, coefs = append(breaks, b), append(coefs, c)
	}
	return ok[profile.Curve](t)(profile.NewCurve(breaks, coefs))
}

// TestVoltageMargin holds margins and shortfalls against what many instants show, with bus
// voltages that are just about enough.
func TestVoltageMargin(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 16))
	short, whole := 0, 0
	for n := range 150 {
		s := randomSheet(r, n%4 == 0)
		a := randomAxis(t, r)
		a.Motor.Winding = ok[energy.Winding](t)(s.Winding())
		tr := trace(t, a, sCurve(t, between(r, 0.01, 0.5), between(r, 0.01, 0.1), between(r, 0.01, 0.1), between(r, 0.01, 0.3)))
		v := ok[energy.Voltage](t)(a.Motor.Voltage(tr))
		d := energy.Drive{ModulationLimit: 0.7 + 0.3*r.Float64()}
		low := ok[profile.Point](t)(v.LowestBus(d))
		factor := low.V / v.Peak().V
		bus := wavyBus(t, r, low.V*(0.7+0.5*r.Float64()), tr.Speed.End())
		if !(bus.Min().V > 0) {
			continue
		}
		m := ok[energy.VoltageMargin](t)(v.Margin(bus, d))
		tol := 1e-9 * low.V
		require.InDelta(t, m.Bus-m.Needed, m.Margin, tol)

		in := func(x float64) *energy.Shortfall {
			for i := range m.Shortfalls {
				if f := &m.Shortfalls[i]; x >= f.From && x <= f.To {
					return f
				}
			}
			return nil
		}
		lowest, end := math.Inf(1), tr.Speed.End()
		const many = 4000
		var instants []float64
		for i := range many {
			instants = append(instants, end*(float64(i)+r.Float64())/many)
		}
		for _, c := range []profile.Curve{bus, v.Squared} {
			for i := range c.Pieces() {
				_, t1, _ := c.Piece(i)
				instants = append(instants, t1-1e-9*end)
			}
		}
		for _, x := range instants {
			margin := bus.At(x) - factor*v.At(x)
			lowest = math.Min(lowest, margin)
			f := in(x)
			if margin < -tol {
				require.NotNil(t, f, "%g V at %g s", margin, x)
				require.LessOrEqual(t, -margin, f.Missing+tol)
			} else if margin > tol {
				require.Nil(t, f, "%g V at %g s", margin, x)
			}
		}
		require.LessOrEqual(t, m.Margin, lowest+tol)
		require.InDelta(t, lowest, m.Margin, 5e-3*low.V, "some instant is about as low")
		before, after := math.Nextafter(m.At, -1), math.Nextafter(m.At, end+1)
		require.True(t, math.Abs(bus.At(m.At)-factor*v.At(m.At)-m.Margin) <= 1e-6*low.V ||
			math.Abs(bus.At(before)-factor*v.At(before)-m.Margin) <= 1e-6*low.V, "the instant: %g %g", before, after)
		for _, f := range m.Shortfalls {
			require.Less(t, f.From, f.To)
			require.True(t, f.At >= f.From-1e-12 && f.At <= f.To+1e-12)
			require.LessOrEqual(t, f.Missing, -m.Margin+tol)
		}
		short += len(m.Shortfalls)
		if m.Margin >= 0 {
			require.Empty(t, m.Shortfalls)
			whole++
		}
	}
	require.Greater(t, short, 100)
	require.Greater(t, whole, 15)
}

// TestLowestBusIsEnough: just above it nothing is missing, just below something is.
func TestLowestBusIsEnough(t *testing.T) {
	a := electric(t, beltAxis(t))
	tr := trace(t, a, sCurve(t, 0.5, 0.03, 0.07, 0.15))
	v := ok[energy.Voltage](t)(a.Motor.Voltage(tr))
	d := energy.Drive{ModulationLimit: 0.95}
	low := ok[profile.Point](t)(v.LowestBus(d))
	m := ok[energy.VoltageMargin](t)(v.Margin(constantBus(t, low.V*(1+1e-9), tr), d))
	require.Empty(t, m.Shortfalls)
	requireNear(t, low.V*1e-9, m.Margin, 1e-5, "margin")
	requireNear(t, low.T, m.At, 1e-6, "instant")
	m = ok[energy.VoltageMargin](t)(v.Margin(constantBus(t, low.V*(1-1e-9), tr), d))
	require.Len(t, m.Shortfalls, 1)
	require.InDelta(t, low.T, m.Shortfalls[0].At, 1e-6)
	// Hot copper and cold magnets need more, hot magnets less at this speed.
	demand := func(copper, magnets float64) float64 {
		b := a
		b.Motor.Winding = ok[energy.Winding](t)(ok[energy.Winding](t)(a.Motor.Winding.At(copper)).AtMagnets(magnets))
		return ok[profile.Point](t)(ok[energy.Voltage](t)(b.Motor.Voltage(trace(t, b, sCurve(t, 0.5, 0.03, 0.07, 0.15)))).LowestBus(d)).V
	}
	require.Greater(t, demand(120, 25), low.V)
	require.Greater(t, demand(25, 0), low.V)
	require.Less(t, demand(25, 100), low.V)
}

// TestVoltageMarginAtRest: nothing is needed, and the bus dips from 100 V to 10 V between the ends.
func TestVoltageMarginAtRest(t *testing.T) {
	a := electric(t, energy.Axis{Load: energy.Load{Inertia: 1}, Mechanism: energy.Rotary{Efficiency: 1}})
	tr := trace(t, a, steady(t, 0, 2))
	v := ok[energy.Voltage](t)(a.Motor.Voltage(tr))
	bus := ok[profile.Curve](t)(profile.NewCurve([]float64{0, 2}, [][]float64{{100, -180, 90}}))
	m := ok[energy.VoltageMargin](t)(v.Margin(bus, energy.Drive{ModulationLimit: 1}))
	require.InDelta(t, 10, m.Margin, 1e-12)
	require.InDelta(t, 1, m.At, 1e-7)
}

// TestLinearMotorVoltage: 40 N/A rms, 3 ohm and 12 mH per phase, poles every 20 mm, 5 kg that reach 2 m/s with
// 10 m/s²: 50 N, iq = 50/40 √2; Ke of a phase crest 40/(1.5 √2).
func TestLinearMotorVoltage(t *testing.T) {
	s := energy.Sheet{TorquePerRMSAmpere: 40, ResistancePerPhase: 3, InductancePerPhase: 12e-3, PolePitch: 0.02, Temperature: 20}
	a := energy.Axis{Load: energy.Load{Mass: 5}, Mechanism: energy.Direct{}}
	a.Motor.Winding = ok[energy.Winding](t)(s.Winding())
	tr := trace(t, a, accels(t, 0, 0, [2]float64{0.2, 10}))
	v := ok[energy.Voltage](t)(a.Motor.Voltage(tr))
	i := 50. / 40 * math.Sqrt2
	requireNear(t, math.Hypot(3*i+40/(1.5*math.Sqrt2)*2, math.Pi/0.02*2*0.012*i), v.Peak().V, 1e-12, "voltage at 2 m/s")
}

func TestBadVoltage(t *testing.T) {
	a := electric(t, beltAxis(t))
	tr := trace(t, a, sCurve(t, 0.5, 0.03, 0.07, 0.15))
	_, err := energy.Motor{}.Voltage(energy.Trace{})
	requirePaths(t, err, "motor.winding", "trace.torque", "trace.speed")
	_, err = beltAxis(t).Motor.Voltage(tr)
	requirePaths(t, err, "motor.winding.inductance", "motor.winding.polePairs")
	dc := a.Motor
	dc.Winding = ok[energy.Winding](t)(energy.DirectCurrent(1, energy.LineToLine(1), 20))
	_, err = dc.Voltage(tr)
	requirePaths(t, err, "motor.winding.inductance")

	odd := tr
	odd.Speed = ok[profile.Curve](t)(profile.Constant(1, 0, 99))
	_, err = a.Motor.Voltage(odd)
	requirePaths(t, err, "trace")
	odd.Speed = ok[profile.Curve](t)(profile.NewCurve([]float64{0, tr.Speed.End()}, [][]float64{make([]float64, 41)}))
	_, err = a.Motor.Voltage(odd)
	requirePaths(t, err, "trace")
	odd.Speed = ok[profile.Curve](t)(profile.Constant(1e300, 0, tr.Speed.End()))
	_, err = a.Motor.Voltage(odd)
	requirePaths(t, err, "trace.speed")

	v := ok[energy.Voltage](t)(a.Motor.Voltage(tr))
	good := energy.Drive{ModulationLimit: 1}
	for _, m := range []float64{0, -1, math.NaN(), 1.2, 1e300, 1e-9} {
		_, err = v.LowestBus(energy.Drive{ModulationLimit: m})
		requirePaths(t, err, "drive.modulationLimit")
		_, err = v.Margin(constantBus(t, 100, tr), energy.Drive{ModulationLimit: m})
		requirePaths(t, err, "drive.modulationLimit")
	}
	for _, bus := range []float64{0, -5, 1e300} {
		_, err = v.Margin(constantBus(t, bus, tr), good)
		requirePaths(t, err, "bus")
	}
	_, err = v.Margin(profile.Curve{}, good)
	requirePaths(t, err, "bus")
	_, err = v.Margin(ok[profile.Curve](t)(profile.Constant(100, 0, 99)), good)
	requirePaths(t, err, "bus")
	c := make([]float64, 30)
	c[0], c[29] = 100, 1
	_, err = v.Margin(ok[profile.Curve](t)(profile.NewCurve([]float64{0, tr.Speed.End()}, [][]float64{c})), good)
	requirePaths(t, err, "bus")
	_, err = energy.Voltage{}.LowestBus(good)
	requirePaths(t, err, "voltage")
	require.Zero(t, energy.Voltage{}.At(1))
	require.Zero(t, energy.Voltage{}.Peak())

	// Over-modulation is nothing that direct current has.
	s := smallSheet()
	s.TorquePerRMSAmpere, s.TorquePerDCAmpere = 0, 0.5
	dc.Winding = ok[energy.Winding](t)(s.Winding())
	v = ok[energy.Voltage](t)(dc.Voltage(tr))
	_, err = v.LowestBus(energy.Drive{ModulationLimit: 1.05})
	requirePaths(t, err, "drive.modulationLimit")
}
