package energy

import (
	"math"

	"example.com/headroom/profile"
)

// Drive is the power stage between bus and motor. It loses
//
//	Standby + LossPerAmp |I| + LossPerAmpSquared I²
//
// with the current I = torque/Kt in the unit of [Winding.Kt]: ampere RMS, or ampere
// of direct current. The linear term stands for voltage drops of junctions and for
// switching, the quadratic one for resistances. That form is common practice (no
// source). The zero value is a drive without loss and without limits.
type Drive struct {
	Standby           float64 // power while it is on [W], >= 0, if taken from the bus
	LossPerAmp        float64 // [W/A], >= 0
	LossPerAmpSquared float64 // [W/A²], >= 0

	ContinuousCurrent float64 // current that may last [A] in the unit of Winding.Kt, 0: not given
	PeakCurrent       float64 // highest current [A] in the unit of Winding.Kt, at least ContinuousCurrent; 0: not given

	// ModulationLimit says how much of the bus voltage the drive can put on the motor,
	// above 0. For three sinusoidal phases it is the crest of the highest phase
	// voltage over bus voltage/√3, so [SpaceVector] is 1 and [PlainSine] √3/2; with
	// direct current it is the highest mean voltage between the terminals over
	// the bus voltage, at most 1. Enter less for what dead times, shortest pulses and
	// the voltage drops of the switches take away. 0: not given, and what depends on
	// it is refused.
	ModulationLimit float64
}

// How far three phases can go, as [Drive.ModulationLimit]. The crest of the phase
// voltage is Vbus/√3 where the linear range of space-vector modulation, or of a sine
// with a third harmonic, ends; Vbus/2 with a plain sine; and that of the fundamental
// of a square wave is 2 Vbus/π (Holmes and Lipo, Pulse Width Modulation for Power
// Converters, ch. 5 and 6; FROM MEMORY). Between the linear range and the square wave
// currents are no longer sinusoidal.
const (
	SpaceVector = 1.0
	PlainSine   = 0.86602540378443864676 // √3/2
	SquareWave  = 1.10265779084358499222 // 2√3/π
)

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (d Drive) Validate() error {
	var f profile.Faults
	checkNonNegative(&f, "standby", d.Standby, "W")
	checkNonNegative(&f, "lossPerAmp", d.LossPerAmp, "W/A")
	checkNonNegative(&f, "lossPerAmpSquared", d.LossPerAmpSquared, "W/A²")
	checkNonNegative(&f, "continuousCurrent", d.ContinuousCurrent, "A")
	checkNonNegative(&f, "peakCurrent", d.PeakCurrent, "A")
	if d.PeakCurrent > 0 && d.PeakCurrent < d.ContinuousCurrent {
		f.Add("peakCurrent", d.PeakCurrent, "at least the continuous current")
	}
	checkWithin(&f, "modulationLimit", d.ModulationLimit, 0, SquareWave, "of bus voltage/√3")
	return f.Err()
}

// losses are the coefficients of what torque t costs between bus and shaft,
// (copper + square) t² + linear |t|.
type losses struct {
	copper float64 // 1/Km² [W/(N·m)²]
	square float64 // [W/(N·m)²]
	linear float64 // [W/(N·m)]
}

func (d Drive) losses(w *Winding) losses {
	return losses{1 / (w.km * w.km), d.LossPerAmpSquared / (w.kt * w.kt), d.LossPerAmp / w.kt}
}

// leastModulation is below what any drive has: less is a slip of units.
const leastModulation = 0.01

// busPerVolt returns the bus voltage that a volt on the winding takes, a volt of the
// crest of the phase voltage or of direct voltage. It records a fault below path
// when the drive is invalid or has no modulation limit.
func (d Drive) busPerVolt(f *profile.Faults, path string, w Winding) float64 {
	if err := d.Validate(); err != nil {
		f.Under(path, err)
		return 0
	}
	top := 1.0
	if w.sinusoidal {
		top = SquareWave
	}
	if !(d.ModulationLimit >= leastModulation && d.ModulationLimit <= top) {
		f.Within(profile.JoinPath(path, "modulationLimit"), d.ModulationLimit, leastModulation, top, "")
		return 0
	}
	if w.sinusoidal {
		return math.Sqrt(3) / d.ModulationLimit
	}
	return 1 / d.ModulationLimit
}
