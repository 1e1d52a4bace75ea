package sizing

import (
	"fmt"
	"io"
	"strings"

	"example.com/headroom/bus"
	"example.com/headroom/energy"
	"example.com/headroom/internal/quantity"
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
	m, from := rd.machine(rd.objectOf(root))
	if err := rd.faults.Err(); err != nil {
		return nil, origins(nil).restore(err) // found where it stands
	}
	if len(m.Parts) > 0 {
		return m, m.validateParts(from)
	}
	if err := m.Validate(); err != nil {
		return nil, from.restore(err)
	}
	return m, nil
}

func (r *reader) machine(o *object) (*Machine, origins) {
	r.text(o, "$schema", optional) // for editors
	m := &Machine{
		Name: r.text(o, "machine", required),
		Note: r.text(o, "note", optional),
	}
	ambient := r.object(o, "ambient", required)
	m.AmbientLow = r.quantity(ambient, "low", quantity.Temperature, required)
	m.AmbientHigh = r.quantity(ambient, "high", quantity.Temperature, required)
	ambient.unread(&r.faults)

	m.Altitude = r.quantity(o, "altitude", quantity.Length, optional)
	buses := r.list(o, "buses", optional)
	var from origins
	if len(buses) == 0 {
		from = r.feed(o, m)
	}
	m.Switched = r.switchedLoads(o)
	m.Rail = r.rail(r.object(o, "rail", optional))
	m.Stops = r.stops(r.object(o, "stops", optional))
	r.asked(o, m)
	m.HoursPerYear = r.quantity(o, "hoursPerYear", quantity.Time, notZero)

	motors := r.object(o, "motors", required)
	drives := r.object(o, "drives", required)
	usedMotors, usedDrives := map[string]motor{}, map[string]drive{}
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
			a.Drive.Motor = mt.Motor
			from = append(from, r.mounted(ao, &a, mt, path, "motors."+motorName, m.Altitude)...)
			if direct := isDirect(a.Drive.Mechanism); direct != mt.linear {
				r.faults.Add(path+".mechanism", motorName, "a motor with \"linear\": true on a direct mechanism, and only there")
			}
			if mt.linear {
				for _, field := range []string{"continuous", "peak", "drag"} {
					from = append(from, [2]string{path + ".motor." + field + "Torque", "motors." + motorName + "." + field + "Force"})
				}
			}
			from = append(from, [2]string{path + ".motor", "motors." + motorName})
		} else if motorName != "" {
			r.faults.Add(path+".motor", motorName, "a name in motors: "+strings.Join(sortedKeys(usedMotors), ", ")+didYouMean(motorName, sortedKeys(usedMotors)))
		}
		if d, ok := usedDrives[driveName]; ok {
			a.Drive.Drive, a.LinkCapacitance, a.DriveAmbient = d.Drive, d.link, d.ambient
			from = append(from, [2]string{path + ".linkCapacitance", "drives." + driveName + ".linkCapacitance"})
			from = append(from, [2]string{path + ".drive", "drives." + driveName})
		} else if driveName != "" {
			r.faults.Add(path+".drive", driveName, "a name in drives: "+strings.Join(sortedKeys(usedDrives), ", ")+didYouMean(driveName, sortedKeys(usedDrives)))
		}
		if _, crank := a.Drive.Mechanism.(energy.CrankSlider); crank && a.Rod == nil {
			from = append(from, [2]string{path + ".mechanism.rod", path + ".mechanism.connectingRod"})
		}
		m.Axes = append(m.Axes, a)
	}
	mechanisms := map[string]energy.Mechanism{}
	for _, a := range m.Axes {
		mechanisms[a.Name] = a.Drive.Mechanism
	}
	for _, n := range r.list(o, "stations", required) {
		m.Stations = append(m.Stations, r.station(r.objectOf(n), mechanisms))
	}
	r.unusedDelays(m)
	if len(buses) > 0 {
		r.parts(o, m, buses)
	}
	o.unread(&r.faults)
	return m, from
}

// feed reads what feeds and drains one bus, and its limits.
func (r *reader) feed(o *object, m *Machine) origins {
	m.Supply = r.supply(r.object(o, "supply", required))
	bank := r.object(o, "bank", required)
	m.Capacitors = r.capacitors(r.object(bank, "thermal", optional))
	m.Bank, m.Ageing = r.bank(bank)
	m.Bleeder = r.quantity(o, "bleeder", quantity.Resistance, notZero)
	m.BleederTolerance = r.quantity(o, "bleederTolerance", quantity.Fraction, optional)
	m.DischargeWarning = r.quantity(o, "dischargeWarning", quantity.Time, notZero)
	m.Brakes = r.brakes(o)
	m.Clamp = r.clamp(r.object(o, "clamp", optional))
	m.UnderVoltage = r.quantity(o, "underVoltage", quantity.Voltage, required)
	m.OverVoltage = r.quantity(o, "overVoltage", quantity.Voltage, required)
	m.StartUp = r.startUp(r.object(o, "startUp", optional))
	m.Cabinet = r.cabinet(r.object(o, "cabinet", optional))
	var from origins
	for i := range m.Brakes {
		to := "brakeResistor"
		if len(r.list(o, "brakeResistors", optional)) > 0 {
			to = fmt.Sprintf("brakeResistors[%d]", i)
		}
		from = append(from, [2]string{fmt.Sprintf("brakes[%d]", i), to})
	}
	return from
}

func (r *reader) bank(o *object) (bus.Bank, Ageing) {
	b := bus.Bank{
		Capacitance:      r.quantity(o, "capacitance", quantity.Capacitance, required),
		SeriesResistance: r.quantity(o, "seriesResistance", quantity.Resistance, optional),
		RatedVoltage:     r.quantity(o, "ratedVoltage", quantity.Voltage, required),
		ToleranceLow:     r.quantity(o, "toleranceLow", quantity.Fraction, required),
		ToleranceHigh:    r.quantity(o, "toleranceHigh", quantity.Fraction, required),
	}
	g := Ageing{RippleCurrent: r.quantity(o, "rippleCurrent", quantity.Current, notZero), Cold: r.quantity(o, "coldSeriesResistance", quantity.Ratio, notZero)}
	if end := r.object(o, "endOfLife", optional); end != nil {
		g.Capacitance = r.quantity(end, "capacitance", quantity.Fraction, notZero)
		g.SeriesResistance = r.quantity(end, "seriesResistance", quantity.Ratio, notZero)
		end.unread(&r.faults)
	}
	o.unread(&r.faults)
	return b, g
}
