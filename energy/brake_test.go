package energy_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
)

func powerOff(t testing.TB, a energy.Axis, position, speed float64, brake *energy.HoldingBrake) energy.Coast {
	t.Helper()
	c, err := a.PowerOff(position, speed, brake)
	require.NoError(t, err)
	return c
}

// standardHanging is a mass on a vertical linear motor without losses: it falls with g.
func standardHanging(t testing.TB, mass float64) energy.Axis {
	return energy.Axis{Load: energy.Load{Mass: mass, Incline: math.Pi / 2}, Mechanism: energy.Direct{}, Motor: lossless(t)}
}

// TestDropWhileBrakeEngages: a free load falls g t²/2 while its brake engages (own values):
// 60 ms at g = 9.81 from rest 17.66 mm; from 0.5 m/s downwards 47.66 mm, then
// 60.40 mm at 9.81 m/s² of deceleration, which takes a brake of twice the weight, 108.06 mm
// in all, and 1.0886 m/s at most.
func TestDropWhileBrakeEngages(t *testing.T) {
	const g, mass = 9.81, 10
	a := standardHanging(t, mass)
	a.Load.External = mass * (g - energy.StandardGravity)
	brake := &energy.HoldingBrake{Torque: 2 * mass * g, Shaft: 1, Delay: 0.06}

	c := powerOff(t, a, 0.3, -0.5, brake)
	require.True(t, c.Stops)
	require.InDelta(t, -0.04766, c.Free, 5e-6)
	require.InDelta(t, 0.10806, c.Backward, 5e-6)
	require.InDelta(t, -0.10806, c.Travel, 5e-6)
	require.InDelta(t, 1.0886, c.PeakSpeed, 5e-5)
	requireNear(t, 1.0886/g+0.06, c.Duration, 1e-9, "duration")
	require.Zero(t, c.Forward)

	// From rest it gains g t and gives it up in as much way again.
	c = powerOff(t, a, 0, 0, brake)
	require.InDelta(t, 0.01766, -c.Free, 5e-6)
	requireNear(t, 2*g*0.06*0.06/2, c.Backward, 1e-9, "drop from rest")
	requireNear(t, 2*mass*g*g*0.06*0.06/2, c.Heat, 1e-9, "brake's heat")

	// Moving up at 0.5 m/s when power goes, it still rises when the brake closes, at
	// 0.5 - 0.06 g up; the brake and its weight stop it at 3 g, and the brake holds it.
	c = powerOff(t, a, 0, 0.5, brake)
	rise := 0.5*0.06 - g*0.06*0.06/2
	v := 0.5 - g*0.06
	require.Less(t, v, 0.0) // it has turned already: at 51 ms
	require.InDelta(t, 0.5*0.5/(2*g), c.Forward, 1e-9)
	requireNear(t, rise-v*v/(2*g), c.Travel, 1e-9, "travel after turning")
	c = powerOff(t, a, 0, 1, brake)
	v = 1 - g*0.06
	requireNear(t, 0.06-g*0.06*0.06/2+v*v/(2*3*g), c.Travel, 1e-9, "travel upwards")
	requireNear(t, c.Travel, c.Forward, 1e-12, "highest place")
}

