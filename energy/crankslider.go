package energy

import (
	"math"

	"example.com/headroom/profile"
)

// CrankSlider is a crank whose connecting rod moves a slider. The axis coordinate, so
// the motion, is the angle θ of the crank [rad]; the load, with all its fields, belongs to
// the slider, in m and N. θ = 0 points along the slider's track, away from the crank's
// axis, and positive slider positions and forces point the same way. With
// u = r sin θ - e and s = √(l² - u²) the slider is at
//
//	x = r cos θ + s,   k = dx/dθ = -r sin θ - u r cos θ/s
//	k' = dk/dθ = -r cos θ - (r² cos² θ - u r sin θ)/s - (u r cos θ)²/s³
//
// and the torque at the crank is that of the force F on the slider times k:
//
//	T = k F,   F = M (k α + k' w²) + friction + weight + external
//
// with w = dθ/dt and α its derivative, so that the mass takes M (k² α + k k' w²)
// (kinematics of the slider-crank, e.g. Khurmi and Gupta, Theory of Machines, ch. 15,
// there to the first order in r/l; exact here). Positions of a force table and of a
// spring are those of the slider, x. Efficiencies, inertia and drag belong to the
// crank's shaft and mean what they mean for a [Stage].
//
// The rod is replaced by two masses, one at each of its ends, that keep its mass and its
// centre of mass (common practice, same source, ch. 15): the one at the crank's pin, times r²,
// belongs to Inertia, the one at the slider to the load's Mass. Where Mass has weight it is
// the slider's; the crank is balanced.
//
// T is no polynomial of time. It is interpolated on pieces on which it is smooth, by
// polynomials of degree 12 at Chebyshev points, and pieces are halved until what is
// left out is below 1e-11 of r times the sum of the magnitudes of all forces; the
// book then closes to 1e-9 as for other mechanisms. A motion may turn the crank up to
// 1000 times.
type CrankSlider struct {
	Radius         float64 // of the crank, r [m], > 0
	Rod            float64 // length of the connecting rod, l [m], at least 1.01 (Radius + |Offset|)
	Offset         float64 // of the slider's track from the crank's axis, e [m]; positive on the side of θ = π/2
	Efficiency     float64 // motor drives load, > 0, at most 1
	BackEfficiency float64 // load drives motor, at most 1; 0: not given, 2 - 1/Efficiency
	Inertia        float64 // moment of inertia of crank and shaft [kg·m²], >= 0
	Drag           float64 // friction torque of the crank without load [N·m], >= 0
}

// Validate returns nil, or an error that joins one fault for every field outside
// its range.
func (c CrankSlider) Validate() error {
	var f profile.Faults
	checkPositive(&f, "radius", c.Radius, "m")
	checkPositive(&f, "rod", c.Rod, "m")
	checkFinite(&f, "offset", c.Offset, "m")
	if f.Err() == nil && !(c.Rod >= 1.01*(c.Radius+math.Abs(c.Offset))) {
		f.Add("rod", c.Rod, "at least 1.01 times radius plus offset, so that the crank can turn")
	}
	checkTransmission(&f, c.Efficiency, c.BackEfficiency, c.Inertia, c.Drag)
	return f.Err()
}

// crank returns the crank's shaft as a stage whose output moves in rad.
func (c CrankSlider) crank() Stage {
	return Stage{1, c.Efficiency, c.BackEfficiency, c.Inertia, c.Drag}.link()
}

// link returns the stage whose travel per radian is the largest of the stroke.
func (c CrankSlider) link() Stage {
	s := c.crank()
	s.Ratio = 1 / c.fastest()
	return s
}

func (CrankSlider) linear() bool { return true }

// At returns the slider's position [m], its travel per radian k [m/rad] and the
// derivative of that [m/rad²] at the crank angle [rad]. The crank must be valid.
func (c CrankSlider) At(angle float64) (position, perRadian, derivative float64) {
	sin, cos := math.Sincos(angle)
	u, du := c.Radius*sin-c.Offset, c.Radius*cos
	s := math.Sqrt((c.Rod - u) * (c.Rod + u))
	q := u * du / s
	return du + s, -c.Radius*sin - q, -du - (du*du-u*c.Radius*sin)/s - q*q/s
}

// fastest returns the largest magnitude of the travel per radian [m/rad]: where k' is
// zero, which on each half turn between dead centres is at one place only.
func (c CrankSlider) fastest() float64 {
	outer, inner := c.deadCentres()
	most := 0.0
	for _, half := range [][2]float64{{outer, inner}, {inner, outer + 2*math.Pi}} {
		lo, hi := half[0], half[1]
		_, _, start := c.At(lo)
		for range 60 {
			mid := lo + (hi-lo)/2
			if _, _, d := c.At(mid); (d > 0) == (start > 0) {
				lo = mid
			} else {
				hi = mid
			}
		}
		_, k, _ := c.At(lo)
		most = math.Max(most, math.Abs(k))
	}
	return most
}

// deadCentres returns the angles at which crank and rod lie in one line, where the
// slider turns: the outer one, where it is farthest from the crank, and the inner one
// after it [rad].
func (c CrankSlider) deadCentres() (outer, inner float64) {
	return math.Asin(c.Offset / (c.Rod + c.Radius)), math.Pi + math.Asin(c.Offset/(c.Rod-c.Radius))
}

// anglesAt appends the angles, from 0 to below 2π, at which the slider is at x [m]. With
// the pin at r (cos θ, sin θ) and the rod of length l to the point (x, e),
//
//	x cos θ + e sin θ = (x² + e² + r² - l²)/(2 r)
func (c CrankSlider) anglesAt(dst []float64, x float64) []float64 {
	reach := math.Hypot(x, c.Offset)
	cos := (reach*reach + (c.Radius-c.Rod)*(c.Radius+c.Rod)) / (2 * c.Radius * reach)
	if !(math.Abs(cos) <= 1 && x > 0) {
		return dst
	}
	middle, off := math.Atan2(c.Offset, x), math.Acos(cos)
	return append(dst, wrap(middle-off), wrap(middle+off))
}

// wrap returns an angle as one from 0 to below 2π.
func wrap(angle float64) float64 {
	a := math.Mod(angle, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	return a
}
