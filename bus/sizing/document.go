package sizing

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"example.com/headroom/bus"
	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// Parse reads a machine from its JSON document and validates it. Quantities are
// text with a unit ("420 mm", "0.9 kg cm^2"); dimensionless ones may be plain
// numbers. Unknown fields are refused. All faults are reported together: the
// error joins a [*profile.InputError] for each, with the path of the field.
func Parse(r io.Reader) (*Machine, error) {
	var rd reader
	root, err := parseTree(r, &rd.faults)
	if err != nil {
		return nil, err
	}
	m, origins := rd.machine(rd.objectOf(root))
	if err := rd.faults.Err(); err != nil {
		return nil, err
	}
	if err := m.Validate(); err != nil {
		return nil, origins.restore(err)
	}
	return m, nil
}

// origins maps paths of a machine to the paths of the document that they were
// read from, where the two differ.
type origins [][2]string

// restore puts the document's paths into the input errors of err and drops those
// that say the same twice.
func (o origins) restore(err error) error {
	var f profile.Faults
	seen := map[string]bool{}
	for _, e := range profile.InputErrors(err) {
		path := e.Path
		for _, p := range o {
			if rest, ok := strings.CutPrefix(path, p[0]); ok && (rest == "" || rest[0] == '.') {
				path = p[1] + rest
				break
			}
		}
		again := profile.InputError{Path: path, Value: e.Value, Want: e.Want}
		if text := again.Error(); !seen[text] {
			seen[text] = true
			f.Add(path, e.Value, e.Want)
		}
	}
	return f.Err()
}

func (r *reader) machine(o *object) (*Machine, origins) {
	m := &Machine{
		Name: r.text(o, "machine", required),
		Note: r.text(o, "note", optional),
	}
	ambient := r.object(o, "ambient", required)
	m.AmbientLow = r.quantity(ambient, "low", quantity.Temperature, required)
	m.AmbientHigh = r.quantity(ambient, "high", quantity.Temperature, required)
	ambient.unread(&r.faults)

	m.Supply = r.supply(r.object(o, "supply", required))
	m.Bank = r.bank(r.object(o, "bank", required))
	m.Bleeder = r.quantity(o, "bleeder", quantity.Resistance, optional)
	m.Brake = r.brake(r.object(o, "brakeResistor", optional))
	m.UnderVoltage = r.quantity(o, "underVoltage", quantity.Voltage, required)
	m.OverVoltage = r.quantity(o, "overVoltage", quantity.Voltage, required)

	var from origins
	motors := r.object(o, "motors", required)
	drives := r.object(o, "drives", required)
	usedMotors, usedDrives := map[string]motor{}, map[string]energy.Drive{}
	if motors != nil {
		for _, k := range motors.keys {
			usedMotors[k] = r.motor(r.object(motors, k, required))
		}
	}
	if drives != nil {
		for _, k := range drives.keys {
			usedDrives[k] = r.drive(r.object(drives, k, required))
		}
	}
	for i, n := range r.list(o, "axes", required) {
		ao := r.objectOf(n)
		a, motorName, driveName := r.axis(ao)
		path := fmt.Sprintf("axes[%d]", i)
		if mt, ok := usedMotors[motorName]; ok {
			a.Drive.Motor, a.Winding = mt.Motor, mt.winding
			from = append(from, [2]string{path + ".motor", "motors." + motorName})
		} else if motorName != "" {
			r.faults.Add(path+".motor", motorName, "a name in motors: "+strings.Join(sortedKeys(usedMotors), ", "))
		}
		if d, ok := usedDrives[driveName]; ok {
			a.Drive.Drive = d
			from = append(from, [2]string{path + ".drive", "drives." + driveName})
		} else if driveName != "" {
			r.faults.Add(path+".drive", driveName, "a name in drives: "+strings.Join(sortedKeys(usedDrives), ", "))
		}
		m.Axes = append(m.Axes, a)
	}
	rotary := map[string]bool{}
	for _, a := range m.Axes {
		_, rotary[a.Name] = a.Drive.Mechanism.(energy.Rotary)
	}
	for _, n := range r.list(o, "stations", required) {
		m.Stations = append(m.Stations, r.station(r.objectOf(n), rotary))
	}
	o.unread(&r.faults)
	return m, from
}

func (r *reader) supply(o *object) Supply {
	var s Supply
	switch r.choice(o, "kind", "regulated", "unregulated") {
	case "regulated":
		s.Source = bus.SwitchMode{
			Voltage:      r.quantity(o, "voltage", quantity.Voltage, required),
			Tolerance:    r.quantity(o, "tolerance", quantity.Fraction, required),
			CurrentLimit: r.quantity(o, "currentLimit", quantity.Current, required),
		}
	case "unregulated":
		s.Source = bus.Resistive{
			OpenCircuit:   r.quantity(o, "openCircuit", quantity.Voltage, required),
			Resistance:    r.quantity(o, "resistance", quantity.Resistance, required),
			LineTolerance: r.quantity(o, "lineTolerance", quantity.Fraction, required),
		}
	}
	s.RatedPower = r.quantity(o, "ratedPower", quantity.Power, required)
	s.Efficiency = r.quantity(o, "efficiency", quantity.Fraction, required)
	mains := r.object(o, "mains", required)
	s.Mains = Mains{
		Voltage:   r.quantity(mains, "voltage", quantity.Voltage, required),
		Tolerance: r.quantity(mains, "tolerance", quantity.Fraction, required),
		InputLow:  r.quantity(mains, "inputLow", quantity.Voltage, required),
		InputHigh: r.quantity(mains, "inputHigh", quantity.Voltage, required),
	}
	mains.unread(&r.faults)
	o.unread(&r.faults)
	return s
}

