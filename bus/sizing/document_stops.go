package sizing

import (
	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
)

func (r *reader) stops(o *object) *Stops {
	if o == nil {
		return nil
	}
	s := &Stops{
		Category:     energy.StopCategory(r.count(o, "category", required)),
		PerYear:      r.count(o, "stopsPerYear", notZero),
		BrakeYears:   r.quantity(o, "brakeYears", quantity.Ratio, notZero),
		MainsDip:     r.quantity(o, "mainsDip", quantity.Time, notZero),
		SupplyHoldUp: r.quantity(o, "supplyHoldUp", quantity.Time, notZero),
	}
	o.unread(&r.faults)
	return s
}

// holdingBrake reads the brake of an axis: the torque of one at the motor alone, or all that
// is known of it. No torque is no brake.
func (r *reader) holdingBrake(o *object, a Axis) *HoldingBrake {
	const key = "holdingBrake"
	rotary := turns(a.Drive.Mechanism)
	exerted, load := quantity.Torque, unitsOf(rotary).force
	if isDirect(a.Drive.Mechanism) {
		exerted = quantity.Force
	}
	if o == nil || o.fields[key] == nil || o.fields[key].object == nil {
		torque := r.quantity(o, key, exerted, optional)
		if torque == 0 {
			return nil
		}
		return &HoldingBrake{HoldingBrake: energy.HoldingBrake{Torque: torque}, Untimed: true}
	}
	bo := r.object(o, key, optional)
	b := &HoldingBrake{}
	switch r.choice(bo, "at", optional, "motor", "mechanism", "load") {
	case "mechanism":
		b.Shaft = len(a.Drive.Stages)
	case "load":
		b.Shaft, exerted = len(a.Drive.Stages)+1, load
	}
	b.Torque = r.quantity(bo, "torque", exerted, required)
	b.Delay = r.quantity(bo, "delay", quantity.Time, required)
	b.EnergyPerStop = r.quantity(bo, "energyPerStop", quantity.Energy, notZero)
	b.TotalEnergy = r.quantity(bo, "totalEnergy", quantity.Energy, notZero)
	b.Drop = r.quantity(bo, "drop", unitsOf(rotary).length, notZero)
	bo.unread(&r.faults)
	return b
}
