package sizing

import (
	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/thermal"
)

func (r *reader) drive(o *object) energy.Drive {
	d := energy.Drive{
		Standby:           r.quantity(o, "standby", quantity.Power, required),
		LossPerAmp:        r.quantity(o, "lossPerAmp", quantity.Voltage, optional),
		LossPerAmpSquared: r.quantity(o, "lossPerAmpSquared", quantity.Resistance, optional),
		ContinuousCurrent: r.quantity(o, "continuousCurrent", quantity.Current, optional),
		PeakCurrent:       r.quantity(o, "peakCurrent", quantity.Current, optional),
		ModulationLimit:   r.quantity(o, "modulationLimit", quantity.Fraction, optional),
	}
	o.unread(&r.faults)
	return d
}

// motor is a motor with its thermal side.
type motor struct {
	energy.Motor
	winding thermal.Winding
}

func (r *reader) motor(o *object) motor {
	m := motor{Motor: energy.Motor{
		RotorInertia:        r.quantity(o, "rotorInertia", quantity.Inertia, required),
		DragTorque:          r.quantity(o, "dragTorque", quantity.Torque, optional),
		DragPerSpeed:        r.quantity(o, "dragPerSpeed", quantity.ViscousRotary, optional),
		DragPerSpeedSquared: r.quantity(o, "dragPerSpeedSquared", quantity.QuadraticDrag, optional),
		ContinuousTorque:    r.quantity(o, "continuousTorque", quantity.Torque, required),
		PeakTorque:          r.quantity(o, "peakTorque", quantity.Torque, required),
		MaxSpeed:            r.quantity(o, "maxSpeed", quantity.AngularSpeed, required),
	}}
	wo := r.object(o, "winding", required)
	m.Winding = r.winding(wo)
	m.winding.Max = r.quantity(wo, "max", quantity.Temperature, required)
	ratedAmbient := r.quantity(o, "ratedAmbient", quantity.Temperature, required)
	wo.unread(&r.faults)
	o.unread(&r.faults)
	if o == nil || r.faults.Err() != nil {
		return m
	}
	// The thermal resistance follows from the continuous rating.
	rating := thermal.Rating{
		Torque:   m.ContinuousTorque + m.DragTorque,
		Constant: thermal.MotorConstant{Km: m.Winding.Km(), At: m.Winding.Temperature()},
		Max:      m.winding.Max, Ambient: ratedAmbient,
	}
	w, err := thermal.FromRating(rating)
	if err != nil {
		r.faults.Under(o.path, err)
	}
	m.winding = w
	return m
}

// winding reads what the motor's sheet says, in whatever convention it has: the
// names of the fields say it. Figures that contradict each other are refused.
func (r *reader) winding(o *object) energy.Winding {
	q := func(key string, kind quantity.Kind) float64 { return r.quantity(o, key, kind, optional) }
	s := energy.Sheet{
		TorquePerRMSAmpere:    q("torquePerRMSAmpere", quantity.TorqueConstant),
		TorquePerPeakAmpere:   q("torquePerPeakAmpere", quantity.TorqueConstant),
		TorquePerDCAmpere:     q("torquePerDCAmpere", quantity.TorqueConstant),
		VoltageLineToLineRMS:  q("voltageLineToLineRMS", quantity.VoltageConstant),
		VoltageLineToLinePeak: q("voltageLineToLinePeak", quantity.VoltageConstant),
		VoltagePhaseRMS:       q("voltagePhaseRMS", quantity.VoltageConstant),
		VoltagePhasePeak:      q("voltagePhasePeak", quantity.VoltageConstant),
		VoltageDC:             q("voltageDC", quantity.VoltageConstant),
		ResistanceLineToLine:  q("resistanceLineToLine", quantity.Resistance),
		ResistancePerPhase:    q("resistancePerPhase", quantity.Resistance),
		MotorConstant:         q("motorConstant", quantity.MotorConstant),
		Temperature:           r.quantity(o, "temperature", quantity.Temperature, required),
		InductanceLineToLine:  q("inductanceLineToLine", quantity.Inductance),
		InductancePerPhase:    q("inductancePerPhase", quantity.Inductance),
		PolePairs:             r.count(o, "polePairs", optional),
		StallTorque:           q("stallTorque", quantity.Torque),
		StallCurrentRMS:       q("stallCurrentRMS", quantity.Current),
		StallCurrentPeak:      q("stallCurrentPeak", quantity.Current),
		StallCurrentDC:        q("stallCurrentDC", quantity.Current),
		RatedTorque:           q("ratedTorque", quantity.Torque),
		RatedCurrentRMS:       q("ratedCurrentRMS", quantity.Current),
		RatedCurrentPeak:      q("ratedCurrentPeak", quantity.Current),
		RatedCurrentDC:        q("ratedCurrentDC", quantity.Current),
		RatedSpeed:            q("ratedSpeed", quantity.AngularSpeed),
		RatedPower:            q("ratedPower", quantity.Power),
		MagnetCoefficient:     q("magnetCoefficient", quantity.TemperatureCoefficient),
		Tolerance:             q("tolerance", quantity.Fraction),
	}
	if o == nil || r.faults.Err() != nil {
		return energy.Winding{}
	}
	w, err := s.Winding()
	r.faults.Under(o.path, err)
	return w
}
