package thermal

import (
	"fmt"
	"math"
	"slices"

	"example.com/headroom/profile"
)

// WindingClass is a thermal class of winding insulation, named by its
// temperature: 105 (A), 120 (E), 130 (B), 155 (F) or 180 (H) °C.
type WindingClass int

// Thermal classes, IEC 60085 (from memory).
const (
	ClassA WindingClass = 105
	ClassE WindingClass = 120
	ClassB WindingClass = 130
	ClassF WindingClass = 155
	ClassH WindingClass = 180
)

var (
	windingClasses = []WindingClass{ClassA, ClassE, ClassB, ClassF, ClassH}
	riseLimits     = []float64{60, 75, 80, 105, 125}
	smallLimits    = []float64{65, 75, 85, 110, 130}
)

// ratedAmbient is the highest ambient temperature that the rise limits hold for
// [°C].
const ratedAmbient = 40

// RiseLimit returns the permitted rise of a winding over the cooling air, by
// resistance [K], in a given ambient [°C] and at an altitude [m]; small is for
// machines below 600 W (200 W in some prints).
//
// IEC 60034-1, table of temperature rises: 80, 105, 125 K for B, F, H in up to 40
// °C (read in a secondary place; A, E and small machines from memory,
// unconfirmed). Clause 8.10 (from memory, unconfirmed): from 40 to 60 °C the limit falls by as
// much as the ambient is above 40 °C; from 1000 to 4000 m it falls by 1 % per 100 m. Colder air
// raises nothing here. Beyond 60 °C or 4000 m it is a matter of agreement, and refused.
func (c WindingClass) RiseLimit(ambient, altitude float64, small bool) (float64, error) {
	var f profile.Faults
	i := slices.Index(windingClasses, c)
	if i < 0 {
		f.Add("class", int(c), fmt.Sprintf("one of %v", []int{105, 120, 130, 155, 180}))
	}
	f.Within("ambient", ambient, -20, 60, "°C")
	f.Within("altitude", altitude, 0, 4000, "m")
	if err := f.Err(); err != nil {
		return 0, err
	}
	limit := riseLimits[i]
	if small {
		limit = smallLimits[i]
	}
	limit -= math.Max(0, ambient-ratedAmbient)
	return limit * (1 - math.Max(0, altitude-1000)/1e4), nil
}

// TorqueDerating returns by how much the continuous torque of a machine rated in
// up to 40 °C and 1000 m is to be multiplied elsewhere: copper loss goes with
// torque squared and the rise with the loss, so
//
//	factor = √( (1+α) r - α )
//
// with r the rise limit over the rated one and α the losses that do not depend
// on torque, as a fraction of the copper loss at the rating [1], >= 0. A rise
// limit that those losses alone fill is refused.
func (c WindingClass) TorqueDerating(ambient, altitude, constantLoss float64) (float64, error) {
	var f profile.Faults
	limit, err := c.RiseLimit(ambient, altitude, false)
	f.Under("", err)
	f.NonNegative("constantLoss", constantLoss, "")
	if err := f.Err(); err != nil {
		return 0, err
	}
	rated, _ := c.RiseLimit(ratedAmbient, 0, false)
	left := limit/rated - constantLoss*(1-limit/rated)
	if !(left >= 0) {
		f.Add("constantLoss", constantLoss, fmt.Sprintf("at most %g, which alone fills the rise limit", limit/(rated-limit)))
		return 0, f.Err()
	}
	return math.Sqrt(left), nil
}
