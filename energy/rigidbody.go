package energy

import (
	"fmt"

	"example.com/headroom/profile"
)

// RigidBody is what turning about an axis needs to know of a body: its mass, where
// its centre of mass lies in the plane across the axis, and its moment of inertia
// about the parallel to the axis through that centre. With Inertia 0 it is a point
// mass. It is a [Shape] itself, so that a body known from a drawing, or assembled
// before, becomes part of another.
type RigidBody struct {
	Mass    float64 // [kg], > 0
	Inertia float64 // moment of inertia about its own centre of mass [kg·m²], >= 0
	X, Y    float64 // centre of mass, from the origin of the plane across the axis [m]
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (b RigidBody) Validate() error {
	var f profile.Faults
	checkPositive(&f, "mass", b.Mass, "kg")
	checkNonNegative(&f, "inertia", b.Inertia, "kg·m²")
	checkFinite(&f, "x", b.X, "m")
	checkFinite(&f, "y", b.Y, "m")
	return f.Err()
}

// Body returns the body itself, when it is valid.
func (b RigidBody) Body() (RigidBody, error) {
	if err := b.Validate(); err != nil {
		return RigidBody{}, err
	}
	return b, nil
}

// InertiaAbout returns the moment of inertia [kg·m²] about the axis through the
// point x, y [m], by the parallel axis theorem (Steiner; any text of mechanics):
//
//	J = Inertia + Mass ((X - x)² + (Y - y)²)
func (b RigidBody) InertiaAbout(x, y float64) (float64, error) {
	var f profile.Faults
	f.Under("", b.Validate())
	checkFinite(&f, "x", x, "m")
	checkFinite(&f, "y", y, "m")
	if err := f.Err(); err != nil {
		return 0, err
	}
	return b.Inertia + b.Mass*squareDistance(b.X-x, b.Y-y), nil
}

// Part is a shape at its place in an assembly.
type Part struct {
	Shape Shape
	X, Y  float64 // moves the shape's origin, for all but a RigidBody its centre of mass, away from the axis [m]
}

// maxParts bounds an assembly.
const maxParts = 10000

// Assemble returns the parts as one body. With the part's masses m and centres
// x, y,
//
//	Mass = Σ m,  X = Σ m x / Σ m,  Y = Σ m y / Σ m
//	Inertia = Σ (J + m ((x - X)² + (y - Y)²))
//
// so that assemblies can be nested in any way. The moment of inertia about the axis
// of rotation is then [RigidBody.InertiaAbout] with 0, 0. A centre of mass off the
// axis is an unbalance: on a horizontal axis it has a weight to lift, and a [Load]
// with an Inertia has none. All axes are parallel; a shape that lies across the axis
// is a [Block], or a RigidBody with the inertia of its drawing.
func Assemble(parts ...Part) (RigidBody, error) {
	var f profile.Faults
	if n := len(parts); n == 0 || n > maxParts {
		f.Add("parts", fmt.Sprintf("%d parts", n), fmt.Sprintf("1 to %d", maxParts))
		return RigidBody{}, f.Err()
	}
	bodies := make([]RigidBody, len(parts))
	var sum RigidBody
	for i, p := range parts {
		b, err := shapeBody(p.Shape)
		if err != nil {
			f.Under(fmt.Sprintf("parts[%d].shape", i), err)
		}
		checkFinite(&f, fmt.Sprintf("parts[%d].x", i), p.X, "m")
		checkFinite(&f, fmt.Sprintf("parts[%d].y", i), p.Y, "m")
		b.X, b.Y = b.X+p.X, b.Y+p.Y
		bodies[i] = b
		sum.Mass += b.Mass
		sum.X += b.Mass * b.X
		sum.Y += b.Mass * b.Y
	}
	if err := f.Err(); err != nil {
		return RigidBody{}, err
	}
	sum.X /= sum.Mass
	sum.Y /= sum.Mass
	for _, b := range bodies {
		sum.Inertia += b.Inertia + b.Mass*squareDistance(b.X-sum.X, b.Y-sum.Y)
	}
	f.Under("assembly", sum.Validate())
	if err := f.Err(); err != nil {
		return RigidBody{}, err
	}
	return sum, nil
}

func squareDistance(x, y float64) float64 { return x*x + y*y }

// PitchLineInertia returns the moment of inertia [kg·m²] that a mass [kg] has on the
// shaft of a pulley or pinion of the given pitch diameter d [m] that moves it at the
// speed of its pitch line: a belt, a chain, a rack, a web.
//
//	J = m d²/4
//
// It has the kinetic energy of the mass at the shaft's speed. [Belt] has a field for
// its own mass and does this itself.
func PitchLineInertia(mass, pitchDiameter float64) (float64, error) {
	var f profile.Faults
	checkPositive(&f, "mass", mass, "kg")
	checkPositive(&f, "pitchDiameter", pitchDiameter, "m")
	if err := f.Err(); err != nil {
		return 0, err
	}
	r := pitchDiameter / 2
	return mass * r * r, nil
}

// InertiaThroughRatio returns the moment of inertia [kg·m²] seen at the input of a
// ratio (input speed over output speed) behind which J turns:
//
//	J / ratio²
//
// by equal kinetic energy. It reduces an idler pulley of diameter di to the driven
// one of dd with the ratio di/dd.
func InertiaThroughRatio(inertia, ratio float64) (float64, error) {
	var f profile.Faults
	checkNonNegative(&f, "inertia", inertia, "kg·m²")
	checkPositive(&f, "ratio", ratio, "")
	if err := f.Err(); err != nil {
		return 0, err
	}
	return inertia / ratio / ratio, nil
}
