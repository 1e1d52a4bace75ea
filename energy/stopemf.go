package energy

import (
	"math"

	"example.com/headroom/profile"
)

// BackEMF is what the magnets of a motor without power drive into the bus. The diodes of
// the drive rectify the voltage between the lines, so that a current flows while its
// crest is above the bus voltage.
type BackEMF struct {
	Threshold float64 // speed of the motor [rad/s | m/s] above which that happens
	Speed     float64 // highest speed of the motor [rad/s | m/s]
	Voltage   float64 // crest between the lines, or direct voltage, at that speed [V]
	Excess    float64 // of it above the bus voltage [V]; 0: nothing is returned
	Energy    float64 // upper bound on the energy that it returns [J]
}

// BackEMF returns what the axis may return to a bus at the given voltage [V], > 0, while
// it coasts, c being what [Axis.PowerOff] found. With E the crest of the voltage between the
// lines per speed,
//
//	E = √2 Ke (√3 times the crest of a phase)   sinusoidal, Ke RMS between lines
//	E = Ke                                      direct current
//	threshold = bus voltage/E
//
// Below the threshold nothing flows. Above it the axis can at most give what it has
// more than at the threshold, and what drives it meanwhile:
//
//	energy <= kinetic + offered - kinetic at the threshold,  0 if the threshold is not reached
//
// offered being that of the coast without the current, which brakes and so shortens it.
// Losses of winding, diodes, gears, friction and brake are left out, and the
// drop of two diodes: all to the safe side. So is the lowest voltage that the bus may have at the
// time, and magnets that are cold, see [Winding.AtMagnets]. It rises while it
// takes the energy, which may end the flow.
//
// A motor that is turned is live at its terminals, and so is the bus, with the mains
// off. Those who work there follow the local codes and licensed practice.
func (a Axis) BackEMF(c Coast, busVoltage float64) (BackEMF, error) {
	var f profile.Faults
	f.Under("", a.Validate())
	if !c.Stops {
		f.Add("coast", "an axis that does not stop", "one that comes to rest: it might return energy without end")
	}
	checkPositive(&f, "busVoltage", busVoltage, "V")
	if err := f.Err(); err != nil {
		return BackEMF{}, err
	}
	var p pass
	p.setUp(&a, 1, 0)
	r, w := p.ratio[p.n], &a.Motor.Winding
	perSpeed := w.emf
	if w.sinusoidal {
		perSpeed *= math.Sqrt(3)
	}
	e := BackEMF{Threshold: busVoltage / perSpeed, Speed: c.PeakSpeed * r}
	e.Voltage = perSpeed * e.Speed
	if e.Voltage > busVoltage {
		v := e.Threshold / r // of the load; behind a crank p.inert leaves the load out
		e.Excess = e.Voltage - busVoltage
		e.Energy = math.Max(0, c.Kinetic+c.Offered-p.inert/2*v*v)
	}
	if sum := e.Threshold + e.Voltage + e.Energy; math.IsNaN(sum) || math.IsInf(sum, 0) {
		f.Add("busVoltage", busVoltage, "one that leaves speeds and energies finite")
		return BackEMF{}, f.Err()
	}
	return e, nil
}
