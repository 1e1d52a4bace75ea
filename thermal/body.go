package thermal

import "example.com/headroom/profile"

// Body is a lump of material with one temperature, cooled to the ambient through
// one thermal resistance. The zero value is invalid.
type Body struct {
	Capacity          float64 // heat capacity, mass times specific heat [J/K], > 0
	ThermalResistance float64 // to ambient, 1/(h A) for a surface [K/W], > 0
}

// Heated returns how the body moves under a constant heat power [W], >= 0:
//
//	τ = Rth C        θ∞ = Rth P
func (b Body) Heated(power float64) (FirstOrder, error) {
	var f profile.Faults
	b.check(&f)
	f.NonNegative("power", power, "W")
	if err := f.Err(); err != nil {
		return FirstOrder{}, err
	}
	o := FirstOrder{TimeConstant: b.ThermalResistance * b.Capacity, Rise: b.ThermalResistance * power}
	needFinite(&f, "power", power, o.Rise)
	if f.Err() == nil && o.Validate() != nil {
		f.Add("capacity", b.Capacity, "a size that gives a finite time constant > 0 s")
	}
	if err := f.Err(); err != nil {
		return FirstOrder{}, err
	}
	return o, nil
}

// Validate returns nil, or an error with every field outside its domain.
func (b Body) Validate() error {
	var f profile.Faults
	b.check(&f)
	return f.Err()
}

func (b Body) check(f *profile.Faults) {
	f.Positive("capacity", b.Capacity, "J/K")
	f.Positive("thermalResistance", b.ThermalResistance, "K/W")
}

// AdiabaticRise returns by how much [K] a body warms when it keeps all of an
// energy [J], >= 0; capacity is its heat capacity in J/K, > 0:
//
//	Δθ = E / C
//
// That is the most it can warm, and close to the truth for a pulse that is short
// against the time constant of the body. It is a mean over the body: heat that
// enters at the surface, or a wire inside its filling, is hotter for a while.
func AdiabaticRise(energy, capacity float64) (float64, error) {
	var f profile.Faults
	f.NonNegative("energy", energy, "J")
	f.Positive("capacity", capacity, "J/K")
	if err := f.Err(); err != nil {
		return 0, err
	}
	rise := energy / capacity
	needFinite(&f, "energy", energy, rise)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return rise, nil
}

// Network returns the body as a network of one node in an ambient [°C].
func (b Body) Network(ambient float64) Network {
	return Network{
		Capacities: []float64{b.Capacity},
		Boundaries: []Boundary{{Node: 0, Conductance: 1 / b.ThermalResistance, Temperature: ambient}},
	}
}
