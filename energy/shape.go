package energy

import (
	"math"

	"example.com/headroom/profile"
)

// Typical densities [kg/m³] for the shapes, FROM MEMORY: those of common grades,
// rounded, good to a few per cent. A data sheet of the material comes first.
const (
	DensitySteel          = 7850 // unalloyed and low-alloy steel
	DensityStainlessSteel = 7900 // austenitic
	DensityCastIron       = 7200 // grey
	DensityAluminium      = 2700 // wrought alloys
	DensityBrass          = 8500
	DensityAcetal         = 1410 // polyoxymethylene, copolymer
	DensityPolyamide      = 1140 // polyamide 6, dry
)

// Shape is a body of simple geometry. It is one of [Cylinder], [ScrewShaft],
// [Block], [Sphere] and [RigidBody].
//
// All but RigidBody take either a density or a mass. A mass, weighed or from a data
// sheet, is spread evenly over the geometry.
type Shape interface {
	// Body returns mass and moment of inertia about the axis, with the centre of mass
	// on it for all shapes but RigidBody.
	Body() (RigidBody, error)
}

// shapeBody names the shapes one by one, because a nil pointer to one of them would
// also satisfy the interface.
func shapeBody(s Shape) (RigidBody, error) {
	switch s.(type) {
	case Cylinder, ScrewShaft, Block, Sphere, RigidBody:
		return s.Body()
	}
	var f profile.Faults
	f.Add("", nil, "a Cylinder, ScrewShaft, Block, Sphere or RigidBody")
	return RigidBody{}, f.Err()
}

// Cylinder is a cylinder that turns about its own axis, solid or with a bore: a
// shaft, a hollow shaft, a disc, a pulley, a roller.
//
//	m = π/4 (D² - d²) length density
//	J = m (D² + d²)/8
//
// (any text of mechanics). For a toothed pulley or a gear take the pitch diameter as
// D; it lies between tip and root, and the error is that of the tooth space.
type Cylinder struct {
	Diameter float64 // outer diameter D [m], > 0
	Bore     float64 // inner diameter d [m], >= 0 and less than Diameter
	Length   float64 // along the axis [m], > 0; not needed with a Mass
	Density  float64 // [kg/m³], > 0, or 0 with a Mass
	Mass     float64 // [kg], > 0, or 0 with a Density
}

// Body returns mass and moment of inertia about the cylinder's axis.
func (c Cylinder) Body() (RigidBody, error) {
	var f profile.Faults
	checkPositive(&f, "diameter", c.Diameter, "m")
	checkBore(&f, "bore", c.Bore, c.Diameter)
	checkAmount(&f, c.Density, c.Mass)
	checkExtent(&f, "length", c.Length, c.Mass)
	if err := f.Err(); err != nil {
		return RigidBody{}, err
	}
	m := amount(c.Mass, c.Density, math.Pi/4*(c.Diameter-c.Bore)*(c.Diameter+c.Bore)*c.Length)
	return RigidBody{Mass: m, Inertia: m / 8 * (c.Diameter*c.Diameter + c.Bore*c.Bore)}.Body()
}

// ScrewShaft is a threaded shaft that turns about its own axis. The thread between
// root and major diameter fills the share Land of its ring, so
//
//	m = π/4 density length ((1-Land) dr² + Land dm²)
//	J = π/32 density length ((1-Land) dr⁴ + Land dm⁴)
//
// exact for square threads. Trapezoidal ones are thinner outside than at mid-height,
// where Land is taken, so J comes out 2.5 % high for a 30° thread of 16 mm and 4 mm
// pitch (own integration over the profile).
//
// Because J grows with the fourth power of the diameter, the nominal diameter taken
// for all of the shaft, as is usual, is an upper bound, a third too high where the
// root is 0.84 of it, and the root diameter a lower bound. The diameter of the plain
// shaft with the same J is (32 J/(π density length))^¼. Journals and a turning nut
// are parts of their own.
type ScrewShaft struct {
	MajorDiameter float64 // outside of the thread dm [m], > 0
	RootDiameter  float64 // bottom of the thread dr [m], > 0 and at most MajorDiameter
	Land          float64 // share of the lead that the thread fills at mid-height, 0 to 1; about 0.5 for square and trapezoidal threads
	Length        float64 // threaded length [m], > 0; not needed with a Mass
	Density       float64 // [kg/m³], > 0, or 0 with a Mass
	Mass          float64 // [kg], > 0, or 0 with a Density
}