func (r *reader) bank(o *object) bus.Bank {
	b := bus.Bank{
		Capacitance:      r.quantity(o, "capacitance", quantity.Capacitance, required),
		SeriesResistance: r.quantity(o, "seriesResistance", quantity.Resistance, optional),
		RatedVoltage:     r.quantity(o, "ratedVoltage", quantity.Voltage, required),
		ToleranceLow:     r.quantity(o, "toleranceLow", quantity.Fraction, required),
		ToleranceHigh:    r.quantity(o, "toleranceHigh", quantity.Fraction, required),
	}
	o.unread(&r.faults)
	return b
}

func (r *reader) brake(o *object) *Brake {
	if o == nil {
		return nil
	}
	b := &Brake{
		BrakeResistor: bus.BrakeResistor{
			Resistance: r.quantity(o, "resistance", quantity.Resistance, required),
			OnVoltage:  r.quantity(o, "onVoltage", quantity.Voltage, required),
			OffVoltage: r.quantity(o, "offVoltage", quantity.Voltage, required),
		},
		Rating: thermal.BrakeResistor{
			Continuous: r.quantity(o, "continuous", quantity.Power, required),
			Derating:   1,
			Pulse:      r.quantity(o, "pulse", quantity.Energy, required),
		},
	}
	if r.field(o, "derating", optional) != nil {
		b.Rating.Derating = r.quantity(o, "derating", quantity.Fraction, required)
	}
	o.unread(&r.faults)
	return b
}

func (r *reader) drive(o *object) energy.Drive {
	d := energy.Drive{
		Standby:           r.quantity(o, "standby", quantity.Power, required),
		LossPerAmp:        r.quantity(o, "lossPerAmp", quantity.Voltage, optional),
		LossPerAmpSquared: r.quantity(o, "lossPerAmpSquared", quantity.Resistance, optional),
	}
	o.unread(&r.faults)
	return d
}

func (r *reader) axis(o *object) (a Axis, motorName, driveName string) {
	a.Name = r.text(o, "name", required)
	motorName = r.text(o, "motor", required)
	driveName = r.text(o, "drive", required)
	mo := r.object(o, "mechanism", required)
	a.Drive.Mechanism = r.mechanism(mo)
	mo.unread(&r.faults)
	_, rotary := a.Drive.Mechanism.(energy.Rotary)
	u := unitsOf(rotary)

	lo := r.object(o, "load", required)
	a.Drive.Load = energy.Load{
		Coulomb:  r.quantity(lo, "coulomb", u.force, optional),
		Viscous:  r.quantity(lo, "viscous", u.viscous, optional),
		External: r.quantity(lo, "external", u.force, optional),
	}
	if rotary {
		a.Drive.Load.Inertia = r.quantity(lo, "inertia", quantity.Inertia, required)
	} else {
		a.Drive.Load.Mass = r.quantity(lo, "mass", quantity.Mass, required)
		a.Drive.Load.Incline = r.quantity(lo, "incline", quantity.Angle, optional)
	}
	lo.unread(&r.faults)
	for _, n := range r.list(o, "stages", optional) {
		a.Drive.Stages = append(a.Drive.Stages, r.stage(r.objectOf(n)))
	}

	limits := r.object(o, "limits", required)
	a.Limits = profile.Limits{
		Speed:     r.quantity(limits, "speed", u.speed, required),
		Accel:     r.quantity(limits, "accel", u.accel, required),
		Decel:     r.quantity(limits, "decel", u.accel, optional),
		Jerk:      r.quantity(limits, "jerk", u.jerk, optional),
		DecelJerk: r.quantity(limits, "decelJerk", u.jerk, optional),
	}
	limits.unread(&r.faults)
	a.Start = r.quantity(o, "start", u.length, optional)
	a.Endless = r.flag(o, "endless")
	a.HoldingBrake = r.quantity(o, "holdingBrake", quantity.Torque, optional)
	o.unread(&r.faults)
	return a, motorName, driveName
}

// units are the kinds in which an axis is written.
type units struct {
	length, speed, accel, jerk, force, viscous quantity.Kind
}

func unitsOf(rotary bool) units {
	if rotary {
		return units{quantity.Angle, quantity.AngularSpeed, quantity.AngularAccel, quantity.AngularJerk, quantity.Torque, quantity.ViscousRotary}
	}
	return units{quantity.Length, quantity.Speed, quantity.Accel, quantity.Jerk, quantity.Force, quantity.ViscousLinear}
}

