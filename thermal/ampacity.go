package thermal

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Ampacity is the current that a conductor carries for ever without passing the
// temperature that its insulation permits. Local codes govern: they name the
// table, its edition, and limits beside temperature such as the largest
// overcurrent device. The zero value is invalid.
type Ampacity struct {
	Current   float64   // permitted for ever [A], > 0
	Max       float64   // permitted conductor temperature, that Current brings it to [°C]
	Ambient   float64   // that Current holds in [°C], < Max
	Conductor Conductor // metal; 0 = Copper

	// TimeConstant is that of the conductor in its insulation at small current
	// [s], >= 0; 0 where only the settled state is asked for.
	TimeConstant float64
}

// Validate returns nil, or an error with every field outside its domain.
func (a Ampacity) Validate() error {
	var f profile.Faults
	a.check(&f)
	return f.Err()
}

func (a Ampacity) check(f *profile.Faults) Conductor {
	f.Positive("current", a.Current, "A")
	k := a.Conductor.checked(f)
	ok := k.temperature(f, "max", a.Max)
	if k.temperature(f, "ambient", a.Ambient) && ok && !(a.Ambient < a.Max) {
		f.Add("ambient", a.Ambient, fmt.Sprintf("below max = %g °C", a.Max))
	}
	f.NonNegative("timeConstant", a.TimeConstant, "s")
	return k
}

// AmbientFactor returns by how much an ampacity that holds in one ambient
// temperature [°C] is to be multiplied in another:
//
//	√( (Tmax - T)/(Tmax - T0) )
//
// where Tmax is the permitted conductor temperature. That is I²R against a heat
// that goes with the rise, and what the correction tables of the codes print to
// two digits. It is 0 in an ambient of Tmax; above that there is no answer.
func AmbientFactor(max, from, ambient float64) (float64, error) {
	var f profile.Faults
	for _, t := range []struct {
		path string
		v    float64
	}{{"max", max}, {"from", from}, {"ambient", ambient}} {
		checkTemperature(&f, t.path, t.v)
	}
	if f.Err() == nil {
		if !(from < max) {
			f.Add("from", from, fmt.Sprintf("below max = %g °C", max))
		}
		if !(ambient <= max) {
			f.Add("ambient", ambient, fmt.Sprintf("at most max = %g °C", max))
		}
	}
	if err := f.Err(); err != nil {
		return 0, err
	}
	return math.Sqrt((max - ambient) / (max - from)), nil
}

// In returns the ampacity in another ambient [°C], and bundled with others by the
// given factor [1], > 0 to 1; 1: alone.
func (a Ampacity) In(ambient, bundling float64) (Ampacity, error) {
	var f profile.Faults
	a.check(&f)
	if !(bundling > 0 && bundling <= 1) {
		f.Add("bundling", bundling, "> 0 and <= 1; 1 for a cable alone")
	}
	if f.Err() != nil {
		return Ampacity{}, f.Err()
	}
	factor, err := AmbientFactor(a.Max, a.Ambient, ambient)
	f.Under("", err)
	if err == nil && !(factor > 0) {
		f.Add("ambient", ambient, fmt.Sprintf("below max = %g °C", a.Max))
	}
	if err := f.Err(); err != nil {
		return Ampacity{}, err
	}
	a.Ambient, a.Current = ambient, a.Current*factor*bundling
	if f.Positive("current", a.Current, "A"); f.Err() != nil {
		return Ampacity{}, f.Err()
	}
	return a, nil
}

// Temperature returns the settled temperature of the conductor [°C] under an RMS
// current [A]. Ohmic heat grows along the line of the metal, the rise with the
// heat, and at the permitted current it is Max - Ambient:
//
//	T - Ta = (Tmax - Ta) (I/Imax)² (k+T)/(k+Tmax)
//
// For some current the heat grows faster than it leaves: a [*RunawayError], in
// which the heat of 1 W stands for that at the permitted current and temperature.
func (a Ampacity) Temperature(current float64) (float64, error) {
	var f profile.Faults
	s, err := a.settle(&f, current)
	return s.Temperature, err
}

// Response returns how the conductor moves under an RMS current [A] towards its
// settled rise over the ambient. Its time constant is TimeConstant/(1-g), with g
// the heat that a kelvin adds over what it carries away.
func (a Ampacity) Response(current float64) (FirstOrder, error) {
	var f profile.Faults
	if a.TimeConstant == 0 {
		f.Add("timeConstant", a.TimeConstant, "finite and > 0 s")
	}
	s, err := a.settle(&f, current)
	if err != nil {
		return FirstOrder{}, err
	}
	o := FirstOrder{TimeConstant: a.TimeConstant / (1 - s.Gain), Rise: s.Rise}
	needFinite(&f, "timeConstant", a.TimeConstant, o.TimeConstant)
	if err := f.Err(); err != nil {
		return FirstOrder{}, err
	}
	return o, nil
}

// settle takes the conductor as a winding that gives off 1 W at its permitted
// current and temperature.
func (a Ampacity) settle(f *profile.Faults, current float64) (Settled, error) {
	k := a.check(f)
	f.Finite("current", current, "A")
	if err := f.Err(); err != nil {
		return Settled{}, err
	}
	load := current / a.Current
	load *= load
	if needFinite(f, "current", current, load); f.Err() != nil {
		return Settled{}, f.Err()
	}
	w := Winding{ThermalResistance: a.Max - a.Ambient, Max: a.Max, Conductor: k}
	return w.Settled(Heat{Copper: load, At: a.Max}, a.Ambient)
}
