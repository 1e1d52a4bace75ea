package energy

import (
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// Voltage is what a motor needs at its terminals during a trace. The curves run over
// the time of the trace.
//
// For three sinusoidal phases they are in rotor coordinates, scaled so that a current
// or voltage is the crest of that in a phase of the star. With all current on the
// quadrature axis (id = 0, no weakening of the field, no saliency: Ld = Lq = L),
//
//	iq = √2 torque/Kt
//	vq = R iq + L diq/dt + Ke w      Ke: crest of the phase voltage per speed
//	vd = -p w L iq
//	|v|² = vq² + vd²
//
// p pole pairs (π/pole pitch of a linear motor), w the mechanical speed, R and L of a phase in star; for example in
// Krause, Wasynczuk and Sudhoff, Analysis of Electric Machinery, ch. on brushless dc
// machines (FROM MEMORY). Torque is the electromagnetic one, drag included. Electric
// power is 3/2 vq iq. With direct current
//
//	i = torque/Kt,   v = R i + L di/dt + Ke w,   |v|² = v²
//
// On each piece |v|² is a polynomial in time, so that its peak is exact.
type Voltage struct {
	Current    profile.Curve // iq, crest of the phase current, or direct current [A]; drives forward when positive
	Quadrature profile.Curve // vq, or the voltage between the terminals with direct current [V]
	Direct     profile.Curve // vd [V], zero with direct current
	Squared    profile.Curve // |v|² [V²]
	Steps      []CurrentStep // where the current jumps

	speed   profile.Curve
	winding Winding
}

// CurrentStep is a jump of the current, as acceleration that jumps or friction that
// turns over asks for. No voltage is high enough for it: the current of a real drive
// lags behind for about
//
//	FluxLinkage/(voltage in hand)
//
// with the voltage that is left then between what the drive can do and [Voltage.At],
// both in terms of the crest of a phase or of direct voltage. The torque comes late
// by that, and the jumps are in no other figure of [Voltage].
type CurrentStep struct {
	T           float64 // instant [s]
	From, To    float64 // [A], as Voltage.Current
	FluxLinkage float64 // L |To - From| [V·s]
}

// Voltage returns the voltage that the motor needs for a trace made with an axis that
// it drives. The winding must know its inductance and, if sinusoidal, its pole
// pairs: without them the result would only look complete. It is taken as it is: for
// the highest voltage take the copper hot, see [Winding.At], and the magnets cold, see
// [Winding.AtMagnets]. A jump of torque gives a [CurrentStep]; one from the end of
// the trace back to its start is not seen.
func (m Motor) Voltage(t Trace) (Voltage, error) {
	var f profile.Faults
	f.Under("motor", m.Validate())
	m.Winding.checkCoil(&f, "motor.winding", true)
	checkCurve(&f, "trace.torque", t.Torque)
	checkCurve(&f, "trace.speed", t.Speed)
	if err := f.Err(); err != nil {
		return Voltage{}, err
	}
	w := m.Winding
	v := Voltage{speed: t.Speed, winding: w}
	v.Current = t.Torque.Scale(1 / w.perAmpere())
	v.Steps = v.steps()
	var err error
	v.Quadrature, err = profile.Sum(v.Current.Scale(w.ohms()), v.Current.Derivative().Scale(w.coil), t.Speed.Scale(w.emf))
	if err == nil {
		v.Direct, err = v.direct(t.Speed)
	}
	if err == nil {
		v.Squared, err = square(v.Quadrature)
	}
	if err == nil && w.sinusoidal {
		var d profile.Curve
		if d, err = square(v.Direct); err == nil {
			v.Squared, err = profile.Sum(v.Squared, d)
		}
	}
	if err != nil {
		f.Add("trace", err.Error(), "torque and speed over the same time, of low degree, with voltages that float64 can hold")
		return Voltage{}, f.Err()
	}
	return v, nil
}

// direct returns vd.
func (v *Voltage) direct(speed profile.Curve) (profile.Curve, error) {
	w := v.winding
	if !w.sinusoidal {
		return profile.Constant(0, speed.Start(), speed.End())
	}
	return profile.Product(speed.Scale(-w.pairs*w.coil), v.Current)
}

func square(c profile.Curve) (profile.Curve, error) { return profile.Product(c, c) }

// jump is the part of the highest current that a step must have to count as one:
// what rounding leaves between pieces is far below.
const jump = 1e-9

// steps returns where the current jumps between pieces.
func (v *Voltage) steps() []CurrentStep {
	var out []CurrentStep
	least := jump * math.Abs(v.Current.AbsMax().V)
	for i := range v.Current.Pieces() - 1 {
		t0, t1, c := v.Current.Piece(i)
		_, _, next := v.Current.Piece(i + 1)
		from, to := poly.Eval(c, t1-t0), next[0]
		if d := math.Abs(to - from); d > least {
			out = append(out, CurrentStep{T: t1, From: from, To: to, FluxLinkage: v.winding.coil * d})
		}
	}
	return out
}

// At returns |v| at time t [s]: the crest of the phase voltage, or the direct
// voltage [V].
func (v Voltage) At(t float64) float64 { return root(v.Squared.At(t)) }

// Peak returns the highest |v| [V] and its instant.
func (v Voltage) Peak() profile.Point {
	p := v.Squared.Max()
	p.V = root(p.V)
	return p
}

// root is the square root of what rounding may have left below zero.
func root(x float64) float64 { return math.Sqrt(math.Max(0, x)) }

// LowestBus returns the lowest constant bus voltage [V] on which the drive can follow,
// and the instant that needs it:
//
//	Vbus = √3 |v|/ModulationLimit   three sinusoidal phases
//	Vbus = |v|/ModulationLimit      direct current
//
// It is an error when the drive has no modulation limit.
func (v Voltage) LowestBus(d Drive) (profile.Point, error) {
	c, err := v.busPerVolt(d)
	if err != nil {
		return profile.Point{}, err
	}
	p := v.Peak()
	p.V *= c
	return p, nil
}

func (v Voltage) busPerVolt(d Drive) (float64, error) {
	var f profile.Faults
	if v.Squared.Pieces() == 0 {
		f.Add("voltage", nil, "a voltage made by Motor.Voltage")
		return 0, f.Err()
	}
	c := d.busPerVolt(&f, "drive", v.winding)
	return c, f.Err()
}

// checkCoil records a fault below path when what the voltage depends on is not known;
// changing says that the current changes.
func (w Winding) checkCoil(f *profile.Faults, path string, changing bool) {
	if w == (Winding{}) {
		return // has its fault already
	}
	if w.coil == 0 && (changing || w.sinusoidal) {
		f.Add(profile.JoinPath(path, "inductance"), nil, "an inductance, given in the sheet; a very small one to neglect it on purpose")
	}
	if w.pairs == 0 && w.sinusoidal {
		f.Add(profile.JoinPath(path, "polePairs"), nil, "the pole pairs, or the pole pitch of a linear motor, given in the sheet")
	}
}
