package energy

import (
	"math"

	"example.com/headroom/profile"
)

// Sheet is what the data sheet of a motor says, in whatever convention it has: fill in
// the fields that it gives and leave the others zero, which means not given. It must
// give a torque constant, a voltage constant or a stall torque with its current; a
// resistance or a motor constant; and the temperature that they hold for. Whatever
// it gives twice is held against itself, since a constant in the wrong convention is
// wrong by a factor of 1.2 to 3 and looks reasonable: see [Sheet.Winding].
//
// Fields of the first kind below belong to three phases with sinusoidal currents, those
// with DC in their name to a brushed motor, or to three phases of which two at a time
// carry a direct current. A sheet cannot mix both. For a linear motor, see [Direct],
// read N for N·m and m/s for rad/s throughout.
type Sheet struct {
	TorquePerRMSAmpere  float64 // torque constant [N·m/A] per ampere RMS of the line current
	TorquePerPeakAmpere float64 // [N·m/A] per ampere of the crest of the line current
	TorquePerDCAmpere   float64 // [N·m/A] per ampere of direct current

	// Induced voltage per mechanical speed [V·s/rad]; volts per 1000 rpm times
	// [PerThousandRPM].
	VoltageLineToLineRMS  float64 // RMS between two terminals
	VoltageLineToLinePeak float64 // crest between two terminals, from zero
	VoltagePhaseRMS       float64 // RMS of a phase in star, terminal to star point
	VoltagePhasePeak      float64 // crest of a phase in star, from zero
	VoltageDC             float64 // between the terminals of a brushed motor, or of the two phases that carry current

	ResistanceLineToLine float64 // [ohm] between two terminals
	ResistancePerPhase   float64 // [ohm] of one phase in star
	MotorConstant        float64 // torque per root of copper loss [N·m/√W]
	Temperature          float64 // of the copper for these and of the magnets for the constants [°C], -100 to 300, not 0

	InductanceLineToLine float64 // [H] between two terminals
	InductancePerPhase   float64 // [H] of one phase in star, half of line to line
	PolePairs            int     // half the number of poles, at most 1000
	PolePitch            float64 // of a linear motor instead of PolePairs: from one pole to the next, opposite one [m]

	StallTorque      float64 // [N·m] at standstill with the stall current
	StallCurrentRMS  float64 // [A]
	StallCurrentPeak float64 // crest [A]
	StallCurrentDC   float64 // [A]

	RatedTorque      float64 // [N·m] at rated speed with the rated current, at most StallTorque
	RatedCurrentRMS  float64 // [A]
	RatedCurrentPeak float64 // crest [A]
	RatedCurrentDC   float64 // [A]
	RatedSpeed       float64 // [rad/s]
	RatedPower       float64 // at the shaft [W]

	MagnetCoefficient float64 // change of the flux per K [1/K], from -0.01 to below 0, such as -0.0011; see Winding.AtMagnets

	// Tolerance is the relative difference up to which figures that mean the same agree,
	// at most 0.2; 0: 0.1. Sheets give their constants to ±5 to ±10 % (common practice,
	// no source). The rated point has twice that, as drag and saturation take part of the
	// torque there.
	Tolerance float64
}

// PerThousandRPM turns what a sheet gives per 1000 rpm into per rad/s.
const PerThousandRPM = 60 / (2 * math.Pi * 1000)

const defaultTolerance = 0.1

// Winding returns the winding that the sheet describes, or an error that joins all
// faults. Figures that mean the same must agree within the tolerance, all told as
// torque per ampere (RMS with three sinusoidal phases):
//
//	torque constant     Kt, or √2 times that per ampere of the crest
//	voltage constant    √3 Ke line to line RMS, 3 Ke of a phase RMS; of crests 1/√2 of that
//	stall, rated point  torque/current
//	motor constant      Km √(3/2 R line to line)
//	direct current      Kt = Ke = torque/current = Km √R
//
// The first follows from 3/2 of crest voltage times crest current, or voltage times
// direct current, being mechanical power; the last from copper loss, see
// [SinusoidalRMS]. The fault of a contradiction names both figures, the factor between
// them, and which other reading of one of them would make them agree.
//
// [Winding.Kt] is the torque constant, or the first of voltage constant and stall point
// that is given. [Winding.VoltageConstant] is the voltage constant as given: within
// the tolerance each is used for what it was measured for. [Winding.Km] follows from
// resistance and Kt, and from MotorConstant only without a resistance.
func (s Sheet) Winding() (Winding, error) {
	var f profile.Faults
	s.validate(&f)
	if err := f.Err(); err != nil {
		return Winding{}, err
	}
	dc := s.directCurrent()
	claims := s.claims(dc)
	kt := claims[0].means()
	s.compare(&f, claims)
	if err := f.Err(); err != nil {
		return Winding{}, err
	}

	phases := 3.0
	if dc {
		phases = 2
	}
	copper := MotorConstant(s.MotorConstant)
	if s.ResistanceLineToLine > 0 {
		copper = LineToLine(s.ResistanceLineToLine)
	} else if s.ResistancePerPhase > 0 {
		copper = PerPhase(s.ResistancePerPhase)
	}
	w, err := newWinding(kt, kt, copper, phases, s.Temperature)
	if err != nil {
		f.Under("", err)
		return Winding{}, f.Err()
	}
	for _, c := range claims {
		if c.voltage {
			w.emf = c.means()
			if !dc {
				w.emf /= 1.5 * math.Sqrt2
			}
			break
		}
	}
	w.coil = s.InductancePerPhase
	if s.InductanceLineToLine > 0 {
		w.coil = s.InductanceLineToLine / 2
	}
	if dc {
		w.coil *= 2
	}
	w.pairs = float64(s.PolePairs)
	if s.PolePitch > 0 {
		w.pairs = math.Pi / s.PolePitch
	}
	w.weakening, w.magnets = s.MagnetCoefficient, s.Temperature
	return w, nil
}

