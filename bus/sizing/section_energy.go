package sizing

import (
	"example.com/headroom/internal/quantity"
)

// energySection says where the energy of every axis goes in one cycle.
func (a *Assessment) energySection() Section {
	s := Section{Key: "energy", Question: "Where does the energy of a cycle go, and how much comes back?"}
	for _, st := range a.Stations {
		for _, ax := range st.Axes {
			hot, cold := ax.Hot.Book, ax.Cold.Book
			for _, f := range []Figure{
				figure(ax.Name, "drawn", hot.Drawn, quantity.Energy, "integral of the bus power while it is positive, hot copper"),
				figure(ax.Name, "returned", cold.Returned, quantity.Energy, "integral of the bus power while it is negative, cold copper"),
				figure(ax.Name, "of offered", cold.ReturnedShare(), quantity.Fraction, "returned energy over what inertia, weight and outside forces handed over while they drove, cold copper"),
				figure(ax.Name, "load work", hot.LoadWork, quantity.Energy, "done against outside forces; negative when they drive"),
				figure(ax.Name, "friction", hot.LoadFriction, quantity.Energy, "lost to the load's friction"),
				figure(ax.Name, "gears", hot.Transmission+hot.MotorDrag, quantity.Energy, "lost in mechanism, gear stages and the motor's drag"),
				figure(ax.Name, "copper", hot.Copper, quantity.Energy, "integral of (torque/Km)², hot copper"),
				figure(ax.Name, "drive", hot.Drive+hot.Standby, quantity.Energy, "conduction and standby of the drive"),
			} {
				s.figure(f)
			}
		}
	}
	s.note("Kinetic energy cancels over a cycle; potential energy does where no payload stays up. The book of every axis closes to a billionth.")
	return s
}
