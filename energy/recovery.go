package energy

// Recovery follows, from the load to the bus, the energy that an axis could give back,
// all in J and >= 0. With all masses' M a, the weight, the counterbalance's A and the force
// from outside reduced to the load, where the load moves at v,
//
//	Offered   = ∫ max(0, -v (M a + weight - A + outside)) dt
//	Generated = ∫ max(0, -t w) dt
//	Burned    = ∫ max(0, -t w) dt over the times at which bus power is not negative
//
// t being the electromagnetic torque and w the motor's speed. Offered is what stored energy,
// kinetic and potential, and a driving force from outside hand over while together they
// drive; without a force from outside it is all that the stored energy falls by while it
// falls. Friction, efficiencies and drags lie between it and Generated, copper and drive
// between that and the bus, and none of them gives energy, so that at every instant, and in sum,
//
//	Offered >= Generated >= Burned + Returned
//
// with [Book.Returned]. What is Burned could not come back at any price of bus or drive: at
// low speed or high torque the copper needs more than the braking brings, and the bus even
// adds to it. Generated - Burned - Returned is what copper, drive and standby took while the
// rest did come back.
type Recovery struct {
	Offered   float64 // handed over by inertia, weight, counterbalance and outside forces while they drive
	Generated float64 // of it what reaches the motor's field
	Burned    float64 // of that what is used up while the bus gets nothing back
}

// ReturnedShare returns [Book.Returned] over what was offered, from 0 to 1; 0 when
// nothing was.
func (b Book) ReturnedShare() float64 {
	if !(b.Recovery.Offered > 0) {
		return 0
	}
	return min(1, b.Returned/b.Recovery.Offered)
}

// BurnedShare returns the share of what was offered that is burned in the motor, its
// drive and their standby while the bus gets nothing back, from 0 to 1; 0 when nothing
// was offered.
func (b Book) BurnedShare() float64 {
	if !(b.Recovery.Offered > 0) {
		return 0
	}
	return min(1, b.Recovery.Burned/b.Recovery.Offered)
}