// TestPublishedHoistBrake: Jindal, Machine Design, exa 23-1 (LOOKED UP-2): a load of 20 kN
// going down at 1 m/s is stopped within 2 m by a brake on a drum of 0.5 m radius: kinetic
// 1.019 + potential 40 = 41.02 kJ over 4 rad, so 10 254.8 N·m, and a peak of 20.51 kW.
// The book's g is 9.81, that of the kinetic energy.
func TestPublishedHoistBrake(t *testing.T) {
	const mass = 20000 / 9.81
	a := energy.Axis{
		Load:      energy.Load{Mass: mass, External: 20000 - mass*energy.StandardGravity},
		Mechanism: energy.HoistDrum{Diameter: 1, Falls: 1, Efficiency: 1},
		Motor:     lossless(t),
	}
	for _, shaft := range []int{0, 1} { // without stages the motor turns the drum
		b := &energy.HoldingBrake{Torque: 10254.8, Shaft: min(shaft, 1)}
		if shaft == 1 {
			b.Torque /= 0.5 // at the load, as a force
		}
		c := powerOff(t, a, 0, -1, b)
		require.True(t, c.Stops)
		// The last digit of the torque is 2e-4 of what is left of it beside the weight.
		requireNear(t, 2, c.Backward, 2e-4, "way")
		requireNear(t, 4, c.Duration, 2e-4, "time")
		requireNear(t, 41.02e3, c.Heat, 2e-4, "energy")
		requireNear(t, 20.51e3, c.PeakPower, 1e-4, "peak power")
		requireNear(t, 1019.4, c.Kinetic, 1e-4, "kinetic")
		requireNear(t, 40e3, c.Offered, 2e-4, "potential")
		require.False(t, c.Slack)
	}
	torque, c, err := a.StoppingTorque(0, -1, 2, energy.HoldingBrake{})
	require.NoError(t, err)
	requireNear(t, 10254.8, torque, 1e-5, "torque for 2 m")
	requireNear(t, 2, c.Backward, 1e-9, "way")
	// Of the heat 97.5 % is potential energy.
	require.InDelta(t, 0.975, c.Offered/c.Heat, 5e-4)
}

// TestWeakBrakeNeverStops: a brake below the weight slows nothing down; a little more does,
// late; and one that is just strong enough to hold does not stop what moves already.
func TestWeakBrakeNeverStops(t *testing.T) {
	a := standardHanging(t, 10)
	weight := 10 * energy.StandardGravity
	for _, k := range []float64{0.5, 1} {
		require.Equal(t, energy.Coast{}, powerOff(t, a, 0, -0.5, &energy.HoldingBrake{Torque: k * weight, Shaft: 1}))
	}
	require.Equal(t, energy.Coast{}, powerOff(t, a, 0, 0, nil))
	c := powerOff(t, a, 0, -0.5, &energy.HoldingBrake{Torque: 1.01 * weight, Shaft: 1})
	requireNear(t, 0.25/(2*0.01*energy.StandardGravity), c.Backward, 1e-9, "way of a weak brake")
	// At rest and engaged at once, both hold.
	require.Zero(t, powerOff(t, a, 0, 0, &energy.HoldingBrake{Torque: weight, Shaft: 1}).Duration)
	require.True(t, powerOff(t, a, 0, 0, &energy.HoldingBrake{Torque: weight, Shaft: 1}).Stops)
	// A level axis without friction coasts for ever; with 1 N of it, v²/2a.
	a.Load.Incline = 0
	require.False(t, powerOff(t, a, 0, 1, nil).Stops)
	a.Load.Coulomb = 1
	requireNear(t, 5, powerOff(t, a, 0, 1, nil).Travel, 1e-9, "coasting")
	// Viscous friction alone, 20 N·s/m: m v/c.
	a.Load.Coulomb, a.Load.Viscous = 0, 20
	requireNear(t, 0.5, powerOff(t, a, 0, 1, nil).Travel, 1e-8, "coasting in oil")
}

// TestStaticFrictionHolds: 98.07 N of weight rest on 100 N of static friction though only 20 N
// are left once it moves.
func TestStaticFrictionHolds(t *testing.T) {
	a := standardHanging(t, 10)
	a.Load.Coulomb, a.Load.Breakaway = 20, 100
	c := powerOff(t, a, 0, 0, nil)
	require.True(t, c.Stops)
	require.Zero(t, c.Duration)
	require.False(t, powerOff(t, a, 0, -0.01, nil).Stops)
	a.Load.Breakaway = 98
	require.False(t, powerOff(t, a, 0, 0, nil).Stops)
}

