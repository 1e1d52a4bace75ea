package bus

import (
	"math"

	"example.com/headroom/profile"
)

// ShortCircuit is what a charged bank delivers into a short, without its source.
type ShortCircuit struct {
	Peak     float64 // current [A]
	PeakTime float64 // when [s]; 0 without inductance
	I2t      float64 // ∫ i² dt until the bank is empty [A² s]
	Energy   float64 // that it had stored [J]
}

// Short returns what the bank at voltage v [V] delivers through a loop of a
// resistance [ohm], its own series resistance not counted in, and an inductance
// [H]. All that it had stored is burned in the resistance, so that
//
//	∫ i² dt = C V²/(2 R)
//
// whatever the inductance. Without it the peak is V/R; with it, from the discharge of
// a series circuit, with a = R/2L and b² = |a² - 1/LC|
//
//	a² < 1/LC:  i = V/(b L) e^(-a t) sin(b t),   peak at tan(b t) = b/a
//	a² > 1/LC:  i = V/(b L) e^(-a t) sinh(b t),  peak at tanh(b t) = b/a
//	else        i = V/L t e^(-a t),              peak at t = 1/a
//
// (any text on circuits). Behind the diodes of drives the current does not swing
// back; the peak is the same. The source adds its own current. Take [Bank.High] for
// the worst.
//
// Fuses and breakers on this side have to be rated for direct current at the highest
// bus voltage: one for alternating current may not break the arc.
func (b Bank) Short(v, resistance, inductance float64) (ShortCircuit, error) {
	var f profile.Faults
	f.Under("bank", b.Validate())
	f.Positive("voltage", v, "V")
	f.NonNegative("resistance", resistance, "ohm")
	f.NonNegative("inductance", inductance, "H")
	r := b.SeriesResistance + resistance
	if f.Err() == nil && !(r > 0) {
		f.Add("resistance", resistance, "> 0 ohm with a bank without series resistance")
	}
	if err := f.Err(); err != nil {
		return ShortCircuit{}, err
	}
	s := ShortCircuit{Peak: v / r, I2t: b.Capacitance * v / r * v / 2, Energy: b.Energy(v)}
	if inductance > 0 {
		s.Peak, s.PeakTime = swing(v, r, inductance, b.Capacitance)
	}
	if !(s.Peak+s.I2t+s.Energy <= math.MaxFloat64) {
		f.Add("resistance", resistance, "a current within the range of float64")
	}
	return s, f.Err()
}

// swing returns the peak of the discharge of C through R and L, and when.
func swing(v, r, l, c float64) (peak, at float64) {
	// With the ratio z = R/2 √(C/L) of the damping to the critical one and time in
	// units of √(LC), i √(L/C)/V = e^(-z τ) sin(β τ)/β.
	z := r / 2 * math.Sqrt(c/l)
	unit := math.Sqrt(l) * math.Sqrt(c)
	var tau, shape float64
	switch d := 1 - z*z; {
	case d > 1e-8:
		b := math.Sqrt(d)
		tau = math.Atan2(b, z) / b
		shape = math.Sin(b*tau) / b
	case d < -1e-8:
		b := math.Sqrt(-d)
		// tanh(b τ) = b/z: τ = ln((z+b)/(z-b))/2b = ln(z+b)/b, since (z+b)(z-b) = 1.
		tau = math.Log(z+b) / b
		shape = math.Sinh(b*tau) / b
	default:
		tau = 1
		shape = 1
	}
	return v * math.Sqrt(c/l) * math.Exp(-z*tau) * shape, tau * unit
}
