package energy

import (
	"fmt"

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
func (a Axis) Validate() error {
	var f profile.Faults
	f.Under("load", a.Load.Validate())
	if err := checkMechanism(a.Mechanism); err != nil {
		f.Under("mechanism", err)
	} else if err := a.Load.Validate(); err == nil && a.Mechanism.linear() != a.Load.linear() {
		if a.Load.linear() {
			f.Add("load.mass", a.Load.Mass, "an inertia [kg·m²] on a rotary mechanism")
		} else {
			f.Add("load.inertia", a.Load.Inertia, "a mass [kg] on a linear mechanism")
		}
	}
	if len(a.Stages) > maxStages {
		f.Add("stages", fmt.Sprintf("%d stages", len(a.Stages)), fmt.Sprintf("at most %d", maxStages))
	}
	for i := range min(len(a.Stages), maxStages) {
		if err := a.Stages[i].Validate(); err != nil {
			f.Under(fmt.Sprintf("stages[%d]", i), err)
		}
	}
	f.Under("motor", a.Motor.Validate())
	f.Under("drive", a.Drive.Validate())
	return f.Err()
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