// Body returns mass and moment of inertia about the screw's axis.
func (s ScrewShaft) Body() (RigidBody, error) {
	var f profile.Faults
	checkPositive(&f, "majorDiameter", s.MajorDiameter, "m")
	checkPositive(&f, "rootDiameter", s.RootDiameter, "m")
	if f.Err() == nil && s.RootDiameter > s.MajorDiameter {
		f.Add("rootDiameter", s.RootDiameter, "at most the major diameter")
	}
	checkWithin(&f, "land", s.Land, 0, 1, "")
	checkAmount(&f, s.Density, s.Mass)
	checkExtent(&f, "length", s.Length, s.Mass)
	if err := f.Err(); err != nil {
		return RigidBody{}, err
	}
	r2, m2 := s.RootDiameter*s.RootDiameter, s.MajorDiameter*s.MajorDiameter
	square := (1-s.Land)*r2 + s.Land*m2
	fourth := (1-s.Land)*r2*r2 + s.Land*m2*m2
	m := amount(s.Mass, s.Density, math.Pi/4*square*s.Length)
	return RigidBody{Mass: m, Inertia: m / 8 * fourth / square}.Body()
}

// Block is a cuboid that turns about an axis through its centre, parallel to its
// edge Length. Width and Depth lie across the axis:
//
//	m = Width Depth Length density
//	J = m (Width² + Depth²)/12
//
// (any text of mechanics). An arm is a block whose longest edge is its Width.
type Block struct {
	Width   float64 // across the axis [m], > 0
	Depth   float64 // across the axis and the width [m], > 0
	Length  float64 // along the axis [m], > 0; not needed with a Mass
	Density float64 // [kg/m³], > 0, or 0 with a Mass
	Mass    float64 // [kg], > 0, or 0 with a Density
}

// Body returns mass and moment of inertia about the axis through the centre.
func (b Block) Body() (RigidBody, error) {
	var f profile.Faults
	checkPositive(&f, "width", b.Width, "m")
	checkPositive(&f, "depth", b.Depth, "m")
	checkAmount(&f, b.Density, b.Mass)
	checkExtent(&f, "length", b.Length, b.Mass)
	if err := f.Err(); err != nil {
		return RigidBody{}, err
	}
	m := amount(b.Mass, b.Density, b.Width*b.Depth*b.Length)
	return RigidBody{Mass: m, Inertia: m / 12 * (b.Width*b.Width + b.Depth*b.Depth)}.Body()
}

// Sphere is a solid ball that turns about an axis through its centre:
//
//	m = π/6 D³ density
//	J = m D²/10
//
// (any text of mechanics).
type Sphere struct {
	Diameter float64 // D [m], > 0
	Density  float64 // [kg/m³], > 0, or 0 with a Mass
	Mass     float64 // [kg], > 0, or 0 with a Density
}

// Body returns mass and moment of inertia about an axis through the centre.
func (s Sphere) Body() (RigidBody, error) {
	var f profile.Faults
	checkPositive(&f, "diameter", s.Diameter, "m")
	checkAmount(&f, s.Density, s.Mass)
	if err := f.Err(); err != nil {
		return RigidBody{}, err
	}
	d2 := s.Diameter * s.Diameter
	m := amount(s.Mass, s.Density, math.Pi/6*d2*s.Diameter)
	return RigidBody{Mass: m, Inertia: m / 10 * d2}.Body()
}

// checkAmount checks that just one of density and mass is given.
func checkAmount(f *profile.Faults, density, mass float64) {
	switch {
	case mass == 0:
		checkPositive(f, "density", density, "kg/m³ (or a mass)")
	case density == 0:
		checkPositive(f, "mass", mass, "kg")
	default:
		f.Add("density", density, "0 with a mass: a shape has a density or a mass")
		checkPositive(f, "mass", mass, "kg")
	}
}

// checkExtent checks the length along the axis, which a given mass makes needless.
func checkExtent(f *profile.Faults, path string, length, mass float64) {
	if mass == 0 {
		checkPositive(f, path, length, "m")
		return
	}
	checkNonNegative(f, path, length, "m")
}

// checkBore checks an inner diameter against an outer one that is checked already.
func checkBore(f *profile.Faults, path string, bore, outer float64) {
	checkNonNegative(f, path, bore, "m")
	if bore >= outer && bore <= largest && outer > 0 {
		f.Add(path, bore, "less than the outer diameter")
	}
}

// amount returns the mass [kg]: the given one, or density times volume.
func amount(mass, density, volume float64) float64 {
	if mass > 0 {
		return mass
	}
	return density * volume
}
