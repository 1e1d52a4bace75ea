package energy_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// ok returns a function that returns a result or fails the test.
func ok[T any](t testing.TB) func(T, error) T {
	t.Helper()
	return func(v T, err error) T {
		t.Helper()
		require.NoError(t, err)
		return v
	}
}

// smallSheet is an invented motor: 0.5 N·m/A rms, 0.6 ohm and 2 mH per phase, 4 pole pairs,
// and so √3 Ke = 0.5.
func smallSheet() energy.Sheet {
	return energy.Sheet{
		TorquePerRMSAmpere: 0.5, ResistanceLineToLine: 1.2, InductanceLineToLine: 4e-3,
		PolePairs: 4, Temperature: 25, MagnetCoefficient: -0.0011,
	}
}

// electric gives an axis a winding that knows its inductance.
func electric(t testing.TB, a energy.Axis) energy.Axis {
	t.Helper()
	a.Motor.Winding = ok[energy.Winding](t)(smallSheet().Winding())
	return a
}

// randomSheet returns a motor of three phases, or of direct current.
func randomSheet(r *rand.Rand, dc bool) energy.Sheet {
	s := energy.Sheet{
		ResistanceLineToLine: between(r, 0.2, 10), InductanceLineToLine: between(r, 1e-4, 2e-2),
		PolePairs: 1 + r.IntN(10), Temperature: 20,
	}
	if dc {
		s.TorquePerDCAmpere = between(r, 0.05, 2)
	} else {
		s.TorquePerRMSAmpere = between(r, 0.05, 2)
	}
	return s
}

func constantBus(t testing.TB, volts float64, tr energy.Trace) profile.Curve {
	t.Helper()
	return ok[profile.Curve](t)(profile.Constant(volts, 0, tr.Speed.End()))
}

// TestOneMotorElectrically: 0.6 ohm and 2 mH per phase, 0.5 N·m/A rms; the same motor with
// direct current has 1.2 ohm and 4 mH between its terminals.
func TestOneMotorElectrically(t *testing.T) {
	perPhase := smallSheet()
	perPhase.ResistanceLineToLine, perPhase.ResistancePerPhase = 0, 0.6
	perPhase.InductanceLineToLine, perPhase.InductancePerPhase = 0, 2e-3
	dc := smallSheet()
	dc.TorquePerRMSAmpere, dc.TorquePerDCAmpere = 0, 0.5
	dcPhase := perPhase
	dcPhase.TorquePerRMSAmpere, dcPhase.TorquePerDCAmpere = 0, 0.5
	for name, s := range map[string]energy.Sheet{"line to line": smallSheet(), "per phase": perPhase, "DC": dc, "DC, per phase": dcPhase} {
		w := ok[energy.Winding](t)(s.Winding())
		requireNear(t, 1.2, w.ResistanceLineToLine(), 1e-14, name+": resistance")
		requireNear(t, 4e-3, w.InductanceLineToLine(), 1e-14, name+": inductance")
		require.Equal(t, 4.0, w.PolePairs(), name)
		ke := 0.5
		if w.Sinusoidal() {
			ke = 0.5 / math.Sqrt(3)
		}
		requireNear(t, ke, w.VoltageConstant(), 1e-14, name+": voltage constant")
		hot := ok[energy.Winding](t)(w.At(155))
		requireNear(t, 1.2*389.5/259.5, hot.ResistanceLineToLine(), 1e-14, name+": hot resistance")
		require.Equal(t, w.VoltageConstant(), hot.VoltageConstant(), name)
	}
	plain := ok[energy.Winding](t)(energy.SinusoidalPeak(0.5, energy.MotorConstant(0.4), 20))
	require.Zero(t, plain.InductanceLineToLine())
	require.Zero(t, plain.PolePairs())
	requireNear(t, plain.Kt()*plain.Kt()/0.16/1.5, plain.ResistanceLineToLine(), 1e-14, "resistance from Km")
}

// TestMagnets: -0.11 %/K from 25 to 105 °C takes 8.8 %.
func TestMagnets(t *testing.T) {
	w := ok[energy.Winding](t)(smallSheet().Winding())
	at, known := w.MagnetTemperature()
	require.True(t, known)
	require.Equal(t, 25.0, at)
	hot := ok[energy.Winding](t)(w.AtMagnets(105))
	requireNear(t, 0.5*0.912, hot.Kt(), 1e-14, "torque constant")
	requireNear(t, w.VoltageConstant()*0.912, hot.VoltageConstant(), 1e-14, "voltage constant")
	requireNear(t, w.Km()*0.912, hot.Km(), 1e-14, "motor constant")
	requireNear(t, 1.2, hot.ResistanceLineToLine(), 1e-14, "resistance")
	require.Equal(t, 25.0, hot.Temperature(), "of the copper")
	requireNear(t, math.Sqrt(3), hot.Kt()/hot.VoltageConstant(), 1e-14, "one flux for both")
	// One line: by way of 60 °C to -20 °C, where there is 4.95 % more.
	cold := ok[energy.Winding](t)(ok[energy.Winding](t)(hot.AtMagnets(60)).AtMagnets(-20))
	requireNear(t, 0.5*1.0495, cold.Kt(), 1e-13, "on the line")
	requireNear(t, 0.5, ok[energy.Winding](t)(cold.AtMagnets(25)).Kt(), 1e-13, "there and back")

	plain := ok[energy.Winding](t)(energy.SinusoidalRMS(0.5, energy.LineToLine(1.2), 25))
	_, known = plain.MagnetTemperature()
	require.False(t, known)
	_, err := plain.AtMagnets(105)
	requirePaths(t, err, "magnetCoefficient")
	for _, v := range bad {
		_, err = w.AtMagnets(v)
		requirePaths(t, err, "temperature")
	}
	_, err = energy.Winding{}.AtMagnets(20)
	requirePaths(t, err, "")
	s := smallSheet()
	s.MagnetCoefficient = -0.01
	_, err = ok[energy.Winding](t)(s.Winding()).AtMagnets(200)
	requirePaths(t, err, "temperature")
}

