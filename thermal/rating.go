package thermal

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// MotorConstant relates torque to copper loss, at a stated winding temperature:
//
//	copper loss = (torque / Km)²
//
// It holds whatever convention the sheet uses for amperes and ohms.
type MotorConstant struct {
	Km float64 // electromagnetic torque / √(copper loss) [N·m/√W], > 0
	At float64 // winding temperature that Km holds for [°C]
}

// Rating is the continuous rating of a motor: the torque that brings the winding
// to its highest temperature, in the ambient and mounting of the data sheet. The
// zero value is invalid.
type Rating struct {
	Torque    float64       // continuous electromagnetic torque: the shaft torque plus the drag [N·m], > 0
	Constant  MotorConstant // of the same motor
	Max       float64       // winding temperature reached [°C]
	Ambient   float64       // ambient of the rating [°C], < Max
	Other     float64       // heat besides copper loss at the rated point [W], >= 0; 0 for a rating at standstill
	Conductor Conductor     // metal of the winding; 0 = Copper
}

// FromRating derives the winding, with its thermal resistance to ambient, from a
// continuous rating:
//
//	Rth = (Tmax - Ta) / ( (M/Km)² (k+Tmax)/(k+T0) + Q )
//
// the heat balance at the rated point, with the copper loss taken at Tmax. What
// the sheet assumes of the mounting (a heat-sinking flange of stated size) is
// inside Rth: a motor bolted to plastic is not the motor of the sheet.
func FromRating(r Rating) (Winding, error) {
	var f profile.Faults
	k := r.check(&f)
	if err := f.Err(); err != nil {
		return Winding{}, err
	}
	cold := r.Torque / r.Constant.Km
	heat := cold*cold*k.ratio(r.Max, r.Constant.At) + r.Other
	rth := (r.Max - r.Ambient) / heat
	if !(rth > 0) || math.IsInf(rth, 0) {
		f.Add("torque", r.Torque, "a copper loss (torque/Km)² that gives a finite thermal resistance > 0 K/W")
		return Winding{}, f.Err()
	}
	return Winding{ThermalResistance: rth, Max: r.Max, Conductor: r.Conductor}, nil
}

// Validate returns nil, or an error with every field outside its domain.
func (r Rating) Validate() error {
	var f profile.Faults
	r.check(&f)
	return f.Err()
}

func (r Rating) check(f *profile.Faults) Conductor {
	f.Positive("torque", r.Torque, "N·m")
	f.Positive("constant.km", r.Constant.Km, "N·m/√W")
	k := r.Conductor.checked(f)
	k.temperature(f, "constant.at", r.Constant.At)
	maxOK := k.temperature(f, "max", r.Max)
	if k.temperature(f, "ambient", r.Ambient) && maxOK && !(r.Ambient < r.Max) {
		f.Add("ambient", r.Ambient, fmt.Sprintf("below max = %g °C", r.Max))
	}
	f.NonNegative("other", r.Other, "W")
	return k
}

// ContinuousTorque returns the electromagnetic torque [N·m] that holds the
// winding at its highest permitted temperature in the given ambient [°C], while
// other heat [W] (drag in bearings and iron at the speed of the cycle) flows in:
//
//	M = Km √( ((Tmax - Ta)/Rth - Q) (k+T0)/(k+Tmax) )
//
// Subtract the drag for the torque at the shaft. An ambient in which the other
// heat alone brings the winding above Max is refused.
//
// Without other heat the ratio of two ambients is √((Tmax-Ta1)/(Tmax-Ta2)).
func (w Winding) ContinuousTorque(m MotorConstant, ambient, other float64) (float64, error) {
	var f profile.Faults
	k := w.check(&f)
	f.Positive("constant.km", m.Km, "N·m/√W")
	k.temperature(&f, "constant.at", m.At)
	k.temperature(&f, "ambient", ambient)
	f.NonNegative("other", other, "W")
	if err := f.Err(); err != nil {
		return 0, err
	}
	copper := (w.Max-ambient)/w.ThermalResistance - other
	if !(copper >= 0) {
		f.Add("ambient", ambient, fmt.Sprintf("at most %g °C, where the other heat alone brings the winding to max = %g °C",
			w.Max-w.ThermalResistance*other, w.Max))
		return 0, f.Err()
	}
	torque := m.Km * math.Sqrt(copper/k.ratio(w.Max, m.At))
	needFinite(&f, "constant.km", m.Km, torque)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return torque, nil
}
