package bus

import (
	"math"

	"example.com/headroom/profile"
)

// MainsFuse is what a fuse or breaker ahead of the machine has to stand.
type MainsFuse struct {
	Rating     float64 // least rated current [A]: continuous RMS over 80 %
	MeltingI2t float64 // melting I²t must lie above this [A² s]
	TripAbove  float64 // least RMS current at which an instantaneous trip may act [A]: peak of the inrush over √2
	Caution    string
}

const mainsFuseCaution = "Figures for choosing, not a design: local codes, the installation's fault level and a licensed electrician decide. " +
	"The fuse must also protect the wire behind it and break the fault current; selectivity with what lies upstream, ambient temperature, " +
	"repeated inrush and the saturation inrush of a transformer are not covered."

// Fuse returns the least figures of a fuse or breaker for what is drawn
// continuously and for the inrush: those of the whole machine, with sums where
// several supplies are switched on together. A fuse that bears the inrush often is
// chosen with a melting I²t well above it: makers give the share that so many
// pulses may have.
//
// It returns an error that joins the faults of the input.
func (d MainsDraw) Fuse(inrush Inrush) (MainsFuse, error) {
	var f profile.Faults
	const most = 1e9
	f.Within("draw.rms", d.RMS, 0, most, "A")
	f.Within("inrush.peak", inrush.Peak, 0, most, "A")
	f.Within("inrush.i2t", inrush.I2t, 0, most*most, "A² s")
	if err := f.Err(); err != nil {
		return MainsFuse{}, err
	}
	return MainsFuse{
		Rating: d.RMS / continuousShare, MeltingI2t: inrush.I2t, TripAbove: inrush.Peak / math.Sqrt2,
		Caution: mainsFuseCaution,
	}, nil
}

// continuousShare is the part of its rating that a fuse or breaker carries for hours:
// 80 %, so that it is rated 125 % of the continuous current (NEC 210.20(A) and 215.3,
// FROM MEMORY; other codes differ).
const continuousShare = 0.8
