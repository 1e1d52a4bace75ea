package energy

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// HoldingBrake is a brake that closes when its power is removed, by springs or permanent
// magnets. It is made to hold an axis at rest and may stop it a limited number of times.
//
// Where Shaft is that of the load or a linear motor, N·m reads N.
//
// A holding brake is no safeguard for a person under a load: it wears, oil and
// condensation take its torque away, and what is between it and the load may break. Who
// has to be under a load that could fall needs a lock or prop rated for it; a risk
// assessment under the local codes, by licensed practice, decides what else, how the brake
// is tested and how often.
type HoldingBrake struct {
	Torque float64 // while it slips [N·m], > 0: the least that it has, worn and warm, for time and way; the most for what the drive train bears
	Shaft  int     // on which it acts: 0 that of the motor, k the output of stage k-1, up to the number of stages; one more: the load itself
	Delay  float64 // from the removal of power until it has its torque [s], >= 0: of contacts, release of the coil and build-up

	EnergyPerStop float64 // permitted friction work of one stop [J]; 0: not given
	TotalEnergy   float64 // friction work of all stops until it has to be replaced [J]; 0: not given
}

func (b *HoldingBrake) validate(f *profile.Faults, stages int) {
	checkPositive(f, "brake.torque", b.Torque, "N·m or N")
	if b.Shaft < 0 || b.Shaft > stages+1 {
		f.Add("brake.shaft", b.Shaft, fmt.Sprintf("0 for the motor's shaft up to %d for the load", stages+1))
	}
	checkNonNegative(f, "brake.delay", b.Delay, "s")
	checkNonNegative(f, "brake.energyPerStop", b.EnergyPerStop, "J")
	checkNonNegative(f, "brake.totalEnergy", b.TotalEnergy, "J")
}

// BrakeLife is how long a brake lasts at a number of stops of one kind.
type BrakeLife struct {
	Stop  Loading // friction work of one stop against EnergyPerStop [J]; zero when that is not given
	Stops float64 // number of stops until TotalEnergy is used up; 0: it is not given, or the stops take no work
	Years float64 // at the stops per year; 0: as for Stops, or no stops
}

// Life holds stops with the given friction work each [J], >= 0, against what the brake may
// take, at a number of stops per year, >= 0.
//
//	stops = TotalEnergy/energy,   years = stops/(stops per year)
//
// Wear in proportion to the friction work is common practice (no source); hot surfaces
// wear faster, and a brake that only holds still ages.
func (b HoldingBrake) Life(energy, stopsPerYear float64) (BrakeLife, error) {
	var f profile.Faults
	b.validate(&f, maxStages)
	checkNonNegative(&f, "energy", energy, "J")
	checkNonNegative(&f, "stopsPerYear", stopsPerYear, "1/year")
	if err := f.Err(); err != nil {
		return BrakeLife{}, err
	}
	l := BrakeLife{Stop: against(&f, "energy", energy, b.EnergyPerStop)}
	if b.TotalEnergy > 0 && energy > 0 {
		l.Stops = b.TotalEnergy / energy
		if stopsPerYear > 0 {
			l.Years = l.Stops / stopsPerYear
		}
	}
	if math.IsInf(l.Stops, 0) || math.IsInf(l.Years, 0) {
		f.Add("energy", energy, "a number of stops that float64 can hold")
	}
	if err := f.Err(); err != nil {
		return BrakeLife{}, err
	}
	return l, nil
}
