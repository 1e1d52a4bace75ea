package energy_test

import (
	"math"
	"testing"

	"example.com/headroom/energy"
	"example.com/headroom/profile"
	"github.com/stretchr/testify/require"
)

// fullSheet is one invented motor in all conventions at once. Its flux gives 0.4 V·s/rad of the
// crest of a phase; 0.6 ohm and 2 mH per phase; 8 A rms at a stall torque of 3/2 · 0.4 · 8 √2.
func fullSheet() energy.Sheet {
	const e = 0.4
	kt := 1.5 * e * math.Sqrt2
	return energy.Sheet{
		TorquePerRMSAmpere: kt, TorquePerPeakAmpere: 1.5 * e,
		VoltagePhasePeak: e, VoltagePhaseRMS: e / math.Sqrt2,
		VoltageLineToLinePeak: e * math.Sqrt(3), VoltageLineToLineRMS: e * math.Sqrt(1.5),
		ResistancePerPhase: 0.6, ResistanceLineToLine: 1.2, MotorConstant: kt / math.Sqrt(1.8),
		InductancePerPhase: 2e-3, InductanceLineToLine: 4e-3, PolePairs: 5, Temperature: 20,
		StallTorque: 8 * kt, StallCurrentRMS: 8, StallCurrentPeak: 8 * math.Sqrt2,
		RatedTorque: 6.5 * kt, RatedCurrentRMS: 7, RatedCurrentPeak: 7 * math.Sqrt2,
		RatedSpeed: 300, RatedPower: 6.5 * kt * 300,
	}
}

// clearedBut returns the sheet with only the named fields of it, and those that every sheet needs.
func clearedBut(keep func(to, from *energy.Sheet)) energy.Sheet {
	from := fullSheet()
	to := energy.Sheet{ResistanceLineToLine: 1.2, Temperature: 20}
	keep(&to, &from)
	return to
}

func TestSheetInEveryConvention(t *testing.T) {
	require.NoError(t, errOf(fullSheet().Winding()))
	kt := 0.6 * math.Sqrt2
	for name, s := range map[string]energy.Sheet{
		"all":              fullSheet(),
		"torque RMS":       clearedBut(func(to, from *energy.Sheet) { to.TorquePerRMSAmpere = from.TorquePerRMSAmpere }),
		"torque crest":     clearedBut(func(to, from *energy.Sheet) { to.TorquePerPeakAmpere = from.TorquePerPeakAmpere }),
		"phase crest":      clearedBut(func(to, from *energy.Sheet) { to.VoltagePhasePeak = from.VoltagePhasePeak }),
		"phase RMS":        clearedBut(func(to, from *energy.Sheet) { to.VoltagePhaseRMS = from.VoltagePhaseRMS }),
		"line crest":       clearedBut(func(to, from *energy.Sheet) { to.VoltageLineToLinePeak = from.VoltageLineToLinePeak }),
		"line RMS":         clearedBut(func(to, from *energy.Sheet) { to.VoltageLineToLineRMS = from.VoltageLineToLineRMS }),
		"stall RMS":        clearedBut(func(to, from *energy.Sheet) { to.StallTorque, to.StallCurrentRMS = from.StallTorque, 8 }),
		"stall crest":      clearedBut(func(to, from *energy.Sheet) { to.StallTorque, to.StallCurrentPeak = from.StallTorque, 8*math.Sqrt2 }),
		"phase resistance": clearedBut(func(to, from *energy.Sheet) { *to = *from; to.ResistanceLineToLine, to.MotorConstant = 0, 0 }),
		"motor constant": clearedBut(func(to, from *energy.Sheet) {
			*to = *from
			to.ResistanceLineToLine, to.ResistancePerPhase = 0, 0
		}),
	} {
		w := ok[energy.Winding](t)(s.Winding())
		requireNear(t, kt, w.Kt(), 1e-14, name+": Kt")
		requireNear(t, kt/math.Sqrt(1.8), w.Km(), 1e-14, name+": Km")
		requireNear(t, 0.4*math.Sqrt(1.5), w.VoltageConstant(), 1e-14, name+": Ke")
		requireNear(t, 1.2, w.ResistanceLineToLine(), 1e-14, name+": R")
		require.True(t, w.Sinusoidal())
	}
	dc := energy.Sheet{VoltageDC: 0.5, TorquePerDCAmpere: 0.5, StallTorque: 5, StallCurrentDC: 10, RatedTorque: 4, RatedCurrentDC: 8.3,
		ResistanceLineToLine: 2.5, ResistancePerPhase: 1.25, MotorConstant: 2 / math.Sqrt(40), Temperature: 20}
	w := ok[energy.Winding](t)(dc.Winding())
	requireNear(t, 0.5, w.Kt(), 1e-14, "DC: Kt")
	requireNear(t, 0.5, w.VoltageConstant(), 1e-14, "DC: Ke")
	requireNear(t, 2/math.Sqrt(40), w.Km(), 1e-14, "DC: Km")
	require.False(t, w.Sinusoidal())
}

