package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"github.com/stretchr/testify/require"
)

// Published values; the words for their status are those of published_test.go.

func TestPublishedConstantsOfDirectCurrentMotor(t *testing.T) {
	// Fitzgerald, Kingsley and Umans, Electric Machinery, 6th ed., Ex. 7.9 p. 389, [F] LOOKED UP-2: a permanent-magnet motor
	// with 1.03 ohm draws 1.25 A from 50 V without load at 2100 rpm: Km 0.22 V·s/rad, rotational loss 61 W. At 48 V and
	// 1700 rpm the book has 274 W at the shaft with the constant rounded to 0.22; the unrounded one gives 267.1 W.
	w0 := 2100 * rpm
	e := 50 - 1.25*1.03
	requireNear(t, 0.22, e/w0, 1e-2, "constant")
	drag := e * 1.25 / w0
	requireNear(t, 61, drag*w0, 5e-3, "rotational loss")
	m := energy.Motor{DragTorque: drag, Winding: ok[energy.Winding](t)(energy.DirectCurrent(e/w0, energy.LineToLine(1.03), 20))}
	limit := func(volts float64) energy.TorqueLimit {
		return ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(m, energy.Drive{ModulationLimit: 1}, volts))
	}
	free, there := limit(50).SpeedAt(0)
	require.True(t, there)
	requireNear(t, w0, free, 1e-12, "speed without load")
	// The book takes the rotational loss as 61 W at 1700 rpm too.
	w1 := 1700 * rpm
	m.DragTorque = drag * w0 / w1
	r, there := limit(48).Peak(w1)
	require.True(t, there)
	requireNear(t, 267.1, r.Highest*w1, 1e-3, "shaft power, unrounded")
	requireNear(t, 274, r.Highest*w1, 4e-2, "shaft power as printed")
}

func TestPublishedTorqueAndVoltageConstant(t *testing.T) {
	// Kt [N·m/A rms] = 0.0165399 times Ke [V rms line to line per 1000 rpm], from √3 E I = T w; own.
	s := energy.Sheet{VoltageLineToLineRMS: 1 * energy.PerThousandRPM, ResistanceLineToLine: 1, Temperature: 20}
	require.InDelta(t, 0.0165399, ok[energy.Winding](t)(s.Winding()).Kt(), 5e-8, "Kt per Ke, as printed")
	// For direct current Kt in ounce-inch per ampere is 1.3524 times Ke in volts per 1000 rpm: common practice, no source, from
	// conversions rounded to four digits.
	s = energy.Sheet{VoltageDC: 1 * energy.PerThousandRPM, ResistanceLineToLine: 1, Temperature: 20}
	requireNear(t, 1.3524, ok[energy.Winding](t)(s.Winding()).Kt()/(pound/16*inch), 1e-4, "ounce-inch per volt")
}

func TestPublishedCopperAndStrayLoss(t *testing.T) {
	// Langsdorf, Theory of Alternating Current Machinery, Ex. 1.15 p. 33, [F] LOOKED UP-2: 504 W ohmic and 126 W of eddy currents at
	// 20 °C are 717 W at 75 °C: the one grows with the resistance, the other falls with it.
	s := smallSheet()
	s.Temperature = 20
	cold := ok[energy.Winding](t)(s.Winding())
	hot := ok[energy.Winding](t)(cold.At(75))
	k := hot.ResistanceLineToLine() / cold.ResistanceLineToLine()
	requireNear(t, 613, 504*k, 1e-3, "ohmic")
	requireNear(t, 717, 504*k+126/k, 1e-3, "load loss")
	// IEC 60034-1, 8.6.2 (rule FROM MEMORY): (235+θ2)/(235+θ1); the coefficients that follow, 1/255 at 20 °C, are LOOKED UP in the Modelica
	// Standard Library, commit b756f9de, Electrical/Machines/Thermal/Constants. 234.5 differs from it by 2e-3.
	warm := ok[energy.Winding](t)(cold.At(21))
	requireNear(t, 3.920e-3, warm.ResistanceLineToLine()/cold.ResistanceLineToLine()-1, 2.5e-3, "coefficient at 20 °C")
	// The same rule over a temperature rise from 25 to 155 °C.
	s.Temperature = 25
	cold = ok[energy.Winding](t)(s.Winding())
	hot = ok[energy.Winding](t)(cold.At(155))
	requireNear(t, 390./260, hot.ResistanceLineToLine()/cold.ResistanceLineToLine(), 7e-4, "resistance at 155 °C")
}

func TestPublishedModulation(t *testing.T) {
	// Holmes and Lipo, Pulse Width Modulation for Power Converters; Bose, Modern Power Electronics and AC Drives: of the
	// fundamental of the square wave, a plain sine reaches 78.5 % and space vectors 90.7 %, 15.5 % more. FROM MEMORY.
	requireNear(t, 0.785, energy.PlainSine/energy.SquareWave, 1e-3, "sine")
	requireNear(t, 0.907, energy.SpaceVector/energy.SquareWave, 1e-3, "space vectors")
	requireNear(t, 1.155, energy.SpaceVector/energy.PlainSine, 1e-3, "gain")
	// On a bus of 600 V: 300 V of the crest of a phase with a sine, 346.4 V, and 382.0 V.
	m := energy.Motor{Winding: ok[energy.Winding](t)(smallSheet().Winding())}
	crest := func(limit float64) float64 {
		l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(m, energy.Drive{ModulationLimit: limit}, 600))
		w, there := l.SpeedAt(0)
		require.True(t, there)
		return w * m.Winding.VoltageConstant() * math.Sqrt(2./3)
	}
	requireNear(t, 300, crest(energy.PlainSine), 1e-12, "sine")
	requireNear(t, 346.4, crest(energy.SpaceVector), 1e-4, "space vectors")
	requireNear(t, 382.0, crest(energy.SquareWave), 2e-4, "square wave")
}

