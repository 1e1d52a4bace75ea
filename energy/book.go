package energy

import "math"

// Book says where the energy of a motion went, all in J. What the bus gave is the
// sum of the entries:
//
//	Drawn - Returned = LoadWork + Kinetic + Potential + Counterbalance + LoadFriction
//	                 + Transmission + MotorDrag + Copper + Drive + Standby + Residual
//
// Every entry is integrated from its own polynomial; Kinetic, Potential and
// Counterbalance come from the two end states, so that Residual tests the whole
// calculation. It is below 1e-9 of [Book.Throughput] for a motion whose pieces join
// exactly. The jumps in speed that [profile.NewMotion] tolerates appear in it, and so
// does the rounding of kinetic and potential energy where these are a million times
// the throughput: a large flywheel that hardly changes its speed.
type Book struct {
	Drawn    float64 // taken from the bus while bus power is positive, >= 0
	Returned float64 // given to the bus while bus power is negative, >= 0

	LoadWork       float64 // done against the load's external forces; negative when they drive
	Kinetic        float64 // increase of the kinetic energy of load, counterweight, mechanism, stages and rotor
	Potential      float64 // increase of the potential energy of the load
	Counterbalance float64 // increase of the energy that counterweight, spring and constant force of a counterbalance hold
	LoadFriction   float64 // lost to the load's Coulomb and viscous friction, >= 0
	Transmission   float64 // lost in stages and mechanism: their efficiencies and drags, >= 0
	MotorDrag      float64 // lost to the motor's drag, >= 0
	Copper         float64 // lost in the winding, >= 0
	Drive          float64 // lost in the drive, without standby, >= 0
	Standby        float64 // the drive's standby, >= 0
	Residual       float64 // what the book fails to account for

	Recovery Recovery // of what was offered back, how far it got; not part of the balance
}

// Throughput returns the sum of the magnitudes of all entries but Residual [J], the
// scale against which the residual is judged.
func (b Book) Throughput() float64 {
	return b.Drawn + b.Returned + math.Abs(b.LoadWork) + math.Abs(b.Kinetic) + math.Abs(b.Potential) +
		math.Abs(b.Counterbalance) + b.LoadFriction + b.Transmission + b.MotorDrag + b.Copper + b.Drive + b.Standby
}

// Add returns the book of two motions together, or of two axes: every entry is the sum.
func (b Book) Add(c Book) Book {
	return Book{
		Drawn:          b.Drawn + c.Drawn,
		Returned:       b.Returned + c.Returned,
		LoadWork:       b.LoadWork + c.LoadWork,
		Kinetic:        b.Kinetic + c.Kinetic,
		Potential:      b.Potential + c.Potential,
		Counterbalance: b.Counterbalance + c.Counterbalance,
		LoadFriction:   b.LoadFriction + c.LoadFriction,
		Transmission:   b.Transmission + c.Transmission,
		MotorDrag:      b.MotorDrag + c.MotorDrag,
		Copper:         b.Copper + c.Copper,
		Drive:          b.Drive + c.Drive,
		Standby:        b.Standby + c.Standby,
		Residual:       b.Residual + c.Residual,
		Recovery: Recovery{
			Offered:   b.Recovery.Offered + c.Recovery.Offered,
			Generated: b.Recovery.Generated + c.Recovery.Generated,
			Burned:    b.Recovery.Burned + c.Recovery.Burned,
		},
	}
}

// close sets the residual.
func (b *Book) close() {
	b.Residual = b.Drawn - b.Returned - (b.LoadWork + b.Kinetic + b.Potential + b.Counterbalance + b.LoadFriction +
		b.Transmission + b.MotorDrag + b.Copper + b.Drive + b.Standby)
}
