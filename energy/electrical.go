package energy

import "math"

// Sinusoidal reports whether the winding has three phases fed with sinusoidal
// currents. If not it is one of [DirectCurrent].
func (w Winding) Sinusoidal() bool { return w.sinusoidal }

// ResistanceLineToLine returns the resistance [ohm] between two terminals at the copper
// temperature. It follows from the loss that torque costs:
//
//	R = 2/3 (Kt/Km)²   sinusoidal; a phase in star has half of it
//	R = (Kt/Km)²       direct current
func (w Winding) ResistanceLineToLine() float64 {
	if w.sinusoidal {
		return 2 * w.ohms()
	}
	return w.ohms()
}

// ohms is the resistance of a phase in star, or between terminals with direct current.
func (w Winding) ohms() float64 {
	r := w.kt / w.km
	if w.sinusoidal {
		return r * r / 3
	}
	return r * r
}

// VoltageConstant returns the voltage that the magnets induce per speed [V·s/rad]: RMS
// between two lines of a sinusoidal winding, the voltage between the terminals with
// direct current. Where no sheet gave it, it is what energy demands, since induced
// voltage times current is mechanical power:
//
//	√3 E I = T w   so   Kt = √3 Ke   sinusoidal, Kt per ampere RMS
//	E I = T w      so   Kt = Ke      direct current
func (w Winding) VoltageConstant() float64 {
	if w.sinusoidal {
		return w.emf * math.Sqrt(1.5)
	}
	return w.emf
}

// InductanceLineToLine returns the inductance [H] between two terminals, twice that of
// a phase in star of a sinusoidal winding; 0 when it is not known.
func (w Winding) InductanceLineToLine() float64 {
	if w.sinusoidal {
		return 2 * w.coil
	}
	return w.coil
}

// PolePairs returns the number of pole pairs, which is electrical speed over
// mechanical speed, 0 when it is not known. Of a linear motor that is π/pole pitch
// [1/m].
func (w Winding) PolePairs() float64 { return w.pairs }

// perAmpere returns the torque [N·m] per ampere of the crest of the phase current, or of
// direct current. Beside [Winding.emf] and [Winding.ohms] it is what the equations of
// voltage are written in.
func (w Winding) perAmpere() float64 {
	if w.sinusoidal {
		return w.kt / math.Sqrt2
	}
	return w.kt
}
