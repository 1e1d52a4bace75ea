package energy

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Ends says how a rod is held at its two ends. A fixed end keeps place and
// direction, as a pair of preloaded bearings set apart does; a pinned end keeps the
// place only, as a single bearing or a nut does. Real bearings lie between; taking
// them as pinned is safe. The zero value is invalid.
type Ends int

const (
	PinnedPinned Ends = iota + 1
	FixedPinned
	FixedFixed
	FixedFree // one end fixed, the other without support
)

// fixity holds what the ends make of a rod. Both numbers are first positive roots:
//
//	whirl                                  buckling
//	PinnedPinned  sin w = 0                sin b = 0
//	FixedPinned   tan w = tanh w           tan b = b
//	FixedFixed    cos w cosh w = 1         cos b = 1, b > 0
//	FixedFree     cos w cosh w = -1        cos b = 0
//
// whirl is λ in Blevins, Formulas for Natural Frequency and Mode Shape, table 8-1;
// π/buckling is the effective length factor of Euler's columns, 1, 0.699, 0.5 and 2
// (both FROM MEMORY; the tests solve the equations).
type fixity struct {
	name            string
	whirl, buckling float64
}

var fixities = [...]fixity{
	PinnedPinned: {"pinned-pinned", math.Pi, math.Pi},
	FixedPinned:  {"fixed-pinned", 3.926602312047919, 4.493409457909064},
	FixedFixed:   {"fixed-fixed", 4.730040744862704, 2 * math.Pi},
	FixedFree:    {"fixed-free", 1.8751040687119611, math.Pi / 2},
}

func (e Ends) valid() bool { return e >= PinnedPinned && e <= FixedFree }

// String returns the ends in words, such as "fixed-pinned".
func (e Ends) String() string {
	if !e.valid() {
		return fmt.Sprintf("Ends(%d)", int(e))
	}
	return fixities[e].name
}

// Rod is a slender round rod of one diameter, such as the free length of a screw.
// For a screw take the root diameter: the thread adds mass but hardly stiffness, and
// the lesser diameter is safe for both limits. The free length differs between
// them: from bearing to bearing for whirling, with the nut left out or, where it
// guides the screw, from bearing to nut; from the nut, at the end of its travel, to
// the bearing that takes the axial force for buckling.
type Rod struct {
	Diameter   float64 // outer diameter; of a screw, the root diameter [m], > 0
	Bore       float64 // inner diameter of a hollow rod [m], >= 0
	Length     float64 // free length [m], > 0
	Ends       Ends    // how it is held
	Elasticity float64 // Young's modulus [Pa], > 0; steel about 206e9 (FROM MEMORY)
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range. A rod shorter than its diameter is refused: no rod theory holds.
func (r Rod) Validate() error {
	var f profile.Faults
	checkPositive(&f, "diameter", r.Diameter, "m")
	checkBore(&f, "bore", r.Bore, r.Diameter)
	checkPositive(&f, "length", r.Length, "m")
	if !r.Ends.valid() {
		f.Add("ends", int(r.Ends), "PinnedPinned, FixedPinned, FixedFixed or FixedFree")
	}
	checkPositive(&f, "elasticity", r.Elasticity, "Pa")
	if f.Err() == nil && r.Length < r.Diameter {
		f.Add("length", r.Length, "at least the diameter: this is for slender rods")
	}
	return f.Err()
}

// gyration returns the radius of gyration of the cross-section √(I/A) [m].
func (r Rod) gyration() float64 { return math.Hypot(r.Diameter, r.Bore) / 4 }

func (r Rod) area() float64 { return math.Pi / 4 * (r.Diameter - r.Bore) * (r.Diameter + r.Bore) }

// CriticalSpeed returns the first critical speed [rad/s] of the turning rod of the
// given density [kg/m³], the speed at which it whirls. It is the first bending
// frequency of a uniform beam,
//
//	ω = (λ/Length)² √(E I/(density A)),   √(I/A) = √(Diameter² + Bore²)/4
//
// with λ = π pinned-pinned, 3.927 fixed-pinned, 4.730 fixed-fixed, 1.875 fixed-free
// (Blevins, Formulas for Natural Frequency and Mode Shape, table 8-1; Shigley,
// Mechanical Engineering Design, eq. 7-22 for pinned-pinned; numbers FROM MEMORY).
//
// Left out: shear and rotary inertia (1 % at a length of 11 diameters
// pinned-pinned, own estimate from Timoshenko's beam), the give of the bearings, an axial compression F, which lowers the
// speed by the factor √(1 - F/buckling load) pinned-pinned, and tension, which
// raises it. A fraction of it is used, see [NewLoading]: the range below the
// critical speed already shakes.
func (r Rod) CriticalSpeed(density float64) (float64, error) {
	var f profile.Faults
	f.Under("", r.Validate())
	checkPositive(&f, "density", density, "kg/m³")
	if err := f.Err(); err != nil {
		return 0, err
	}
	l := fixities[r.Ends].whirl / r.Length
	return l * l * r.gyration() * math.Sqrt(r.Elasticity/density), nil
}

// Buckling is the load at which a rod under axial compression gives way.
type Buckling struct {
	Load         float64 // [N]
	Slenderness  float64 // effective length over radius of gyration
	TransitionAt float64 // slenderness from which on Euler's load holds
	Euler        bool    // the load is Euler's; else that of Johnson's parabola
}

// BucklingLoad returns the axial compression at which the rod buckles, for a
// material of the given yield stress Sy [Pa]. With the slenderness
// s = K Length/√(I/A) and the effective length factor K = 1 pinned-pinned, 0.699
// fixed-pinned, 0.5 fixed-fixed, 2 fixed-free,
//
//	Load = π² E A/s²                          s >= √(2π² E/Sy)   (Euler)
//	Load = Sy A (1 - Sy s²/(4π² E))           s below            (Johnson)
//
// which meet at half the yield stress (Shigley, Mechanical Engineering Design, ch. 4,
// columns with central loading, FROM MEMORY). Euler's load alone would be too high
// for stocky rods, which yield first.
//
// The factors are those of ideal ends. Because no end is ideally fixed, design books
// count a fixed end for less, Shigley with 1.2 times the pinned-pinned load for both
// FixedPinned and FixedFixed in place of 2.05 and 4 (FROM MEMORY); that choice, and
// the safety against crooked rods and eccentric loads, is in the fraction given to
// [NewLoading]. A vertical screw that buckles drops its load: such parts belong to a
// risk assessment under the local codes, by a licensed practitioner.
func (r Rod) BucklingLoad(yield float64) (Buckling, error) {
	var f profile.Faults
	f.Under("", r.Validate())
	checkPositive(&f, "yield", yield, "Pa")
	if err := f.Err(); err != nil {
		return Buckling{}, err
	}
	b := Buckling{
		Slenderness:  math.Pi / fixities[r.Ends].buckling * r.Length / r.gyration(),
		TransitionAt: math.Pi * math.Sqrt(2*r.Elasticity/yield),
	}
	q := b.Slenderness / b.TransitionAt
	b.Euler = q >= 1
	if b.Euler {
		b.Load = yield * r.area() / (2 * q * q)
	} else {
		b.Load = yield * r.area() * (1 - q*q/2)
	}
	return b, nil
}