// TestCoastOfCrank: near the middle of its stroke a crank of 0.1 m moves its slider by about
// k = 0.1 m per rad, so that 40 N·s/m of viscous friction take 40 k² w of torque from a
// flywheel of 10 kg·m²: over 0.1 s of coasting the kinetic energy falls by that power. The
// coast lasts until the brake, which has 1e6 N·m, stops it there.
func TestCoastOfCrank(t *testing.T) {
	crank := energy.CrankSlider{Radius: 0.1, Rod: 1, Efficiency: 1, Inertia: 10}
	a := energy.Axis{Load: energy.Load{Mass: 1e-6, Viscous: 40}, Mechanism: crank, Motor: lossless(t)}
	brake := &energy.HoldingBrake{Torque: 1e6, Delay: 0.1}
	c := powerOff(t, a, 1.5, 1, brake)
	lost := 0.0
	for i := range 1000 {
		_, k, _ := crank.At(1.5 + 0.1*(float64(i)+0.5)/1000)
		lost += 40 * k * k * 0.1 / 1000
	}
	requireNear(t, lost, c.Kinetic-c.Heat, 2e-2, "lost to friction")
}

// TestDropOfGearedAxis: by hand. 20 kg on a rack with a pinion of 0.05 m radius, gear 5:1 of
// 90 % (back 2 - 1/0.9 = 8/9), rotor 2e-3 kg·m² and its drag 0.1 N·m:
//
//	at the pinion   tL = 0.05 (20 a + 196.133)    a upwards, tL drives downwards
//	at the motor    tL (8/9)/5 + 2e-3 · 100 a - 0.1 = 0
//	a = -(0.05·196.133·8/45 - 0.1)/(0.2 + 0.05·20·8/45) = -4.3514...
//
// and with a brake of 4 N·m on the motor, a = (4.1 - 1.743404...)/(0.377777...).
func TestDropOfGearedAxis(t *testing.T) {
	a := energy.Axis{
		Load:      energy.Load{Mass: 20, Incline: math.Pi / 2},
		Mechanism: energy.RackPinion{PitchDiameter: 0.1, Efficiency: 1},
		Stages:    []energy.Stage{{Ratio: 5, Efficiency: 0.9}},
		Motor:     lossless(t),
	}
	a.Motor.RotorInertia, a.Motor.DragTorque = 2e-3, 0.1
	inert := 0.2 + 0.05*20*8/45
	pull := 0.05 * 20 * energy.StandardGravity * 8 / 45
	free, braked := (pull-0.1)/inert, (4.1-pull)/inert
	c := powerOff(t, a, 0, -0.2, &energy.HoldingBrake{Torque: 4, Delay: 0.08})
	v := 0.2 + free*0.08
	requireNear(t, 0.2*0.08+free*0.08*0.08/2, -c.Free, 1e-9, "free")
	requireNear(t, v, c.PeakSpeed, 1e-9, "peak speed")
	requireNear(t, -c.Free+v*v/(2*braked), c.Backward, 1e-9, "drop")
	requireNear(t, 100*v*v/(2*braked), c.Angle, 1e-9, "angle of the brake")
	requireNear(t, 4*100*v, c.PeakPower, 1e-9, "peak power")
	requireNear(t, 4*c.Angle, c.Heat, 1e-12, "heat")

	// A brake on the pinion's shaft, behind the gear: the torque there is braked before it
	// drives the gear. 4 N·m there do not hold 9.8 N·m; 20 N·m do, and then rotor and gear
	// drive the brake, through the gear the other way, forward: 1/0.9.
	require.False(t, powerOff(t, a, 0, -0.2, &energy.HoldingBrake{Torque: 4, Shaft: 1}).Stops)
	c = powerOff(t, a, 0, -0.2, &energy.HoldingBrake{Torque: 20, Shaft: 1})
	// tL = a + 9.80665 - 20 drives upwards against the motion, so that the rotor drives:
	// (a + 9.80665 - 20)/(5·0.9) + 0.2 a - 0.1 = 0
	decel := (0.1 + (20-energy.StandardGravity)/4.5) / (0.2 + 1/4.5)
	requireNear(t, 0.04/(2*decel), c.Backward, 1e-9, "drop with a brake on the pinion")
}

// plain is an axis without power as a textbook has it, all reduced to the load, for
// lossless gears: an independent reference.
type plain struct {
	mass, dry, viscous, weight, spring, relaxed, square float64
	brake, delay                                        float64
}