func errOf[T any](_ T, err error) error { return err }

// TestSheetVoltageConstantAsGiven: 5 % apart, each is used for what it was measured for.
func TestSheetVoltageConstantAsGiven(t *testing.T) {
	s := smallSheet()
	s.VoltageLineToLineRMS = 0.5 / math.Sqrt(3) * 1.05
	w := ok[energy.Winding](t)(s.Winding())
	require.Equal(t, 0.5, w.Kt())
	requireNear(t, s.VoltageLineToLineRMS, w.VoltageConstant(), 1e-14, "Ke")
	s.Tolerance = 0.04
	requirePaths(t, errOf(s.Winding()), "voltageLineToLineRMS")
	s.Tolerance = 0.051
	require.NoError(t, errOf(s.Winding()))
}

// TestSheetContradictions enters figures in the field of another convention.
func TestSheetContradictions(t *testing.T) {
	kt := 0.6 * math.Sqrt2
	for name, tc := range map[string]struct {
		sheet        func(s *energy.Sheet)
		path         string
		factor, says string
	}{
		"torque per crest ampere entered as RMS": {func(s *energy.Sheet) { s.TorquePerRMSAmpere, s.VoltageLineToLineRMS = 0.6, 0.4*math.Sqrt(1.5) },
			"voltageLineToLineRMS", "factor of 1.41", "torquePerRMSAmpere is per ampere crest"},
		"torque per RMS ampere entered as crest": {func(s *energy.Sheet) { s.TorquePerPeakAmpere, s.VoltageLineToLineRMS = kt, 0.4*math.Sqrt(1.5) },
			"voltageLineToLineRMS", "factor of 1.41", "torquePerPeakAmpere is per ampere RMS"},
		"line crest entered as RMS": {func(s *energy.Sheet) { s.TorquePerRMSAmpere, s.VoltageLineToLineRMS = kt, 0.4*math.Sqrt(3) },
			"voltageLineToLineRMS", "factor of 1.41", "voltageLineToLineRMS is the crest line to line"},
		"phase entered as line to line": {func(s *energy.Sheet) { s.TorquePerRMSAmpere, s.VoltageLineToLineRMS = kt, 0.4/math.Sqrt2 },
			"voltageLineToLineRMS", "factor of 1.73", "voltageLineToLineRMS is RMS of a phase"},
		"volts per 1000 rpm": {func(s *energy.Sheet) {
			s.TorquePerRMSAmpere, s.VoltageLineToLineRMS = kt, 0.4*math.Sqrt(1.5)/energy.PerThousandRPM
		},
			"voltageLineToLineRMS", "factor of 105", "voltageLineToLineRMS is per 1000 rpm"},
		"crest to crest": {func(s *energy.Sheet) { s.TorquePerRMSAmpere, s.VoltageLineToLinePeak = kt, 0.8*math.Sqrt(3) },
			"voltageLineToLinePeak", "factor of 2", "voltageLineToLinePeak is from crest to crest"},
		"electrical speed": {func(s *energy.Sheet) { s.TorquePerRMSAmpere, s.VoltagePhasePeak, s.PolePairs = kt, 0.4/7, 7 },
			"voltagePhasePeak", "factor of 7", "voltagePhasePeak is per electrical rad/s"},
		"3/2 forgotten": {func(s *energy.Sheet) { s.TorquePerPeakAmpere, s.VoltagePhasePeak = 0.4, 0.4 },
			"voltagePhasePeak", "factor of 1.5", "torquePerPeakAmpere is the crest voltage of a phase per speed"},
		"√3 forgotten": {func(s *energy.Sheet) {
			s.TorquePerRMSAmpere, s.VoltageLineToLineRMS = 0.4*math.Sqrt(1.5), 0.4*math.Sqrt(1.5)
		},
			"voltageLineToLineRMS", "factor of 1.73", "torquePerRMSAmpere is the RMS voltage line to line per speed"},
		"motor constant, phase resistance as line to line": {func(s *energy.Sheet) {
			s.TorquePerRMSAmpere, s.ResistanceLineToLine, s.MotorConstant = kt, 0.6, kt/math.Sqrt(1.8)
		},
			"motorConstant", "factor of 1.41", "resistanceLineToLine is per phase"},
		"motor constant without the 3/2": {func(s *energy.Sheet) { s.TorquePerRMSAmpere, s.MotorConstant = kt, kt/math.Sqrt(1.2) },
			"motorConstant", "factor of 1.22", "motorConstant is torque per ampere RMS over the root of the resistance line to line"},
		"stall current in crest": {func(s *energy.Sheet) { s.TorquePerRMSAmpere, s.StallTorque, s.StallCurrentRMS = kt, 8*kt, 8*math.Sqrt2 },
			"stallTorque", "factor of 1.41", "stallCurrentRMS is the crest"},
		"rated current in crest": {func(s *energy.Sheet) { s.TorquePerRMSAmpere, s.RatedTorque, s.RatedCurrentRMS = kt, 8*kt, 8*math.Sqrt2 },
			"ratedTorque", "factor of 1.41", "ratedCurrentRMS is the crest"},
		"two resistances": {func(s *energy.Sheet) { s.TorquePerRMSAmpere, s.ResistancePerPhase = kt, 1.2 },
			"resistancePerPhase", "factor of 2", "resistancePerPhase is line to line"},
		"two inductances": {func(s *energy.Sheet) {
			s.TorquePerRMSAmpere, s.InductancePerPhase, s.InductanceLineToLine = kt, 1e-3, 1e-3
		},
			"inductancePerPhase", "factor of 2", "inductanceLineToLine is per phase"},
		"rated speed in rpm": {func(s *energy.Sheet) {
			s.TorquePerRMSAmpere, s.RatedTorque, s.RatedSpeed, s.RatedPower = kt, 3, 3000, 942
		},
			"ratedPower", "factor of 9.55", "ratedSpeed is in rpm"},
		"rated above stall": {func(s *energy.Sheet) { s.TorquePerRMSAmpere, s.RatedTorque, s.StallTorque = kt, 3, 2 },
			"ratedTorque", "stall torque of 2", ""},
		"no known factor": {func(s *energy.Sheet) { s.TorquePerRMSAmpere, s.VoltagePhaseRMS = kt, 50 },
			"voltagePhaseRMS", "factor of 177", "no other usual reading"},
		"block commutation, phase voltage": {func(s *energy.Sheet) { s.TorquePerDCAmpere, s.VoltageDC = 0.5, 0.25 },
			"voltageDC", "factor of 2", "voltageDC is that of one phase of two"},
	} {
		t.Run(name, func(t *testing.T) {
			s := energy.Sheet{ResistanceLineToLine: 1.2, Temperature: 20}
			tc.sheet(&s)
			w, err := s.Winding()
			requirePaths(t, err, tc.path)
			require.Contains(t, err.Error(), tc.factor)
			require.Contains(t, err.Error(), tc.says)
			require.Equal(t, energy.Winding{}, w)
		})
	}
}