func (r *reader) mechanism(o *object) energy.Mechanism {
	efficiency := func() (forward, back float64) {
		return r.quantity(o, "efficiency", quantity.Fraction, required), r.quantity(o, "backEfficiency", quantity.Fraction, optional)
	}
	switch r.choice(o, "kind", "screw", "belt", "rotary") {
	case "screw":
		forward, back := efficiency()
		return energy.Screw{
			Lead:       2 * math.Pi * r.quantity(o, "lead", quantity.Lead, required),
			Efficiency: forward, BackEfficiency: back,
			Inertia: r.quantity(o, "inertia", quantity.Inertia, optional),
			Drag:    r.quantity(o, "drag", quantity.Torque, optional),
		}
	case "belt":
		forward, back := efficiency()
		return energy.Belt{
			PitchDiameter: r.quantity(o, "pitchDiameter", quantity.Length, required),
			Efficiency:    forward, BackEfficiency: back,
			Inertia:  r.quantity(o, "inertia", quantity.Inertia, optional),
			BeltMass: r.quantity(o, "beltMass", quantity.Mass, optional),
			Drag:     r.quantity(o, "drag", quantity.Torque, optional),
		}
	case "rotary":
		forward, back := efficiency()
		return energy.Rotary{
			Efficiency: forward, BackEfficiency: back,
			Inertia: r.quantity(o, "inertia", quantity.Inertia, optional),
			Drag:    r.quantity(o, "drag", quantity.Torque, optional),
		}
	}
	return nil
}

func (r *reader) stage(o *object) energy.Stage {
	s := energy.Stage{
		Ratio:          r.quantity(o, "ratio", quantity.Ratio, required),
		Efficiency:     r.quantity(o, "efficiency", quantity.Fraction, required),
		BackEfficiency: r.quantity(o, "backEfficiency", quantity.Fraction, optional),
		Inertia:        r.quantity(o, "inertia", quantity.Inertia, optional),
		Drag:           r.quantity(o, "drag", quantity.Torque, optional),
	}
	o.unread(&r.faults)
	return s
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

// winding reads the torque constant in whatever convention its name says.
func (r *reader) winding(o *object) energy.Winding {
	perAmpere := map[string]func(float64, energy.Copper, float64) (energy.Winding, error){
		"torquePerRMSAmpere":  energy.SinusoidalRMS,
		"torquePerPeakAmpere": energy.SinusoidalPeak,
		"torquePerDCAmpere":   energy.DirectCurrent,
	}
	constant := r.oneOf(o, sortedKeys(perAmpere)...)
	kt := r.quantity(o, constant, quantity.TorqueConstant, optional)
	var copper energy.Copper
	switch key := r.oneOf(o, "resistanceLineToLine", "resistancePerPhase", "motorConstant"); key {
	case "resistanceLineToLine":
		copper = energy.LineToLine(r.quantity(o, key, quantity.Resistance, required))
	case "resistancePerPhase":
		copper = energy.PerPhase(r.quantity(o, key, quantity.Resistance, required))
	case "motorConstant":
		copper = energy.MotorConstant(r.quantity(o, key, quantity.MotorConstant, required))
	}
	at := r.quantity(o, "at", quantity.Temperature, required)
	if o == nil || constant == "" {
		return energy.Winding{}
	}
	w, err := perAmpere[constant](kt, copper, at)
	for _, e := range profile.InputErrors(err) {
		switch e.Path {
		case "torqueConstant":
			e.Path = constant
		case "lineToLine":
			e.Path = "resistanceLineToLine"
		case "perPhase":
			e.Path = "resistancePerPhase"
		case "temperature":
			e.Path = "at"
		case "copper":
			continue // said already: the field is missing
		}
		r.faults.Add(profile.JoinPath(o.path, e.Path), e.Value, e.Want)
	}
	return w
}

func (r *reader) station(o *object, rotary map[string]bool) Station {
	s := Station{Name: r.text(o, "name", required)}
	for _, n := range r.list(o, "axes", required) {
		name, ok := n.value.(string)
		if !ok {
			r.faults.Add(n.path, n.text(), "the name of an axis")
		}
		s.Axes = append(s.Axes, name)
	}
	moves := func(o *object, key string) map[string]float64 {
		mo := r.object(o, key, optional)
		if mo == nil {
			return nil
		}
		out := map[string]float64{}
		for _, name := range mo.keys {
			turns, known := rotary[name]
			if !known {
				r.faults.Add(profile.JoinPath(mo.path, name), name, "the name of an axis")
				continue
			}
			out[name] = r.quantity(mo, name, unitsOf(turns).length, required)
		}
		return out
	}
	for _, n := range r.list(o, "steps", required) {
		so := r.objectOf(n)
		s.Steps = append(s.Steps, Step{
			Name: r.text(so, "name", optional), To: moves(so, "to"), By: moves(so, "by"),
			Dwell: r.quantity(so, "dwell", quantity.Time, optional),
		})
		so.unread(&r.faults)
	}
	o.unread(&r.faults)
	return s
}

// IsInputError reports whether an error is about the input rather than about the
// computation.
func IsInputError(err error) bool {
	var in *profile.InputError
	return errors.As(err, &in)
}
