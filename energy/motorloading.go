package energy

import (
	"math"

	"example.com/headroom/profile"
)

// MotorLoading holds what a motor does against its limits. A loading whose limit is
// not given is zero.
type MotorLoading struct {
	Continuous Loading // RMS of the rated torque over the cycle, against ContinuousTorque [N·m]
	Peak       Loading // highest magnitude of the rated torque, against PeakTorque [N·m]
	Speed      Loading // highest magnitude of the speed, against MaxSpeed [rad/s]
}

// Within reports whether all limits that are given are kept.
func (l MotorLoading) Within() bool {
	return l.Continuous.Within() && l.Peak.Within() && l.Speed.Within()
}

// Loading holds a trace, made with an axis that this motor drives, against the
// motor's limits. The trace is one cycle that repeats, waits included, and short
// against the winding's thermal time constant: copper loss goes with the square of
// torque, so that the RMS heats as much as a constant torque of that size would.
//
// The torque is [Trace.RatedTorque], at the shaft, which is what ratings quote; the
// drag that the rating has left out already is not counted again. ContinuousTorque
// is one number here: where the rating falls with speed, it is the one for the RMS
// speed of the cycle, or the lowest, that has to be entered. A peak beyond the
// voltage that the bus leaves at its speed is not seen here.
func (m Motor) Loading(t Trace) (MotorLoading, error) {
	var f profile.Faults
	f.Under("motor", m.Validate())
	if t.RatedTorque.Pieces() == 0 {
		f.Add("trace", nil, "a trace of a motion that takes time")
	}
	if err := f.Err(); err != nil {
		return MotorLoading{}, err
	}
	l := MotorLoading{
		Continuous: against(&f, "trace.ratedTorque", t.RatedTorque.RMS(), m.ContinuousTorque),
		Peak:       against(&f, "trace.ratedTorque", math.Abs(t.RatedTorque.AbsMax().V), m.PeakTorque),
		Speed:      against(&f, "trace.speed", math.Abs(t.Speed.AbsMax().V), m.MaxSpeed),
	}
	if err := f.Err(); err != nil {
		return MotorLoading{}, err
	}
	return l, nil
}