func (p plain) accel(t, x, v, dir float64) float64 {
	f := -p.weight - p.spring*(x-p.relaxed) - p.viscous*v - dir*(p.dry+p.square*v*v)
	if t >= p.delay {
		f -= dir * p.brake
	}
	return f / p.mass
}

// fall integrates in small steps of the classical Runge-Kutta method until standstill or
// the end of a time.
func (p plain) fall(x, v, dt float64) (t, end, heat float64) {
	for i := 0; ; i++ {
		t = float64(i) * dt
		dir := math.Copysign(1, v)
		if v == 0 {
			dir = math.Copysign(1, -p.weight-p.spring*(x-p.relaxed))
		}
		s := t + dt/1e6 // a step belongs to one side of the delay
		a1 := p.accel(s, x, v, dir)
		a2 := p.accel(s, x+dt/2*v, v+dt/2*a1, dir)
		a3 := p.accel(s, x+dt/2*(v+dt/2*a1), v+dt/2*a2, dir)
		a4 := p.accel(s, x+dt*(v+dt/2*a2), v+dt*a3, dir)
		dx, dv := dt*(v+dt/6*(a1+a2+a3)), dt/6*(a1+2*a2+2*a3+a4)
		if s >= p.delay {
			heat += p.brake * math.Abs(dx)
		}
		if v != 0 && (v+dv)*v <= 0 && s >= p.delay {
			return t + dt*v/-dv, x + v*v/(-2*dv/dt), heat
		}
		x, v = x+dx, v+dv
		if t > 100 {
			return math.NaN(), x, heat
		}
	}
}

// TestPowerOffAgainstSmallSteps: with springs, friction of all kinds and lossless gears,
// against the plain equation in small steps.
func TestPowerOffAgainstSmallSteps(t *testing.T) {
	stopped := 0
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 75))
		mass, slope, ratio := between(r, 1, 50), math.Pi*(r.Float64()-0.5), between(r, 20, 300)
		rotor, square := between(r, 1e-5, 1e-3), between(r, 1e-8, 1e-6)
		a := energy.Axis{
			Load: energy.Load{Mass: mass, Coulomb: 30 * r.Float64(), Viscous: 30 * r.Float64(), Incline: slope,
				Counterbalance: energy.Counterbalance{Stiffness: maybe(r, 50*r.Float64()), Relaxed: r.Float64()}},
			Mechanism: energy.RackPinion{PitchDiameter: 2 / ratio, Efficiency: 1}, Motor: lossless(t),
		}
		a.Motor.RotorInertia, a.Motor.DragPerSpeedSquared = rotor, square
		l := a.Load
		weight := mass * energy.StandardGravity
		brake := &energy.HoldingBrake{Torque: (weight + 60) * (1 + r.Float64()) / ratio, Delay: 0.05}
		p := plain{mass: mass + rotor*ratio*ratio, dry: l.Coulomb, viscous: l.Viscous, weight: weight * math.Sin(slope),
			spring: l.Counterbalance.Stiffness, relaxed: l.Counterbalance.Relaxed, square: square * ratio * ratio * ratio,
			brake: brake.Torque * ratio, delay: brake.Delay}
		v := 0.5 + r.Float64()
		if p.weight > 0 {
			v = -v // down, so that it does not turn before the brake closes
		}
		c := powerOff(t, a, 0.2, v, brake)
		if !c.Stops || c.Duration < brake.Delay {
			continue
		}
		stopped++
		const dt = 2e-5
		time, end, heat := p.fall(0.2, v, dt)
		require.InDelta(t, time, c.Duration, 1e-6, "seed %d", seed)
		require.InDelta(t, end-0.2, c.Travel, 1e-6, "seed %d", seed)
		require.InDelta(t, heat, c.Heat, 1e-4*heat, "seed %d", seed)
	}
	require.Greater(t, stopped, 25)
}