func TestBadSheets(t *testing.T) {
	requirePaths(t, errOf(energy.Sheet{}.Winding()), "temperature", "resistanceLineToLine", "torquePerRMSAmpere")
	s := smallSheet()
	s.VoltageDC = 0.5
	requirePaths(t, errOf(s.Winding()), "voltageDC")
	s = smallSheet()
	s.PolePairs = -1
	requirePaths(t, errOf(s.Winding()), "polePairs")
	s.PolePairs = 1 << 40
	requirePaths(t, errOf(s.Winding()), "polePairs")
	s = smallSheet()
	s.PolePitch = 0.02
	requirePaths(t, errOf(s.Winding()), "polePitch")
	s = energy.Sheet{RatedTorque: 3, RatedCurrentRMS: 4, ResistancePerPhase: 1, Temperature: 20}
	requirePaths(t, errOf(s.Winding()), "torquePerRMSAmpere")
	s = smallSheet()
	s.Tolerance = 0.3
	requirePaths(t, errOf(s.Winding()), "tolerance")
	for path, set := range map[string]func(*energy.Sheet, float64){
		"torquePerRMSAmpere":    func(s *energy.Sheet, v float64) { s.TorquePerRMSAmpere = v },
		"torquePerPeakAmpere":   func(s *energy.Sheet, v float64) { s.TorquePerPeakAmpere = v },
		"voltageLineToLineRMS":  func(s *energy.Sheet, v float64) { s.VoltageLineToLineRMS = v },
		"voltageLineToLinePeak": func(s *energy.Sheet, v float64) { s.VoltageLineToLinePeak = v },
		"voltagePhaseRMS":       func(s *energy.Sheet, v float64) { s.VoltagePhaseRMS = v },
		"voltagePhasePeak":      func(s *energy.Sheet, v float64) { s.VoltagePhasePeak = v },
		"resistanceLineToLine":  func(s *energy.Sheet, v float64) { s.ResistanceLineToLine = v },
		"resistancePerPhase":    func(s *energy.Sheet, v float64) { s.ResistancePerPhase = v },
		"motorConstant":         func(s *energy.Sheet, v float64) { s.MotorConstant = v },
		"temperature":           func(s *energy.Sheet, v float64) { s.Temperature = v },
		"inductanceLineToLine":  func(s *energy.Sheet, v float64) { s.InductanceLineToLine = v },
		"inductancePerPhase":    func(s *energy.Sheet, v float64) { s.InductancePerPhase = v },
		"polePitch":             func(s *energy.Sheet, v float64) { s.PolePitch, s.PolePairs = v, 0 },
		"stallTorque":           func(s *energy.Sheet, v float64) { s.StallTorque = v },
		"stallCurrentRMS":       func(s *energy.Sheet, v float64) { s.StallCurrentRMS = v },
		"stallCurrentPeak":      func(s *energy.Sheet, v float64) { s.StallCurrentPeak = v },
		"ratedTorque":           func(s *energy.Sheet, v float64) { s.RatedTorque = v },
		"ratedCurrentRMS":       func(s *energy.Sheet, v float64) { s.RatedCurrentRMS = v },
		"ratedCurrentPeak":      func(s *energy.Sheet, v float64) { s.RatedCurrentPeak = v },
		"ratedSpeed":            func(s *energy.Sheet, v float64) { s.RatedSpeed = v },
		"ratedPower":            func(s *energy.Sheet, v float64) { s.RatedPower = v },
		"magnetCoefficient":     func(s *energy.Sheet, v float64) { s.MagnetCoefficient = v },
		"tolerance":             func(s *energy.Sheet, v float64) { s.Tolerance = v },
	} {
		for _, v := range bad {
			s := fullSheet()
			set(&s, v)
			require.Contains(t, paths(errOf(s.Winding())), path, "%g", v)
		}
		if path == "temperature" {
			continue
		}
		s := fullSheet()
		set(&s, -0.5)
		require.Contains(t, paths(errOf(s.Winding())), path)
	}
	for path, set := range map[string]func(*energy.Sheet, float64){
		"torquePerDCAmpere": func(s *energy.Sheet, v float64) { s.TorquePerDCAmpere = v },
		"voltageDC":         func(s *energy.Sheet, v float64) { s.VoltageDC = v },
		"stallCurrentDC":    func(s *energy.Sheet, v float64) { s.StallCurrentDC = v },
		"ratedCurrentDC":    func(s *energy.Sheet, v float64) { s.RatedCurrentDC = v },
	} {
		for _, v := range bad {
			s := energy.Sheet{ResistanceLineToLine: 1.2, Temperature: 20}
			set(&s, v)
			require.Contains(t, paths(errOf(s.Winding())), path, "%g", v)
		}
	}
}

