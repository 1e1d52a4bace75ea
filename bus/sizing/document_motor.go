package sizing

import (
	"strings"

	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

func (r *reader) drive(o *object) drive {
	d := drive{link: r.quantity(o, "linkCapacitance", quantity.Capacitance, notZero), ambient: r.ambientRating(r.object(o, "thermal", optional))}
	d.Drive = energy.Drive{
		Standby:           r.quantity(o, "standby", quantity.Power, required),
		LossPerAmp:        r.quantity(o, "lossPerAmp", quantity.Voltage, optional),
		LossPerAmpSquared: r.quantity(o, "lossPerAmpSquared", quantity.Resistance, optional),
		ContinuousCurrent: r.quantity(o, "continuousCurrent", quantity.Current, notZero),
		PeakCurrent:       r.quantity(o, "peakCurrent", quantity.Current, notZero),
		ModulationLimit:   r.quantity(o, "modulationLimit", quantity.Fraction, notZero),
	}
	o.unread(&r.faults)
	return d
}

// drive is a drive with its capacitor.
type drive struct {
	energy.Drive
	link    float64 // [F]
	ambient *AmbientRating
}

// motor is a motor with its thermal side.
type motor struct {
	energy.Motor
	winding thermal.Winding // as on its sheet
	nodes   *nodes
	linear  bool
}

// sheetUnits are the kinds in which a motor is written, and what its fields call
// what it exerts.
type sheetUnits struct {
	what, small                             string // "Torque" and "torque", or "Force" and "force"
	exerted, perSpeed, perSquare, speed     quantity.Kind
	perAmpere, perRootWatt, voltagePerSpeed quantity.Kind
}

var (
	turningMotor = sheetUnits{"Torque", "torque", quantity.Torque, quantity.ViscousRotary, quantity.QuadraticDrag, quantity.AngularSpeed,
		quantity.TorqueConstant, quantity.MotorConstant, quantity.VoltageConstant}
	linearMotor = sheetUnits{"Force", "force", quantity.Force, quantity.ViscousLinear, quantity.LinearQuadraticDrag, quantity.Speed,
		quantity.ForceConstant, quantity.LinearMotorConstant, quantity.LinearVoltageConstant}
)

// motor reads a motor; one with "linear": true has forces where others have
// torques, for a direct mechanism.
func (r *reader) motor(o *object) motor {
	u := turningMotor
	linear := r.flag(o, "linear")
	if linear {
		u = linearMotor
	}
	m := motor{linear: linear, Motor: energy.Motor{
		DragTorque:          r.quantity(o, "drag"+u.what, u.exerted, optional),
		DragPerSpeed:        r.quantity(o, "dragPerSpeed", u.perSpeed, optional),
		DragPerSpeedSquared: r.quantity(o, "dragPerSpeedSquared", u.perSquare, optional),
		ContinuousTorque:    r.quantity(o, "continuous"+u.what, u.exerted, required),
		PeakTorque:          r.quantity(o, "peak"+u.what, u.exerted, required),
		MaxSpeed:            r.quantity(o, "maxSpeed", u.speed, required),
	}}
	if !linear {
		m.RotorInertia = r.inertia(o, "rotorInertia", required)
	}
	m.nodes = r.nodes(r.object(o, "thermal", optional))
	wo := r.object(o, "winding", required)
	m.Winding = r.winding(wo, u)
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
	for _, e := range profile.InputErrors(err) {
		path := e.Path
		switch path {
		case "torque":
			path = "continuous" + u.what
		case "ambient":
			path = "ratedAmbient"
		default: // the winding's temperatures and constants
			path = "winding." + strings.TrimPrefix(strings.Replace(path, "constant.at", "temperature", 1), "constant.")
		}
		r.faults.Add(profile.JoinPath(o.path, path), e.Value, e.Want)
	}
	m.winding = w
	return m
}

// winding reads what the motor's sheet says, in whatever convention it has: the
// names of the fields say it. Figures that contradict each other are refused.
func (r *reader) winding(o *object, u sheetUnits) energy.Winding {
	q := func(key string, kind quantity.Kind) float64 { return r.quantity(o, key, kind, notZero) }
	s := energy.Sheet{
		TorquePerRMSAmpere:    q(u.small+"PerRMSAmpere", u.perAmpere),
		TorquePerPeakAmpere:   q(u.small+"PerPeakAmpere", u.perAmpere),
		TorquePerDCAmpere:     q(u.small+"PerDCAmpere", u.perAmpere),
		VoltageLineToLineRMS:  q("voltageLineToLineRMS", u.voltagePerSpeed),
		VoltageLineToLinePeak: q("voltageLineToLinePeak", u.voltagePerSpeed),
		VoltagePhaseRMS:       q("voltagePhaseRMS", u.voltagePerSpeed),
		VoltagePhasePeak:      q("voltagePhasePeak", u.voltagePerSpeed),
		VoltageDC:             q("voltageDC", u.voltagePerSpeed),
		ResistanceLineToLine:  q("resistanceLineToLine", quantity.Resistance),
		ResistancePerPhase:    q("resistancePerPhase", quantity.Resistance),
		MotorConstant:         q("motorConstant", u.perRootWatt),
		Temperature:           r.quantity(o, "temperature", quantity.Temperature, required),
		InductanceLineToLine:  q("inductanceLineToLine", quantity.Inductance),
		InductancePerPhase:    q("inductancePerPhase", quantity.Inductance),
		PolePairs:             r.count(o, "polePairs", notZero),
		StallTorque:           q("stall"+u.what, u.exerted),
		StallCurrentRMS:       q("stallCurrentRMS", quantity.Current),
		StallCurrentPeak:      q("stallCurrentPeak", quantity.Current),
		StallCurrentDC:        q("stallCurrentDC", quantity.Current),
		RatedTorque:           q("rated"+u.what, u.exerted),
		RatedCurrentRMS:       q("ratedCurrentRMS", quantity.Current),
		RatedCurrentPeak:      q("ratedCurrentPeak", quantity.Current),
		RatedCurrentDC:        q("ratedCurrentDC", quantity.Current),
		RatedSpeed:            q("ratedSpeed", u.speed),
		RatedPower:            q("ratedPower", quantity.Power),
		MagnetCoefficient:     q("magnetCoefficient", quantity.TemperatureCoefficient),
		Tolerance:             q("tolerance", quantity.Fraction),
	}
	if u == linearMotor {
		s.PolePitch = q("polePitch", quantity.Length)
	}
	if o == nil || r.faults.Err() != nil {
		return energy.Winding{}
	}
	w, err := s.Winding()
	for _, e := range profile.InputErrors(err) {
		path := e.Path
		if u == linearMotor {
			path = strings.NewReplacer("torque", "force", "Torque", "Force").Replace(path)
		}
		r.faults.Add(profile.JoinPath(o.path, path), e.Value, e.Want)
	}
	return w
}
