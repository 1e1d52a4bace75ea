package sizing

import (
	"math"

	"example.com/headroom/internal/quantity"
)

// energySection says where the energy of every axis goes in one cycle.
func (a *Assessment) energySection() Section {
	s := Section{Key: "energy", Question: "Where does the energy of a cycle go, and how much comes back?"}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			b := ax.Hot.Book
			raised := b.Kinetic + b.Potential + b.Counterbalance
			if math.Abs(raised) <= 1e-12*b.Throughput() {
				raised = 0 // rounding
			}
			for _, f := range []Figure{
				figure(ax.Name, "drawn", b.Drawn, quantity.Energy, "integral of the bus power while it is positive"),
				figure(ax.Name, "returned", b.Returned, quantity.Energy, "integral of the bus power while it is negative"),
				figure(ax.Name, "regained", b.ReturnedShare(), quantity.Fraction, "returned energy over what inertia, weight and outside forces handed over while they drove"),
				figure(ax.Name, "load work", b.LoadWork, quantity.Energy, "done against outside forces; negative when they drive"),
				figure(ax.Name, "raised", raised, quantity.Energy, "kinetic and potential energy of load and counterbalance at the end of the cycle less that at its start: what a payload that stays up has gained"),
				figure(ax.Name, "friction", b.LoadFriction, quantity.Energy, "lost to the load's friction"),
				figure(ax.Name, "gears", b.Transmission+b.MotorDrag, quantity.Energy, "lost in mechanism, gear stages and the motor's drag"),
				figure(ax.Name, "copper", b.Copper, quantity.Energy, "integral of (torque/Km)²"),
				figure(ax.Name, "drive", b.Drive+b.Standby, quantity.Energy, "conduction and standby of the drive"),
			} {
				s.figure(f)
			}
		}
	}
	s.note("All with hot copper, friction and payload as entered: drawn less returned is the sum of the entries from load work on, to a billionth. Limits are held against worse corners: what is returned is most with cold copper.")
	return s
}
