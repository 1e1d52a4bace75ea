package energy

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// maxStages bounds the gear stages of an axis.
const maxStages = 8

// Axis is one servo axis, from its load to the bus. The zero value is invalid.
type Axis struct {
	Load      Load
	Mechanism Mechanism // moves the load; linear or rotary as the load is
	Stages    []Stage   // gear stages from the motor to the mechanism, at most 8; none: the motor turns the mechanism
	Motor     Motor
	Drive     Drive
}

// Validate returns nil, or an error that joins the faults of all parts, with paths
// such as "load.mass" and "stages[0].ratio".
func (a Axis) Validate() error { return a.validate() }

func (a *Axis) validate() error {
	var f, load profile.Faults
	a.Load.validate(&load)
	f.Under("load", load.Err())
	if err := checkMechanism(a.Mechanism); err != nil {
		f.Under("mechanism", err)
	} else if load.Err() == nil {
		a.checkFit(&f)
	}
	if len(a.Stages) > maxStages {
		f.Add("stages", fmt.Sprintf("%d stages", len(a.Stages)), fmt.Sprintf("at most %d", maxStages))
	}
	for i := range min(len(a.Stages), maxStages) {
		if err := a.Stages[i].Validate(); err != nil {
			f.Under(fmt.Sprintf("stages[%d]", i), err)
		}
	}
	f.Under("motor", a.Motor.validate())
	f.Under("drive", a.Drive.Validate())
	return f.Err()
}

// checkFit records what does not go with the mechanism.
func (a *Axis) checkFit(f *profile.Faults) {
	switch a.Mechanism.(type) {
	case Direct:
		if len(a.Stages) > 0 {
			f.Add("stages", fmt.Sprintf("%d stages", len(a.Stages)), "none with a linear motor")
		}
		checkWithin(f, "motor.rotorInertia", a.Motor.RotorInertia, 0, 0, "with a linear motor: what moves belongs to load.mass")
	case HoistDrum:
		if up := math.Pi / 2; a.Load.Incline != 0 && !(math.Abs(a.Load.Incline-up) <= 1e-9) {
			f.Add("load.incline", a.Load.Incline, "0 or π/2 rad on a hoist: the load hangs")
		}
	}
	if a.Mechanism.linear() == a.Load.linear() {
		return
	}
	if a.Load.linear() {
		f.Add("load.mass", a.Load.Mass, "an inertia [kg·m²] on a rotary mechanism")
	} else {
		f.Add("load.inertia", a.Load.Inertia, "a mass [kg] on a linear mechanism")
	}
}

// AtWinding returns the axis with the motor's winding at another copper temperature
// [°C], see [Winding.At]. The axis itself is not changed.
func (a Axis) AtWinding(temperature float64) (Axis, error) {
	w, err := a.Motor.Winding.At(temperature)
	if err != nil {
		var f profile.Faults
		f.Under("motor.winding", err)
		return Axis{}, f.Err()
	}
	a.Motor.Winding = w
	return a, nil
}