// FuzzSheet: a sheet is refused with input errors or makes a winding that agrees with it.
func FuzzSheet(f *testing.F) {
	f.Add(0.5, 0., 0., 0., 1.2, 0., 0., 4e-3, 4, 20., 5., 10., -0.0011, 0., 80.)
	f.Add(0., 0.5, 0., 0.3, 0., 0.6, 0.4, 0., 0, 20., 0., 0., 0., 0.2, 80.)
	f.Add(0., 0., 0.5, 0., 1e-15, 0., 1e12, 1e12, 1000, -100., 1e12, 1e-15, -0.01, 0.01, 300.)
	f.Fuzz(func(t *testing.T, rms, crest, dc, volts, lineToLine, perPhase, km, henry float64, pairs int, temperature, stall, current, magnets, tolerance, other float64) {
		s := energy.Sheet{TorquePerRMSAmpere: rms, TorquePerPeakAmpere: crest, TorquePerDCAmpere: dc, VoltageLineToLineRMS: volts,
			ResistanceLineToLine: lineToLine, ResistancePerPhase: perPhase, MotorConstant: km, InductanceLineToLine: henry,
			PolePairs: pairs, Temperature: temperature, StallTorque: stall, MagnetCoefficient: magnets, Tolerance: tolerance}
		if dc != 0 {
			s.StallCurrentDC = current
		} else {
			s.StallCurrentRMS = current
		}
		w, err := s.Winding()
		if err == nil {
			w, err = w.At(other)
		}
		if err == nil && magnets != 0 {
			w, err = w.AtMagnets(other)
		}
		if err != nil {
			if len(profile.InputErrors(err)) == 0 {
				t.Fatal(err)
			}
			return
		}
		for _, v := range []float64{w.Km(), w.Kt(), w.ResistanceLineToLine(), w.VoltageConstant()} {
			if !(v > 0) || math.IsInf(v, 0) {
				t.Fatalf("%+v: %+v", s, w)
			}
		}
		most := math.Sqrt(3) * 1.2 * (1 + 1e-9)
		if r := w.Kt() / w.VoltageConstant(); !(r >= 1/1.2-1e-9 && r <= most) {
			t.Fatalf("Kt is %g Ke: %+v", r, s)
		}
	})
}