func TestPublishedSpeedUnderLoad(t *testing.T) {
	// Chapman, Electric Machinery Fundamentals, dc motors, Ex. 1: 250 V, 1200 rpm without load, 0.06 ohm. With an armature current
	// of 95, 195, 295 A it runs at 1173, 1144, 1115 rpm with 190, 388, 587 N·m. FROM MEMORY.
	m := energy.Motor{Winding: ok[energy.Winding](t)(energy.DirectCurrent(250/(1200*rpm), energy.LineToLine(0.06), 20))}
	l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(m, energy.Drive{ModulationLimit: 1}, 250))
	for _, tc := range []struct{ current, speed, torque float64 }{{95, 1173, 190}, {195, 1144, 388}, {295, 1115, 587}} {
		torque := tc.current * m.Winding.Kt()
		requireNear(t, tc.torque, torque, 7e-3, "torque") // 190 is rounded from 189
		w, there := l.SpeedAt(torque)
		require.True(t, there)
		require.InDelta(t, tc.speed, w/rpm, 0.7, "speed")
		r, _ := l.Peak(w)
		requireNear(t, torque, r.Highest, 1e-9, "the limit at that speed")
	}
}

func TestPublishedLightRunning(t *testing.T) {
	// Hughes, Electric Motors and Drives, ch. 3: 500 V, 1 ohm, light running 1040 rpm with 0.8 A, at full load of 20 A 1000 rpm and
	// 480 V of EMF, 9.6 kW electromagnetic. FROM MEMORY.
	w0 := 1040 * rpm
	e := 500 - 0.8
	m := energy.Motor{DragTorque: 0.8 * e / w0, Winding: ok[energy.Winding](t)(energy.DirectCurrent(e/w0, energy.LineToLine(1), 20))}
	l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(m, energy.Drive{ModulationLimit: 1}, 500))
	w, there := l.SpeedAt(19.2 * m.Winding.Kt()) // the drag takes the rest of the 20 A
	require.True(t, there)
	requireNear(t, 1000, w/rpm, 1e-4, "speed")
	requireNear(t, 480, w*m.Winding.VoltageConstant(), 1e-4, "EMF")
	requireNear(t, 9600, w*20*m.Winding.Kt(), 1e-4, "power")
	// The voltage dropped to 400 V at once: 80 A flow back.
	l = ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(energy.Motor{Winding: m.Winding}, energy.Drive{ModulationLimit: 1}, 400))
	r, _ := l.Peak(w)
	requireNear(t, -80, r.Highest/m.Winding.Kt(), 1e-3, "current")
}

func TestPublishedSmallMotor(t *testing.T) {
	// Krause and Wasynczuk, Electromechanical Motion Devices, permanent-magnet dc motor: 6 V, 7 ohm, 2 ounce-inch per ampere =
	// 1.41e-2 V·s/rad; without load 3350 rpm and 0.15 A, which is a viscous drag of 6.04e-6 N·m·s/rad. FROM MEMORY.
	s := energy.Sheet{TorquePerDCAmpere: 2. / 16 * pound * inch, VoltageDC: 1.41e-2, ResistanceLineToLine: 7, InductanceLineToLine: 0.12, Temperature: 20, Tolerance: 2e-3}
	m := energy.Motor{DragPerSpeed: 6.04e-6, Winding: ok[energy.Winding](t)(s.Winding())}
	l := ok[energy.TorqueLimit](t)(energy.NewTorqueLimit(m, energy.Drive{ModulationLimit: 1}, 6))
	w, there := l.SpeedAt(0)
	require.True(t, there)
	requireNear(t, 3350, w/rpm, 2e-3, "speed") // three digits
	requireNear(t, 0.15, w*m.DragPerSpeed/m.Winding.Kt(), 5e-3, "current")
}

func TestPublishedThreePhaseMotor(t *testing.T) {
	// Krause, Wasynczuk and Sudhoff, Analysis of Electric Machinery, brushless dc machine: 4 poles, 3.4 ohm per phase; at 1000 rpm the
	// voltage between two windings is 60 V from crest to crest: a flux linkage of 0.0827 V·s. The torque is 3/2 · 2 pole
	// pairs · 0.0827 per ampere of iq. FROM MEMORY.
	s := energy.Sheet{VoltageLineToLinePeak: 30 * energy.PerThousandRPM, ResistancePerPhase: 3.4, InductancePerPhase: 12.1e-3, PolePairs: 2, Temperature: 20}
	w := ok[energy.Winding](t)(s.Winding())
	requireNear(t, 0.0827, w.VoltageConstant()*math.Sqrt(2./3)/2, 2e-4, "flux linkage")
	requireNear(t, 1.5*2*0.0827, w.Kt()/math.Sqrt2, 2e-4, "torque per ampere of the crest")
	// 60 V taken for the crest is found out by the torque.
	s.VoltageLineToLinePeak *= 2
	s.TorquePerPeakAmpere = 1.5 * 2 * 0.0827
	_, err := s.Winding()
	requirePaths(t, err, "voltageLineToLinePeak")
	require.ErrorContains(t, err, "voltageLineToLinePeak is from crest to crest")
}
