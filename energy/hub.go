package energy

import (
	"math"

	"example.com/headroom/profile"
)

// ClampHub is a hub that is clamped on a plain shaft and holds by friction. Exactly
// one of Pressure and Force is given.
type ClampHub struct {
	Diameter float64 // of the shaft d [m], > 0
	Length   float64 // of the contact l [m], > 0
	Friction float64 // coefficient of friction µ, > 0: the least that can be relied on; about 0.12 for steel on steel with a trace of oil (common practice, no source)

	// Pressure is the even pressure p between hub and shaft [Pa], > 0, or 0 with a Force.
	Pressure float64
	// Force is what pulls the two sides of the hub together F [N], > 0, or 0 with a
	// Pressure: the sum of the bolts' preloads on both sides of a hub in two halves. A hub
	// that is slit on one side only is a hoop: its uncut side carries up to as much again,
	// which would double F, less what friction holds back on the way round and what the
	// ring spends on its own bending. Counting the bolts alone leaves that aside.
	Force float64
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (c ClampHub) Validate() error {
	var f profile.Faults
	checkPositive(&f, "diameter", c.Diameter, "m")
	checkPositive(&f, "length", c.Length, "m")
	checkPositive(&f, "friction", c.Friction, "")
	switch {
	case c.Force == 0:
		checkPositive(&f, "pressure", c.Pressure, "Pa (or a force)")
	case c.Pressure == 0:
		checkPositive(&f, "force", c.Force, "N")
	default:
		f.Add("force", c.Force, "0 with a pressure: a clamp hub has a pressure or a force")
		checkPositive(&f, "pressure", c.Pressure, "Pa")
	}
	return f.Err()
}

// ContactPressure returns the even pressure between hub and shaft [Pa]: the given
// one, or the one that balances the force over the shaft's projected area,
//
//	p = F/(d l)
func (c ClampHub) ContactPressure() (float64, error) {
	if err := c.Validate(); err != nil {
		return 0, err
	}
	if c.Force > 0 {
		return c.Force / c.Diameter / c.Length, nil
	}
	return c.Pressure, nil
}

// Capacity returns the torque [N·m] at which the hub slips,
//
//	T = π/2 µ p d² l  =  π/2 µ F d
//
// the friction µ p π d l at the radius d/2 (any handbook of machine elements; Roloff
// and Matek, Maschinenelemente, treat it as the clamped joint, FROM MEMORY). Even
// pressure takes a close fit: where the bore is wider than the shaft and both touch
// along two lines only, T = µ F d, 36 % less.
func (c ClampHub) Capacity() (float64, error) {
	p, err := c.ContactPressure()
	if err != nil {
		return 0, err
	}
	return math.Pi / 2 * c.Friction * p * c.Diameter * c.Diameter * c.Length, nil
}

// BondedJoint is a hub glued on a plain shaft with a retaining compound.
type BondedJoint struct {
	Diameter float64 // of the shaft d [m], > 0
	Length   float64 // of the bond l [m], > 0
	Shear    float64 // permissible shear strength of the bond τ [Pa], > 0, at its temperature, gap and surface
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (b BondedJoint) Validate() error {
	var f profile.Faults
	checkPositive(&f, "diameter", b.Diameter, "m")
	checkPositive(&f, "length", b.Length, "m")
	checkPositive(&f, "shear", b.Shear, "Pa")
	return f.Err()
}

// Capacity returns the torque [N·m] at which the bond bears its shear strength all
// round,
//
//	T = π d² l τ/2
//
// the shear force τ π d l at the radius d/2. Retaining compounds reach the order of
// 15 to 30 MPa on steel when new and cold (FROM MEMORY; ISO 10123, pins and collars,
// is how it is measured) and lose much of it with heat, oil and oversize gaps.
// Joints longer than their diameter bear unevenly and less than this.
func (b BondedJoint) Capacity() (float64, error) {
	if err := b.Validate(); err != nil {
		return 0, err
	}
	return math.Pi / 2 * b.Diameter * b.Diameter * b.Length * b.Shear, nil
}
