package energy

import (
	"math"

	"example.com/headroom/internal/poly"
	"example.com/headroom/profile"
)

// TorqueLimit says which torque a motor can give at which speed, on one drive and
// one bus voltage, with steady current. All torques are at the shaft, and positive
// like the speed in the direction of positive motion; internally the electromagnetic
// torque t = shaft torque + drag(w) counts.
//
// The voltage limits t as a quadratic: with the equations of [Voltage] at steady
// current, and Vmax what the drive makes of the bus voltage,
//
//	(R i + Ke w)² + (p w L i)² <= Vmax²     i = √2 t/Kt
//
// whose two solutions are the limits for the two directions of torque. There
// is no weakening of the field (id = 0) and no saturation; torque is Kt times current
// at any current. [Motor.MaxSpeed] is not part of it, see [Motor.Loading]. The zero
// value gives no torque at any speed.
type TorqueLimit struct {
	motor Motor

	volts float64 // Vmax [V], crest of a phase or direct voltage
	ohms  float64 // R/(Kt/√2), or R/Kt: voltage per torque [V/(N·m)]
	react float64 // p L/(Kt/√2): voltage per torque and speed [V·s/(N·m)]; 0 with direct current
	emf   float64 // Ke [V·s/rad]

	drivePeak float64 // electromagnetic torque at the drive's peak current [N·m], +Inf: not given
	driveLong float64 // the same at its continuous current
	heat      float64 // what the motor may turn into heat for ever [W], +Inf: not given
}

// NewTorqueLimit returns the torque that the motor can give on a drive with the given
// bus voltage [V]. The drive must have its modulation limit, and a sinusoidal
// winding must know its inductance and pole pairs. Limits of current and torque that
// are not given do not count; the voltage alone is left then.
func NewTorqueLimit(m Motor, d Drive, bus float64) (TorqueLimit, error) {
	var f profile.Faults
	f.Under("motor", m.Validate())
	m.Winding.checkCoil(&f, "motor.winding", false)
	c := d.busPerVolt(&f, "drive", m.Winding)
	checkPositive(&f, "bus", bus, "V")
	if err := f.Err(); err != nil {
		return TorqueLimit{}, err
	}
	w := m.Winding
	l := TorqueLimit{
		motor:     m,
		volts:     bus / c,
		ohms:      w.ohms() / w.perAmpere(),
		emf:       w.emf,
		drivePeak: math.Inf(1),
		driveLong: math.Inf(1),
		heat:      math.Inf(1),
	}
	if w.sinusoidal {
		l.react = w.pairs * w.coil / w.perAmpere()
	}
	if d.PeakCurrent > 0 {
		l.drivePeak = w.kt * d.PeakCurrent
	}
	if d.ContinuousCurrent > 0 {
		l.driveLong = w.kt * d.ContinuousCurrent
	}
	if m.ContinuousTorque > 0 {
		l.heat = m.permittedHeat()
	}
	return l, nil
}

// TorqueRange is what a motor can give at one speed.
type TorqueRange struct {
	Lowest, Highest float64 // shaft torque [N·m]; both of one sign where the motor cannot idle at that speed
}

// Peak returns the range of shaft torque that is possible for a short time at a speed
// [rad/s], and whether there is any. There is none when the voltage is too low for
// the speed at any torque, when drag alone takes more than the drive's current, or
// for a speed that is not within ±1e12 rad/s. At zero speed drag helps neither
// direction: it is the limit for a motor that begins to turn that way.
//
// It is bounded by the voltage, the drive's peak current and [Motor.PeakTorque] in
// either direction.
func (l TorqueLimit) Peak(speed float64) (TorqueRange, bool) {
	return l.bounded(speed, l.drivePeak, l.motor.peakTorque())
}

// Continuous returns the range of shaft torque that may last at a speed [rad/s], and
// whether there is any; see [TorqueLimit.Peak]. It is bounded by all that bounds the
// peak, the drive's continuous current, and by heat: the motor may lose as much as at
// the stall torque [Motor.ContinuousTorque], and at speed the drag takes part of that,
//
//	(t/Km)² + drag(w) |w| = ((ContinuousTorque + DragTorque)/Km)²
//
// so that the torque falls with speed as far as drag is given: with drag zero it does
// not fall, which flatters a motor with iron loss. That all losses count the same
// wherever they arise is common practice (no source). Km is that of the winding as it
// is: take it hot, see [Winding.At]. Without a continuous torque and current this is
// the peak.
func (l TorqueLimit) Continuous(speed float64) (TorqueRange, bool) {
	if !(math.Abs(speed) <= largest) {
		return TorqueRange{}, false
	}
	bound := math.Min(l.drivePeak, l.driveLong)
	if !math.IsInf(l.heat, 1) {
		left := l.heat - l.motor.drag(math.Abs(speed))*math.Abs(speed)
		if !(left >= 0) {
			return TorqueRange{}, false
		}
		bound = math.Min(bound, l.motor.Winding.km*math.Sqrt(left))
	}
	return l.bounded(speed, bound, l.motor.peakTorque())
}