// validate records a fault for every field outside its range and for what is missing.
func (s Sheet) validate(f *profile.Faults) {
	for _, x := range []struct {
		path  string
		value float64
		unit  string
	}{
		{"torquePerRMSAmpere", s.TorquePerRMSAmpere, "N·m/A"},
		{"torquePerPeakAmpere", s.TorquePerPeakAmpere, "N·m/A"},
		{"torquePerDCAmpere", s.TorquePerDCAmpere, "N·m/A"},
		{"voltageLineToLineRMS", s.VoltageLineToLineRMS, "V·s/rad"},
		{"voltageLineToLinePeak", s.VoltageLineToLinePeak, "V·s/rad"},
		{"voltagePhaseRMS", s.VoltagePhaseRMS, "V·s/rad"},
		{"voltagePhasePeak", s.VoltagePhasePeak, "V·s/rad"},
		{"voltageDC", s.VoltageDC, "V·s/rad"},
		{"resistanceLineToLine", s.ResistanceLineToLine, "ohm"},
		{"resistancePerPhase", s.ResistancePerPhase, "ohm"},
		{"motorConstant", s.MotorConstant, "N·m/√W"},
		{"inductanceLineToLine", s.InductanceLineToLine, "H"},
		{"inductancePerPhase", s.InductancePerPhase, "H"},
		{"polePitch", s.PolePitch, "m"},
		{"stallTorque", s.StallTorque, "N·m"},
		{"stallCurrentRMS", s.StallCurrentRMS, "A"},
		{"stallCurrentPeak", s.StallCurrentPeak, "A"},
		{"stallCurrentDC", s.StallCurrentDC, "A"},
		{"ratedTorque", s.RatedTorque, "N·m"},
		{"ratedCurrentRMS", s.RatedCurrentRMS, "A"},
		{"ratedCurrentPeak", s.RatedCurrentPeak, "A"},
		{"ratedCurrentDC", s.RatedCurrentDC, "A"},
		{"ratedSpeed", s.RatedSpeed, "rad/s"},
		{"ratedPower", s.RatedPower, "W"},
	} {
		if x.value != 0 { // NaN is not 0
			checkPositive(f, x.path, x.value, x.unit)
		}
	}
	if s.PolePairs < 0 || s.PolePairs > maxPolePairs {
		f.Add("polePairs", s.PolePairs, "from 1 to 1000, or 0 when not given")
	}
	if s.PolePairs != 0 && s.PolePitch != 0 {
		f.Add("polePitch", s.PolePitch, "either pole pairs or, of a linear motor, the pole pitch")
	}
	if s.MagnetCoefficient != 0 && !(s.MagnetCoefficient >= -0.01 && s.MagnetCoefficient <= -smallest) {
		f.Add("magnetCoefficient", s.MagnetCoefficient, "from -0.01 to below 0 per K, or 0 when not given")
	}
	checkWithin(f, "tolerance", s.Tolerance, 0, 0.2, "as a fraction")
	if s.Temperature == 0 {
		f.Add("temperature", nil, "the temperature of copper and magnets that the sheet holds for")
	} else {
		checkCopperTemperature(f, "temperature", s.Temperature)
	}
	if s.ResistanceLineToLine == 0 && s.ResistancePerPhase == 0 && s.MotorConstant == 0 {
		f.Add("resistanceLineToLine", nil, "a resistance or a motor constant")
	}
	s.validateKind(f)
}

const maxPolePairs = 1000

// validateKind records a fault when the sheet does not say, or contradicts itself on,
// what kind of current it is about.
func (s Sheet) validateKind(f *profile.Faults) {
	named := 0
	var direct []string
	for path, v := range map[string]float64{
		"torquePerDCAmpere": s.TorquePerDCAmpere, "voltageDC": s.VoltageDC,
		"stallCurrentDC": s.StallCurrentDC, "ratedCurrentDC": s.RatedCurrentDC} {
		if v != 0 {
			direct = append(direct, path)
		}
	}
	for _, v := range []float64{s.TorquePerRMSAmpere, s.TorquePerPeakAmpere, s.VoltageLineToLineRMS, s.VoltageLineToLinePeak,
		s.VoltagePhaseRMS, s.VoltagePhasePeak, s.StallCurrentRMS, s.StallCurrentPeak, s.RatedCurrentRMS, s.RatedCurrentPeak} {
		if v != 0 {
			named++
		}
	}
	if len(direct) > 0 && named > 0 {
		f.Add(least(direct), "beside figures of sinusoidal phases", "either direct current or three sinusoidal phases, not both")
		return
	}
	if len(s.claims(len(direct) > 0)) == 0 {
		f.Add("torquePerRMSAmpere", nil, "a torque constant, a voltage constant or a stall torque with its current, each in its own field")
	}
}

// least returns the first string of the alphabet, so that messages do not change.
func least(s []string) string {
	out := s[0]
	for _, x := range s {
		out = min(out, x)
	}
	return out
}

// directCurrent reports which kind a valid sheet is of.
func (s Sheet) directCurrent() bool {
	return s.TorquePerDCAmpere != 0 || s.VoltageDC != 0 || s.StallCurrentDC != 0 || s.RatedCurrentDC != 0
}
