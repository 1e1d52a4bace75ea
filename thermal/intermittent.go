package thermal

import (
	"math"

	"example.com/headroom/profile"
)

// Intermittent is a duty of constant load for a time On and standing without
// loss for a time Off: S3 of IEC 60034-1, or S2, a single run from cold, with
// an infinite Off.
type Intermittent struct {
	On  float64 // time under load [s], > 0
	Off float64 // time standing [s], >= 0; +Inf for a single run from cold

	Heating float64 // time constant under load [s], > 0
	Cooling float64 // time constant standing [s], > 0

	// ConstantLoss is the loss under load that does not depend on torque (iron,
	// bearings, fan), as a fraction of the copper loss at the continuous rating
	// [1], >= 0.
	ConstantLoss float64
}

// TorqueFactor returns how many times the continuous torque the motor may give
// while it is on, so that its temperature in the settled duty just reaches what
// the continuous rating brings it to:
//
//	f = (1 - e^(-On/τh - Off/τc)) / (1 - e^(-On/τh))
//	factor = √( (1+α) f - α )
//
// f >= 1 is the factor for the loss: a rise of 1 that peaks at 1/f in the duty
// (see [SettleCycle]). α = ConstantLoss. The equation is the heat balance of one
// node. Copper loss is taken as at the rated temperature all the time; below it,
// it is smaller, so with time constants of thermal resistance times heat
// capacity, as a cooling curve shows them, the factor is on the safe side.
//
// The peak limits of motor and drive hold as well. The time constants must be
// those of the part that gets hot first: with the long time constant of the
// whole motor, a short On gives a torque that burns the winding, which follows
// its copper (common practice, no source).
func (d Intermittent) TorqueFactor() (float64, error) {
	var f profile.Faults
	d.check(&f)
	if err := f.Err(); err != nil {
		return 0, err
	}
	on := d.On / d.Heating
	if !(on >= minCycle) {
		f.Add("on", d.On, "a time that is not negligible against heating")
		return 0, f.Err()
	}
	more := math.Exp(-on) * math.Expm1(-d.Off/d.Cooling) / math.Expm1(-on) // f - 1
	factor := math.Sqrt(1 + (1+d.ConstantLoss)*more)
	needFinite(&f, "constantLoss", d.ConstantLoss, factor)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return factor, nil
}

// Validate returns nil, or an error with every field outside its domain.
func (d Intermittent) Validate() error {
	var f profile.Faults
	d.check(&f)
	return f.Err()
}

func (d Intermittent) check(f *profile.Faults) {
	f.Positive("on", d.On, "s")
	if !(d.Off >= 0) {
		f.Add("off", d.Off, ">= 0 s, or +Inf for a single run from cold")
	}
	f.Positive("heating", d.Heating, "s")
	f.Positive("cooling", d.Cooling, "s")
	f.NonNegative("constantLoss", d.ConstantLoss, "")
}