// TestPowerOffKeepsEnergy: what moves and what is handed over bounds the brake's heat, for
// any axis; without losses it is the heat, but for what the motion took up on its way up.
func TestPowerOffKeepsEnergy(t *testing.T) {
	stopped := 0
	for seed := range uint64(400) {
		r := rand.New(rand.NewPCG(seed, 76))
		a := anyAxis(t, r)
		a.Load.ExternalByTime = profile.Curve{}
		x, v := r.Float64(), r.NormFloat64()
		brake := &energy.HoldingBrake{Torque: between(r, 0.5, 50), Shaft: r.IntN(len(a.Stages) + 2), Delay: maybe(r, between(r, 0.005, 0.2))}
		c, err := a.PowerOff(x, v, brake)
		if err != nil {
			require.Regexp(t, "locks|dead centres", err.Error(), "seed %d", seed)
			continue
		}
		if !c.Stops {
			continue
		}
		stopped++
		require.LessOrEqual(t, c.Heat, (c.Kinetic+c.Offered)*(1+1e-6)+1e-12, "seed %d", seed)
		require.LessOrEqual(t, math.Abs(c.Travel), math.Max(c.Forward, c.Backward)+1e-12, "seed %d", seed)

		// Without losses, and only weight: heat is kinetic energy less the gain in height.
		ideal := withoutLoss(t, a)
		ideal.Load.Counterbalance = energy.Counterbalance{}
		if _, crank := ideal.Mechanism.(energy.CrankSlider); crank {
			ideal.Motor.RotorInertia = 1e-3
		}
		c, err = ideal.PowerOff(x, v, brake)
		require.NoError(t, err, "seed %d", seed)
		if c.Stops {
			weight := ideal.Load.Mass * energy.StandardGravity * math.Sin(ideal.Load.Incline)
			rise := c.Travel
			switch m := ideal.Mechanism.(type) {
			case energy.HoistDrum:
				weight = ideal.Load.Mass * energy.StandardGravity
			case energy.CrankSlider:
				from, _, _ := m.At(x)
				to, _, _ := m.At(x + c.Travel)
				rise = to - from
			}
			want := c.Kinetic - weight*rise
			require.InDelta(t, want, c.Heat, 1e-7*(c.Kinetic+c.Offered), "seed %d", seed)
		}
	}
	require.Greater(t, stopped, 150)
}

func TestBrakeLife(t *testing.T) {
	b := energy.HoldingBrake{Torque: 5, EnergyPerStop: 1000, TotalEnergy: 1e6}
	l, err := b.Life(250, 500)
	require.NoError(t, err)
	require.Equal(t, 4000., l.Stops)
	require.Equal(t, 8., l.Years)
	require.Equal(t, 0.25, l.Stop.Ratio)
	require.True(t, l.Stop.Within())
	l, err = b.Life(0, 500)
	require.NoError(t, err)
	require.Zero(t, l.Stops+l.Years)
	_, err = energy.HoldingBrake{Torque: -1, Shaft: -1, Delay: math.NaN()}.Life(-1, math.Inf(1))
	require.Equal(t, []string{"brake.torque", "brake.shaft", "brake.delay", "energy", "stopsPerYear"}, paths(err))
	_, err = energy.HoldingBrake{Torque: 5, TotalEnergy: 1e12}.Life(5e-324, 1)
	require.Equal(t, []string{"energy"}, paths(err))
}

func TestPowerOffRefuses(t *testing.T) {
	a := standardHanging(t, 10)
	_, err := a.PowerOff(math.NaN(), 1e300, nil)
	require.Equal(t, []string{"position", "speed"}, paths(err))
	_, err = a.PowerOff(0, 0, &energy.HoldingBrake{Shaft: 2})
	require.Equal(t, []string{"brake.torque", "brake.shaft"}, paths(err))
	force, err := profile.Constant(5, 0, 1)
	require.NoError(t, err)
	a.Load.ExternalByTime = force
	_, err = a.PowerOff(0, 0, nil)
	require.Equal(t, []string{"load.externalByTime"}, paths(err))

	// A screw that locks and has no inertia stops its load at no finite deceleration.
	a = energy.Axis{Load: energy.Load{Mass: 10}, Mechanism: energy.Screw{Lead: 0.01, Efficiency: 0.3}, Motor: lossless(t)}
	_, err = a.PowerOff(0, 0.1, nil)
	require.ErrorContains(t, err, "locks")
}
