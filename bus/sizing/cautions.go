package sizing

import (
	"fmt"

	"example.com/headroom/bus"
	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
)

// cautions collects what can hurt somebody at this machine.
func (a *Assessment) cautions() {
	m := a.Machine
	stored := m.allLinks().High().Energy(m.OverVoltage)
	add := func(format string, args ...any) { a.Cautions = append(a.Cautions, fmt.Sprintf(format, args...)) }

	wait := "no bleeder is given: it stays charged for an unknown time"
	if m.Bleeder > 0 {
		if m.OverVoltage > bus.MachineDischarge.Voltage {
			wait = fmt.Sprintf("through the bleeder alone it takes up to %s to fall to %g V", show(m.discharge(), quantity.Time), bus.MachineDischarge.Voltage)
		} else {
			wait = "measure before you touch it"
		}
	}
	if m.DischargeWarning > 0 {
		wait += fmt.Sprintf(", and the durable warning states %s", show(m.DischargeWarning, quantity.Time))
	}
	add("Stored energy: the bank holds up to %s and stays charged after power is removed; %s.", show(stored, quantity.Energy), wait)
	if m.OverVoltage > bus.MachineDischarge.Voltage {
		add("Voltage: the bus can stand at %s, which is dangerous to touch.", show(m.OverVoltage, quantity.Voltage))
	}
	if len(m.Brakes) > 0 {
		add("Hot resistor: in normal use a brake resistor burns skin and ignites what touches it; its switch can fail closed, and the supply then heats it without end.")
	}
	a.heatCautions()
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			if ax.weight() > 0 {
				brake := "a holding brake is no safeguard for a person under the load"
				if m.axis(ax.Name).HoldingBrake == nil {
					brake = "it has no holding brake"
				}
				if m.axis(ax.Name).hangs() {
					add("Falling load: axis %q can fall when power is lost; %s.", ax.Name, brake)
				} else {
					add("Driven load: outside forces or a counterbalance can move axis %q when power is lost; %s.", ax.Name, brake)
				}
			}
		}
	}
	if s := m.Stops; s != nil {
		add("Stops: which category a stop function has to have, and what guards a load that can move without power, is for the risk assessment, under local codes. A holding brake wears, and oil takes its torque away: test it. A motor that is turned is live at its terminals, and so is the bus, with the mains off.")
	}
	add("Guards, discharge, fuses, earthing and stop functions are matters of local codes and of persons licensed to decide them.")
}

// hangs reports whether the load has a weight along its travel.
func (a Axis) hangs() bool {
	_, drum := a.Drive.Mechanism.(energy.HoistDrum)
	return drum || a.Drive.Load.Incline != 0
}