// bounded returns the range of shaft torque within the voltage, a bound of the
// electromagnetic torque and one of the shaft torque.
func (l TorqueLimit) bounded(speed, torque, shaft float64) (TorqueRange, bool) {
	if !(math.Abs(speed) <= largest) || l.volts == 0 {
		return TorqueRange{}, false
	}
	if speed < 0 {
		r, ok := l.bounded(-speed, torque, shaft)
		return TorqueRange{-r.Highest, -r.Lowest}, ok
	}
	lo, hi, ok := l.within(speed)
	lo, hi = math.Max(lo, -torque), math.Min(hi, torque)
	if !ok || !(lo <= hi) {
		return TorqueRange{}, false
	}
	drag := l.motor.drag(speed)
	lo -= drag
	if speed == 0 {
		lo += 2 * drag
	}
	hi -= drag
	lo, hi = math.Max(lo, -shaft), math.Min(hi, shaft)
	return TorqueRange{lo, hi}, lo <= hi
}

// within returns the electromagnetic torques between which the voltage is enough at a
// speed, and whether there is one at all. If not, both are the torque that needs
// the least voltage.
func (l TorqueLimit) within(speed float64) (lo, hi float64, ok bool) {
	// a t² + 2 b t + c <= 0
	x, e := l.react*speed, l.emf*speed
	a := l.ohms*l.ohms + x*x
	b := l.ohms * e
	d := l.volts*l.volts*a - x*x*e*e
	if d < 0 {
		return -b / a, -b / a, false
	}
	r := math.Sqrt(d)
	if b < 0 {
		r = -r
	}
	// The larger in magnitude first, the other from the product of both, free of
	// cancellation.
	lo, hi = -(b+r)/a, 0
	if q := b + r; q != 0 {
		hi = (l.volts - e) * (l.volts + e) / q
	}
	if lo > hi {
		lo, hi = hi, lo
	}
	return lo, hi, true
}

// peakTorque is the highest shaft torque [N·m], +Inf when it is not given.
func (m Motor) peakTorque() float64 {
	if m.PeakTorque > 0 {
		return m.PeakTorque
	}
	return math.Inf(1)
}

// drag returns the magnitude of the drag [N·m] at a speed >= 0.
func (m Motor) drag(speed float64) float64 {
	return m.DragTorque + speed*(m.DragPerSpeed+speed*m.DragPerSpeedSquared)
}

// SpeedAt returns the highest speed [rad/s] at which the motor can drive forward with a
// shaft torque [N·m] >= 0, and whether it can at all. The speed of no load is
// SpeedAt(0).
func (l TorqueLimit) SpeedAt(torque float64) (float64, bool) {
	if !(torque >= 0 && torque <= math.Min(l.motor.peakTorque(), largest)) || l.volts == 0 {
		return 0, false
	}
	m := l.motor
	t := []float64{torque + m.DragTorque, m.DragPerSpeed, m.DragPerSpeedSquared}
	w, ok := l.fastest(t)
	if !ok || math.IsInf(l.drivePeak, 1) {
		return w, ok
	}
	// Drag may take up the drive's current at a lower speed.
	t[0] -= l.drivePeak
	if t[0] > 0 {
		return 0, false
	}
	if r := poly.Roots(nil, t, 0, w); len(r) > 0 {
		w = math.Min(w, r[len(r)-1])
	}
	return w, true
}

// CornerSpeed returns the lowest speed [rad/s] at which the voltage, and no longer
// peak current or peak torque, limits the torque that drives forward. It is 0 when
// neither is given, or when the voltage is too low at standstill already.
func (l TorqueLimit) CornerSpeed() float64 {
	corner := 0.0
	if l.volts == 0 {
		return corner
	}
	if !math.IsInf(l.drivePeak, 1) {
		corner, _ = l.fastest([]float64{l.drivePeak})
	}
	if m := l.motor; m.PeakTorque > 0 {
		w, _ := l.fastest([]float64{m.PeakTorque + m.DragTorque, m.DragPerSpeed, m.DragPerSpeedSquared})
		corner = math.Max(corner, w) // the smaller torque rules, and it lasts longer
	}
	return corner
}

// fastest returns the speed at which an electromagnetic torque, a polynomial in the
// speed that does not fall, takes all of the voltage, and whether the voltage is
// enough for it at standstill. The voltage needed rises with speed, and is too high
// at Vmax/Ke at the latest.
func (l TorqueLimit) fastest(torque []float64) (float64, bool) {
	if l.ohms*torque[0] > l.volts {
		return 0, false
	}
	// In units of Vmax and of the speed Vmax/Ke.
	top := l.volts / l.emf
	t := poly.Stretch(nil, torque, top)
	q := poly.Scale(nil, t, l.ohms/l.volts)
	q = poly.Add(q, q, []float64{0, 1})
	d := poly.Mul(nil, []float64{0, l.react * top / l.volts}, t)
	need := poly.Add(nil, poly.Mul(nil, q, q), poly.Mul(nil, d, d))
	need[0]--
	r := poly.Roots(nil, need, 0, 1)
	if len(r) == 0 {
		return top, true // rounding has moved it beyond
	}
	return top * r[0], true
}
