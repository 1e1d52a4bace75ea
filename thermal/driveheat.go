package thermal

import (
	"example.com/headroom/profile"
)

// DriveHeat is the heat that a drive gives off:
//
//	P = Standby + Drop |I| + Resistance I²
//
// the usual parting of the losses of semiconductors into one that goes with
// current (threshold voltages and switching) and one with its square. The zero
// value gives off none.
type DriveHeat struct {
	Standby    float64 // with the output stage at rest [W], >= 0
	Drop       float64 // [W/A] in the ampere convention of the current given, >= 0
	Resistance float64 // [W/A²], >= 0
	Outside    float64 // share of the heat that goes with |I| and I² which leaves the cabinet through the heat sink [1], 0 to 1
}

// DriveHeatLoad is the mean heat of a drive over a cycle.
type DriveHeatLoad struct {
	Total  float64 // [W]
	Inside float64 // what of it stays in the cabinet [W]
}

// Validate returns nil, or an error with every field outside its domain.
func (d DriveHeat) Validate() error {
	var f profile.Faults
	d.check(&f)
	return f.Err()
}

func (d DriveHeat) check(f *profile.Faults) {
	f.NonNegative("standby", d.Standby, "W")
	f.NonNegative("drop", d.Drop, "W/A")
	f.NonNegative("resistance", d.Resistance, "W/A²")
	f.Within("outside", d.Outside, 0, 1, "")
}

// Mean returns the mean heat over a cycle of motor current [A], signed or not.
func (d DriveHeat) Mean(current profile.Curve) (DriveHeatLoad, error) {
	var f profile.Faults
	d.check(&f)
	checkCurve(&f, "current", current)
	if err := f.Err(); err != nil {
		return DriveHeatLoad{}, err
	}
	rms := current.RMS()
	stage := d.Drop*(current.Positive().Mean()-current.Negative().Mean()) + d.Resistance*rms*rms
	l := DriveHeatLoad{Total: d.Standby + stage, Inside: d.Standby + stage*(1-d.Outside)}
	needFinite(&f, "current", rms, l.Total, l.Inside)
	if err := f.Err(); err != nil {
		return DriveHeatLoad{}, err
	}
	return l, nil
}
