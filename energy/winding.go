package energy

import (
	"math"

	"example.com/headroom/profile"
)

// Winding is what a motor's winding does, free of the ampere convention of the
// sheet it came from: torque per root of copper loss, and torque per ampere RMS, at
// one copper temperature. It is made by [SinusoidalRMS], [SinusoidalPeak] or
// [DirectCurrent], so that the convention is always named, or by [Sheet.Winding],
// which also tells it the inductance, the pole pairs and how its magnets weaken with
// heat. The zero value is invalid.
type Winding struct {
	km, kt, temp float64

	sinusoidal bool    // three phases with sinusoidal currents, else direct current
	emf        float64 // crest of the phase voltage, or direct voltage, per speed [V·s/rad]
	coil       float64 // inductance of a phase in star, or between terminals [H], 0: not known
	pairs      float64 // pole pairs, or π/pole pitch of a linear motor [1/m], 0: not known

	weakening, magnets float64 // of the flux per K, 0: not known, at the magnet temperature [°C]
}

// Copper is what a sheet says about the copper of a motor: a resistance, or the
// motor constant itself. It is made by [LineToLine], [PerPhase] or
// [MotorConstant]. The zero value is invalid.
type Copper struct {
	path  string
	value float64
}

// LineToLine is the resistance [ohm] between two terminals: line to line of a
// three-phase motor, star or delta, or between the terminals of a brushed one.
func LineToLine(ohm float64) Copper { return Copper{"lineToLine", ohm} }

// PerPhase is the resistance [ohm] of one phase in star, half of what is measured
// line to line.
func PerPhase(ohm float64) Copper { return Copper{"perPhase", ohm} }

// MotorConstant is torque per root of copper loss [N·m/√W], as some sheets give.
func MotorConstant(km float64) Copper { return Copper{"motorConstant", km} }

// SinusoidalRMS returns the winding of a three-phase motor fed with sinusoidal
// currents whose torque constant kt is in N·m per ampere RMS of the phase current
// in star (the line current). With the phase resistance R, that is half of line to
// line,
//
//	copper loss = 3 I² R = 1.5 I² R(line to line)     I [A rms]
//
// so Km = kt/√(3 R). temperature [°C] is that of the copper for which the
// resistance or motor constant is given. kt is taken at its value for the magnets
// as they are; it does not follow the copper temperature. The equations are
// ohmic loss in three equal phases.
func SinusoidalRMS(kt float64, c Copper, temperature float64) (Winding, error) {
	return newWinding(kt, kt, c, 3, temperature)
}

// SinusoidalPeak is [SinusoidalRMS] for a torque constant in N·m per ampere of the
// crest of the sinusoidal phase current. A sine has a crest of √2 times its RMS,
// so
//
//	copper loss = 1.5 I² R = 0.75 I² R(line to line)     I [A crest]
func SinusoidalPeak(kt float64, c Copper, temperature float64) (Winding, error) {
	return newWinding(kt, kt*math.Sqrt2, c, 3, temperature)
}

// DirectCurrent returns the winding of a brushed motor, or of a three-phase motor
// with block commutation in which the current always flows through two phases. kt
// is in N·m per ampere of that direct current, and
//
//	copper loss = I² R(line to line)     I [A]
//
// [Winding.Kt] is then per ampere of direct current.
func DirectCurrent(kt float64, c Copper, temperature float64) (Winding, error) {
	return newWinding(kt, kt, c, 2, temperature)
}

// newWinding makes the winding with torque constant ktRMS in the unit of current
// whose copper loss is phases I² R(per phase). kt is as entered, for messages.
func newWinding(kt, ktRMS float64, c Copper, phases, temp float64) (Winding, error) {
	var f profile.Faults
	checkPositive(&f, "torqueConstant", kt, "N·m/A")
	switch c.path {
	case "motorConstant":
		checkPositive(&f, c.path, c.value, "N·m/√W")
	case "":
		f.Add("copper", nil, "a LineToLine or PerPhase resistance or a MotorConstant")
	default:
		checkPositive(&f, c.path, c.value, "ohm")
	}
	checkCopperTemperature(&f, "temperature", temp)
	if err := f.Err(); err != nil {
		return Winding{}, err
	}
	w := Winding{kt: ktRMS, temp: temp, sinusoidal: phases == 3, emf: ktRMS}
	if w.sinusoidal {
		w.emf = ktRMS / (1.5 * math.Sqrt2)
	}
	switch c.path {
	case "motorConstant":
		w.km = c.value
	case "perPhase":
		w.km = ktRMS / math.Sqrt(phases*c.value)
	case "lineToLine":
		w.km = ktRMS / math.Sqrt(phases*c.value/2)
	}
	return w, nil
}

// Km returns the motor constant [N·m/√W] at [Winding.Temperature]: the copper loss
// at torque t is (t/Km)².
func (w Winding) Km() float64 { return w.km }

// Kt returns the torque constant [N·m/A] per ampere RMS of the phase current, or per
// ampere of direct current for a [DirectCurrent] winding.
func (w Winding) Kt() float64 { return w.kt }

// Temperature returns the copper temperature [°C] for which the winding holds.
func (w Winding) Temperature() float64 { return w.temp }

// Validate returns an error for the zero value, which no constructor made.
func (w Winding) Validate() error {
	var f profile.Faults
	if w == (Winding{}) {
		f.Add("", nil, "a winding made by SinusoidalRMS, SinusoidalPeak, DirectCurrent or Sheet.Winding")
	}
	return f.Err()
}

// copperZero is the magnitude of the temperature [°C] at which the resistance of
// annealed copper, extended as a straight line, is zero: 1/0.00393 - 20 at 100 %
// IACS conductivity (NBS Handbook 100, Copper Wire Tables, 1966; number FROM
// MEMORY). IEC 60034-1, 8.6.2, rounds it to 235 (FROM MEMORY): from 25 to 155 °C
// that is 0.06 % less resistance rise. The value for annealed copper is used,
// because it has a material behind it.
const copperZero = 234.5

func checkCopperTemperature(f *profile.Faults, path string, temp float64) {
	checkWithin(f, path, temp, -100, 300, "°C, where the resistance of copper is linear")
}

// At returns the winding at another copper temperature [°C], from -100 to 300:
//
//	R(T) = R(T0) (234.5 + T)/(234.5 + T0)
//
// the line of annealed copper, so Km falls with the root of it. Kt stays: it
// follows the temperature of the magnets, see [Winding.AtMagnets]. All of the copper loss is taken as ohmic;
// eddy currents in the copper would fall with temperature instead.
func (w Winding) At(temperature float64) (Winding, error) {
	var f profile.Faults
	f.Under("", w.Validate())
	checkCopperTemperature(&f, "temperature", temperature)
	if err := f.Err(); err != nil {
		return Winding{}, err
	}
	w.km *= math.Sqrt((copperZero + w.temp) / (copperZero + temperature))
	w.temp = temperature
	return w, nil
}
