package energy

import (
	"math"

	"example.com/headroom/profile"
)

// permittedHeat returns what the motor loses at its continuous stall torque [W].
func (m Motor) permittedHeat() float64 {
	r := (m.ContinuousTorque + m.DragTorque) / m.Winding.km
	return r * r
}

// HeatLoading holds the heat that a trace leaves in the motor on average against what
// it may lose for ever [W]:
//
//	value  mean of (t/Km)² + drag power
//	limit  ((ContinuousTorque + DragTorque)/Km)²
//
// with ContinuousTorque the stall torque. Other than the RMS torque of [Motor.Loading]
// it counts the heat of drag, so that a motor that runs fast may do less, see
// [TorqueLimit.Continuous], whose assumptions it shares. The trace is one cycle, waits
// included, short against the thermal time constant of the winding, and made with the
// winding as it is now. It is an error when ContinuousTorque is not given.
func (m Motor) HeatLoading(t Trace) (Loading, error) {
	var f profile.Faults
	f.Under("motor", m.Validate())
	if m.ContinuousTorque == 0 {
		f.Add("motor.continuousTorque", nil, "a torque that may last, to hold the heat against")
	}
	checkCurve(&f, "trace.torque", t.Torque)
	checkCurve(&f, "trace.ratedTorque", t.RatedTorque)
	checkCurve(&f, "trace.speed", t.Speed)
	if err := f.Err(); err != nil {
		return Loading{}, err
	}
	drag, err := profile.Sum(t.Torque, t.RatedTorque.Scale(-1))
	if err == nil {
		drag, err = profile.Product(drag, t.Speed)
	}
	if err != nil {
		f.Under("trace", err)
		return Loading{}, f.Err()
	}
	rms := t.Torque.RMS() / m.Winding.km
	l := against(&f, "trace", rms*rms+math.Max(0, drag.Mean()), m.permittedHeat())
	return l, f.Err()
}
