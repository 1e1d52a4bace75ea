package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"github.com/stretchr/testify/require"
)

// TestOneMotorInEveryConvention enters one motor as different sheets would print it.
// It has 1.2 ohm per phase in star, 2.4 ohm line to line, and 0.6 N·m per ampere RMS.
// At 3 N·m: 5 A rms, 5√2 A crest; copper loss 3·5²·1.2 = 90 W, Km = 3/√90.
func TestOneMotorInEveryConvention(t *testing.T) {
	km := 3 / math.Sqrt(90)
	for name, make := range map[string]func() (energy.Winding, error){
		"RMS, phase":          func() (energy.Winding, error) { return energy.SinusoidalRMS(0.6, energy.PerPhase(1.2), 25) },
		"RMS, line to line":   func() (energy.Winding, error) { return energy.SinusoidalRMS(0.6, energy.LineToLine(2.4), 25) },
		"RMS, motor constant": func() (energy.Winding, error) { return energy.SinusoidalRMS(0.6, energy.MotorConstant(km), 25) },
		"crest, phase": func() (energy.Winding, error) {
			return energy.SinusoidalPeak(3/(5*math.Sqrt2), energy.PerPhase(1.2), 25)
		},
		"crest, line to line": func() (energy.Winding, error) {
			return energy.SinusoidalPeak(3/(5*math.Sqrt2), energy.LineToLine(2.4), 25)
		},
		"crest, motor constant": func() (energy.Winding, error) {
			return energy.SinusoidalPeak(3/(5*math.Sqrt2), energy.MotorConstant(km), 25)
		},
	} {
		w, err := make()
		require.NoError(t, err, name)
		requireNear(t, km, w.Km(), 1e-14, name+": Km")
		requireNear(t, 0.6, w.Kt(), 1e-14, name+": Kt")
		require.Equal(t, 25.0, w.Temperature(), name)
		require.NoError(t, w.Validate(), name)
	}
}

// TestDirectCurrent: 4 A through 2.5 ohm are 40 W, whether 2.5 ohm is measured at the
// terminals or is twice a phase; at 0.5 N·m/A that is 2 N·m, so Km = 2/√40.
func TestDirectCurrent(t *testing.T) {
	for _, c := range []energy.Copper{energy.LineToLine(2.5), energy.PerPhase(1.25), energy.MotorConstant(2 / math.Sqrt(40))} {
		w, err := energy.DirectCurrent(0.5, c, 25)
		require.NoError(t, err)
		requireNear(t, 2/math.Sqrt(40), w.Km(), 1e-14, "Km")
		require.Equal(t, 0.5, w.Kt())
	}
}

// TestWindingAt: copper of 25 °C at 155 °C has (234.5+155)/(234.5+25) = 1.500963… times the
// resistance. There and back is where it was.
func TestWindingAt(t *testing.T) {
	w, err := energy.SinusoidalRMS(0.6, energy.PerPhase(1.2), 25)
	require.NoError(t, err)
	hot, err := w.At(155)
	require.NoError(t, err)
	requireNear(t, 389.5/259.5, math.Pow(w.Km()/hot.Km(), 2), 1e-14, "resistance")
	require.Equal(t, w.Kt(), hot.Kt())
	require.Equal(t, 155.0, hot.Temperature())
	back, err := hot.At(25)
	require.NoError(t, err)
	requireNear(t, w.Km(), back.Km(), 1e-14, "there and back")
}

func TestAxisAtWinding(t *testing.T) {
	a := beltAxis(t)
	hot, err := a.AtWinding(120)
	require.NoError(t, err)
	require.Equal(t, 25.0, a.Motor.Winding.Temperature(), "the axis itself stays")
	m := sCurve(t, 0.5, 0.03, 0.07, 0.15)
	cold, warm := trace(t, a, m), trace(t, hot, m)
	requireNear(t, cold.Book.Copper*(234.5+120)/(234.5+25), warm.Book.Copper, 1e-12, "copper loss")
	requireNear(t, cold.Torque.RMS(), warm.Torque.RMS(), 1e-14, "torque")
	requireNear(t, cold.Book.Drive, warm.Book.Drive, 1e-14, "drive loss")
}