func TestDriveCurrent(t *testing.T) {
	// By hand: 1.5 kg·m² to 10 rad/s in 1 s, 1 s steady, to rest in 1 s, 1 s of wait: 15, 0, -15, 0 N·m.
	a := energy.Axis{
		Load:      energy.Load{Inertia: 1.5},
		Mechanism: energy.Rotary{Efficiency: 1},
		Drive:     energy.Drive{PeakCurrent: 24, ContinuousCurrent: 24},
	}
	a = electric(t, a)
	tr := trace(t, a, accels(t, 0, 0, [2]float64{1, 10}, [2]float64{1, 0}, [2]float64{1, -10}, [2]float64{1, 0}))
	l := ok[energy.DriveLoading](t)(a.Drive.Loading(a.Motor.Winding, tr))
	requireNear(t, 30, l.Peak.Value, 1e-13, "peak")
	requireNear(t, 30/math.Sqrt2, l.Continuous.Value, 1e-13, "RMS")
	require.False(t, l.Within())
	require.True(t, l.Continuous.Within())
	c := ok[profile.Curve](t)(a.Motor.Winding.Current(tr))
	requireNear(t, -30, c.At(2.5), 1e-13, "current when it brakes")

	l = ok[energy.DriveLoading](t)(energy.Drive{}.Loading(a.Motor.Winding, tr))
	require.Equal(t, energy.Loading{}, l.Peak, "no limit given")
	require.True(t, l.Within())

	_, err := energy.Drive{PeakCurrent: 1, ContinuousCurrent: 2}.Loading(energy.Winding{}, energy.Trace{})
	requirePaths(t, err, "drive.peakCurrent", "winding", "trace.torque")
	for path, d := range map[string]func(float64) energy.Drive{
		"continuousCurrent": func(v float64) energy.Drive { return energy.Drive{ContinuousCurrent: v} },
		"peakCurrent":       func(v float64) energy.Drive { return energy.Drive{PeakCurrent: v} },
		"modulationLimit":   func(v float64) energy.Drive { return energy.Drive{ModulationLimit: v} },
	} {
		require.NoError(t, d(0).Validate())
		requirePaths(t, d(-1).Validate(), path)
		for _, v := range bad {
			requirePaths(t, d(v).Validate(), path)
		}
	}
}

// TestHeatLoading: 2 N·m at 100 rad/s with 0.1 + 0.002·100 N·m of drag is 2.3 N·m of
// electromagnetic torque, (2.3/Km)² of copper loss and 30 W of drag.
func TestHeatLoading(t *testing.T) {
	a := electric(t, energy.Axis{
		Load:      energy.Load{Inertia: 1, External: 2},
		Mechanism: energy.Rotary{Efficiency: 1},
		Motor:     energy.Motor{DragTorque: 0.1, DragPerSpeed: 0.002, ContinuousTorque: 3},
	})
	km := a.Motor.Winding.Km()
	tr := trace(t, a, steady(t, 100, 2))
	l := ok[energy.Loading](t)(a.Motor.HeatLoading(tr))
	requireNear(t, 2.3*2.3/(km*km)+30, l.Value, 1e-13, "heat")
	requireNear(t, 3.1*3.1/(km*km), l.Limit, 1e-13, "permitted")
	// At the continuous torque of the limit curve the heat is just permitted.
	limit := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(a.Motor, energy.Drive{ModulationLimit: 1}, 300))
	r, there := limit.Continuous(100)
	require.True(t, there)
	a.Load.External = r.Highest
	l = ok[energy.Loading](t)(a.Motor.HeatLoading(trace(t, a, steady(t, 100, 2))))
	requireNear(t, 1, l.Ratio, 1e-12, "heat at the limit")

	a.Motor.ContinuousTorque = 0
	_, err := a.Motor.HeatLoading(energy.Trace{})
	requirePaths(t, err, "motor.continuousTorque", "trace.torque", "trace.ratedTorque", "trace.speed")
}
