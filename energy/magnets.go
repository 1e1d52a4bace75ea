package energy

import "example.com/headroom/profile"

// AtMagnets returns the winding with its magnets at another temperature [°C], from -100
// to 300. The flux falls along a line, and with it torque and voltage constant alike:
//
//	Kt(T) = Kt(T0) (1 + c (T - T0))   and so Ke, and Km by the same factor
//
// c [1/K] is the temperature coefficient of the remanence that [Sheet.MagnetCoefficient]
// gave. It is about -0.0011 per K for sintered NdFeB, -0.0003 to -0.0005 for SmCo and
// -0.002 for ferrite (typical values of the materials, FROM MEMORY); the sheet of
// the magnets decides. The same torque then takes more current, and the motor reaches
// a higher speed on the same bus.
//
// Without a coefficient it is an error: nothing is known, and to return the
// winding unchanged would claim that nothing changes. The copper temperature stays,
// see [Winding.At]. The line holds for reversible losses only. Magnets that are too
// hot, above all under a high current, lose flux for good, which is not seen here.
func (w Winding) AtMagnets(temperature float64) (Winding, error) {
	var f profile.Faults
	f.Under("", w.Validate())
	checkWithin(&f, "temperature", temperature, -100, 300, "°C")
	if err := f.Err(); err != nil {
		return Winding{}, err
	}
	if w.weakening == 0 {
		f.Add("magnetCoefficient", nil, "a coefficient of the magnets, given in the sheet, to follow their temperature")
		return Winding{}, f.Err()
	}
	k := 1 + w.weakening*(temperature-w.magnets)
	if !(k >= leastFlux) {
		f.Add("temperature", temperature, "a temperature at which at least half of the flux is left")
		return Winding{}, f.Err()
	}
	w.kt *= k
	w.km *= k
	w.emf *= k
	w.weakening /= k // of a line through two points: the same line
	w.magnets = temperature
	return w, nil
}

// leastFlux is the part of the flux below which no magnet still follows its line.
const leastFlux = 0.5

// MagnetTemperature returns the temperature [°C] of the magnets for which the
// winding holds, and whether it is known how the flux changes with it.
func (w Winding) MagnetTemperature() (float64, bool) {
	if w.weakening == 0 {
		return 0, false
	}
	return w.magnets, true
}
